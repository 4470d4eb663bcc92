//! A tripwire: what a whole dough costs in instructions and in steps may not rise unnoticed.
//!
//! The batch runs on the plain path (one lane, one thread) under callgrind. Two batches of
//! different size are counted and one taken from the other, so that reading files and growing the
//! starter do not count.

use crate::scene::{KITCHENS, STEP_MIN, Scene, kitchen, rustc, say};
use engine::ensemble::Ensemble;
use engine::numerics::lanes::Width;
use serde::Deserialize;
use std::path::Path;
use std::process::Command;

/// Doughs of the two batches.
const BATCHES: [usize; 2] = [8, 40];
/// How much it may rise, %.
const ALLOWED: f64 = 10.0;
const FILE: &str = "xtask/instructions.toml";
const ACCEPT: &str = "cargo run --release -p xtask -- instructions --accept";

/// What a dough costs.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cost {
    /// Compiler it was counted with.
    rustc: String,
    instructions: u64,
    steps: u64,
    runge_kutta: u64,
    rates: u64,
    warmth: u64,
}

/// The batch that is counted; not for people.
pub(crate) fn batch(n: Option<String>) -> Result<(), String> {
    let n = n.and_then(|n| n.parse().ok()).ok_or("usage: xtask batch DOUGHS")?;
    let scene = Scene::new()?;
    let setting = scene.setting()?;
    let schedule = scene.schedule(&setting)?;
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().map_err(say)?;
    pool.install(|| Scene::many(&setting, &schedule, n, Width::One, STEP_MIN)).map(drop)
}

/// Counts, and holds it against the file or writes it.
pub(crate) fn instructions(root: &Path, accept: bool) -> Result<(), String> {
    if cfg!(debug_assertions) {
        return Err("count the release build: cargo run --release -p xtask -- instructions".into());
    }
    let now = cost(root)?;
    let file = root.join(FILE);
    if accept {
        return std::fs::write(&file, now.written()).map_err(|e| format!("{FILE}: {e}"));
    }
    let text = std::fs::read_to_string(&file).map_err(|e| format!("{FILE}: {e}"))?;
    let before: Cost = toml::from_str(&text).map_err(|e| format!("{FILE}: {e}"))?;
    let mut risen = Vec::new();
    for (what, was, is, of_compiler) in [
        ("instructions", before.instructions, now.instructions, true),
        ("steps", before.steps, now.steps, false),
        ("Runge-Kutta steps", before.runge_kutta, now.runge_kutta, false),
        ("sets of rates", before.rates, now.rates, false),
        ("steps of warmth", before.warmth, now.warmth, false),
    ] {
        let more = 100.0 * (is as f64 / was as f64 - 1.0);
        println!("a whole dough: {is} {what}, {more:+.1} % against {was}");
        if more > ALLOWED {
            if of_compiler && before.rustc != now.rustc {
                println!(
                    "  warning: counted before with {}, now with {}: no verdict; accept it with `{ACCEPT}`",
                    before.rustc, now.rustc
                );
            } else {
                risen.push(format!("{what} {more:+.1} %"));
            }
        }
    }
    if risen.is_empty() {
        return Ok(());
    }
    Err(format!(
        "a whole dough costs over {ALLOWED} % more than {FILE} says: {}\n  if the change is worth it, say why in its commit and accept it: {ACCEPT}",
        risen.join(", ")
    ))
}

impl Cost {
    fn written(&self) -> String {
        format!(
            "# What one whole dough costs on the plain path, with its steps. A rise of over {ALLOWED} % fails.\n\
             # Written by: {ACCEPT}\n\
             rustc = \"{}\"\ninstructions = {}\nsteps = {}\nrunge_kutta = {}\nrates = {}\nwarmth = {}\n",
            self.rustc, self.instructions, self.steps, self.runge_kutta, self.rates, self.warmth
        )
    }
}

fn cost(root: &Path) -> Result<Cost, String> {
    let [few, many] = BATCHES;
    let instructions = (counted(root, many)? - counted(root, few)?) / (many - few) as u64;
    let scene = Scene::new()?;
    let setting = scene.setting()?;
    let schedule = scene.schedule(&setting)?;
    let clock = Ensemble::by_clock(&setting, &schedule);
    let done = clock.count(|| kitchen(KITCHENS / 2, STEP_MIN)).map_err(say)?;
    Ok(Cost {
        rustc: rustc(),
        instructions,
        steps: done.steps,
        runge_kutta: done.runge_kutta,
        rates: done.rates,
        warmth: done.warmth,
    })
}

/// Instructions of a batch, by callgrind.
fn counted(root: &Path, n: usize) -> Result<u64, String> {
    let folder = root.join("target/figures");
    std::fs::create_dir_all(&folder).map_err(say)?;
    let out = folder.join("callgrind.out");
    let done = Command::new("valgrind")
        .arg("--tool=callgrind")
        .arg(format!("--callgrind-out-file={}", out.display()))
        .arg(std::env::current_exe().map_err(say)?)
        .args(["batch", &n.to_string()])
        .output()
        .map_err(|e| format!("valgrind: {e} (install it, for instance from apt)"))?;
    if !done.status.success() {
        return Err(format!("valgrind: {}", String::from_utf8_lossy(&done.stderr)));
    }
    let text = std::fs::read_to_string(&out).map_err(say)?;
    text.lines()
        .find_map(|l| l.strip_prefix("totals: ")?.trim().parse().ok())
        .ok_or_else(|| "callgrind told no total".to_owned())
}
