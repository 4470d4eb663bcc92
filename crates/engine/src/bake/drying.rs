//! The drying curve of bread in its own steam, as a table made once for a pressure.
//!
//! Straight lines between knots, so that heat content is a parabola between them and can be
//! turned round exactly. The knots crowd where the curve is steep, just above boiling.

use crate::numerics::lanes::{Lanes, Mask, ln};
use crate::properties::{
    LIQUID_WATER_CP, boiling_point, crumb_j_per_kg, equilibrium_moisture, latent_j_per_kg,
    water_saturation,
};
use quantity::{Celsius, Kilopascal};

/// Knots of the table.
const KNOTS: usize = 224;
/// First knot above the temperature at which the wettest dough boils, K.
const FIRST_K: f64 = 0.002;
/// Each gap is this much wider than the one before: moisture within 0.03 % of the curve.
const GROWTH: f64 = 1.06;
/// Last knot from which a line starts.
const LAST: f64 = (KNOTS - 2) as f64;
/// Rows of the table, unused ones at its end: a power of two, so that no index is out of it.
const ROWS: usize = 256;
/// From here on knots are so far apart, K: past the end of the saturation line nothing is left
/// to dry.
const PAST: (f64, f64) = (370.0, 5.0);
/// 1.5·2⁵²: adding it leaves a small whole number in the lowest bits.
const WHOLE: f64 = 6_755_399_441_055_744.0;
/// Slope of the latent heat, J/(kg K); see [`latent_j_per_kg`].
const LATENT_SLOPE: f64 = 2440.0;

/// Bounds of any temperature, °C: no bread gets there, a search may.
const COLDEST: f64 = -150.0;
const HOTTEST: f64 = 600.0;

/// Moisture that bread keeps in steam, by temperature, under one pressure.
#[derive(Debug, Clone)]
pub(crate) struct Drying {
    rows: [Row; ROWS],
    /// Where the curve would be endlessly wet, °C.
    start: f64,
    /// First knot of the even spacing past the end.
    past: f64,
    /// 1/ln of [`GROWTH`].
    per_ln: f64,
    /// Pressure, Pa.
    pub(crate) pressure_pa: f64,
}

/// A knot and the line from it to the next.
#[derive(Debug, Clone, Copy, Default)]
#[repr(align(32))]
struct Row {
    /// Temperature, °C.
    t: f64,
    /// Moisture, kg per kg solids, falling.
    w: f64,
    /// Slope, 1/K, negative.
    slope: f64,
}

/// The line of the table that a cell is on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line<L> {
    t: L,
    w: L,
    slope: L,
}

/// A cell at the start of a step: what it holds before heat arrives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wet<L = f64> {
    /// Moisture, kg per kg solids.
    pub(crate) w: L,
    /// Heat content, J per kg solids.
    pub(crate) e: L,
    /// Boils at, °C.
    pub(crate) boils: L,
}

/// A cell at a trial temperature.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Trial<L = f64> {
    /// Heat taken up since the start of the step, J per kg solids, vapour's included.
    pub(crate) heat: L,
    /// Its slope, J/(kg K).
    pub(crate) slope: L,
    /// Moisture, kg per kg solids.
    pub(crate) w: L,
}

impl<L: Lanes> Line<L> {
    /// None: for a cell that does not boil.
    #[inline(always)]
    pub(crate) fn none() -> Self {
        let none = L::splat(0.0);
        Self { t: none, w: none, slope: none }
    }

    /// One where the mask says so, else the other.
    #[inline(always)]
    fn select(mask: L::Mask, yes: Self, no: Self) -> Self {
        Self {
            t: L::select(mask, yes.t, no.t),
            w: L::select(mask, yes.w, no.w),
            slope: L::select(mask, yes.slope, no.slope),
        }
    }
}

impl Drying {
    /// The table for a pressure.
    pub(crate) fn new(pressure: Kilopascal) -> Self {
        let p = if pressure.0.is_finite() { pressure.0.clamp(20.0, 400.0) } else { 101.325 };
        let p = Kilopascal(p);
        // where salt dough would boil if endlessly wet: a little above water
        let mut start = boiling_point(p).0;
        for _ in 0..4 {
            // Newton on ln p_sat = ln(p/0.985/0.99999), slope as at boiling, 0.036 per K
            let want = p.0 / (crate::properties::SALT_ACTIVITY * 0.999_99);
            start += libm::log(want / water_saturation(Celsius(start)).0) / 0.0356;
        }
        let mut rows = [Row::default(); ROWS];
        let mut gap = FIRST_K;
        let mut at = start + FIRST_K;
        let mut past = LAST;
        for (i, row) in rows.iter_mut().enumerate().take(KNOTS) {
            row.t = at;
            row.w = equilibrium_moisture(Celsius(at), p).min(50.0);
            gap *= GROWTH;
            at += gap;
            if at > PAST.0 {
                past = past.min(i as f64);
                at = row.t + PAST.1;
            }
        }
        for i in 0..KNOTS - 1 {
            rows[i + 1].w = rows[i + 1].w.min(rows[i].w).max(0.0);
            rows[i].slope = (rows[i + 1].w - rows[i].w) / (rows[i + 1].t - rows[i].t);
        }
        Self { rows, start, past, per_ln: 1.0 / libm::log(GROWTH), pressure_pa: 1000.0 * p.0 }
    }

