//! The normal distribution and its kin: distribution function and quantile functions.
//!
//! A quantile function takes a probability and gives the value below which a draw lies with
//! that probability. Fed with uniform numbers it gives draws; it never decreases, so that
//! evenly spread numbers give evenly spread draws.
//!
//! A probability outside 0..=1 or NaN gives NaN; 0 and 1 give the ends of the support, which
//! may be infinite. Spreads are taken as they come: check them where they come in.

use std::f64::consts::FRAC_1_SQRT_2;

/// Probability that a standard normal draw lies below x.
///
/// From the complementary error function, to about 1e-15 of the value in the lower tail.
pub fn cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// The polynomial with these coefficients, highest power first.
fn horner(coefficients: &[f64; 8], x: f64) -> f64 {
    coefficients.iter().fold(0.0, |sum, c| sum * x + c)
}

/// Coefficients of numerator and denominator, highest power first.
type Rational = ([f64; 8], [f64; 8]);

#[expect(clippy::excessive_precision, reason = "all digits as published")]
const MIDDLE: Rational = (
    [
        2.509_080_928_730_122_672_7e3,
        3.343_057_558_358_812_810_5e4,
        6.726_577_092_700_870_085_3e4,
        4.592_195_393_154_987_145_7e4,
        1.373_169_376_550_946_112_5e4,
        1.971_590_950_306_551_442_7e3,
        1.331_416_678_917_843_774_5e2,
        3.387_132_872_796_366_608,
    ],
    [
        5.226_495_278_852_854_561e3,
        2.872_908_573_572_194_267_4e4,
        3.930_789_580_009_271_061e4,
        2.121_379_430_158_659_586_7e4,
        5.394_196_021_424_751_107_7e3,
        6.871_870_074_920_579_083e2,
        4.231_333_070_160_091_125_2e1,
        1.0,
    ],
);
#[expect(clippy::excessive_precision, reason = "all digits as published")]
const TAIL: Rational = (
    [
        7.745_450_142_783_414_076_4e-4,
        2.272_384_498_926_918_458_33e-2,
        2.417_807_251_774_506_117_7e-1,
        1.270_458_252_452_368_382_58,
        3.647_848_324_763_204_605_04,
        5.769_497_221_460_691_405_5,
        4.630_337_846_156_545_295_9,
        1.423_437_110_749_683_577_34,
    ],
    [
        1.050_750_071_644_416_843_24e-9,
        5.475_938_084_995_344_946e-4,
        1.519_866_656_361_645_719_66e-2,
        1.481_039_764_274_800_745_9e-1,
        6.897_673_349_851_000_045_5e-1,
        1.676_384_830_183_803_849_4,
        2.053_191_626_637_758_821_87,
        1.0,
    ],
);
#[expect(clippy::excessive_precision, reason = "all digits as published")]
const FAR_TAIL: Rational = (
    [
        2.010_334_399_292_288_132_65e-7,
        2.711_555_568_743_487_578_15e-5,
        1.242_660_947_388_078_438_6e-3,
        2.653_218_952_657_612_309_3e-2,
        2.965_605_718_285_048_912_3e-1,
        1.784_826_539_917_291_335_8,
        5.463_784_911_164_114_369_9,
        6.657_904_643_501_103_777_2,
    ],
    [
        2.044_263_103_389_939_785_64e-15,
        1.421_511_758_316_445_888_7e-7,
        1.846_318_317_510_054_681_8e-5,
        7.868_691_311_456_132_591e-4,
        1.487_536_129_085_061_485_25e-2,
        1.369_298_809_227_358_053_1e-1,
        5.998_322_065_558_879_376_9e-1,
        1.0,
    ],
);

