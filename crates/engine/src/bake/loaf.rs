//! The loaf as it goes into the oven: dough, shape, temperatures.

use super::sound;
use crate::hearth::Tin;
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
        let kg = if self.mass.0 > 1.0 { self.mass.0.min(1e5) / 1000.0 } else { 1e-3 };
        let rho = sound(self.density_kg_m3, 50.0, 1300.0, 300.0);
        let volume = kg / rho;
        let (r, m) = geometry(volume, self.shape);
        let surface = (m + 1.0) * volume / r;
        // what lies on the hearth: a strip half as wide as a log, a disc 0.8 as wide as a round
        let base = match self.shape {
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
        let covered = if self.tin.is_some() { 1.0 - base } else { base };
        let height = match self.shape {
            Shape::Tin { length, width } => volume / (length.0 * width.0 * 1e-6).max(1e-6),
            _ => 2.0 * r,
        };
        let height = sound(height, 1e-3, 10.0, 2.0 * r); // a tin of no or endless size
        Measures {
            r,
            m,
            volume_m3: volume,
            surface_m2: surface,
            height_m: height,
            base,
            covered,
            rho,
        }
    }
}

/// What the kernel sees of a loaf's shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Core to nearest surface, m.
    pub r: f64,
    /// Curvature: 0 slab, 1 cylinder, 2 sphere.
    pub m: f64,
    /// Baked volume, m³.
    pub volume_m3: f64,
    /// Whole surface, m².
    pub surface_m2: f64,
    /// Height, m.
    pub height_m: f64,
    /// Share of the surface that lies on the hearth.
    pub base: f64,
    /// Share of the surface on the hearth or in the tin: it takes heat but does not see the air.
    /// The base holds vapour back; along the walls of a tin it escapes as the loaf shrinks.
    pub covered: f64,
    /// Baked density, kg/m³.
    pub(super) rho: f64,
}

/// Water per dry solids, kg/kg, from the masses of a dough.
///
/// W = (water + Σ flour × moisture)/(dough − that). White dough of 65 to 72 % hydration: 0.87 to
/// 0.98.
pub fn water_per_solids(dough: Grams, water_with_flours: Grams) -> f64 {
    let solids = dough.0 - water_with_flours.0;
    if solids > 0.0 { (water_with_flours.0 / solids).max(0.0) } else { f64::INFINITY }
}

/// A profile of the dough: temperature by volume, core to skin.
pub(super) struct Start<'a> {
    pub(super) profile: &'a [(Celsius, f64)],
    pub(super) total: f64,
    pub(super) m: f64,
}

impl Start<'_> {
    /// Mean temperature between two depths (0 core, 1 skin) of the body the profile is of.
    pub(super) fn between(&self, a: f64, b: f64) -> f64 {
        let share = |x: f64| libm::pow(x.clamp(0.0, 1.0), self.m + 1.0) * self.total;
        let (lo, hi) = (share(a), share(b));
        let (mut sum, mut weight, mut at) = (0.0, 0.0, 0.0);
        for &(t, s) in self.profile {
            if !(s > 0.0 && s.is_finite() && t.0.is_finite()) {
                continue;
            }
            let part = (hi.min(at + s) - lo.max(at)).max(0.0);
            sum += part * t.0.clamp(-20.0, 95.0);
            weight += part;
            at += s;
        }
        if weight > 0.0 {
            return sum / weight;
        }
        let known = self.profile.iter().rev().find(|(t, _)| t.0.is_finite());
        known.map_or(20.0, |(t, _)| t.0.clamp(-20.0, 95.0))
    }
}
