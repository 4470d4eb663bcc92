//! A lane that counts what is done with it.

use super::{Event, Lanes};
use std::cell::Cell;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

/// What was done with one lane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Operations {
    /// Additions and subtractions.
    pub additions: u64,
    /// Multiplications.
    pub multiplications: u64,
    /// Divisions.
    pub divisions: u64,
    /// Square roots.
    pub roots: u64,
    /// Comparisons, choices, signs and powers of two: no arithmetic, but work.
    pub others: u64,
    /// [`Event::Step`].
    pub steps: u64,
    /// [`Event::RungeKutta`].
    pub runge_kutta: u64,
    /// [`Event::Rates`].
    pub rates: u64,
    /// [`Event::Warmth`].
    pub warmth: u64,
}

impl Operations {
    const NONE: Self = Self {
        additions: 0,
        multiplications: 0,
        divisions: 0,
        roots: 0,
        others: 0,
        steps: 0,
        runge_kutta: 0,
        rates: 0,
        warmth: 0,
    };

    /// Floating-point operations as they are usually counted: the four sorts of arithmetic.
    pub fn floating_point(&self) -> u64 {
        self.additions + self.multiplications + self.divisions + self.roots
    }
}

thread_local! {
    static DONE: Cell<Operations> = const { Cell::new(Operations::NONE) };
}

fn note(of: impl FnOnce(&mut Operations)) {
    let mut done = DONE.get();
    of(&mut done);
    DONE.set(done);
}

fn one_more(of: &mut u64) {
    *of += 1;
}

/// One number that counts its operations on this thread; its values are those of `f64`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Counted(f64);

impl Counted {
    /// What `f` does on this thread, and its result.
    pub(crate) fn while_doing<R>(f: impl FnOnce() -> R) -> (Operations, R) {
        let before = DONE.replace(Operations::NONE);
        let result = f();
        (DONE.replace(before), result)
    }
}

macro_rules! counted {
    ($($op:ident $method:ident $assign:ident $assigns:ident $sort:ident $by:tt),*) => {
        $(
            impl $op for Counted {
                type Output = Self;
                fn $method(self, other: Self) -> Self {
                    note(|o| one_more(&mut o.$sort));
                    Self(self.0 $by other.0)
                }
            }
            impl $op<f64> for Counted {
                type Output = Self;
                fn $method(self, other: f64) -> Self {
                    self $by Self(other)
                }
            }
            impl $assign for Counted {
                fn $assigns(&mut self, other: Self) {
                    *self = *self $by other;
                }
            }
        )*
    };
}
counted!(Add add AddAssign add_assign additions +, Sub sub SubAssign sub_assign additions -,
    Mul mul MulAssign mul_assign multiplications *);

impl Div for Counted {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        note(|o| one_more(&mut o.divisions));
        Self(self.0 / other.0)
    }
}
impl Div<f64> for Counted {
    type Output = Self;
    fn div(self, other: f64) -> Self {
        self / Self(other)
    }
}
impl Neg for Counted {
    type Output = Self;
    fn neg(self) -> Self {
        note(|o| o.others += 1);
        Self(-self.0)
    }
}

impl Lanes for Counted {
    const N: usize = 1;
    type Mask = bool;

    fn splat(x: f64) -> Self {
        Self(x)
    }
    fn from_fn(mut f: impl FnMut(usize) -> f64) -> Self {
        Self(f(0))
    }
    fn lane(self, _: usize) -> f64 {
        self.0
    }
    fn below(self, other: Self) -> bool {
        note(|o| o.others += 1);
        self.0 < other.0
    }
    fn upto(self, other: Self) -> bool {
        note(|o| o.others += 1);
        self.0 <= other.0
    }
    fn same(self, other: Self) -> bool {
        note(|o| o.others += 1);
        self.0 == other.0
    }
    fn select(mask: bool, yes: Self, no: Self) -> Self {
        note(|o| o.others += 1);
        if mask { yes } else { no }
    }
    fn root(self) -> Self {
        note(|o| o.roots += 1);
        Self(self.0.sqrt())
    }
    fn size(self) -> Self {
        note(|o| o.others += 1);
        Self(self.0.abs())
    }
    fn power_of_two(magic: Self) -> Self {
        note(|o| o.others += 1);
        Self(f64::power_of_two(magic.0))
    }
    fn split(self) -> (Self, Self) {
        note(|o| o.others += 1);
        let (m, k) = self.0.split();
        (Self(m), Self(k))
    }
    fn with<R>(f: impl FnOnce() -> R) -> R {
        f()
    }
    fn compute<K: super::Kernel>(kernel: K) -> K::Out {
        kernel.compute()
    }
    fn happens(event: Event) {
        note(|o| match event {
            Event::Step => o.steps += 1,
            Event::RungeKutta => o.runge_kutta += 1,
            Event::Rates => o.rates += 1,
            Event::Warmth => o.warmth += 1,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::super::exp;
    use super::*;

    #[test]
    fn counts_and_gives_the_same_bits() {
        let (done, y) = Counted::while_doing(|| exp(Counted(1.5)) / 3.0 - 1.0);
        assert_eq!(y.0.to_bits(), (exp(1.5) / 3.0 - 1.0).to_bits());
        assert_eq!((done.divisions, done.roots), (1, 0));
        // magic, k, r twice, thirteen terms of the series, the last one, and ours
        assert!((18..=22).contains(&done.additions), "{done:?}");
        assert_eq!(Counted::while_doing(|| ()).0, Operations::NONE);
    }
}
