//! What changed between two versions of a recipe, in the baker's words.

use crate::hearth::Door;
use crate::method::{End, Step};
use crate::recipe::Recipe;
use quantity::{Minutes, Percent, Units};
use serde::Serialize;
use std::collections::BTreeSet;

/// One change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What.
    pub what: String,
    /// Before; empty when it is new.
    pub was: String,
    /// After; empty when it is gone.
    pub is: String,
}

/// Changes from one recipe to another: yield, shares, figures, steps; in that order.
pub fn changes(before: &Recipe, after: &Recipe) -> Vec<Change> {
    let mut out = Vec::new();
    let mut note = |what: &str, was: String, is: String| {
        if was != is {
            out.push(Change { what: what.to_owned(), was, is });
        }
    };
    note("title", before.title.clone(), after.title.clone());
    for (what, was, is) in named(&yields(before), &yields(after)) {
        note(&what, was, is);
    }
    for (what, was, is) in named(&shares(before), &shares(after)) {
        note(&what, was, is);
    }
    for (what, was, is) in named(&figures(before), &figures(after)) {
        note(&what, was, is);
    }
    for (was, is) in steps(before, after) {
        let name = |s: &Step| match &s.what {
            Some(what) => format!("{} the {what}", s.verb.name()),
            None => s.verb.name().to_owned(),
        };
        let what = is.or(was).map(name).unwrap_or_default();
        let tell = |s: Option<&Step>| s.map(step_words).unwrap_or_default();
        note(&what, tell(was), tell(is));
    }
    out
}

type Facts = Vec<(String, String)>;

/// Facts of both sides under one name.
fn named(before: &Facts, after: &Facts) -> Vec<(String, String, String)> {
    let mut seen = BTreeSet::new();
    let find = |facts: &Facts, name: &str| {
        facts.iter().find(|(n, _)| n == name).map(|(_, v)| v.clone()).unwrap_or_default()
    };
    let order: Vec<String> = after.iter().chain(before).map(|(n, _)| n.clone()).collect();
    order
        .into_iter()
        .filter(|n| seen.insert(n.clone()))
        .map(|n| (n.clone(), find(before, &n), find(after, &n)))
        .collect()
}

fn yields(r: &Recipe) -> Facts {
    let y = &r.yields;
    let mut out = vec![
        ("pieces".into(), y.pieces.to_string()),
        ("piece".into(), y.piece.show(Units::Metric)),
        ("shape".into(), y.shape.name().into()),
        ("bake loss".into(), y.bake_loss.show()),
        ("process loss".into(), y.process_loss.show()),
    ];
    if let Some(l) = y.length {
        out.push(("length".into(), l.show(Units::Metric)));
    }
    if let Some(d) = y.diameter {
        out.push(("diameter".into(), d.show(Units::Metric)));
    }
    out
}

fn shares(r: &Recipe) -> Facts {
    let f = &r.formula;
    let mut out: Facts = f
        .flours
        .iter()
        .map(|x| {
            (
                x.flour.name.clone(),
                format!("{}, {} protein", x.share.show_fine(), x.flour.protein.show()),
            )
        })
        .collect();
    let mut add = |name: &str, p: Percent| {
        if p.0 > 0.0 {
            out.push((name.to_owned(), p.show_fine()));
        }
    };
    add("water", f.water);
    add("salt", f.salt);
    add(&format!("{} yeast", f.yeast_form.name()), f.yeast);
    add("bassinage", f.bassinage);
    for o in &f.others {
        add(&o.name, o.share);
    }
    for p in &f.preferments {
        let seed = p.seed.map_or(String::new(), |s| format!(", seed {}", s.inoculation.show()));
        out.push((
            p.name.clone(),
            format!("{} of the flour at {}{seed}", p.prefermented_flour.show(), p.hydration.show()),
        ));
    }
    out
}

