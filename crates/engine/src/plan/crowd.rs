//! The same dough in many kitchens at once, as the search grows it.

use super::weigh::Burden;
use crate::belief::{Belief, Draws};
use crate::ensemble::{Kitchens, STEP_MIN};
use crate::ferment::MixError;
use crate::forecast::SEED;
use crate::kitchen::Kitchen;
use crate::method::{Cue, End, Step, Window};
use crate::numerics::lanes::Lanes;
use crate::run::{Draw, Lump, MAX_STEP_MIN, Setting, past_best};
use quantity::{Celsius, Percent};

/// Kitchens a plan is sought in: the one as written first, then those it may be, with weights.
#[derive(Debug, Clone)]
pub(crate) struct People {
    /// The first has no weight.
    draws: Vec<Draw>,
    weights: Vec<f64>,
}

impl People {
    /// So many kitchens in all, the written one included.
    pub(crate) fn of(kitchen: &Kitchen, n: usize) -> Self {
        let others = n.max(2) - 1;
        let draws = Draws::new(Belief::own_kitchen().clone(), others as u32, SEED);
        let around = Kitchens::around(kitchen, &draws);
        let written = Draw { longest_min: STEP_MIN, ..Draw::as_written() };
        let all = std::iter::once(written).chain((0..others).map(|i| around.draw(i)));
        let weight = 1.0 / others as f64;
        let weights = std::iter::once(0.0).chain(std::iter::repeat_n(weight, others));
        Self { draws: all.collect(), weights: weights.collect() }
    }

    /// The kitchens given, with weights that make 1; the first is taken for the one as it is.
    pub(crate) fn weighed(reference: Draw, others: Vec<Draw>, weights: &[f64]) -> Self {
        let mut all = vec![reference];
        all.extend(others);
        let weights = std::iter::once(0.0).chain(weights.iter().copied()).collect();
        Self { draws: all, weights }
    }

    /// Nobody: for a search in which no dough matters.
    pub(super) fn none() -> Self {
        Self { draws: Vec::new(), weights: Vec::new() }
    }

    /// The kitchen as written alone, which then counts.
    pub(super) fn here() -> Self {
        let written = Draw { longest_min: STEP_MIN, ..Draw::as_written() };
        Self { draws: vec![written], weights: vec![1.0] }
    }

    /// How many.
    pub(super) fn count(&self) -> usize {
        self.draws.len()
    }

    /// Side by side in registers; the last is filled up with its last kitchen.
    pub(super) fn lanes<L: Lanes>(&self) -> Vec<Draw<L>> {
        let last = self.draws.len().saturating_sub(1);
        let one = |r: usize| Draw::gather(|i| self.draws[(r * L::N + i).min(last)]);
        (0..self.draws.len().div_ceil(L::N)).map(one).collect()
    }

    /// Weighted mean of what is said of each kitchen.
    fn mean(&self, of: impl Fn(usize) -> f64) -> f64 {
        self.weights.iter().enumerate().map(|(i, w)| if *w > 0.0 { w * of(i) } else { 0.0 }).sum()
    }
}

/// The doughs.
#[derive(Debug, Clone)]
pub(super) struct Crowd<L>(pub(super) Vec<Lump<L>>);

impl<L: Lanes> Crowd<L> {
    /// Mixes one for each register of kitchens.
    pub(super) fn mix(
        draws: &[Draw<L>],
        one: impl Fn(usize, &Draw<L>) -> Result<Lump<L>, MixError>,
    ) -> Result<Self, MixError> {
        Ok(Self(draws.iter().enumerate().map(|(r, d)| one(r, d)).collect::<Result<_, _>>()?))
    }

    pub(super) fn begin(&mut self, setting: &Setting<'_>, step: &Step, at: f64) {
        for l in &mut self.0 {
            l.begin(setting, step, L::splat(at));
        }
    }

    pub(super) fn rest(&mut self, setting: &Setting<'_>, from: f64, to: f64) {
        for l in &mut self.0 {
            l.rest(setting, L::splat(from), L::splat(to), f64::INFINITY, |_, _| {});
        }
    }

    pub(super) fn finish(&mut self, step: &Step) {
        for l in &mut self.0 {
            l.finish(step);
        }
    }

    /// One kitchen's number.
    fn each(&self, of: impl Fn(&Lump<L>) -> L) -> Vec<f64> {
        let all = self.0.iter().map(of);
        all.flat_map(|x| (0..L::N).map(move |i| x.lane(i))).collect()
    }

    /// What a window measures in the first kitchen.
    pub(super) fn first(&self, window: Window) -> f64 {
        self.0.first().map_or(f64::NAN, |l| l.measure(window).lane(0))
    }

    /// Mean mildness.
    pub(super) fn mild(&self, people: &People) -> f64 {
        let ph = self.each(Lump::acidity);
        people.mean(|i| (ph[i] - super::weigh::SOUREST).clamp(0.0, 2.0))
    }

