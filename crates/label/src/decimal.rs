//! Numbers as they are written: decimal, exact to twelve places.
//!
//! 2.675 has no binary float, and a rule that rounds it up to 2.68 would miss. Sums and products
//! are exact as far as twelve places go; quotients are rounded there, half up. What would be too
//! large stays at the largest number there is.

use std::fmt;
use std::ops::{Add, AddAssign, Mul, Sub};

const PLACES: usize = 12;
const ONE: i128 = 1_000_000_000_000;

/// A decimal number, −1.7 × 10²⁶ to 1.7 × 10²⁶ in steps of 10⁻¹².
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Decimal(i128);

impl Decimal {
    /// 0.
    pub const ZERO: Self = Self(0);

    /// A whole number.
    pub const fn whole(n: i64) -> Self {
        Self(n as i128 * ONE)
    }

    /// Thousandths: `Decimal::thousandths(12_500)` is 12.5.
    pub const fn thousandths(n: i64) -> Self {
        Self(n as i128 * (ONE / 1000))
    }

    /// Of a weighed or computed number, taken at six places: what a float has beyond them is its
    /// noise. `None` for what is no number or beyond 10¹².
    pub fn of(x: f64) -> Option<Self> {
        let scaled = (x * 1e6).round();
        (scaled.abs() <= 1e18).then(|| Self(scaled as i128 * (ONE / 1_000_000)))
    }

    /// As a float, for pictures and JSON.
    pub fn to_f64(self) -> f64 {
        // through its text: the nearest float, not a quotient of two rounded ones
        self.to_string().parse().unwrap_or(f64::NAN)
    }

    /// This over that, rounded at the twelfth place, half away from zero; `None` over nothing.
    pub fn over(self, by: Self) -> Option<Self> {
        if by.0 == 0 {
            return None;
        }
        Some(Self(match self.0.checked_mul(ONE) {
            Some(n) => divided(n, by.0),
            // too large for the exact way: whole part first
            None => self.0.saturating_div(by.0).saturating_mul(ONE),
        }))
    }

    /// To the nearest multiple of a step, half up (away from zero); itself for a step of nothing.
    #[must_use]
    pub fn to_step(self, step: Self) -> Self {
        if step.0 <= 0 {
            return self;
        }
        Self(divided(self.0, step.0).saturating_mul(step.0))
    }

    /// The least multiple of a whole number of ones that is not below it: packages to buy.
    pub fn up_to_whole(self) -> i64 {
        let whole = self.0.div_euclid(ONE) + i128::from(self.0.rem_euclid(ONE) != 0);
        i64::try_from(whole).unwrap_or(i64::MAX)
    }

    /// To so many significant figures, half up.
    #[must_use]
    pub fn to_figures(self, figures: u32) -> Self {
        let mut least = 10_u128.saturating_pow(figures);
        let mut step: i128 = 1;
        while self.0.unsigned_abs() >= least {
            least = least.saturating_mul(10);
            step = step.saturating_mul(10);
            if least == u128::MAX {
                break;
            }
        }
        self.to_step(Self(step))
    }

    /// With so many places, rounded half up.
    pub fn show(self, places: usize) -> String {
        let places = places.min(PLACES);
        let step = 10_i128.pow((PLACES - places) as u32);
        let rounded = self.to_step(Self(step)).0;
        let sign = if rounded < 0 { "-" } else { "" };
        let (whole, part) =
            (rounded.unsigned_abs() / ONE as u128, rounded.unsigned_abs() % ONE as u128);
        if places == 0 {
            return format!("{sign}{whole}");
        }
        let digits = format!("{part:0PLACES$}");
        format!("{sign}{whole}.{}", &digits[..places])
    }

    /// Whether it is nothing.
    pub fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// Reads plain digits with at most one point, `"1234"`, `"0.35"`, `"-2.5"`; at most 15 before
    /// the point and 12 after it. `None` for anything else.
    pub fn read(text: &str) -> Option<Self> {
        let (negative, digits) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let plain = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        let pointed = digits.contains('.') && part.is_empty();
        if whole.is_empty() || pointed || whole.len() > 15 || part.len() > PLACES {
            return None;
        }
        if !plain(whole) || !plain(part) {
            return None;
        }
        let ones: i128 = whole.parse().ok()?;
        let rest: i128 = format!("{part:0<PLACES$}").parse().ok()?;
        let all = ones * ONE + rest;
        Some(Self(if negative { -all } else { all }))
    }
}