fn figures(r: &Recipe) -> Facts {
    let Ok(s) = r.formula.sheet(quantity::Grams(1000.0)) else { return Vec::new() };
    let f = &s.figures;
    vec![
        ("effective hydration".into(), f.effective_hydration.show()),
        ("prefermented flour".into(), f.prefermented_flour.show()),
        ("blend protein".into(), f.protein.show()),
    ]
}

fn step_words(s: &Step) -> String {
    let end = match s.end {
        End::After(t) => t.show(),
        End::Between { least, usual, most } => {
            format!("{} to {}, usually {}", least.show(), most.show(), usual.show())
        }
        End::Cue { cue, least: Minutes(0.0), most } => {
            format!("until {cue}, at most {}", most.show())
        }
        End::Cue { cue, least, most } => {
            format!("until {cue}, {} to {}", least.show(), most.show())
        }
    };
    let temp = s.temperature.map_or(String::new(), |t| format!(", {}", t.show(Units::Metric)));
    let good = s.good.map_or(String::new(), |g| format!(", good: {g}"));
    let mut oven = String::new();
    for (said, word) in [(s.steam, "steam"), (s.lid, "lid on")] {
        if said {
            oven += ", ";
            oven += word;
        }
    }
    if let Some(fan) = s.fan {
        oven += if fan { ", fan on" } else { ", fan off" };
    }
    if let Some(door) = s.door {
        oven += if door == Door::Ajar { ", door ajar" } else { ", door shut" };
    }
    if let Some(liner) = s.liner {
        oven += ", on ";
        oven += liner.name();
    }
    if let Some(wait) = s.wait {
        oven += ", later loads wait: ";
        oven += wait.name();
    }
    format!("{end}, {}{temp}{oven}{good}", s.place.name())
}

/// Steps paired: same verb, same thing, same turn of it; a longest common order is not needed
/// for methods of twenty steps.
fn steps<'a>(before: &'a Recipe, after: &'a Recipe) -> Vec<(Option<&'a Step>, Option<&'a Step>)> {
    let key = |list: &'a [Step], i: usize| {
        let s = &list[i];
        let turn = list[..i]
            .iter()
            .filter(|x| x.verb == s.verb && x.what == s.what && x.when == s.when)
            .count();
        (s.verb, s.what.clone(), s.when, turn)
    };
    let (b, a) = (&before.method.steps, &after.method.steps);
    let mut left: Vec<usize> = (0..b.len()).collect();
    let mut out = Vec::new();
    for i in 0..a.len() {
        let twin = left.iter().position(|&j| key(b, j) == key(a, i));
        out.push((twin.map(|k| &b[left.remove(k)]), Some(&a[i])));
    }
    out.extend(left.into_iter().map(|j| (Some(&b[j]), None)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::read_recipe;

    const TEXT: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");

    #[test]
    fn a_recipe_does_not_differ_from_itself() {
        let r = read_recipe(TEXT).unwrap();
        assert_eq!(changes(&r, &r), vec![]);
    }

    #[test]
    fn changed_shares_figures_and_steps_are_told() {
        let before = read_recipe(TEXT).unwrap();
        let mut after = before.clone();
        after.formula.water = Percent(76.0);
        after.method.steps.retain(|s| s.verb != crate::method::Verb::BenchRest);
        after.method.steps[2].end = End::After(Minutes(20.0));
        let told: Vec<(String, String, String)> =
            changes(&before, &after).into_iter().map(|c| (c.what, c.was, c.is)).collect();
        let want = [
            ("water", "73 %", "76 %"),
            ("effective hydration", "73 %", "76 %"),
            ("mix", "15 min, room, 25 °C", "20 min, room, 25 °C"),
            ("bench rest", "25 min, room", ""),
        ];
        assert_eq!(told.len(), want.len(), "{told:?}");
        for ((a, b, c), w) in told.iter().zip(want) {
            let plain = |s: &str| s.replace('\u{a0}', " ");
            assert_eq!((a.as_str(), &*plain(b), &*plain(c)), w);
        }
    }
}
