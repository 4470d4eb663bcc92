//! Many doughs at once: one recipe in many kitchens, from the starter to the oven.
//!
//! Doughs stand side by side in the lanes of a register and the registers are spread over all
//! cores. A dough's bits depend on nothing but its own draw: not on its neighbours, the number of
//! lanes or of threads.

mod count;

pub use count::count;

use crate::method::Path;
use crate::numerics::lanes::{Job, Lanes, Width};
use crate::run::{Draw, Lump, RunError, Schedule, Setting, Told, Walker};
use rayon::prelude::*;

/// How the recipe is followed.
#[derive(Debug, Clone, Copy)]
pub enum Follow<'s> {
    /// By the clock: every step begins and ends as written.
    Clock(&'s Schedule),
    /// By the cues, from the first build at this elapsed minute.
    Cues(Path, f64),
}

/// Where readings are taken: at the end of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Line: a preferment's place in the formula, then the dough.
    pub line: usize,
    /// Index of the step in the method.
    pub step: usize,
}

macro_rules! readings {
    ($($(#[$doc:meta])* $name:ident $field:ident),* $(,)?) => {
        /// What is read off a dough at a moment.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Reading { $($(#[$doc])* $name),* }

        /// Number of readings.
        const READINGS: usize = [$(Reading::$name),*].len();

        struct Read<L> { $($field: L),* }

        impl<L: Lanes> Read<L> {
            fn lane(&self, i: usize) -> [f64; READINGS] {
                [$(self.$field.lane(i)),*]
            }
        }
    };
}
readings! {
    /// Elapsed minute at which the step began.
    Began began,
    /// Elapsed minute.
    Minute minute,
    /// Core temperature, °C.
    Core core,
    /// Mean temperature, °C.
    Mean mean,
    /// Growth since mixing or shaping, %.
    Rise rise,
    /// Volume, L/kg.
    Volume volume,
    /// Acidity.
    Ph ph,
    /// Gas lost per gas made.
    GasLoss gas_loss,
    /// Weakening of the gluten.
    Weakening weakening,
}

impl<L: Lanes> Read<L> {
    fn of(began: L, minute: L, lump: &Lump<L>) -> Self {
        L::with(
            #[inline(always)]
            || {
                let mean = lump.body.mean_deg_c();
                let d = &lump.dough;
                Self {
                    began,
                    minute,
                    core: lump.body.core_deg_c(),
                    mean,
                    rise: d.rise_at(mean),
                    volume: d.volume_at(mean),
                    ph: d.acidity_now(),
                    gas_loss: d.gas_loss_share_at(mean),
                    weakening: d.state.weakening,
                }
            },
        )
    }
}

/// Readings of many doughs.
#[derive(Debug, Clone, PartialEq)]
pub struct Doughs {
    /// How many doughs.
    pub n: usize,
    /// When they were read.
    pub moments: Vec<Moment>,
    /// By moment, reading, dough.
    values: Vec<f64>,
}

impl Doughs {
    /// One reading of every dough, in order.
    pub fn at(&self, moment: usize, reading: Reading) -> &[f64] {
        let from = (moment * READINGS + reading as usize) * self.n;
        &self.values[from..from + self.n]
    }

    /// The moment a step ends.
    pub fn moment_of(&self, step: usize) -> Option<usize> {
        self.moments.iter().position(|m| m.step == step)
    }
}

/// Runs `n` doughs, each in a kitchen of its own.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn run(
    setting: &Setting<'_>,
    follow: &Follow<'_>,
    n: usize,
    draw: impl Fn(usize) -> Draw + Sync,
    width: Width,
) -> Result<Doughs, RunError> {
    width.run(Batch { setting, follow, n, draw: &draw })
}

struct Batch<'b, D> {
    setting: &'b Setting<'b>,
    follow: &'b Follow<'b>,
    n: usize,
    draw: &'b D,
}

impl<D: Fn(usize) -> Draw + Sync> Job for Batch<'_, D> {
    type Out = Result<Doughs, RunError>;

    fn run<L: Lanes>(self) -> Self::Out {
        let last = self.n.saturating_sub(1);
        let registers = self.n.div_ceil(L::N);
        let told: Vec<Vec<(Moment, Read<L>)>> = (0..registers)
            .into_par_iter()
            .map(|r| {
                // the last register is filled up with its last dough
                let draw = Draw::gather(|i| (self.draw)((r * L::N + i).min(last)));
                one_register::<L>(self.setting, self.follow, &draw)
            })
            .collect::<Result<_, _>>()?;
        let moments: Vec<Moment> =
            told.first().map(|t| t.iter().map(|(m, _)| *m).collect()).unwrap_or_default();
        let mut values = vec![0.0; moments.len() * READINGS * self.n];
        for (r, register) in told.iter().enumerate() {
            for (m, (_, read)) in register.iter().enumerate() {
                for i in 0..L::N.min(self.n - r * L::N) {
                    for (q, x) in read.lane(i).into_iter().enumerate() {
                        values[(m * READINGS + q) * self.n + r * L::N + i] = x;
                    }
                }
            }
        }
        Ok(Doughs { n: self.n, moments, values })
    }
}

fn one_register<L: Lanes>(
    setting: &Setting<'_>,
    follow: &Follow<'_>,
    draw: &Draw<L>,
) -> Result<Vec<(Moment, Read<L>)>, RunError> {
    match follow {
        Follow::Clock(schedule) => {
            let walker = |line| Clock { schedule, line, told: Vec::new() };
            let (walkers, _) = setting.walk_all(schedule.path, draw, walker)?;
            Ok(walkers.into_iter().flat_map(|w| w.told).collect())
        }
        Follow::Cues(path, start) => {
            let tell = |t: Told<'_, L>| Some((t.step, Read::of(t.from, t.to, t.lump?)));
            let (lines, _) = setting.follow_lanes(*path, L::splat(*start), draw, tell)?;
            let lines = lines.into_iter().enumerate();
            Ok(lines
                .flat_map(|(line, told)| {
                    told.into_iter()
                        .flatten()
                        .map(move |(step, read)| (Moment { line, step }, read))
                })
                .collect())
        }
    }
}

struct Clock<'s, L> {
    schedule: &'s Schedule,
    line: usize,
    told: Vec<(Moment, Read<L>)>,
}

impl<L: Lanes> Walker<L> for Clock<'_, L> {
    fn begins(&mut self, step: usize) -> Option<L> {
        self.schedule.of(step).map(|s| L::splat(s.from))
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>) {
        if let (Some(l), Some(span)) = (lump, self.schedule.of(step)) {
            let to = L::splat(span.to);
            l.rest(setting, from, to, f64::INFINITY, |_, _| {});
            self.told.push((Moment { line: self.line, step }, Read::of(from, to, l)));
        }
    }
}