    /// Below this nothing boils, °C.
    pub(crate) fn lowest(&self) -> f64 {
        self.rows[0].t
    }

    /// The lines from these knots, and temperature and moisture where they end.
    #[inline(always)]
    fn lines<L: Lanes>(&self, knot: L) -> (Line<L>, (L, L)) {
        let whole = knot + WHOLE;
        let at = |i: usize| whole.lane(i).to_bits() as usize;
        let row = |i: usize| &self.rows[at(i) % ROWS];
        let next = |i: usize| &self.rows[(at(i) + 1) % ROWS];
        let line = Line {
            t: L::from_fn(|i| row(i).t),
            w: L::from_fn(|i| row(i).w),
            slope: L::from_fn(|i| row(i).slope),
        };
        (line, (L::from_fn(|i| next(i).t), L::from_fn(|i| next(i).w)))
    }

    /// The line at a temperature.
    ///
    /// Gaps grow by a factor, so that the logarithm counts knots; at a knot either line will do.
    #[inline(always)]
    pub(crate) fn line<L: Lanes>(&self, t: L) -> Line<L> {
        let even = (t - self.rows[self.past as usize % ROWS].t) / PAST.1;
        let knots = ln((t - self.start) * ((GROWTH - 1.0) / FIRST_K) + 1.0) * self.per_ln - 1.0;
        let knot = L::select(even.above(L::splat(0.0)), even + self.past, knots);
        self.lines(floor(knot).within(0.0, LAST)).0
    }

    /// Temperature at which moisture `w` boils; `near` is a first guess of the knot.
    #[inline(always)]
    pub(crate) fn boils<L: Lanes>(&self, w: L, near: &mut L) -> L {
        let dry = w.below(L::splat(self.rows[0].w));
        if !dry.any() {
            return L::splat(self.lowest());
        }
        let mut knot = *near;
        let line = loop {
            let (line, next) = self.lines(knot);
            let down = dry & w.above(line.w) & knot.above(L::splat(0.0));
            let up = dry & w.upto(next.1) & knot.below(L::splat(LAST));
            if !(down | up).any() {
                break line;
            }
            knot = L::select(up, knot + 1.0, L::select(down, knot - 1.0, knot));
        };
        *near = knot;
        let on_line = (line.t + (w - line.w) / line.slope).at_most(400.0);
        let at = L::select(line.slope.below(L::splat(0.0)), on_line, L::splat(400.0));
        L::select(dry, at, L::splat(self.lowest()))
    }

    /// A cell brought to temperature `t`; `line` is the table's there if it boils.
    ///
    /// ```text
    /// φ = (1391 + 2.5 T) T + 4200 W₀ T + (W₀ − W) λ(T) − e₀,   W = min(W₀, W_eq(T))
    /// ```
    #[inline(always)]
    pub(crate) fn trial<L: Lanes>(t: L, wet: &Wet<L>, line: &Line<L>) -> Trial<L> {
        let heat = crumb_j_per_kg(t, wet.w) - wet.e;
        let slope = t * 5.0 + 1391.0 + wet.w * LIQUID_WATER_CP;
        let boils = t.above(wet.boils);
        if !boils.any() {
            return Trial { heat, slope, w: wet.w };
        }
        let w = (line.w + line.slope * (t - line.t)).smaller(wet.w).at_least(0.0);
        let gone = wet.w - w;
        let latent = latent_j_per_kg(t);
        let dries = slope - line.slope * latent - gone * LATENT_SLOPE;
        Trial {
            heat: L::select(boils, heat + gone * latent, heat),
            slope: L::select(boils, dries, slope),
            w: L::select(boils, w, wet.w),
        }
    }

