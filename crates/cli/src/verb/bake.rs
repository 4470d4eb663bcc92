//! `bake`: the loaf in the oven, minute by minute.

use super::ferment::{from_to, way};
use crate::args::BakeArgs;
use crate::fail::Failure;
use crate::when::Clock;
use crate::{csv, input, out, plot, table};
use document::bake::{Bake, BakeAsked, bake};
use engine::bake::{BakeTrace, Programme};
use engine::caution::MANUALS;
use engine::crust::{colour_in_words, gloss_in_words};
use engine::forecast::LoafEnd;
use engine::hearth::{Door, Steam};
use engine::run::{Loads, Setting, Suggestion};
use quantity::{Celsius, Minutes, TempRise, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &BakeArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let kitchen = input::kitchen(&args.recipe.batch)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let clock = Clock::new(&args.clock, &kitchen.zone)?;
    let start = args.way.start.as_deref().map_or(Ok(0.0), |t| clock.parse(t))?;
    let set = input::parameters(&args.clock)?;
    let setting =
        Setting::new(&recipe, &kitchen, set, flour, clock.calendar()).map_err(Failure::plain)?;
    let over_time = args.csv || args.svg || args.out.json;
    let asked = BakeAsked { path: way(&args.way), start, suggest: args.suggest, over_time };
    let units: Units = args.out.units.into();
    let answer = bake(&setting, &asked, units)?;
    let Bake { loaded, programme, trace, suggestion, loads, oven_loads, .. } = &answer;
    let (remarks, mind, sure) = (&answer.notes, &answer.cautions, answer.forecast.as_ref());
    let to = args.out.out.as_deref();
    if args.csv {
        return out::bytes(minutes_csv(trace, sure).as_bytes(), to);
    }
    if args.svg {
        let stages = stages(programme, units);
        let mut sentence = verdict(trace, units);
        if let Some(s) = sure {
            sentence = format!("{sentence} {}", bands(s, units));
        }
        let picture = plot::bake::Picture {
            title: &recipe.title,
            sentence: &sentence,
            trace,
            stages: &stages,
            sure,
            hearth: loads.as_ref().map(|l| (&l.layout, l.width, l.depth)),
            units,
        };
        return out::bytes(plot::bake::draw(&picture).as_bytes(), to);
    }
    if args.out.json {
        return out::json(&answer.json(&setting, units), to);
    }
    let mut text = format!("{}\n", table::bold(&recipe.title));
    let from = loaded.loaf.profile.first().map_or(Celsius(0.0), |p| p.0);
    let head = format!(
        "{} of {}, loaded at {} inside, in {}",
        recipe.yields.shape.counted(setting.pieces()),
        loaded.loaf.mass.show(units),
        from.show(units),
        kitchen.name
    );
    let _ = writeln!(text, "{}\n", table::dim(&table::wrapped(&head, 0, 0)));
    for (minute, label) in stages(programme, units) {
        let _ = writeln!(text, "{minute:>4.0} min  {label}");
    }
    text.push('\n');
    text += &minutes(trace, units);
    let _ = writeln!(text, "\n{}", table::wrapped(&verdict(trace, units), 0, 0));
    if let Some(s) = suggestion {
        let _ = writeln!(text, "{}", table::wrapped(&traded(s, units), 0, 0));
    }
    if let Some(l) = loads {
        let _ = writeln!(text, "{}", table::wrapped(&loads_words(l), 0, 0));
        for row in l.layout.picture(l.width, l.depth) {
            let _ = writeln!(text, "  {}", table::dim(&row));
        }
        let size = format!("{} × {}, the door below", l.width.show(units), l.depth.show(units));
        let _ = writeln!(text, "  {}", table::dim(&size));
    }
    let later = oven_loads.iter().flat_map(|t| t.words(units)).collect::<Vec<_>>().join(" ");
    if !later.is_empty() {
        let _ = writeln!(text, "{}", table::wrapped(&later, 0, 0));
    }
    for n in remarks {
        let _ = writeln!(text, "note: {}.", table::wrapped(n, 6, 6));
    }
    if let Some(s) = sure {
        let _ = writeln!(text, "\n{}", table::wrapped(&bands(s, units), 0, 0));
    }
    let _ = writeln!(text, "\n{}", table::dim(&table::wrapped(NEAR, 0, 0)));
    for c in mind.iter().map(String::as_str).chain((!mind.is_empty()).then_some(MANUALS)) {
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(c, 0, 0)));
    }
    out::text(&text, to)
}

/// The loaf over the kitchens and ovens this one may be.
fn bands(s: &LoafEnd, units: Units) -> String {
    let c = |t: f64| Celsius(t).show(units);
    format!(
        "Eight in ten of kitchens like this one take it out with {} inside, {:.0} to {:.0} % lighter, L* {:.0} to {:.0}, a crust of {:.1} to {:.1} mm; in {:.0} % of them the core is done by then.",
        from_to(&c(s.core.low), &c(s.core.high)),
        s.loss.low,
        s.loss.high,
        s.lightness.low,
        s.lightness.high,
        s.crust_mm.low,
        s.crust_mm.high,
        s.done.0
    )
}

/// How near to take the figures.
const NEAR: &str = "Say ± 2 min for the core, ± 2 points for the loss, ± 10 for L*: ovens differ by more than doughs.";

