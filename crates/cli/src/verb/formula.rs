//! `formula`: weights in the trade's layout.

use super::mass;
use crate::args::FormulaArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use engine::formula::{Amounts, Sheet};
use engine::recipe::Recipe;
use quantity::{Grams, Percent, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &FormulaArgs) -> Result<(), Failure> {
    let mut recipe = input::recipe(&args.recipe.recipe)?;
    if let Some(target) = args.blend_protein {
        document::formula::blend(&mut recipe, target)?;
    }
    let to = args.out.out.as_deref();
    if args.write {
        return out::text(&engine::file::write_recipe(&recipe), to);
    }
    let kitchen = input::kitchen(&args.recipe.batch)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let (exact, rounded) = document::formula::sheets(&recipe, &kitchen, flour)?;
    let sheet = if args.exact { exact.clone() } else { rounded };
    let changes = match &args.diff {
        Some(other) => Some(engine::diff::changes(&input::recipe(other)?, &recipe)),
        None => None,
    };
    if args.out.json {
        return out::json(&document::formula::json(&recipe, &sheet, changes.as_deref()), to);
    }
    let units = args.out.units.into();
    let mut text = heading(&recipe, &sheet, units);
    text += &layout(&recipe, &sheet, &exact, units);
    text += &builds(&recipe, &sheet, units);
    text += &figures(&recipe, &sheet);
    for w in &sheet.warnings {
        let _ = writeln!(text, "\nnote: {}", table::wrapped(&w.to_string(), 6, 6));
    }
    if let Some(changes) = changes {
        let _ = writeln!(text, "\n{}", table::bold("What changed"));
        if changes.is_empty() {
            text += "nothing\n";
        } else {
            let rows: Vec<Vec<String>> =
                changes.iter().map(|c| vec![c.what.clone(), c.was.clone(), c.is.clone()]).collect();
            text += &table::table(&["", "was", "is"], &[0, 1, 2], &rows);
        }
    }
    out::text(&text, to)
}

fn heading(recipe: &Recipe, sheet: &Sheet, units: Units) -> String {
    let y = &recipe.yields;
    let n = sheet.dough() * (1.0 - y.process_loss.fraction()) / y.piece;
    let pieces = if (n - n.round()).abs() < 0.02 {
        format!("{} of {}", y.shape.counted(n.round() as u32), y.piece.show(units))
    } else {
        format!("{n:.1} × {} {}", y.piece.show(units), y.shape.name())
    };
    let baked = y.piece * (1.0 - y.bake_loss.fraction());
    let line = format!(
        "{} dough, {pieces}, about {} each when baked",
        sheet.dough().show(units),
        baked.show(units)
    );
    format!("{}\n{}\n\n", table::bold(&recipe.title), table::dim(&line))
}

/// Weights as weighed, percentages as designed.
fn layout(recipe: &Recipe, sheet: &Sheet, exact: &Sheet, units: Units) -> String {
    let f = &recipe.formula;
    let columns: Vec<(&str, &Amounts)> = sheet
        .preferments
        .iter()
        .map(|p| (p.name.as_str(), &p.contents))
        .chain(sheet.soakers.iter().map(|s| (s.name.as_str(), &s.contents)))
        .collect();
    let mut header = vec!["", "total %", "total"];
    header.extend(columns.iter().map(|(name, _)| *name));
    header.extend(["final dough", "% of its flour"]);
    let total_flour = exact.total.flour();
    let final_flour = exact.final_dough.flour();
    let percent = |g: Grams, of: Grams| {
        if g.0 == 0.0 || of.0 == 0.0 { String::new() } else { Percent::share(g, of).show_fine() }
    };
    let mut rows = Vec::new();
    let mut row = |name: &str, fine: bool, pick: &dyn Fn(&Amounts) -> Grams| {
        let mass = |g: Grams| match (g.0 > 0.0, fine) {
            (false, _) => String::new(),
            (true, true) => g.show_fine(units),
            (true, false) => g.show(units),
        };
        let total = pick(&sheet.total);
        let mut r = vec![name.to_owned(), percent(pick(&exact.total), total_flour), mass(total)];
        r.extend(columns.iter().map(|(_, a)| mass(pick(a))));
        let last = pick(&sheet.final_dough);
        r.extend([mass(last), percent(pick(&exact.final_dough), final_flour)]);
        rows.push(r);
    };
    for (i, x) in f.flours.iter().enumerate() {
        row(&x.flour.name, false, &|a| a.flours[i]);
    }
    row("water", false, &|a| a.water);
    row("salt", true, &|a| a.salt);
    if sheet.total.yeast.0 > 0.0 {
        row(&format!("{} yeast", f.yeast_form.name()), true, &|a| a.yeast);
    }
    for (i, o) in f.others.iter().enumerate() {
        row(&o.name, false, &|a| a.others[i]);
    }
    let inside: Grams = columns.iter().map(|(_, a)| a.total()).sum();
    let designed: Vec<Grams> = exact
        .preferments
        .iter()
        .map(|p| p.contents.total())
        .chain(exact.soakers.iter().map(|s| s.contents.total()))
        .collect();
    for ((name, a), designed) in columns.iter().zip(&designed) {
        let mut r = vec![(*name).to_owned(), String::new(), String::new()];
        r.extend(columns.iter().map(|_| String::new()));
        r.extend([mass(a.total(), units), percent(*designed, final_flour)]);
        rows.push(r);
    }
    let mut r = vec![
        "together".to_owned(),
        sheet.figures.total_percent.show_fine(),
        sheet.dough().show(units),
    ];
    r.extend(columns.iter().map(|(_, a)| a.total().show(units)));
    let whole = sheet.final_dough.total() + inside;
    let designed = exact.final_dough.total() + designed.iter().copied().sum();
    r.extend([whole.show(units), percent(designed, final_flour)]);
    rows.push(r);
    table::table(&header, &[0], &rows)
}

