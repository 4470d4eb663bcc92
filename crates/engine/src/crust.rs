//! Crust and crumb: colour, thickness, gloss, set starch, and when the bread is done.
//!
//! Colour follows two published rate laws side by side: lightness L* (Purlis and Salvadori
//! 2009) and total colour change ΔE (Zanoni, Peri and Bruno 1995). Neither was measured on
//! lean hearth bread and colour is the least certain thing an oven model says: 10 K of true
//! oven temperature move L* by 10. The words are ours and not calibrated against eyes.
//!
//! Left out on purpose: any figure for acrylamide. The model does not know the asparagine of
//! a flour, and a wrong figure would be worse than none.

use crate::bake::BakeParameters;
use crate::numerics::lanes::{Lanes, Mask, exp};
use crate::properties::{ZERO_CELSIUS_K, activity, boiling_point, saturation_kpa};
use quantity::{Celsius, Kilopascal, Millimetres, Percent, TempRise};

/// Lightness of raw dough, L*. *From memory*, with the rate law.
pub const RAW_LIGHTNESS: f64 = 85.0;
/// Lightness is not followed below this: burnt.
pub const BURNT_LIGHTNESS: f64 = 20.0;
/// Total colour change of a burnt crust, ΔE. Zanoni, Peri and Bruno 1995, *published*.
pub const BURNT_CHANGE: f64 = 52.0;
/// The rate of lightness falls to nothing in very dry crust, which it does not do in life:
/// water activity counts as this at least. *Calibrated*.
pub const ACTIVITY_FLOOR: f64 = 0.1;
/// Gas constant, J/(mol K), as used with the constants below.
const GAS_CONSTANT: f64 = 8.314;
/// Water activity above which crust does not brown: it is wet.
const WET_ACTIVITY: f64 = 0.95;

/// Rate at which lightness falls, 1/min: dL*/dt = −k L*.
///
/// ```text
/// k = (7.9233e6 + 2.7397e6/a) exp(−(8701.5 + 49.4738/a)/T)     T in K
/// ```
///
/// For crust above 100 °C, water activity `a` 0.1 to 0.95. Source: Purlis and Salvadori 2009,
/// *from memory*: no printed confirmation was found.
pub fn lightness_rate_per_min(t: Celsius, activity: f64) -> f64 {
    lightness_per_min(t.0, activity)
}

/// [`lightness_rate_per_min`] in lanes.
#[inline(always)]
fn lightness_per_min<L: Lanes>(t_deg_c: L, activity: L) -> L {
    let a = activity.within(ACTIVITY_FLOOR, 1.0);
    let kelvin = (t_deg_c + ZERO_CELSIUS_K).at_least(1.0);
    (L::splat(2.7397e6) / a + 7.9233e6) * exp(-(L::splat(49.4738) / a + 8701.5) / kelvin)
}

/// Rate of the total colour change, 1/s: dΔE/dt = k (52 − ΔE).
///
/// k = 42000 exp(−64151/(8.314 T)), T in K. Source: Zanoni, Peri and Bruno 1995, *published*.
pub fn change_rate_per_s(t: Celsius) -> f64 {
    change_per_s(t.0)
}

/// [`change_rate_per_s`] in lanes.
#[inline(always)]
fn change_per_s<L: Lanes>(t_deg_c: L) -> L {
    let kelvin = (t_deg_c + ZERO_CELSIUS_K).at_least(1.0);
    exp(L::splat(-64_151.0 / GAS_CONSTANT) / kelvin) * 42_000.0
}

/// Rate at which starch sets, 1/s: dα/dt = k (1 − α).
///
/// k = 2.8e18 exp(−139000/(8.314 T)), T in K; enough water taken for granted. Source: Zanoni,
/// Schiraldi and Simonetta 1995, *from memory*: no printed confirmation was found.
pub fn starch_rate_per_s(t: Celsius) -> f64 {
    starch_per_s(t.0)
}

/// [`starch_rate_per_s`] in lanes.
#[inline(always)]
pub(crate) fn starch_per_s<L: Lanes>(t_deg_c: L) -> L {
    let kelvin = (t_deg_c + ZERO_CELSIUS_K).at_least(1.0);
    exp(L::splat(-139_000.0 / GAS_CONSTANT) / kelvin) * 2.8e18
}

/// Colour of a crust as it bakes, or one in each lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Colour<L = f64> {
    /// L*.
    pub(crate) lightness: L,
    /// ΔE.
    pub(crate) change: L,
    /// ∫ k dt of starch that set at the surface under a film of water.
    wet_set: L,
}

impl<L: Lanes> Colour<L> {
    pub(crate) fn raw() -> Self {
        let none = L::splat(0.0);
        Self { lightness: L::splat(RAW_LIGHTNESS), change: none, wet_set: none }
    }

    /// Share of the skin's starch that set under water: what shines.
    #[inline(always)]
    pub(crate) fn gloss(&self) -> L {
        L::splat(1.0) - exp(-self.wet_set)
    }

