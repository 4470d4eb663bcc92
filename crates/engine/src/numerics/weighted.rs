//! Averages and quantiles of weighted values, and summaries that need no memory per value.
//!
//! Weights are any numbers of one scale; they are normalised here. [`Weighted`] holds the
//! values and is exact; [`Histogram`] counts in whole numbers, so that parts may be merged in
//! any order and grouping with the same bits.

/// Values with weights, sorted. Values that are NaN stand aside as missing: what never
/// happened has no quantile.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighted {
    /// Ascending values with their share of the weight of the present.
    sorted: Vec<(f64, f64)>,
    missing: f64,
    effective: f64,
}

/// Why weights cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadWeights {
    /// As many weights as values are needed.
    Length {
        /// Values given.
        values: usize,
        /// Weights given.
        weights: usize,
    },
    /// A weight is negative, infinite or no number.
    Weight {
        /// Its place, from 0.
        at: usize,
    },
    /// No weight above 0.
    Nothing,
}

impl std::fmt::Display for BadWeights {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Length { values, weights } => {
                write!(f, "{values} values have {weights} weights; one each is needed")
            }
            Self::Weight { at } => {
                write!(f, "weight {at} is not a number from 0 up")
            }
            Self::Nothing => f.write_str("no weight is above 0"),
        }
    }
}
impl std::error::Error for BadWeights {}

/// Weights scaled to sum 1.
///
/// # Errors
/// [`BadWeights`] on a weight that is no finite number from 0 up, or when all are 0.
pub fn normalised(weights: &[f64]) -> Result<Vec<f64>, BadWeights> {
    if let Some(at) = weights.iter().position(|w| !(w.is_finite() && *w >= 0.0)) {
        return Err(BadWeights::Weight { at });
    }
    // by the greatest first, so that the sum cannot overflow
    let top = weights.iter().copied().fold(0.0, f64::max);
    if top == 0.0 {
        return Err(BadWeights::Nothing);
    }
    let sum: f64 = weights.iter().map(|w| w / top).sum();
    Ok(weights.iter().map(|w| w / top / sum).collect())
}

/// Kish's effective sample size (Σw)²/Σw²: how many equal draws tell as much. From 1 to their
/// number; 0 when no weight is above 0.
pub fn effective_size(weights: &[f64]) -> f64 {
    let top = weights.iter().copied().fold(0.0, f64::max);
    if top <= 0.0 || !top.is_finite() {
        return 0.0;
    }
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(sum, squares), w| {
        let w = (w / top).max(0.0);
        (sum + w, squares + w * w)
    });
    (sum * sum / squares).clamp(1.0, weights.len() as f64)
}

impl Weighted {
    /// Values with their weights.
    ///
    /// # Errors
    /// [`BadWeights`].
    pub fn new(values: &[f64], weights: &[f64]) -> Result<Self, BadWeights> {
        if values.len() != weights.len() {
            return Err(BadWeights::Length { values: values.len(), weights: weights.len() });
        }
        let weights = normalised(weights)?;
        let mut sorted: Vec<(f64, f64)> =
            values.iter().copied().zip(weights).filter(|(v, w)| !v.is_nan() && *w > 0.0).collect();
        // stable: the sums below do not depend on more than the order given
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let present: f64 = sorted.iter().map(|(_, w)| w).sum();
        for (_, w) in &mut sorted {
            *w /= present;
        }
        let effective = if sorted.is_empty() {
            0.0
        } else {
            let squares: f64 = sorted.iter().map(|(_, w)| w * w).sum();
            (1.0 / squares).clamp(1.0, sorted.len() as f64)
        };
        let missing = if sorted.len() == values.len() { 0.0 } else { (1.0 - present).max(0.0) };
        Ok(Self { sorted, missing, effective })
    }