/// A quotient to the nearest whole, half away from zero. The divisor is not zero.
fn divided(n: i128, by: i128) -> i128 {
    let (q, r) = (n.saturating_div(by), n.wrapping_rem(by));
    let twice = r.unsigned_abs().saturating_mul(2);
    if twice >= by.unsigned_abs() { q.saturating_add(n.signum() * by.signum()) } else { q }
}

impl Add for Decimal {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self(self.0.saturating_add(o.0))
    }
}
impl Sub for Decimal {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self(self.0.saturating_sub(o.0))
    }
}
impl AddAssign for Decimal {
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}
impl Mul for Decimal {
    type Output = Self;
    /// Rounded at the twelfth place.
    fn mul(self, o: Self) -> Self {
        if let Some(n) = self.0.checked_mul(o.0) {
            return Self(divided(n, ONE));
        }
        // too large for the exact way: the larger one's last places go first
        let (a, b) = if self.0.unsigned_abs() < o.0.unsigned_abs() { (o, self) } else { (self, o) };
        Self(divided(a.0, ONE).saturating_mul(b.0))
    }
}
impl std::iter::Sum for Decimal {
    fn sum<I: Iterator<Item = Self>>(i: I) -> Self {
        i.fold(Self::ZERO, Self::add)
    }
}

/// Every digit that is there, and no others.
impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all = self.show(PLACES);
        f.write_str(all.trim_end_matches('0').trim_end_matches('.'))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(text: &str) -> Decimal {
        Decimal::read(text).unwrap()
    }

    #[test]
    fn ties_go_up_where_binary_floats_lose_them() {
        // 2.675 as a float lies below the tie
        assert_eq!(format!("{:.2}", 2.675_f64), "2.67");
        assert_eq!(d("2.675").show(2), "2.68");
        assert_eq!(d("-2.675").show(2), "-2.68");
        assert_eq!(d("47.5").to_step(Decimal::whole(5)), d("50"));
        assert_eq!((d("0.1") + d("0.2")).to_string(), "0.3");
        assert_eq!(d("1").over(d("3")).unwrap().to_string(), "0.333333333333");
        assert_eq!(d("1234.5").to_figures(3), d("1230"));
        assert_eq!(d("0.012345").to_figures(2), d("0.012"));
        assert_eq!(d("2.0000001").up_to_whole(), 3);
        assert_eq!(Decimal::of(33.333_333_333), Some(d("33.333333")));
        assert!(Decimal::of(f64::NAN).is_none() && d("1").over(Decimal::ZERO).is_none());
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(n in -1_000_000_000_000_000_i64..1_000_000_000_000_000) {
            let x = Decimal::thousandths(n);
            prop_assert_eq!(Decimal::read(&x.to_string()), Some(x));
            prop_assert!((x.to_f64() - n as f64 / 1000.0).abs() <= 1e-3 * n.abs() as f64 * 1e-12);
        }

        #[test]
        fn nothing_panics(a in any::<i128>(), b in any::<i128>(), text in ".{0,30}", x in proptest::num::f64::ANY) {
            let (a, b) = (Decimal(a), Decimal(b));
            let _ = (a + b, a - b, a * b, a.over(b), a.to_step(b), a.to_figures(3), a.up_to_whole());
            let _ = (a.show(3), a.to_string(), a.to_f64(), Decimal::read(&text), Decimal::of(x));
        }

        #[test]
        fn a_step_is_never_further_than_half(n in 0_i64..1_000_000_000, step in 1_i64..100_000) {
            let (x, step) = (Decimal::thousandths(n), Decimal::thousandths(step));
            let y = x.to_step(step);
            prop_assert!((y - x) * Decimal::whole(2) <= step && (x - y) * Decimal::whole(2) < step);
        }
    }
}
