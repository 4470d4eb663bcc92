//! A bake as a picture: the programme, temperatures, weight and crust colour along the minutes
//! from loading, and the hearth from above. One SVG that stands alone, light and dark.

use super::panel::{self, Along, Curve, Fringe, Panel};
use super::ribbon::{END, MIDDLE};
use super::svg::{line, n, put, rect, sane, text, wide};
use super::{WIDTH, name_of, sheet, wrap};
use engine::bake::{BakeSample, BakeTrace};
use engine::crust::{BURNT_LIGHTNESS, colour_in_words};
use engine::forecast::{Band, LoafEnd, LoafPoint};
use engine::layout::{Layout, Place};
use quantity::{Celsius, Millimetres, Minutes, Units};

/// Where the minutes begin and end, px.
const FIELD: (f64, f64) = (84.0, 1000.0);
/// Longest bake drawn, minutes: as long as the engine bakes.
const LONGEST: f64 = 2880.0;
/// Rows of labels above the band, at most; what finds no place stands in the description only.
const ROWS: usize = 8;
/// Stages and pieces beyond this are not drawn.
const MOST: usize = 1000;

/// What a picture of a bake shows.
pub(crate) struct Picture<'a> {
    /// What is baked.
    pub(crate) title: &'a str,
    /// What the picture says.
    pub(crate) sentence: &'a str,
    /// The bake.
    pub(crate) trace: &'a BakeTrace,
    /// Minute a stage of the programme begins, and what it is: "240 °C, steam".
    pub(crate) stages: &'a [(f64, String)],
    /// The loaf over the kitchens and ovens this one may be.
    pub(crate) sure: Option<&'a LoafEnd>,
    /// One load on a hearth of this width and depth.
    pub(crate) hearth: Option<(&'a Layout, Millimetres, Millimetres)>,
    /// Units of temperatures and lengths.
    pub(crate) units: Units,
}

impl Picture<'_> {
    fn degrees(&self, t: Celsius) -> f64 {
        match self.units {
            Units::Metric => t.0,
            Units::Us => t.fahrenheit(),
        }
    }

    /// The band of one measure over the minutes.
    fn fringe(&self, value: impl Fn(&LoafPoint) -> Band) -> Vec<Fringe> {
        let points = self.sure.iter().flat_map(|s| &s.curve);
        let piece = points.map(|p| (p.minute, value(p))).map(|(t, b)| (t, b.low, b.high)).collect();
        vec![Fringe { pieces: vec![piece], class: "fdough", named: true }]
    }

    /// One measure over the minutes.
    fn curve(
        &self,
        value: impl Fn(&BakeSample) -> Option<f64>,
        (class, name_class): (&'static str, &'static str),
        name: &str,
    ) -> Option<Curve> {
        let points: Vec<(f64, f64)> = self
            .trace
            .minutes
            .iter()
            .filter_map(|s| Some((s.minute.0, value(s)?)))
            .filter(|(t, v)| t.is_finite() && sane(*v))
            .collect();
        (!points.is_empty()).then(|| Curve {
            pieces: vec![points],
            class,
            name_class,
            name: name.to_owned(),
        })
    }
}

/// Minutes from loading along the page.
struct Axis {
    to: f64,
}

impl Axis {
    fn of(picture: &Picture<'_>) -> Self {
        let last = |all: &mut dyn Iterator<Item = f64>| {
            all.filter(|t| (0.0..=LONGEST).contains(t)).reduce(f64::max)
        };
        let last = last(&mut picture.trace.minutes.iter().map(|s| s.minute.0))
            .or_else(|| last(&mut picture.stages.iter().map(|s| s.0)))
            .unwrap_or(0.0);
        Self { to: last.clamp(1.0, LONGEST) }
    }

    /// Round minutes at a distance that can be read.
    fn ticks(&self) -> Vec<f64> {
        let px_per_minute = (FIELD.1 - FIELD.0) / self.to;
        let every = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0]
            .into_iter()
            .find(|m| m * px_per_minute >= 44.0)
            .unwrap_or(480.0);
        let count = (self.to / every + 1e-9).floor() as u32;
        (0..=count).map(|i| f64::from(i) * every).collect()
    }
}

impl Along for Axis {
    fn x(&self, minute: f64) -> f64 {
        let share = minute / self.to;
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        FIELD.0 + (FIELD.1 - FIELD.0) * share
    }
    fn holds(&self, minute: f64) -> bool {
        minute >= 0.0 && minute <= self.to
    }
    fn ends(&self) -> (f64, f64) {
        FIELD
    }
}