/// Minute and words of each change of the oven.
fn stages(programme: &Programme, units: Units) -> Vec<(f64, String)> {
    let mut t = 0.0;
    let mut out: Vec<(f64, String)> = Vec::new();
    for s in &programme.stages {
        let mut words = s.set_point.map_or("off".to_owned(), |c| c.show(units));
        if s.steam != Steam::None {
            words += ", steam";
        }
        if s.lid {
            words += ", lid on";
        }
        words += match s.door {
            Door::Shut => "",
            Door::Opened => ", door opened",
            Door::Ajar => ", door ajar",
        };
        if s.vent {
            words += ", vent open";
        }
        if s.fan {
            words += ", fan";
        }
        if out.last().is_none_or(|(_, w)| *w != words) {
            out.push((t, words));
        }
        t += s.minutes.0;
    }
    out.push((t, "out".into()));
    out
}

fn minutes(trace: &BakeTrace, units: Units) -> String {
    let last = trace.minutes.len().saturating_sub(1);
    let every = if last > 40 { 5 } else { 2 };
    let rows: Vec<Vec<String>> = trace
        .minutes
        .iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0 || *i == last)
        .map(|(_, s)| {
            vec![
                format!("{:.0}", s.minute.0),
                s.oven_air.show(units),
                s.hearth_top.map_or(String::new(), |t| t.show(units)),
                s.core.show(units),
                s.top_surface.show(units),
                s.base_surface.show(units),
                s.loss.show(),
                format!("{:.1} mm", s.crust.0).replace(' ', "\u{a0}"),
                format!("{:.0}", s.lightness),
                colour_in_words(s.lightness).replace(' ', "\u{a0}"),
            ]
        })
        .collect();
    table::table(
        &["min", "oven", "hearth", "core", "top", "base", "loss", "crust", "L*", "colour"],
        &[9],
        &rows,
    )
}

fn verdict(trace: &BakeTrace, units: Units) -> String {
    let Some(end) = trace.minutes.last() else { return "Nothing was baked.".into() };
    let mut words = match (trace.done.core_target, trace.done.core) {
        (Some(target), Some(at)) => {
            format!("Core at {} after {:.0} min", target.show(units), at.0)
        }
        (Some(target), None) => format!("The core does not reach {}", target.show(units)),
        (None, _) => "No core temperature was asked for".into(),
    };
    let _ = write!(
        words,
        "; after {:.0} min the top is {} (L* {:.0}, uncalibrated) and {}, the crust about {:.0} mm, the loss {} and {} more while cooling.",
        end.minute.0,
        colour_in_words(end.lightness),
        end.lightness,
        gloss_in_words(end.gloss),
        end.crust.0,
        end.loss.show(),
        trace.cooling_loss.show()
    );
    words
}

fn traded(s: &Suggestion, units: Units) -> String {
    let (Some(was), Some(is)) = (s.written.minutes.last(), s.trace.minutes.last()) else {
        return String::new();
    };
    let moved = if s.moved == TempRise(0.0) {
        "the set points as written".to_owned()
    } else {
        format!("all set points {} cooler", s.moved.abs().show(units))
    };
    let mut text = format!(
        "Suggested: {moved}, out after {} instead of {}; the core is done at {:.0} min. {} instead of {}, loss {} instead of {}.",
        Minutes(is.minute.0).show(),
        Minutes(was.minute.0).show(),
        s.core.0,
        capital(colour_in_words(is.lightness)),
        colour_in_words(was.lightness),
        is.loss.show(),
        was.loss.show()
    );
    if s.too_dark {
        text +=
            " It browns before the core is done however low the oven: make it flatter or smaller.";
    }
    text
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}

fn loads_words(l: &Loads) -> String {
    let n = l.layout.places.len();
    match l.loads {
        Some(1) if l.pieces == 1 => "It fits the hearth.".into(),
        Some(1) => format!("All {} pieces fit the hearth in one load.", l.pieces),
        Some(loads) => {
            format!("{n} fit the hearth at once: {loads} loads for {} pieces.", l.pieces)
        }
        None => "Not one piece fits the hearth.".into(),
    }
}

fn minutes_csv(trace: &BakeTrace, sure: Option<&LoafEnd>) -> String {
    const BANDS: [(&str, usize); 5] = [
        ("core_deg_c", 2),
        ("loss_percent", 3),
        ("crust_mm", 2),
        ("lightness", 2),
        ("base_lightness", 2),
    ];
    let mut text = String::from(
        "minute,oven_deg_c,wall_deg_c,hearth_deg_c,core_deg_c,mean_deg_c,top_deg_c,base_deg_c,loss_percent,dry_zone_mm,crust_mm,lightness,base_lightness,browning,gloss,starch",
    );
    text += &csv::band_heads(&BANDS);
    text += "\r\n";
    for s in &trace.minutes {
        let hearth = s.hearth_top.map_or(String::new(), |t| format!("{:.2}", t.0));
        let _ = write!(
            text,
            "{},{:.2},{:.2},{hearth},{:.2},{:.2},{:.2},{:.2},{:.3},{:.2},{:.2},{:.2},{:.2},{:.2},{:.3},{:.4}",
            s.minute.0,
            s.oven_air.0,
            s.wall.0,
            s.core.0,
            s.mean.0,
            s.top_surface.0,
            s.base_surface.0,
            s.loss.0,
            s.dry_zone.0,
            s.crust.0,
            s.lightness,
            s.base_lightness,
            s.browning,
            s.gloss,
            s.starch
        );
        let at = sure.and_then(|l| l.at(s.minute.0));
        let at = at.map(|p| [p.core, p.loss, p.crust_mm, p.lightness, p.base_lightness]);
        text += &csv::bands(&BANDS, at);
        text += "\r\n";
    }
    text
}
