//! `plan`: a timeline a person can follow at the bench.

mod several;

use super::bake::{fits_the_oven, oven_loads_json};
use super::document;
use super::ferment::{bands, closing, from_to, slack_json};
use crate::args::PlanArgs;
use crate::fail::Failure;
use crate::progress::Progress;
use crate::when::{Clock, day, time};
use crate::{csv, ics, input, out, plot, table};
use engine::caution::{Caution, MANUALS, cautions};
use engine::file::nearest;
use engine::fit::{Fitted, Order, OvenLoads, Way, can, notes, plan_in_oven};
use engine::hours::Blocked;
use engine::method::{Verb, Window};
use engine::plan::{
    Breach, Nothing, Outcome, Pin, Plan, PlanError, Remedy, Request, Weights, path_words,
    plan_each, why,
};
use engine::progress::Part;
use engine::recipe::Recipe;
use engine::run::{Setting, Span};
use engine::words::instruct;
use quantity::{Celsius, Minutes, Percent, Ph, Units};
use serde_json::json;
use std::fmt::Write as _;
use std::sync::Mutex;

pub(crate) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let kitchen = input::kitchen(&args.batch)?;
    let clock = Clock::new(&args.clock, &kitchen.zone)?;
    let set = input::parameters(&args.clock)?;
    let ([file], [ready]) = (args.recipes.as_slice(), args.ready.as_slice()) else {
        return several::run(args, &kitchen, &clock, set);
    };
    let recipe = input::recipe(file)?;
    let flour = input::total_flour(&args.batch, &recipe, &kitchen)?;
    let ready = clock.parse(ready)?;
    let calendar = clock.calendar();
    let order = Order { recipe: &recipe, kitchen: &kitchen, set, total_flour: flour, calendar };
    let written = order.setting(&recipe).map_err(Failure::plain)?;
    let paths = recipe.method.paths();
    if !args.as_written {
        for path in &paths {
            fits_the_oven(&written, *path)?;
        }
    }
    let request = request(args, &recipe, &clock, ready, None)?;
    let happened = match &args.from {
        Some(file) => Some(input::half_done(file, &recipe, &clock)?),
        None => None,
    };
    let sought = watched(|part| {
        if args.as_written {
            let ways: Vec<_> = paths.iter().map(|path| (*path, &written)).collect();
            let outcome = plan_each(&ways, &request, None, part)?;
            Ok((Fitted::as_written(&recipe), outcome))
        } else {
            plan_in_oven(&order, &request, happened.as_ref(), part)
        }
    });
    let (fitted, outcome) = sought.map_err(|e| refused(&e, &clock))?;
    let mut ways: Vec<Here<'_>> = Vec::new();
    for way in &fitted.ways {
        ways.push(Here { way, setting: order.setting(&way.recipe).map_err(Failure::plain)? });
    }
    let ways = Ways(ways);
    let units: Units = args.out.units.into();
    let plans = match outcome {
        Outcome::Plans(plans) => plans,
        Outcome::Nothing(none) => {
            if args.out.json {
                let body = nothing_json(&ways, &clock, ready, &none, args)?;
                out::json(&document("plan", body), args.out.out.as_deref())?;
            }
            return Err(nothing(&ways, &written, ready, &none, args));
        }
    };
    let Some(best) = plans.first() else {
        return Err(Failure::plain("no plan was found"));
    };
    let to = args.out.out.as_deref();
    let here = ways.of(best)?;
    let setting = &here.setting;
    if args.csv {
        return out::bytes(csv::csv(&best.trace, &best.forecast, setting).as_bytes(), to);
    }
    if args.svg {
        let (trace, slack, sure) = (&best.trace, &best.slack, Some(&best.forecast));
        let svg = plot::trace(setting, &best.schedule, trace, slack, sure, units);
        return out::bytes(svg.as_bytes(), to);
    }
    let oven = here.oven(best, units)?;
    if args.ics {
        let text = |i: usize| noted(setting, best, &oven, i, units);
        let entry = ics::Entry { setting, plan: best, text: &text };
        let calendar = ics::calendar(&[entry], clock.zone(), clock.timestamp());
        return out::bytes(calendar.as_bytes(), to);
    }
    if args.out.json {
        let all: Vec<_> = plans
            .iter()
            .map(|p| as_json(&ways, p, &plans, units))
            .collect::<Result<_, Failure>>()?;
        let body = json!({
            "title": recipe.title, "kitchen": kitchen.name, "parameters": set.name,
            "now": clock.now.datetime().to_string(), "zone": clock.zone().iana_name(),
            "ready_by": ready, "plans": all, "oven": oven.words,
        });
        return out::json(&document("plan", body), to);
    }
    let mut text = String::new();
    let shown = if args.all { plans.len() } else { 1 };
    for (k, p) in plans[..shown].iter().enumerate() {
        let here = ways.of(p)?;
        let oven = here.oven(p, units)?;
        if k > 0 {
            text.push('\n');
        }
        text += &timeline(&here.setting, p, &oven, ready, units);
        let _ = writeln!(text, "\n{}", table::bold(&aims(p)));
        let _ = writeln!(text, "{}", table::wrapped(&why(p, &plans, &here.setting), 0, 0));
        let picked = here.way.pick.words(&recipe, units);
        if !picked.is_empty() {
            let line = format!("Chosen of what the recipe leaves open: {}.", picked.join("; "));
            let _ = writeln!(text, "{}", table::wrapped(&line, 0, 0));
        }
        text += &bands(&here.setting, &p.forecast, units);
        for line in &oven.words {
            let _ = writeln!(text, "\n{}", table::wrapped(line, 0, 0));
        }
    }
    for p in &plans[shown..] {
        let here = ways.of(p)?;
        let line = format!(
            "Or {}: {}, from {}. {} Show it with --all.",
            aims(p),
            path_words(p.schedule.path, &here.setting),
            moment(&here.setting, p.schedule.begins()),
            why(p, &plans, &here.setting),
        );
        let _ = writeln!(text, "\n{}", table::wrapped(&line, 0, 0));
    }
    text += &closing(&best.trace, units);
    let _ = writeln!(text, "{}", table::dim(&table::wrapped(MANUALS, 0, 0)));
    out::text(&text, to)
}

