//! The project's own chores.
//!
//! `cargo run -p xtask -- validation` writes `docs/validation.md`.

use std::process::ExitCode;

fn main() -> ExitCode {
    let verb = std::env::args().nth(1).unwrap_or_default();
    let done = match verb.as_str() {
        "validation" => validation(),
        _ => Err("usage: cargo run -p xtask -- validation".to_owned()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("xtask: {why}");
            ExitCode::FAILURE
        }
    }
}

fn validation() -> Result<(), String> {
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/validation.md");
    std::fs::write(page, checks::render()?).map_err(|e| format!("{page}: {e}"))
}
