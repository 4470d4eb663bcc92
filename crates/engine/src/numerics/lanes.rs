//! One number, or several side by side: the kernels are written once and run on either.
//!
//! [`Lanes`] is an `f64` or a register of them. One dough is a batch of one lane. Every
//! operation is exact IEEE arithmetic on each lane alone, nothing is contracted or reordered,
//! and [`exp`] and [`ln`] are made of such operations: so a dough has the same bits alone, beside
//! others, in any lane, on any machine.
//!
//! Control flow that may differ from lane to lane goes through masks: a lane that is done keeps
//! its value while others go on ([`Lanes::select`]).

mod counted;
mod functions;
mod peak;
#[cfg(target_arch = "x86_64")]
mod x86;

pub(crate) use counted::Counted;
pub use counted::Operations;
pub use functions::{exp, ln, pow};
pub use peak::{FLOPS_PER_ROUND, multiply_and_add};
#[cfg(target_arch = "x86_64")]
pub(crate) use x86::{Eight, Four};

use std::fmt::Debug;
use std::ops::{Add, AddAssign, BitAnd, BitOr, Div, Mul, MulAssign, Neg, Not, Sub, SubAssign};

/// A yes or no for each lane.
pub trait Mask: Copy + BitAnd<Output = Self> + BitOr<Output = Self> + Not<Output = Self> {
    /// The same for every lane.
    fn splat(yes: bool) -> Self;
    /// Of one lane.
    fn lane(self, i: usize) -> bool;
    /// Whether any lane says yes.
    fn any(self) -> bool;
    /// Whether all lanes say yes.
    fn all(self) -> bool;
}

/// What the counting lane counts besides arithmetic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// A step of a body of dough.
    Step,
    /// A Runge-Kutta step of its fermentation; at least one a step.
    RungeKutta,
    /// One set of rates; four a Runge-Kutta step and one a reading.
    Rates,
    /// A step of its warmth; at least two a step.
    Warmth,
}

/// A number of each of [`Self::N`] lanes. Sealed: `f64` and the crate's registers.
pub trait Lanes:
    Copy
    + Debug
    + PartialEq
    + Default
    + Send
    + Sync
    + 'static
    + Neg<Output = Self>
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
    + AddAssign
    + SubAssign
    + MulAssign
    + sealed::Sealed
{
    /// How many lanes.
    const N: usize;
    /// A yes or no for each lane.
    type Mask: Mask;

    /// The same in every lane.
    fn splat(x: f64) -> Self;
    /// Lane by lane.
    fn from_fn(f: impl FnMut(usize) -> f64) -> Self;
    /// One lane's number; `i` below [`Self::N`].
    fn lane(self, i: usize) -> f64;
    /// `self < other`; false where either is NaN.
    fn below(self, other: Self) -> Self::Mask;
    /// `self <= other`; false where either is NaN.
    fn upto(self, other: Self) -> Self::Mask;
    /// `self == other`; false where either is NaN.
    fn same(self, other: Self) -> Self::Mask;
    /// `yes` where the mask says so, else `no`.
    fn select(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// Square root.
    #[must_use]
    fn root(self) -> Self;
    /// Absolute value.
    #[must_use]
    fn size(self) -> Self;
    /// `1.5·2⁵² + k` to `2^k`; see [`exp`].
    fn power_of_two(magic: Self) -> Self;
    /// `x = m·2^k` with `m` in 1/√2..√2: `(m, k)`, for positive normal `x`; see [`ln`].
    fn split(self) -> (Self, Self);
    /// Runs `f` compiled for this register's instructions; `f` has to be small, see
    /// [`Kernel`].
    fn with<R>(f: impl FnOnce() -> R) -> R;
    /// Runs a kernel compiled for this register's instructions.
    fn compute<K: Kernel>(kernel: K) -> K::Out;
    /// Something worth counting happens; only the counting lane looks.
    #[inline(always)]
    fn happens(_: Event) {}

    /// `self > other`; false where either is NaN.
    #[inline(always)]
    fn above(self, other: Self) -> Self::Mask {
        other.below(self)
    }
    /// The smaller; `other` where either is NaN.
    #[must_use]
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        Self::select(self.below(other), self, other)
    }
    /// The larger; `other` where either is NaN.
    #[must_use]
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        Self::select(self.above(other), self, other)
    }
    /// Not below `x`.
    #[must_use]
    #[inline(always)]
    fn at_least(self, x: f64) -> Self {
        self.larger(Self::splat(x))
    }
    /// Not above `x`.
    #[must_use]
    #[inline(always)]
    fn at_most(self, x: f64) -> Self {
        self.smaller(Self::splat(x))
    }
    /// Held between `lo` and `hi`.
    #[must_use]
    #[inline(always)]
    fn within(self, lo: f64, hi: f64) -> Self {
        self.at_least(lo).at_most(hi)
    }
    /// Whole number not below; exact for |x| < 2⁵¹.
    #[must_use]
    #[inline(always)]
    fn ceiling(self) -> Self {
        let nearest = (self + functions::MAGIC) - functions::MAGIC;
        Self::select(nearest.below(self), nearest + 1.0, nearest)
    }
    /// Each lane through a function of one number.
    #[must_use]
    #[inline(always)]
    fn map(self, mut f: impl FnMut(f64) -> f64) -> Self {
        Self::from_fn(|i| f(self.lane(i)))
    }
    /// Whether no lane is NaN or infinite.
    fn all_finite(self) -> bool {
        (0..Self::N).all(|i| self.lane(i).is_finite())
    }
}

