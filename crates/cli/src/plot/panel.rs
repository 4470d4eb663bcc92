//! Curves over the clock: one measure a panel, named where they end.

use super::clock::Clock;
use super::ribbon::{END, MIDDLE};
use super::svg::{line, path, put, rect, text, thin, wide};

/// Unbroken runs of points.
pub(super) type Pieces = Vec<Vec<(f64, f64)>>;

/// A curve, broken where the dough is handled.
pub(super) struct Curve {
    /// Pieces of (minute, value).
    pub(super) pieces: Pieces,
    /// Class of its stroke, and of its name with a `t` before it.
    pub(super) class: &'static str,
    /// Class of its name.
    pub(super) name_class: &'static str,
    /// Its name.
    pub(super) name: String,
}

/// The 10 to 90 % of a curve over the kitchens asked, broken where the dough is handled.
pub(super) struct Fringe {
    /// Pieces of (minute, low, high).
    pub(super) pieces: Vec<Vec<(f64, f64, f64)>>,
    /// Class of its fill.
    pub(super) class: &'static str,
    /// Whether it says what it is.
    pub(super) named: bool,
}

/// What a band is called in a picture.
pub(super) const EIGHT_IN_TEN: &str = "8 in 10 kitchens";
/// A band narrower than this everywhere is not called anything, px.
const NARROW: f64 = 7.0;

/// A window: the result is good inside.
pub(super) struct Ground {
    /// First minute.
    pub(super) from: f64,
    /// Last minute.
    pub(super) to: f64,
    /// Lower value.
    pub(super) low: f64,
    /// Upper value.
    pub(super) high: f64,
}

/// What a panel shows.
pub(super) struct Panel {
    /// Measure with its unit.
    pub(super) title: &'static str,
    /// Height of the field, px.
    pub(super) height: f64,
    /// Curves, the most important last.
    pub(super) curves: Vec<Curve>,
    /// Bands of curves, behind them.
    pub(super) bands: Vec<Fringe>,
    /// Windows.
    pub(super) grounds: Vec<Ground>,
    /// The axis holds at least this span.
    pub(super) least: (f64, f64),
}

/// What runs along the page below a panel.
pub(super) trait Along {
    /// Where a minute lies, px; minutes outside stay at the edge.
    fn x(&self, minute: f64) -> f64;
    /// Whether a minute is drawn.
    fn holds(&self, minute: f64) -> bool;
    /// Where it begins and ends, px.
    fn ends(&self) -> (f64, f64);
}

impl Along for Clock<'_> {
    fn x(&self, minute: f64) -> f64 {
        self.x(minute)
    }
    fn holds(&self, minute: f64) -> bool {
        self.holds(minute)
    }
    fn ends(&self) -> (f64, f64) {
        (self.left, self.right)
    }
}

