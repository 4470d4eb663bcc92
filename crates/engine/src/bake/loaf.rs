//! The loaf as it goes into the oven: dough, shape, temperatures.

use super::sound;
use crate::hearth::Tin;
use crate::numerics::lanes::{Lanes, pow};
use crate::warmth::{Shape, geometry};
use quantity::{Celsius, Grams};

/// A loaf as it goes into the oven.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaf {
    /// Dough.
    pub mass: Grams,
    /// Its shape when baked.
    pub shape: Shape,
    /// Dough mass over baked volume, kg/m³. *Common practice*: baguette 270, batard 280, round
    /// 300, tin 330; ±15 %.
    pub density_kg_m3: f64,
    /// Water per dry solids, kg/kg; [`water_per_solids`] gives it from a formula. 0.75 to 1.05.
    pub water_per_solids: f64,
    /// Temperatures from core to skin with their shares of the volume, as
    /// [`Body::profile`](crate::warmth::Body::profile) gives them.
    pub profile: Vec<(Celsius, f64)>,
    /// Tin, if it bakes in one.
    pub tin: Option<Tin>,
}

impl Loaf {
    /// A loaf of one temperature all through.
    pub fn even(mass: Grams, shape: Shape, density_kg_m3: f64, w: f64, t: Celsius) -> Self {
        let profile = vec![(t, 1.0)];
        Self { mass, shape, density_kg_m3, water_per_solids: w, profile, tin: None }
    }

    /// The loaf's measures when baked; nonsense is held to the nearest loaf.
    pub fn measures(&self) -> Measures {
        Measures::of(self.mass, self.shape, self.density_kg_m3, self.tin.is_some())
    }

    /// Water per solids, held to what a dough can be.
    pub(super) fn sound_water(&self) -> f64 {
        sound(self.water_per_solids, 0.05, 3.0, 0.9)
    }
}

impl Measures {
    /// Of so much dough in a shape, `density` kg/m³ when baked; nonsense is held to the nearest
    /// loaf.
    pub(crate) fn of(mass: Grams, shape: Shape, density: f64, in_tin: bool) -> Self {
        let kg = if mass.0 > 1.0 { mass.0.min(1e5) / 1000.0 } else { 1e-3 };
        let rho = sound(density, 50.0, 1300.0, 300.0);
        let volume = kg / rho;
        let (r, m) = geometry(volume, shape);
        let surface = (m + 1.0) * volume / r;
        // what lies on the hearth: a strip half as wide as a log, a disc 0.8 as wide as a round
        let base = match shape {
            Shape::Log { length } => r * (length.0 / 1000.0).max(2.0 * r) / surface,
            Shape::Boule { width } => {
                let a = 0.4 * width.0 / 1000.0;
                std::f64::consts::PI * a * a / surface
            }
            Shape::Tin { length, width } => length.0 * width.0 * 1e-6 / surface,
            Shape::Slab { .. } => 0.5,
            Shape::Lump | Shape::Vat { .. } | Shape::Exactly { .. } => 0.2,
        };
        let base = sound(base, 0.0, 0.5, 0.2);
        // in a tin only the top is open, and it is as large as the base
        let covered = if in_tin { 1.0 - base } else { base };
        let height = match shape {
            Shape::Tin { length, width } => volume / (length.0 * width.0 * 1e-6).max(1e-6),
            _ => 2.0 * r,
        };
        let height = sound(height, 1e-3, 10.0, 2.0 * r); // a tin of no or endless size
        Self { r, m, volume_m3: volume, surface_m2: surface, height_m: height, base, covered, rho }
    }
}

impl<L: Lanes> Measures<L> {
    /// The measures of a loaf in each lane.
    pub(crate) fn side_by_side(of: impl Fn(usize) -> Measures) -> Self {
        let mut all = [of(0); MOST_LANES];
        for (i, measures) in all.iter_mut().enumerate().take(L::N).skip(1) {
            *measures = of(i);
        }
        let lanes = |field: fn(&Measures) -> f64| L::from_fn(|i| field(&all[i]));
        Self {
            r: lanes(|m| m.r),
            m: lanes(|m| m.m),
            volume_m3: lanes(|m| m.volume_m3),
            surface_m2: lanes(|m| m.surface_m2),
            height_m: lanes(|m| m.height_m),
            base: lanes(|m| m.base),
            covered: lanes(|m| m.covered),
            rho: lanes(|m| m.rho),
        }
    }
}

/// Lanes of the widest register.
const MOST_LANES: usize = 8;

/// What the kernel sees of a loaf's shape, or of one in each lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures<L = f64> {
    /// Core to nearest surface, m.
    pub r: L,
    /// Curvature: 0 slab, 1 cylinder, 2 sphere.
    pub m: L,
    /// Baked volume, m³.
    pub volume_m3: L,
    /// Whole surface, m².
    pub surface_m2: L,
    /// Height, m.
    pub height_m: L,
    /// Share of the surface that lies on the hearth.
    pub base: L,
    /// Share of the surface on the hearth or in the tin: it takes heat but does not see the air.
    /// The base holds vapour back; along the walls of a tin it escapes as the loaf shrinks.
    pub covered: L,
    /// Baked density, kg/m³.
    pub(super) rho: L,
}

/// Water per dry solids, kg/kg, from the masses of a dough.
///
/// W = (water + Σ flour × moisture)/(dough − that). White dough of 65 to 72 % hydration: 0.87 to
/// 0.98.
pub fn water_per_solids(dough: Grams, water_with_flours: Grams) -> f64 {
    let solids = dough.0 - water_with_flours.0;
    if solids > 0.0 { (water_with_flours.0 / solids).max(0.0) } else { f64::INFINITY }
}

/// A profile of the dough, or one in each lane: temperature by volume, core to skin.
pub(super) struct Start<'a, L> {
    /// Temperatures, °C, and their shares of the volume; a share that is none is left out.
    pub(super) profile: &'a [(L, L)],
    pub(super) m: L,
}

impl<L: Lanes> Start<'_, L> {
    /// A temperature and its share, none where one of them is no number.
    #[inline(always)]
    fn sound((t, s): (L, L)) -> (L, L) {
        let finite = L::splat(f64::MAX);
        let some = s.above(L::splat(0.0)) & s.upto(finite) & t.size().upto(finite);
        (t.within(-20.0, 95.0), L::select(some, s, L::splat(0.0)))
    }

    /// Mean temperature between two depths (0 core, 1 skin) of the body the profile is of.
    #[inline(always)]
    pub(super) fn between(&self, a: f64, b: f64) -> L {
        let zero = L::splat(0.0);
        let mut total = zero;
        for &p in self.profile {
            total += Self::sound(p).1;
        }
        let power = self.m + 1.0;
        let (lo, hi) = (pow(L::splat(a), power) * total, pow(L::splat(b), power) * total);
        let (mut sum, mut weight, mut at) = (zero, zero, zero);
        let mut known = L::splat(20.0);
        for &p in self.profile {
            let (t, s) = Self::sound(p);
            let part = (hi.smaller(at + s) - lo.larger(at)).at_least(0.0);
            sum += part * t;
            weight += part;
            at += s;
            known = L::select(p.0.size().upto(L::splat(f64::MAX)), t, known);
        }
        L::select(weight.above(zero), sum / weight, known)
    }
}
