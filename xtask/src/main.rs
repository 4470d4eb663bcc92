//! The project's own chores.
//!
//! `cargo run -p xtask -- validation` writes `docs/validation.md`;
//! `cargo run -p xtask -- licences` refuses a dependency whose licence is not on the list;
//! `cargo run --release -p xtask --features figures -- figures` measures what `docs/performance.md` tells;
//! `cargo run --release -p xtask -- exhaustive` holds the planner's search against every schedule
//! on its grid (`--write` keeps what they gave);
//! `cargo run --release -p xtask -- together` holds the choice of several breads against a constraint
//! solver (`--short` a few of them, `--write` keeps what the solver found);
//! `cargo run --release -p xtask -- instructions` counts what a dough costs and refuses a rise;
//! `cargo run --release -p xtask -- notebook-fill` makes a notebook of ten years (at a path or an
//! address, under a seed) and times it.
//! `cargo run --release -p xtask -- parity` holds the engine for a page against the engine here, byte
//! by byte, in Node, and measures it.

#[cfg(feature = "figures")]
mod alone;
#[cfg(feature = "figures")]
mod beside;
#[cfg(feature = "figures")]
mod coupled;
mod exhaustive;
#[cfg_attr(not(feature = "figures"), allow(dead_code, reason = "others are measured by it too"))]
mod figures;
mod instructions;
#[cfg(feature = "figures")]
mod integrators;
mod notebook_fill;
mod parity;
#[cfg_attr(not(feature = "figures"), allow(dead_code, reason = "the figures use all of it"))]
mod scene;
mod script;
mod together;

use cargo_metadata::{DependencyKind, MetadataCommand, Package, PackageId};
use std::collections::BTreeSet;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let verb = std::env::args().nth(1).unwrap_or_default();
    let done = match verb.as_str() {
        "validation" => validation(),
        "licences" => licences(),
        "figures" => figures::figures(root()),
        "instructions" => {
            let accept = std::env::args().nth(2).is_some_and(|a| a == "--accept");
            instructions::instructions(root(), accept)
        }
        "exhaustive" => {
            let write = std::env::args().nth(2).is_some_and(|a| a == "--write");
            exhaustive::exhaustive(root(), write)
        }
        "together" => {
            let given: Vec<String> = std::env::args().skip(2).collect();
            let has = |flag: &str| given.iter().any(|a| a == flag);
            together::together(root(), has("--short"), has("--write"))
        }
        "notebook-fill" => {
            let place = std::env::args().nth(2);
            let seed = std::env::args().nth(3).and_then(|s| s.parse().ok()).unwrap_or(1);
            notebook_fill::notebook_fill(root(), place, seed)
        }
        "parity" => {
            let short = std::env::args().nth(2).is_some_and(|a| a == "--short");
            parity::parity(root(), short)
        }
        "batch" => instructions::batch(std::env::args().nth(2)),
        _ => Err(
            "usage: cargo run -p xtask -- validation | licences | figures | exhaustive | together | instructions | notebook-fill | parity"
                .to_owned(),
        ),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("xtask: {why}");
            ExitCode::FAILURE
        }
    }
}

/// The project's folder.
fn root() -> &'static Path {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here)
}

fn validation() -> Result<(), String> {
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/validation.md");
    std::fs::write(page, checks::render()?).map_err(|e| format!("{page}: {e}"))
}

/// Licences we may ship under: permissive ones, which ask for a notice at most.
const ALLOWED: [&str; 9] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Unlicense",
    "Zlib",
    "Unicode-3.0",
];

/// Every package that ends up in a build, normal and build dependencies; test tools too.
fn licences() -> Result<(), String> {
    let metadata = MetadataCommand::new().exec().map_err(|e| e.to_string())?;
    let resolve = metadata.resolve.as_ref().ok_or("cargo metadata resolved nothing")?;
    let mut todo: Vec<&PackageId> = metadata.workspace_members.iter().collect();
    let mut seen: BTreeSet<&PackageId> = todo.iter().copied().collect();
    while let Some(id) = todo.pop() {
        let node = resolve.nodes.iter().find(|n| n.id == *id).ok_or("a package without a node")?;
        for dep in &node.deps {
            let used = dep.dep_kinds.iter().any(|k| k.kind != DependencyKind::Unknown);
            if used && seen.insert(&dep.pkg) {
                todo.push(&dep.pkg);
            }
        }
    }
    let mut refused = Vec::new();
    let packages: Vec<&Package> =
        metadata.packages.iter().filter(|p| seen.contains(&p.id)).collect();
    for p in &packages {
        let licence = p.license.as_deref().unwrap_or("no licence named");
        if !allowed(licence) {
            refused.push(format!("{} {}: {licence}", p.name, p.version));
        }
    }
    if refused.is_empty() {
        println!("{} packages, every licence is on the list", packages.len());
        Ok(())
    } else {
        Err(format!("licences not on the list:\n  {}", refused.join("\n  ")))
    }
}

/// An expression of AND and OR (or the old slash) holds when enough of its parts are allowed.
fn allowed(expression: &str) -> bool {
    let flat = expression.replace(['(', ')'], "").replace('/', " OR ");
    flat.split(" AND ").all(|all| all.split(" OR ").any(|one| ALLOWED.contains(&one.trim())))
}

#[cfg(test)]
mod tests {
    use super::allowed;

    #[test]
    fn licence_expressions() {
        assert!(allowed("MIT OR Apache-2.0"));
        assert!(allowed("Unlicense/MIT"));
        assert!(allowed("(MIT OR Apache-2.0) AND Unicode-3.0"));
        assert!(allowed("GPL-3.0 OR MIT"));
        assert!(!allowed("GPL-3.0"));
        assert!(!allowed("MIT AND GPL-3.0"));
        assert!(!allowed("no licence named"));
    }
}