/// A box that holds text.
#[derive(Clone, Copy)]
struct Place {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Place {
    fn meets(&self, o: &Self) -> bool {
        self.left < o.right && o.left < self.right && self.top < o.bottom && o.top < self.bottom
    }
}

/// Draws a panel from `top` down; returns its end.
pub(super) fn draw(clock: &impl Along, out: &mut String, panel: &Panel, top: f64) -> f64 {
    let (left, right) = clock.ends();
    text(out, left, top + 11.0, "bold", "", panel.title);
    let field = (top + 20.0, top + 20.0 + panel.height);
    let values = panel
        .curves
        .iter()
        .flat_map(|c| c.pieces.iter().flatten().map(|p| p.1))
        .chain(panel.bands.iter().flat_map(|b| &b.pieces).flatten().flat_map(|p| [p.1, p.2]))
        .chain(panel.grounds.iter().flat_map(|g| [g.low, g.high]))
        .filter(|v| v.is_finite() && v.abs() < 1e6);
    let (low, high) = values.fold(panel.least, |(a, b), v| (a.min(v), b.max(v)));
    let (ticks, decimals) = nice(low, high);
    let (low, high) = (low.min(ticks[0]), high.max(ticks[ticks.len() - 1]));
    let y = |v: f64| field.1 - (v.clamp(low, high) - low) / (high - low) * panel.height;
    for g in &panel.grounds {
        if [g.from, g.to, g.low, g.high].iter().all(|v| v.is_finite()) && g.to >= g.from {
            let (mut a, mut b) = (clock.x(g.from), clock.x(g.to));
            if b - a < 12.0 {
                let mid = f64::midpoint(a, b);
                (a, b) = (mid - 6.0, mid + 6.0);
            }
            rect(out, a, y(g.high), b - a, y(g.low) - y(g.high), r#"class="window rim""#);
        }
    }
    for v in &ticks {
        line(out, (left, y(*v)), (right, y(*v)), "hair");
        let word = format!("{v:.decimals$}").replace('-', "−");
        text(out, left - 8.0, y(*v) + 4.0, "soft", END, &word);
    }
    line(out, (left, field.0), (left, field.1), "axis");
    let edges: Vec<Curve> = panel.bands.iter().filter_map(|b| band(clock, out, b, &y)).collect();
    let mut drawn: Vec<(&Curve, Pieces)> = Vec::new();
    for edge in &edges {
        drawn.push((edge, edge.pieces.clone()));
    }
    for curve in &panel.curves {
        let mut pieces = Vec::new();
        for piece in &curve.pieces {
            let points: Vec<(f64, f64)> = piece
                .iter()
                .filter(|(t, v)| v.is_finite() && clock.holds(*t))
                .map(|(t, v)| (clock.x(*t), y(*v)))
                .collect();
            if points.len() > 1 {
                put!(
                    out,
                    r#"<path d="{}" class="curve {}"/>"#,
                    path(&thin(&points, 0.2)),
                    curve.class
                );
                out.push('\n');
            }
            if !points.is_empty() {
                pieces.push(points);
            }
        }
        drawn.push((curve, pieces));
    }
    name_curves(out, &drawn, (left, right), field);
    field.1
}

/// Draws a band; where it is widest its upper edge in px carries its name.
fn band(
    clock: &impl Along,
    out: &mut String,
    band: &Fringe,
    y: &impl Fn(f64) -> f64,
) -> Option<Curve> {
    let mut widest: Pieces = Vec::new();
    let mut most = NARROW;
    for piece in &band.pieces {
        let points: Vec<(f64, f64, f64)> = piece
            .iter()
            .filter(|(t, a, b)| a.is_finite() && b.is_finite() && clock.holds(*t))
            .map(|(t, a, b)| (clock.x(*t), y(*a), y(*b)))
            .collect();
        if points.len() < 2 {
            continue;
        }
        let low: Vec<(f64, f64)> = points.iter().map(|p| (p.0, p.1)).collect();
        let high: Vec<(f64, f64)> = points.iter().map(|p| (p.0, p.2)).collect();
        let mut around = thin(&high, 0.2);
        around.extend(thin(&low, 0.2).into_iter().rev());
        put!(out, r#"<path d="{}Z" class="{}"/>"#, path(&around), band.class);
        out.push('\n');
        let here = points.iter().map(|p| p.1 - p.2).fold(0.0, f64::max);
        if here > most {
            most = here;
            let wide = points.iter().filter(|p| p.1 - p.2 > 0.7 * here);
            widest = vec![wide.map(|p| (p.0, p.2)).collect()];
        }
    }
    (band.named && !widest.is_empty()).then(|| Curve {
        pieces: widest,
        class: "",
        name_class: "small",
        name: EIGHT_IN_TEN.to_owned(),
    })
}

/// Puts each name where it covers least: after the curve's end, above or below it, at its
/// beginning, along it.
fn name_curves(out: &mut String, drawn: &[(&Curve, Pieces)], across: (f64, f64), down: (f64, f64)) {
    const HIGH: f64 = 13.0;
    let dots: Vec<(usize, f64, f64)> = drawn
        .iter()
        .enumerate()
        .flat_map(|(i, (_, pieces))| {
            pieces.iter().flat_map(move |p| dense(p).into_iter().map(move |(x, y)| (i, x, y)))
        })
        .collect();
    let mut taken: Vec<Place> = Vec::new();
    // the most important first
    for (i, (curve, pieces)) in drawn.iter().enumerate().rev() {
        let Some(end) = pieces.last().and_then(|p| p.last()).copied() else { continue };
        let long = wide(&curve.name, 12.0);
        let around = |x: f64, y: f64| Place {
            left: x,
            right: x + long,
            top: y - HIGH / 2.0,
            bottom: y + HIGH / 2.0,
        };
        let mut spots: Vec<(f64, Place)> = Vec::new();
        for nudge in [0.0_f64, -7.0, 7.0, -13.0, 13.0] {
            spots.push((nudge.abs() / 4.0, around(end.0 + 5.0, end.1 + nudge)));
        }
        for (k, piece) in pieces.iter().rev().enumerate() {
            for share in [0.92, 0.75, 0.5, 0.3, 0.1] {
                let at = piece[((piece.len() - 1) as f64 * share) as usize];
                for (cost, dy) in [(0.0, -11.0), (0.5, 11.0), (1.0, -18.0), (1.5, 18.0)] {
                    let spot = around(at.0 - long / 2.0, at.1 + dy);
                    spots.push((4.0 + cost + k as f64 + (1.0 - share), spot));
                }
            }
        }
        let cost = |(base, p): &(f64, Place)| {
            let mut cost = *base;
            let roomy = Place {
                left: p.left - 2.0,
                right: p.right + 2.0,
                top: p.top - 1.0,
                bottom: p.bottom + 1.0,
            };
            for (j, x, y) in &dots {
                if *x > roomy.left && *x < roomy.right && *y > roomy.top && *y < roomy.bottom {
                    cost += if *j == i { 1.5 } else { 3.0 };
                }
            }
            cost += 500.0 * taken.iter().filter(|t| t.meets(&roomy)).count() as f64;
            if p.left < across.0 || p.right > super::WIDTH - 2.0 {
                cost += 900.0;
            }
            if p.top < down.0 - 8.0 || p.bottom > down.1 + 4.0 {
                cost += 900.0;
            }
            cost
        };
        let best = spots.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)));
        if let Some((_, p)) = best {
            let class = format!("{} halo", curve.name_class);
            text(out, p.left, p.bottom - 2.5, &class, "", &curve.name);
            taken.push(*p);
        }
    }
}

