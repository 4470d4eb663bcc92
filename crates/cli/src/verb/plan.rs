//! `plan`: a timeline a person can follow at the bench.

use super::bake::fits_the_oven;
use super::document;
use super::ferment::{closing, slack_json};
use crate::args::PlanArgs;
use crate::fail::Failure;
use crate::when::{Clock, day, time};
use crate::{csv, ics, input, out, plot, table};
use engine::fit::{Fitted, to_oven};
use engine::hours::Blocked;
use engine::method::{Verb, Window};
use engine::plan::{Breach, Outcome, Plan, Remedy, Request, path_words, plan};
use engine::run::{Setting, Span};
use engine::words::instruct;
use quantity::{Celsius, Minutes, Ph, Units};
use serde_json::json;
use std::fmt::Write as _;

pub(crate) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let kitchen = input::kitchen(&args.recipe)?;
    let flour = input::total_flour(&args.recipe, &recipe, &kitchen)?;
    let clock = Clock::new(&args.clock, &kitchen.zone)?;
    let set = input::parameters(&args.clock)?;
    let ready = clock.parse(&args.ready)?;
    let fitted = if args.as_written {
        Fitted { recipe, changes: Vec::new(), waits: Vec::new() }
    } else {
        to_oven(&recipe, &kitchen, set, flour, &clock.calendar()).map_err(Failure::plain)?
    };
    let recipe = &fitted.recipe;
    let setting =
        Setting::new(recipe, &kitchen, set, flour, clock.calendar()).map_err(Failure::plain)?;
    if !args.as_written {
        fits_the_oven(&setting, setting.recipe.method.paths().first().copied())?;
    }
    let outcome = plan(&setting, &Request::by(ready)).map_err(|e| {
        let now = clock.now.datetime();
        Failure::wish(e.to_string(), format!("now is {} {}", day(now), time(now)))
    })?;
    let plans = match outcome {
        Outcome::Plans(plans) => plans,
        Outcome::Nothing(remedies) => {
            if args.out.json {
                let body = nothing_json(&setting, &clock, ready, &remedies, args);
                out::json(&document("plan", body), args.out.out.as_deref())?;
            }
            return Err(nothing(&setting, ready, &remedies, args));
        }
    };
    let Some(best) = plans.first() else {
        return Err(Failure::plain("no plan was found"));
    };
    let units: Units = args.out.units.into();
    let to = args.out.out.as_deref();
    if args.csv {
        return out::bytes(csv::csv(&best.trace, &setting).as_bytes(), to);
    }
    if args.svg {
        let svg = plot::trace(&setting, &best.schedule, &best.trace, &best.slack, units);
        return out::bytes(svg.as_bytes(), to);
    }
    if args.ics {
        let words = |i: usize| {
            let w = instruct(&setting, i, &best.trace, units);
            let more: Vec<&str> = [w.act.as_str(), &w.look_for, &w.note]
                .into_iter()
                .filter(|s| !s.is_empty())
                .collect();
            (w.title.clone(), more.join("\n"))
        };
        let calendar = ics::calendar(&setting, best, clock.zone(), clock.timestamp(), &words);
        return out::bytes(calendar.as_bytes(), to);
    }
    if args.out.json {
        let all: Vec<_> = plans.iter().map(|p| as_json(&setting, p, units)).collect();
        let body = json!({
            "title": recipe.title, "kitchen": kitchen.name, "parameters": set.name,
            "now": clock.now.datetime().to_string(), "zone": clock.zone().iana_name(),
            "ready_by": ready, "plans": all, "oven": oven_words(&fitted, best),
        });
        return out::json(&document("plan", body), to);
    }
    let mut text = String::new();
    let shown = if args.all { plans.len() } else { 1 };
    for p in &plans[..shown] {
        text += &timeline(&setting, p, ready, units);
    }
    for p in &plans[shown..] {
        let _ = writeln!(
            text,
            "\nAlso possible: {}, from {}. Show it with --all.",
            path_words(p.schedule.path, &setting),
            moment(&setting, p.schedule.begins())
        );
    }
    for line in oven_words(&fitted, best) {
        let _ = writeln!(text, "\n{}", table::wrapped(&line, 0, 0));
    }
    text += &closing(&best.trace, units);
    out::text(&text, to)
}