/// The standard normal value below which a draw lies with probability p.
///
/// Algorithm AS 241, routine PPND16 (Wichura 1988, Appl. Stat. 37:477, doi 10.2307/2347330),
/// to about 1 part in 10¹⁶.
///
/// ```
/// use engine::numerics::normal::quantile;
/// assert!((quantile(0.25) + 0.674_489_750_196_081_7).abs() < 1e-15);
/// ```
pub fn quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * horner(&MIDDLE.0, r) / horner(&MIDDLE.1, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail == 0.0 {
        return if q < 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    // NaN for what is no probability
    let r = (-libm::log(tail)).sqrt();
    let x = if r <= 5.0 {
        horner(&TAIL.0, r - 1.6) / horner(&TAIL.1, r - 1.6)
    } else {
        horner(&FAR_TAIL.0, r - 5.0) / horner(&FAR_TAIL.1, r - 5.0)
    };
    if q < 0.0 { -x } else { x }
}

/// Quantile of the normal distribution cut to `from..=to` and scaled up again.
///
/// Mean and sd are those before the cut. Far out in a tail, where nothing is left to tell the
/// bounds apart, the nearer bound.
pub fn truncated(p: f64, mean: f64, sd: f64, from: f64, to: f64) -> f64 {
    if p == 0.0 || p == 1.0 {
        return if p == 0.0 { from } else { to };
    }
    let (a, b) = ((from - mean) / sd, (to - mean) / sd);
    // probabilities are exact near 0 only, so the upper tail is looked at in a mirror
    let z = if a > 0.0 { -between(1.0 - p, -b, -a) } else { between(p, a, b) };
    let x = mean + sd * z;
    if x.is_nan() { x } else { x.max(from).min(to) }
}

/// As [`truncated`] for the standard normal with its lower bound below 0.
fn between(p: f64, a: f64, b: f64) -> f64 {
    let (low, high) = (cdf(a), cdf(b));
    if (0.0..=1.0).contains(&p) && low == high {
        // both bounds beyond −38
        return b;
    }
    quantile((low + p * (high - low)).min(high))
}

/// Quantile of the lognormal distribution with this median; `sd` is that of the natural
/// logarithm: 0.3 means a factor of 1.35 either way for two thirds of draws.
pub fn lognormal(p: f64, median: f64, sd: f64) -> f64 {
    median * libm::exp(sd * quantile(p))
}

/// Quantile of the absolute value of a normal draw around 0; `scale` is the sd of that normal.
pub fn half_normal(p: f64, scale: f64) -> f64 {
    // |0.0 − …| turns the −0 of p = 0 into 0
    (0.0 - scale * quantile(0.5 * (1.0 - p))).abs()
}

/// Quantile of the uniform distribution on `from..=to`.
pub fn uniform(p: f64, from: f64, to: f64) -> f64 {
    if (0.0..=1.0).contains(&p) { (1.0 - p) * from + p * to } else { f64::NAN }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(ours: f64, want: f64, relative: f64) -> bool {
        (ours - want).abs() <= relative * want.abs().max(1e-300)
    }

    /// The three values Wichura printed, and values of SciPy 1.17 `special.ndtri`.
    #[test]
    fn quantiles_as_published() {
        for (p, z) in [
            (0.25, -0.674_489_750_196_081_7),
            (0.001, -3.090_232_306_167_814),
            (1e-20, -9.262_340_089_798_408),
            (1e-300, -37.047_096_299_361_2),
            (1e-10, -6.361_340_902_404_056),
            (0.02, -2.053_748_910_631_823),
            (0.075, -1.439_531_470_938_456_3),
            (0.6, 0.253_347_103_135_799_7),
            (0.9, 1.281_551_565_544_600_4),
            (0.999, 3.090_232_306_167_813),
        ] {
            assert!(near(quantile(p), z, 1e-15), "{p} {}", quantile(p));
        }
        assert_eq!(quantile(0.5), 0.0);
        assert_eq!((quantile(0.0), quantile(1.0)), (f64::NEG_INFINITY, f64::INFINITY));
        assert!(quantile(-0.1).is_nan() && quantile(1.1).is_nan() && quantile(f64::NAN).is_nan());
    }

    /// Values of SciPy 1.17 `special.ndtr`.
    #[test]
    fn the_distribution_function() {
        for (x, p) in [
            (-37.0, 5.725_571_222_523_927e-300),
            (-8.0, 6.220_960_574_271_74e-16),
            (-3.0, 0.001_349_898_031_630_093_3),
            (-1.0, 0.158_655_253_931_457_07),
            (0.0, 0.5),
            (0.5, 0.691_462_461_274_013_1),
            (2.0, 0.977_249_868_051_820_8),
            (5.0, 0.999_999_713_348_428_1),
        ] {
            assert!(near(cdf(x), p, 5e-14), "{x} {}", cdf(x));
        }
    }

    /// Values of SciPy 1.17 `stats.truncnorm.ppf` at 0.01, 0.1, 0.5, 0.9, 0.99.
    #[test]
    fn truncated_quantiles() {
        let ps = [0.01, 0.1, 0.5, 0.9, 0.99];
        for ((mean, sd, from, to), want) in [
            (
                (19.5, 2.2, 14.0, 26.0),
                [
                    14.789_521_322_138_029,
                    16.747_376_582_544_245,
                    19.512_804_974_128_485,
                    22.309_562_089_099_472,
                    24.502_441_209_917_35,
                ],
            ),
            (
                (0.0, 1.0, 8.0, 9.0),
                [
                    8.001_237_199_059_593,
                    8.012_960_571_504_212,
                    8.084_888_899_018_17,
                    8.278_609_037_011_552,
                    8.546_703_681_127_42,
                ],
            ),
        ] {
            for (p, want) in ps.into_iter().zip(want) {
                let ours = truncated(p, mean, sd, from, to);
                assert!(near(ours, want, 1e-12), "{ours} {want}");
                let mirrored = truncated(1.0 - p, -mean, sd, -to, -from);
                assert!(near(mirrored, -want, 1e-12), "{mirrored} {want}");
            }
        }
        assert_eq!(truncated(0.5, 0.0, 1.0, 50.0, 60.0), 50.0);
        assert_eq!(truncated(0.5, 0.0, 1.0, -60.0, -50.0), -50.0);
        assert_eq!(truncated(0.0, 0.0, 1.0, -1.0, 2.0), -1.0);
        assert_eq!(truncated(1.0, 0.0, 1.0, -1.0, 2.0), 2.0);
    }

    #[test]
    fn the_others_in_closed_form() {
        assert_eq!(lognormal(0.5, 2.0, 0.3), 2.0);
        assert!(near(lognormal(cdf(1.0), 1.0, 0.3), libm::exp(0.3), 1e-14));
        assert_eq!(half_normal(0.0, 0.5).to_bits(), 0.0_f64.to_bits());
        // two thirds of a half-normal lie below its scale
        assert!(near(half_normal(2.0 * cdf(1.0) - 1.0, 0.5), 0.5, 1e-14));
        assert_eq!(uniform(0.25, 2.0, 4.0), 2.5);
        assert!(uniform(f64::NAN, 0.0, 1.0).is_nan() && uniform(1.5, 0.0, 1.0).is_nan());
    }

    proptest! {
        #[test]
        fn quantile_undoes_the_distribution_function(x in -37.0..8.0f64) {
            // near 1 a probability knows x only to its own spacing over the density
            let density = libm::exp(-0.5 * x * x) * 0.398_942_280_401_432_7;
            let slack = 1e-13 * x.abs().max(1.0) + 4.0 * f64::EPSILON * cdf(x) / density;
            prop_assert!((quantile(cdf(x)) - x).abs() <= slack);
        }

        #[test]
        fn never_decreasing_and_inside(
            p in 0.0..=1.0f64, q in 0.0..=1.0f64,
            mean in -50.0..50.0f64, sd in 0.001..20.0f64,
            from in -60.0..60.0f64, width in 0.001..50.0f64,
        ) {
            let (p, q) = (p.min(q), p.max(q));
            let to = from + width;
            for f in [
                &(|p| quantile(p)) as &dyn Fn(f64) -> f64,
                &|p| truncated(p, mean, sd, from, to),
                &|p| lognormal(p, 1.5, sd / 20.0),
                &|p| half_normal(p, sd),
                &|p| uniform(p, from, to),
            ] {
                // to the last bits: neighbouring polynomials meet within rounding
                let slack = 1e-14 * f(p).abs().min(1e300);
                prop_assert!(!f(p).is_nan() && f(p) <= f(q) + slack, "{} {}", f(p), f(q));
            }
            prop_assert!((from..=to).contains(&truncated(p, mean, sd, from, to)));
            prop_assert!((from..=to).contains(&uniform(p, from, to)) || (uniform(p, from, to) - to).abs() < 1e-12);
        }

        #[test]
        fn nothing_panics(p: f64, a: f64, b: f64, c: f64, d: f64) {
            let _ = (cdf(a), quantile(a), truncated(p, a, b, c, d), lognormal(p, a, b));
            let _ = (half_normal(p, a), uniform(p, a, b));
        }
    }
}
