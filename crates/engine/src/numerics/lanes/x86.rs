//! Registers of four and eight doubles.
//!
//! The only `unsafe` of the engine. Values of these types are made only under
//! [`Width::run`](super::Width), after `available` said that the machine has the instructions.
#![expect(unsafe_code, reason = "the processor's vector instructions are unsafe to call")]
#![expect(
    clippy::inline_always,
    reason = "must end up inside a function compiled for the register"
)]

use super::{Kernel, Lanes, Mask, functions};
use std::arch::x86_64::{
    __m256d, __m512d, __mmask8, _CMP_EQ_OQ, _CMP_LE_OQ, _CMP_LT_OQ, _mm256_add_epi64,
    _mm256_add_pd, _mm256_and_pd, _mm256_and_si256, _mm256_andnot_pd, _mm256_blendv_pd,
    _mm256_castpd_si256, _mm256_castsi256_pd, _mm256_cmp_pd, _mm256_div_pd, _mm256_loadu_pd,
    _mm256_movemask_pd, _mm256_mul_pd, _mm256_or_pd, _mm256_or_si256, _mm256_set1_epi64x,
    _mm256_set1_pd, _mm256_slli_epi64, _mm256_sqrt_pd, _mm256_srli_epi64, _mm256_storeu_pd,
    _mm256_sub_pd, _mm256_xor_pd, _mm512_abs_pd, _mm512_add_epi64, _mm512_add_pd, _mm512_and_si512,
    _mm512_castpd_si512, _mm512_castsi512_pd, _mm512_cmp_pd_mask, _mm512_div_pd, _mm512_loadu_pd,
    _mm512_mask_blend_pd, _mm512_mul_pd, _mm512_or_si512, _mm512_set1_epi64, _mm512_set1_pd,
    _mm512_slli_epi64, _mm512_sqrt_pd, _mm512_srli_epi64, _mm512_storeu_pd, _mm512_sub_pd,
    _mm512_xor_si512,
};
use std::fmt;
use std::ops::{Add, AddAssign, BitAnd, BitOr, Div, Mul, MulAssign, Neg, Not, Sub, SubAssign};

/// Four doubles.
#[derive(Clone, Copy)]
#[repr(transparent)]
pub(crate) struct Four(__m256d);
/// Eight doubles.
#[derive(Clone, Copy)]
#[repr(transparent)]
pub(crate) struct Eight(__m512d);

/// Mask of [`Four`].
#[derive(Clone, Copy)]
#[repr(transparent)]
pub(crate) struct FourMask(__m256d);
/// Mask of [`Eight`].
#[derive(Clone, Copy)]
#[repr(transparent)]
pub(crate) struct EightMask(__mmask8);

macro_rules! register {
    ($t:ident, $n:literal, $splat:ident, $load:ident, $store:ident;
     $($op:ident $method:ident $intrinsic:ident),*; $($assign:ident $assigns:ident $by:tt),*) => {
        impl $t {
            #[inline(always)]
            fn array(self) -> [f64; $n] {
                let mut out = [0.0; $n];
                // SAFETY: the register exists (module comment); `out` has room for it
                unsafe { $store(out.as_mut_ptr(), self.0) };
                out
            }
        }
        $(
            impl $op for $t {
                type Output = Self;
                #[inline(always)]
                fn $method(self, other: Self) -> Self {
                    // SAFETY: the register exists (module comment)
                    Self(unsafe { $intrinsic(self.0, other.0) })
                }
            }
            impl $op<f64> for $t {
                type Output = Self;
                #[inline(always)]
                fn $method(self, other: f64) -> Self {
                    // SAFETY: as above
                    Self(unsafe { $intrinsic(self.0, $splat(other)) })
                }
            }
        )*
        $(
            impl $assign for $t {
                #[inline(always)]
                fn $assigns(&mut self, other: Self) {
                    *self = *self $by other;
                }
            }
        )*
        impl PartialEq for $t {
            fn eq(&self, other: &Self) -> bool {
                self.array() == other.array()
            }
        }
        impl Default for $t {
            #[inline(always)]
            fn default() -> Self {
                Self::splat(0.0)
            }
        }
        impl fmt::Debug for $t {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.array().fmt(f)
            }
        }
    };
}

register!(Four, 4, _mm256_set1_pd, _mm256_loadu_pd, _mm256_storeu_pd;
    Add add _mm256_add_pd, Sub sub _mm256_sub_pd, Mul mul _mm256_mul_pd, Div div _mm256_div_pd;
    AddAssign add_assign +, SubAssign sub_assign -, MulAssign mul_assign *);
register!(Eight, 8, _mm512_set1_pd, _mm512_loadu_pd, _mm512_storeu_pd;
    Add add _mm512_add_pd, Sub sub _mm512_sub_pd, Mul mul _mm512_mul_pd, Div div _mm512_div_pd;
    AddAssign add_assign +, SubAssign sub_assign -, MulAssign mul_assign *);

