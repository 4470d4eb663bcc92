//! `plan`: a timeline a person can follow at the bench.

mod several;

use super::ferment::{bands, closing, from_to};
use crate::args::PlanArgs;
use crate::fail::Failure;
use crate::progress::Progress;
use crate::when::Clock;
use crate::{csv, ics, input, out, plot, table};
use document::clock::{day, time};
use document::plan::{InOven, Telling, Ways, in_order, none_found, nothing, seek, weigh};
use engine::caution::MANUALS;
use engine::fit::Order;
use engine::method::Verb;
use engine::plan::{Outcome, Pin, Plan, Request, path_words, why};
use engine::progress::Part;
use engine::recipe::Recipe;
use engine::run::{Setting, Span};
use engine::words::instruct;
use quantity::{Minutes, Percent, Units};
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
    let request = request(args, &recipe, &clock, ready, None)?;
    let happened = match &args.from {
        Some(file) => Some(input::half_done(file, &recipe, &clock)?),
        None => None,
    };
    let (fitted, outcome) =
        watched(|part| seek(&order, &request, happened.as_ref(), args.as_written, part))?;
    let ways = Ways::new(&order, &fitted)?;
    let units: Units = args.out.units.into();
    let to = args.out.out.as_deref();
    let told = || {
        let telling = Telling { zone: clock.zone().iana_name(), units, recipes: false };
        document::plan::json(&order, &request, &ways, &outcome, telling)
    };
    let plans = match &outcome {
        Outcome::Plans(plans) => plans,
        Outcome::Nothing(none) => {
            if args.out.json {
                out::json(&told()?, to)?;
            }
            return Err(nothing(&ways, &written, ready, none, units).into());
        }
    };
    let Some(best) = plans.first() else {
        return Err(none_found().into());
    };
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
        let entry = ics::Entry { setting, plan: best, text: &text, moved: None };
        let calendar = ics::calendar(&[entry], clock.zone(), clock.timestamp());
        return out::bytes(calendar.as_bytes(), to);
    }
    if args.out.json {
        return out::json(&told()?, to);
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
        let _ = writeln!(text, "{}", table::wrapped(&why(p, plans, &here.setting), 0, 0));
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
            why(p, plans, &here.setting),
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
        weigh(&mut request.weights, name, number).map_err(|e| e.of("--weigh"))?;
    }
    Ok(request)
}

/// What a plan is best at, in words.
fn aims(plan: &Plan) -> String {
    let names: Vec<&str> = plan.aims.iter().map(|a| a.name()).collect();
    names.join(" and ")
}

fn moment(setting: &Setting<'_>, minute: f64) -> String {
    document::clock::moment(&setting.calendar, minute)
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
