//! Many doughs at once: one recipe in many kitchens, from the starter to the loaf.
//!
//! Doughs stand side by side in the lanes of a register and the registers are spread over all
//! cores. A dough's bits depend on nothing but its own draw: not on its neighbours, the number of
//! lanes or of threads.

mod count;
mod drawn;

pub use drawn::Kitchens;

use crate::bake::{
    Bake, BakeParameters, Baked, Glance, Kitchen as OvenKind, LoafLanes, Measures, Programme, Pull,
    Resolution, bake_lanes,
};
use crate::hearth::{OvenLanes, Tin};
use crate::layout::baked_density_g_per_ml;
use crate::method::{Path, Window};
use crate::numerics::lanes::{Job, Lanes, Width};
use crate::recipe::PieceShape;
use crate::run::{Draw, Guide, Lump, Ripe, RunError, Schedule, Setting, Told, Walker, past_best};
use crate::warmth::Shape;
use quantity::{Celsius, Grams, Minutes, Percent};
use rayon::prelude::*;

/// Longest step of time of an ensemble's doughs, min: rise, pH and the time of a cue within 0.1 %.
pub const STEP_MIN: f64 = 20.0;

/// How the recipe is followed.
#[derive(Clone, Copy)]
pub enum Follow<'s> {
    /// By the clock: every step begins and ends as in a schedule.
    Clock(&'s Schedule),
    /// Step after step by a guide, from the first build at this elapsed minute.
    Guide(Path, &'s Guide, f64),
    /// As that, once for each try.
    Tries(Path, &'s [Try<'s>], f64),
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

        #[derive(Clone, Copy)]
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
    /// Volume per mass against that at mixing.
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
                    volume: d.volume_at(mean) / lump.mixed_volume,
                    ph: d.acidity_now(),
                    gas_loss: d.gas_loss_share_at(mean),
                    weakening: d.state.weakening,
                }
            },
        )
    }
}

/// Readings of many doughs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Doughs {
    /// How many doughs.
    pub n: usize,
    /// When they were read.
    pub moments: Vec<Moment>,
    /// By moment, reading, dough.
    values: Vec<f64>,
    /// As they are loaded.
    loaded: Loaded,
    /// The loaves, when they were baked.
    pub baked: Vec<Baked>,
    /// The loaves over time, when readings within the steps were asked for.
    pub baking: Baking,
}

/// Readings of many loaves in the oven, all out by the clock.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Baking {
    /// When they were read, min since loading.
    pub minutes: Vec<f64>,
    n: usize,
    /// By minute, reading, loaf.
    values: Vec<f64>,
}

/// What is read off a loaf in the oven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoafReading {
    /// Core, °C.
    Core,
    /// Weight lost, % of the dough.
    Loss,
    /// Crust as measured, mm.
    Crust,
    /// Lightness L* of the top.
    Lightness,
    /// Lightness L* of the base.
    BaseLightness,
}

/// Number of readings of a loaf.
const LOAF_READINGS: usize = LoafReading::BaseLightness as usize + 1;

impl Baking {
    /// One reading of every loaf, in order.
    pub fn at(&self, minute: usize, reading: LoafReading) -> &[f64] {
        let from = (minute * LOAF_READINGS + reading as usize) * self.n;
        &self.values[from..from + self.n]
    }
}

impl<L: Lanes> Glance<L> {
    /// In the order of [`LoafReading`].
    fn lane(&self, i: usize) -> [f64; LOAF_READINGS] {
        [self.core, self.loss, self.crust_mm, self.lightness, self.base_lightness]
            .map(|x| x.lane(i))
    }
}

/// Pieces of dough as they go into the oven, all alike but for water and temperatures.
#[derive(Debug, Clone, PartialEq, Default)]
struct Loaded {
    mass: Grams,
    /// Shares of the volume, core to skin.
    shares: Vec<f64>,
    /// By dough: water over mass, then the temperatures of those shares, °C.
    each: Vec<f64>,
}

impl Loaded {
    fn of(&self, dough: usize) -> &[f64] {
        let wide = 1 + self.shares.len();
        &self.each[dough * wide..][..wide]
    }
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

    fn bake<L: Lanes>(
        &self,
        loaded: &Loaded,
        which: &[usize],
        room: f64,
        draw: &Draw<L>,
        every: Option<u32>,
    ) -> (Baked<L>, Vec<Glance<L>>) {
        let of = |k: usize| L::from_fn(|i| loaded.of(which[i.min(which.len() - 1)])[k]);
        let water = of(0);
        let shares = loaded.shares.iter().enumerate();
        let profile: Vec<(L, L)> = shares.map(|(k, s)| (of(k + 1), L::splat(*s))).collect();
        let measures =
            Measures::of(loaded.mass, self.shape, self.density_kg_m3, self.tin.is_some());
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
            every: every.filter(|_| !self.by_cue),
        })
    }

    /// Minutes between readings of loaves over time: one, and as many as keep them to this many.
    fn every(&self) -> u32 {
        const MOST: f64 = 120.0;
        libm::ceil(self.programme.minutes().0 / MOST).clamp(1.0, 1440.0) as u32
    }
}