/// What this oven needs that the recipe did not say.
fn oven_words(fitted: &Fitted, plan: &Plan) -> Vec<String> {
    let mut out = Vec::new();
    let times: Vec<String> = fitted
        .changes
        .iter()
        .filter(|c| c.done)
        .map(|c| format!("{} {} (written {})", c.verb.name(), c.here.show(), c.written.show()))
        .collect();
    if !times.is_empty() {
        out.push(format!("For this oven: {}.", times.join(", ")));
    }
    if fitted.changes.iter().any(|c| !c.done) {
        out.push(
            "note: in this oven the bread is never done as the recipe asks; the bake keeps its written time. Look at it with grigne bake.".into(),
        );
    }
    if let Some(w) = fitted.waits.iter().rfind(|w| w.path == plan.schedule.path) {
        let tired = if w.overproofed { ", past its best: keep it in the fridge" } else { "" };
        out.push(format!(
            "{} loads. The last waits {} longer: risen {:.0} %, pH {}{tired}.",
            w.load,
            w.minutes.show(),
            w.rise.0,
            w.ph.show()
        ));
    }
    out
}

fn moment(setting: &Setting<'_>, minute: f64) -> String {
    let at = setting.calendar.local(minute as i64);
    format!("{} {}", day(at), time(at))
}

/// The spans in the order a person meets them; at one minute, the one that ends sooner first.
fn in_order(plan: &Plan) -> Vec<Span> {
    let mut spans = plan.schedule.spans.clone();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    spans
}

fn timeline(setting: &Setting<'_>, plan: &Plan, ready: f64, units: Units) -> String {
    const INDENT: usize = 7;
    let recipe = setting.recipe;
    let y = &recipe.yields;
    let n = setting.pieces();
    let mut text = format!("{}\n", table::bold(&recipe.title));
    let what = format!(
        "{} of {}, ready by {}, in {} · {}",
        y.shape.counted(n),
        y.piece.show(units),
        moment(setting, ready),
        setting.kitchen.name,
        path_words(plan.schedule.path, setting)
    );
    let _ = writeln!(text, "{}", table::dim(&table::wrapped(&what, 0, 0)));
    let mut last_day = String::new();
    for span in in_order(plan) {
        let at = setting.calendar.local(span.from as i64);
        let today = day(at);
        if today != last_day {
            let _ = writeln!(text, "\n{}", table::bold(&today));
            last_day = today;
        }
        let w = instruct(setting, span.step, &plan.trace, units);
        let step = &recipe.method.steps[span.step];
        let lasts = Minutes(span.to - span.from);
        let mut act = w.act;
        if step.hands_on.0 < lasts.0 && step.verb != Verb::Preheat {
            let _ = write!(act, ", {}", lasts.show());
        }
        let _ =
            writeln!(text, "{}  {}", table::bold(&time(at)), table::wrapped(&act, INDENT, INDENT));
        let mut more = Vec::new();
        if let Some((from, to)) = plan.slack_of(span.step).filter(|(a, b)| b - a >= 5.0) {
            let clock = |m: f64| time(setting.calendar.local(m as i64));
            more.push(format!("any time from {} to {}", clock(from), clock(to)));
        }
        if !w.look_for.is_empty() {
            more.push(w.look_for);
        }
        if let Some(s) = plan.trace.result_of(span.step).filter(|_| expects(step.verb)) {
            more.push(format!(
                "expect {}, risen {:.0} %, pH {}",
                s.mean.show(units),
                s.rise.0,
                s.ph.show()
            ));
        }
        if !more.is_empty() {
            let line = table::wrapped(&more.join(" · "), INDENT, INDENT);
            let _ = writeln!(text, "       {}", table::dim(&line));
        }
        if !w.note.is_empty() {
            let _ = writeln!(text, "       {}", table::wrapped(&w.note, INDENT, INDENT));
        }
    }
    let _ = writeln!(
        text,
        "{}  Bread.",
        table::bold(&time(setting.calendar.local(plan.schedule.ready() as i64)))
    );
    text
}

/// Steps whose end is worth a forecast.
fn expects(verb: Verb) -> bool {
    matches!(verb, Verb::Build | Verb::Mix | Verb::Bulk | Verb::Retard | Verb::WarmUp | Verb::Proof)
}

fn as_json(setting: &Setting<'_>, plan: &Plan, units: Units) -> serde_json::Value {
    let steps: Vec<_> = in_order(plan)
        .into_iter()
        .map(|span| {
            let w = instruct(setting, span.step, &plan.trace, units);
            let step = &setting.recipe.method.steps[span.step];
            let result = plan.trace.result_of(span.step);
            json!({
                "step": span.step + 1, "do": step.verb.name(), "what": step.what,
                "place": step.place.name(), "from": span.from, "to": span.to,
                "clock": setting.calendar.local(span.from as i64).to_string(),
                "hands_on": step.hands_on, "title": w.title, "act": w.act, "look_for": w.look_for, "note": w.note,
                "may_start": plan.slack_of(span.step).map(|(a, b)| [a, b]),
                "result": result,
            })
        })
        .collect();
    json!({
        "path": plan.schedule.path.words(), "cost": plan.cost, "steps": steps,
        "ready": plan.schedule.ready(), "slack": slack_json(&plan.slack), "trace": plan.trace,
        "notes": plan.trace.notes.iter().map(|n| n.tell(units)).collect::<Vec<_>>(),
    })
}