    /// Values of equal weight.
    ///
    /// # Errors
    /// [`BadWeights::Nothing`] when there are none.
    pub fn equal(values: &[f64]) -> Result<Self, BadWeights> {
        Self::new(values, &vec![1.0; values.len()])
    }

    /// Share of the weight whose value is missing (NaN), 0 to 1.
    pub fn missing(&self) -> f64 {
        self.missing
    }

    /// Effective sample size of the present values; 0 when there are none.
    pub fn effective_size(&self) -> f64 {
        self.effective
    }

    /// Mean of the present values; NaN when there are none.
    pub fn mean(&self) -> f64 {
        if self.sorted.is_empty() {
            return f64::NAN;
        }
        self.sorted.iter().map(|(v, w)| v * w).sum()
    }

    /// Variance of the population the present values were drawn from: Σw(x − mean)²/(1 − Σw²),
    /// with equal weights the usual one over n − 1. NaN for fewer than two values.
    pub fn variance(&self) -> f64 {
        let mean = self.mean();
        let spread: f64 = self.sorted.iter().map(|(v, w)| w * (v - mean) * (v - mean)).sum();
        let rest: f64 = 1.0 - self.sorted.iter().map(|(_, w)| w * w).sum::<f64>();
        if self.sorted.len() < 2 || rest <= 0.0 { f64::NAN } else { spread / rest }
    }

    /// Standard deviation: root of [`variance`](Self::variance).
    pub fn sd(&self) -> f64 {
        self.variance().sqrt()
    }

    /// The value below which a share p of the weight lies.
    ///
    /// Akinshin's weighted form of Hyndman and Fan's type 7 (Weighted quantile estimators,
    /// arXiv 2304.07265, 2023): with n the effective sample size and h = p(n − 1), the mean of
    /// the values whose cumulative weight lies between h/n and (h + 1)/n. Equal weights give
    /// type 7, the usual linear interpolation. A weight that goes to 0 takes its value out
    /// smoothly. p is held to 0..=1; NaN when p is or when no value is present.
    pub fn quantile(&self, p: f64) -> f64 {
        if p.is_nan() || self.sorted.is_empty() {
            return f64::NAN;
        }
        let n = self.effective;
        let h = p.clamp(0.0, 1.0) * (n - 1.0);
        let share = |cumulative: f64| (cumulative * n - h).clamp(0.0, 1.0);
        let (mut cumulative, mut sum, mut taken) = (0.0, 0.0, 0.0);
        let mut last = f64::NAN;
        for (v, w) in &self.sorted {
            let before = share(cumulative);
            cumulative += w;
            let part = share(cumulative) - before;
            if part > 0.0 {
                sum += part * v;
                taken += part;
                last = *v;
            }
            if taken >= 1.0 {
                break;
            }
        }
        if taken == 0.0 {
            return self.sorted[self.sorted.len() - 1].0;
        }
        // parts add up to 1 but for rounding of the cumulative sum
        if taken < 1.0 { sum + (1.0 - taken) * last } else { sum }
    }
}

/// Systematic resampling: `n` places, each weight's lane about n × its share of times, from one
/// uniform number in 0..1 (Kitagawa 1996, J. Comput. Graph. Stat. 5:1).
///
/// No lane comes up more than one away from its due. Ascending. Shuffle lanes that follow a
/// pattern first, or it may fall in step with it.
///
/// # Errors
/// [`BadWeights`].
pub fn systematic(weights: &[f64], n: usize, uniform: f64) -> Result<Vec<usize>, BadWeights> {
    let weights = normalised(weights)?;
    let offset = if uniform.is_nan() { 0.5 } else { uniform.clamp(0.0, 1.0) };
    // rounding may leave the last pointers beyond the sum: they belong to the last lane of weight
    let last = weights.iter().rposition(|w| *w > 0.0).unwrap_or(0);
    let (mut lane, mut upto) = (0, weights[0]);
    Ok((0..n)
        .map(|k| {
            let pointer = (k as f64 + offset) / n as f64;
            while pointer >= upto && lane < last {
                lane += 1;
                upto += weights[lane];
            }
            lane
        })
        .collect())
}

