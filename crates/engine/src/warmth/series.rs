//! A body plunged into other air: the classical series, exact for constant properties.
//!
//! Used to hold [`Body`](super::Body) to account; the kernel itself does not call it.
//!
//! ```text
//! θ = (T − T_e)/(T_0 − T_e) = Σ Cₙ f(ζₙ r/R) exp(−ζₙ² Fo)    Fo = αt/R²   Bi = UR/k
//! slab      ζ tan ζ = Bi           C = 4 sin ζ/(2ζ + sin 2ζ)            f = cos
//! cylinder  ζ J1(ζ) = Bi J0(ζ)     C = 2 J1/[ζ (J0² + J1²)]             f = J0
//! sphere    1 − ζ cot ζ = Bi       C = 4(sin ζ − ζ cos ζ)/(2ζ − sin 2ζ)  f = sin x/x
//! ```

use crate::numerics::root;
use libm::{cos, exp, j0, j1, sin};
use std::f64::consts::PI;

/// How many terms: more than double precision needs from Fo = 0.01 on.
const TERMS: usize = 40;

/// The three bodies with a closed form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ideal {
    /// Infinite sheet of half thickness R.
    Slab,
    /// Infinite cylinder.
    Cylinder,
    /// Ball.
    Sphere,
}

impl Ideal {
    /// 0, 1, 2.
    pub fn curvature(self) -> f64 {
        match self {
            Self::Slab => 0.0,
            Self::Cylinder => 1.0,
            Self::Sphere => 2.0,
        }
    }
}

/// The terms of one body at one Biot number.
#[derive(Debug, Clone, Copy)]
pub struct Series {
    body: Ideal,
    /// ζₙ, Cₙ.
    terms: [(f64, f64); TERMS],
}

impl Series {
    /// Finds the roots; `bi` from 1e-6 to 1e6.
    pub fn new(body: Ideal, bi: f64) -> Self {
        let bi = if bi > 1e-6 { bi.min(1e6) } else { 1e-6 };
        let mut terms = [(0.0, 0.0); TERMS];
        let mut lo = 0.0;
        for (n, term) in terms.iter_mut().enumerate() {
            let (n, offset) = (n as f64, 1e-12);
            // one root between the poles of the left-hand side, or the zeros of J1
            let (from, to) = match body {
                Ideal::Slab => (n * PI + offset, (n + 0.5) * PI - offset),
                Ideal::Sphere => (n * PI + offset, (n + 1.0) * PI - offset),
                Ideal::Cylinder => (lo + offset, next_zero_of_j0(lo)),
            };
            let zeta = match body {
                Ideal::Slab => root(|z| z * sin(z) - bi * cos(z), from, to, 1e-13),
                Ideal::Sphere => root(|z| (1.0 - bi) * sin(z) - z * cos(z), from, to, 1e-13),
                Ideal::Cylinder => root(|z| z * j1(z) - bi * j0(z), from, to, 1e-13),
            }
            .unwrap_or(from); // the brackets hold for every Bi in range
            if body == Ideal::Cylinder {
                lo = next_zero_of_j1(to);
            }
            let (s, c) = (sin(zeta), cos(zeta));
            let coefficient = match body {
                Ideal::Slab => 4.0 * s / (2.0 * zeta + sin(2.0 * zeta)),
                Ideal::Sphere => 4.0 * (s - zeta * c) / (2.0 * zeta - sin(2.0 * zeta)),
                Ideal::Cylinder => {
                    let (a, b) = (j0(zeta), j1(zeta));
                    2.0 * b / (zeta * (a * a + b * b))
                }
            };
            *term = (zeta, coefficient);
        }
        Self { body, terms }
    }

    /// ζ1 and C1.
    pub fn first(&self) -> (f64, f64) {
        self.terms[0]
    }

    /// θ at r = x R, x from 0 (core) to 1 (skin), at Fourier number `fo`.
    pub fn at(&self, x: f64, fo: f64) -> f64 {
        let shape = |z: f64| match self.body {
            Ideal::Slab => cos(z),
            Ideal::Cylinder => j0(z),
            Ideal::Sphere if z < 1e-8 => 1.0,
            Ideal::Sphere => sin(z) / z,
        };
        self.terms.iter().map(|&(z, c)| c * shape(z * x) * exp(-z * z * fo)).sum()
    }

    /// Volume mean of θ at Fourier number `fo`.
    pub fn mean(&self, fo: f64) -> f64 {
        let share = |z: f64| match self.body {
            Ideal::Slab => sin(z) / z,
            Ideal::Cylinder => 2.0 * j1(z) / z,
            Ideal::Sphere => 3.0 * (sin(z) - z * cos(z)) / (z * z * z),
        };
        self.terms.iter().map(|&(z, c)| c * share(z) * exp(-z * z * fo)).sum()
    }

    /// The Fourier number at which the core (`mean` false) or the mean has fallen to θ.
    ///
    /// `theta` between 1e-6 and 0.95.
    pub fn time_to(&self, theta: f64, mean: bool) -> f64 {
        let theta = theta.clamp(1e-6, 0.95);
        let longest = 20.0 / (self.terms[0].0 * self.terms[0].0);
        let gap = |fo: f64| (if mean { self.mean(fo) } else { self.at(0.0, fo) }) - theta;
        root(gap, 1e-4, longest, 1e-12 * longest).unwrap_or(longest)
    }
}

/// First zero of J0 beyond a zero of J1 (or beyond 0).
fn next_zero_of_j0(after: f64) -> f64 {
    root(j0, after + 0.1, after + 2.6, 1e-13).unwrap_or(after)
}

/// First zero of J1 beyond a zero of J0.
fn next_zero_of_j1(after: f64) -> f64 {
    root(j1, after + 0.1, after + 2.6, 1e-13).unwrap_or(after)
}