    /// What the end of a step adds, away from its target and past its best; and how far the first
    /// kitchen is from its target.
    pub(super) fn judge(
        &self,
        people: &People,
        step: &Step,
        peaks: Option<&Peaks>,
        at: f64,
    ) -> (Burden, f64) {
        let mut b = Burden::default();
        let mut first = 0.0;
        if let Some(peaks) = peaks {
            let off = |i: usize| peaks.0[i].map_or(f64::INFINITY, |p| p.off(at));
            first = off(0);
            b.off_target = people.mean(|i| squared(off(i)));
            b.missed = people.mean(|i| f64::from(off(i) > 1.0));
        } else if let Some(window) = step.good {
            let x = self.each(|l| l.measure(window));
            first = off_at(step, window, x[0]);
            b.off_target = people.mean(|i| squared(off_at(step, window, x[i])));
            b.missed = people.mean(|i| f64::from(off_at(step, window, x[i]) > 1.0));
        }
        if step.what.is_none() {
            let rise = self.each(Lump::rise_percent);
            let [loss, mean, weak] = [
                self.each(Lump::gas_loss),
                self.each(Lump::mean_deg_c),
                self.each(|l| l.dough.state.weakening),
            ];
            let tired = |i: usize| past_best(loss[i], Percent(rise[i]), Celsius(mean[i]), weak[i]);
            b.past_best = people.mean(|i| f64::from(tired(i)));
        }
        (b, first)
    }
}

/// Squared distance from a target, no more than at the edge.
fn squared(off: f64) -> f64 {
    let off = off.min(1.0);
    off * off
}

/// Distance of a measured result from its target: 0 there, 1 at the edge of its window, more
/// outside.
pub(super) fn off_at(step: &Step, window: Window, x: f64) -> f64 {
    let (lo, hi) = match window {
        Window::Rise(a, b) => (a.0, b.0),
        Window::Acid(a, b) => (a.0, b.0),
        Window::Core(a, b) => (a.0, b.0),
    };
    let target = match step.end {
        End::Cue { cue: Cue::Rise(r), .. } => r.0,
        End::Cue { cue: Cue::Acid(p), .. } => p.0,
        End::Cue { cue: Cue::Core(c), .. } => c.0,
        _ => f64::midpoint(lo, hi),
    }
    .clamp(lo.min(hi), hi.max(lo));
    let side = if x < target { target - lo } else { hi - target };
    let off = (x - target).abs();
    // a window without a target of its own only has edges
    let inside = matches!(step.end, End::Between { .. } | End::After(_)) && x >= lo && x <= hi;
    if inside {
        0.0
    } else if side <= 0.0 {
        if off == 0.0 { 0.0 } else { f64::INFINITY }
    } else {
        off / side
    }
}

/// Distance of a result from its target.
pub(crate) fn off_target(step: &Step, l: &Lump) -> f64 {
    step.good.map_or(0.0, |window| off_at(step, window, l.measure(window)))
}

/// When a levain is at its peak, and the 95 % around it, elapsed minutes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub(super) from: f64,
    pub(super) at: f64,
    pub(super) until: f64,
}

impl Peak {
    fn of(curve: &[(f64, f64)]) -> Option<Self> {
        let start = curve.first()?.1;
        let top = curve.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
        if top.1 < 1.1 * start {
            return None; // it never rose
        }
        let inside = |v: f64| v >= 0.95 * top.1;
        let first = curve.iter().find(|c| inside(c.1)).map(|c| c.0)?;
        let last = curve.iter().rev().find(|c| inside(c.1)).map(|c| c.0)?;
        Some(Self { from: first, at: top.0, until: last })
    }

    fn off(&self, t: f64) -> f64 {
        let side = if t < self.at { self.at - self.from } else { self.until - self.at };
        let off = (t - self.at).abs();
        if off == 0.0 {
            0.0
        } else if side <= 0.0 {
            f64::INFINITY
        } else {
            off / side
        }
    }
}

/// The peak in every kitchen; none where it never rises.
pub(super) struct Peaks(pub(super) Vec<Option<Peak>>);

impl Peaks {
    /// Of levains that stand from a minute on; a little beyond the longest time, so that a late
    /// peak is seen.
    pub(super) fn of<L: Lanes>(
        setting: &Setting<'_>,
        step: &Step,
        levains: &Crowd<L>,
        from: f64,
    ) -> Self {
        let end = from + step.end.most().0 + 120.0;
        let mut out = Vec::new();
        for l in &levains.0 {
            let mut curve = vec![(from, l.volume())];
            l.clone().rest(setting, L::splat(from), L::splat(end), MAX_STEP_MIN, |t, l| {
                curve.push((t.lane(0), l.volume()));
            });
            out.extend((0..L::N).map(|i| {
                let lane: Vec<(f64, f64)> = curve.iter().map(|(t, v)| (*t, v.lane(i))).collect();
                Peak::of(&lane)
            }));
        }
        Self(out)
    }
}
