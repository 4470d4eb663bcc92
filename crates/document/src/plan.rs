//! `plan`: timelines for one bread, or for several in one kitchen.

mod several;

pub use several::{Table, Together, early, plan_together, together};

use crate::bake::oven_loads_json;
use crate::clock::{day, moment, time};
use crate::ferment::{notes as trace_notes, slack_json};
use crate::{Problem, document, fits_the_oven};
use engine::caution::{Caution, cautions};
use engine::file::{nearest, write_recipe};
use engine::fit::{Fitted, Order, OvenLoads, Way, can, notes, plan_in_oven};
use engine::hours::{Blocked, Calendar};
use engine::method::{Verb, Window};
use engine::plan::{
    Breach, Happened, Nothing, Outcome, Plan, PlanError, Remedy, Request, Weights, plan_each, why,
};
use engine::progress::Part;
use engine::run::{Setting, Span};
use engine::words::instruct;
use quantity::{Celsius, Minutes, Ph, Units};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Plans for one bread: the recipe for this oven, and what was found. With `as_written` preheat,
/// bake and cooling times are the recipe's.
///
/// # Errors
/// [`Problem`] when no plan can even be sought.
pub fn seek(
    order: &Order<'_>,
    request: &Request,
    happened: Option<&Happened>,
    as_written: bool,
    part: Part<'_>,
) -> Result<(Fitted, Outcome), Problem> {
    let written = order.setting(order.recipe).map_err(Problem::plain)?;
    if !as_written {
        can_bake(&written)?;
    }
    let sought = if as_written {
        let paths = order.recipe.method.paths();
        let ways: Vec<_> = paths.into_iter().map(|path| (path, &written)).collect();
        plan_each(&ways, request, None, part)
            .map(|outcome| (Fitted::as_written(order.recipe), outcome))
    } else {
        plan_in_oven(order, request, happened, part)
    };
    sought.map_err(|e| refused(&e, &order.calendar))
}

/// Refuses a recipe that cannot be baked here by every way.
///
/// # Errors
/// [`Problem`] saying what cannot be.
pub fn can_bake(written: &Setting<'_>) -> Result<(), Problem> {
    written.recipe.method.paths().iter().try_for_each(|path| fits_the_oven(written, *path))
}

/// Gives something in a plan's cost another weight.
///
/// # Errors
/// [`Problem`] when nothing is called so, or the number is no weight.
pub fn weigh(weights: &mut Weights, name: &str, number: &str) -> Result<(), Problem> {
    let weight = number.parse::<f64>().ok().filter(|x| (0.0..=1000.0).contains(x));
    let Some(place) = weights.named(name) else {
        let near = nearest(name, Weights::NAMES.iter().copied())
            .map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
        return Err(Problem::wish(
            format!("nothing is called \"{name}\" in a plan's cost"),
            format!("{near}choose from {}", Weights::NAMES.join(", ")),
        ));
    };
    *place = weight.ok_or_else(|| {
        Problem::wish(
            format!("\"{number}\" is no weight for {name}"),
            "write a number from 0 to 1000",
        )
    })?;
    Ok(())
}

/// Why no plan could be sought, with what would help.
pub(crate) fn refused(e: &PlanError, calendar: &Calendar) -> Problem {
    let now = calendar.start;
    let hint = match e {
        PlanError::NoHours => {
            "widen awake, home or never under [hours] in the kitchen file".to_owned()
        }
        PlanError::Lack(lack) => lack.hint().to_owned(),
        PlanError::Pins { .. } => "leave out one of the two pins, or move it".to_owned(),
        PlanError::Odd(_) => {
            "mend the half-done bake: list each step when it was begun, and what was read off"
                .to_owned()
        }
        _ => format!("now is {} {}", day(now), time(now)),
    };
    Problem::wish(e.to_string(), hint)
}

/// One way through the method as this oven needs it.
#[derive(Debug, Clone)]
pub struct Here<'a> {
    /// The recipe for it.
    pub way: &'a Way,
    /// In the kitchen.
    pub setting: Setting<'a>,
}

/// All of them.
#[derive(Debug, Clone)]
pub struct Ways<'a>(Vec<Here<'a>>);

impl<'a> Ways<'a> {
    /// Of a fitted recipe.
    ///
    /// # Errors
    /// [`Problem`] when something cannot be mixed.
    pub fn new(order: &'a Order<'a>, fitted: &'a Fitted) -> Result<Self, Problem> {
        let here = fitted.ways.iter().map(|way| {
            let setting = order.setting(&way.recipe).map_err(Problem::plain)?;
            Ok(Here { way, setting })
        });
        Ok(Self(here.collect::<Result<_, Problem>>()?))
    }

    /// The way a plan goes.
    ///
    /// # Errors
    /// [`Problem`] for a plan of another recipe.
    pub fn of(&self, plan: &Plan) -> Result<&Here<'a>, Problem> {
        self.0.get(plan.way).ok_or_else(|| Problem::plain("a plan of no way through the method"))
    }

    fn first(&self) -> Option<&Here<'a>> {
        self.0.first()
    }
}