/// A count of values in equal bins over a stated range: flat memory, any number of values.
///
/// Weights are rounded to whole units of 2⁻⁴⁰, and sums are of whole numbers: merging is
/// associative and commutative to the bit. Quantiles and the mean are right to one bin width for
/// values within the range.
#[derive(Debug, Clone, PartialEq)]
pub struct Histogram {
    from: f64,
    to: f64,
    bins: Vec<u64>,
    below: u64,
    above: u64,
    missing: u64,
    least: f64,
    greatest: f64,
}

/// Units of a weight of 1.
const UNITS: f64 = 1_099_511_627_776.0; // 2^40

/// Why two histograms cannot be merged, or one not made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadBins {
    /// The range is empty or not finite, or has no bin.
    Range,
    /// Range or number of bins differ.
    Differ,
}

impl std::fmt::Display for BadBins {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Range => "the range of the bins is empty or not finite",
            Self::Differ => "the bins differ in range or number",
        })
    }
}
impl std::error::Error for BadBins {}

impl Histogram {
    /// An empty count in `bins` equal bins from `from` to `to`.
    ///
    /// # Errors
    /// [`BadBins::Range`] unless from < to, both finite, and there is a bin.
    pub fn new(from: f64, to: f64, bins: usize) -> Result<Self, BadBins> {
        if !(from < to && (to - from).is_finite()) || bins == 0 {
            return Err(BadBins::Range);
        }
        Ok(Self {
            from,
            to,
            bins: vec![0; bins],
            below: 0,
            above: 0,
            missing: 0,
            least: f64::INFINITY,
            greatest: f64::NEG_INFINITY,
        })
    }

    /// Width of a bin: the resolution.
    pub fn width(&self) -> f64 {
        (self.to - self.from) / self.bins.len() as f64
    }

    /// Counts a value with a weight, 0 to 1 (held to that; NaN is 0). NaN values are missing.
    pub fn add(&mut self, value: f64, weight: f64) {
        let units = (weight.clamp(0.0, 1.0) * UNITS) as u64;
        if units == 0 {
            return;
        }
        let place = if value.is_nan() {
            &mut self.missing
        } else if value < self.from {
            &mut self.below
        } else if value > self.to {
            &mut self.above
        } else {
            let bin = ((value - self.from) / self.width()) as usize;
            let last = self.bins.len() - 1;
            &mut self.bins[bin.min(last)]
        };
        *place = place.saturating_add(units);
        if !value.is_nan() {
            self.least = self.least.min(value);
            self.greatest = self.greatest.max(value);
        }
    }

    /// Adds the counts of another with the same bins.
    ///
    /// # Errors
    /// [`BadBins::Differ`]; nothing is added then.
    pub fn merge(&mut self, other: &Self) -> Result<(), BadBins> {
        if (self.from, self.to, self.bins.len()) != (other.from, other.to, other.bins.len()) {
            return Err(BadBins::Differ);
        }
        for (a, b) in self.bins.iter_mut().zip(&other.bins) {
            *a = a.saturating_add(*b);
        }
        self.below = self.below.saturating_add(other.below);
        self.above = self.above.saturating_add(other.above);
        self.missing = self.missing.saturating_add(other.missing);
        self.least = self.least.min(other.least);
        self.greatest = self.greatest.max(other.greatest);
        Ok(())
    }

    /// Units of all values that are not missing.
    fn present(&self) -> u128 {
        self.spans().map(|(_, _, units)| u128::from(units)).sum()
    }