/// A curve as dots no further than 3 px apart.
fn dense(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let far = (b.0 - a.0).abs().max((b.1 - a.1).abs());
        let parts = (far / 3.0).ceil().clamp(1.0, 400.0);
        for k in 1..=parts as u32 {
            let f = f64::from(k) / parts;
            out.push((a.0 + (b.0 - a.0) * f, a.1 + (b.1 - a.1) * f));
        }
    }
    out
}

/// Round values that span a range, at least two, and the decimals they need.
fn nice(low: f64, high: f64) -> (Vec<f64>, usize) {
    let (low, high) = if low.is_finite() && high.is_finite() && high - low > 1e-6 {
        (low, high)
    } else {
        (0.0, 1.0)
    };
    let rough = (high - low) / 4.5;
    let (mut unit, mut decimals) = (1.0, 0_usize);
    while unit * 10.0 <= rough {
        unit *= 10.0;
    }
    while unit > rough && decimals < 6 {
        unit /= 10.0;
        decimals += 1;
    }
    let step = [1.0, 2.0, 2.5, 5.0, 10.0]
        .into_iter()
        .map(|k| k * unit)
        .find(|s| *s >= rough * 0.999)
        .unwrap_or(unit * 10.0);
    let halves = (step / unit - 2.5).abs() < 0.01;
    let tens = (step / unit - 10.0).abs() < 0.01;
    let decimals = decimals + usize::from(halves && unit < 5.0) - usize::from(tens && decimals > 0);
    let (first, last) = ((low / step + 0.02).floor(), (high / step - 0.02).ceil());
    let count = (last - first).clamp(1.0, 30.0) as u32;
    ((0..=count).map(|i| (first + f64::from(i)) * step).collect(), decimals)
}

/// The clock under a block: hours, days, and hairlines up to `top`.
pub(super) fn clock(clock: &Clock<'_>, out: &mut String, y: f64, lines: (f64, f64)) -> f64 {
    let (hours, midnights) = clock.ticks();
    for t in hours.iter().chain(&midnights) {
        line(out, (clock.x(*t), lines.0), (clock.x(*t), lines.1), "hair");
    }
    line(out, (clock.left, y), (clock.right, y), "axis");
    for t in &hours {
        line(out, (clock.x(*t), y), (clock.x(*t), y + 5.0), "axis");
        text(out, clock.x(*t), y + 18.0, "soft", MIDDLE, &clock.time(*t));
    }
    let mut end = f64::NEG_INFINITY;
    let first = (clock.from, clock.day(clock.from));
    let days: Vec<(f64, String)> =
        std::iter::once(first).chain(midnights.iter().map(|t| (*t, clock.day(*t)))).collect();
    for (i, (t, word)) in days.iter().enumerate() {
        let (x, long) = (clock.x(*t), wide(word, 12.0));
        let next = days.get(i + 1).map_or(clock.right + 30.0, |d| clock.x(d.0));
        // the first day gives way when its rest is short
        if x < end + 8.0 || (i == 0 && x + long + 8.0 > next) {
            continue;
        }
        if i > 0 {
            line(out, (x, y + 24.0), (x, y + 36.0), "axis");
            line(out, (x, y), (x, y + 5.0), "axis");
        }
        text(out, x + if i > 0 { 5.0 } else { 0.0 }, y + 34.0, "bold", "", word);
        end = x + long;
    }
    y + 42.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_have_round_values() {
        let words = |a: f64, b: f64| {
            let (v, d) = nice(a, b);
            v.iter().map(|v| format!("{v:.d$}")).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(words(0.0, 63.0), "0 20 40 60 80");
        assert_eq!(words(3.75, 5.9), "3.5 4.0 4.5 5.0 5.5 6.0");
        assert_eq!(words(0.0, 260.0), "0 100 200 300");
        assert_eq!(words(4.0, 27.0), "0 10 20 30");
        for (a, b) in [(f64::NAN, 1.0), (1.0, 1.0), (2.0, -3.0), (0.0, 1e300), (-1e300, 1e300)] {
            let (v, _) = nice(a, b);
            assert!(v.len() >= 2 && v.len() < 40 && v.iter().all(|x| x.is_finite()));
        }
    }
}
