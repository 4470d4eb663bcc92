//! The engine in a page against the engine here: the same questions, the same bytes.

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

/// Holds the WebAssembly, run in Node, against the engine here on every recipe in every kitchen
/// by every question, and measures both; `short` asks for one plan only.
pub(crate) fn parity(root: &Path, short: bool) -> Result<(), String> {
    let node = Command::new("node").arg("--version").output();
    if !node.is_ok_and(|out| out.status.success()) {
        return Err("node is missing: install Node 18 or newer (`apt-get install nodejs`)".into());
    }
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let build = ["run", "-q", "-p", "up", "--locked", "--", "wasm"];
    if !Command::new(cargo).current_dir(root).args(build).status().is_ok_and(|s| s.success()) {
        return Err("the engine for a page was not built".into());
    }
    let folder = root.join("target/wasm");
    let built = folder.join("reader.wasm");
    let questions = questions(root, short)?;
    let lines: Vec<String> = questions.iter().map(|(_, q)| q.to_string()).collect();
    let lines = lines.join("\n") + "\n";
    let file = |name: &str| folder.join(name);
    std::fs::write(file("questions"), lines).map_err(|e| e.to_string())?;
    let script = root.join("scripts/parity.mjs");
    let files = [file("questions"), file("answers"), file("times")];
    let run = Command::new("node").arg(script).arg(built).args(&files).status();
    if !run.is_ok_and(|s| s.success()) {
        return Err("node could not run the WebAssembly".into());
    }
    let read = |name| std::fs::read_to_string(file(name)).map_err(|e| format!("{name}: {e}"));
    let (answers, times) = (read("answers")?, read("times")?);
    let mut rows: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
    let mut apart = Vec::new();
    let mut told = answers.lines();
    let mut took = times.lines();
    for (what, question) in &questions {
        let (here, ms) = timed(&question.to_string());
        if told.next() != Some(here.as_str()) {
            apart.push(what.as_str());
        }
        let ask = what.split(' ').next().unwrap_or_default();
        let there = took.next().and_then(|t| t.parse().ok()).unwrap_or(f64::NAN);
        rows.entry(ask).or_default().push((there, ms));
    }
    println!("{:<10} {:>5} {:>14} {:>14}", "question", "", "Node, ms", "here, ms");
    for (ask, mut all) in rows {
        let mut middle = |of: fn(&(f64, f64)) -> f64| {
            all.sort_by(|a, b| of(a).total_cmp(&of(b)));
            (of(&all[all.len() / 2]), all.last().map_or(f64::NAN, of))
        };
        let (a, b) = (middle(|x| x.0), middle(|x| x.1));
        println!(
            "{ask:<10} {:>5} {:>6.1} ≤{:>6.1} {:>6.1} ≤{:>6.1}",
            all.len(),
            a.0,
            a.1,
            b.0,
            b.1
        );
    }
    if apart.is_empty() && told.next().is_none() {
        println!("{} answers, the same bytes", questions.len());
        return Ok(());
    }
    Err(format!("answers differ:\n  {}", apart.join("\n  ")))
}

#[expect(clippy::disallowed_methods, reason = "how long an answer takes")]
fn timed(question: &str) -> (String, f64) {
    let began = Instant::now();
    let answer = document::answer(question);
    (answer, 1000.0 * began.elapsed().as_secs_f64())
}

fn texts(folder: &Path) -> Result<Vec<(String, String)>, String> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))? {
        let path = entry.map_err(|e| e.to_string())?.path();
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        out.push((name, std::fs::read_to_string(&path).map_err(|e| e.to_string())?));
    }
    out.sort();
    Ok(out)
}

/// Every question of every recipe in every kitchen; plans, which take longer, of every recipe once,
/// and a step of each plan moved.
fn questions(root: &Path, short: bool) -> Result<Vec<(String, Value)>, String> {
    let scenario = root.join("examples/ferry-lane");
    let recipes = texts(&scenario.join("recipes"))?;
    let kitchens = texts(&scenario.join("kitchens"))?;
    let mut out = Vec::new();
    let now = json!("2026-10-24T18:00");
    let shifts = json!([[540, -60]]);
    for (r, (recipe, text)) in recipes.iter().enumerate() {
        for (k, (kitchen, room)) in kitchens.iter().enumerate() {
            let mut ask = |what: &str, more: Value| {
                let mut q = json!({ "ask": what, "recipe": text, "kitchen": room });
                if let (Some(q), Value::Object(more)) = (q.as_object_mut(), more) {
                    q.extend(more);
                }
                out.push((format!("{what} {recipe} in {kitchen}"), q));
            };
            ask("formula", json!({ "scale": { "flour": "2 kg" } }));
            ask("water", json!({ "units": "us", "room": 27.5 }));
            let clock = json!({ "now": now, "shifts": shifts, "start": 60 });
            ask("ferment", clock.clone());
            ask("bake", clock);
            let mut last = |q: Value| {
                out.push((format!("{} {recipe}", q["ask"].as_str().unwrap_or_default()), q));
            };
            if k == 0 {
                last(json!({ "ask": "check", "recipe": text.replace("title", "titel") }));
                last(json!({ "ask": "write", "recipe": text }));
            }
            if k != r % kitchens.len() {
                continue;
            }
            let clock = |mut q: Value| {
                for (key, value) in
                    [("kitchen", json!(room)), ("now", now.clone()), ("shifts", shifts.clone())]
                {
                    q[key] = value;
                }
                q
            };
            // in few kitchens: a page has one core and no wide registers
            let plan = json!({ "ask": "plan", "recipe": text, "ready": "2026-10-26T18:00", "kitchens": 8 });
            let plan = clock(plan);
            let answer = document::ask(&plan);
            // many seconds each in a page
            if !short || r == 0 {
                last(plan);
            }
            let (best, path) = (&answer["plans"][0], &answer["plans"][0]["path"]);
            let steps = best["steps"].as_array().cloned().unwrap_or_default();
            for (n, step) in steps.iter().enumerate() {
                let at = step["from"].as_f64().unwrap_or(0.0) + [15.0, -40.0, 400.0][n % 3];
                last(clock(json!({
                    "ask": "move", "recipe": best["recipe"], "path": path, "spans": steps,
                    "step": step["step"], "begin": at, "ready": "2026-10-26T18:00",
                })));
            }
        }
    }
    Ok(out)
}