    /// From, to and units: below the range, every bin, above.
    fn spans(&self) -> impl Iterator<Item = (f64, f64, u64)> {
        let last = self.bins.len();
        let edge = move |k: usize| {
            if k == last { self.to } else { self.from + self.width() * k as f64 }
        };
        let inside = (0..last).map(move |k| (edge(k), edge(k + 1), self.bins[k]));
        std::iter::once((self.least, self.from, self.below)).chain(inside).chain(std::iter::once((
            self.to,
            self.greatest,
            self.above,
        )))
    }

    /// Weight of all values that are not missing, in units of one value of weight 1.
    pub fn weight(&self) -> f64 {
        self.present() as f64 / UNITS
    }

    /// Share of the weight whose value is missing (NaN), 0 to 1; 0 when empty.
    pub fn missing(&self) -> f64 {
        let all = self.present() + u128::from(self.missing);
        if all == 0 { 0.0 } else { self.missing as f64 / all as f64 }
    }

    /// The least and the greatest value; `None` when there is none.
    pub fn extremes(&self) -> Option<(f64, f64)> {
        (self.least <= self.greatest).then_some((self.least, self.greatest))
    }

    /// Mean to half a bin, values outside the range taken at the middle between range and
    /// extreme; NaN when empty.
    pub fn mean(&self) -> f64 {
        let all = self.present();
        let sum: f64 = self
            .spans()
            .filter(|(_, _, units)| *units > 0)
            .map(|(from, to, units)| 0.5 * (from + to) * units as f64)
            .sum();
        if all == 0 { f64::NAN } else { sum / all as f64 }
    }

    /// The value below which a share p of the weight lies, to one bin; p is held to 0..=1. NaN
    /// when p is or when empty.
    ///
    /// Values are taken as evenly spread in their bin, and never beyond the extremes.
    pub fn quantile(&self, p: f64) -> f64 {
        let Some((least, greatest)) = self.extremes().filter(|_| !p.is_nan()) else {
            return f64::NAN;
        };
        let target = p.clamp(0.0, 1.0) * self.present() as f64;
        let mut sum = 0.0;
        for (from, to, units) in self.spans().filter(|(_, _, units)| *units > 0) {
            let units = units as f64;
            if sum + units >= target {
                let x = from + (to - from) * ((target - sum) / units);
                // an infinite extreme leaves no line to read from
                let x = if x.is_nan() { if from.is_finite() { to } else { from } } else { x };
                return x.clamp(least, greatest);
            }
            sum += units;
        }
        greatest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::Stream;
    use proptest::prelude::*;

    const VALUES: [f64; 7] = [3.0, -1.5, 8.25, 0.5, 2.0, 2.0, 7.0];
    const WEIGHTS: [f64; 7] = [0.5, 2.0, 1.0, 0.0, 0.25, 3.0, 1.0];
    const PS: [f64; 6] = [0.0, 0.05, 0.3, 0.5, 0.777, 1.0];

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-12 * b.abs().max(1.0)
    }

    /// NumPy 2.4: `quantile(v, p)` with its default method, `var(ddof=1)`.
    #[test]
    fn equal_weights_are_the_usual_statistics() {
        let w = Weighted::equal(&VALUES).unwrap();
        for (p, want) in PS.into_iter().zip([-1.5, -0.9, 1.7, 2.0, 5.648, 8.25]) {
            assert!(near(w.quantile(p), want), "{p} {}", w.quantile(p));
        }
        assert!(near(w.variance(), 12.008_928_571_428_57) && near(w.mean(), 21.25 / 7.0));
        assert!(near(w.effective_size(), 7.0) && w.missing() == 0.0);
    }

    /// NumPy 2.4: `average(weights=w)`, `cov(aweights=w)`; quantiles after the definition,
    /// written out again in NumPy.
    #[test]
    fn weights_as_numpy_has_them() {
        let w = Weighted::new(&VALUES, &WEIGHTS).unwrap();
        assert!(near(w.mean(), 2.612_903_225_806_451_5));
        assert!(near(w.variance(), 14.920_041_899_441_34));
        assert!(near(w.effective_size(), 3.922_448_979_591_837));
        let want = [
            -1.5,
            -1.031_428_571_428_572,
            1.525_714_285_714_285_4,
            2.0,
            4.055_755_102_040_816,
            7.632_653_061_224_49,
        ];
        for (p, want) in PS.into_iter().zip(want) {
            assert!(near(w.quantile(p), want), "{p} {}", w.quantile(p));
        }
    }

