//! A run as a picture: the ribbon of the doughs along the clock, and below it, on the same
//! clock, warmth, rise and acidity. One SVG that stands alone, light and dark, without scripts.

pub(crate) mod bake;
mod clock;
mod panel;
mod ribbon;
pub(crate) mod several;
mod svg;
pub(crate) mod travel;

use clock::Clock;
use engine::forecast::{Band, Forecast, Point};
use engine::hours::Blocked;
use engine::method::{Step, Window};
use engine::plan::path_words;
use engine::run::{Line, Sample, Schedule, Setting, Span, Trace};
use panel::{Curve, Fringe, Ground, Panel, Pieces};
use quantity::{Celsius, Units};
use svg::{esc, n, put, rect, text, wide};

/// Width of the picture, px.
const WIDTH: f64 = 1100.0;
/// Where the clock begins and ends, px.
const FIELD: (f64, f64) = (84.0, 1040.0);

/// What all parts of the picture share.
struct Scene<'a> {
    setting: &'a Setting<'a>,
    schedule: &'a Schedule,
    trace: &'a Trace,
    slack: &'a [(usize, f64, f64)],
    sure: Option<&'a Forecast>,
    units: Units,
    clock: Clock<'a>,
    /// Of the picture.
    id: String,
    /// Of this run within it; the same where there is one.
    own: String,
    /// How much less thick than usual the ribbons are, as a part.
    shrink: f64,
}

impl Scene<'_> {
    fn step(&self, i: usize) -> Option<&Step> {
        self.setting.recipe.method.steps.get(i)
    }
    fn degrees(&self, c: Celsius) -> f64 {
        match self.units {
            Units::Metric => c.0,
            Units::Us => c.fahrenheit(),
        }
    }
    /// Stretches of work, px.
    fn works(&self) -> Vec<(f64, f64)> {
        let work = |s: &Span| {
            let work = self.step(s.step)?.hands_on.0;
            let until = self.clock.x(s.from + work);
            (work > 0.0 && s.from.is_finite()).then(|| (self.clock.x(s.from), until))
        };
        self.schedule.spans.iter().filter_map(work).collect()
    }
    /// No thicker than there is room for.
    fn fitting(self) -> Self {
        Self { shrink: ribbon::shrink(&self), ..self }
    }
}

/// Draws a run: `slack` is how early and late steps may start (step, elapsed minutes), as a
/// plan knows it; empty when unknown. `sure` gives each dough its band.
pub(crate) fn trace(
    setting: &Setting<'_>,
    schedule: &Schedule,
    trace: &Trace,
    slack: &[(usize, f64, f64)],
    sure: Option<&Forecast>,
    units: Units,
) -> String {
    let finite = |pick: fn(&Span) -> f64| {
        schedule.spans.iter().map(pick).filter(|t| t.is_finite()).collect::<Vec<f64>>()
    };
    let begins = finite(|s| s.from).into_iter().reduce(f64::min).unwrap_or(0.0);
    let ready = finite(|s| s.to).into_iter().reduce(f64::max).unwrap_or(begins + 60.0);
    let clock = Clock::new(&setting.calendar, begins, ready, FIELD.0, FIELD.1);
    let id =
        name_of(&format!("{}|{}|{begins}|{ready}", setting.recipe.title, setting.kitchen.name));
    let own = id.clone();
    let scene = Scene { setting, schedule, trace, slack, sure, units, clock, id, own, shrink: 1.0 }
        .fitting();

    let mut head = String::new();
    let mut y = 38.0;
    for row in wrap(&setting.recipe.title, 20.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "head", "", &row);
        y += 24.0;
    }
    let sentence = sentence(&scene, ready);
    for row in wrap(&sentence, 14.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "lead", "", &row);
        y += 20.0;
    }

    let mut body = String::new();
    let mut extent = ribbon::draw(&scene, &mut body, y + 4.0);
    extent.bottom = ribbon::preheat(&scene, &mut body, extent.bottom);
    let mut marks = String::new();
    let first_axis = panel::clock(
        &scene.clock,
        &mut marks,
        extent.bottom + 4.0,
        (extent.ground, extent.bottom + 4.0),
    );
    let mut y = first_axis + 14.0;
    let fields = y;
    for p in [warmth(&scene), rise(&scene), acidity(&scene)].iter().flatten() {
        y = panel::draw(&scene.clock, &mut body, p, y) + 22.0;
    }
    let mut height = first_axis;
    let mut ground_end = extent.bottom + 4.0;
    if y > fields {
        ground_end = y - 14.0;
        height = panel::clock(&scene.clock, &mut marks, ground_end, (fields + 14.0, ground_end));
    }
    height += 10.0;

    let mut ground = String::new();
    grounds(&[&scene], &mut ground, &mut body, &[(extent.ground, ground_end)], extent.hands);

    let words = format!("{sentence} {}", table(&scene));
    let mut defs = String::new();
    ribbon::patterns(&mut defs, &scene.id);
    sheet(&scene.id, &setting.recipe.title, &words, height, &defs, &[ground, marks, head, body])
}

