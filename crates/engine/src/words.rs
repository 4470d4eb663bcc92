//! Bench words: each step in plain imperative English, with its amounts.
//!
//! The cue first, the clock second. Message files for other languages come with
//! publishing; until then every sentence the engine says to a baker is made here.

use crate::fit::liner_words;
use crate::formula::{Amounts, Soaker};
use crate::hearth::Door;
use crate::method::{Cue, End, Place, Step, Verb, Window};
use crate::run::{Setting, Trace, WaterUse};
use quantity::{Grams, Units};
use std::fmt::Write as _;

/// What to do at a step, and what to look for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Instruction {
    /// What to do, in a few words.
    pub title: String,
    /// What to do, one sentence, with amounts.
    pub act: String,
    /// When it is done.
    pub look_for: String,
    /// The recipe's own note.
    pub note: String,
}

fn weighed(setting: &Setting<'_>, a: &Amounts, units: Units) -> Vec<String> {
    let f = &setting.recipe.formula;
    let mut out = Vec::new();
    let mut add = |g: Grams, weight: String, name: &str| {
        if g.0 > 0.0 {
            out.push(format!("{weight} {name}"));
        }
    };
    for (x, g) in f.flours.iter().zip(&a.flours) {
        add(*g, g.show(units), &x.flour.name);
    }
    add(a.salt, a.salt.show_fine(units), "salt");
    let yeast = format!("{} yeast", f.yeast_form.name());
    add(a.yeast, a.yeast.show_fine(units), &yeast);
    for (o, g) in f.others.iter().zip(&a.others) {
        add(*g, g.show(units), &o.name);
    }
    out
}

/// What is worked in after mixing, where a fold follows to do it: soakers whose ingredients all
/// come late, and late ingredients that no soaker holds.
fn late(setting: &Setting<'_>, units: Units) -> Vec<String> {
    let f = &setting.recipe.formula;
    let folds = setting.recipe.method.steps.iter().any(|s| s.verb == Verb::Fold);
    if !folds {
        return Vec::new();
    }
    let soakers = f.soakers.iter().zip(&setting.sheet.soakers).filter(|(k, _)| is_late(setting, k));
    let dry = f.others.iter().zip(&setting.sheet.final_dough.others);
    soakers
        .map(|(k, s)| format!("{} {}", s.contents.total().show(units), k.name))
        .chain(
            dry.filter(|(o, g)| o.late && g.0 > 0.0)
                .map(|(o, g)| format!("{} {}", g.show(units), o.name)),
        )
        .collect()
}

fn is_late(setting: &Setting<'_>, soaker: &Soaker) -> bool {
    let others = &setting.recipe.formula.others;
    soaker.soaks.iter().all(|n| others.iter().any(|o| o.name == *n && o.late))
}

fn water(g: Grams, at: Option<&WaterUse>, units: Units) -> Option<String> {
    (g.0 > 0.0).then(|| match at.and_then(|w| w.water) {
        Some(t) => format!("{} water at {}", g.show(units), t.show(units)),
        None => format!("{} water", g.show(units)),
    })
}

fn place_words(step: &Step) -> Option<&'static str> {
    match step.place {
        Place::Room => None,
        Place::Fridge => Some("in the fridge"),
        Place::Proofer => Some("in the proofing box"),
        Place::OvenOff => Some("in the switched-off oven"),
        Place::Oven => Some("in the oven"),
    }
}