    #[test]
    fn what_never_happened_is_missing() {
        let w = Weighted::new(&[1.0, f64::NAN, 3.0, f64::NAN], &[1.0, 1.0, 1.0, 5.0]).unwrap();
        assert!(near(w.missing(), 0.75) && near(w.mean(), 2.0) && near(w.quantile(0.5), 2.0));
        let none = Weighted::equal(&[f64::NAN]).unwrap();
        assert!(none.mean().is_nan() && none.quantile(0.5).is_nan() && none.variance().is_nan());
        assert_eq!((none.missing(), none.effective_size()), (1.0, 0.0));
        let late = Weighted::equal(&[1.0, 2.0, f64::INFINITY]).unwrap();
        assert_eq!((late.quantile(0.5), late.quantile(0.9)), (2.0, f64::INFINITY));
    }

    #[test]
    fn refusals() {
        let length = BadWeights::Length { values: 1, weights: 2 };
        assert_eq!(Weighted::new(&[1.0], &[1.0, 1.0]), Err(length));
        assert_eq!(Weighted::new(&[1.0, 1.0], &[1.0, -1.0]), Err(BadWeights::Weight { at: 1 }));
        assert_eq!(Weighted::new(&[1.0], &[0.0]), Err(BadWeights::Nothing));
        assert_eq!(Weighted::equal(&[]), Err(BadWeights::Nothing));
        assert_eq!(systematic(&[], 3, 0.5), Err(BadWeights::Nothing));
        assert_eq!(Histogram::new(1.0, 1.0, 3), Err(BadBins::Range));
        assert_eq!(Histogram::new(f64::MIN, f64::MAX, 3), Err(BadBins::Range));
        let mut a = Histogram::new(0.0, 1.0, 3).unwrap();
        assert_eq!(a.merge(&Histogram::new(0.0, 1.0, 4).unwrap()), Err(BadBins::Differ));
    }

    #[test]
    fn a_count_of_a_million_is_right_to_a_bin_and_merges_in_any_order() {
        let stream = Stream::new(1, 1);
        let values: Vec<f64> = (0..1 << 16).map(|i| stream.normal(i)).collect();
        let weights: Vec<f64> = (0..1 << 16).map(|i| Stream::new(2, 2).uniform(i)).collect();
        let exact = Weighted::new(&values, &weights).unwrap();
        let part = |range: std::ops::Range<usize>| {
            let mut h = Histogram::new(-3.0, 3.0, 1024).unwrap();
            for i in range {
                h.add(values[i], weights[i]);
            }
            h
        };
        let (a, b, c) = (part(0..100), part(100..40_000), part(40_000..1 << 16));
        let whole = part(0..1 << 16);
        for order in [[&a, &b, &c], [&c, &a, &b], [&b, &c, &a]] {
            let mut sum = Histogram::new(-3.0, 3.0, 1024).unwrap();
            for h in order {
                sum.merge(h).unwrap();
            }
            assert_eq!(sum, whole);
        }
        let mut right = b.clone();
        right.merge(&c).unwrap();
        let mut grouped = a.clone();
        grouped.merge(&right).unwrap();
        assert_eq!(grouped, whole);
        for p in [0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995] {
            let gap = (whole.quantile(p) - exact.quantile(p)).abs();
            assert!(gap < whole.width(), "{p} {gap}");
        }
        assert!((whole.mean() - exact.mean()).abs() < whole.width());
        // outside the range the line goes to the extreme
        assert!(near(whole.quantile(1.0), values.iter().copied().fold(0.0, f64::max)));
    }