/// Much work on lanes, in the place of a closure.
///
/// A large closure may stay a function of its own, without the register's instructions, and is
/// then ten times slower than one lane. [`compute`](Self::compute) is to be `inline(always)`.
pub trait Kernel {
    /// What it gives.
    type Out;
    /// Does it.
    fn compute(self) -> Self::Out;
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for f64 {}
    impl Sealed for super::Counted {}
    #[cfg(target_arch = "x86_64")]
    impl Sealed for super::x86::Four {}
    #[cfg(target_arch = "x86_64")]
    impl Sealed for super::x86::Eight {}
}

impl Mask for bool {
    #[inline(always)]
    fn splat(yes: bool) -> Self {
        yes
    }
    #[inline(always)]
    fn lane(self, _: usize) -> bool {
        self
    }
    #[inline(always)]
    fn any(self) -> bool {
        self
    }
    #[inline(always)]
    fn all(self) -> bool {
        self
    }
}

impl Lanes for f64 {
    const N: usize = 1;
    type Mask = bool;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        x
    }
    #[inline(always)]
    fn from_fn(mut f: impl FnMut(usize) -> f64) -> Self {
        f(0)
    }
    #[inline(always)]
    fn lane(self, _: usize) -> f64 {
        self
    }
    #[inline(always)]
    fn below(self, other: Self) -> bool {
        self < other
    }
    #[inline(always)]
    fn upto(self, other: Self) -> bool {
        self <= other
    }
    #[inline(always)]
    fn same(self, other: Self) -> bool {
        self == other
    }
    #[inline(always)]
    fn select(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
    #[inline(always)]
    fn root(self) -> Self {
        self.sqrt()
    }
    #[inline(always)]
    fn size(self) -> Self {
        self.abs()
    }
    #[inline(always)]
    fn power_of_two(magic: Self) -> Self {
        Self::from_bits((magic.to_bits() << 52).wrapping_add(1.0_f64.to_bits()))
    }
    #[inline(always)]
    fn split(self) -> (Self, Self) {
        // a mantissa from √2 on belongs to the next power of two
        let up = self.to_bits().wrapping_add(functions::ONE_LESS_ROOT_HALF);
        let k = (up >> 52) | functions::MAGIC_BITS;
        let m = (up & functions::MANTISSA).wrapping_add(functions::ROOT_HALF);
        (Self::from_bits(m), Self::from_bits(k) - functions::MAGIC_AND_BIAS)
    }
    #[inline(always)]
    fn with<R>(f: impl FnOnce() -> R) -> R {
        f()
    }
    #[inline(always)]
    fn compute<K: Kernel>(kernel: K) -> K::Out {
        kernel.compute()
    }
}

/// Work that runs on any number of lanes.
pub(crate) trait Job {
    /// What it gives.
    type Out;
    /// Does it.
    fn run<L: Lanes>(self) -> Self::Out;
}

/// How many lanes to use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// As many as this machine has in one register.
    #[default]
    Widest,
    /// One at a time.
    One,
    /// Four (AVX2), or one where the machine lacks it.
    Four,
    /// Eight (AVX-512), or the next fewer the machine has.
    Eight,
}

impl Width {
    /// Lanes this comes to on this machine.
    pub fn lanes(self) -> usize {
        struct Count;
        impl Job for Count {
            type Out = usize;
            fn run<L: Lanes>(self) -> usize {
                L::N
            }
        }
        self.run(Count)
    }

    /// Runs a job on that many lanes.
    pub(crate) fn run<J: Job>(self, job: J) -> J::Out {
        #[cfg(target_arch = "x86_64")]
        {
            if matches!(self, Self::Widest | Self::Eight) && Eight::available() {
                return job.run::<Eight>();
            }
            if self != Self::One && Four::available() {
                return job.run::<Four>();
            }
        }
        job.run::<f64>()
    }
}

#[cfg(test)]
mod tests;
