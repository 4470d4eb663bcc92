//! The little mathematics the kernels share: tridiagonal systems, a bracketed root,
//! the cubic through two points with slopes; in the modules what an ensemble stands on.
//!
//! No hidden randomness, the same bits everywhere: a random number is a function of a seed and
//! of its place.

pub mod normal;
pub mod random;
pub mod sensitivity;
pub mod sobol;
pub mod weighted;

pub mod lanes;

use lanes::Lanes;

/// A tridiagonal matrix, factored once to be solved many times.
///
/// Elimination without exchange of rows, after Thomas, but from both ends at once: the
/// two sweeps do not wait for each other, which nearly halves the time. Safe where the
/// diagonal outweighs its row (every implicit step of heat conduction). A matrix without
/// that property may give infinities; it never panics.
///
/// ```
/// use engine::numerics::Tridiagonal;
/// // −u″ = 1 on (0, 1), u = 0 at both ends, 3 inner points
/// let matrix = Tridiagonal::factor(&[-16.0; 3], &[32.0; 3], &[-16.0; 3]);
/// let mut u = [1.0; 3];
/// matrix.solve(&mut u);
/// assert!((u[1] - 0.125).abs() < 1e-15);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tridiagonal<const N: usize, L = f64> {
    /// Multiplier that takes this row out of its neighbour nearer the middle.
    inward: [L; N],
    /// This row's entry towards the middle, over the pivot.
    outward: [L; N],
    /// One over the pivot.
    inverse: [L; N],
}

impl<const N: usize, L: Lanes> Tridiagonal<N, L> {
    /// Row where the sweeps meet, and the rows below it.
    const MIDDLE: usize = N / 2;
    const BELOW: usize = (N - 1) - N / 2;

    /// Factors the matrix with these diagonals; `lower[0]` and `upper[N-1]` are ignored.
    ///
    /// N is at least 1.
    #[inline(always)]
    pub fn factor(lower: &[L; N], diagonal: &[L; N], upper: &[L; N]) -> Self {
        let none = [L::splat(0.0); N];
        // in place: N registers are not moved for nothing
        let mut made = Self { inward: none, outward: none, inverse: *diagonal };
        let one = L::splat(1.0);
        for i in 0..Self::MIDDLE {
            let inverse = one / made.inverse[i];
            made.inverse[i] = inverse;
            made.inward[i] = lower[i + 1] * inverse;
            made.outward[i] = upper[i] * inverse;
            made.inverse[i + 1] -= made.inward[i] * upper[i];
        }
        for i in (Self::MIDDLE + 1..N).rev() {
            let inverse = one / made.inverse[i];
            made.inverse[i] = inverse;
            made.inward[i] = upper[i - 1] * inverse;
            made.outward[i] = lower[i] * inverse;
            made.inverse[i - 1] -= made.inward[i] * lower[i];
        }
        made.inverse[Self::MIDDLE] = one / made.inverse[Self::MIDDLE];
        made
    }

    /// Turns the right-hand side into the solution, in place.
    #[inline(always)]
    pub fn solve(&self, x: &mut [L; N]) {
        for i in 0..Self::BELOW {
            let j = N - 1 - i;
            x[i + 1] -= self.inward[i] * x[i];
            x[j - 1] -= self.inward[j] * x[j];
        }
        for i in Self::BELOW..Self::MIDDLE {
            x[i + 1] -= self.inward[i] * x[i];
        }
        for (x, inverse) in x.iter_mut().zip(&self.inverse) {
            *x *= *inverse;
        }
        for i in (Self::BELOW..Self::MIDDLE).rev() {
            x[i] -= self.outward[i] * x[i + 1];
        }
        for i in (0..Self::BELOW).rev() {
            let j = N - 1 - i;
            x[i] -= self.outward[i] * x[i + 1];
            x[j] -= self.outward[j] * x[j - 1];
        }
    }
}

/// The root of `f` between `lo` and `hi`, to `tolerance` in x.
///
/// Interpolate, truncate, project (Oliveira and Takahashi 2020, doi 10.1145/3423597).
/// Guarantees: `f` is called at most ⌈log2((hi − lo)/(2 tolerance))⌉ + 4 times, two more
/// than bisection (one by design, one by rounding), far fewer where `f` is smooth; it is never called outside the
/// bracket; the answer lies within `tolerance` of a change of sign. A tolerance finer
/// than the spacing of floats around the bracket is raised to it.
///
/// `None` when `f` has the same sign at both ends, or is NaN at one.
///
/// ```
/// use engine::numerics::root;
/// let x = root(|x| x * x - 2.0, 0.0, 2.0, 1e-12);
/// assert!((x.unwrap_or(f64::NAN) - 2.0_f64.sqrt()).abs() < 1e-12);
/// assert_eq!(root(|x| x * x + 1.0, 0.0, 2.0, 1e-12), None);
/// ```
pub fn root(mut f: impl FnMut(f64) -> f64, lo: f64, hi: f64, tolerance: f64) -> Option<f64> {
    let (mut a, mut b) = if lo <= hi { (lo, hi) } else { (hi, lo) };
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) || !(b - a).is_finite() {
        return None;
    }
    let half = tolerance.max(4.0 * f64::EPSILON * a.abs().max(b.abs()).max(f64::MIN_POSITIVE));
    let width = b - a;
    let bisections = libm::ceil(libm::log2(width / (2.0 * half))).max(0.0);
    // slack of the projection; halves each round, starts one round behind bisection
    let mut reach = half * libm::exp2(bisections + 1.0);
    while b - a > 2.0 * half {
        let middle = 0.5 * (a + b);
        let radius = (reach - 0.5 * (b - a)).max(0.0);
        reach *= 0.5;
        let secant = (fb * a - fa * b) / (fb - fa);
        let side = if middle >= secant { 1.0 } else { -1.0 };
        let nudge = 0.2 * (b - a) * (b - a) / width;
        let truncated =
            if nudge <= (middle - secant).abs() { secant + side * nudge } else { middle };
        let x =
            if (truncated - middle).abs() <= radius { truncated } else { middle - side * radius };
        let x = if x > a && x < b { x } else { middle };
        let fx = f(x);
        if fx == 0.0 || fx.is_nan() {
            return (fx == 0.0).then_some(x);
        }
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
        } else {
            (a, fa) = (x, fx);
        }
    }
    Some(0.5 * (a + b))
}