    /// Moves on by `dt` seconds at a surface of `t` °C and moisture `w`; `film` kg/m² of water
    /// on it; `browning` multiplies the speed of the parameters.
    #[inline(always)]
    pub(crate) fn step(
        &mut self,
        dt: f64,
        (t, w, film): (L, L, L),
        browning: L,
        pressure: Kilopascal,
        parameters: &BakeParameters,
    ) {
        let wet = film.above(L::splat(GLOSS_FILM));
        if wet.any() {
            let set = self.wet_set + starch_per_s(t) * dt;
            self.wet_set = L::select(wet, set, self.wet_set);
        }
        let hot = t.above(L::splat(100.0));
        if !hot.any() {
            return;
        }
        let activity = activity(t, w)
            .smaller(L::splat(pressure.0) / saturation_kpa(t))
            .at_least(ACTIVITY_FLOOR);
        let browns = hot & activity.below(L::splat(WET_ACTIVITY));
        if !browns.any() {
            return;
        }
        let matt = L::splat(1.0) - self.gloss() * parameters.gloss_pales;
        let speed = browning * parameters.browning * matt * dt;
        let left = exp(-speed * lightness_per_min(t, activity) / 60.0);
        let lightness = (self.lightness - parameters.darkest) * left + parameters.darkest;
        self.lightness = L::select(browns, lightness, self.lightness);
        let change = (L::splat(BURNT_CHANGE) - self.change)
            * (L::splat(1.0) - exp(-speed * change_per_s(t)));
        self.change = L::select(browns, self.change + change, self.change);
    }
}

/// A film thinner than this does not make a gloss, kg/m². Ours.
const GLOSS_FILM: f64 = 1e-3;

/// Colour in words: ours, uncalibrated until a baker has compared them with loaves.
pub fn colour_in_words(lightness: f64) -> &'static str {
    match lightness {
        l if l > 75.0 => "pale",
        l if l > 65.0 => "light gold",
        l if l > 55.0 => "golden",
        l if l > 45.0 => "deep golden brown",
        l if l > 35.0 => "dark",
        l if l <= 35.0 => "very dark",
        _ => "unknown", // NaN
    }
}

/// Gloss in words, from the share of the skin's starch that set under water: ours.
pub fn gloss_in_words(gloss: f64) -> &'static str {
    match gloss {
        g if g >= 0.7 => "glossy",
        g if g >= 0.25 => "some shine",
        _ => "matt",
    }
}

/// Crust as it is cut and measured, from the zone that has dried below W = 0.2.
///
/// Half the dry zone: real crust shrinks to about twice the density. One old measurement says
/// so (4 to 5 mm, Balland in Boutroux 1897); crust defined by colour comes out as thick as the
/// dry zone itself.
pub fn crust_thickness(dry_zone: Millimetres) -> Millimetres {
    dry_zone * 0.5
}

/// When a bread counts as done; all that are given have to be met.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DoneWhen {
    /// Temperature of the core.
    pub core: Option<Celsius>,
    /// Lightness L* of the top, at most.
    pub lightness: Option<f64>,
    /// Loss of weight, at least.
    pub loss: Option<Percent>,
}

impl DoneWhen {
    /// Lean hearth bread: 96 °C in the core. *Common practice*, 96 to 98.
    pub const LEAN: Self = Self { core: Some(Celsius(96.0)), lightness: None, loss: None };
    /// Bread in a tin: 94 °C. *Common practice*, 93 to 96.
    pub const TIN: Self = Self { core: Some(Celsius(94.0)), lightness: None, loss: None };

    /// The core temperature to wait for under a pressure: 3 K below boiling at most.
    ///
    /// Above about 300 m a core of 96 °C would be waited for in vain or too long.
    pub fn core_at(&self, pressure: Kilopascal) -> Option<Celsius> {
        self.core.map(|core| core.min(boiling_point(pressure) - TempRise(3.0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: our reference; the rate laws above evaluated. Slack: half the last printed digit.
    #[test]
    fn rates_of_the_reference() {
        for (t, k) in [(60.0, 4.493e-4), (70.0, 1.939e-3), (80.0, 7.706e-3), (90.0, 2.838e-2)] {
            assert!((starch_rate_per_s(Celsius(t)) / k - 1.0).abs() < 3e-3, "{t}");
        }
        for (t, k) in [(120.0, 0.00245), (150.0, 0.0129), (180.0, 0.0543), (200.0, 0.128)] {
            assert!((lightness_rate_per_min(Celsius(t), 0.1) / k - 1.0).abs() < 5e-3, "{t}");
        }
    }

    #[test]
    fn at_altitude_the_core_is_done_below_boiling() {
        assert_eq!(DoneWhen::LEAN.core_at(Kilopascal(101.325)), Some(Celsius(96.0)));
        let high = DoneWhen::LEAN.core_at(Kilopascal(79.4952)).unwrap();
        assert!((high.0 - 90.315).abs() < 0.01, "{}", high.0);
        assert_eq!(DoneWhen::default().core_at(Kilopascal(101.325)), None);
    }

    #[test]
    fn words_cover_every_number() {
        for l in [f64::NAN, -1.0, 0.0, 20.0, 40.0, 50.0, 60.0, 70.0, 80.0, 1e9] {
            assert!(!colour_in_words(l).is_empty() && !gloss_in_words(l).is_empty());
        }
        assert_eq!(colour_in_words(60.0), "golden");
    }
}