/// A search with a line that says how far it is.
fn watched<T>(search: impl FnOnce(Part<'_>) -> T) -> T {
    let progress = Mutex::new(Progress::new("looking for a plan"));
    let tell = |share| {
        if let Ok(mut p) = progress.lock() {
            p.at(share);
        }
    };
    search(Part::whole(&tell))
}

/// A step in a calendar: what it is, and what is told of it.
fn noted(
    setting: &Setting<'_>,
    plan: &Plan,
    oven: &InOven,
    step: usize,
    units: Units,
) -> (String, String) {
    let w = instruct(setting, step, &plan.trace, units);
    let mut more = vec![w.act, w.look_for, w.note];
    more.extend(oven.at(step));
    more.retain(|s| !s.is_empty());
    (w.title, more.join("\n"))
}

/// What is asked, from the arguments; of several breads, of the one in this place of so many.
fn request(
    args: &PlanArgs,
    recipe: &Recipe,
    clock: &Clock,
    ready: f64,
    place: Option<(usize, usize)>,
) -> Result<Request, Failure> {
    let mut request = Request::by(ready);
    request.early = several::early(args, place.map_or(1, |p| p.1));
    for (step, at) in &args.pins {
        let step = match place {
            Some((bread, of)) => match several::pinned(step, of)? {
                (b, step) if b == bread => step,
                _ => continue,
            },
            None => step.as_str(),
        };
        let step = recipe
            .method
            .step_named(step)
            .map_err(|e| Failure::wish(format!("--pin: {e}"), e.hint()))?;
        request.pins.push(Pin { step, at: clock.parse(at)? });
    }
    for (name, number) in &args.weights {
        let weight = number.parse::<f64>().ok().filter(|x| (0.0..=1000.0).contains(x));
        let Some(place) = request.weights.named(name) else {
            let near = nearest(name, Weights::NAMES.iter().copied())
                .map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
            return Err(Failure::wish(
                format!("--weigh: nothing is called \"{name}\" in a plan's cost"),
                format!("{near}choose from {}", Weights::NAMES.join(", ")),
            ));
        };
        *place = weight.ok_or_else(|| {
            Failure::wish(
                format!("--weigh: \"{number}\" is no weight for {name}"),
                "write a number from 0 to 1000",
            )
        })?;
    }
    Ok(request)
}

/// Why no plan could be sought, with what would help.
fn refused(e: &PlanError, clock: &Clock) -> Failure {
    let now = clock.now.datetime();
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
    Failure::wish(e.to_string(), hint)
}

/// What a plan is best at, in words.
fn aims(plan: &Plan) -> String {
    let names: Vec<&str> = plan.aims.iter().map(|a| a.name()).collect();
    names.join(" and ")
}

/// One way through the method as this oven needs it.
struct Here<'a> {
    way: &'a Way,
    setting: Setting<'a>,
}

