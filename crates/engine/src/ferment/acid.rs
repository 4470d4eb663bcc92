//! From acids to pH and titratable acidity.

use super::{Composition, Dough};
use quantity::{Ph, Tta};

/// pKa of acetic acid at 25 °C. Textbook.
const PKA_ACETIC: f64 = 4.76;
/// 10^(3.86 − `PKA_ACETIC`): 3.86 is the pKa of lactic acid, textbook. Ready made, so that one
/// exponential serves both acids.
const LACTIC_OVER_ACETIC: f64 = 0.125_892_541_179_416_73;
/// 10^3 / 10^`PKA_ACETIC`, likewise, for free hydrogen ions in mmol/L.
const FREE_OVER_ACETIC: f64 = 0.017_378_008_287_493_755;
/// ln 10.
const LN_10: f64 = std::f64::consts::LN_10;

/// A solved charge balance.
pub(super) struct Acidity {
    pub(super) ph: f64,
    /// Share of acetic acid that is undissociated.
    pub(super) acetic_undissociated: f64,
}

impl Composition {
    /// Solves the charge balance for the pH.
    ///
    /// ```text
    /// Lac/(1+10^(3.86−p)) + Ac/(1+10^(4.76−p)) − 10^(3−p)·W = b (p0 − p)
    /// ```
    /// Strictly increasing in p: Newton's steps, kept inside a shrinking bracket. The last
    /// step is below 1e-7, its error below 1e-13 wherever the search starts.
    pub(super) fn acidity(&self, lactate: f64, acetate: f64, start: f64) -> Acidity {
        let (mut lo, mut hi) = (2.5, 8.0);
        let (lactate, acetate) = (lactate.max(0.0), acetate.max(0.0));
        let mut p = if start > lo && start < hi { start } else { 5.0 };
        let mut undissociated = 0.0;
        for _ in 0..60 {
            // 10^(pKa − p) of acetic acid carries the two others
            let e = libm::exp(LN_10 * (PKA_ACETIC - p));
            let (a, b) = (1.0 / (1.0 + e), 1.0 / (1.0 + LACTIC_OVER_ACETIC * e));
            let free = FREE_OVER_ACETIC * e * self.total_water;
            let f = lactate * b + acetate * a - free - self.buffer * (self.ph0 - p);
            let slope =
                LN_10 * (lactate * b * (1.0 - b) + acetate * a * (1.0 - a) + free) + self.buffer;
            undissociated = 1.0 - a;
            if f > 0.0 {
                hi = p;
            } else {
                lo = p;
            }
            let step = -f / slope;
            if step.abs() < 1e-7 {
                // first order is enough for so small a move
                undissociated -= LN_10 * a * (1.0 - a) * step;
                p += step;
                break;
            }
            p += step;
            if !(p > lo && p < hi) {
                p = 0.5 * (lo + hi);
            }
        }
        Acidity { ph: p, acetic_undissociated: undissociated }
    }
}

impl Dough {
    /// Acidity.
    pub fn ph(&self) -> Ph {
        Ph(self.composition.acidity(self.state.lactate, self.state.acetate, self.last_ph).ph)
    }

    /// Titratable acidity to an end point, usually 8.5 or 6.6; mL 0.1 mol/L for 10 g, not below 0.
    pub fn tta(&self, end: Ph) -> Tta {
        let s = &self.state;
        let dissociated = |p: f64| {
            let e = libm::exp(LN_10 * (PKA_ACETIC - p));
            s.lactate / (1.0 + LACTIC_OVER_ACETIC * e) + s.acetate / (1.0 + e)
        };
        let p = self.ph().0;
        let flour = self.constants.tta_buffer * self.composition.buffer * (end.0 - p);
        Tta(((dissociated(end.0) - dissociated(p) + flour) / 10.0).max(0.0))
    }
}
