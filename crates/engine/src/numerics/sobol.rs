//! Points that fill a cube evenly: the Sobol' sequence, scrambled.
//!
//! Any first 2^k points of a dimension have exactly one point in each of 2^k equal cells, and
//! pairs of dimensions do nearly as well: averages of smooth functions over n points err by
//! about n^−1.5 instead of n^−0.5. Scrambling after Owen keeps that and makes every point
//! uniform, so that averages are unbiased and different seeds tell the error.
//!
//! Direction numbers of Joe and Kuo 2008 (see `table`), points in the order of the Gray code as
//! their program prints them. Scrambling by hash after Laine and Karras, as Burley gives it
//! (Practical hash-based Owen scrambling, JCGT 9(4) 2020): every bit is flipped by a hash of
//! the bits above it. Take a power of two of points where you can.

mod table;

use super::random::{Stream, philox};

/// Dimensions that are Sobol'. Beyond, points are plain random draws.
pub const DIMENSIONS: usize = table::ROWS.len() + 1;

/// Direction numbers by dimension, highest bit first.
static DIRECTIONS: [[u32; 32]; DIMENSIONS] = directions();

const fn directions() -> [[u32; 32]; DIMENSIONS] {
    let mut all = [[0; 32]; DIMENSIONS];
    let mut bit = 0;
    while bit < 32 {
        all[0][bit] = 1 << (31 - bit);
        bit += 1;
    }
    let mut row = 0;
    while row < table::ROWS.len() {
        let (degree, a, m) = table::ROWS[row];
        let degree = degree as usize;
        let v = &mut all[row + 1];
        let mut i = 0;
        while i < 32 {
            if i < degree {
                v[i] = m[i] << (31 - i);
            } else {
                v[i] = v[i - degree] ^ (v[i - degree] >> degree);
                let mut k = 1;
                while k < degree {
                    if (a >> (degree - 1 - k)) & 1 == 1 {
                        v[i] ^= v[i - k];
                    }
                    k += 1;
                }
            }
            i += 1;
        }
        row += 1;
    }
    all
}

/// Coordinate of point `index` as published, over 2³²; `None` beyond the last dimension.
///
/// ```
/// use engine::numerics::sobol::plain;
/// assert_eq!(plain(0, 1), Some(1 << 31)); // one half
/// ```
pub fn plain(dimension: usize, index: u32) -> Option<u32> {
    let directions = DIRECTIONS.get(dimension)?;
    let mut gray = index ^ (index >> 1);
    let mut x = 0;
    while gray != 0 {
        x ^= directions[gray.trailing_zeros() as usize];
        gray &= gray - 1;
    }
    Some(x)
}

/// Owen's scrambling by hash: a bit of the result depends on that bit and those above it.
fn scramble(x: u32, seed: u32) -> u32 {
    let mut x = x.reverse_bits().wrapping_add(seed);
    for even in [0x6c50_b47c_u32, 0xb82f_1e52, 0xc7af_e638, 0x8d22_f6e6] {
        x ^= x.wrapping_mul(even);
    }
    x.reverse_bits()
}

/// Scrambled points under a seed, addressed by dimension and index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sobol {
    seed: u64,
}

/// Keeps the scrambling apart from the streams of the same seed.
const SCRAMBLING: u32 = 0x736f_626c;

impl Sobol {
    /// The points of this seed.
    pub fn new(seed: u64) -> Self {
        Self { seed }
    }

