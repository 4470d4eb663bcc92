//! What stands between dough and air, and what shape it gives the dough.

use crate::numerics::root;
use quantity::Millimetres;
use std::f64::consts::PI;

/// What the dough sits in. Each is a resistance to heat in series with the air's.
///
/// Values are our estimates from thickness over conductivity, ±50 %; *from memory* where a
/// material's conductivity enters.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Vessel {
    /// Open on the bench, or only a cloth thrown over.
    Bench,
    /// Plastic tub, 2 mm wall.
    #[default]
    Tub,
    /// Steel bowl.
    Bowl,
    /// Glass jar, 4 mm wall.
    Jar,
    /// Proofing basket with its cloth.
    Banneton,
    /// Linen fold on the bench or a board.
    Couche,
    /// Steel baking pan.
    Pan,
    /// Basket or pan in a bag that keeps some 8 mm of air.
    Bag,
    /// A resistance of the baker's own, m² K/W.
    Exactly(f64),
}

impl Vessel {
    /// All that can be named in files.
    pub const NAMES: [(&'static str, Self); 8] = [
        ("jar", Self::Jar),
        ("tub", Self::Tub),
        ("bowl", Self::Bowl),
        ("banneton", Self::Banneton),
        ("couche", Self::Couche),
        ("pan", Self::Pan),
        ("bag", Self::Bag),
        ("bench", Self::Bench),
    ];

    /// Its name in files; a resistance of the baker's own has none and reads as bench.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, v)| *v == self).map_or("bench", |(n, _)| n)
    }

    /// Thermal resistance of the wall, m² K/W.
    pub fn resistance_m2_k_per_w(self) -> f64 {
        match self {
            Self::Tub => 0.01,
            Self::Bowl | Self::Pan => 0.002,
            Self::Jar => 0.004, // 4 mm at 1 W/(m K)
            Self::Banneton => 0.07,
            Self::Couche => 0.04, // 2 mm of linen at 0.05 W/(m K)
            Self::Bag => 0.15,
            Self::Exactly(r) if r > 0.0 => r.min(1e3),
            Self::Bench | Self::Exactly(_) => 0.0, // NaN too
        }
    }

    /// Heat transfer from the dough's face to the air, W/(m² K): 1/U = 1/h + R.
    pub fn transfer(self, air: Air) -> f64 {
        1.0 / (1.0 / air.coefficient() + self.resistance_m2_k_per_w())
    }
}

/// How the air around the vessel moves.
///
/// h = h_c + h_r, with h_r = 4εσT³ ≈ 4.4 to 5 and h_c = 1.32 (ΔT/D)^0.25 ≈ 2 to 4 in still
/// air, 8 to 12 under a fan, W/(m² K). *From memory*, handbook correlations.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Air {
    /// A room, a fridge without a fan, an oven that is off: 8 W/(m² K), range 5 to 10.
    #[default]
    Still,
    /// A fridge or proofer with a fan: 13 W/(m² K), range 12 to 15.
    Fan,
    /// A coefficient of the baker's own, W/(m² K).
    Exactly(f64),
}

impl Air {
    /// Convection and radiation together, W/(m² K).
    pub fn coefficient(self) -> f64 {
        match self {
            Self::Still => 8.0,
            Self::Fan => 13.0,
            Self::Exactly(h) if h > 0.01 => h.min(1e4),
            Self::Exactly(_) => 0.01, // nothing is insulated better; NaN lands here too
        }
    }
}

/// The shape of the dough, without its size: that follows from its volume.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Shape {
    /// A lump about as high as wide: a ball of equal volume.
    #[default]
    Lump,
    /// Dough filling a round vessel of this inner width. Wider than 2.5 times its depth it
    /// counts as a slab, cooled from both faces or, on an insulating base, from above only;
    /// otherwise as a ball.
    Vat {
        /// Inner width.
        width: Millimetres,
        /// Whether no heat passes below: wood, towels.
        insulated_base: bool,
    },
    /// Round loaf of this width: a flattened ball.
    Boule {
        /// Width seen from above.
        width: Millimetres,
    },
    /// Long loaf with round ends: bâtard, baguette.
    Log {
        /// End to end.
        length: Millimetres,
    },
    /// Dough filling a tin of this footprint.
    Tin {
        /// Inner length.
        length: Millimetres,
        /// Inner width.
        width: Millimetres,
    },
    /// A sheet, cooled from both faces.
    Slab {
        /// Thickness.
        thickness: Millimetres,
    },
    /// Half thickness and curvature as they are: for checks.
    Exactly {
        /// Core to skin.
        r: Millimetres,
        /// 0 slab, 1 cylinder, 2 sphere.
        m: f64,
    },
}