/// A whole picture: its title, what it says as words, its patterns, its parts from the back.
fn sheet(id: &str, title: &str, words: &str, height: f64, defs: &str, parts: &[String]) -> String {
    let mut out = String::new();
    put!(
        out,
        r#"<svg xmlns="http://www.w3.org/2000/svg" id="{id}" viewBox="0 0 {} {}" width="{}" height="{}" role="img" aria-labelledby="{id}-t {id}-x" font-family="'Atkinson Hyperlegible Next','Atkinson Hyperlegible',system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans',sans-serif">"#,
        n(WIDTH),
        n(height),
        n(WIDTH),
        n(height),
    );
    out.push('\n');
    put!(out, r#"<title id="{id}-t">{}</title>"#, esc(title));
    out.push('\n');
    put!(out, r#"<desc id="{id}-x">{}</desc>"#, esc(words));
    out.push('\n');
    out.push_str(&svg::style(id));
    if !defs.is_empty() {
        put!(out, "<defs>\n{defs}</defs>\n");
    }
    rect(&mut out, 0.0, 0.0, WIDTH, height, r#"class="paper""#);
    for part in parts {
        out.push_str(part);
    }
    out.push_str("</svg>\n");
    out
}

/// A name of its own for every picture, so that several stand on one page.
fn name_of(text: &str) -> String {
    // FNV-1a
    let hash = text
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3));
    format!("g{:08x}", hash & 0xffff_ffff)
}

/// What the picture shows.
fn sentence(scene: &Scene<'_>, ready: f64) -> String {
    let s = scene.setting;
    let way = if s.recipe.method.paths().len() > 1 {
        format!(", {}", path_words(scene.schedule.path, s))
    } else {
        String::new()
    };
    if scene.schedule.spans.is_empty() {
        return format!("{}: nothing is planned yet.", s.kitchen.name);
    }
    let brackets = if scene.slack.is_empty() {
        ""
    } else {
        "; brackets show how early or late a step may start"
    };
    let sure = scene.sure.filter(|f| !f.curve.is_empty()).map_or(String::new(), |f| {
        format!(
            " Lines are this kitchen as written; pale bands and the pale fringe of the ribbon \
             hold eight in ten of {} kitchens like it, whose baker keeps these times.",
            f.kitchens
        )
    });
    format!(
        "{}{way}: ready {} at {}. The ribbon is as thick as the dough is large and \
         coloured by its temperature, dark when cold{brackets}.{sure}",
        s.kitchen.name,
        scene.clock.day(ready),
        scene.clock.time(ready)
    )
}

/// The same as words: when each step begins, and how the dough then is.
fn table(scene: &Scene<'_>) -> String {
    let mut spans: Vec<Span> =
        scene.schedule.spans.iter().copied().filter(|s| s.from.is_finite()).collect();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    let mut out = String::new();
    for span in spans {
        let Some(step) = scene.step(span.step) else { continue };
        let clock = &scene.clock;
        put!(out, "{} {} {}", clock.day(span.from), clock.time(span.from), step.verb.name());
        if let Some(what) = &step.what {
            put!(out, " {what}");
        }
        let end = scene
            .trace
            .lines
            .iter()
            .filter(|l| l.spans.contains(&span))
            .find_map(|l| l.samples.iter().rev().find(|s| s.step == span.step));
        if let Some(end) = end.filter(|e| [e.mean.0, e.rise.0, e.ph.0].into_iter().all(svg::sane)) {
            put!(
                out,
                ", at its end {}, grown {:.0} %, pH {:.2}",
                end.mean.show(scene.units),
                end.rise.0,
                end.ph.0
            );
            let band = scene.sure.and_then(|f| f.of(span.step));
            let whole = |b: &Band| svg::sane(b.low) && svg::sane(b.high);
            if let Some(b) = band.filter(|b| whole(&b.rise) && whole(&b.ph)) {
                put!(
                    out,
                    " (eight in ten: {:.0} to {:.0} %, pH {:.2} to {:.2})",
                    b.rise.low,
                    b.rise.high,
                    b.ph.low,
                    b.ph.high
                );
            }
        }
        out.push_str("; ");
    }
    out
}

/// Breaks a text into rows no wider than `width`.
fn wrap(words: &str, size: f64, width: f64) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    // a word no row can hold is cut
    let longest = ((width / size) as usize).max(8);
    let words = words.split_whitespace().flat_map(|w| {
        let letters: Vec<char> = w.chars().collect();
        letters.chunks(longest).map(|c| c.iter().collect::<String>()).collect::<Vec<_>>()
    });
    for word in words {
        match rows.last_mut() {
            Some(row) if wide(row, size) + wide(&word, size) + size * 0.4 < width => {
                row.push(' ');
                row.push_str(&word);
            }
            _ => rows.push(word),
        }
    }
    rows
}

