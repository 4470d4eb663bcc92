//! Many doughs at once: one recipe in many kitchens, from the starter to the loaf.
//!
//! Doughs stand side by side in the lanes of a register and the registers are spread over all
//! cores. A dough's bits depend on nothing but its own draw: not on its neighbours, the number of
//! lanes or of threads.

mod count;
mod drawn;

pub use drawn::Kitchens;

use crate::bake::{
    Bake, BakeParameters, Baked, Kitchen as OvenKind, LoafLanes, Measures, Programme, Pull,
    Resolution, bake_lanes,
};
use crate::hearth::{OvenLanes, Tin};
use crate::layout::baked_density_g_per_ml;
use crate::method::{Path, Window};
use crate::numerics::lanes::{Job, Lanes, Width};
use crate::recipe::PieceShape;
use crate::run::{Draw, Guide, Lump, RunError, Schedule, Setting, Told, Walker, past_best};
use crate::warmth::Shape;
use quantity::{Celsius, Minutes, Percent};
use rayon::prelude::*;

/// Longest step of time of an ensemble's doughs, min: rise, pH and the time of a cue within 0.1 %.
pub const STEP_MIN: f64 = 20.0;

/// How the recipe is followed.
#[derive(Debug, Clone, Copy)]
pub enum Follow<'s> {
    /// By the clock: every step begins and ends as in a schedule.
    Clock(&'s Schedule),
    /// Step after step by a guide, from the first build at this elapsed minute.
    Guide(Path, &'s Guide, f64),
}

/// Where readings are taken: at the end of a step, or at a minute within it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Line: a preferment's place in the formula, then the dough.
    pub line: usize,
    /// Index of the step in the method.
    pub step: usize,
    /// Elapsed minute of a reading within a step; none at its end.
    pub within: Option<f64>,
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
    /// Mean temperature at its beginning as the thermometer shows it, °C.
    AsRead as_read,
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

impl Reading {
    /// What a window measures.
    pub fn of(window: Window) -> Self {
        match window {
            Window::Rise(..) => Self::Rise,
            Window::Acid(..) => Self::Ph,
            Window::Core(..) => Self::Core,
        }
    }
}

impl<L: Lanes> Read<L> {
    fn of(began: L, as_read: L, minute: L, lump: &Lump<L>) -> Self {
        L::with(
            #[inline(always)]
            || {
                let mean = lump.body.mean_deg_c();
                let d = &lump.dough;
                Self {
                    began,
                    as_read,
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
    /// The loaves, when they were baked.
    pub baked: Vec<Baked>,
}

impl Doughs {
    /// One reading of every dough, in order.
    pub fn at(&self, moment: usize, reading: Reading) -> &[f64] {
        let from = (moment * READINGS + reading as usize) * self.n;
        &self.values[from..from + self.n]
    }

    /// Which doughs are past their best at a moment.
    pub fn past_best(&self, moment: usize) -> Vec<bool> {
        let [loss, rise, mean, weak] =
            [Reading::GasLoss, Reading::Rise, Reading::Mean, Reading::Weakening]
                .map(|r| self.at(moment, r));
        let one = |i: usize| past_best(loss[i], Percent(rise[i]), Celsius(mean[i]), weak[i]);
        (0..self.n).map(one).collect()
    }

    /// The moment a step ends.
    pub fn moment_of(&self, step: usize) -> Option<usize> {
        self.moments.iter().position(|m| m.step == step && m.within.is_none())
    }
}

/// How the loaves are baked; none are without.
#[derive(Debug, Clone)]
pub struct Oven {
    kind: OvenKind,
    programme: Programme,
    shape: Shape,
    density_kg_m3: f64,
    tin: Option<Tin>,
    resolution: Resolution,
    /// Taken out when done, as the baker judges it; by the clock otherwise.
    by_cue: bool,
}

/// A bake by the cue goes on for this many times its written length at most. Ours.
const LATEST: f64 = 1.6;

impl Oven {
    /// The recipe's programme in a kitchen's oven.
    pub fn of(setting: &Setting<'_>, path: Path, by_cue: bool, resolution: Resolution) -> Self {
        let y = &setting.recipe.yields;
        let pan = y.shape == PieceShape::Pan;
        let fan = setting.kitchen.oven.fan;
        let room = setting.room_at(0.0);
        let oven = setting.kitchen.oven.oven(room, setting.kitchen.altitude, fan);
        Self {
            kind: OvenKind::new(&oven, &BakeParameters::MENDED),
            programme: setting.programme(path, 1),
            shape: setting.baked_shape(),
            density_kg_m3: 1000.0 * baked_density_g_per_ml(y.shape),
            tin: pan.then(|| setting.kitchen.tin.tin()),
            resolution,
            by_cue,
        }
    }

    /// Core at which the bread is done here; none when the recipe names none.
    pub fn core_target(&self) -> Option<Celsius> {
        self.programme.done_when.core_at(self.kind.pressure())
    }

    /// The programme as written.
    pub fn programme(&self) -> &Programme {
        &self.programme
    }

    fn bake<L: Lanes>(&self, lump: &Lump<L>, room: f64, draw: &Draw<L>) -> Baked<L> {
        let mass = lump.body.mass();
        let water = lump.dough.composition.total_water;
        let profile: Vec<(L, L)> =
            lump.body.profile_deg_c().map(|(t, share)| (t, L::splat(share))).collect();
        let measures = Measures::of(mass, self.shape, self.density_kg_m3, self.tin.is_some());
        let loaves = LoafLanes {
            measures: Measures::side_by_side(|_| measures),
            water_per_solids: (water / (-water + 1.0).at_least(1e-3)).within(0.05, 3.0),
            profile: &profile,
            tin: self.tin,
            conductivity: draw.crumb_conduction,
            browning: draw.browning,
        };
        let ovens = OvenLanes {
            knob_error: draw.oven_knob + self.kind.knob_error(),
            transfer: draw.oven_transfer,
            room: draw.room + room,
        };
        let done = self.programme.done_when;
        let pull = match (self.by_cue, done.core_at(self.kind.pressure())) {
            (true, core) if core.is_some() || done.lightness.is_some() => Pull::WhenDone {
                core: -draw.thermometer + core.map_or(0.0, |c| c.0),
                lightness: done.lightness.map(L::splat),
                latest: Minutes(LATEST * self.programme.minutes().0),
            },
            _ => Pull::AtEnd,
        };
        bake_lanes(Bake {
            kitchen: &self.kind,
            ovens: &ovens,
            loaves: &loaves,
            programme: &self.programme,
            resolution: self.resolution,
            pull,
        })
    }
}

/// One recipe, one way of following it, many kitchens.
pub struct Ensemble<'e> {
    /// Recipe and kitchen.
    pub setting: &'e Setting<'e>,
    /// How it is followed.
    pub follow: Follow<'e>,
    /// How the loaves are baked; none are without.
    pub oven: Option<&'e Oven>,
    /// By the clock: readings every so often within the steps too, min.
    pub every: Option<f64>,
    /// Lanes side by side.
    pub width: Width,
}

impl<'e> Ensemble<'e> {
    /// By the clock, to the oven.
    pub fn by_clock(setting: &'e Setting<'e>, schedule: &'e Schedule) -> Self {
        let follow = Follow::Clock(schedule);
        Self { setting, follow, oven: None, every: None, width: Width::Widest }
    }

    /// Runs `n` doughs, each in a kitchen of its own.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn run(&self, n: usize, draw: impl Fn(usize) -> Draw + Sync) -> Result<Doughs, RunError> {
        self.width.run(Batch { of: self, n, draw: &draw })
    }
}

struct Batch<'b, D> {
    of: &'b Ensemble<'b>,
    n: usize,
    draw: &'b D,
}

struct Register<L> {
    read: Vec<(Moment, Read<L>)>,
    baked: Option<Baked<L>>,
}

impl<D: Fn(usize) -> Draw + Sync> Job for Batch<'_, D> {
    type Out = Result<Doughs, RunError>;

    fn run<L: Lanes>(self) -> Self::Out {
        let last = self.n.saturating_sub(1);
        let registers = self.n.div_ceil(L::N);
        let told: Vec<Register<L>> = (0..registers)
            .into_par_iter()
            .map(|r| {
                // the last register is filled up with its last dough
                let draw = Draw::gather(|i| (self.draw)((r * L::N + i).min(last)));
                one_register::<L>(self.of, &draw)
            })
            .collect::<Result<_, _>>()?;
        let moments: Vec<Moment> =
            told.first().map(|t| t.read.iter().map(|(m, _)| *m).collect()).unwrap_or_default();
        let mut values = vec![0.0; moments.len() * READINGS * self.n];
        let mut baked = Vec::new();
        for (r, register) in told.iter().enumerate() {
            let here = L::N.min(self.n - r * L::N);
            for (m, (_, read)) in register.read.iter().enumerate() {
                for i in 0..here {
                    for (q, x) in read.lane(i).into_iter().enumerate() {
                        values[(m * READINGS + q) * self.n + r * L::N + i] = x;
                    }
                }
            }
            baked.extend(register.baked.iter().flat_map(|b| (0..here).map(|i| b.lane(i))));
        }
        Ok(Doughs { n: self.n, moments, values, baked })
    }
}

fn one_register<L: Lanes>(of: &Ensemble<'_>, draw: &Draw<L>) -> Result<Register<L>, RunError> {
    let setting = of.setting;
    let (read, dough) = match of.follow {
        Follow::Clock(schedule) => {
            let walker = |line| Clock { schedule, line, every: of.every, told: Vec::new() };
            let (walkers, dough) = setting.walk_all(schedule.path, draw, walker)?;
            (walkers.into_iter().flat_map(|w| w.told).collect(), dough)
        }
        Follow::Guide(path, guide, start) => {
            let tell = |t: Told<'_, L>| {
                let as_read = t.as_read.unwrap_or_default();
                Some((t.step, Read::of(t.from, as_read, t.to, t.lump?)))
            };
            let (lines, dough) = setting.follow_lanes(path, guide, L::splat(start), draw, tell)?;
            let at = |line, step| Moment { line, step, within: None };
            let read = lines.into_iter().enumerate().flat_map(|(line, told)| {
                told.into_iter().flatten().map(move |(step, read)| (at(line, step), read))
            });
            (read.collect(), dough)
        }
    };
    // the room while it bakes is taken as the one at the start
    let baked =
        of.oven.zip(dough).map(|(oven, dough)| oven.bake(&dough, setting.room_at(0.0).0, draw));
    Ok(Register { read, baked })
}

struct Clock<'s, L> {
    schedule: &'s Schedule,
    line: usize,
    every: Option<f64>,
    told: Vec<(Moment, Read<L>)>,
}

impl<L: Lanes> Walker<L> for Clock<'_, L> {
    fn begins(&mut self, step: usize) -> Option<L> {
        self.schedule.of(step).map(|s| L::splat(s.from))
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>) {
        let (Some(l), Some(span)) = (lump, self.schedule.of(step)) else { return };
        let to = L::splat(span.to);
        let as_read = l.as_read();
        let (line, told) = (self.line, &mut self.told);
        let at = |within| Moment { line, step, within };
        if self.every.is_some() {
            told.push((at(Some(span.from)), Read::of(from, as_read, from, l)));
        }
        l.rest(setting, from, to, self.every.unwrap_or(f64::INFINITY), |t, l| {
            if self.every.is_some() {
                told.push((at(Some(t.lane(0))), Read::of(from, as_read, t, l)));
            }
        });
        told.push((at(None), Read::of(from, as_read, to, l)));
    }
}

#[cfg(test)]
mod tests;