impl Four {
    /// Whether this machine has them.
    pub(crate) fn available() -> bool {
        std::arch::is_x86_feature_detected!("avx2")
    }
}
impl Eight {
    /// Whether this machine has them.
    pub(crate) fn available() -> bool {
        std::arch::is_x86_feature_detected!("avx512f")
    }
}

#[target_feature(enable = "avx2")]
fn with_avx2<R>(f: impl FnOnce() -> R) -> R {
    f()
}
#[target_feature(enable = "avx512f")]
fn with_avx512<R>(f: impl FnOnce() -> R) -> R {
    f()
}

#[target_feature(enable = "avx2")]
fn compute_avx2<K: Kernel>(kernel: K) -> K::Out {
    kernel.compute()
}
#[target_feature(enable = "avx512f")]
fn compute_avx512<K: Kernel>(kernel: K) -> K::Out {
    kernel.compute()
}

const SIGN: f64 = -0.0;
const SIGN_BIT: i64 = i64::MIN;

impl Neg for Four {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        // SAFETY: the register exists (module comment), here and below
        Self(unsafe { _mm256_xor_pd(self.0, _mm256_set1_pd(SIGN)) })
    }
}
impl Neg for Eight {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        // SAFETY: as above
        Self(unsafe {
            _mm512_castsi512_pd(_mm512_xor_si512(
                _mm512_castpd_si512(self.0),
                _mm512_set1_epi64(SIGN_BIT),
            ))
        })
    }
}