/// Night darker, hours away hatched, behind the strips of the page that show a dough; in the row
/// of the hands it says why. All scenes have one clock and kitchen.
fn grounds(
    scenes: &[&Scene<'_>],
    ground: &mut String,
    words: &mut String,
    strips: &[(f64, f64)],
    row: f64,
) {
    let Some(scene) = scenes.first() else { return };
    let works: Vec<(f64, f64)> = scenes.iter().flat_map(|s| s.works()).collect();
    for (from, to, why) in scene.clock.blocked(&scene.setting.kitchen.hours) {
        let (a, b) = (scene.clock.x(from), scene.clock.x(to));
        let (word, fill) = match why {
            Blocked::Asleep => ("asleep", r#"class="night""#.to_owned()),
            Blocked::Away => ("away", format!(r#"fill="url(#{}-away)""#, scene.id)),
            Blocked::Busy => ("busy", format!(r#"fill="url(#{}-away)""#, scene.id)),
            Blocked::Never => ("not then", format!(r#"fill="url(#{}-away)""#, scene.id)),
        };
        for (top, bottom) in strips {
            rect(ground, a, *top, b - a, bottom - top, &fill);
        }
        // where no work lies, the middle first
        let half = wide(word, 12.0) / 2.0 + 4.0;
        let free = |x: f64| {
            let (l, r) = (x - half, x + half);
            l >= a - 3.0 && r <= b + 3.0 && works.iter().all(|w| w.1 < l || w.0 > r)
        };
        let spot =
            [0.5, 0.35, 0.65, 0.2, 0.8].map(|f| a + (b - a) * f).into_iter().find(|x| free(*x));
        if let Some(x) = spot {
            let class = if why == Blocked::Asleep { "soft" } else { "soft halo" };
            text(words, x, row, class, ribbon::MIDDLE, word);
        }
    }
}

/// A measure of one dough over time, broken where handling makes it jump by more than `jump`.
fn pieces(l: &Line, value: impl Fn(&Sample) -> f64, jump: f64) -> Pieces {
    let mut out: Pieces = Vec::new();
    let mut last: Option<(f64, f64)> = None;
    for s in &l.samples {
        let v = value(s);
        if !(s.minute.is_finite() && v.is_finite()) {
            continue;
        }
        let broken = last.is_none_or(|(t, old)| s.minute - t < 0.01 && (v - old).abs() > jump);
        if broken {
            out.push(Vec::new());
        }
        if let Some(piece) = out.last_mut() {
            piece.push((s.minute, v));
        }
        last = Some((s.minute, v));
    }
    out
}

/// Strokes of the preferments, in turn.
const OTHERS: [(&str, &str, &str); 3] = [("a", "ta", "fa"), ("b", "tb", "fb"), ("c", "tc", "fc")];

/// One curve a dough.
fn curves(scene: &Scene<'_>, value: impl Fn(&Sample) -> f64, jump: f64) -> Vec<Curve> {
    let lines = &scene.trace.lines;
    lines
        .iter()
        .enumerate()
        .map(|(i, l)| {
            let (class, name_class) = if i + 1 == lines.len() {
                ("dough", "tdough")
            } else {
                let (class, name_class, _) = OTHERS[i % OTHERS.len()];
                (class, name_class)
            };
            Curve {
                pieces: pieces(l, &value, jump),
                class,
                name_class,
                name: ribbon::short(&l.name),
            }
        })
        .filter(|c| !c.pieces.is_empty())
        .collect()
}

/// The band of one measure of a dough, broken where it is handled.
fn fringe(
    scene: &Scene<'_>,
    line: usize,
    value: impl Fn(&Point) -> Band,
    class: &'static str,
) -> Fringe {
    let mut pieces: Vec<Vec<(f64, f64, f64)>> = Vec::new();
    let mut step = None;
    for p in scene.sure.iter().flat_map(|f| &f.curve).filter(|p| p.line == line) {
        if step != Some(p.step) {
            pieces.push(Vec::new());
            step = Some(p.step);
        }
        let b = value(p);
        if let Some(piece) = pieces.last_mut() {
            piece.push((p.minute, b.low, b.high));
        }
    }
    Fringe { pieces, class, named: line + 1 == scene.trace.lines.len() }
}

/// The band of one measure of every dough.
fn fringes(scene: &Scene<'_>, value: impl Fn(&Point) -> Band) -> Vec<Fringe> {
    let lines = scene.trace.lines.len();
    let class = |i: usize| if i + 1 == lines { "fdough" } else { OTHERS[i % OTHERS.len()].2 };
    (0..lines).map(|i| fringe(scene, i, &value, class(i))).collect()
}

/// Windows that `pick` reads, each around the end of its step: as wide as the step's end has
/// room, where that is known.
fn windows(scene: &Scene<'_>, pick: impl Fn(Window) -> Option<(f64, f64)>) -> Vec<Ground> {
    let mut out = Vec::new();
    for l in &scene.trace.lines {
        for (k, span) in l.spans.iter().enumerate() {
            let step = scene.step(span.step).filter(|s| !s.verb.in_oven());
            let Some((low, high)) = step.and_then(|s| s.good).and_then(&pick) else { continue };
            let next = l.spans.get(k + 1).map(|s| s.step);
            let room = scene.slack.iter().find(|s| Some(s.0) == next);
            // from when the step might have ended; how late, the bracket above says
            let early = room.map_or(span.to, |s| s.1.max(span.from));
            // never narrower than the eye needs
            let least = (scene.clock.to - scene.clock.from) * 0.012;
            out.push(Ground { from: early.min(span.to - least), to: span.to + least, low, high });
        }
    }
    out
}

fn warmth(scene: &Scene<'_>) -> Option<Panel> {
    let deg = |c: Celsius| scene.degrees(c);
    let mut all = curves(scene, |s| deg(s.mean), 0.4);
    let dough = scene.trace.lines.last()?;
    if let Some(c) = all.last_mut().filter(|c| c.class == "dough") {
        c.pieces = pieces(dough, |s| deg(s.core), 0.4);
        "core".clone_into(&mut c.name);
        let extra = |pieces, class, name_class, name: &str| Curve {
            pieces,
            class,
            name_class,
            name: name.to_owned(),
        };
        let at = all.len() - 1;
        all.insert(at, extra(pieces(dough, |s| deg(s.mean), 0.4), "mean", "tdough", "mean"));
        all.insert(0, extra(pieces(dough, |s| deg(s.air), f64::INFINITY), "air", "soft", "air"));
    }
    let title = match scene.units {
        Units::Metric => "Temperature, °C: dough at its core and on average, air around it",
        Units::Us => "Temperature, °F: dough at its core and on average, air around it",
    };
    let grounds = windows(scene, |w| match w {
        Window::Core(a, b) => Some((deg(a), deg(b))),
        _ => None,
    });
    let least = (deg(Celsius(15.0)), deg(Celsius(25.0)));
    // the dough's line is its core, a preferment's its mean
    let last = scene.trace.lines.len() - 1;
    let bands = fringes(scene, |p| {
        let b = if p.line == last { p.core } else { p.mean };
        Band { low: deg(Celsius(b.low)), mid: deg(Celsius(b.mid)), high: deg(Celsius(b.high)) }
    });
    (!all.is_empty()).then_some(Panel { title, height: 150.0, curves: all, bands, grounds, least })
}

fn rise(scene: &Scene<'_>) -> Option<Panel> {
    let all = curves(scene, |s| s.rise.0, 0.5);
    let grounds = windows(scene, |w| match w {
        Window::Rise(a, b) => Some((a.0, b.0)),
        _ => None,
    });
    // a dough that cools shrinks a little: no reason for half an axis below nothing
    let level = |b: Band| {
        let level = |x: f64| if x > -5.0 { x.max(0.0) } else { x };
        Band { low: level(b.low), mid: level(b.mid), high: level(b.high) }
    };
    let title =
        "Rise, %, since mixing, then since shaping; the framed ground is where a step should end";
    (!all.is_empty()).then_some(Panel {
        title,
        height: 150.0,
        curves: all,
        bands: fringes(scene, |p| level(p.rise)),
        grounds,
        least: (0.0, 40.0),
    })
}

fn acidity(scene: &Scene<'_>) -> Option<Panel> {
    let all = curves(scene, |s| s.ph.0, 0.02);
    let grounds = windows(scene, |w| match w {
        Window::Acid(a, b) => Some((a.0, b.0)),
        _ => None,
    });
    let title = "Acidity, pH: lower is sourer";
    (!all.is_empty()).then_some(Panel {
        title,
        height: 110.0,
        curves: all,
        bands: fringes(scene, |p| p.ph),
        grounds,
        least: (4.0, 5.5),
    })
}

#[cfg(test)]
mod tests;
