//! Variance-based sensitivity: which uncertain input moves a result, alone and with others.
//!
//! The first-order index of an input is the share of the result's variance that its being known
//! would take away on average; the total index is the share that would be left if all else were
//! known. Estimators: first order after Saltelli and others 2010 (Comput. Phys. Commun. 181:259,
//! doi 10.1016/j.cpc.2009.09.018, table 2 b), total after Jansen 1999 (Comput. Phys. Commun.
//! 117:35, same table f). A [`Design`] says where the model is to be run; the model runs
//! elsewhere, in any order.

use super::random::Stream;
use super::sobol::Sobol;
use super::weighted::Weighted;

/// Which of the matrices of a design a run belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matrix {
    /// The first sample.
    A,
    /// The second, independent of it.
    B,
    /// The first with the column of this input taken from the second.
    Ab(usize),
}

/// The runs a sensitivity analysis needs: `rows` × (inputs + 2).
///
/// A row of A and B is one scrambled Sobol' point in twice as many dimensions as inputs. Beyond
/// 64 inputs the later columns are random. Rows are best a power of two.
///
/// ```
/// use engine::belief::Belief;
/// use engine::numerics::sensitivity::{Bootstrap, Design, indices};
/// let quantities = &Belief::readers().quantities;
/// let design = Design::new(quantities.len(), 64, 1);
/// // any model of the values of all quantities; here the product of the first two
/// let model = |x: &[f64]| x[0] * x[1];
/// let mut runs: Vec<Vec<f64>> = design
///     .matrices()
///     .map(|matrix| {
///         (0..design.rows)
///             .map(|row| {
///                 let at = |(i, q): (usize, &engine::belief::Quantity)| q.at(design.at(matrix, row, i));
///                 model(&quantities.iter().enumerate().map(at).collect::<Vec<f64>>())
///             })
///             .collect()
///     })
///     .collect();
/// let ab = runs.split_off(2);
/// let bootstrap = Bootstrap { resamples: 100, level: 0.9, seed: 1 };
/// let found = indices(&runs[0], &runs[1], &ab, bootstrap)?;
/// assert!(found[1].total.value > 0.4 && found[2].total.value == 0.0);
/// # Ok::<(), engine::numerics::sensitivity::BadDesign>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Design {
    /// Uncertain inputs.
    pub inputs: usize,
    /// Rows of each matrix.
    pub rows: u32,
    sobol: Sobol,
}

impl Design {
    /// The design of this size under a seed.
    pub fn new(inputs: usize, rows: u32, seed: u64) -> Self {
        Self { inputs, rows, sobol: Sobol::new(seed) }
    }

    /// All matrices, in the order A, B, AB of every input.
    pub fn matrices(&self) -> impl Iterator<Item = Matrix> + use<> {
        [Matrix::A, Matrix::B].into_iter().chain((0..self.inputs).map(Matrix::Ab))
    }

    /// The probability at which an input stands in a row, in (0, 1); feed it to the input's
    /// quantile function.
    pub fn at(&self, matrix: Matrix, row: u32, input: usize) -> f64 {
        let second = match matrix {
            Matrix::A => false,
            Matrix::B => true,
            Matrix::Ab(swapped) => swapped == input,
        };
        let dimension = if second { input.saturating_add(self.inputs) } else { input };
        self.sobol.at(dimension, row)
    }
}

/// An estimate with its confidence interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate from all rows.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The indices of one input, shares of the result's variance. By chance an estimate may lie
/// somewhat below 0 or above 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Indices {
    /// First order: by itself.
    pub first: Estimate,
    /// Total: with all its interactions.
    pub total: Estimate,
}

/// Why there are no indices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadDesign {
    /// Every matrix needs as many results, two at least.
    Rows,
    /// A result is infinite or no number.
    NotFinite,
    /// The result does not vary.
    Constant,
}

impl std::fmt::Display for BadDesign {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Rows => "every matrix needs as many results, two at least",
            Self::NotFinite => "a result is infinite or no number",
            Self::Constant => "the result does not vary",
        })
    }
}
impl std::error::Error for BadDesign {}

/// How confidence intervals are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bootstrap {
    /// Resamples of rows; 0 gives intervals of no width.
    pub resamples: u32,
    /// Probability the interval holds, such as 0.95.
    pub level: f64,
    /// Seed of the resampling.
    pub seed: u64,
}