/// What the oven makes of a plan.
#[derive(Debug, Clone)]
pub struct InOven {
    /// What it needs that the recipe did not say, and what comes of it.
    pub words: Vec<String>,
    /// Cautions at the steps they belong to.
    pub cautions: Vec<(usize, String)>,
    /// Load after load.
    pub oven_loads: Option<OvenLoads>,
}

impl InOven {
    /// Cautions at a step.
    pub fn at(&self, step: usize) -> impl Iterator<Item = String> + '_ {
        self.cautions.iter().filter(move |c| c.0 == step).map(|c| c.1.clone())
    }
}

impl Here<'_> {
    /// What this oven makes of a plan.
    ///
    /// # Errors
    /// [`Problem`] when something cannot be mixed.
    pub fn oven(&self, plan: &Plan, units: Units) -> Result<InOven, Problem> {
        let setting = &self.setting;
        let path = plan.schedule.path;
        let oven_loads = self.way.oven_loads(setting, &plan.schedule).map_err(Problem::plain)?;
        let first = oven_loads.as_ref().and_then(|t| t.all.first());
        let mut words = changes_words(self.way);
        let loads = oven_loads.iter().flat_map(|t| t.words(units)).collect::<Vec<_>>().join(" ");
        if !loads.is_empty() {
            words.push(loads);
            if self.way.put_in.is_empty() {
                words.push("note: the steps as written are those of one load.".into());
            }
        }
        for t in oven_loads.iter().flat_map(|t| &t.all).filter(|t| t.done.is_none()) {
            let core = t.end.map_or(t.core, |e| e.core);
            words.push(format!(
                "note: load {} is not done as the recipe asks after {}: its core is at {}. Look at it in the oven alone.",
                t.load,
                t.bake.show(),
                core.show(units)
            ));
        }
        let bake = first.map_or(Minutes(0.0), |t| t.bake);
        words.extend(notes(setting, path, bake, units).iter().map(|n| format!("note: {n}.")));
        if let Err(c) = can(setting, path) {
            words.push(format!("note: {c}: {}.", c.hint()));
        }
        let lightness = first.and_then(|t| t.end).map(|e| e.lightness);
        let steps = &setting.recipe.method.steps;
        let order = in_order(plan);
        let cautions = cautions(setting, path, lightness)
            .into_iter()
            .filter_map(|c| {
                // a dark crust comes last; without a preheat its cautions come with the load
                let mut spans = order.iter().filter(|s| steps[s.step].verb == c.at());
                let at = if c == Caution::DarkCrust { spans.next_back() } else { spans.next() };
                let load = || order.iter().find(|s| steps[s.step].verb == Verb::Load);
                Some((at.or_else(load)?.step, c.words(units)))
            })
            .collect();
        Ok(InOven { words, cautions, oven_loads })
    }
}

/// What this oven needs that the recipe did not say.
pub fn changes_words(way: &Way) -> Vec<String> {
    let times: Vec<String> = way
        .changes
        .iter()
        .filter(|c| c.done)
        .map(|c| format!("{} {} (written {})", c.verb.name(), c.here.show(), c.written.show()))
        .collect();
    if times.is_empty() {
        Vec::new()
    } else {
        vec![format!("For this oven: {}.", times.join(", "))]
    }
}

/// The spans in the order a person meets them; at one minute, the one that ends sooner first.
pub fn in_order(plan: &Plan) -> Vec<Span> {
    let mut spans = plan.schedule.spans.clone();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    spans
}

/// What a document of plans holds besides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Telling<'z> {
    /// Name of the calendar's zone.
    pub zone: Option<&'z str>,
    /// Units of its sentences.
    pub units: Units,
    /// With each plan the recipe it was planned with, as a file.
    pub recipes: bool,
}

/// The document of one bread.
///
/// # Errors
/// [`Problem`] when something cannot be mixed.
pub fn json(
    order: &Order<'_>,
    request: &Request,
    ways: &Ways<'_>,
    outcome: &Outcome,
    telling: Telling<'_>,
) -> Result<Value, Problem> {
    let ready = request.ready;
    let plans = match outcome {
        Outcome::Plans(plans) => plans,
        Outcome::Nothing(none) => {
            return Ok(document("plan", nothing_json(ways, ready, none, telling)?));
        }
    };
    let Some(best) = plans.first() else { return Err(none_found()) };
    let all: Vec<Value> =
        plans.iter().map(|p| as_json(ways, p, plans, telling)).collect::<Result<_, Problem>>()?;
    let oven = ways.of(best)?.oven(best, telling.units)?;
    let body = json!({
        "title": order.recipe.title, "kitchen": order.kitchen.name,
        "parameters": order.set.name, "now": order.calendar.start.to_string(),
        "zone": telling.zone, "ready_by": ready, "plans": all, "oven": oven.words,
    });
    Ok(document("plan", body))
}

/// A search that gave neither plans nor reasons.
pub fn none_found() -> Problem {
    Problem::plain("no plan was found")
}