/// The cubic through (`x0`, `y0`) and (`x1`, `y1`) with slopes `d0` and `d1`, at `x`.
///
/// Exact for cubics; between data points of a smooth curve the error falls with the
/// fourth power of their distance. Gives `y0` when the points coincide.
pub fn hermite(x: f64, (x0, y0, d0): (f64, f64, f64), (x1, y1, d1): (f64, f64, f64)) -> f64 {
    let h = x1 - x0;
    if h == 0.0 {
        return y0;
    }
    let t = (x - x0) / h;
    let s = 1.0 - t;
    s * s * ((1.0 + 2.0 * t) * y0 + t * h * d0) + t * t * ((1.0 + 2.0 * s) * y1 - s * h * d1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn root_keeps_its_promise_of_calls() {
        for (f, lo, hi) in [
            ((|x: f64| x * x * x - 2.0) as fn(f64) -> f64, 0.0, 10.0),
            (|x| libm::exp(x) - 1e6, -50.0, 50.0),
            (|x| if x < 0.1 { -1.0 } else { 1.0 }, -3.0, 4.0),
            (|x| libm::pow(x - 0.3, 9.0), 0.0, 1.0),
            (|x| libm::atan(x) - 1.5, -1e6, 1e7),
        ] {
            let mut calls = 0;
            let tolerance = 1e-9;
            let x = root(
                |x| {
                    calls += 1;
                    f(x)
                },
                lo,
                hi,
                tolerance,
            )
            .unwrap();
            let most = libm::ceil(libm::log2((hi - lo) / (2.0 * tolerance))) as usize + 4;
            assert!(calls <= most, "{calls} > {most}");
            assert!(f(x - 2.0 * tolerance) <= 0.0 && f(x + 2.0 * tolerance) >= 0.0, "{x}");
        }
    }

    #[test]
    fn root_refuses_what_it_cannot_know() {
        assert_eq!(root(|_| f64::NAN, 0.0, 1.0, 1e-9), None);
        assert_eq!(root(|x| x, 0.0, f64::INFINITY, 1e-9), Some(0.0));
        assert_eq!(root(|x| x - 1.0, 0.0, f64::INFINITY, 1e-9), None);
        assert_eq!(root(|x| x + 0.5, -1.0, 1.0, 0.0).map(|x| (x + 0.5).abs() < 1e-14), Some(true));
    }

    proptest! {
        #[test]
        fn a_solved_system_gives_back_its_right_hand_side(
            lower in prop::array::uniform8(-1.0..1.0f64),
            upper in prop::array::uniform8(-1.0..1.0f64),
            extra in prop::array::uniform8(0.1..5.0f64),
            b in prop::array::uniform8(-100.0..100.0f64),
        ) {
            let mut diagonal = [0.0; 8];
            for i in 0..8 {
                diagonal[i] = lower[i].abs() + upper[i].abs() + extra[i];
            }
            let mut x = b;
            Tridiagonal::factor(&lower, &diagonal, &upper).solve(&mut x);
            for i in 0..8 {
                let below = if i > 0 { lower[i] * x[i - 1] } else { 0.0 };
                let above = if i < 7 { upper[i] * x[i + 1] } else { 0.0 };
                prop_assert!((below + diagonal[i] * x[i] + above - b[i]).abs() < 1e-9);
            }
        }

        #[test]
        fn an_odd_number_of_rows_too(b in prop::array::uniform5(-9.0..9.0f64)) {
            let mut x = b;
            Tridiagonal::factor(&[1.0; 5], &[-3.0; 5], &[1.5; 5]).solve(&mut x);
            for i in 0..5 {
                let below = if i > 0 { x[i - 1] } else { 0.0 };
                let above = if i < 4 { 1.5 * x[i + 1] } else { 0.0 };
                prop_assert!((below - 3.0 * x[i] + above - b[i]).abs() < 1e-12);
            }
        }

        #[test]
        fn hermite_is_exact_for_cubics(
            c in prop::array::uniform4(-5.0..5.0f64),
            x0 in -3.0..0.0f64, x1 in 0.1..3.0f64, x in -3.0..3.0f64,
        ) {
            let y = |x: f64| ((c[3] * x + c[2]) * x + c[1]) * x + c[0];
            let d = |x: f64| (3.0 * c[3] * x + 2.0 * c[2]) * x + c[1];
            let ours = hermite(x, (x0, y(x0), d(x0)), (x1, y(x1), d(x1)));
            // outside the points the basis cancels; 1e4 is its largest value here
            prop_assert!((ours - y(x)).abs() < 1e-7, "{} {}", ours, y(x));
        }
    }
}