impl Lanes for Four {
    const N: usize = 4;
    type Mask = FourMask;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: the register exists (module comment), here and below
        Self(unsafe { _mm256_set1_pd(x) })
    }
    #[inline(always)]
    fn from_fn(f: impl FnMut(usize) -> f64) -> Self {
        let x: [f64; 4] = std::array::from_fn(f);
        // SAFETY: as above; four doubles are read from an array of four
        Self(unsafe { _mm256_loadu_pd(x.as_ptr()) })
    }
    #[inline(always)]
    fn lane(self, i: usize) -> f64 {
        self.array()[i]
    }
    #[inline(always)]
    fn below(self, other: Self) -> FourMask {
        // SAFETY: as above
        FourMask(unsafe { _mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn upto(self, other: Self) -> FourMask {
        // SAFETY: as above
        FourMask(unsafe { _mm256_cmp_pd::<_CMP_LE_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn same(self, other: Self) -> FourMask {
        // SAFETY: as above
        FourMask(unsafe { _mm256_cmp_pd::<_CMP_EQ_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn select(mask: FourMask, yes: Self, no: Self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_blendv_pd(no.0, yes.0, mask.0) })
    }
    #[inline(always)]
    fn root(self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_sqrt_pd(self.0) })
    }
    #[inline(always)]
    fn size(self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(SIGN), self.0) })
    }
    #[inline(always)]
    fn power_of_two(magic: Self) -> Self {
        // SAFETY: as above
        Self(unsafe {
            let k = _mm256_slli_epi64::<52>(_mm256_castpd_si256(magic.0));
            let one = _mm256_castpd_si256(_mm256_set1_pd(1.0));
            _mm256_castsi256_pd(_mm256_add_epi64(k, one))
        })
    }
    #[inline(always)]
    fn split(self) -> (Self, Self) {
        // SAFETY: as above
        unsafe {
            let of = |x: u64| _mm256_set1_epi64x(x.cast_signed());
            let up =
                _mm256_add_epi64(_mm256_castpd_si256(self.0), of(functions::ONE_LESS_ROOT_HALF));
            let k = _mm256_or_si256(_mm256_srli_epi64::<52>(up), of(functions::MAGIC_BITS));
            let m = _mm256_add_epi64(
                _mm256_and_si256(up, of(functions::MANTISSA)),
                of(functions::ROOT_HALF),
            );
            let k = Self(_mm256_castsi256_pd(k)) - functions::MAGIC_AND_BIAS;
            (Self(_mm256_castsi256_pd(m)), k)
        }
    }
    #[inline(always)]
    fn with<R>(f: impl FnOnce() -> R) -> R {
        // SAFETY: as above: whoever names `Four` has asked `available`
        unsafe { with_avx2(f) }
    }
    #[inline(always)]
    fn compute<K: Kernel>(kernel: K) -> K::Out {
        // SAFETY: as above
        unsafe { compute_avx2(kernel) }
    }
}

impl Lanes for Eight {
    const N: usize = 8;
    type Mask = EightMask;

    #[inline(always)]
    fn splat(x: f64) -> Self {
        // SAFETY: the register exists (module comment), here and below
        Self(unsafe { _mm512_set1_pd(x) })
    }
    #[inline(always)]
    fn from_fn(f: impl FnMut(usize) -> f64) -> Self {
        let x: [f64; 8] = std::array::from_fn(f);
        // SAFETY: as above; eight doubles are read from an array of eight
        Self(unsafe { _mm512_loadu_pd(x.as_ptr()) })
    }
    #[inline(always)]
    fn lane(self, i: usize) -> f64 {
        self.array()[i]
    }
    #[inline(always)]
    fn below(self, other: Self) -> EightMask {
        // SAFETY: as above
        EightMask(unsafe { _mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn upto(self, other: Self) -> EightMask {
        // SAFETY: as above
        EightMask(unsafe { _mm512_cmp_pd_mask::<_CMP_LE_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn same(self, other: Self) -> EightMask {
        // SAFETY: as above
        EightMask(unsafe { _mm512_cmp_pd_mask::<_CMP_EQ_OQ>(self.0, other.0) })
    }
    #[inline(always)]
    fn select(mask: EightMask, yes: Self, no: Self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm512_mask_blend_pd(mask.0, no.0, yes.0) })
    }
    #[inline(always)]
    fn root(self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm512_sqrt_pd(self.0) })
    }
    #[inline(always)]
    fn size(self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm512_abs_pd(self.0) })
    }
    #[inline(always)]
    fn power_of_two(magic: Self) -> Self {
        // SAFETY: as above
        Self(unsafe {
            let k = _mm512_slli_epi64::<52>(_mm512_castpd_si512(magic.0));
            let one = _mm512_castpd_si512(_mm512_set1_pd(1.0));
            _mm512_castsi512_pd(_mm512_add_epi64(k, one))
        })
    }
    #[inline(always)]
    fn split(self) -> (Self, Self) {
        // SAFETY: as above
        unsafe {
            let of = |x: u64| _mm512_set1_epi64(x.cast_signed());
            let up =
                _mm512_add_epi64(_mm512_castpd_si512(self.0), of(functions::ONE_LESS_ROOT_HALF));
            let k = _mm512_or_si512(_mm512_srli_epi64::<52>(up), of(functions::MAGIC_BITS));
            let m = _mm512_add_epi64(
                _mm512_and_si512(up, of(functions::MANTISSA)),
                of(functions::ROOT_HALF),
            );
            let k = Self(_mm512_castsi512_pd(k)) - functions::MAGIC_AND_BIAS;
            (Self(_mm512_castsi512_pd(m)), k)
        }
    }
    #[inline(always)]
    fn with<R>(f: impl FnOnce() -> R) -> R {
        // SAFETY: as above: whoever names `Eight` has asked `available`
        unsafe { with_avx512(f) }
    }
    #[inline(always)]
    fn compute<K: Kernel>(kernel: K) -> K::Out {
        // SAFETY: as above
        unsafe { compute_avx512(kernel) }
    }
}

impl BitAnd for FourMask {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        // SAFETY: the register exists (module comment), here and below
        Self(unsafe { _mm256_and_pd(self.0, other.0) })
    }
}
impl BitOr for FourMask {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_or_pd(self.0, other.0) })
    }
}
impl Not for FourMask {
    type Output = Self;
    #[inline(always)]
    fn not(self) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_xor_pd(self.0, Self::splat(true).0) })
    }
}
impl Mask for FourMask {
    #[inline(always)]
    fn splat(yes: bool) -> Self {
        // SAFETY: as above
        Self(unsafe { _mm256_castsi256_pd(_mm256_set1_epi64x(-i64::from(yes))) })
    }
    #[inline(always)]
    fn lane(self, i: usize) -> bool {
        // SAFETY: as above
        (unsafe { _mm256_movemask_pd(self.0) } >> i) & 1 == 1
    }
    #[inline(always)]
    fn any(self) -> bool {
        // SAFETY: as above
        (unsafe { _mm256_movemask_pd(self.0) }) != 0
    }
    #[inline(always)]
    fn all(self) -> bool {
        // SAFETY: as above
        (unsafe { _mm256_movemask_pd(self.0) }) == 0b1111
    }
}

impl BitAnd for EightMask {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
}
impl BitOr for EightMask {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}
impl Not for EightMask {
    type Output = Self;
    #[inline(always)]
    fn not(self) -> Self {
        Self(!self.0)
    }
}
impl Mask for EightMask {
    #[inline(always)]
    fn splat(yes: bool) -> Self {
        Self(if yes { 0xff } else { 0 })
    }
    #[inline(always)]
    fn lane(self, i: usize) -> bool {
        (self.0 >> i) & 1 == 1
    }
    #[inline(always)]
    fn any(self) -> bool {
        self.0 != 0
    }
    #[inline(always)]
    fn all(self) -> bool {
        self.0 == 0xff
    }
}