/// Half the smallest dimension R in m, and the curvature m (0 slab, 1 cylinder, 2 sphere).
///
/// m = R S/V − 1, held to 0..=2: the body r^m then has both the conduction length and the
/// surface per volume of the real one. Derived; the same rule serves the oven.
pub fn geometry(volume_m3: f64, shape: Shape) -> (f64, f64) {
    let v = if volume_m3 > 1e-6 { volume_m3.min(10.0) } else { 1e-6 }; // one mL to ten m³
    let metres = |l: Millimetres| if l.0 > 1.0 { l.0.min(1e5) / 1000.0 } else { 1e-3 };
    let ball = libm::cbrt(3.0 * v / (4.0 * PI));
    let of_surface = |r: f64, s: f64| (r, (r * s / v - 1.0).clamp(0.0, 2.0));
    let (r, m) = match shape {
        Shape::Lump => (ball, 2.0),
        Shape::Vat { width, insulated_base } => {
            let width = metres(width);
            let depth = v / (PI / 4.0 * width * width);
            match (width > 2.5 * depth, insulated_base) {
                (true, true) => (depth, 0.0),
                (true, false) => (depth / 2.0, 0.0),
                (false, _) => (ball, 2.0),
            }
        }
        Shape::Boule { width } => {
            let a = metres(width) / 2.0;
            let c = 3.0 * v / (4.0 * PI * a * a);
            if c >= a {
                return (ball, 2.0); // taller than wide: it would not stand so
            }
            let flat = (c / a) * (c / a);
            let e = (1.0 - flat).sqrt();
            let rim = match flat {
                f if f < 1e-12 => 0.0,       // a wafer
                f if f > 1.0 - 1e-12 => 1.0, // a ball
                _ => flat / e * libm::atanh(e),
            };
            of_surface(c, 2.0 * PI * a * a * (1.0 + rim))
        }
        Shape::Log { length } => {
            let length = metres(length);
            let spare = |d: f64| PI / 4.0 * d * d * (length - d) + PI / 6.0 * d * d * d - v;
            match root(spare, 0.0, length, 1e-9) {
                Some(d) => of_surface(d / 2.0, PI * d * length),
                None => (ball, 2.0), // more dough than a ball of that length
            }
        }
        Shape::Tin { length, width } => {
            let (l, w) = (metres(length), metres(width));
            let h = v / (l * w);
            of_surface(l.min(w).min(h) / 2.0, 2.0 * (l * w + l * h + w * h))
        }
        Shape::Slab { thickness } => (metres(thickness) / 2.0, 0.0),
        Shape::Exactly { r, m } => (metres(r), if m.is_nan() { 2.0 } else { m.clamp(0.0, 2.0) }),
    };
    (r.max(5e-4), m) // no dough is thinner than a millimetre
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, slack: f64) {
        assert!((a - b).abs() <= slack, "{a} is not {b} ± {slack}");
    }

    /// Source: our reference derivation, section on heat transfer; computed.
    #[test]
    fn walls_and_air_in_series() {
        near(Vessel::Tub.transfer(Air::Still), 7.4, 0.05);
        near(Vessel::Bowl.transfer(Air::Still), 7.9, 0.05);
        near(Vessel::Banneton.transfer(Air::Still), 5.1, 0.05);
        near(Vessel::Bag.transfer(Air::Still), 3.6, 0.05);
    }

    /// Source: closed forms of the sphere, the long cylinder, the sheet; exact.
    #[test]
    fn ideal_bodies_keep_their_curvature() {
        let v = 4.0 / 3.0 * PI * 1e-3; // ball of 10 cm
        near(geometry(v, Shape::Lump).0, 0.1, 1e-12);
        let boule = geometry(v, Shape::Boule { width: Millimetres(200.001) });
        near(boule.1, 2.0, 1e-4);
        let long = geometry(PI / 4.0 * 1e-4 * 10.0, Shape::Log { length: Millimetres(10_000.0) });
        near(long.1, 1.0, 1e-3);
        let tin = Shape::Tin { length: Millimetres(9e3), width: Millimetres(9e3) };
        near(geometry(0.81, tin).1, 0.0, 3e-3);
    }

    /// Source: our reference implementation; regression.
    #[test]
    fn loaves_of_the_reference() {
        let (r, m) = geometry(0.35 / 270.0, Shape::Log { length: Millimetres(550.0) });
        near(r, 0.027_864_9, 5e-8);
        near(m, 1.069_91, 5e-6);
        let (r, m) = geometry(0.9 / 300.0, Shape::Boule { width: Millimetres(220.0) });
        near(2.0 * r, 0.118, 5e-4);
        near(m, 1.13, 5e-3);
        let tin = Shape::Tin { length: Millimetres(220.0), width: Millimetres(105.0) };
        near(geometry(0.105 * 0.115 * 0.22, tin).1, 1.39, 5e-3);
    }

    #[test]
    fn nonsense_still_gives_a_body() {
        for v in [f64::NAN, -1.0, 0.0, f64::INFINITY, 1e-3] {
            for l in [f64::NAN, -5.0, 0.0, 1e30, 100.0] {
                let l = Millimetres(l);
                for shape in [
                    Shape::Lump,
                    Shape::Vat { width: l, insulated_base: true },
                    Shape::Boule { width: l },
                    Shape::Log { length: l },
                    Shape::Tin { length: l, width: l },
                    Shape::Slab { thickness: l },
                    Shape::Exactly { r: l, m: l.0 },
                ] {
                    let (r, m) = geometry(v, shape);
                    assert!(r > 0.0 && r.is_finite(), "{v} {shape:?} {r}");
                    assert!((0.0..=2.0).contains(&m), "{v} {shape:?} {m}");
                }
            }
        }
    }
}