/// All of them.
struct Ways<'a>(Vec<Here<'a>>);

impl<'a> Ways<'a> {
    fn of(&self, plan: &Plan) -> Result<&Here<'a>, Failure> {
        self.0.get(plan.way).ok_or_else(|| Failure::plain("a plan of no way through the method"))
    }
}

/// What the oven makes of a plan.
struct InOven {
    /// What it needs that the recipe did not say, and what comes of it.
    words: Vec<String>,
    /// Cautions at the steps they belong to.
    cautions: Vec<(usize, String)>,
    oven_loads: Option<OvenLoads>,
}

impl InOven {
    /// Cautions at a step.
    fn at(&self, step: usize) -> impl Iterator<Item = String> + '_ {
        self.cautions.iter().filter(move |c| c.0 == step).map(|c| c.1.clone())
    }
}

impl Here<'_> {
    fn oven(&self, plan: &Plan, units: Units) -> Result<InOven, Failure> {
        let setting = &self.setting;
        let path = plan.schedule.path;
        let oven_loads = self.way.oven_loads(setting, &plan.schedule).map_err(Failure::plain)?;
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
                "note: load {} is not done as the recipe asks after {}: its core is at {}. Look at it with grigne bake.",
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
fn changes_words(way: &Way) -> Vec<String> {
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

fn timeline(setting: &Setting<'_>, plan: &Plan, oven: &InOven, ready: f64, units: Units) -> String {
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
    let spans = in_order(plan);
    let moments = spans.iter().map(|s| (s.from, told(setting, plan, oven, s, "", units)));
    let bread = (plan.schedule.ready(), said(setting, plan.schedule.ready(), "Bread."));
    text + &days(setting, moments.chain([bread]))
}

/// What is told of several moments, under the days they fall on; in order.
fn days(setting: &Setting<'_>, moments: impl Iterator<Item = (f64, String)>) -> String {
    let (mut text, mut last_day) = (String::new(), String::new());
    for (at, told) in moments {
        let today = day(setting.calendar.local(at as i64));
        if today != last_day {
            let _ = writeln!(text, "\n{}", table::bold(&today));
            last_day = today;
        }
        text += &told;
    }
    text
}

/// One line at a moment.
fn said(setting: &Setting<'_>, at: f64, words: &str) -> String {
    let clock = time(setting.calendar.local(at as i64));
    format!("{}  {}\n", table::bold(&clock), table::wrapped(words, INDENT, INDENT))
}

/// Columns the clock takes up.
const INDENT: usize = 7;

/// A step: what to do, when it may be, what to look for and expect. `of` names the bread where
/// there are several.
fn told(
    setting: &Setting<'_>,
    plan: &Plan,
    oven: &InOven,
    span: &Span,
    of: &str,
    units: Units,
) -> String {
    let at = setting.calendar.local(span.from as i64);
    let w = instruct(setting, span.step, &plan.trace, units);
    let step = &setting.recipe.method.steps[span.step];
    if span.to <= 0.0 {
        return format!("{}\n", table::dim(&format!("{}  {of}{}, done", time(at), w.title)));
    }
    let lasts = Minutes(span.to - span.from);
    let mut act = format!("{of}{}", w.act);
    if step.hands_on.0 < lasts.0 && step.verb != Verb::Preheat {
        let _ = write!(act, ", {}", lasts.show());
    }
    let mut text = said(setting, span.from, &act);
    let mut more = Vec::new();
    if let Some((from, to)) = plan.slack_of(span.step).filter(|(a, b)| b - a >= 5.0) {
        let clock = |m: f64| time(setting.calendar.local(m as i64));
        more.push(format!("any time from {} to {}", clock(from), clock(to)));
    }
    if !w.look_for.is_empty() {
        more.push(w.look_for);
    }
    if let Some(s) = plan.trace.result_of(span.step).filter(|_| expects(step.verb)) {
        let band = plan.forecast.of(span.step);
        more.push(format!(
            "expect {}, risen {:.0} %{}, pH {}",
            s.mean.show(units),
            s.rise.0,
            band.map_or(String::new(), |b| {
                let at = |x: f64| Percent(x.round()).show();
                format!(" ({})", from_to(&at(b.rise.low), &at(b.rise.high)))
            }),
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
    for caution in oven.at(span.step) {
        let line = table::wrapped(&caution, INDENT, INDENT);
        let _ = writeln!(text, "       {}", table::dim(&line));
    }
    text
}

/// Steps whose end is worth a forecast.
fn expects(verb: Verb) -> bool {
    matches!(verb, Verb::Build | Verb::Mix | Verb::Bulk | Verb::Retard | Verb::WarmUp | Verb::Proof)
}

fn as_json(
    ways: &Ways<'_>,
    plan: &Plan,
    all: &[Plan],
    units: Units,
) -> Result<serde_json::Value, Failure> {
    let here = ways.of(plan)?;
    let setting = &here.setting;
    let oven = here.oven(plan, units)?;
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
                "result": result, "cautions": oven.at(span.step).collect::<Vec<_>>(),
            })
        })
        .collect();
    Ok(json!({
        "path": plan.schedule.path.words(), "aims": plan.aims.iter().map(|a| a.name()).collect::<Vec<_>>(),
        "why": why(plan, all, setting), "picked": here.way.pick, "cost": plan.cost, "burden": plan.burden, "forecast": plan.forecast, "steps": steps,
        "ready": plan.schedule.ready(), "slack": slack_json(&plan.slack), "trace": plan.trace,
        "notes": plan.trace.notes.iter().map(|n| n.tell(units)).collect::<Vec<_>>(),
        "oven": oven.words, "oven_loads": oven.oven_loads.as_ref().map(|t| oven_loads_json(t, units)),
    }))
}

/// Nothing fits: which constraint to relax, and by how much.
fn nothing(
    ways: &Ways<'_>,
    setting: &Setting<'_>,
    ready: f64,
    none: &Nothing,
    args: &PlanArgs,
) -> Failure {
    let units: Units = args.out.units.into();
    let mut message = format!(
        "no plan has {} ready by {} within your hours and the dough's windows",
        setting.recipe.title,
        moment(setting, ready)
    );
    let remedies = &none.remedies;
    if let [one] = none.conflict.as_slice() {
        let _ = write!(message, ": {} cannot be kept", one.name());
    } else if !none.conflict.is_empty() {
        let _ = write!(message, ": {} cannot all be kept", conflict_words(none));
    }
    if remedies.is_empty() {
        message += "; not even with every constraint softened";
        return Failure::wish(message, "ask for a later time, or widen the steps of the recipe");
    }
    let told: Vec<String> = remedies
        .iter()
        .filter_map(|r| Some(way_out(&ways.of(&r.plan).ok()?.setting, r, units)))
        .collect();
    let ways = match told.as_slice() {
        [one] => one.clone(),
        many => format!("one of these would do:\n  {}", many.join("\n  ")),
    };
    Failure::wish(message, ways)
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
                    moment(setting, *at)
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
    format!("{} (start {})", parts.join("; and "), moment(setting, r.plan.schedule.begins()))
}

fn nothing_json(
    ways: &Ways<'_>,
    clock: &Clock,
    ready: f64,
    none: &Nothing,
    args: &PlanArgs,
) -> Result<serde_json::Value, Failure> {
    let units: Units = args.out.units.into();
    let remedies: Vec<_> = none
        .remedies
        .iter()
        .map(|r| {
            Ok(json!({
                "words": way_out(&ways.of(&r.plan)?.setting, r, units),
                "breaches": r.breaches,
                "plan": as_json(ways, &r.plan, &[], units)?,
            }))
        })
        .collect::<Result<_, Failure>>()?;
    let any = ways.0.first().ok_or_else(|| Failure::plain("no way through the method"))?;
    Ok(json!({
        "title": any.setting.recipe.title, "kitchen": any.setting.kitchen.name,
        "now": clock.now.datetime().to_string(), "zone": clock.zone().iana_name(),
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
            Some(format!("end the {} at {at}, {what}", setting.recipe.method.steps[*step].words()))
        }
    }
}
