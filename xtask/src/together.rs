//! The choice of several breads beside a constraint solver: OR-Tools CP-SAT, by `scripts/cpsat.py`.

use crate::figures::{load, measure, processor};
use crate::scene::rustc;
use crate::scene::say;
use crate::script::script;
use checks::weekend::{self, Weekend, whole_cost};
use engine::plan::together::{Candidate, Patience, Shared, Together, choose};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;

/// Weekends of mixed size and tightness, by number.
const WEEKENDS: u64 = 90;
/// How many of them in the short form.
const SHORT: u64 = 15;
/// Big ones: six breads, so many candidates each, and how tight.
const BIG: [(u64, usize, u32); 7] = [
    (2001, 60, 0),
    (2018, 60, 0),
    (2001, 60, 1),
    (2009, 60, 0),
    (1003, 1000, 0),
    (1009, 1000, 0),
    (1014, 1000, 1),
];

/// One weekend, and what we say.
struct Asked {
    name: String,
    weekend: Weekend,
    ours: Together,
    ours_s: f64,
}

impl Asked {
    fn cost(&self) -> Option<i64> {
        match &self.ours {
            Together::Chosen(c) => Some(whole_cost(c.cost)),
            _ => None,
        }
    }
}

/// Solves all weekends twice and refuses a difference.
pub(crate) fn together(root: &Path, short: bool, write: bool) -> Result<(), String> {
    if cfg!(debug_assertions) {
        return Err("measure the release build: cargo run --release -p xtask -- together".into());
    }
    let numbers: Vec<u64> = (0..if short { SHORT } else { WEEKENDS }).collect();
    let mut asked: Vec<Asked> =
        numbers.iter().map(|&n| ask(n.to_string(), weekend::weekend(n))).collect();
    if !short {
        asked.extend(BIG.iter().map(|&(n, candidates, tight)| {
            ask(format!("{n}, 6 × {candidates}"), weekend::of_size(n, 6, candidates, tight))
        }));
    }
    let theirs = solved(root, &asked)?;
    println!(
        "Machine: {}; load {}; {}; OR-Tools {}, {} workers.\n",
        processor(),
        load(),
        rustc(),
        theirs["version"].as_str().unwrap_or("?"),
        theirs["workers"]
    );
    println!(
        "| weekend | breads | candidates | least cost | nodes | ours, ms | CP-SAT, ms | building its model, ms |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let mut apart = Vec::new();
    let mut kept = String::from("number,breads,candidates,optimum\n");
    let answers = theirs["answers"].as_array().ok_or("the script answered nothing")?;
    let (mut none, mut open, mut ours_s, mut theirs_s) = (0, 0, 0.0, 0.0);
    for (k, (asked, theirs)) in asked.iter().zip(answers).enumerate() {
        let candidates: usize = asked.weekend.breads.iter().map(Vec::len).sum();
        let (words, nodes) = match &asked.ours {
            Together::Chosen(c) if c.proven => (format!("{:.4}", c.cost), c.nodes),
            Together::Chosen(c) => (format!("{:.4}, gap at most {:.4}", c.cost, c.gap()), c.nodes),
            Together::Nothing(clash) => {
                let reliefs = clash.reliefs.iter().map(|r| {
                    r.of.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ")
                });
                let breads: Vec<String> =
                    clash.breads.iter().map(|b| (b + 1).to_string()).collect();
                let reliefs: Vec<String> = reliefs.collect();
                (format!("none: breads {} over {}", breads.join(", "), reliefs.join(" or ")), 0)
            }
            Together::Unsettled => ("unsettled".to_owned(), 0),
        };
        let seconds = |what: &str| theirs[what].as_f64().unwrap_or(f64::NAN);
        println!(
            "| {} | {} | {candidates} | {words} | {nodes} | {:.1} | {:.1} | {:.1} |",
            asked.name,
            asked.weekend.breads.len(),
            1e3 * asked.ours_s,
            1e3 * seconds("seconds"),
            1e3 * seconds("building"),
        );
        ours_s += asked.ours_s;
        theirs_s += seconds("seconds");
        none += usize::from(theirs["status"] == "INFEASIBLE");
        let same = match theirs["status"].as_str() {
            Some("OPTIMAL") => asked.cost() == theirs["cost"].as_i64(),
            Some("INFEASIBLE") => matches!(asked.ours, Together::Nothing(_)),
            // not proven in its time: then ours may be cheaper, and those to be kept may not
            _ if k < numbers.len() => false,
            Some("FEASIBLE") => asked.cost() <= theirs["cost"].as_i64() && asked.cost().is_some(),
            Some("UNKNOWN") => true,
            _ => false,
        };
        open += usize::from(matches!(theirs["status"].as_str(), Some("FEASIBLE" | "UNKNOWN")));
        if !same {
            let theirs = format!("{} {}", theirs["status"], theirs["cost"]);
            apart.push(format!("weekend {}: ours {words}, theirs {theirs}", asked.name));
        }
        if let Some(number) = numbers.get(k) {
            let optimum = theirs["cost"].as_i64().map_or_else(|| "none".into(), |c| c.to_string());
            let breads = asked.weekend.breads.len();
            let _ = writeln!(kept, "{number},{breads},{candidates},{optimum}");
        }
    }
    println!(
        "\n{} weekends, {none} of them impossible, {open} not settled by CP-SAT in its time; all together {ours_s:.2} s and {theirs_s:.2} s. Load at the end: {}.",
        answers.len(),
        load()
    );
    if answers.len() != asked.len() || !apart.is_empty() {
        return Err(format!("the two differ:\n  {}", apart.join("\n  ")));
    }
    if write && !short {
        let path = root.join("data/checks/weekends.csv");
        std::fs::write(&path, kept).map_err(say)?;
    }
    Ok(())
}

fn ask(name: String, weekend: Weekend) -> Asked {
    let work = || choose(&weekend.breads, &weekend.shared, Patience::default());
    let (rate, ours) = measure(1.0, work);
    Asked { name, ours, ours_s: 1.0 / rate.clock, weekend }
}

/// What the solver finds.
fn solved(root: &Path, asked: &[Asked]) -> Result<Value, String> {
    let all: Vec<Value> = asked.iter().map(|a| weekend_json(&a.weekend)).collect();
    script(root, "cpsat.py", "together/weekends.json", &Value::from(all))
}

/// In whole numbers: minutes, millilitres, milligrams, ten-thousandths of cost.
fn weekend_json(weekend: &Weekend) -> Value {
    let thousandths = |x: f64| (x * 1000.0).round() as i64;
    let cold = |all: &[(i32, i32, f64)]| -> Vec<Value> {
        all.iter().map(|f| json!([f.0, f.1, thousandths(f.2)])).collect()
    };
    let candidate = |c: &Candidate| {
        let oven: Vec<Value> = c.oven.iter().map(|o| json!([o.reheat, o.load, o.until])).collect();
        let starter: Vec<Value> =
            c.starter.iter().map(|s| json!([s.0, thousandths(s.1)])).collect();
        json!({
            "cost": whole_cost(c.cost),
            "hands": c.hands,
            "oven": oven,
            "fridge": cold(&c.fridge),
            "starter": starter,
        })
    };
    let breads: Vec<Vec<Value>> =
        weekend.breads.iter().map(|b| b.iter().map(candidate).collect()).collect();
    let Shared { fridge_litres, fridge_taken, starter, .. } = &weekend.shared;
    json!({
        "breads": breads,
        "fridge": fridge_litres.map(thousandths),
        "taken": cold(fridge_taken),
        "starter": starter.as_ref().map(|s| thousandths(s.grams)),
        "rebuilt": starter.as_ref().map(|s| s.rebuilt.clone()),
    })
}
