//! Random numbers by place: draw i of stream q under a seed is a pure function of the three.
//!
//! The generator is Philox4x32-10 (Salmon, Moraes, Dror, Shaw 2011, Parallel random numbers:
//! as easy as 1, 2, 3, doi 10.1145/2063384.2063405): ten rounds of multiplication scramble a
//! counter under a key. There is no state to advance, so draws may be taken in any order, on
//! any thread. It stands here rather than in a dependency because it is thirty lines held by
//! the published known answers, and its bits are part of every forecast.
//!
//! Not for secrets.

/// Multipliers of a round.
const MULTIPLIERS: [u32; 2] = [0xD251_1F53, 0xCD9E_8D57];
/// What is added to the key between rounds (golden ratio, √3 − 1).
const KEY_STEPS: [u32; 2] = [0x9E37_79B9, 0xBB67_AE85];
const ROUNDS: usize = 10;

/// Philox4x32-10: 128 random bits for a counter under a key.
///
/// ```
/// use engine::numerics::random::philox;
/// assert_eq!(philox([0; 4], [0; 2])[0], 0x6627_e8d5);
/// ```
pub fn philox(counter: [u32; 4], key: [u32; 2]) -> [u32; 4] {
    let (mut c, mut k) = (counter, key);
    for round in 0..ROUNDS {
        if round > 0 {
            k = [k[0].wrapping_add(KEY_STEPS[0]), k[1].wrapping_add(KEY_STEPS[1])];
        }
        let p0 = u64::from(MULTIPLIERS[0]) * u64::from(c[0]);
        let p1 = u64::from(MULTIPLIERS[1]) * u64::from(c[2]);
        c = [
            (p1 >> 32) as u32 ^ c[1] ^ k[0],
            p1 as u32,
            (p0 >> 32) as u32 ^ c[3] ^ k[1],
            p0 as u32,
        ];
    }
    c
}

/// The low and the high half of a word.
fn halves(x: u64) -> [u32; 2] {
    [x as u32, (x >> 32) as u32]
}

/// A stream of random numbers, addressed by index. Streams of different number or seed are
/// independent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stream {
    seed: u64,
    stream: u64,
}

impl Stream {
    /// The stream of this number under this seed.
    pub fn new(seed: u64, stream: u64) -> Self {
        Self { seed, stream }
    }

    /// Word i: 64 random bits.
    pub fn bits(self, i: u64) -> u64 {
        let ([i0, i1], [s0, s1]) = (halves(i), halves(self.stream));
        let [a, b, ..] = philox([i0, i1, s0, s1], halves(self.seed));
        u64::from(a) | u64::from(b) << 32
    }

    /// Draw i, uniform on the open interval (0, 1), in steps of 2⁻⁵².
    pub fn uniform(self, i: u64) -> f64 {
        // the middles of 2^52 equal cells: exact, and never 0 or 1
        ((self.bits(i) >> 12) as f64 + 0.5) * f64::EPSILON
    }

    /// Draw i of the standard normal distribution, by its quantile function: within ±8.21.
    pub fn normal(self, i: u64) -> f64 {
        super::normal::quantile(self.uniform(i))
    }

    /// Draw i of the whole numbers from 0 up to, not including, `n`; 0 when `n` is 0.
    ///
    /// No number is likelier than another by more than n/2⁶⁴.
    pub fn below(self, i: u64, n: u64) -> u64 {
        ((u128::from(self.bits(i)) * u128::from(n)) >> 64) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// `tests/kat_vectors` of the Random123 distribution, the lines `philox4x32 10`.
    #[test]
    fn the_published_known_answers() {
        for (counter, key, answer) in [
            ([0; 4], [0; 2], [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]),
            ([u32::MAX; 4], [u32::MAX; 2], [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]),
            (
                [0x243f_6a88, 0x85a3_08d3, 0x1319_8a2e, 0x0370_7344],
                [0xa409_3822, 0x299f_31d0],
                [0xd16c_fe09, 0x94fd_cceb, 0x5001_e420, 0x2412_6ea1],
            ),
        ] {
            assert_eq!(philox(counter, key), answer);
        }
    }

    #[test]
    fn moments_of_a_long_stream() {
        let s = Stream::new(7, 3);
        let n = 1_u64 << 18;
        let (mut m1, mut m2, mut m3, mut m4, mut u2) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for i in 0..n {
            let (z, u) = (s.normal(i), s.uniform(i));
            m1 += z;
            m2 += z * z;
            m3 += z * z * z;
            m4 += z * z * z * z;
            u2 += u * u;
        }
        let n = n as f64;
        // five standard errors: sd of the summands over √n
        let close = |sum: f64, want: f64, sd: f64| (sum / n - want).abs() < 5.0 * sd / n.sqrt();
        assert!(close(m1, 0.0, 1.0) && close(m2, 1.0, 2.0_f64.sqrt()));
        assert!(close(m3, 0.0, 15.0_f64.sqrt()) && close(m4, 3.0, 96.0_f64.sqrt()));
        assert!(close(u2, 1.0 / 3.0, (4.0 / 45.0_f64).sqrt()));
    }

    #[test]
    fn seeds_streams_and_neighbours_are_unrelated() {
        let n = 1_u64 << 16;
        let pairs: [(Stream, Stream, u64); 4] = [
            (Stream::new(1, 0), Stream::new(2, 0), 0),
            (Stream::new(1, 0), Stream::new(1, 1), 0),
            (Stream::new(1, 0), Stream::new(1, 1 << 32), 0),
            (Stream::new(1, 0), Stream::new(1, 0), 1),
        ];
        for (a, b, lag) in pairs {
            let sum: f64 = (0..n).map(|i| a.normal(i) * b.normal(i + lag)).sum();
            assert!(sum.abs() < 5.0 * (n as f64).sqrt(), "{a:?} {b:?} {lag} {sum}");
        }
    }

    #[test]
    fn below_takes_every_number_alike() {
        let mut seen = [0_u32; 7];
        for i in 0..70_000 {
            seen[Stream::new(5, 5).below(i, 7) as usize] += 1;
        }
        // sd of a count is 93
        assert!(seen.iter().all(|c| c.abs_diff(10_000) < 470), "{seen:?}");
        assert_eq!(Stream::new(0, 0).below(0, 0), 0);
    }

    proptest! {
        #[test]
        fn every_draw_is_inside(seed: u64, stream: u64, i: u64, n in 1..u64::MAX) {
            let s = Stream::new(seed, stream);
            let u = s.uniform(i);
            prop_assert!(u > 0.0 && u < 1.0);
            prop_assert!(s.normal(i).abs() < 8.3);
            prop_assert!(s.below(i, n) < n);
        }
    }
}