fn builds(recipe: &Recipe, sheet: &Sheet, units: Units) -> String {
    let mut text = String::new();
    for p in &sheet.preferments {
        let stages = p.builds.len();
        let _ = writeln!(text, "\n{}", table::bold(&format!("Building the {}", p.name)));
        for (k, b) in p.builds.iter().enumerate() {
            let mut parts = Vec::new();
            if b.seed.0 > 0.0 {
                parts.push(format!("{} ripe starter", b.seed.show(units)));
            }
            if b.previous.0 > 0.0 {
                parts.push(format!("{} from before", b.previous.show(units)));
            }
            for (x, g) in recipe.formula.flours.iter().zip(&b.fresh.flours) {
                if g.0 > 0.0 {
                    parts.push(format!("{} {}", g.show(units), x.flour.name));
                }
            }
            let yeast = format!("{} yeast", recipe.formula.yeast_form.name());
            if b.fresh.water.0 > 0.0 {
                parts.push(format!("{} water", b.fresh.water.show(units)));
            }
            for (g, name) in [(b.fresh.salt, "salt"), (b.fresh.yeast, yeast.as_str())] {
                if g.0 > 0.0 {
                    parts.push(format!("{} {name}", g.show_fine(units)));
                }
            }
            let stage = if stages > 1 { format!("{}. ", k + 1) } else { String::new() };
            let _ = writeln!(
                text,
                "{stage}{} = {}",
                table::wrapped(&parts.join(", "), stage.len(), stage.len()),
                b.total().show(units)
            );
        }
        if p.kept_back.0 > 0.0 {
            let _ = writeln!(text, "When ripe, keep {} back as starter.", p.kept_back.show(units));
        }
    }
    if sheet.bassinage.0 > 0.0 {
        let _ = writeln!(
            text,
            "\nOf the final dough's water hold back {} for the end of mixing.",
            sheet.bassinage.show(units)
        );
    }
    text
}

fn figures(recipe: &Recipe, sheet: &Sheet) -> String {
    let f = &sheet.figures;
    let mut rows = vec![
        vec!["hydration".to_owned(), f.hydration.show(), "water poured, of total flour".to_owned()],
        vec![
            "effective hydration".to_owned(),
            f.effective_hydration.show(),
            "with the water in the other ingredients".to_owned(),
        ],
        vec!["salt".to_owned(), f.salt.show_fine(), "of total flour".to_owned()],
    ];
    let ripe = match recipe.formula.preferments.as_slice() {
        [one] => one.name.as_str(),
        _ => "preferments",
    };
    if !recipe.formula.preferments.is_empty() {
        rows.extend([
            vec![
                "prefermented flour".to_owned(),
                f.prefermented_flour.show(),
                "flour in preferments, of total flour".to_owned(),
            ],
            vec![
                format!("{ripe} on total flour"),
                f.levain_of_total_flour.show(),
                "ripe, of all flour".to_owned(),
            ],
            vec![
                format!("{ripe} on final flour"),
                f.levain_of_final_flour.show(),
                "ripe, of the flour weighed at mixing".to_owned(),
            ],
        ]);
    }
    rows.push(vec![
        "flour blend".to_owned(),
        f.protein.show(),
        format!("protein as is; ash {} dry, moisture {}", f.ash.show_fine(), f.moisture.show()),
    ]);
    format!(
        "\n{}",
        table::table(&["", "", ""], &[0, 2], &rows).trim_start_matches(['\n', ' ', '─'])
    )
}
