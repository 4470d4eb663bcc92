//! Carbon dioxide in dough: what is dissolved, what blows the bubbles, what it all takes up.
//!
//! Dissolved gas and bubbles are in balance at every moment (Henry), the bubbles hold the
//! nitrogen of the air beaten in and water vapour besides. Dissolving alone makes the first
//! two hours in which nothing seems to happen; cooling takes gas back into solution and
//! shrinks the dough. Oxygen is used up at once and left out, so are surface tension
//! and the stress of the dough.

use crate::numerics::lanes::{Lanes, exp};
use quantity::Celsius;

/// Gas constant, L atm/(mmol K). CODATA 2018.
pub const GAS_CONSTANT: f64 = 0.082_057_4e-3;

/// Solubility of carbon dioxide in water, mmol/(L atm).
///
/// ```text
/// H(T) = 33.4 · exp(2400 K · (1/T − 1/298.15 K))
/// ```
/// - **Valid** 0..=40 °C; dough water is taken for water.
/// - **Source** Sander, compilation of Henry's law constants, Atmos. Chem. Phys. 2023 23:10901.
pub fn solubility(temp: Celsius) -> f64 {
    solubility_at(temp.0)
}

/// As [`solubility`], °C.
#[inline(always)]
pub(crate) fn solubility_at<L: Lanes>(t: L) -> L {
    exp((L::splat(1.0) / (t + 273.15) - 1.0 / 298.15) * 2400.0) * 33.4
}

/// Pressure of saturated water vapour, atm.
///
/// ```text
/// p(T) = 6.11 hPa · exp(17.27 T / (T + 237.3))     T in °C
/// ```
/// - **Valid** 0..=60 °C, within 1 %.
/// - **Source** Tetens' formula as in Murray 1967, J. Appl. Meteorol. 6:203; from memory.
pub fn vapour_pressure(temp: Celsius) -> f64 {
    vapour_pressure_at(temp.0)
}

#[inline(always)]
fn vapour_pressure_at<L: Lanes>(t: L) -> L {
    exp(t * 17.27 / (t + 237.3)) * (6.11e-3 / 1.013_25)
}

/// Carbon dioxide in bubbles, mmol, of `co2` in all, beside `nitrogen`, mmol.
///
/// `solvent` is what the dough water dissolves under pure carbon dioxide at the pressure
/// of the room, mmol. Solves `n² + (N + K − C) n − C N = 0`.
///
/// - Without nitrogen it is `max(0, C − K)`; without carbon dioxide 0.
#[inline(always)]
pub fn in_bubbles<L: Lanes>(co2: L, nitrogen: L, solvent: L) -> L {
    let (c, n) = (co2.at_least(0.0), nitrogen.at_least(1e-9));
    let b = n + solvent - c;
    let root = (b * b + c * n * 4.0).root();
    // the form without cancellation, whichever sign b has
    L::select(b.above(L::splat(0.0)), c * n * 2.0 / (b + root), (root - b) * 0.5)
}

/// Volume of a mmol of dry bubble gas, saturated with vapour, L/mmol, at `pressure_atm`.
pub fn molar_volume(temp: Celsius, pressure_atm: f64) -> f64 {
    molar_volume_at(temp.0, pressure_atm)
}

/// As [`molar_volume`], °C.
#[inline(always)]
pub(crate) fn molar_volume_at<L: Lanes>(t: L, pressure_atm: L) -> L {
    (t + 273.15) * GAS_CONSTANT / (pressure_atm - vapour_pressure_at(t)).at_least(0.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits of the balance: exact.
    #[test]
    fn bubbles_in_the_limits() {
        assert!((in_bubbles(30.0, 0.0, 17.0) - 13.0).abs() < 1e-6);
        assert!(in_bubbles(10.0, 0.0, 17.0) < 1e-6);
        assert_eq!(in_bubbles(0.0, 2.0, 17.0), 0.0);
        let n = in_bubbles(20.0, 2.3, 17.0);
        // Henry: dissolved = K × share of carbon dioxide in the bubbles
        assert!((20.0 - n - 17.0 * n / (n + 2.3)).abs() < 1e-12);
    }

    /// Printed by the reference implementation: guards against slips.
    #[test]
    fn solubility_of_the_compilation() {
        for (t, h) in [(4.0, 61.5), (10.0, 51.2), (25.0, 33.4), (35.0, 25.7)] {
            assert!((solubility(Celsius(t)) - h).abs() < 0.06);
        }
    }
}