/// A change to try: another guide, another levain.
#[derive(Clone, Copy)]
pub struct Try<'g> {
    /// How it is followed.
    pub guide: &'g Guide,
    /// The levain in the dough by what was drawn, a factor; as written without.
    pub levain: Option<&'g (dyn Fn(&Draw) -> f64 + Sync)>,
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
        let draws: Vec<Draw> = (0..n).into_par_iter().map(&draw).collect();
        let mut doughs = self.doughs(&draws)?;
        if let Some(oven) = self.oven {
            let (which, every) = ((0..n).collect::<Vec<_>>(), self.every.map(|_| oven.every()));
            (doughs.baked, doughs.baking) = self.bake_seen(oven, &doughs, &draws, &which, every);
        }
        Ok(doughs)
    }

    /// Doughs up to the oven, each in a kitchen of its own.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn doughs(&self, draws: &[Draw]) -> Result<Doughs, RunError> {
        let mut all = self.width.run(Batch { of: self, draws })?;
        Ok(all.pop().unwrap_or_default())
    }

    /// As [`doughs`](Self::doughs) for each of several tries, in order.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn doughs_of_each(&self, draws: &[Draw]) -> Result<Vec<Doughs>, RunError> {
        self.width.run(Batch { of: self, draws })
    }

    /// Bakes those of the doughs, in their order.
    pub fn bake(
        &self,
        oven: &Oven,
        doughs: &Doughs,
        draws: &[Draw],
        which: &[usize],
    ) -> Vec<Baked> {
        self.bake_seen(oven, doughs, draws, which, None).0
    }

    fn bake_seen(
        &self,
        oven: &Oven,
        doughs: &Doughs,
        draws: &[Draw],
        which: &[usize],
        every: Option<u32>,
    ) -> (Vec<Baked>, Baking) {
        if doughs.loaded.each.is_empty() {
            return Default::default();
        }
        self.width.run(Batches { of: self, oven, doughs, draws, which, every })
    }
}

/// Places of 0..n in the order of a key. Lanes alike wait less for each other; what comes out of
/// them is the same in any order.
fn in_order_of(n: usize, key: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| key(*a).total_cmp(&key(*b)));
    order
}

/// About how fast a dough ripens: which lanes come to a cue together.
fn pace(d: &Draw) -> f64 {
    let cells = libm::log(d.yeast_vigour) + 0.32 * libm::log(d.starter_ripeness);
    cells + 0.35 * libm::log(d.lab_vigour) - 0.26 * d.starter_lag + 0.115 * d.room
}

/// About how fast a loaf bakes and colours.
fn heat(d: &Draw) -> f64 {
    libm::log(d.oven_transfer) + d.oven_knob / 60.0 + 0.3 * libm::log(d.browning)
}

struct Batch<'b> {
    of: &'b Ensemble<'b>,
    draws: &'b [Draw],
}

/// What became of the doughs of a register.
struct Register<L> {
    read: Vec<(Moment, Read<L>)>,
    loaded: Option<Ready<L>>,
}

/// Pieces at their loading.
struct Ready<L> {
    mass: Grams,
    water: L,
    profile: Vec<(L, f64)>,
}

impl<L: Lanes> Ready<L> {
    fn of(lump: &Lump<L>) -> Self {
        Self {
            mass: lump.body.mass(),
            water: lump.dough.composition.total_water,
            profile: lump.body.profile_deg_c().collect(),
        }
    }
}

impl Job for Batch<'_> {
    type Out = Result<Vec<Doughs>, RunError>;

    fn run<L: Lanes>(self) -> Self::Out {
        let n = self.draws.len();
        let order = in_order_of(n, |i| pace(&self.draws[i]));
        let told: Vec<Vec<Register<L>>> = order
            .par_chunks(L::N)
            .map(|some| {
                // the last register is filled up with its last dough
                let draw = Draw::gather(|i| self.draws[some[i.min(some.len() - 1)]]);
                one_register::<L>(self.of, &draw)
            })
            .collect::<Result<_, _>>()?;
        let tries = told.first().map_or(0, Vec::len);
        let gathered = |k: usize| {
            let registers: Vec<(&[usize], &Register<L>)> =
                order.chunks(L::N).zip(told.iter().map(|t| &t[k])).collect();
            gather(n, &registers)
        };
        Ok((0..tries).map(gathered).collect())
    }
}