fn as_json(
    ways: &Ways<'_>,
    plan: &Plan,
    all: &[Plan],
    telling: Telling<'_>,
) -> Result<Value, Problem> {
    let units = telling.units;
    let here = ways.of(plan)?;
    let setting = &here.setting;
    let oven = here.oven(plan, units)?;
    let steps = steps_json(setting, plan, &oven, units);
    let mut out = json!({
        "path": plan.schedule.path.words(), "aims": plan.aims.iter().map(|a| a.name()).collect::<Vec<_>>(),
        "why": why(plan, all, setting), "picked": here.way.pick, "cost": plan.cost, "burden": plan.burden, "forecast": plan.forecast, "steps": steps,
        "ready": plan.schedule.ready(), "slack": slack_json(&plan.slack), "trace": plan.trace,
        "notes": trace_notes(&plan.trace, units),
        "oven": oven.words, "oven_loads": oven.oven_loads.as_ref().map(|t| oven_loads_json(t, units)),
    });
    if let (true, Some(fields)) = (telling.recipes, out.as_object_mut()) {
        fields.insert("recipe".into(), json!(write_recipe(&here.way.recipe)));
    }
    Ok(out)
}

fn steps_json(setting: &Setting<'_>, plan: &Plan, oven: &InOven, units: Units) -> Vec<Value> {
    in_order(plan)
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
                "result": result, "cautions": oven.at(span.step).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// Nothing fits: which constraint to relax, and by how much.
pub fn nothing(
    ways: &Ways<'_>,
    setting: &Setting<'_>,
    ready: f64,
    none: &Nothing,
    units: Units,
) -> Problem {
    let mut message = format!(
        "no plan has {} ready by {} within your hours and the dough's windows",
        setting.recipe.title,
        moment(&setting.calendar, ready)
    );
    let remedies = &none.remedies;
    if let [one] = none.conflict.as_slice() {
        let _ = write!(message, ": {} cannot be kept", one.name());
    } else if !none.conflict.is_empty() {
        let _ = write!(message, ": {} cannot all be kept", conflict_words(none));
    }
    if remedies.is_empty() {
        message += "; not even with every constraint softened";
        return Problem::wish(message, "ask for a later time, or widen the steps of the recipe");
    }
    let told: Vec<String> = remedies
        .iter()
        .filter_map(|r| Some(way_out(&ways.of(&r.plan).ok()?.setting, r, units)))
        .collect();
    let ways = match told.as_slice() {
        [one] => one.clone(),
        many => format!("one of these would do:\n  {}", many.join("\n  ")),
    };
    Problem::wish(message, ways)
}

/// What cannot be kept together.
fn conflict_words(none: &Nothing) -> String {
    let names: Vec<&str> = none.conflict.iter().map(|c| c.name()).collect();
    match names.as_slice() {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.concat(),
    }
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
    for why in [Blocked::Asleep, Blocked::Away, Blocked::Busy, Blocked::Never] {
        let moments: Vec<String> = breaches
            .iter()
            .filter_map(|b| match b {
                Breach::Hours { step, at, why: w } if *w == why => Some(format!(
                    "{} {}",
                    setting.recipe.method.steps[*step].words(),
                    moment(&setting.calendar, *at)
                )),
                _ => None,
            })
            .collect();
        if !moments.is_empty() {
            parts.push(format!("{}, though {why}", moments.join(", ")));
        }
    }
    parts.extend(breaches.iter().filter_map(|b| breach(setting, b, units)));
    if parts.is_empty() {
        // a pin breaks no rule of dough or baker
        parts.push("leave the pinned moments free".into());
    }
    format!(
        "{} (start {})",
        parts.join("; and "),
        moment(&setting.calendar, r.plan.schedule.begins())
    )
}

fn nothing_json(
    ways: &Ways<'_>,
    ready: f64,
    none: &Nothing,
    telling: Telling<'_>,
) -> Result<Value, Problem> {
    let remedies: Vec<_> = none
        .remedies
        .iter()
        .map(|r| {
            Ok(json!({
                "words": way_out(&ways.of(&r.plan)?.setting, r, telling.units),
                "breaches": r.breaches,
                "plan": as_json(ways, &r.plan, &[], telling)?,
            }))
        })
        .collect::<Result<_, Problem>>()?;
    let any = ways.first().ok_or_else(|| Problem::plain("no way through the method"))?;
    Ok(json!({
        "title": any.setting.recipe.title, "kitchen": any.setting.kitchen.name,
        "now": any.setting.calendar.start.to_string(), "zone": telling.zone,
        "ready_by": ready, "plans": [], "conflict": none.conflict.iter().map(|c| c.name()).collect::<Vec<_>>(),
        "remedies": remedies,
    }))
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
            Some(format!("have it {} later, at {}", by.show(), moment(&setting.calendar, *ready)))
        }
        Breach::Window { step, at, window, reached } => {
            let at = moment(&setting.calendar, *at);
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
            Some(format!("end the {} at {at}, {what}", setting.recipe.method.steps[*step].words()))
        }
    }
}