    #[test]
    fn a_count_of_nothing_and_of_the_missing() {
        let mut h = Histogram::new(0.0, 10.0, 10).unwrap();
        assert!(h.mean().is_nan() && h.quantile(0.5).is_nan() && h.extremes().is_none());
        h.add(f64::NAN, 1.0);
        h.add(3.5, 1.0);
        h.add(10.0, 0.0);
        assert_eq!((h.missing(), h.weight(), h.mean(), h.quantile(0.5)), (0.5, 1.0, 3.5, 3.5));
    }

    fn lanes() -> impl Strategy<Value = Vec<(f64, f64)>> {
        let value = prop_oneof![8 => -100.0..100.0f64, 1 => Just(f64::NAN), 1 => Just(5.0)];
        let weight =
            prop_oneof![6 => 0.0..10.0f64, 1 => Just(0.0), 1 => Just(1e-300), 1 => Just(1e300)];
        prop::collection::vec((value, weight), 1..60)
    }

    proptest! {
        #[test]
        fn quantiles_ascend_within_the_values(lanes in lanes(), p in 0.0..=1.0f64, q in 0.0..=1.0f64) {
            let (values, weights): (Vec<f64>, Vec<f64>) = lanes.into_iter().unzip();
            prop_assume!(weights.iter().any(|w| *w > 0.0));
            let w = Weighted::new(&values, &weights).unwrap();
            let n = values.len() as f64;
            let share: f64 = normalised(&weights).unwrap().iter().sum();
            prop_assert!((share - 1.0).abs() < 1e-12);
            let size = effective_size(&weights);
            prop_assert!((1.0..=n).contains(&size), "{}", size);
            let (low, high) = (w.quantile(p.min(q)), w.quantile(p.max(q)));
            if w.effective_size() > 0.0 {
                prop_assert!(low <= high + 1e-9 && (-100.001..=100.001).contains(&low), "{} {}", low, high);
                prop_assert!((1.0..=n).contains(&w.effective_size()));
                prop_assert!(w.variance().is_nan() || w.variance() >= 0.0);
            }
            let mut h = Histogram::new(-50.0, 50.0, 7).unwrap();
            values.iter().zip(&weights).for_each(|(v, w)| h.add(*v, *w));
            prop_assert!(h.weight() == 0.0 || h.quantile(p.min(q)) <= h.quantile(p.max(q)));
        }

        #[test]
        fn every_lane_gets_its_due(lanes in lanes(), n in 1..200_usize, u in 0.0..1.0f64) {
            let weights: Vec<f64> = lanes.into_iter().map(|(_, w)| w).collect();
            prop_assume!(weights.iter().any(|w| *w > 0.0));
            let places = systematic(&weights, n, u).unwrap();
            prop_assert_eq!(places.len(), n);
            prop_assert!(places.is_sorted());
            for (i, share) in normalised(&weights).unwrap().iter().enumerate() {
                let due = share * n as f64;
                let got = places.iter().filter(|k| **k == i).count() as f64;
                prop_assert!((got - due).abs() < 1.0 + 1e-9, "{} {}", got, due);
            }
        }

        #[test]
        fn nothing_panics(v in prop::collection::vec(any::<f64>(), 0..20), w in prop::collection::vec(any::<f64>(), 0..20), p: f64) {
            let _ = (effective_size(&w), normalised(&w), systematic(&w, 5, p));
            if let Ok(x) = Weighted::new(&v, &w) {
                let _ = (x.mean(), x.sd(), x.quantile(p));
            }
            if let (Some(a), Some(b)) = (v.first(), v.last()) && let Ok(mut h) = Histogram::new(*a, *b, 5) {
                v.iter().zip(&w).for_each(|(v, w)| h.add(*v, *w));
                let _ = (h.mean(), h.quantile(p), h.missing(), h.weight());
            }
        }
    }
}