/// A step in words; the trace knows how warm the water must be.
pub fn instruct(setting: &Setting<'_>, i: usize, trace: &Trace, units: Units) -> Instruction {
    let step = &setting.recipe.method.steps[i];
    let water_use = match step.verb {
        // the water of the dough is poured here already
        Verb::Autolyse => trace.dough().and_then(|d| d.water.first()),
        _ => trace.water_of(i),
    };
    let what = step.what.as_deref().unwrap_or("dough");
    let y = &setting.recipe.yields;
    let pieces = setting.pieces();
    let act = match step.verb {
        Verb::Build => build(setting, i, what, water_use, units),
        Verb::Soak => {
            let s = setting.sheet.soakers.iter().find(|s| s.name == what);
            let f = setting.recipe.formula.soakers.iter().find(|s| s.name == what);
            let (Some(s), Some(f)) = (s, f) else { return blank(step) };
            let water = s.contents.water.show(units);
            let water = if f.scalded {
                format!("{water} boiling water")
            } else {
                format!("{water} cold water")
            };
            format!("Soak {} in {water}", weighed(setting, &s.contents, units).join(", "))
        }
        Verb::Autolyse => {
            let a = &setting.sheet.final_dough;
            let mut flour_only = a.clone();
            flour_only.salt = Grams(0.0);
            flour_only.yeast = Grams(0.0);
            flour_only.others.iter_mut().for_each(|g| *g = Grams(0.0));
            let mut parts = weighed(setting, &flour_only, units);
            parts.extend(water(a.water - setting.sheet.bassinage, water_use, units));
            format!("Wet the flour: {}", parts.join(", "))
        }
        Verb::Mix => {
            let a = &setting.sheet.final_dough;
            let autolysed = setting.recipe.method.steps.iter().any(|s| s.verb == Verb::Autolyse);
            let mut parts: Vec<String> = setting
                .sheet
                .preferments
                .iter()
                .map(|p| format!("{} {}", p.contents.total().show(units), p.name))
                .collect();
            let late = late(setting, units);
            let now = |part: &String| !late.contains(part);
            parts.extend(
                setting
                    .sheet
                    .soakers
                    .iter()
                    .map(|s| format!("{} {}", s.contents.total().show(units), s.name))
                    .filter(now),
            );
            let mut rest = a.clone();
            if autolysed {
                rest.flours.iter_mut().for_each(|g| *g = Grams(0.0));
                parts.insert(0, "the wet flour".into());
            }
            parts.extend(weighed(setting, &rest, units).into_iter().filter(now));
            let pour = if autolysed { Grams(0.0) } else { a.water - setting.sheet.bassinage };
            parts.extend(water(pour, water_use, units));
            let mut text = format!("Mix {}", parts.join(", "));
            if setting.sheet.bassinage.0 > 0.0 {
                let last = setting.sheet.bassinage.show(units);
                let _ = write!(text, "; last, in small doses, {last} water");
            }
            text
        }
        Verb::Rest => "Leave the dough alone".into(),
        Verb::Fold => {
            let first = setting.recipe.method.steps.iter().position(|s| s.verb == Verb::Fold);
            let late = late(setting, units);
            if first == Some(i) && !late.is_empty() {
                format!(
                    "Stretch and fold the dough once around, spreading {} over it",
                    late.join(", ")
                )
            } else {
                "Stretch and fold the dough once around".into()
            }
        }
        Verb::Bulk => "Leave the dough to rise".into(),
        Verb::Retard => format!("Put the {what} in the fridge"),
        Verb::WarmUp => format!("Take the {what} out and let it warm up"),
        Verb::Divide if pieces == 1 => "Turn the dough out".into(),
        Verb::Divide => format!("Divide into {pieces} pieces of {}", y.piece.show(units)),
        Verb::Preshape if pieces == 1 => "Preshape, loosely round".into(),
        Verb::Preshape => "Preshape each piece, loosely round".into(),
        Verb::BenchRest => "Rest, covered".into(),
        Verb::Shape => {
            let shape = y.shape.counted(pieces);
            let into = step.vessel.map_or(String::new(), |c| format!(", into the {}", c.name()));
            format!("Shape {shape}{into}")
        }
        Verb::Proof => match place_words(step) {
            Some(p) => format!("Proof {p}"),
            None => "Proof, covered".into(),
        },
        Verb::Score => "Score".into(),
        Verb::Preheat => match step.temperature {
            Some(t) => format!("Heat the oven and its hearth to {}", t.show(units)),
            None => "Heat the oven and its hearth".into(),
        },
        Verb::Load => load(setting, i),
        Verb::Bake => bake(step, units),
        Verb::Vent => "Let the steam out".into(),
        Verb::Turn => "Turn the bread round, the back to the front".into(),
        Verb::Reheat => match step.temperature {
            Some(t) => format!("Take the bread out, heat the hearth up again to {}", t.show(units)),
            None => "Take the bread out, heat the hearth up again".into(),
        },
        Verb::Cool => "Take the bread out and let it cool".into(),
    };
    let title = match (step.verb, &step.what) {
        (Verb::Mix, _) => "Mix the dough".to_owned(),
        (_, _) => act.split([':', ',']).next().unwrap_or(&act).to_owned(),
    };
    Instruction { title, act, look_for: look_for(step, units), note: step.note.clone() }
}

/// Into the oven: all of it, or as many pieces as this load holds.
fn load(setting: &Setting<'_>, i: usize) -> String {
    let steps = &setting.recipe.method.steps;
    let alike = |k: &usize| steps[*k].verb == Verb::Load && steps[*k].when == steps[i].when;
    let all: Vec<usize> = (0..steps.len()).filter(alike).collect();
    let nth = all.iter().position(|&k| k == i).unwrap_or(0);
    let on = steps[i].liner.map_or(String::new(), |l| format!(", on {}", liner_words(l)));
    let Some(loads) = setting.loads().filter(|_| all.len() > 1) else {
        return format!("Load the oven{on}");
    };
    let per_load = loads.layout.places.len() as u32;
    let left = loads.pieces.saturating_sub(per_load * nth as u32);
    let now = setting.recipe.yields.shape.counted(left.min(per_load));
    let place = match steps[all[0]].wait {
        Some(Place::Fridge) => ("in the fridge", "from the fridge"),
        _ => ("on the bench", "from the bench"),
    };
    let score = if steps.iter().any(|s| s.verb == Verb::Score) { "Score and load" } else { "Load" };
    match nth {
        0 => match left - left.min(per_load) {
            1 => format!("Load {now}{on}; the other one waits {}", place.0),
            others => format!("Load {now}{on}; the other {others} wait {}", place.0),
        },
        _ => format!("{score} {now} {}{on}", place.1),
    }
}