    /// Coordinate of point `index`, in the open interval (0, 1), in steps of 2⁻³².
    ///
    /// Dimensions from [`DIMENSIONS`] on are draws of the [`Stream`] of that number.
    pub fn at(self, dimension: usize, index: u32) -> f64 {
        let Some(x) = plain(dimension, index) else {
            return Stream::new(self.seed, dimension as u64).uniform(u64::from(index));
        };
        let key = [self.seed as u32, (self.seed >> 32) as u32];
        let [hash, ..] = philox([dimension as u32, 0, 0, SCRAMBLING], key);
        (f64::from(scramble(x, hash)) + 0.5) / 4_294_967_296.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The first points Joe and Kuo's program prints, in eighths.
    #[test]
    fn the_first_points_as_published() {
        let eighths: [[u32; 3]; 8] = [
            [0, 0, 0],
            [4, 4, 4],
            [6, 2, 2],
            [2, 6, 6],
            [3, 3, 5],
            [7, 7, 1],
            [5, 1, 7],
            [1, 5, 3],
        ];
        for (i, point) in (0..).zip(eighths) {
            let ours = [0, 1, 2].map(|d| plain(d, i).unwrap() >> 29);
            assert_eq!(ours, point, "point {i}");
        }
        assert_eq!(plain(DIMENSIONS, 0), None);
    }

    /// SciPy 1.17 `stats.qmc.Sobol(128, scramble=False, bits=32)`, the same direction numbers.
    #[test]
    fn all_dimensions_as_another_program_has_them() {
        let some = [0, 1, 2, 9, 31, 63, 100, 127];
        for (i, point) in [
            (
                100,
                [
                    1_778_384_896,
                    1_107_296_256,
                    3_321_888_768,
                    2_986_344_448,
                    1_778_384_896,
                    2_785_017_856,
                    167_772_160,
                    1_979_711_488,
                ],
            ),
            (
                1023,
                [
                    4_194_304,
                    3_233_808_384,
                    2_629_828_608,
                    3_653_238_784,
                    2_638_217_216,
                    171_966_464,
                    1_019_215_872,
                    3_007_315_968,
                ],
            ),
        ] {
            assert_eq!(some.map(|d| plain(d, i).unwrap()), point, "point {i}");
        }
        // every direction number of every dimension
        let hash = DIRECTIONS.as_flattened().iter().fold(0_u64, |hash, v| {
            hash.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(u64::from(*v) + 1)
        });
        assert_eq!(hash, 0x6f38_350a_8abe_2434);
    }

    #[test]
    fn every_dimension_has_one_point_a_cell() {
        for k in [1_u32, 4, 8, 11] {
            let n = 1_usize << k;
            for d in 0..DIMENSIONS {
                let (mut bare, mut scrambled) = (vec![false; n], vec![false; n]);
                for i in 0..n as u32 {
                    bare[(plain(d, i).unwrap() >> (32 - k)) as usize] = true;
                    scrambled[(Sobol::new(11).at(d, i) * n as f64) as usize] = true;
                }
                assert!(bare.iter().all(|x| *x) && scrambled.iter().all(|x| *x), "{d} {k}");
            }
        }
    }

    /// The first two dimensions are a (0, 2)-sequence: one point in each rectangle of area 1/64.
    #[test]
    fn scrambling_keeps_the_rectangles() {
        let sobol = Sobol::new(3);
        for (wide, high) in [(1, 64), (2, 32), (4, 16), (8, 8), (16, 4), (32, 2), (64, 1)] {
            let mut seen = [false; 64];
            for i in 64..128 {
                let x = (sobol.at(0, i) * f64::from(wide)) as usize;
                let y = (sobol.at(1, i) * f64::from(high)) as usize;
                seen[x * high as usize + y] = true;
            }
            assert!(seen.iter().all(|x| *x), "{wide} by {high}");
        }
    }

    /// Over seeds every point is uniform: Kolmogorov and Smirnov's distance, 1 in 10⁴.
    #[test]
    fn over_seeds_a_point_is_uniform() {
        let n = 4096;
        for (d, i) in [(0, 0), (0, 1), (1, 0), (5, 77), (20, 1000), (127, 3)] {
            let mut u: Vec<f64> = (0..n).map(|seed| Sobol::new(seed).at(d, i)).collect();
            u.sort_by(f64::total_cmp);
            let gap = (0..).zip(&u).map(|(k, u)| (u - (f64::from(k) + 0.5) / n as f64).abs());
            let gap = gap.fold(0.0, f64::max);
            assert!(gap < 2.23 / (n as f64).sqrt(), "{d} {i} {gap}");
        }
    }

    /// Regression: points and their normal quantiles to the bit. They are part of every
    /// forecast, and another machine must have the same.
    #[test]
    fn the_bits_are_on_record() {
        let mut hash = 0_u64;
        for i in 0..256 {
            for d in 0..DIMENSIONS + 8 {
                let u = Sobol::new(2026).at(d, i * 4099);
                for bits in [u.to_bits(), super::super::normal::quantile(u).to_bits()] {
                    hash = (hash ^ bits).wrapping_mul(0x100_0000_01b3).rotate_left(29);
                }
            }
        }
        assert_eq!(hash, 17_741_316_799_009_710_258);
    }

    /// Root mean square error over 32 seeds of the mean of Π (1 + (x − ½)/2) in six dimensions,
    /// which is 1.
    #[test]
    fn means_of_smooth_functions_err_less_and_less() {
        let error = |n: u32, at: &dyn Fn(u64, usize, u32) -> f64| {
            let seeds = 32;
            let mean_square: f64 = (0..seeds)
                .map(|seed| {
                    let f = |i| (0..6).map(|d| 1.0 + 0.5 * (at(seed, d, i) - 0.5)).product::<f64>();
                    let mean = (0..n).map(f).sum::<f64>() / f64::from(n);
                    (mean - 1.0) * (mean - 1.0)
                })
                .sum::<f64>()
                / seeds as f64;
            mean_square.sqrt()
        };
        let sobol = |seed, d, i| Sobol::new(seed).at(d, i);
        let random = |seed, d: usize, i| Stream::new(seed, d as u64).uniform(u64::from(i));
        let (few, many) = (error(256, &sobol), error(4096, &sobol));
        assert!(few < 0.1 * error(256, &random), "{few}");
        assert!(many < 0.02 * error(4096, &random), "{many}");
        // 16 times the points: random errs 4 times less, these at least 20
        assert!(many * 20.0 < few, "{few} {many}");
    }

    proptest! {
        #[test]
        fn inside_for_any_seed_dimension_and_index(seed: u64, d: usize, i: u32) {
            for d in [d, d % DIMENSIONS] {
                let u = Sobol::new(seed).at(d, i);
                prop_assert!(u > 0.0 && u < 1.0);
            }
        }

        #[test]
        fn scrambling_is_one_to_one_and_nested(x: u32, y: u32, seed: u32) {
            let (a, b) = (scramble(x, seed), scramble(y, seed));
            // as many leading bits in common after as before
            prop_assert_eq!((a ^ b).leading_zeros(), (x ^ y).leading_zeros());
        }
    }
}
