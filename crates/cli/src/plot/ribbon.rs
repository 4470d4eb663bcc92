//! The ribbon: every dough along the clock, as thick as it is large, coloured by its warmth;
//! preferments flow into the dough, the dough into the oven.

use super::Scene;
use super::panel::EIGHT_IN_TEN;
use super::svg::{colour, line, n, path, put, rect, sane, text, thin, wide};
use engine::method::{Place, Step, Verb};
use engine::run::{Line, Sample, Span};
use quantity::Celsius;

/// Thickness at mixing, px.
const DOUGH: f64 = 38.0;
/// The same for a preferment.
const PREFERMENT: f64 = 11.0;
/// Of what is not simulated: flour and water at rest, soaking seeds.
const PLAIN: f64 = 9.0;
/// No ribbon is thicker, px: beyond, all shrink together.
const THICKEST: f64 = 104.0;
/// Slant of the step names: cosine and sine of 48°.
const SLANT: (f64, f64) = (0.669_131, 0.743_145);
/// Least distance between two step names along the page, px.
const APART: f64 = 17.0;
/// Size of the step names, px.
const NAME: f64 = 11.5;

/// A ribbon at a moment.
#[derive(Debug, Clone, Copy)]
struct Knot {
    x: f64,
    centre: f64,
    half: f64,
    /// As `half`, of the 10 and 90 % of kitchens; the same without.
    fringe: (f64, f64),
    celsius: f64,
}

impl Knot {
    /// From the middle to where nothing more is drawn.
    fn outer(&self) -> f64 {
        self.half.max(self.fringe.1)
    }
}

/// A ribbon beside the dough's.
struct Side {
    name: String,
    knots: Vec<Knot>,
    /// Not simulated: drawn plain.
    plain: bool,
    /// Part of the dough it becomes.
    share: f64,
    steps: Vec<Span>,
}

/// No name is longer, characters.
const LONGEST: usize = 26;

/// A name short enough to stand in a picture.
pub(super) fn short(name: &str) -> String {
    if name.chars().count() <= LONGEST {
        return name.to_owned();
    }
    name.chars().take(LONGEST - 1).chain(['…']).collect()
}

/// Where the ribbon left its rows.
pub(super) struct Extent {
    /// Top of the ground.
    pub(super) ground: f64,
    /// Base line of the hands.
    pub(super) hands: f64,
    /// End.
    pub(super) bottom: f64,
}