/// Doughs by their places from registers of them.
fn gather<L: Lanes>(n: usize, registers: &[(&[usize], &Register<L>)]) -> Doughs {
    let Some((_, first)) = registers.first() else { return Doughs::default() };
    let moments: Vec<Moment> = first.read.iter().map(|(m, _)| *m).collect();
    let mut loaded = Loaded::default();
    if let Some(ready) = &first.loaded {
        loaded.mass = ready.mass;
        loaded.shares = ready.profile.iter().map(|(_, share)| *share).collect();
        loaded.each = vec![0.0; n * (1 + ready.profile.len())];
    }
    let mut values = vec![0.0; moments.len() * READINGS * n];
    for (places, register) in registers {
        for (m, (_, read)) in register.read.iter().enumerate() {
            for (i, place) in places.iter().enumerate() {
                for (q, x) in read.lane(i).into_iter().enumerate() {
                    values[(m * READINGS + q) * n + place] = x;
                }
            }
        }
        let Some(ready) = &register.loaded else { continue };
        let wide = 1 + ready.profile.len();
        for (i, place) in places.iter().enumerate() {
            let temperatures = ready.profile.iter().map(|(t, _)| t);
            let parts = std::iter::once(&ready.water).chain(temperatures);
            for (to, part) in loaded.each[place * wide..][..wide].iter_mut().zip(parts) {
                *to = part.lane(i);
            }
        }
    }
    Doughs { n, moments, values, loaded, ..Doughs::default() }
}

/// Some doughs on their way into the oven.
struct Batches<'b> {
    of: &'b Ensemble<'b>,
    oven: &'b Oven,
    doughs: &'b Doughs,
    draws: &'b [Draw],
    which: &'b [usize],
    every: Option<u32>,
}

impl Job for Batches<'_> {
    type Out = (Vec<Baked>, Baking);

    fn run<L: Lanes>(self) -> Self::Out {
        // the room while it bakes is taken as the one at the start
        let room = self.of.setting.room_at(0.0).0;
        let order = in_order_of(self.which.len(), |k| heat(&self.draws[self.which[k]]));
        let baked: Vec<(Baked<L>, Vec<Glance<L>>)> = order
            .par_chunks(L::N)
            .map(|some| {
                let places: Vec<usize> = some.iter().map(|k| self.which[*k]).collect();
                let draw = Draw::gather(|i| self.draws[places[i.min(places.len() - 1)]]);
                self.oven.bake(&self.doughs.loaded, &places, room, &draw, self.every)
            })
            .collect();
        let n = order.len();
        let minutes: Vec<f64> =
            baked.first().map_or(Vec::new(), |(_, seen)| seen.iter().map(|g| g.minute).collect());
        let mut values = vec![0.0; minutes.len() * LOAF_READINGS * n];
        let mut out: Vec<(usize, Baked)> = Vec::with_capacity(n);
        for (some, (baked, seen)) in order.chunks(L::N).zip(&baked) {
            out.extend(some.iter().enumerate().map(|(i, k)| (*k, baked.lane(i))));
            for (m, glance) in seen.iter().enumerate() {
                for (i, k) in some.iter().enumerate() {
                    for (q, x) in glance.lane(i).into_iter().enumerate() {
                        values[(m * LOAF_READINGS + q) * n + k] = x;
                    }
                }
            }
        }
        out.sort_unstable_by_key(|(k, _)| *k);
        let baked = out.into_iter().map(|(_, baked)| baked).collect();
        (baked, Baking { minutes, n, values })
    }
}

fn one_register<L: Lanes>(of: &Ensemble<'_>, draw: &Draw<L>) -> Result<Vec<Register<L>>, RunError> {
    let setting = of.setting;
    let done =
        |read, dough: Option<Lump<L>>| Register { read, loaded: dough.as_ref().map(Ready::of) };
    let one;
    let (path, tries, start) = match of.follow {
        Follow::Clock(schedule) => {
            let walker = |line| Clock { schedule, line, every: of.every, told: Vec::new() };
            let (walkers, dough) = setting.walk_all(schedule.path, draw, walker)?;
            return Ok(vec![done(walkers.into_iter().flat_map(|w| w.told).collect(), dough)]);
        }
        Follow::Guide(path, guide, start) => {
            one = [Try { guide, levain: None }];
            (path, &one[..], start)
        }
        Follow::Tries(path, tries, start) => (path, tries, start),
    };
    let tell = |t: Told<'_, L>| {
        let as_read = t.as_read.unwrap_or_default();
        Some((t.step, Read::of(t.from, as_read, t.to, t.lump?)))
    };
    let start = L::splat(start);
    let mut all = Vec::with_capacity(tries.len());
    // tries that differ only in the dough share the preferments
    let mut before: Option<(&Guide, Ripe<L, _>)> = None;
    for change in tries {
        let guide = change.guide;
        let ripe = match before {
            Some((g, ripe)) if setting.ripen_alike(path, g, guide) => ripe,
            _ => setting.ripen_lanes(path, guide, start, draw, &tell)?,
        };
        let mut draw = *draw;
        if let Some(levain) = change.levain {
            draw.inoculation = L::from_fn(|i| levain(&draw.lane(i)));
        }
        let (told, dough) = setting.make_lanes(path, guide, &ripe, &draw, &tell)?;
        let at = |line, step| Moment { line, step, within: None };
        let lines = ripe.told.iter().chain(std::iter::once(&told)).enumerate();
        let read = lines.flat_map(|(line, told)| {
            told.iter().flatten().map(move |(step, read)| (at(line, *step), *read))
        });
        all.push(done(read.collect(), dough));
        before = Some((guide, ripe));
    }
    Ok(all)
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
