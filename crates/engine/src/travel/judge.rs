//! What became of a dough, where a baker judges it.

use super::advise::Fare;
use super::share;
use crate::bake::Baked;
use crate::belief::{Belief, Uncertain};
use crate::ensemble::{Doughs, Kitchens, Reading};
use crate::method::{End, POKE_RISE, Path, Verb, Window};
use crate::readiness::bulk_habit;
use crate::recipe::Recipe;
use quantity::{Celsius, Percent};

/// Where the bread is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checkpoint {
    /// The end of bulk.
    Divide,
    /// The end of proof.
    Load,
    /// Out of the oven.
    Loaf,
}

impl Checkpoint {
    /// All, in order.
    pub const ALL: [Self; 3] = [Self::Divide, Self::Load, Self::Loaf];
}

/// What became of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Too little: young, unrisen, raw or pale.
    Under,
    /// As the recipe wants it.
    Good,
    /// Too much: past its best or burnt.
    Over,
}

/// Starch of the core that has set in a loaf that is baked. Ours.
const BAKED_STARCH: f64 = 0.98;
/// L* above which a crust counts as pale when no colour is asked for. Ours, uncalibrated.
const PALE: f64 = 75.0;
/// L* above the colour asked that still counts as it: what the model errs by.
const COLOUR_SLACK: f64 = 10.0;
/// L* below which a crust counts as burnt. Ours, uncalibrated.
const BURNT: f64 = 35.0;
/// Core this far below the one asked still counts as baked, K: half of what probes err by.
const CORE_SLACK: f64 = 2.0;
/// Core below that which counts as one more window short, K. Ours.
const RAW: f64 = 5.0;
/// Where a proof in the fridge is judged without a window of the recipe's. Ours.
const COLD_PROOF: Window = Window::Rise(Percent(10.0), Percent(100.0));

/// A step whose result is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Judged {
    step: usize,
    /// The recipe's window, or the one of its cue; the habit of bakers by temperature when none.
    window: Option<Window>,
}

/// The judge of a recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Judge {
    divide: Option<Judged>,
    load: Option<Judged>,
    core: Option<f64>,
    /// L* above which the crust is pale.
    pale: f64,
}

impl Judge {
    /// For one way through a recipe.
    pub fn of(recipe: &Recipe, path: Path) -> Self {
        let steps = &recipe.method.steps;
        let line = recipe.method.main_line(path);
        let at = |verb| line.iter().position(|&i| steps[i].verb == verb);
        let window = |i: usize| {
            let cue = match steps[i].end {
                End::Cue { cue, .. } => cue.usual_window(),
                _ => None,
            };
            steps[i].good.or(cue)
        };
        let ferments = |v| matches!(v, Verb::Bulk | Verb::Retard | Verb::Proof);
        let last = |of: &[usize]| {
            // the last with a window, else the last that ferments
            let judged = of.iter().rfind(|&&i| window(i).is_some());
            judged.or_else(|| of.iter().rfind(|&&i| ferments(steps[i].verb))).copied()
        };
        let mix = at(Verb::Mix).unwrap_or(0);
        let load = at(Verb::Load).unwrap_or(line.len());
        let divide = at(Verb::Divide).or_else(|| at(Verb::Shape)).unwrap_or(mix).min(load);
        let shape = at(Verb::Shape).unwrap_or(divide).min(load);
        let judged = |step: usize| Judged { step, window: window(step) };
        let mut proof = last(&line[shape..load]).map(judged);
        if let Some(p) = &mut proof {
            let cold = steps[p.step].verb == Verb::Retard;
            let usual = if cold { COLD_PROOF } else { Window::Rise(POKE_RISE.0, POKE_RISE.2) };
            p.window = p.window.or(Some(usual));
        }
        Self {
            divide: last(&line[mix.min(divide)..divide]).map(judged),
            load: proof,
            core: recipe.done_when.core.map(|c| c.0),
            pale: recipe.done_when.lightness.map_or(PALE, |l| l + COLOUR_SLACK),
        }
    }

    /// How far each dough or loaf is from its window where it is judged: −1 to 1 inside, below −1
    /// too little, above 1 too much, held to ±4; none when nothing is judged there.
    pub fn misses(&self, at: Checkpoint, doughs: &Doughs) -> Option<Vec<f64>> {
        let judged = match at {
            Checkpoint::Divide => self.divide?,
            Checkpoint::Load => self.load?,
            Checkpoint::Loaf => {
                let loaves = doughs.baked.iter().map(|b| self.loaf(b)).collect();
                return (!doughs.baked.is_empty()).then_some(loaves);
            }
        };
        let m = doughs.moment_of(judged.step)?;
        let over = doughs.past_best(m);
        let mean = doughs.at(m, Reading::Mean);
        let miss = |i: usize| {
            let window = judged.window.unwrap_or_else(|| {
                let (lo, hi) = bulk_habit(Celsius(mean[i]));
                Window::Rise(lo, hi)
            });
            let miss = window.miss(doughs.at(m, Reading::of(window))[i]);
            // past its best is too much, however little it rose
            if over[i] { miss.max(1.5) } else { miss }.clamp(-4.0, 4.0)
        };
        Some((0..doughs.n).map(miss).collect())
    }

    /// What became of every dough there; none when nothing is judged.
    pub fn outcomes(&self, at: Checkpoint, doughs: &Doughs) -> Option<Vec<Outcome>> {
        let misses = self.misses(at, doughs)?;
        Some(misses.into_iter().map(outcome).collect())
    }