/// First-order and total index of every input, from the results in A, in B and in AB of each
/// input, row by row.
///
/// Results are centred first, which leaves the indices and lowers their error. Intervals are
/// percentiles of the bootstrap over rows. Rows of Sobol' points are spread more evenly than the
/// bootstrap knows, so the intervals are on the wide side.
///
/// # Errors
/// [`BadDesign`].
pub fn indices(
    a: &[f64],
    b: &[f64],
    ab: &[Vec<f64>],
    bootstrap: Bootstrap,
) -> Result<Vec<Indices>, BadDesign> {
    let n = a.len();
    if n < 2 || b.len() != n || ab.iter().any(|column| column.len() != n) {
        return Err(BadDesign::Rows);
    }
    let all = || a.iter().chain(b).chain(ab.iter().flatten());
    if all().any(|f| !f.is_finite()) {
        return Err(BadDesign::NotFinite);
    }
    // by the greatest first, so that no square overflows
    let scale = all().fold(0.0, |top: f64, f| top.max(f.abs()));
    if scale == 0.0 {
        return Err(BadDesign::Constant);
    }
    let mean = a.iter().chain(b).map(|f| f / scale).sum::<f64>() / (2 * n) as f64;
    let centred = |f: &[f64]| f.iter().map(|f| f / scale - mean).collect::<Vec<f64>>();
    let (a, b) = (centred(a), centred(b));
    let whole = Moments::of(&a, &b, 0..n);
    if whole.variance <= 1e-24 {
        return Err(BadDesign::Constant);
    }
    let draws: Vec<Vec<usize>> = (0..bootstrap.resamples)
        .map(|r| {
            let stream = Stream::new(bootstrap.seed, u64::from(r));
            (0..n).map(|k| stream.below(k as u64, n as u64) as usize).collect()
        })
        .collect();
    let resampled: Vec<Moments> =
        draws.iter().map(|rows| Moments::of(&a, &b, rows.iter().copied())).collect();
    Ok(ab
        .iter()
        .map(|column| {
            let column = centred(column);
            let (first, total) = whole.shares(&a, &b, &column, 0..n);
            let (mut firsts, mut totals) = (Vec::new(), Vec::new());
            for (rows, moments) in draws.iter().zip(&resampled) {
                let (f, t) = moments.shares(&a, &b, &column, rows.iter().copied());
                firsts.push(f);
                totals.push(t);
            }
            Indices {
                first: interval(first, &firsts, bootstrap.level),
                total: interval(total, &totals, bootstrap.level),
            }
        })
        .collect())
}

/// Mean and variance of the results of A and B over some rows.
struct Moments {
    mean: f64,
    variance: f64,
    rows: f64,
}

impl Moments {
    fn of(a: &[f64], b: &[f64], rows: impl Iterator<Item = usize>) -> Self {
        let (mut sum, mut squares, mut count) = (0.0, 0.0, 0.0);
        for k in rows {
            sum += a[k] + b[k];
            squares += a[k] * a[k] + b[k] * b[k];
            count += 1.0;
        }
        let mean = sum / (2.0 * count);
        Self { mean, variance: squares / (2.0 * count) - mean * mean, rows: count }
    }

    /// First-order and total share of the variance.
    fn shares(
        &self,
        a: &[f64],
        b: &[f64],
        ab: &[f64],
        rows: impl Iterator<Item = usize>,
    ) -> (f64, f64) {
        let (mut first, mut total) = (0.0, 0.0);
        for k in rows {
            let moved = ab[k] - a[k];
            first += (b[k] - self.mean) * moved;
            total += moved * moved;
        }
        let all = self.variance * self.rows;
        (first / all, 0.5 * total / all)
    }
}

