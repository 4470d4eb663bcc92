//! Lanes: possible kitchens drawn from a belief, with weights.

use super::{Belief, Uncertain};
use crate::numerics::random::Stream;
use crate::numerics::sobol::Sobol;
use crate::numerics::weighted::{BadWeights, Weighted, effective_size, systematic};
use std::fmt;

/// Where the probabilities of the lanes come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Points {
    /// Scrambled Sobol' points: averages settle sooner; best in powers of two.
    #[default]
    Sobol,
    /// Independent random draws: plain standard errors hold.
    Random,
}

/// Stream of resampling, apart from those of the quantities.
const RESAMPLING: u64 = u64::MAX;

/// Why weights stay as they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadEvidence {
    /// As many log-likelihoods as lanes are needed.
    Length {
        /// Lanes.
        lanes: usize,
        /// Log-likelihoods given.
        given: usize,
    },
    /// A log-likelihood is +∞.
    Infinite {
        /// Its lane, from 0.
        at: usize,
    },
    /// No lane can explain it at all.
    Impossible,
}

impl fmt::Display for BadEvidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length { lanes, given } => {
                write!(f, "{lanes} lanes have {given} likelihoods; one each is needed")
            }
            Self::Infinite { at } => write!(f, "the likelihood of lane {at} is infinite"),
            Self::Impossible => f.write_str("no lane can explain what was seen"),
        }
    }
}
impl std::error::Error for BadEvidence {}

/// Lanes drawn from a belief: values by quantity and lane, and a weight per lane.
///
/// Values are computed when asked for: memory is two numbers a lane. The draw of one quantity
/// does not change when others join or leave the belief, nor with the number of lanes.
#[derive(Debug, Clone, PartialEq)]
pub struct Draws {
    belief: Belief,
    seed: u64,
    points: Points,
    /// Natural logarithms of the weights.
    log_weights: Vec<f64>,
    weights: Vec<f64>,
}

impl Draws {
    /// So many lanes of equal weight, on scrambled Sobol' points; at least one.
    ///
    /// ```
    /// use engine::belief::{Belief, Draws, Uncertain};
    /// let draws = Draws::new(Belief::readers().clone(), 1024, 7);
    /// let rooms = draws.column(Uncertain::Room).unwrap_or_default();
    /// let median = draws.weighted(&rooms).map(|r| r.quantile(0.5));
    /// assert!((median.unwrap_or(0.0) - 19.5).abs() < 0.1);
    /// ```
    pub fn new(belief: Belief, lanes: u32, seed: u64) -> Self {
        Self::with_points(belief, lanes, seed, Points::Sobol)
    }

    /// So many lanes of equal weight, on these points; at least one.
    pub fn with_points(belief: Belief, lanes: u32, seed: u64, points: Points) -> Self {
        let n = lanes.max(1) as usize;
        let weight = 1.0 / n as f64;
        let log_weights = vec![libm::log(weight); n];
        Self { belief, seed, points, log_weights, weights: vec![weight; n] }
    }

    /// How many lanes.
    pub fn lanes(&self) -> usize {
        self.weights.len()
    }

    /// What they were drawn from.
    pub fn belief(&self) -> &Belief {
        &self.belief
    }

    /// The probability at which a quantity stands in a lane, in (0, 1).
    ///
    /// A lane beyond the last is as good as any other: lanes may be added later.
    pub fn probability(&self, what: Uncertain, lane: u32) -> f64 {
        match self.points {
            Points::Sobol => Sobol::new(self.seed).at(what.dimension(), lane),
            Points::Random => {
                Stream::new(self.seed, what.dimension() as u64).uniform(u64::from(lane))
            }
        }
    }

    /// The value of a quantity in a lane, in the quantity's unit; `None` when the belief does
    /// not hold it for uncertain.
    pub fn value(&self, what: Uncertain, lane: u32) -> Option<f64> {
        self.belief.get(what).map(|q| q.at(self.probability(what, lane)))
    }

    /// The values of a quantity in all lanes; `None` as for [`value`](Self::value).
    pub fn column(&self, what: Uncertain) -> Option<Vec<f64>> {
        let q = self.belief.get(what)?;
        Some((0..self.lanes() as u32).map(|lane| q.at(self.probability(what, lane))).collect())
    }

    /// All values of a lane, in the order of the belief.
    pub fn lane(&self, lane: u32) -> impl Iterator<Item = (Uncertain, f64)> {
        self.belief.quantities.iter().map(move |q| (q.what, q.at(self.probability(q.what, lane))))
    }

    /// Weights of the lanes, sum 1.
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Their natural logarithms; −∞ for a lane that is ruled out.
    pub fn log_weights(&self) -> &[f64] {
        &self.log_weights
    }

    /// Effective sample size: how many lanes of equal weight tell as much; 1 to the number of
    /// lanes.
    pub fn effective_size(&self) -> f64 {
        effective_size(&self.weights)
    }

    /// Multiplies every weight by the likelihood of what was seen, given as its natural
    /// logarithm up to a constant, and normalises. NaN and −∞ rule a lane out.
    ///
    /// # Errors
    /// [`BadEvidence`]; the weights stay as they were.
    pub fn reweight(&mut self, log_likelihoods: &[f64]) -> Result<(), BadEvidence> {
        let lanes = self.lanes();
        if log_likelihoods.len() != lanes {
            return Err(BadEvidence::Length { lanes, given: log_likelihoods.len() });
        }
        if let Some(at) = log_likelihoods.iter().position(|l| *l == f64::INFINITY) {
            return Err(BadEvidence::Infinite { at });
        }
        let sums: Vec<f64> = self
            .log_weights
            .iter()
            .zip(log_likelihoods)
            .map(|(w, l)| if l.is_nan() { f64::NEG_INFINITY } else { w + l })
            .collect();
        let top = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if top == f64::NEG_INFINITY {
            return Err(BadEvidence::Impossible);
        }
        // by the greatest first: its exponential is 1, so the sum is at least 1
        let relative: Vec<f64> = sums.iter().map(|s| libm::exp(s - top)).collect();
        let total: f64 = relative.iter().sum();
        let log_total = top + libm::log(total);
        self.weights = relative.iter().map(|r| r / total).collect();
        self.log_weights = sums.iter().map(|s| s - log_total).collect();
        Ok(())
    }

    /// An output of the lanes with their weights; NaN where a lane has none.
    ///
    /// # Errors
    /// [`BadWeights::Length`] unless there is one value a lane.
    pub fn weighted(&self, output: &[f64]) -> Result<Weighted, BadWeights> {
        Weighted::new(output, &self.weights)
    }

    /// `n` lanes of equal weight that stand for all: numbers of lanes, ascending, each as often
    /// as its weight asks (systematic resampling, from the seed).
    pub fn resampled(&self, n: usize) -> Vec<usize> {
        let stream = Stream::new(self.seed, RESAMPLING);
        // In a shuffled order: to take every fourth of Sobol' points is to take one corner.
        let mut order: Vec<usize> = (0..self.lanes()).collect();
        order.sort_by_cached_key(|lane| stream.bits(*lane as u64));
        let shuffled: Vec<f64> = order.iter().map(|lane| self.weights[*lane]).collect();
        // weights sum to 1, so there is no error
        let places = systematic(&shuffled, n, stream.uniform(u64::MAX)).unwrap_or_default();
        let mut lanes: Vec<usize> = places.into_iter().map(|k| order[k]).collect();
        lanes.sort_unstable();
        lanes
    }
}
