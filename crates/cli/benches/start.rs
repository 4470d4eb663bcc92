//! From process start to the last byte of output, as a person waits for it.

use std::process::{Command, Stdio};

fn main() {
    divan::main();
}

fn grigne(args: &[&str]) {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
    let status = Command::new(env!("CARGO_BIN_EXE_grigne"))
        .args(args)
        .current_dir(root)
        .stdout(Stdio::null())
        .status()
        .expect("the command starts");
    assert!(status.success());
}

const RECIPE: &str = "examples/ferry-lane/recipes/tidewater-batard.toml";
const KITCHEN: &str = "examples/ferry-lane/kitchens/cold-flat.toml";

#[divan::bench]
fn formula() {
    grigne(&["formula", RECIPE]);
}

#[divan::bench]
fn ferment() {
    grigne(&["ferment", RECIPE, "-k", KITCHEN, "--now", "2026-11-26 18:00"]);
}

#[divan::bench]
fn plan() {
    grigne(&["plan", RECIPE, "-k", KITCHEN, "--ready", "Sat 18:00", "--now", "2026-11-26 18:00"]);
}