fn interval(value: f64, resampled: &[f64], level: f64) -> Estimate {
    let tail = 0.5 * (1.0 - level.clamp(0.0, 1.0));
    // a resample without variance is NaN and stands aside
    match Weighted::equal(resampled) {
        Ok(sample) if sample.effective_size() > 0.0 => {
            Estimate { value, low: sample.quantile(tail), high: sample.quantile(1.0 - tail) }
        }
        _ => Estimate { value, low: value, high: value },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    const BOOTSTRAP: Bootstrap = Bootstrap { resamples: 200, level: 0.95, seed: 9 };

    fn analyse(inputs: usize, rows: u32, seed: u64, f: impl Fn(&[f64]) -> f64) -> Vec<Indices> {
        let design = Design::new(inputs, rows, seed);
        let results: Vec<Vec<f64>> = design
            .matrices()
            .map(|m| {
                (0..rows)
                    .map(|row| {
                        let x: Vec<f64> = (0..inputs).map(|i| design.at(m, row, i)).collect();
                        f(&x)
                    })
                    .collect()
            })
            .collect();
        indices(&results[0], &results[1], &results[2..], BOOTSTRAP).unwrap()
    }

    fn holds(ours: &[Indices], first: &[f64], total: &[f64], slack: f64) {
        for (i, ours) in ours.iter().enumerate() {
            assert!((ours.first.value - first[i]).abs() < slack, "first {i} {ours:?} {}", first[i]);
            assert!((ours.total.value - total[i]).abs() < slack, "total {i} {ours:?} {}", total[i]);
            for e in [ours.first, ours.total] {
                assert!(e.low <= e.value && e.value <= e.high, "{e:?}");
            }
        }
    }

    /// Ishigami and Homma 1990, a = 7, b = 0.1: closed form.
    #[test]
    fn ishigami() {
        let (a, b) = (7.0, 0.1);
        let f = |u: &[f64]| {
            let [x, y, z] = [u[0], u[1], u[2]].map(|u| PI * (2.0 * u - 1.0));
            let s = libm::sin(y);
            libm::sin(x) * (1.0 + b * z * z * z * z) + a * s * s
        };
        let (pi4, pi8) = (PI * PI * PI * PI, PI * PI * PI * PI * PI * PI * PI * PI);
        let v1 = 0.5 * (1.0 + b * pi4 / 5.0) * (1.0 + b * pi4 / 5.0);
        let v2 = a * a / 8.0;
        let v13 = b * b * pi8 * 8.0 / 225.0;
        let v = v1 + v2 + v13;
        let ours = analyse(3, 4096, 1, f);
        holds(&ours, &[v1 / v, v2 / v, 0.0], &[(v1 + v13) / v, v2 / v, v13 / v], 0.01);
    }

    /// Sobol's g-function, a = 0, 1, 4.5, 9, 99, 99: closed form.
    #[test]
    fn the_g_function() {
        let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0];
        let f = |u: &[f64]| {
            u.iter().zip(a).map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a)).product()
        };
        let part = a.map(|a| 1.0 / (3.0 * (1.0 + a) * (1.0 + a)));
        let all: f64 = part.iter().map(|v| 1.0 + v).product();
        let first = part.map(|v| v / (all - 1.0));
        let total = part.map(|v| v * (all / (1.0 + v)) / (all - 1.0));
        let ours = analyse(6, 4096, 2, f);
        holds(&ours, &first, &total, 0.01);
    }

    /// Over many seeds the 95 % interval of a sum of two inputs holds the truth, 1/5 and 4/5.
    #[test]
    fn intervals_hold_as_often_as_they_say() {
        let mut held = 0;
        for seed in 0..50 {
            for (ours, truth) in analyse(2, 64, seed, |u| u[0] + 2.0 * u[1]).iter().zip([0.2, 0.8])
            {
                held += i32::from((ours.first.low..=ours.first.high).contains(&truth));
                held += i32::from((ours.total.low..=ours.total.high).contains(&truth));
            }
        }
        // 190 of 200 are due, more with evenly spread points
        assert!(held >= 184, "{held}");
    }

    #[test]
    fn an_additive_model_shares_out_all_its_variance() {
        let ours = analyse(4, 1024, 3, |u| u[0] + 2.0 * u[1] + 3.0 * u[2] + 0.0 * u[3]);
        let sum: f64 = ours.iter().map(|i| i.first.value).sum();
        assert!((sum - 1.0).abs() < 0.01, "{sum}");
        assert_eq!((ours[3].first.value, ours[3].total.value), (0.0, 0.0));
        assert!((ours[2].total.value - 9.0 / 14.0).abs() < 0.01);
    }

    #[test]
    fn refusals() {
        let none = Bootstrap { resamples: 0, ..BOOTSTRAP };
        let column = vec![vec![1.0, 2.0]];
        assert_eq!(indices(&[1.0], &[1.0], &[], none), Err(BadDesign::Rows));
        assert_eq!(indices(&[1.0, 2.0], &[1.0], &column, none), Err(BadDesign::Rows));
        assert_eq!(indices(&[1.0; 2], &[1.0; 2], &[vec![1.0; 2]], none), Err(BadDesign::Constant));
        let nan = indices(&[1.0, f64::NAN], &[1.0, 3.0], &column, none);
        assert_eq!(nan, Err(BadDesign::NotFinite));
        let bare = indices(&[1.0, 2.0], &[2.0, 5.0], &column, none).unwrap();
        assert_eq!(bare[0].first.low, bare[0].first.value);
    }

    proptest! {
        #[test]
        fn nothing_panics(f in prop::collection::vec(any::<f64>(), 0..40), level: f64, input: usize, row: u32) {
            let n = f.len() / 4;
            let (a, rest) = f.split_at(n);
            let (b, rest) = rest.split_at(n);
            let bootstrap = Bootstrap { resamples: 3, level, seed: 1 };
            let _ = indices(a, b, &[rest[..n].to_vec(), rest[n..].to_vec()], bootstrap);
            let u = Design::new(input, row, 1).at(Matrix::Ab(input), row, input);
            prop_assert!(u > 0.0 && u < 1.0);
        }
    }
}