/// Draws a bake.
pub(crate) fn draw(picture: &Picture<'_>) -> String {
    let axis = Axis::of(picture);
    let mut head = String::new();
    let mut y = 38.0;
    for row in wrap(picture.title, 20.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "head", "", &row);
        y += 24.0;
    }
    for row in wrap(picture.sentence, 14.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "lead", "", &row);
        y += 20.0;
    }

    let (mut marks, mut body) = (String::new(), String::new());
    y = band(picture, &axis, &mut body, y + 4.0) + 22.0;
    let mut fields: Vec<(f64, f64)> = Vec::new();
    for p in [temperature(picture), loss(picture)].iter().flatten() {
        let end = panel::draw(&axis, &mut body, p, y);
        fields.push((y + 20.0, end));
        y = end + 24.0;
    }
    let strips = strips(picture);
    if !strips.is_empty() {
        text(
            &mut body,
            FIELD.0,
            y + 11.0,
            "bold",
            "",
            "Crust colour, from lightness L*: words and colours are ours, uncalibrated",
        );
        if strips.iter().any(|s| s.fringe.len() > 1) {
            y += 16.0;
            let words = "thin strips: of ten kitchens one is lighter than the upper, one darker than the lower";
            text(&mut body, FIELD.0, y + 11.0, "small", "", words);
        }
        y += 20.0;
        for s in &strips {
            y = strip(s, &axis, &mut body, y) + 8.0;
        }
    }
    y = minutes(&axis, &mut body, y + 2.0);
    for (top, bottom) in fields {
        for t in axis.ticks() {
            line(&mut marks, (axis.x(t), top), (axis.x(t), bottom), "hair");
        }
        for (from, _, _) in stages(picture, &axis).into_iter().skip(1) {
            line(&mut marks, (axis.x(from), top), (axis.x(from), bottom), "lead-line");
        }
    }
    if let Some(h) = picture.hearth {
        y = hearth(picture, h, &mut body, y + 18.0);
    }

    let words = format!("{} {}", picture.sentence, table(picture, &axis));
    let id = name_of(&format!("{}|{words}", picture.title));
    sheet(&id, picture.title, &words, y + 16.0, "", &[marks, head, body])
}

/// The stages that are drawn: begin, end, name.
fn stages<'a>(picture: &Picture<'a>, axis: &Axis) -> Vec<(f64, f64, &'a str)> {
    let mut all: Vec<(f64, &str)> = picture
        .stages
        .iter()
        .filter(|s| axis.holds(s.0))
        .map(|s| (s.0, s.1.as_str()))
        .take(MOST)
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let ends: Vec<f64> = all.iter().skip(1).map(|s| s.0).chain([axis.to]).collect();
    all.iter().zip(ends).map(|(s, end)| (s.0, end, s.1)).collect()
}

/// A label that flies beside a pole.
struct Flag {
    left: f64,
    right: f64,
    pole: f64,
    row: usize,
}

/// Where labels beside poles fly, each in the lowest row that crosses no other label and no
/// other pole; none where there is no such row.
fn fly(labels: &[(f64, f64)]) -> Vec<Option<Flag>> {
    let mut out: Vec<Option<Flag>> = Vec::new();
    for &(pole, long) in labels.iter().rev() {
        // to the left of the pole at the edge of the page
        let over = pole + 5.0 + long > WIDTH - 8.0;
        let left = if over { pole - 5.0 - long } else { pole + 5.0 };
        let right = left + long;
        let free = |row: &usize| {
            out.iter().flatten().all(|o: &Flag| {
                let same = o.row == *row && left < o.right + 6.0 && o.left < right + 6.0;
                let over = o.row >= *row && o.pole > left - 3.0 && o.pole < right + 3.0;
                let under = *row >= o.row && pole > o.left - 3.0 && pole < o.right + 3.0;
                !(same || over || under)
            })
        };
        let row = if left < FIELD.0 - 60.0 { None } else { (0..ROWS).find(free) };
        out.push(row.map(|row| Flag { left, right, pole, row }));
    }
    out.reverse();
    out
}

