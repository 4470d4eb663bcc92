//! `ferment`: the dough simulated up to the oven.

use crate::args::{FermentArgs, WayArgs};
use crate::fail::Failure;
use crate::when::Clock;
use crate::{csv, input, out, plot, table};
use document::clock::{time, weekday_time};
use document::ferment::{Ferment, ferment};
use engine::forecast::Forecast;
use engine::method::{Path, Window};
use engine::readiness::bulk_habit;
use engine::run::{Sample, Setting, Trace};
use quantity::{Celsius, Minutes, Percent, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &FermentArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let kitchen = input::kitchen(&args.recipe.batch)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let clock = Clock::new(&args.clock, &kitchen.zone)?;
    let start = args.way.start.as_deref().map_or(Ok(0.0), |t| clock.parse(t))?;
    let set = input::parameters(&args.clock)?;
    let setting =
        Setting::new(&recipe, &kitchen, set, flour, clock.calendar()).map_err(Failure::plain)?;
    let path = way(&args.way);
    let over_time = args.csv || args.svg || args.out.json;
    let answer = ferment(&setting, path, start, over_time)?;
    let Ferment { schedule, trace, slack, forecast: sure, mark } = &answer;
    let to = args.out.out.as_deref();
    let units: Units = args.out.units.into();
    if args.csv {
        return out::bytes(csv::csv(trace, sure, &setting).as_bytes(), to);
    }
    if args.svg {
        let svg = plot::trace(&setting, schedule, trace, slack, Some(sure), units);
        return out::bytes(svg.as_bytes(), to);
    }
    if args.out.json {
        return out::json(&answer.json(&setting, clock.zone().iana_name(), units), to);
    }
    let mut text = format!("{} in {}\n", table::bold(&recipe.title), kitchen.name);
    let _ = writeln!(text, "{}", table::dim(engine::plan::path_words(path, &setting)));
    text += &lines(&setting, trace, slack, units);
    text += &bands(&setting, sure, units);
    if let Some(mark) = mark {
        let (lo, hi) = bulk_habit(mark.dough);
        let _ = writeln!(
            text,
            "\n{}",
            table::wrapped(
                &format!(
                    "Before the fridge: bakers divide a dough of {} at a rise of {:.0} to {:.0} %; by the gas it still makes while cooling this one is ready at {:.0} %, about {}.",
                    mark.dough.show(units),
                    lo.0,
                    hi.0,
                    mark.rise.0,
                    time(setting.calendar.local(mark.minute as i64)),
                ),
                0,
                0
            )
        );
    }
    text += &closing(trace, units);
    out::text(&text, to)
}

/// How sure it is: the ends of steps over the kitchens this one may be.
pub(super) fn bands(setting: &Setting<'_>, sure: &Forecast, units: Units) -> String {
    let mut rows = Vec::new();
    for s in &sure.steps {
        let step = &setting.recipe.method.steps[s.step];
        if s.in_window.is_none() && s.by_cue.is_none() {
            continue;
        }
        let name = step.what.as_deref().map_or(String::new(), |w| format!("{w}: "));
        let rise = |x: f64| Percent(x.round()).show();
        let core = |x: f64| Celsius(x).show(units);
        rows.push(vec![
            format!("{name}{}", step.verb.name()).replace(' ', "\u{a0}"),
            from_to(&rise(s.rise.low), &rise(s.rise.high)),
            format!("{:.2} to {:.2}", s.ph.low, s.ph.high),
            from_to(&core(s.core.low), &core(s.core.high)),
            s.in_window.map_or(String::new(), |c| format!("{:.0} %", c.0)),
            format!("{:.0} %", s.past_best.0.max(0.0)),
            s.by_cue.map_or(String::new(), |b| {
                let at = |m: f64| time(setting.calendar.local(m as i64));
                format!("{}–{}", at(b.low), at(b.high))
            }),
        ]);
    }
    if rows.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{}\n", table::bold("how sure"));
    text += &table::table(
        &["", "rise", "pH", "core", "in window", "past best", "by the cue"],
        &[0],
        &rows,
    );
    let more = format!(
        "Eight in ten of {} kitchens like this one lie between the two numbers, at the times above. In window: chance that the result is good then. By the cue: when the step ends for a baker who waits for its cue, everything before it by the cue too.",
        sure.kitchens
    );
    let _ = writeln!(text, "\n{}", table::dim(&table::wrapped(&more, 0, 0)));
    text
}

/// From one shown value to another of the same unit, which stands once.
pub(super) fn from_to(low: &str, high: &str) -> String {
    let number = low.split_once('\u{a0}').map_or(low, |(number, _)| number);
    format!("{number} to {high}")
}

/// The way through the method that was asked for.
pub(super) fn way(way: &WayArgs) -> Path {
    Path { cold_bulk: way.cold_bulk, cold_proof: way.cold_proof }
}

/// What to know before trusting a forecast.
pub(super) fn closing(trace: &Trace, units: Units) -> String {
    let mut text = String::new();
    for n in &trace.notes {
        let _ = writeln!(text, "\nnote: {}.", table::wrapped(&n.tell(units), 6, 6));
    }
    let _ = writeln!(
        text,
        "\n{}",
        table::dim(&table::wrapped(
            "The lines are the kitchen as written, the bands what starter, room, fridge and flour may make of it. Starters differ by a third and more in speed: judge by the dough. docs/validation.md says how near the model comes.",
            0,
            0
        ))
    );
    text
}

fn lines(
    setting: &Setting<'_>,
    trace: &Trace,
    slack: &[(usize, f64, f64)],
    units: Units,
) -> String {
    let mut text = String::new();
    for line in &trace.lines {
        let _ = writeln!(text, "\n{}", table::bold(&line.name));
        let mut rows = Vec::new();
        for span in &line.spans {
            let step = &setting.recipe.method.steps[span.step];
            let end = line.samples.iter().rfind(|s| s.step == span.step);
            let window = slack.iter().find(|s| s.0 == span.step).map_or(String::new(), |s| {
                let at = |m: f64| time(setting.calendar.local(m as i64));
                format!("{}–{}", at(s.1), at(s.2))
            });
            let mut row = vec![
                weekday_time(setting.calendar.local(span.from as i64)),
                step.verb.name().replace(' ', "\u{a0}"),
                Minutes(span.to - span.from).show(),
                window,
            ];
            row.extend(end.map_or_else(|| vec![String::new(); 6], |s| state(s, step.good, units)));
            rows.push(row);
        }
        text += &table::table(
            &["", "step", "lasts", "may start", "core", "mean", "rise", "pH", "TTA", ""],
            &[0, 1, 9],
            &rows,
        );
    }
    let _ = writeln!(
        text,
        "\n{}",
        table::dim(&table::wrapped(
            "State at the end of each step; in, short of or past its window. Rise since mixing, then since shaping. TTA: mL of 0.1 mol/L NaOH for 10 g, to pH 8.5.",
            0,
            0
        ))
    );
    text
}

fn state(s: &Sample, good: Option<Window>, units: Units) -> Vec<String> {
    let miss = good.map(|w| match w {
        Window::Rise(..) => w.miss(s.rise.0),
        Window::Acid(..) => w.miss(s.ph.0),
        Window::Core(..) => w.miss(s.core.0),
    });
    let verdict = match miss {
        Some(m) if m < -1.0 => "short",
        Some(m) if m > 1.0 => "past",
        Some(_) => "in",
        None => "",
    };
    vec![
        s.core.show(units),
        s.mean.show(units),
        Percent(s.rise.0.round()).show(),
        s.ph.show(),
        s.tta.show(),
        verdict.to_owned(),
    ]
}