/// Nothing fits: which constraint to relax, and by how much.
fn nothing(setting: &Setting<'_>, ready: f64, remedies: &[Remedy], args: &PlanArgs) -> Failure {
    let units: Units = args.out.units.into();
    let mut message = format!(
        "no plan has {} ready by {} within your hours and the dough's windows",
        setting.recipe.title,
        moment(setting, ready)
    );
    if remedies.is_empty() {
        message += "; not even with every constraint softened";
        return Failure::wish(message, "ask for a later time, or widen the steps of the recipe");
    }
    let ways: Vec<String> = remedies.iter().map(|r| way_out(setting, r, units)).collect();
    let ways = match ways.as_slice() {
        [one] => one.clone(),
        many => format!("one of these would do:\n  {}", many.join("\n  ")),
    };
    Failure::wish(message, ways)
}

/// What has to give for a remedy, in the order it happens; moments without hands together.
fn way_out(setting: &Setting<'_>, r: &Remedy, units: Units) -> String {
    let mut breaches = r.breaches.clone();
    let when = |b: &Breach| match b {
        Breach::Late { .. } => f64::INFINITY,
        Breach::Hours { at, .. } | Breach::Window { at, .. } => *at,
    };
    breaches.sort_by(|a, b| when(a).total_cmp(&when(b)));
    let mut parts: Vec<String> = Vec::new();
    for why in [Blocked::Asleep, Blocked::Away, Blocked::Never] {
        let moments: Vec<String> = breaches
            .iter()
            .filter_map(|b| match b {
                Breach::Hours { step, at, why: w } if *w == why => {
                    Some(format!("{} {}", step_words(setting, *step), moment(setting, *at)))
                }
                _ => None,
            })
            .collect();
        if !moments.is_empty() {
            parts.push(format!("{}, though {why}", moments.join(", ")));
        }
    }
    parts.extend(breaches.iter().filter_map(|b| breach(setting, b, units)));
    format!("{} (start {})", parts.join("; and "), moment(setting, r.plan.schedule.begins()))
}

fn step_words(setting: &Setting<'_>, i: usize) -> String {
    let step = &setting.recipe.method.steps[i];
    match &step.what {
        Some(what) => format!("{} the {what}", step.verb.name()),
        None => step.verb.name().to_owned(),
    }
}

fn nothing_json(
    setting: &Setting<'_>,
    clock: &Clock,
    ready: f64,
    remedies: &[Remedy],
    args: &PlanArgs,
) -> serde_json::Value {
    let units: Units = args.out.units.into();
    let remedies: Vec<_> = remedies
        .iter()
        .map(|r| {
            json!({
                "words": way_out(setting, r, units),
                "breaches": r.breaches,
                "plan": as_json(setting, &r.plan, units),
            })
        })
        .collect();
    json!({
        "title": setting.recipe.title, "kitchen": setting.kitchen.name,
        "now": clock.now.datetime().to_string(), "zone": clock.zone().iana_name(),
        "ready_by": ready, "plans": [], "remedies": remedies,
    })
}

/// A breach other than of hours, in words.
fn breach(setting: &Setting<'_>, b: &Breach, units: Units) -> Option<String> {
    let thing = |i: usize| {
        let what = setting.recipe.method.steps[i].what.clone();
        what.unwrap_or_else(|| "dough".into())
    };
    match b {
        Breach::Hours { .. } => None,
        Breach::Late { by, ready } => {
            Some(format!("have it {} later, at {}", by.show(), moment(setting, *ready)))
        }
        Breach::Window { step, at, window, reached } => {
            let at = moment(setting, *at);
            let what = match window {
                Some(w @ Window::Rise(..)) => {
                    format!("at a rise of {:.0} % instead of {}", reached, &w.to_string()[5..])
                }
                Some(w @ Window::Acid(..)) => {
                    format!("at pH {} instead of {w}", Ph(*reached).show())
                }
                Some(Window::Core(a, b)) => format!(
                    "at {} inside instead of {} to {}",
                    Celsius(*reached).show(units),
                    a.show(units),
                    b.show(units)
                ),
                None => {
                    return Some(format!("use the {} at {at}, away from its peak", thing(*step)));
                }
            };
            Some(format!("end the {} at {at}, {what}", step_words(setting, *step)))
        }
    }
}