    /// How far a loaf is from well baked, in the same measure: its crust between pale and burnt,
    /// but too little by one more window for every 5 K that a raw core lacks.
    pub fn loaf(&self, b: &Baked) -> f64 {
        let colour = 2.0 * (self.pale - b.lightness) / (self.pale - BURNT).max(1.0) - 1.0;
        let cold = self.core.map_or(0.0, |c| (c - CORE_SLACK - b.highest_core) / RAW);
        let unset = (BAKED_STARCH - b.starch) / BAKED_STARCH;
        let raw = cold.max(unset);
        if raw > 0.0 { colour.min(-1.0 - raw) } else { colour }.clamp(-4.0, 4.0)
    }

    /// Which doughs are in their window there; all when nothing is judged.
    pub fn inside(&self, at: Checkpoint, doughs: &Doughs) -> Vec<bool> {
        let inside = |misses: Vec<f64>| misses.into_iter().map(|m| outcome(m) == Outcome::Good);
        let judged = self.misses(at, doughs).map(|m| inside(m).collect());
        judged.unwrap_or_else(|| vec![true; doughs.n])
    }
}

/// What a miss comes to.
pub(super) fn outcome(miss: f64) -> Outcome {
    match miss {
        m if m < -1.0 => Outcome::Under,
        m if m > 1.0 => Outcome::Over,
        _ => Outcome::Good,
    }
}

/// Edges of the map's columns, °C: around the middle of the readers' rooms, 2 K apart, or so far
/// that nearly all are on it.
pub(super) fn rooms(belief: &Belief, usual: f64) -> [f64; 7] {
    let room = belief.get(Uncertain::Room);
    let [low, mid, high] = [0.02, 0.5, 0.98].map(|u| match room {
        Some(q) if q.unit.neutral().is_none() => q.at(u),
        Some(q) => usual + q.at(u),
        None => usual,
    });
    let middle = 2.0 * libm::round(mid / 2.0);
    let step = libm::round((high - low) / 5.0).clamp(2.0, 6.0);
    [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0].map(|k| middle + k * step)
}
/// Edges of its rows: vigour of the starter.
pub const VIGOURS: [f64; 7] = [0.6, 0.7, 0.85, 1.0, 1.2, 1.4, 1.7];

/// Readers below whom a cell of the map says too little to be shown.
pub const FEW: u64 = 20;

/// How many fared how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Too little.
    pub under: u64,
    /// Good.
    pub good: u64,
    /// Too much.
    pub over: u64,
}

impl Count {
    fn add(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Under => self.under += 1,
            Outcome::Good => self.good += 1,
            Outcome::Over => self.over += 1,
        }
    }
    /// Everyone.
    pub fn all(&self) -> u64 {
        self.under + self.good + self.over
    }
    /// Shares: under, good, over.
    pub fn shares(&self) -> [Percent; 3] {
        [self.under, self.good, self.over].map(|x| share(x, self.all()))
    }
}

/// Outcomes of many readers: counts only, so a million take no more room than ten.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    /// By checkpoint, in the order of [`Checkpoint::ALL`].
    pub at: [Count; 3],
    /// Good breads.
    pub good: u64,
    /// Readers.
    pub readers: u64,
    /// How the bread fared by vigour, then by room: too little or too much at loading, or good
    /// there but not well baked.
    pub map: [[Count; 6]; 6],
}

impl Tally {
    /// Adds a block of readers.
    pub(super) fn add(
        &mut self,
        judge: &Judge,
        kitchens: &Kitchens<'_>,
        first: usize,
        doughs: &Doughs,
        (fare, rooms): (&Fare, &[f64; 7]),
    ) {
        for (count, at) in self.at.iter_mut().zip(Checkpoint::ALL) {
            for o in judge.outcomes(at, doughs).into_iter().flatten() {
                count.add(o);
            }
        }
        self.readers += doughs.n as u64;
        self.good += fare.good.iter().filter(|g| **g).count() as u64;
        let Some(load) = judge.outcomes(Checkpoint::Load, doughs) else { return };
        for (i, outcome) in load.into_iter().enumerate() {
            let lane = (first + i) as u32;
            let value = |what| kitchens.draws.value(what, lane);
            let room = kitchens.room_of(lane);
            let vigour = value(Uncertain::YeastVigour).unwrap_or(1.0);
            let bin =
                |x: f64, edges: &[f64; 7]| edges.windows(2).position(|e| e[0] <= x && x < e[1]);
            if let (Some(c), Some(r)) = (bin(room, rooms), bin(vigour, &VIGOURS)) {
                self.map[r][c].add(outcome);
            }
        }
    }

    /// Share of good breads.
    pub fn good_share(&self) -> Percent {
        share(self.good, self.readers)
    }

    /// Standard error of that share by sampling, in points, at most: as if readers were drawn
    /// by lot (they are spread more evenly). Two more of each kind keep it off 0.
    pub fn good_error(&self) -> Percent {
        let n = self.readers as f64 + 4.0;
        let p = (self.good as f64 + 2.0) / n;
        Percent(100.0 * libm::sqrt(p * (1.0 - p) / n))
    }

    /// The counts at a checkpoint.
    pub fn count(&self, at: Checkpoint) -> Count {
        self.at[at as usize]
    }
}
