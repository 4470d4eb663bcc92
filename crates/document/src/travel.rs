//! `travel`: readers' kitchens follow the recipe, by its times and by its cues.

use crate::document;
use engine::method::{End, Step, Verb};
use engine::run::Setting;
use engine::travel::{
    Advice, Checkpoint, Count, Driver, FEW, Question, Remedy, Report, Tally, VIGOURS,
    levain_weights,
};
use engine::words::look_for;
use quantity::{Celsius, Minutes, Units};
use serde_json::{Value, json};

/// A question with its answer.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// What was asked.
    pub question: &'a Question<'a>,
    /// The recipe in the kitchen it was written in.
    pub setting: &'a Setting<'a>,
    /// What came out.
    pub report: &'a Report,
    /// Units of sentences.
    pub units: Units,
}

/// "bulk", or "levain: build".
pub fn named(step: &Step) -> String {
    match &step.what {
        Some(what) => format!("{what}: {}", step.verb.name()),
        None => step.verb.name().to_owned(),
    }
}

impl Told<'_> {
    /// A step of the method.
    pub fn step(&self, i: usize) -> &Step {
        &self.setting.recipe.method.steps[i]
    }

    /// The time printed for a step.
    pub fn printed(&self, step: usize) -> Option<Minutes> {
        self.report.printed.iter().find(|(i, _)| *i == step).map(|(_, t)| *t)
    }

    /// The sentence that fails, what to write for it, and the rows of its table.
    pub fn remedy(&self, remedy: &Remedy) -> (String, String, Vec<String>) {
        let time = |i: usize| {
            let t = self.printed(i).map_or(String::new(), Minutes::show);
            format!("\"{}: {t}\"", named(self.step(i)))
        };
        match remedy {
            Remedy::Cue(i) => {
                let cue = look_for(self.step(*i), self.units);
                (time(*i), format!("\"{}: {cue}\"", named(self.step(*i))), Vec::new())
            }
            Remedy::Cues => {
                let all = self.question.recipe.method.steps.iter().enumerate();
                let cues: Vec<String> = all
                    .filter(|(_, s)| self.question.path.takes(s))
                    .filter(|(_, s)| matches!(s.end, End::Cue { .. }))
                    .map(|(_, s)| format!("\"{}: {}\"", named(s), look_for(s, self.units)))
                    .collect();
                let baked = self.question.recipe.method.steps.iter().any(|s| s.verb == Verb::Bake);
                let oven =
                    if baked { ", and the bread out when it is done, not at a minute" } else { "" };
                ("all these times".into(), format!("{}{oven}", cues.join(", ")), Vec::new())
            }
            Remedy::Table(i, rows) => {
                let rows = rows
                    .iter()
                    .map(|(at, t)| format!("{:>8}  {}", at.show(self.units), t.show()))
                    .collect();
                let is = format!(
                    "\"{}, by the temperature of the dough when it begins\":",
                    named(self.step(*i))
                );
                (time(*i), is, rows)
            }
            Remedy::Levain(rows) => {
                let all = levain_weights(self.setting, rows);
                let words = |(room, parts): &(Celsius, Vec<(String, quantity::Grams)>)| {
                    let parts: Vec<String> = parts
                        .iter()
                        .map(|(name, g)| format!("{} {name}", g.show(self.units)))
                        .collect();
                    format!("{:>8}  {}", room.show(self.units), parts.join(", "))
                };
                (
                    "one weight of levain for every kitchen".into(),
                    "\"Into the dough, by the temperature of your kitchen\" (build in proportion):"
                        .into(),
                    all.iter().map(words).collect(),
                )
            }
        }
    }

    /// The document.
    pub fn json(&self) -> Value {
        let (q, r) = (self.question, self.report);
        let body = json!({
            "title": q.recipe.title,
            "kitchen": q.written_in.name,
            "parameters": q.set.name,
            "path": q.path.words(),
            "now": q.calendar.start.to_string(),
            "belief": q.belief.name,
            "about": q.belief.about,
            "readers": r.readers,
            "seed": q.seed,
            "sensitivity": q.sensitivity,
            "printed": r.printed.iter().map(|(i, t)| json!({
                "step": i + 1, "do": self.step(*i).verb.name(), "what": self.step(*i).what, "time": t,
            })).collect::<Vec<_>>(),
            "clock": tally_json(&r.clock),
            "cue": tally_json(&r.cue),
            "map": { "rooms": r.rooms, "vigours": VIGOURS, "few": FEW },
            "drivers": r.drivers.load.iter().map(|d| self.driver_json(d)).collect::<Vec<_>>(),
            "loaf_drivers": r.drivers.loaf.iter().map(|d| self.driver_json(d)).collect::<Vec<_>>(),
            "advice": r.advice.iter().map(|a| self.advice_json(a)).collect::<Vec<_>>(),
        });
        document("travel", body)
    }

    fn driver_json(&self, d: &Driver) -> Value {
        let q = self.question.belief.get(d.what);
        let index = |e: engine::numerics::sensitivity::Estimate| json!({ "value": e.value, "low": e.low, "high": e.high });
        json!({
            "what": d.what.name(),
            "says": q.map(|q| &q.says),
            "unit": q.map(|q| q.unit.name()),
            "from": q.map(|q| q.at(0.1)),
            "to": q.map(|q| q.at(0.9)),
            "first": index(d.first),
            "total": index(d.total),
        })
    }

    fn advice_json(&self, a: &Advice) -> Value {
        let (was, is, _) = self.remedy(&a.remedy);
        let (kind, step) = match &a.remedy {
            Remedy::Cue(i) => ("cue", Some(i + 1)),
            Remedy::Table(i, _) => ("table", Some(i + 1)),
            Remedy::Levain(_) => ("levain", None),
            Remedy::Cues => ("cues", None),
        };
        let times = match &a.remedy {
            Remedy::Table(_, rows) => {
                json!(
                    rows.iter()
                        .map(|(at, t)| json!({ "dough": at, "time": t }))
                        .collect::<Vec<_>>()
                )
            }
            _ => Value::Null,
        };
        let levain = match &a.remedy {
            Remedy::Levain(rows) => levain_weights(self.setting, rows)
                .into_iter()
                .zip(rows)
                .map(|((room, parts), (_, factor))| {
                    json!({
                        "room": room, "factor": factor,
                        "weights": parts.iter().map(|(n, g)| json!({ "what": n, "mass": g })).collect::<Vec<_>>(),
                    })
                })
                .collect(),
            _ => Value::Null,
        };
        json!({
            "remedy": kind, "step": step, "was": was, "words": is,
            "times": times, "levain": levain,
            "good_before": a.before, "good_after": a.after,
            "load_before": a.load_before, "load_after": a.load_after,
            "gain_error": a.error, "readers": a.readers,
        })
    }
}

fn count_json(c: Count) -> Value {
    if c.all() == 0 {
        return Value::Null;
    }
    let [under, good, over] = c.shares();
    json!({ "readers": c.all(), "under": under, "good": good, "over": over })
}

fn tally_json(t: &Tally) -> Value {
    let map: Vec<Vec<Value>> =
        t.map.iter().map(|row| row.iter().map(|c| count_json(*c)).collect()).collect();
    json!({
        "divide": count_json(t.count(Checkpoint::Divide)),
        "load": count_json(t.count(Checkpoint::Load)),
        "loaf": count_json(t.count(Checkpoint::Loaf)),
        "good": t.good_share(),
        "good_error": t.good_error(),
        "map": map,
    })
}