/// The programme: stages side by side, their names above, their lengths inside.
fn band(picture: &Picture<'_>, axis: &Axis, out: &mut String, top: f64) -> f64 {
    const ROW: f64 = 17.0;
    const HIGH: f64 = 18.0;
    let all = stages(picture, axis);
    if all.is_empty() {
        return top;
    }
    let labels: Vec<(f64, f64)> = all.iter().map(|s| (axis.x(s.0), wide(s.2, 12.0))).collect();
    let flags = fly(&labels);
    let rows = flags.iter().flatten().map(|f| f.row + 1).max().unwrap_or(0);
    let bar = top + 4.0 + ROW * rows as f64;
    text(out, FIELD.0 - 8.0, bar + 13.0, "soft", END, "oven");
    for (i, (from, to, _)) in all.iter().enumerate() {
        let (a, b) = (axis.x(*from), axis.x(*to));
        rect(out, a, bar, b - a, HIGH, r#"class="plain""#);
        let word = format!("{:.0} min", to - from);
        if wide(&word, 12.0) + 8.0 < b - a {
            text(out, f64::midpoint(a, b), bar + 13.0, "", MIDDLE, &word);
        }
        let top = flags[i].as_ref().map_or(bar, |f| bar - ROW * (f.row + 1) as f64 + 2.0);
        line(out, (a, top), (a, bar + HIGH), "tick");
    }
    line(out, (axis.x(axis.to), bar), (axis.x(axis.to), bar + HIGH), "tick");
    for (stage, flag) in all.iter().zip(&flags) {
        if let Some(f) = flag {
            text(out, f.left, bar - 5.0 - ROW * f.row as f64, "", "", stage.2);
        }
    }
    bar + HIGH
}

/// Whether top and base never differ by half a degree or point.
fn alike(picture: &Picture<'_>, difference: impl Fn(&BakeSample) -> f64) -> bool {
    picture.trace.minutes.iter().all(|s| difference(s).abs() < 0.5)
}

fn temperature(picture: &Picture<'_>) -> Option<Panel> {
    let deg = |t: Celsius| Some(picture.degrees(t));
    // on a grid both crusts are one
    let alike = alike(picture, |s| s.top_surface.0 - s.base_surface.0);
    let base = picture.curve(|s| deg(s.base_surface), ("b", "tb"), "base crust");
    let top = if alike { "crust" } else { "top crust" };
    let mut curves: Vec<Curve> = [
        picture.curve(|s| deg(s.oven_air), ("air", "soft"), "oven air"),
        picture.curve(|s| s.hearth_top.and_then(deg), ("c", "tc"), "hearth top"),
        base.filter(|_| !alike),
        picture.curve(|s| deg(s.top_surface), ("a", "ta"), top),
        picture.curve(|s| deg(s.core), ("dough", "tdough"), "core"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if curves.is_empty() {
        return None;
    }
    let done = picture.trace.done;
    if let Some((at, target)) = done.core.zip(done.core_target)
        && at.0.is_finite()
        && sane(target.0)
    {
        let height = picture.degrees(target);
        let point = (at.0, height);
        let span = picture.sure.and_then(|s| s.core_done).filter(|b| sane(b.low) && sane(b.high));
        if let Some(b) = span {
            curves.push(Curve {
                pieces: vec![vec![(b.low, height), (b.high, height)]],
                class: "span",
                name_class: "tdough",
                name: String::new(),
            });
        }
        let span = span.map_or(String::new(), |b| format!(" ({:.0} to {:.0})", b.low, b.high));
        curves.push(Curve {
            pieces: vec![vec![point, point]],
            class: "mark",
            name_class: "tdough",
            name: format!("core {} at {:.0} min{span}", target.show(picture.units), at.0),
        });
    }
    let title = match picture.units {
        Units::Metric => "Temperature, °C",
        Units::Us => "Temperature, °F",
    };
    let least = (picture.degrees(Celsius(0.0)), picture.degrees(Celsius(100.0)));
    let bands = picture.fringe(|p| {
        let deg = |t: f64| picture.degrees(Celsius(t));
        Band { low: deg(p.core.low), mid: deg(p.core.mid), high: deg(p.core.high) }
    });
    Some(Panel { title, height: 250.0, curves, bands, grounds: Vec::new(), least })
}

fn loss(picture: &Picture<'_>) -> Option<Panel> {
    let last = picture.trace.minutes.iter().rev().find(|s| sane(s.loss.0))?;
    let name = last.loss.show();
    // steam on a cold loaf makes it a little heavier: no reason for half an axis below nothing
    let level = |s: &BakeSample| Some(if s.loss.0 > -1.0 { s.loss.0.max(0.0) } else { s.loss.0 });
    let curve = picture.curve(level, ("dough", "tdough"), &name)?;
    Some(Panel {
        title: "Weight lost, % of the dough",
        height: 100.0,
        curves: vec![curve],
        bands: picture.fringe(|p| Band {
            low: p.loss.low.max(0.0),
            mid: p.loss.mid.max(0.0),
            high: p.loss.high.max(0.0),
        }),
        grounds: Vec::new(),
        least: (0.0, 10.0),
    })
}

/// Lightness of a crust over the minutes.
struct Strip {
    name: &'static str,
    points: Vec<(f64, f64)>,
    /// Minute, 90 and 10 % over the kitchens asked: one in ten is lighter, one in ten darker.
    fringe: Vec<(f64, f64, f64)>,
}

impl Strip {
    /// Lightness at a minute, on straight lines.
    fn at(&self, minute: f64) -> f64 {
        between(&self.points, minute)
    }

    /// From when to when which word holds.
    fn words(&self) -> Vec<(f64, f64, &'static str)> {
        let mut out: Vec<(f64, f64, &'static str)> = Vec::new();
        for (i, p) in self.points.iter().enumerate() {
            let word = colour_in_words(p.1);
            match out.last_mut() {
                Some(run) if run.2 == word => run.1 = p.0,
                Some(run) => {
                    // the change lies between this minute and the one before
                    let a = self.points[i.saturating_sub(1)];
                    let (mut low, mut high) = (0.0, 1.0);
                    for _ in 0..12 {
                        let mid = f64::midpoint(low, high);
                        if colour_in_words(a.1 + (p.1 - a.1) * mid) == run.2 {
                            low = mid;
                        } else {
                            high = mid;
                        }
                    }
                    let change = a.0 + (p.0 - a.0) * high;
                    run.1 = change;
                    out.push((change, p.0, word));
                }
                None => out.push((p.0, p.0, word)),
            }
        }
        out
    }
}

/// Value at a minute, on straight lines.
fn between(points: &[(f64, f64)], minute: f64) -> f64 {
    let after = points.iter().position(|p| p.0 >= minute);
    match after.map(|i| (i, points[i])) {
        Some((0, p)) => p.1,
        Some((i, b)) => {
            let a = points[i - 1];
            a.1 + (b.1 - a.1) * (minute - a.0) / (b.0 - a.0).max(1e-9)
        }
        None => points.last().map_or(f64::NAN, |p| p.1),
    }
}

fn strips(picture: &Picture<'_>) -> Vec<Strip> {
    let of = |name: &'static str, value: fn(&BakeSample) -> f64, band: fn(&LoafPoint) -> Band| {
        let mut points: Vec<(f64, f64)> = Vec::new();
        for s in &picture.trace.minutes {
            let (t, l) = (s.minute.0, value(s));
            let ahead = points.last().is_none_or(|p| t > p.0);
            if ahead && (0.0..=LONGEST).contains(&t) && sane(l) {
                points.push((t, l));
            }
        }
        let fringe = picture.sure.iter().flat_map(|s| &s.curve).map(|p| {
            let b = band(p);
            (p.minute, b.high, b.low)
        });
        let fringe = fringe.filter(|p| sane(p.1) && sane(p.2)).collect();
        (points.len() > 1).then_some(Strip { name, points, fringe })
    };
    let (top, base) = (|s: &BakeSample| s.lightness, |s: &BakeSample| s.base_lightness);
    let (top_band, base_band) = (|p: &LoafPoint| p.lightness, |p: &LoafPoint| p.base_lightness);
    if alike(picture, |s| top(s) - base(s)) {
        of("crust", top, top_band).into_iter().collect()
    } else {
        [of("top", top, top_band), of("base", base, base_band)].into_iter().flatten().collect()
    }
}

/// A crust as it colours, in its own colours, with the words where they begin.
fn strip(strip: &Strip, axis: &Axis, out: &mut String, top: f64) -> f64 {
    const HIGH: f64 = 36.0;
    const ROW: f64 = 16.0;
    const THIN: f64 = 8.0;
    let fringed = strip.fringe.len() > 1;
    let top = if fringed { top + THIN + 3.0 } else { top };
    text(out, FIELD.0 - 8.0, top + HIGH / 2.0 + 4.0, "soft", END, strip.name);
    let Some((first, last)) = strip.points.first().zip(strip.points.last()) else { return top };
    let (left, right) = (axis.x(first.0), axis.x(last.0));
    // no narrower than 3 px, no seams
    let count = strip.points.len().clamp(2, 1 + ((right - left) / 3.0) as usize) - 1;
    let step = (last.0 - first.0) / count as f64;
    let mut coloured = |points: &[(f64, f64)], top: f64, high: f64| {
        for i in 0..count {
            let from = first.0 + step * i as f64;
            let fill = format!(r#"fill="{}""#, crust(between(points, from + step / 2.0)));
            let seam = if i + 1 < count { 0.7 } else { 0.0 };
            rect(out, axis.x(from), top, axis.x(from + step) - axis.x(from) + seam, high, &fill);
        }
    };
    coloured(&strip.points, top, HIGH);
    if fringed {
        let of = |pick: fn(&(f64, f64, f64)) -> f64| -> Vec<(f64, f64)> {
            strip.fringe.iter().map(|p| (p.0, pick(p))).collect()
        };
        coloured(&of(|p| p.1), top - THIN - 1.0, THIN);
        coloured(&of(|p| p.2), top + HIGH + 1.0, THIN);
    }
    rect(out, left, top, right - left, HIGH, r#"class="edge" fill="none""#);
    let end = |l: f64| {
        if l < BURNT_LIGHTNESS {
            format!("L* < {BURNT_LIGHTNESS:.0}")
        } else {
            format!("L* {l:.0}")
        }
    };
    text(out, right + 6.0, top + HIGH / 2.0 + 4.0, "tdough", "", &end(last.1));
    if let Some((_, light, dark)) = strip.fringe.last().filter(|_| fringed) {
        text(out, right + 6.0, top - 1.0, "small", "", &end(*light));
        text(out, right + 6.0, top + HIGH + THIN + 1.0, "small", "", &end(*dark));
    }

    let mut outside: Vec<(f64, &str)> = Vec::new();
    for (i, (from, to, word)) in strip.words().into_iter().enumerate() {
        let (a, b) = (axis.x(from), axis.x(to));
        if i > 0 {
            let ink = legible(strip.at(from), strip.at(from)).0;
            put!(
                out,
                r#"<line x1="{x}" y1="{}" x2="{x}" y2="{}" style="stroke:{ink};stroke-width:1"/>"#,
                n(top),
                n(top + HIGH),
                x = n(a),
            );
            out.push('\n');
        }
        let rows = wrap(word, 12.0, b - a - 8.0);
        if rows.len() > 2 || rows.iter().any(|r| wide(r, 12.0) > b - a - 8.0) {
            outside.push((a, word));
            continue;
        }
        let long = rows.iter().map(|r| wide(r, 12.0)).fold(0.0, f64::max);
        let until = from + (to - from) * ((long + 6.0) / (b - a).max(1.0)).min(1.0);
        let (ink, back) = legible(strip.at(from), strip.at(until));
        let more = format!(
            r#" style="fill:{ink};stroke:{back};stroke-width:3px;stroke-linejoin:round;paint-order:stroke""#
        );
        let first = top + HIGH / 2.0 + 4.0 - 7.0 * (rows.len() - 1) as f64;
        for (k, row) in rows.iter().enumerate() {
            text(out, a + 5.0, first + 14.0 * k as f64, "", &more, row);
        }
    }
    let labels: Vec<(f64, f64)> = outside.iter().map(|o| (o.0, wide(o.1, 12.0))).collect();
    let bottom = top + HIGH + if fringed { THIN + 1.0 } else { 0.0 };
    let mut end = bottom;
    for (flag, (x, word)) in fly(&labels).into_iter().zip(&outside) {
        let Some(f) = flag else { continue };
        let y = bottom + ROW * (f.row + 1) as f64;
        line(out, (*x, bottom), (*x, y), "tick");
        text(out, f.left, y - 1.0, "", "", word);
        end = end.max(y);
    }
    end
}

/// Lab of a crust by its lightness, ours: hue falls from 80° to 48°, chroma fades at both ends.
const CRUST: [[f64; 3]; 7] = [
    [20.0, 6.0, 6.7],
    [30.0, 12.3, 15.8],
    [40.0, 17.4, 26.8],
    [50.0, 19.7, 37.1],
    [60.0, 17.2, 42.7],
    [75.0, 8.8, 30.8],
    [88.0, 2.4, 13.8],
];

/// Colour of a crust, "#rrggbb".
fn crust(lightness: f64) -> String {
    let l = if lightness.is_nan() { 60.0 } else { lightness.clamp(CRUST[0][0], CRUST[6][0]) };
    let i = CRUST.iter().skip(1).position(|s| s[0] >= l).unwrap_or(0);
    let (a, b) = (CRUST[i], CRUST[i + 1]);
    let f = (l - a[0]) / (b[0] - a[0]);
    let [r, g, b] = srgb(l, a[1] + (b[1] - a[1]) * f, a[2] + (b[2] - a[2]) * f);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Lab (D65) as sRGB.
fn srgb(l: f64, a: f64, b: f64) -> [u8; 3] {
    let fy = (l + 16.0) / 116.0;
    let back = |f: f64| if f > 6.0 / 29.0 { f * f * f } else { (f - 4.0 / 29.0) * 108.0 / 841.0 };
    let (x, y, z) = (0.95047 * back(fy + a / 500.0), back(fy), 1.08883 * back(fy - b / 200.0));
    [
        3.240_454_2 * x - 1.537_138_5 * y - 0.498_531_4 * z,
        -0.969_266_0 * x + 1.876_010_8 * y + 0.041_556_0 * z,
        0.055_643_4 * x - 0.204_025_9 * y + 1.057_225_2 * z,
    ]
    .map(|c| {
        let c = c.clamp(0.0, 1.0);
        let c = if c > 0.003_130_8 { 1.055 * gamma(c) - 0.055 } else { 12.92 * c };
        (c * 255.0).round().clamp(0.0, 255.0) as u8
    })
}

/// x^(1/2.4) between 0.003 and 1, by roots alone: x^(5/12) = x^(1/4) x^(1/6).
fn gamma(x: f64) -> f64 {
    let root = x.sqrt();
    // cube root after Newton
    let mut sixth = 1.0;
    for _ in 0..16 {
        sixth -= (sixth * sixth * sixth - root) / (3.0 * sixth * sixth);
    }
    root.sqrt() * sixth
}

/// Ink that reads on crusts from one lightness to another, and the crust to put around it.
fn legible(one: f64, other: f64) -> (&'static str, String) {
    let (dark, light) = (one.min(other), one.max(other));
    let shine = |l: f64| {
        let f = (l.clamp(CRUST[0][0], CRUST[6][0]) + 16.0) / 116.0;
        f * f * f + 0.05
    };
    // contrast of black on the darkest against that of white on the lightest
    if shine(dark) / 0.05 >= 1.05 / shine(light) {
        ("#000", crust(light))
    } else {
        ("#fff", crust(dark))
    }
}

/// The minutes below everything.
fn minutes(axis: &Axis, out: &mut String, y: f64) -> f64 {
    line(out, (FIELD.0, y), (FIELD.1, y), "axis");
    for t in axis.ticks() {
        line(out, (axis.x(t), y), (axis.x(t), y + 5.0), "axis");
        text(out, axis.x(t), y + 18.0, "soft", MIDDLE, &format!("{t:.0}"));
    }
    text(out, FIELD.0, y + 35.0, "soft", "", "minutes from loading");
    y + 40.0
}

/// The hearth from above with one load, to scale, and its measures beside it.
fn hearth(
    picture: &Picture<'_>,
    (layout, width, depth): (&Layout, Millimetres, Millimetres),
    out: &mut String,
    top: f64,
) -> f64 {
    let fair = |m: Millimetres| m.0 >= 1.0 && m.0 <= 1e5;
    if !(fair(width) && fair(depth)) {
        return top;
    }
    text(out, FIELD.0, top + 11.0, "bold", "", "Hearth from above, one load, to scale");
    let scale = (460.0 / width.0).min(260.0 / depth.0);
    let (left, up) = (FIELD.0, top + 22.0);
    let (wide_px, deep_px) = (width.0 * scale, depth.0 * scale);
    let (right, down) = (left + wide_px, up + deep_px);
    rect(out, left, up, wide_px, deep_px, r#"rx="2" class="plain edge""#);
    let fill = picture.trace.minutes.last().map(|s| s.lightness).filter(|l| sane(*l)).map(crust);
    let fill = fill.map_or_else(
        || r#"class="edge paper""#.to_owned(),
        |c| format!(r#"class="edge" fill="{c}""#),
    );
    let fits = |p: &&Place| {
        [p.x.0, p.y.0, p.across.0, p.deep.0].iter().all(|v| v.is_finite() && *v >= 0.0)
            && p.x.0 + p.across.0 <= width.0 + 1.0
            && p.y.0 + p.deep.0 <= depth.0 + 1.0
    };
    let places: Vec<&Place> = layout.places.iter().filter(fits).take(MOST).collect();
    for p in &places {
        let (w, d) = (p.across.0 * scale, p.deep.0 * scale);
        let round = w.min(d) / 2.0;
        let more = format!(r#"rx="{}" {fill}"#, n(round));
        // the front is below
        rect(out, left + p.x.0 * scale, down - p.y.0 * scale - d, w, d, &more);
    }
    // measures along two sides
    let (side, below) = (left - 8.0, down + 8.0);
    line(out, (side, up), (side, down), "axis");
    line(out, (left, below), (right, below), "axis");
    for y in [up, down] {
        line(out, (side - 4.0, y), (side + 4.0, y), "axis");
    }
    for x in [left, right] {
        line(out, (x, below - 4.0), (x, below + 4.0), "axis");
    }
    let middle = (f64::midpoint(left, right), f64::midpoint(up, down));
    text(out, side - 8.0, middle.1 + 4.0, "soft", END, &depth.show(picture.units));
    let front = format!("{}, door side", width.show(picture.units));
    text(out, middle.0.max(left + wide(&front, 12.0) / 2.0), below + 18.0, "soft", MIDDLE, &front);
    let mut y = up + 12.0;
    for (i, row) in load(picture, layout).iter().enumerate() {
        text(out, right + 24.0, y, if i == 0 { "bold" } else { "soft" }, "", row);
        y += 20.0;
    }
    (below + 22.0).max(y - 10.0)
}

/// One load in words: how many pieces, how large, how far apart.
fn load(picture: &Picture<'_>, layout: &Layout) -> Vec<String> {
    let Some(p) = layout.places.first() else {
        return vec!["not one piece fits".to_owned()];
    };
    let show = |m: Millimetres| m.show(picture.units);
    let count = layout.places.len();
    let mut out = vec![format!("{count} {}", if count == 1 { "piece" } else { "pieces" })];
    let (long, short) = (p.across.max(p.deep), p.across.min(p.deep));
    if sane(long.0) && sane(short.0) {
        out.push(if (long - short).0 < 1.0 {
            format!("{} across, baked", show(long))
        } else {
            format!("{} long, {} wide, baked", show(long), show(short))
        });
    }
    let besides = layout
        .places
        .iter()
        .filter_map(|q| {
            let aside = (q.x - p.x - p.across).max(q.y - p.y - p.deep);
            (aside.0 > 0.0).then_some(aside)
        })
        .reduce(Millimetres::min);
    out.extend(besides.filter(|b| sane(b.0)).map(|b| format!("{} apart", show(b))));
    out
}

/// The same as words: the programme, the loaf every five minutes, the load.
fn table(picture: &Picture<'_>, axis: &Axis) -> String {
    let mut out = String::new();
    for (from, to, name) in stages(picture, axis) {
        put!(out, "From {from:.0} to {to:.0} min {name}; ");
    }
    let done = picture.trace.done;
    if let Some((at, target)) = done.core.zip(done.core_target)
        && sane(target.0)
        && at.0.is_finite()
    {
        put!(out, "core {} at {:.0} min; ", target.show(picture.units), at.0);
    }
    let every = (axis.to / 12.0 / 5.0).ceil().max(1.0) * 5.0;
    let count = (axis.to / every).ceil() as u32;
    for i in 0..=count {
        let at = Minutes((f64::from(i) * every).min(axis.to));
        let Some(s) = picture.trace.at(at) else { break };
        let all = [s.core.0, s.top_surface.0, s.base_surface.0, s.loss.0, s.lightness];
        if !all.into_iter().all(sane) {
            continue;
        }
        put!(
            out,
            "{:.0} min: core {}, top {} {}, base {}, lost {:.1} %; ",
            at.0,
            s.core.show(picture.units),
            s.top_surface.show(picture.units),
            colour_in_words(s.lightness),
            s.base_surface.show(picture.units),
            s.loss.0
        );
    }
    if let Some((layout, width, depth)) = picture.hearth.filter(|h| sane(h.1.0) && sane(h.2.0)) {
        put!(
            out,
            "hearth {} wide, {} deep: {}.",
            width.show(picture.units),
            depth.show(picture.units),
            load(picture, layout).join(", ")
        );
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::tests::is_well_formed;
    use super::*;
    use engine::bake::{Loaf, Programme, Resolution, bake};
    use engine::hearth::{Hearth, Oven, Stage, Steam};
    use engine::warmth::Shape;
    use quantity::{Grams, Percent};

    fn baked() -> BakeTrace {
        let shape = Shape::Log { length: Millimetres(330.0) };
        let loaf = Loaf::even(Grams(350.0), shape, 275.0, 0.93, Celsius(22.0));
        let steam = Steam::Tray(Grams(200.0));
        let stages = vec![
            Stage { steam, ..Stage::at(Celsius(245.0), Minutes(10.0)) },
            Stage { vent: true, ..Stage::at(Celsius(225.0), Minutes(14.0)) },
            Stage::off(Minutes(4.0)),
        ];
        let programme = Programme { hearth: Hearth::stone(), ..Programme::of(stages) };
        bake(&loaf, &Oven::HOME, &programme, Resolution::Publish)
    }

    fn programme() -> Vec<(f64, String)> {
        [(0.0, "245 °C, 200 g in a tray"), (10.0, "225 °C, vent open"), (24.0, "off, door ajar")]
            .map(|(t, s)| (t, s.to_owned()))
            .to_vec()
    }

    fn load() -> Layout {
        Layout::of((Millimetres(330.0), Millimetres(70.0)), Millimetres(400.0), Millimetres(360.0))
    }

    fn shown(trace: &BakeTrace, stages: &[(f64, String)], units: Units) -> String {
        let load = load();
        draw(&Picture {
            title: "Baguettes on the stone",
            sentence: "What the bake comes to.",
            trace,
            stages,
            sure: None,
            hearth: Some((&load, Millimetres(400.0), Millimetres(360.0))),
            units,
        })
    }

    #[test]
    fn a_bake_becomes_the_same_picture_every_time() {
        let trace = baked();
        let svg = shown(&trace, &programme(), Units::Metric);
        is_well_formed(&svg);
        assert_eq!(svg, shown(&trace, &programme(), Units::Metric));
        for word in [
            "role=\"img\"",
            "<title",
            "<desc",
            "Temperature, °C",
            "oven air",
            "hearth top",
            "top crust",
            "base crust",
            "core 96",
            "vent open",
            "uncalibrated",
            "3 pieces",
        ] {
            assert!(svg.contains(word), "{word}");
        }
        let us = shown(&trace, &programme(), Units::Us);
        assert!(
            us.contains("Temperature, °F") && us.contains("core 205") && us.contains("\u{a0}in<")
        );
    }

    #[test]
    fn text_cannot_break_out() {
        let trace = baked();
        let load = load();
        let stages = [(5.0, "\"/><script>x</script>".repeat(30)), (0.0, "]]>\u{0}&".to_owned())];
        is_well_formed(&draw(&Picture {
            title: &"<script>alert('1')</script> & co ".repeat(9),
            sentence: &"<!-- \u{1b}".repeat(400),
            trace: &trace,
            stages: &stages,
            sure: None,
            hearth: Some((&load, Millimetres(400.0), Millimetres(360.0))),
            units: Units::Metric,
        }));
    }

    #[test]
    fn nothing_and_nonsense_are_drawn_too() {
        let good = baked();
        let mut empty = good.clone();
        empty.minutes.clear();
        is_well_formed(&shown(&empty, &[], Units::Metric));
        is_well_formed(&shown(&empty, &programme(), Units::Us));
        let none = Layout { places: Vec::new() };
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e300, 1e300, 0.0, 1e9] {
            let mut t = good.clone();
            for (i, s) in t.minutes.iter_mut().enumerate() {
                match i % 8 {
                    0 => s.minute = Minutes(bad),
                    1 => s.core = Celsius(bad),
                    2 => s.lightness = bad,
                    3 => s.base_lightness = bad,
                    4 => s.loss = Percent(bad),
                    5 => s.hearth_top = Some(Celsius(bad)),
                    6 => s.oven_air = Celsius(bad),
                    _ => s.top_surface = Celsius(bad),
                }
            }
            t.done.core = Some(Minutes(bad));
            is_well_formed(&shown(&t, &programme(), Units::Metric));
            t.done.core_target = Some(Celsius(bad));
            let mut stages = programme();
            stages.push((bad, "odd".to_owned()));
            stages.extend((0..300).map(|i| (f64::from(i), "many ".repeat(20))));
            is_well_formed(&shown(&t, &stages, Units::Us));
            let m = Millimetres(bad);
            let place = Place { x: m, y: m, across: m, deep: m };
            let odd = Layout { places: vec![place, load().places[0], place] };
            for (layout, w) in [(&none, 400.0), (&odd, 400.0), (&odd, bad), (&none, bad)] {
                is_well_formed(&draw(&Picture {
                    title: "",
                    sentence: "",
                    trace: &t,
                    stages: &[],
                    sure: None,
                    hearth: Some((layout, Millimetres(w), Millimetres(360.0))),
                    units: Units::Metric,
                }));
            }
        }
    }

    #[test]
    fn a_band_is_drawn_whatever_it_is() {
        let trace = baked();
        for odd in [1.0, f64::NAN, f64::INFINITY, -1e300, 1e9] {
            let band = |x: f64| Band { low: x * odd, mid: x + 1.0, high: x + 2.0 };
            let curve = (0..29).map(|i| LoafPoint {
                minute: f64::from(i) * if i == 7 { odd } else { 1.0 },
                core: band(20.0 + f64::from(i)),
                loss: band(f64::from(i) / 2.0),
                crust_mm: band(1.0),
                lightness: Band { low: 60.0, mid: 70.0, high: 80.0 * odd },
                base_lightness: band(50.0),
            });
            let sure = LoafEnd {
                core: band(95.0),
                core_done: Some(band(20.0)),
                done: Percent(50.0),
                loss: band(14.0),
                lightness: band(60.0),
                crust_mm: band(3.0),
                curve: curve.collect(),
            };
            let svg = draw(&Picture {
                title: "",
                sentence: "",
                trace: &trace,
                stages: &[],
                sure: Some(&sure),
                hearth: None,
                units: Units::Metric,
            });
            is_well_formed(&svg);
            if odd == 1.0 {
                for part in ["fdough", "8 in 10 kitchens", "(20 to 22)", "L* 80", "thin strips"] {
                    assert!(svg.contains(part), "{part}");
                }
                // a band lies behind its line
                assert!(svg.find("class=\"fdough\"").unwrap() < svg.find("curve dough").unwrap());
            }
        }
    }

    #[test]
    fn every_word_of_the_crust_is_written() {
        let points: Vec<(f64, f64)> =
            (0..30).map(|i| (f64::from(i), 85.0 - 2.0 * f64::from(i))).collect();
        let top = Strip { name: "top", points, fringe: Vec::new() };
        let words: Vec<&str> = top.words().iter().map(|w| w.2).collect();
        let all = ["pale", "light gold", "golden", "deep golden brown", "dark", "very dark"];
        assert_eq!(words, all);
        // L* 75 after five minutes
        assert!((top.words()[1].0 - 5.0).abs() < 0.01);
        for to in [29.0, 400.0] {
            let mut svg = String::new();
            strip(&top, &Axis { to }, &mut svg, 0.0);
            for word in ["pale", "light", "golden", "dark"] {
                assert!(svg.contains(&format!(">{word}")), "{word} {to}");
            }
        }
    }

    /// Source: definition of sRGB. Slack: a step of 255.
    #[test]
    fn greys_are_grey() {
        for (l, grey) in [(0.0, 0), (20.0, 48), (53.585, 128), (100.0, 255)] {
            assert!(srgb(l, 0.0, 0.0).iter().all(|c| c.abs_diff(grey) <= 1), "{l}");
        }
        for l in [f64::NAN, f64::INFINITY, -5.0, 20.0, 50.0, 88.0, 100.0] {
            assert_eq!(crust(l).len(), 7);
        }
    }

    #[test]
    fn words_read_on_every_crust() {
        // the inverse of gamma, by halving
        let linear = |code: &str| {
            let c = f64::from(u8::from_str_radix(code, 16).unwrap()) / 255.0;
            let (mut low, mut high) = (0.0031, 1.0);
            for _ in 0..40 {
                let mid = f64::midpoint(low, high);
                let over = 1.055 * gamma(mid) - 0.055 > c;
                (low, high) = if over { (low, mid) } else { (mid, high) };
            }
            if c > 0.04045 { low } else { c / 12.92 }
        };
        for l in 0..=100 {
            let (ink, back) = legible(f64::from(l), f64::from(l));
            let [r, g, b] = [1, 3, 5].map(|i| linear(&back[i..i + 2]));
            let shine = 0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05;
            let contrast = if ink == "#000" { shine / 0.05 } else { 1.05 / shine };
            assert!(contrast >= 4.5, "{l}: {contrast}");
        }
    }

    #[test]
    fn labels_never_share_a_place() {
        let poles = [0.0, 4.0, 9.0, 50.0, 51.0, 52.0, 99.0];
        let labels: Vec<(f64, f64)> =
            poles.iter().map(|p| (FIELD.0 + p * 9.16, 150.0 + p / 10.0)).collect();
        let flags: Vec<Flag> = fly(&labels).into_iter().map(Option::unwrap).collect();
        for (i, a) in flags.iter().enumerate() {
            for (j, b) in flags.iter().enumerate().filter(|(j, _)| *j != i) {
                assert!(a.row != b.row || a.left > b.right || b.left > a.right, "{i} {j}");
                assert!(b.row < a.row || b.pole < a.left || b.pole > a.right, "{i} {j}");
            }
        }
    }
}
