//! Units as types.
//!
//! A number with a unit never travels as a bare `f64`: the type is the unit. A
//! temperature and a *rise* of temperature are two types, because 20 °C of room
//! and 6 °C of friction convert to Fahrenheit by different rules.
//!
//! ```
//! use quantity::{Celsius, Grams, TempRise, Units};
//! let dough: Grams = "1 lb 4 oz".parse()?;
//! assert!((dough.0 - 566.990).abs() < 1e-3);
//! let room: Celsius = "75 °F".parse()?;
//! assert_eq!((room + TempRise(1.0)).show(Units::Metric), "24.9 °C");
//! # Ok::<(), quantity::ParseError>(())
//! ```

mod parse;
mod show;

pub use parse::ParseError;
pub use show::Units;

use serde::{Deserialize, Serialize};
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The larger of two; the other when one is NaN.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
            /// The smaller of two; the other when one is NaN.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
            /// Without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
    };
}

/// Sums and multiples make sense for amounts, not for points on a scale.
macro_rules! amount {
    ($($name:ident),*) => {$(
        impl Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl AddAssign for $name { fn add_assign(&mut self, o: Self) { self.0 += o.0; } }
        impl SubAssign for $name { fn sub_assign(&mut self, o: Self) { self.0 -= o.0; } }
        impl Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl Mul<$name> for f64 { type Output = $name; fn mul(self, q: $name) -> $name { $name(self * q.0) } }
        impl Div<f64> for $name { type Output = Self; fn div(self, k: f64) -> Self { Self(self.0 / k) } }
        impl Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(i: I) -> Self { Self(i.map(|q| q.0).sum()) } }
    )*};
}

quantity!(
    /// Mass, g.
    Grams
);
quantity!(
    /// A point on the temperature scale, °C. Differences are [`TempRise`].
    Celsius
);
quantity!(
    /// A difference of temperatures, K (= °C difference). To Fahrenheit by 9/5 only.
    TempRise
);
quantity!(
    /// Duration, h.
    Hours
);
quantity!(
    /// Duration, min.
    Minutes
);
quantity!(
    /// Parts per hundred. In a formula: of total flour (baker's percentage).
    Percent
);
quantity!(
    /// Acidity, −log10 of the hydrogen ion activity.
    Ph
);
quantity!(
    /// Length, mm.
    Millimetres
);
quantity!(
    /// Altitude above sea level, m.
    Metres
);
quantity!(
    /// Pressure, kPa.
    Kilopascal
);
quantity!(
    /// Volume, mL.
    Millilitres
);
quantity!(
    /// Energy per mass of dough, J/kg: mixing work, heat of fermentation.
    JoulesPerKg
);
quantity!(
    /// Titratable acidity: mL of 0.1 mol/L NaOH for 10 g of dough.
    Tta
);

amount!(Grams, TempRise, Hours, Minutes, Percent, Millimetres, Metres, Kilopascal, Millilitres);
amount!(JoulesPerKg, Tta);

impl Add<TempRise> for Celsius {
    type Output = Self;
    fn add(self, rise: TempRise) -> Self {
        Self(self.0 + rise.0)
    }
}
impl Sub<TempRise> for Celsius {
    type Output = Self;
    fn sub(self, rise: TempRise) -> Self {
        Self(self.0 - rise.0)
    }
}
impl Sub for Celsius {
    type Output = TempRise;
    fn sub(self, other: Self) -> TempRise {
        TempRise(self.0 - other.0)
    }
}

impl From<Hours> for Minutes {
    fn from(h: Hours) -> Self {
        Self(h.0 * 60.0)
    }
}
impl From<Minutes> for Hours {
    fn from(m: Minutes) -> Self {
        Self(m.0 / 60.0)
    }
}

impl Percent {
    /// As a fraction: 75 % is 0.75.
    pub fn fraction(self) -> f64 {
        self.0 / 100.0
    }
    /// This share of a mass.
    pub fn of(self, whole: Grams) -> Grams {
        whole * self.fraction()
    }
    /// The share `part` is of `whole`; zero when there is no whole.
    pub fn share(part: Grams, whole: Grams) -> Self {
        if whole.0 == 0.0 { Self(0.0) } else { Self(100.0 * (part / whole)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_friction_factor_is_a_difference() {
        // data/checks: friction_unit_conversion; 24 °F of friction are 13.33 K, never −4.4.
        assert!(("24 °F".parse::<TempRise>().unwrap().0 - 13.333_333).abs() < 1e-6);
    }

    #[test]
    fn fixed_points_of_the_fahrenheit_scale() {
        // Source: NIST SP 811 appendix B; exact.
        for (f, c) in [(212.0, 100.0), (32.0, 0.0), (-40.0, -40.0)] {
            assert_eq!(format!("{f} F").parse::<Celsius>().unwrap().0, c);
        }
        assert_eq!(Celsius(260.0).show(Units::Us), "500 °F");
        assert_eq!(Celsius(232.222).show(Units::Us), "450 °F");
    }
}