/// Draws ribbon, step names, brackets and hands from `top` down.
pub(super) fn draw(scene: &Scene<'_>, out: &mut String, top: f64) -> Extent {
    let clock = &scene.clock;
    let dough = scene.trace.lines.last();
    let last = scene.trace.lines.len().saturating_sub(1);
    let main = scene.setting.recipe.method.main_line(scene.schedule.path);
    let mix = main
        .iter()
        .find(|&&i| scene.step(i).is_some_and(|s| s.verb == Verb::Mix))
        .and_then(|&i| scene.schedule.of(i))
        .map_or(f64::NAN, |s| s.from);
    let shrink = scene.shrink;
    let mut dough_knots: Vec<Knot> =
        dough.map(|_| knots(scene, last, DOUGH * shrink)).unwrap_or_default();
    let mut sides = sides(scene, mix, shrink, !dough_knots.is_empty());

    // rows: step names, brackets, then ribbons around one middle
    let names = names(scene);
    let tall = names.iter().map(|l| wide(&l.text, NAME)).fold(60.0, f64::max) * SLANT.1;
    let anchor = top + tall + 4.0;
    let ground = anchor + 4.0;
    let elbow = anchor + 24.0;
    let brackets = brackets(scene);
    let rows = brackets.iter().map(|b| b.3 + 1).max().unwrap_or(0);
    let ribbons = elbow + 8.0 + rows as f64 * 9.0 + 4.0;
    let thickest = dough_knots.iter().map(Knot::outer).fold(DOUGH * shrink / 2.0, f64::max) * 2.0;
    let heights: Vec<f64> = sides
        .iter()
        .map(|s| s.knots.iter().map(Knot::outer).fold(2.0, f64::max) * 2.0 + 22.0)
        .collect();
    let beside: f64 = heights.iter().sum();
    let middle = ribbons + thickest.max(beside) / 2.0;
    let mut temps = middle + (thickest / 2.0).max(beside / 2.0) + 15.0;
    for k in &mut dough_knots {
        k.centre = middle;
    }
    place_sides(&mut sides, &heights, middle, clock.x(mix), dough_knots.first().copied());

    // leaders and ticks lie behind
    for label in &names {
        let y = side_of(&sides, label.step)
            .and_then(|s| s.knots.first().map(|_| s))
            .map_or_else(|| at(&dough_knots, label.x), |s| at(&s.knots, label.x))
            .map_or(middle, |k| k.centre - k.outer() - 4.0);
        let elbow = elbow.min(y);
        let d = path(&[(label.shown, anchor), (label.x, elbow), (label.x, y)]);
        put!(out, r#"<path d="{d}" class="lead-line"/>"#);
        out.push('\n');
    }
    for (i, side) in sides.iter().enumerate() {
        ribbon(out, &format!("{}-s{i}", scene.own), &side.knots, side.plain);
    }
    ribbon(out, &format!("{}-d", scene.own), &dough_knots, false);
    split(scene, out, dough, &dough_knots);
    oven(scene, out, dough_knots.last().copied(), middle, &main);
    for (side, span) in sides.iter().flat_map(|s| s.steps.iter().map(move |p| (s, p))) {
        tick(out, &side.knots, clock.x(span.from));
    }
    for span in dough.iter().flat_map(|l| &l.spans) {
        if scene.step(span.step).is_some_and(|s| !s.verb.in_oven()) {
            tick(out, &dough_knots, clock.x(span.from));
        }
    }
    for (from, to, at, row) in &brackets {
        let y = ribbons - 4.0 - *row as f64 * 9.0;
        let d = path(&[(*from, y + 4.0), (*from, y), (*to, y), (*to, y + 4.0)]);
        put!(out, r#"<path d="{d}" class="slack"/>"#);
        put!(out, r#"<circle cx="{}" cy="{}" r="2.2" class="slackdot"/>"#, n(*at), n(y));
        out.push('\n');
    }
    for label in &names {
        let turn = format!(r#" transform="rotate(-48 {} {})""#, n(label.shown), n(anchor));
        let class = if label.idle { "idle" } else { "step" };
        text(out, label.shown + 2.0, anchor, class, &turn, &label.text);
    }
    side_texts(scene, out, &sides);
    if call_fringe(scene, out, dough, &dough_knots) {
        temps += 12.0;
    }
    temperatures(scene, out, dough, temps);
    places(scene, out, dough, &dough_knots);

    let hands = temps + 27.0;
    text(out, clock.left - 8.0, hands, "soft", END, "hands");
    work(scene, out, hands);
    Extent { ground, hands, bottom: hands + 9.0 }
}

/// Marks the moments that need hands, above a base line.
pub(super) fn work(scene: &Scene<'_>, out: &mut String, hands: f64) {
    for (a, b) in scene.works() {
        rect(out, a, hands - 9.0, (b - a).max(1.6), 10.0, r#"class="hands""#);
    }
}

/// Ends a text here instead of beginning it.
pub(super) const END: &str = r#" text-anchor="end""#;
/// Sets a text around its place.
pub(super) const MIDDLE: &str = r#" text-anchor="middle""#;

/// How much less thick the ribbons have to be, as a part.
pub(super) fn shrink(scene: &Scene<'_>) -> f64 {
    let mut most = 1.0_f64;
    for (i, l) in scene.trace.lines.iter().enumerate() {
        let unit = if i + 1 == scene.trace.lines.len() { DOUGH } else { PREFERMENT * 1.6 };
        let wide = scene.sure.iter().flat_map(|f| &f.curve).filter(|p| p.line == i);
        let all = l.samples.iter().map(|s| s.volume).chain(wide.map(|p| p.volume.high));
        for v in all {
            most = most.max(volume(v) * unit / THICKEST);
        }
    }
    1.0 / most
}

fn volume(v: f64) -> f64 {
    if v.is_finite() { v.clamp(0.05, 20.0) } else { 1.0 }
}

fn knots(scene: &Scene<'_>, line: usize, unit: f64) -> Vec<Knot> {
    let samples = scene.trace.lines.get(line).into_iter().flat_map(|l| &l.samples);
    let half = |v: f64| volume(v) * unit / 2.0;
    samples
        .filter(|s| s.minute.is_finite() && scene.clock.holds(s.minute))
        .map(|s| {
            let band = scene.sure.and_then(|f| f.at(line, s.step, s.minute)).map(|p| p.volume);
            Knot {
                x: scene.clock.x(s.minute),
                centre: 0.0,
                half: half(s.volume),
                fringe: band
                    .map_or((half(s.volume), half(s.volume)), |b| (half(b.low), half(b.high))),
                celsius: s.mean.0,
            }
        })
        .collect()
}

/// The ribbon at a place, straight between knots; its first or last one outside.
fn at(knots: &[Knot], x: f64) -> Option<Knot> {
    let next = knots.iter().position(|k| k.x >= x);
    match next {
        Some(0) => knots.first().copied(),
        None => knots.last().copied(),
        Some(i) => {
            let (a, b) = (knots[i - 1], knots[i]);
            let f = if b.x - a.x > 1e-9 { (x - a.x) / (b.x - a.x) } else { 1.0 };
            let mix = |p: f64, q: f64| p + (q - p) * f;
            Some(Knot {
                x,
                centre: mix(a.centre, b.centre),
                half: mix(a.half, b.half),
                fringe: (mix(a.fringe.0, b.fringe.0), mix(a.fringe.1, b.fringe.1)),
                celsius: mix(a.celsius, b.celsius),
            })
        }
    }
}

/// Preferments, soakers, and flour and water at rest before mixing.
fn sides(scene: &Scene<'_>, mix: f64, shrink: f64, mixed: bool) -> Vec<Side> {
    let clock = &scene.clock;
    let method = &scene.setting.recipe.method;
    let whole = scene.setting.sheet.dough().0;
    let share =
        |g: f64| if whole > 0.0 && g.is_finite() { (g / whole).clamp(0.0, 1.0) } else { 0.0 };
    let before = scene.trace.lines.len().saturating_sub(1);
    let mut out = Vec::new();
    for (i, l) in scene.trace.lines.iter().take(before).enumerate() {
        let knots = knots(scene, i, PREFERMENT * shrink);
        let mass = scene.setting.sheet.preferments.get(i).map_or(0.0, |p| p.contents.total().0);
        out.push(Side {
            name: l.name.clone(),
            knots,
            plain: false,
            share: share(mass),
            steps: l.spans.clone(),
        });
    }
    let mut plain = |name: String, spans: Vec<Span>, share: f64| {
        let ends = |f: fn(f64, f64) -> f64, pick: fn(&Span) -> f64| {
            spans.iter().map(pick).filter(|t| t.is_finite()).reduce(f)
        };
        if let (Some(from), Some(to)) = (ends(f64::min, |s| s.from), ends(f64::max, |s| s.to)) {
            let half = PLAIN / 2.0;
            let knot = |t: f64| Knot {
                x: clock.x(t),
                centre: 0.0,
                half,
                fringe: (half, half),
                celsius: 20.0,
            };
            let knots = vec![knot(from), knot(to)];
            out.push(Side { name, knots, plain: true, share, steps: spans });
        }
    };
    for (i, soaker) in scene.setting.recipe.formula.soakers.iter().enumerate() {
        let spans: Vec<Span> =
            method.side_line(&soaker.name).iter().filter_map(|&i| scene.schedule.of(i)).collect();
        let mass = scene.setting.sheet.soakers.get(i).map_or(0.0, |s| s.contents.total().0);
        plain(soaker.name.clone(), spans, share(mass));
    }
    let early: Vec<Span> = method
        .main_line(scene.schedule.path)
        .iter()
        .take_while(|&&i| scene.step(i).is_some_and(|s| s.verb != Verb::Mix))
        .filter_map(|&i| scene.schedule.of(i))
        .collect();
    if mixed && mix.is_finite() {
        plain(
            "flour and water".to_owned(),
            early,
            share(scene.setting.sheet.final_dough.total().0),
        );
    }
    out
}

/// Puts the side ribbons above one another around the middle and lets them flow into the dough.
fn place_sides(sides: &mut [Side], heights: &[f64], middle: f64, mix_x: f64, dough: Option<Knot>) {
    let all: f64 = heights.iter().sum();
    let joined: f64 = sides.iter().map(|s| s.share).sum::<f64>().max(1e-9);
    let fit = 1.0 / joined.max(1.0);
    let mut y = middle - all / 2.0;
    let full = dough.map_or(0.0, |k| k.half * 2.0);
    let mut edge = middle - full * joined * fit / 2.0;
    for (side, height) in sides.iter_mut().zip(heights) {
        let centre = y + 16.0 + (height - 22.0) / 2.0;
        y += height;
        for k in &mut side.knots {
            k.centre = centre;
        }
        let into = full * side.share * fit;
        let goal = (edge + into / 2.0, (into / 2.0).max(1.0));
        edge += into;
        let (Some(first), Some(last)) = (side.knots.first().copied(), side.knots.last().copied())
        else {
            continue;
        };
        if dough.is_none() || (last.x - mix_x).abs() > 3.0 {
            continue;
        }
        let bend = 34.0_f64.min((last.x - first.x) * 0.7).max(0.0);
        let start = last.x - bend;
        let tail: Vec<Knot> = (0..=16)
            .filter_map(|i| {
                let f = f64::from(i) / 16.0;
                let ease = f * f * (3.0 - 2.0 * f);
                // whatever it weighs in the end is what was weighed: the fringe closes
                let towards = |half: f64| half + (goal.1 - half) * ease;
                at(&side.knots, start + bend * f).map(|k| Knot {
                    x: start + bend * f,
                    centre: k.centre + (goal.0 - k.centre) * ease,
                    half: towards(k.half),
                    fringe: (towards(k.fringe.0), towards(k.fringe.1)),
                    celsius: k.celsius,
                })
            })
            .collect();
        side.knots.retain(|k| k.x < start);
        side.knots.extend(tail);
    }
}

fn ribbon(out: &mut String, id: &str, knots: &[Knot], plain: bool) {
    let (Some(first), Some(last)) = (knots.first(), knots.last()) else { return };
    let around = |half: fn(&Knot) -> f64| {
        let edge = |sign: f64| -> Vec<(f64, f64)> {
            let all: Vec<(f64, f64)> =
                knots.iter().map(|k| (k.x, k.centre + sign * half(k))).collect();
            thin(&all, 0.15)
        };
        let mut around = edge(-1.0);
        around.extend(edge(1.0).into_iter().rev());
        path(&around)
    };
    let length = last.x - first.x;
    if plain || length < 0.5 {
        let fill =
            if plain { String::new() } else { format!(r#" fill="{}""#, colour(first.celsius).0) };
        let class = if plain { "plain edge" } else { "edge" };
        put!(out, r#"<path d="{}Z" class="{class}"{fill}/>"#, around(|k| k.half));
        out.push('\n');
        return;
    }
    put!(
        out,
        r#"<linearGradient id="{id}" gradientUnits="userSpaceOnUse" x1="{}" y1="0" x2="{}" y2="0">"#,
        n(first.x),
        n(last.x)
    );
    let warmth: Vec<(f64, f64)> = knots
        .iter()
        .map(|k| (k.x, if k.celsius.is_finite() { k.celsius.clamp(-50.0, 300.0) } else { 20.0 }))
        .collect();
    for (x, t) in thin(&warmth, 0.3) {
        let offset = ((x - first.x) / length).clamp(0.0, 1.0);
        put!(out, r#"<stop offset="{offset:.4}" stop-color="{}"/>"#, colour(t).0);
    }
    put!(out, "</linearGradient>\n");
    let (sure, most) = (around(|k| k.fringe.0), around(|k| k.fringe.1));
    if sure != most {
        // band before line: what one in ten is thicker than, what nine in ten are at least
        put!(
            out,
            r#"<path d="{most}Z{sure}Z" fill-rule="evenodd" class="fringe" fill="url(#{id})"/>"#
        );
        out.push('\n');
    }
    put!(out, r#"<path d="{sure}Z" fill="url(#{id})"/>"#);
    put!(out, r#"<path d="{}Z" class="edge" fill="none"/>"#, around(|k| k.half));
    out.push('\n');
}

/// Says below the dough's ribbon what its fringe is, where that is widest and no tick stands in
/// the way; whether it did.
fn call_fringe(scene: &Scene<'_>, out: &mut String, dough: Option<&Line>, knots: &[Knot]) -> bool {
    const SIZE: f64 = 11.0;
    let Some(line) = dough else { return false };
    let half = wide(EIGHT_IN_TEN, SIZE) / 2.0;
    let ticks: Vec<f64> = line.spans.iter().map(|s| scene.clock.x(s.from)).collect();
    let free = |x: f64| {
        let clear = ticks.iter().filter(|t| (x - *t).abs() < half + 3.0).count() as f64;
        let inside = x - half > scene.clock.left && x + half < scene.clock.right;
        clear + if inside { 0.0 } else { 9.0 }
    };
    let wide_at = |k: &Knot| k.fringe.1 - k.fringe.0;
    let best = knots
        .iter()
        .filter(|k| wide_at(k) > 2.5)
        .max_by(|a, b| (wide_at(a) - 4.0 * free(a.x)).total_cmp(&(wide_at(b) - 4.0 * free(b.x))));
    let Some(k) = best else { return false };
    let low = knots
        .iter()
        .filter(|o| (o.x - k.x).abs() < half + 2.0)
        .map(|o| o.centre + o.outer())
        .fold(k.centre, f64::max);
    text(out, k.x, low + 11.0, "small halo", MIDDLE, EIGHT_IN_TEN);
    true
}

/// A divided dough lies in pieces.
fn split(scene: &Scene<'_>, out: &mut String, dough: Option<&Line>, knots: &[Knot]) {
    let pieces = scene.setting.pieces();
    let Some(line) = dough else { return };
    let divided = line
        .spans
        .iter()
        .find(|s| scene.step(s.step).is_some_and(|s| s.verb == Verb::Divide))
        .map(|s| scene.clock.x(s.from));
    let Some(from) = divided else { return };
    let shown = pieces.min(6);
    for cut in 1..shown {
        let f = f64::from(cut) / f64::from(shown) * 2.0 - 1.0;
        let points: Vec<(f64, f64)> =
            knots.iter().filter(|k| k.x >= from).map(|k| (k.x, k.centre + k.half * f)).collect();
        if points.len() > 1 {
            put!(out, r#"<path d="{}" class="split"/>"#, path(&thin(&points, 0.15)));
            out.push('\n');
        }
    }
}

/// Load to bake, hatched, then cooling, light.
fn oven(scene: &Scene<'_>, out: &mut String, last: Option<Knot>, middle: f64, main: &[usize]) {
    let clock = &scene.clock;
    let half = last.map_or(DOUGH / 2.0, |k| k.half).max(9.0);
    for cooling in [false, true] {
        let spans: Vec<Span> = main
            .iter()
            .filter(|&&i| {
                scene.step(i).is_some_and(|s| s.verb.in_oven() && (s.verb == Verb::Cool) == cooling)
            })
            .filter_map(|&i| scene.schedule.of(i))
            .collect();
        let from = spans.iter().map(|s| s.from).fold(f64::INFINITY, f64::min);
        let to = spans.iter().map(|s| s.to).fold(f64::NEG_INFINITY, f64::max);
        if !(from.is_finite() && to.is_finite() && to > from) {
            continue;
        }
        let (a, b) = (clock.x(from), clock.x(to));
        let fill = if cooling {
            r#"class="paper edge" stroke-dasharray="3 2" rx="2""#.to_owned()
        } else {
            rect(out, a, middle - half, b - a, 2.0 * half, r#"class="plain""#);
            format!(r#"class="edge" fill="url(#{}-oven)""#, scene.id)
        };
        rect(out, a, middle - half, b - a, 2.0 * half, &fill);
        let word = if cooling { "cooling" } else { "oven" };
        if b - a > wide(word, 11.0) + 6.0 {
            let class = if cooling { "small" } else { "bold halo" };
            text(out, f64::midpoint(a, b), middle + 4.0, class, MIDDLE, word);
        }
    }
}

fn tick(out: &mut String, knots: &[Knot], x: f64) {
    if let Some(k) = at(knots, x) {
        line(out, (x, k.centre - k.outer() - 4.0), (x, k.centre + k.outer() + 4.0), "tick");
    }
}

/// The oven warms up beside the dough: a lane of its own.
pub(super) fn preheat(scene: &Scene<'_>, out: &mut String, top: f64) -> f64 {
    let clock = &scene.clock;
    let heats =
        scene.setting.recipe.method.preheat(scene.schedule.path).and_then(|i| scene.schedule.of(i));
    let Some(span) = heats.filter(|s| s.from.is_finite() && s.to > s.from) else { return top };
    let (a, b) = (clock.x(span.from), clock.x(span.to));
    text(out, clock.left - 8.0, top + 10.0, "soft", END, "oven");
    rect(
        out,
        a,
        top + 1.0,
        b - a,
        10.0,
        &format!(r#"class="edge" fill="url(#{}-warm)""#, scene.id),
    );
    top + 18.0
}

/// A step's name, and where it stands.
struct Name {
    step: usize,
    x: f64,
    shown: f64,
    text: String,
    idle: bool,
}

/// Steps worth a name, left to right, spread so that none covers another.
fn names(scene: &Scene<'_>) -> Vec<Name> {
    let clock = &scene.clock;
    let mut spans: Vec<Span> = scene
        .schedule
        .spans
        .iter()
        .copied()
        .filter(|s| s.from.is_finite() && clock.holds(s.from))
        .collect();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    let several = scene.trace.lines.len() > 2;
    let mut out: Vec<Name> = Vec::new();
    for span in spans {
        let Some(step) = scene.step(span.step) else { continue };
        let x = clock.x(span.from);
        // what follows by itself needs no name when there is no room for one
        let near = out.last().is_some_and(|p| x - p.x < APART);
        if near && matches!(step.verb, Verb::Rest | Verb::BenchRest | Verb::Bake) {
            continue;
        }
        let text = format!("{} {}", clock.time(span.from), named(step, several));
        out.push(Name { step: span.step, x, shown: x, text, idle: step.hands_on.0 <= 0.0 });
    }
    let ready = scene.schedule.ready();
    if !out.is_empty() && ready.is_finite() && clock.holds(ready) {
        let (x, text) = (clock.x(ready), format!("{} ready", clock.time(ready)));
        out.push(Name { step: usize::MAX, x, shown: x, text, idle: false });
    }
    // no more than fit
    let room = ((clock.right - clock.left) / APART).floor() as usize;
    while out.len() > room.max(1) {
        let drop = out.iter().rposition(|l| l.idle).unwrap_or(out.len() - 1);
        out.remove(drop);
    }
    spread(&mut out, clock.left, super::WIDTH - 6.0);
    out
}

fn named(step: &Step, several: bool) -> String {
    match (&step.what, step.verb) {
        (Some(what), Verb::Build) if several => {
            format!("build {}", short(what))
        }
        _ => step.verb.name().to_owned(),
    }
}

/// Moves names apart as little as can be: pools of neighbours that would overlap share one
/// shift (the best in the least-squares sense), then the page's edges push back.
fn spread(names: &mut [Name], left: f64, edge: f64) {
    let mut pools: Vec<(f64, usize)> = Vec::new(); // mean of x − k·APART, members
    for (k, l) in names.iter().enumerate() {
        let mut pool = (l.x - k as f64 * APART, 1);
        while let Some(&(mean, count)) = pools.last()
            && mean > pool.0
        {
            let all = count + pool.1;
            pool = ((mean * count as f64 + pool.0 * pool.1 as f64) / all as f64, all);
            pools.pop();
        }
        pools.push(pool);
    }
    let means = pools.iter().flat_map(|(mean, count)| std::iter::repeat_n(*mean, *count));
    for (k, (l, mean)) in names.iter_mut().zip(means).enumerate() {
        l.shown = mean + k as f64 * APART;
    }
    let mut most = f64::INFINITY;
    for l in names.iter_mut().rev() {
        most = (most - APART).min(edge - wide(&l.text, NAME) * SLANT.0);
        l.shown = l.shown.min(most);
    }
    let mut least = left;
    for l in names.iter_mut() {
        l.shown = l.shown.max(least);
        least = l.shown + APART;
    }
}

fn side_of(sides: &[Side], step: usize) -> Option<&Side> {
    sides.iter().find(|s| s.steps.iter().any(|p| p.step == step))
}

/// Brackets: from, to and tick in px, and the row above the ribbon.
fn brackets(scene: &Scene<'_>) -> Vec<(f64, f64, f64, usize)> {
    let clock = &scene.clock;
    let mut all: Vec<(f64, f64, f64)> = scene
        .slack
        .iter()
        .filter_map(|&(step, early, late)| {
            let at = scene.schedule.of(step)?.from;
            let whole = early.is_finite() && late.is_finite() && at.is_finite();
            (whole && late - early > 0.5).then(|| (clock.x(early), clock.x(late), clock.x(at)))
        })
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut rows: Vec<f64> = Vec::new();
    let mut out = Vec::new();
    for (from, to, at) in all {
        let row = rows.iter().position(|end| from > end + 3.0).unwrap_or(rows.len());
        if row == rows.len() {
            rows.push(to);
        } else {
            rows[row] = to;
        }
        out.push((from, to, at, row.min(5)));
    }
    out
}

/// Name at the beginning of a side ribbon with its warmth, and the warmth at its end.
fn side_texts(scene: &Scene<'_>, out: &mut String, sides: &[Side]) {
    for side in sides {
        let Some(first) = side.knots.first() else { continue };
        // the bend into the dough is no place for a text
        let from = first.x + 3.0;
        let flat: Vec<&Knot> =
            side.knots.iter().filter(|k| (k.centre - first.centre).abs() < 0.01).collect();
        let until = flat.last().map_or(first.x, |k| k.x);
        let line = scene.trace.lines.iter().find(|l| !side.plain && l.name == side.name);
        let ends = line.and_then(|l| Some((l.samples.first()?.mean, l.samples.last()?.mean)));
        let mut label = short(&side.name);
        if let Some((mean, _)) = ends.filter(|e| sane(e.0.0)) {
            label = format!("{label}, {}", mean.show(scene.units));
        }
        // bold is wider
        let room = wide(&label, 12.0) * 1.08;
        let highest = |a: f64, b: f64| {
            flat.iter()
                .filter(|k| k.x >= a - 4.0 && k.x <= b + 4.0)
                .map(|k| k.outer())
                .fold(first.outer(), f64::max)
        };
        if from + room < until + 8.0 {
            let y = first.centre - highest(from, from + room) - 5.0;
            text(out, from, y, "bold halo", "", &label);
        } else {
            // too short to carry its name
            text(out, first.x - 7.0, first.centre + 4.0, "bold halo", END, &label);
        }
        // further builds, each with the warmth it begins with
        let mut taken = from + room;
        for span in side.steps.iter().skip(1).filter(|_| !side.plain) {
            let begins = line.and_then(|l| l.samples.iter().find(|s| s.step == span.step));
            let x = scene.clock.x(span.from) + 4.0;
            let Some(mean) = begins.map(|s| s.mean).filter(|m| sane(m.0)) else { continue };
            let word = mean.show(scene.units);
            let end = x + wide(&word, 12.0);
            if x > taken + 6.0 && end < until {
                text(out, x, first.centre - highest(x, end) - 5.0, "soft halo", "", &word);
                taken = end;
            }
        }
        if let Some((_, mean)) = ends.filter(|e| sane(e.1.0)) {
            let word = mean.show(scene.units);
            let long = wide(&word, 12.0);
            if until - long > taken + 10.0 {
                let y = first.centre - highest(until - long, until) - 5.0;
                text(out, until - 4.0, y, "soft halo", END, &word);
            }
        }
    }
}

/// Warmth of the dough below its ribbon: at mixing, before it changes place, where a step
/// leaves it clearly warmer or colder, and before the oven.
fn temperatures(scene: &Scene<'_>, out: &mut String, dough: Option<&Line>, y: f64) {
    let clock = &scene.clock;
    let Some(line) = dough else { return };
    let s = &line.samples;
    let (Some(first), Some(last)) = (s.first(), s.last()) else { return };
    let mut wanted: Vec<(u8, &Sample)> = vec![(0, first), (1, last)];
    for pair in s.windows(2) {
        if pair[0].place != pair[1].place {
            wanted.push((2, &pair[0]));
        } else if pair[0].step != pair[1].step {
            wanted.push((3, &pair[0]));
        }
    }
    wanted.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.minute.total_cmp(&b.1.minute)));
    let mut taken: Vec<(f64, f64, f64)> = Vec::new(); // from, to, °C
    for (rank, sample) in wanted {
        let (minute, mean) = (sample.minute, sample.mean.0);
        if !(sane(mean) && clock.holds(minute)) {
            continue;
        }
        let word = Celsius(mean).show(scene.units);
        let half = wide(&word, 12.0) / 2.0;
        let x = clock.x(minute).clamp(clock.left + half, clock.right - half);
        let clear = taken.iter().all(|t| x + half + 6.0 < t.0 || x - half - 6.0 > t.1);
        let known = taken
            .iter()
            .min_by(|a, b| {
                let far = |t: &(f64, f64, f64)| (f64::midpoint(t.0, t.1) - x).abs();
                far(a).total_cmp(&far(b))
            })
            .is_some_and(|t| (t.2 - mean).abs() < 2.0);
        if clear && !(rank == 3 && known) {
            text(out, x, y, "", MIDDLE, &word);
            taken.push((x - half, x + half, mean));
        }
    }
}

/// Names the fridge, the proofing box, the closed oven inside the ribbon.
fn places(scene: &Scene<'_>, out: &mut String, dough: Option<&Line>, knots: &[Knot]) {
    let clock = &scene.clock;
    let Some(line) = dough else { return };
    let mut runs: Vec<(Place, f64, f64)> = Vec::new();
    for s in line.samples.iter().filter(|s| s.minute.is_finite()) {
        match runs.last_mut() {
            Some(r) if r.0 == s.place => r.2 = s.minute,
            _ => runs.push((s.place, s.minute, s.minute)),
        }
    }
    for (place, from, to) in runs {
        let (a, b) = (clock.x(from), clock.x(to));
        let word = place.name();
        if place == Place::Room || b - a < wide(word, 12.0) + 10.0 {
            continue;
        }
        let x = f64::midpoint(a, b);
        let Some(k) = at(knots, x).filter(|k| k.half > 8.0) else { continue };
        let ink = if colour(k.celsius).1 { "#ffffff" } else { "#101010" };
        let pieces = scene.setting.pieces().min(6);
        // an even number of pieces leaves a cut where the middle is
        let y =
            if pieces.is_multiple_of(2) { k.centre - k.half / f64::from(pieces) } else { k.centre };
        let more = format!(r#"{MIDDLE} style="fill:{ink}""#);
        if k.half * 2.0 / f64::from(pieces.max(1)) > 12.0 {
            text(out, x, y + 4.0, "", &more, word);
        } else {
            let back = colour(k.celsius).0;
            let more = format!(
                r#"{MIDDLE} style="fill:{ink};stroke:{back};stroke-width:4px;paint-order:stroke""#
            );
            text(out, x, k.centre + 4.0, "", &more, word);
        }
    }
}

/// Hatches of oven, warming oven, and of hours away.
pub(super) fn patterns(out: &mut String, id: &str) {
    for (name, size, class) in
        [("oven", 4, "ovenline"), ("warm", 7, "ovenline"), ("away", 7, "awayline")]
    {
        put!(
            out,
            r#"<pattern id="{id}-{name}" width="{size}" height="{size}" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="{size}" class="{class}"/></pattern>"#
        );
        out.push('\n');
    }
}
