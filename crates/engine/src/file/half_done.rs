//! A half-done bake: what was begun and what was read off, as noted at the bench.

use super::{Problem, Section, Text, parse, shorten};
use crate::method::NoStep;
use crate::plan::{Did, Happened, Measured, ReadOff};
use crate::recipe::Recipe;
use quantity::{Celsius, Percent, Ph};

/// A time as it is noted.
const TIME: &str = "write \"Fri 8:10\", \"8:10\" or \"2026-11-27 08:10\"; the last one is meant";

/// Reads what happened to a recipe so far. `elapsed` gives the elapsed minute of a time as people
/// say it; none for what is no time.
///
/// # Errors
/// Every problem found.
pub fn read_half_done(
    text: &str,
    recipe: &Recipe,
    elapsed: &dyn Fn(&str) -> Option<f64>,
) -> Result<Happened, Vec<Problem>> {
    parse(text, |root| {
        let done = root.sections("did");
        let did = done.iter().filter_map(|s| {
            s.knows(&["step", "at"]);
            let step = step(s, recipe);
            let at = moment(s, elapsed);
            Some(Did { step: step?, at: at? })
        });
        let did: Vec<Did> = did.collect();
        let readings = root.sections("measured");
        let read = readings.iter().filter_map(|s| {
            s.knows(&["of", "at", "rise", "ph", "temperature"]);
            let line = line(s, recipe);
            let at = moment(s, elapsed);
            let what = measured(s);
            Some(ReadOff { line: line?, at: at?, what: what? })
        });
        let read: Vec<ReadOff> = read.collect();
        Some(Happened { did, read })
    })
}

fn step(s: &Section<'_, '_>, recipe: &Recipe) -> Option<usize> {
    if s.get("step").is_none() {
        s.missing("step", "\"bulk\", or \"4\"");
        return None;
    }
    let t = s.text("step")?;
    match recipe.method.step_named(t.value) {
        Ok(step) => Some(step),
        Err(e) => {
            wrong(s, t, &e);
            None
        }
    }
}

fn wrong(s: &Section<'_, '_>, t: Text<'_>, e: &NoStep) {
    s.problem(t.span, t.field, e.to_string(), Some(e.hint()));
}

fn moment(s: &Section<'_, '_>, elapsed: &dyn Fn(&str) -> Option<f64>) -> Option<f64> {
    if s.get("at").is_none() {
        s.missing("at", "\"Fri 8:10\"");
        return None;
    }
    let t = s.text("at")?;
    let at = elapsed(t.value);
    if at.is_none() {
        let message = format!("\"{}\" is not a time", shorten(t.value));
        s.problem(t.span, t.field, message, Some(TIME.into()));
    }
    at
}

/// The dough, or a preferment by its name.
fn line(s: &Section<'_, '_>, recipe: &Recipe) -> Option<usize> {
    let preferments = &recipe.formula.preferments;
    if s.get("of").is_none() {
        return Some(preferments.len());
    }
    let t = s.text("of")?;
    let name = t.value.trim();
    if name == "dough" {
        return Some(preferments.len());
    }
    let found = preferments.iter().position(|p| p.name == name);
    if found.is_none() {
        let names: Vec<&str> = preferments.iter().map(|p| p.name.as_str()).collect();
        s.problem(
            t.span,
            t.field,
            format!("there is no \"{}\" to measure", shorten(name)),
            Some(format!("choose from dough, {}", names.join(", "))),
        );
    }
    found
}

fn measured(s: &Section<'_, '_>) -> Option<Measured> {
    let all = [
        s.quantity::<Percent>("rise", -50.0..=500.0).map(Measured::Rise),
        s.decimal("ph", 2.5..=8.0).map(|x| Measured::Acid(Ph(x))),
        s.quantity::<Celsius>("temperature", -10.0..=60.0).map(Measured::Temperature),
    ];
    let given = ["rise", "ph", "temperature"].into_iter().filter(|k| s.get(k).is_some()).count();
    if given != 1 {
        s.problem(
            s.span.clone(),
            s.path.clone(),
            format!("{given} readings stand here, one was expected"),
            Some("write rise = \"40 %\", ph = 4.3 or temperature = \"25 °C\"; for several, write [[measured]] again".into()),
        );
        return None;
    }
    all.into_iter().flatten().next()
}
