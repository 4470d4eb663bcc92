//! Exponential and logarithm out of plain arithmetic: the same bits on every machine.

use super::Lanes;

/// 1.5·2⁵²: adding it rounds to a whole number, which then stands in the lowest bits.
pub(super) const MAGIC: f64 = 6_755_399_441_055_744.0;
/// Bits of 2⁵²: an integer below 2⁵² in the mantissa makes 2⁵² plus it.
pub(super) const MAGIC_BITS: u64 = 0x4330_0000_0000_0000;
/// What is then too much: 2⁵² and the bias of the exponent.
pub(super) const MAGIC_AND_BIAS: f64 = 4_503_599_627_370_496.0 + 1023.0;
/// Bits of 1/√2, cut to its upper half.
pub(super) const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;
/// Bits of 1 less those.
pub(super) const ONE_LESS_ROOT_HALF: u64 = 0x3ff0_0000_0000_0000 - ROOT_HALF;
/// The mantissa of a double.
pub(super) const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;

/// ln 2 in two parts, the first with 21 zeros at its end. Cody and Waite.
const LN2: (f64, f64) = (0.693_147_180_369_123_8, 1.908_214_929_270_587_7e-10);

/// e to the power of `x`, within 2 in the last place.
///
/// 0 below −708, held to e⁷⁰⁹ above 709, NaN for NaN.
///
/// ```
/// use engine::numerics::lanes::exp;
/// assert!((exp(1.0) - std::f64::consts::E).abs() < 1e-15);
/// ```
#[inline(always)]
pub fn exp<L: Lanes>(x: L) -> L {
    // NaN passes both selects
    let held = L::select(x.above(L::splat(709.0)), L::splat(709.0), x);
    let held = L::select(held.below(L::splat(-708.0)), L::splat(-708.0), held);
    let magic = held * std::f64::consts::LOG2_E + MAGIC;
    let k = magic - MAGIC;
    let r = (held - k * LN2.0) - k * LN2.1;
    // Taylor to r¹³ on |r| ≤ 0.347: rest below 5e-18; in pairs, so that few wait for others
    let r2 = r * r;
    let r4 = r2 * r2;
    let low = (r * (1.0 / 6.0) + 0.5) + r2 * (r * (1.0 / 120.0) + 1.0 / 24.0);
    let mid = (r * (1.0 / 5040.0) + 1.0 / 720.0) + r2 * (r * (1.0 / 362_880.0) + 1.0 / 40_320.0);
    let high = (r * (1.0 / 39_916_800.0) + 1.0 / 3_628_800.0)
        + r2 * (r * (1.0 / 6_227_020_800.0) + 1.0 / 479_001_600.0);
    let p = r2 * (low + r4 * (mid + r4 * high)) + r;
    let y = L::power_of_two(magic) * (p + 1.0);
    L::select(x.below(L::splat(-708.0)), L::splat(0.0), y)
}

/// Natural logarithm of a positive number, within 1 in the last place.
///
/// Numbers below 1e-307 count as that, also zero and negative ones; NaN and infinity give some
/// number: the kernels never ask.
#[inline(always)]
pub fn ln<L: Lanes>(x: L) -> L {
    let (m, k) = x.at_least(1e-307).split();
    let f = m - 1.0;
    let s = f / (f + 2.0);
    let z = s * s;
    let w = z * z;
    // the polynomial of the freely distributable maths library: (ln(1+s) − ln(1−s) − 2s)/s
    let odd = w
        * (w * (w * 0.153_138_376_992_093_73 + 0.222_221_984_321_497_84) + 0.399_999_999_994_094_2);
    let even = z
        * (w * (w * (w * 0.147_981_986_051_165_86 + 0.181_835_721_616_180_5)
            + 0.285_714_287_436_623_9)
            + 0.666_666_666_666_673_5);
    let half = f * f * 0.5;
    let r = s * (half + (odd + even)) + k * LN2.1;
    k * LN2.0 - ((half - r) - f)
}

/// `x` to the power of `y` for positive `x`: e^(y ln x).
///
/// Relative error up to |y ln x| in the last place.
#[inline(always)]
pub fn pow<L: Lanes>(x: L, y: L) -> L {
    exp(y * ln(x))
}
