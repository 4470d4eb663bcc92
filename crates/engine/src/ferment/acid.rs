//! From acids to pH and titratable acidity.

use super::{Composition, Dough};
use crate::numerics::lanes::{Lanes, Mask, exp};
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
pub(super) struct Acidity<L> {
    pub(super) ph: L,
    /// Share of acetic acid that is undissociated.
    pub(super) acetic_undissociated: L,
}

impl<L: Lanes> Composition<L> {
    /// Solves the charge balance for the pH.
    ///
    /// ```text
    /// Lac/(1+10^(3.86−p)) + Ac/(1+10^(4.76−p)) − 10^(3−p)·W = b (p0 − p)
    /// ```
    /// Strictly increasing in p: Newton's steps, kept inside a shrinking bracket. The last
    /// step is below 1e-6, its error below 1e-11 wherever the search starts.
    #[inline(always)]
    pub(super) fn acidity(&self, lactate: L, acetate: L, start: L) -> Acidity<L> {
        let (mut lo, mut hi) = (L::splat(2.5), L::splat(8.0));
        let (lactate, acetate) = (lactate.at_least(0.0), acetate.at_least(0.0));
        let inside = start.above(lo) & start.below(hi);
        let mut p = L::select(inside, start, L::splat(5.0));
        let mut undissociated = L::splat(0.0);
        let mut going = L::Mask::splat(true);
        for _ in 0..60 {
            // 10^(pKa − p) of acetic acid carries the two others
            let e = exp((L::splat(PKA_ACETIC) - p) * LN_10);
            // one division for both
            let (of_acetic, of_lactic) = (e + 1.0, e * LACTIC_OVER_ACETIC + 1.0);
            let both = L::splat(1.0) / (of_acetic * of_lactic);
            let (a, b) = (both * of_lactic, both * of_acetic);
            let free = self.total_water * e * FREE_OVER_ACETIC;
            let f = lactate * b + acetate * a - free - self.buffer * (self.ph0 - p);
            let slope =
                (lactate * b * (-b + 1.0) + acetate * a * (-a + 1.0) + free) * LN_10 + self.buffer;
            let step = -f / slope;
            let last = step.size().below(L::splat(1e-6));
            // first order is enough for so small a move
            let here = -a + 1.0 - L::select(last, a * (-a + 1.0) * step * LN_10, L::splat(0.0));
            undissociated = L::select(going, here, undissociated);
            let positive = f.above(L::splat(0.0));
            hi = L::select(positive, p, hi);
            lo = L::select(positive, lo, p);
            let next = p + step;
            let inside = next.above(lo) & next.below(hi);
            let next = L::select(inside | last, next, (lo + hi) * 0.5);
            p = L::select(going, next, p);
            going = going & !last;
            if !going.any() {
                break;
            }
        }
        Acidity { ph: p, acetic_undissociated: undissociated }
    }
}

impl<L: Lanes> Dough<L> {
    /// As [`ph`](Dough::ph).
    #[inline(always)]
    pub(crate) fn acidity_now(&self) -> L {
        self.composition.acidity(self.state.lactate, self.state.acetate, self.last_ph).ph
    }
}

impl Dough {
    /// Acidity.
    pub fn ph(&self) -> Ph {
        Ph(self.acidity_now())
    }

    /// Titratable acidity to an end point, usually 8.5 or 6.6; mL 0.1 mol/L for 10 g, not below 0.
    pub fn tta(&self, end: Ph) -> Tta {
        let s = &self.state;
        let dissociated = |p: f64| {
            let e = exp(LN_10 * (PKA_ACETIC - p));
            s.lactate / (1.0 + LACTIC_OVER_ACETIC * e) + s.acetate / (1.0 + e)
        };
        let p = self.ph().0;
        let flour = self.constants.tta_buffer * self.composition.buffer * (end.0 - p);
        Tta(((dissociated(end.0) - dissociated(p) + flour) / 10.0).max(0.0))
    }
}