    /// The temperature at which a cell has taken up `heat`, the inverse of
    /// [`trial`](Self::trial), and its line. Only lanes of the mask count; `near` is a first guess
    /// of the knot.
    #[inline(always)]
    pub(crate) fn temperature<L: Lanes>(
        &self,
        lanes: L::Mask,
        heat: L,
        wet: &Wet<L>,
        near: &mut L,
        line: &mut Line<L>,
    ) -> L {
        let below = heat.upto(crumb_j_per_kg(wet.boils, wet.w) - wet.e);
        let boils = lanes & !below;
        let mut t = wet.boils;
        if !boils.all() {
            // 2.5 T² + (1391 + 4200 W) T = heat + e₀
            let (b, c) = (wet.w * LIQUID_WATER_CP + 1391.0, heat + wet.e);
            t = (c * 2.0 / (b + (b * b + c * 10.0).at_least(0.0).root())).at_least(COLDEST);
            if !boils.any() {
                return t;
            }
        }
        let mut knot = *near;
        let (found, here) = loop {
            let (line, next) = self.lines(knot);
            let here = at_knot(wet, line.t, line.w);
            let down = boils & heat.below(here) & knot.above(L::splat(0.0));
            let up = boils & at_knot(wet, next.0, next.1).upto(heat) & knot.below(L::splat(LAST));
            if !(down | up).any() {
                break (line, here);
            }
            knot = L::select(up, knot + 1.0, L::select(down, knot - 1.0, knot));
        };
        *near = knot;
        *line = Line::select(boils, found, *line);
        let s = found.slope;
        let a = s * LATENT_SLOPE + 2.5;
        let b = found.t * 5.0 + 1391.0 + wet.w * LIQUID_WATER_CP
            - s * latent_j_per_kg(found.t)
            - (wet.w - found.w) * LATENT_SLOPE;
        let f = heat - here;
        let x = f * 2.0 / (b + (b * b + a * f * 4.0).at_least(0.0).root());
        L::select(boils, (found.t + x).at_most(HOTTEST).larger(wet.boils), t)
    }
}

/// Heat taken up at a knot without the limit W ≤ W₀: the same parabola on both sides of it.
#[inline(always)]
fn at_knot<L: Lanes>(wet: &Wet<L>, t: L, w: L) -> L {
    crumb_j_per_kg(t, wet.w) - wet.e + (wet.w - w) * latent_j_per_kg(t)
}

/// Whole number not above.
#[inline(always)]
fn floor<L: Lanes>(x: L) -> L {
    -(-x).ceiling()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wet(drying: &Drying, w: f64, t: f64) -> Wet {
        Wet { w, e: crumb_j_per_kg(t, w), boils: drying.boils(w, &mut 0.0) }
    }

    #[test]
    fn boils_where_the_curve_says() {
        let drying = Drying::new(Kilopascal(101.325));
        for w in [0.9, 0.7, 0.5, 0.3, 0.2, 0.1, 0.05] {
            let exact = crate::properties::dough_boiling_point(w, Kilopascal(101.325)).0;
            let ours = drying.boils(w, &mut 100.0);
            assert!((ours - exact).abs() < 0.005 * (exact - 100.0), "{w}: {ours} is not {exact}");
        }
    }

    proptest! {
        /// Law: heat and temperature invert each other, whatever the guess of the knot.
        #[test]
        fn heat_and_temperature_invert(
            w in 0.001..1.5f64, t0 in 0.0..100.0f64, t in 0.0..350.0f64, near in 0..222u8,
            p in 40.0..105.0f64,
        ) {
            let drying = Drying::new(Kilopascal(p));
            let cell = wet(&drying, w, t0);
            let trial = Drying::trial(t, &cell, &drying.line(t));
            let (mut near, mut line) = (f64::from(near), Line::none());
            let back = drying.temperature(true, trial.heat, &cell, &mut near, &mut line);
            prop_assert!((back - t).abs() < 1e-7, "{} {}", back, t);
            // the line found on the way is the one looked up
            let again = Drying::trial(back, &cell, &line);
            prop_assert!((again.w - trial.w).abs() < 1e-9 * trial.w + 1e-12);
            let up = Drying::trial(t + 1e-6, &cell, &drying.line(t + 1e-6));
            prop_assert!(up.heat > trial.heat);
        }
    }

    /// Law: the logarithm counts knots: each line is found from its middle, and just inside.
    #[test]
    fn lines_are_found_without_a_search() {
        for p in [40.0, 101.325, 400.0] {
            let drying = Drying::new(Kilopascal(p));
            for pair in drying.rows[..KNOTS].windows(2) {
                let gap = pair[1].t - pair[0].t;
                for part in [0.001, 0.5, 0.999] {
                    assert_eq!(drying.line(pair[0].t + part * gap).t, pair[0].t, "{p}");
                }
            }
            assert_eq!(drying.line(-1e9).t, drying.rows[0].t);
            assert_eq!(drying.line(1e9).t, drying.rows[KNOTS - 2].t);
        }
    }

    #[test]
    fn odd_pressures_make_a_table() {
        for p in [f64::NAN, -1.0, 0.0, 1e9, f64::INFINITY] {
            let drying = Drying::new(Kilopascal(p));
            assert!(drying.rows.iter().all(|r| r.t.is_finite() && r.w.is_finite()));
        }
    }
}
