//! `import`: somebody's ingredient lines or saved page, as a recipe file.

use crate::args::ImportArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use import::{Imported, Spoons};
use std::fmt::Write as _;

pub(crate) fn run(args: &ImportArgs) -> Result<(), Failure> {
    let imported = input::imported(&args.file, args.spoons.map(Spoons::from))?;
    let to = args.out.as_deref();
    if args.json {
        return out::json(&document::import::json(&imported), to);
    }
    // the file says in comments all that is told here
    out::text(&imported.file(), to)?;
    if to.is_some() { out::text(&report(&imported), None) } else { Ok(()) }
}

fn report(imported: &Imported) -> String {
    let mut text = format!("{}\n", table::bold(&imported.recipe.title));
    for (head, lines) in imported.told() {
        let _ = writeln!(text, "\n{}", table::bold(head));
        for line in lines {
            let _ = writeln!(text, "- {}", table::wrapped(&line, 2, 2));
        }
    }
    text
}
