use super::*;
use proptest::prelude::*;

/// Distance in representable numbers.
fn ulps(a: f64, b: f64) -> u64 {
    a.to_bits().abs_diff(b.to_bits())
}

/// The functions on eight numbers, through whatever width.
struct Probe([f64; 8]);
impl Job for Probe {
    type Out = Vec<u64>;
    fn run<L: Lanes>(self) -> Vec<u64> {
        let mut out = Vec::new();
        for start in (0..8).step_by(L::N) {
            let (y, z, w, c) = L::with(
                #[inline(always)]
                || {
                    let x = L::from_fn(|i| self.0[start + i]);
                    let size = x.size();
                    let held = (x * 0.5).within(-3.0, 2.0);
                    (exp(x), ln(size), pow(size, x / 40.0), held.ceiling() - (-x))
                },
            );
            for i in 0..L::N {
                let exact = size_root(y.lane(i));
                out.extend([y.lane(i), z.lane(i), w.lane(i), c.lane(i), exact].map(f64::to_bits));
            }
        }
        out
    }
}
fn size_root(x: f64) -> f64 {
    x.root()
}

proptest! {
    #[test]
    fn close_to_the_reference(x in -700.0..700.0f64, y in 1e-300..1e300f64, e in -290.0..290.0f64) {
        prop_assert!(ulps(exp(x), libm::exp(x)) <= 2, "exp {}", x);
        prop_assert!(ulps(exp(x / 100.0), libm::exp(x / 100.0)) <= 2, "exp {}", x);
        for v in [y, libm::pow(10.0, e), 1.0 + x / 1000.0] {
            prop_assert!(ulps(ln(v), libm::log(v)) <= 1, "ln {} {} {}", v, ln(v), libm::log(v));
        }
        let base = libm::exp(x / 200.0);
        let gap = (pow(base, x / 100.0) / libm::pow(base, x / 100.0) - 1.0).abs();
        prop_assert!(gap < 1e-14, "pow {} {}", base, gap);
    }

    #[test]
    fn same_bits_in_every_width(x in prop::array::uniform8(-720.0..720.0f64)) {
        let one = Width::One.run(Probe(x));
        prop_assert_eq!(&one, &Width::Four.run(Probe(x)));
        prop_assert_eq!(&one, &Width::Eight.run(Probe(x)));
    }
}

#[test]
fn ends_of_the_range() {
    assert_eq!(exp(-1e9), 0.0);
    assert_eq!(exp(0.0), 1.0);
    assert!(exp(1e9).is_finite() && exp(f64::INFINITY).is_finite());
    assert!(exp(f64::NAN).is_nan());
    assert_eq!(ln(1.0), 0.0);
    assert!(ln(0.0) < -700.0 && ln(-1.0) < -700.0);
    assert_eq!(2.5.ceiling(), 3.0);
    assert_eq!((-2.5).ceiling(), -2.0);
    assert_eq!(7.0.ceiling(), 7.0);
}