/// In the oven: setting, steam, lid, fan and door as far as the step says.
fn bake(step: &Step, units: Units) -> String {
    let off = step.place == Place::OvenOff;
    let mut text = match step.temperature {
        _ if off => "Switch the oven off and leave the bread in".to_owned(),
        Some(t) => format!("Bake at {}", t.show(units)),
        None => "Bake".into(),
    };
    let door = step.door.unwrap_or(if off { Door::Ajar } else { Door::Shut });
    let said = [
        (step.steam, "with steam"),
        (step.lid, "lid on"),
        (step.fan == Some(true), "fan on"),
        (step.fan == Some(false), "fan off"),
        (door == Door::Ajar, "door ajar"),
        (off && door == Door::Shut, "door shut"),
    ];
    for (_, word) in said.iter().filter(|s| s.0) {
        text += ", ";
        text += word;
    }
    text
}

fn blank(step: &Step) -> Instruction {
    let act = step.verb.name().to_owned();
    Instruction { title: act.clone(), act, look_for: String::new(), note: step.note.clone() }
}

fn build(
    setting: &Setting<'_>,
    i: usize,
    what: &str,
    water_use: Option<&WaterUse>,
    units: Units,
) -> String {
    let method = &setting.recipe.method;
    let nth = method
        .side_line(what)
        .into_iter()
        .filter(|&k| method.steps[k].verb == Verb::Build)
        .position(|k| k == i);
    let sheet = setting.sheet.preferments.iter().find(|p| p.name == what);
    let Some((sheet, b)) = sheet.and_then(|s| Some((s, s.builds.get(nth?)?))) else {
        return format!("Build the {what}");
    };
    let mut parts = Vec::new();
    if b.seed.0 > 0.0 {
        parts.push(format!("{} ripe starter", b.seed.show(units)));
    }
    if b.previous.0 > 0.0 {
        parts.push(format!("all {} from before", b.previous.show(units)));
    }
    parts.extend(weighed(setting, &b.fresh, units));
    parts.extend(water(b.fresh.water, water_use, units));
    let which = if sheet.builds.len() > 1 {
        format!("Build the {what}, stage {}", nth.map_or(1, |n| n + 1))
    } else if b.seed.0 > 0.0 {
        format!("Build the {what}")
    } else {
        format!("Mix the {what}")
    };
    let mut text = format!("{which}: {}", parts.join(", "));
    if sheet.kept_back.0 > 0.0 && nth.map(|n| n + 1) == Some(sheet.builds.len()) {
        let back = sheet.kept_back.show(units);
        let _ = write!(text, ". When ripe, keep {back} back as starter");
    }
    text
}

/// When a step is over, in words; empty where the clock says it all.
pub fn look_for(step: &Step, units: Units) -> String {
    let cue = match step.end {
        End::Cue { cue, .. } => Some(cue),
        _ => None,
    };
    let window = match step.good {
        Some(Window::Rise(a, b)) if cue.is_none() => {
            Some(format!("good with a rise of {} to {}", a.show(), b.show()))
        }
        Some(Window::Rise(a, b)) => Some(format!("{} to {} is good", a.show(), b.show())),
        Some(Window::Acid(a, b)) => Some(format!("pH {} to {} is good", a.show(), b.show())),
        Some(Window::Core(a, b)) => {
            Some(format!("{} to {} inside is good", a.show(units), b.show(units)))
        }
        None => None,
    };
    match cue {
        Some(Cue::Rise(r)) => {
            let window = window.map(|w| format!(" ({w})")).unwrap_or_default();
            format!("until it has grown by {}{window}", r.show())
        }
        Some(Cue::Acid(p)) => {
            let window = window.map(|w| format!(" ({w})")).unwrap_or_default();
            format!("until pH {}{window}", p.show())
        }
        Some(Cue::Core(t)) => format!("until it is {} inside", t.show(units)),
        Some(Cue::Ripe) => "until it stands at its highest, just before it sinks".into(),
        Some(Cue::Poke) => "until a floured finger's dent fills slowly and not wholly".into(),
        None => window.unwrap_or_default(),
    }
}
