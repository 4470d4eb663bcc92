//! The drying curve of bread in its own steam, as a table made once for a pressure.
//!
//! Straight lines between knots, so that heat content is a parabola between them and can be
//! turned round exactly. The knots crowd where the curve is steep, just above boiling.

use crate::properties::{
    LIQUID_WATER_CP, boiling_point, crumb_enthalpy, equilibrium_moisture, latent_heat,
    water_saturation,
};
use quantity::{Celsius, Kilopascal};

/// Knots of the table.
const KNOTS: usize = 224;
/// First knot above the temperature at which the wettest dough boils, K.
const FIRST_K: f64 = 0.002;
/// Each gap is this much wider than the one before: moisture within 0.03 % of the curve.
const GROWTH: f64 = 1.06;
/// Slope of the latent heat, J/(kg K); see [`latent_heat`].
const LATENT_SLOPE: f64 = 2440.0;

/// Bounds of any temperature, °C: no bread gets there, a search may.
const COLDEST: f64 = -150.0;
const HOTTEST: f64 = 600.0;

/// Latent heat, J/kg.
fn latent(t: f64) -> f64 {
    latent_heat(Celsius(t))
}

/// Moisture that bread keeps in steam, by temperature, under one pressure.
#[derive(Debug, Clone)]
pub(crate) struct Drying {
    /// Knots, °C.
    t: [f64; KNOTS],
    /// Moisture at each, kg per kg solids, falling.
    w: [f64; KNOTS],
    /// Slope from each knot to the next, 1/K, negative.
    slope: [f64; KNOTS],
    /// Pressure, Pa.
    pub(crate) pressure_pa: f64,
}

/// A cell at the start of a step: what it holds before heat arrives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wet {
    /// Moisture, kg per kg solids.
    pub(crate) w: f64,
    /// Heat content, J per kg solids.
    pub(crate) e: f64,
    /// Boils at, °C.
    pub(crate) boils: f64,
}

/// A cell at a trial temperature.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Trial {
    /// Heat taken up since the start of the step, J per kg solids, vapour's included.
    pub(crate) heat: f64,
    /// Its slope, J/(kg K).
    pub(crate) slope: f64,
    /// Moisture, kg per kg solids.
    pub(crate) w: f64,
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
        let (mut t, mut w, mut slope) = ([0.0; KNOTS], [0.0; KNOTS], [0.0; KNOTS]);
        let mut gap = FIRST_K;
        let mut at = start + FIRST_K;
        for i in 0..KNOTS {
            t[i] = at;
            w[i] = equilibrium_moisture(Celsius(at), p).min(50.0);
            gap *= GROWTH;
            at += gap;
            if at > 370.0 {
                at = t[i] + 5.0; // past the end of the saturation line nothing is left to dry
            }
        }
        for i in 0..KNOTS - 1 {
            w[i + 1] = w[i + 1].min(w[i]).max(0.0);
            slope[i] = (w[i + 1] - w[i]) / (t[i + 1] - t[i]);
        }
        Self { t, w, slope, pressure_pa: 1000.0 * p.0 }
    }

    /// Below this nothing boils, °C.
    pub(crate) fn lowest(&self) -> f64 {
        self.t[0]
    }

    /// Knot at or below a temperature; `near` is a first guess.
    fn knot(&self, t: f64, near: usize) -> usize {
        let mut k = near.min(KNOTS - 2);
        while k > 0 && t < self.t[k] {
            k -= 1;
        }
        while k < KNOTS - 2 && t >= self.t[k + 1] {
            k += 1;
        }
        k
    }

    /// Temperature at which moisture `w` boils.
    pub(crate) fn boils(&self, w: f64, near: &mut usize) -> f64 {
        if w >= self.w[0] {
            return self.t[0];
        }
        let mut k = (*near).min(KNOTS - 2);
        while k > 0 && w > self.w[k] {
            k -= 1;
        }
        while k < KNOTS - 2 && w <= self.w[k + 1] {
            k += 1;
        }
        *near = k;
        if self.slope[k] < 0.0 {
            (self.t[k] + (w - self.w[k]) / self.slope[k]).min(400.0)
        } else {
            400.0
        }
    }

    /// A cell brought to temperature `t`.
    ///
    /// ```text
    /// φ = (1391 + 2.5 T) T + 4200 W₀ T + (W₀ − W) λ(T) − e₀,   W = min(W₀, W_eq(T))
    /// ```
    pub(crate) fn trial(&self, t: f64, wet: &Wet, near: &mut usize) -> Trial {
        let mut heat = crumb_enthalpy(Celsius(t), wet.w) - wet.e;
        let mut slope = 1391.0 + 5.0 * t + LIQUID_WATER_CP * wet.w;
        if t <= wet.boils {
            return Trial { heat, slope, w: wet.w };
        }
        let k = self.knot(t, *near);
        *near = k;
        let w = (self.w[k] + self.slope[k] * (t - self.t[k])).min(wet.w).max(0.0);
        let gone = wet.w - w;
        heat += gone * latent(t);
        slope += -self.slope[k] * latent(t) - gone * LATENT_SLOPE;
        Trial { heat, slope, w }
    }

    /// The temperature at which a cell has taken up `heat`; the inverse of [`trial`](Self::trial).
    pub(crate) fn temperature(&self, heat: f64, wet: &Wet, near: &mut usize) -> f64 {
        // 2.5 T² + (1391 + 4200 W) T = heat + e₀
        let (b, c) = (1391.0 + LIQUID_WATER_CP * wet.w, heat + wet.e);
        let t = 2.0 * c / (b + (b * b + 10.0 * c).max(0.0).sqrt());
        if t <= wet.boils {
            return t.max(COLDEST);
        }
        // heat taken up at knot k without the limit W ≤ W₀: the same parabola on both sides
        let at_knot = |k: usize| {
            let (t, w) = (self.t[k], self.w[k]);
            crumb_enthalpy(Celsius(t), wet.w) - wet.e + (wet.w - w) * latent(t)
        };
        let first = self.knot(wet.boils, *near);
        let mut k = (*near).clamp(first, KNOTS - 2);
        let mut here = at_knot(k);
        while k > first && heat < here {
            k -= 1;
            here = at_knot(k);
        }
        while k < KNOTS - 2 {
            let next = at_knot(k + 1);
            if heat < next {
                break;
            }
            k += 1;
            here = next;
        }
        *near = k;
        let (t, s) = (self.t[k], self.slope[k]);
        let a = 2.5 + s * LATENT_SLOPE;
        let b = 1391.0 + 5.0 * t + LIQUID_WATER_CP * wet.w
            - s * latent(t)
            - LATENT_SLOPE * (wet.w - self.w[k]);
        let f = heat - here;
        let x = 2.0 * f / (b + (b * b + 4.0 * a * f).max(0.0).sqrt());
        (t + x).min(HOTTEST).max(wet.boils)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wet(drying: &Drying, w: f64, t: f64) -> Wet {
        Wet { w, e: crumb_enthalpy(Celsius(t), w), boils: drying.boils(w, &mut 0) }
    }

    #[test]
    fn boils_where_the_curve_says() {
        let drying = Drying::new(Kilopascal(101.325));
        for w in [0.9, 0.7, 0.5, 0.3, 0.2, 0.1, 0.05] {
            let exact = crate::properties::dough_boiling_point(w, Kilopascal(101.325)).0;
            let ours = drying.boils(w, &mut 100);
            assert!((ours - exact).abs() < 0.005 * (exact - 100.0), "{w}: {ours} is not {exact}");
        }
    }

    proptest! {
        /// Law: heat and temperature invert each other, whatever the guess of the knot.
        #[test]
        fn heat_and_temperature_invert(
            w in 0.001..1.5f64, t0 in 0.0..100.0f64, t in 0.0..350.0f64, near in 0..300usize,
            p in 40.0..105.0f64,
        ) {
            let drying = Drying::new(Kilopascal(p));
            let cell = wet(&drying, w, t0);
            let trial = drying.trial(t, &cell, &mut near.clone());
            let back = drying.temperature(trial.heat, &cell, &mut near.clone());
            prop_assert!((back - t).abs() < 1e-7, "{} {}", back, t);
            let up = drying.trial(t + 1e-6, &cell, &mut near.clone());
            prop_assert!(up.heat > trial.heat);
        }
    }

    #[test]
    fn odd_pressures_make_a_table() {
        for p in [f64::NAN, -1.0, 0.0, 1e9, f64::INFINITY] {
            let drying = Drying::new(Kilopascal(p));
            assert!(drying.t.iter().chain(&drying.w).all(|x| x.is_finite()));
        }
    }
}
