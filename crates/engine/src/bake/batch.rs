//! Many loaves side by side in one kind of oven: what an ensemble asks of the bake.
//!
//! The programme, the kind of oven and the numbers of the bread are shared, and the drying table
//! is made once. Loaves differ in mass, shape, moisture and temperature, ovens in how far they lie
//! and how much heat they give. Each lane has the bits it has alone.

use super::{
    BakeParameters, Loaf, Measures, Programme, Resolution, Scene, drying::Drying, sound, walk,
};
use crate::hearth::{Oven, OvenLanes, Tin};
use crate::numerics::lanes::{Job, Kernel, Lanes, Mask, Width, exp};
use quantity::{Celsius, Kilopascal, Minutes, TempRise};

/// What loaves of a batch share: the kind of oven, the numbers of the bread, the drying table.
#[derive(Debug, Clone)]
pub(crate) struct Kitchen {
    pub(super) oven: Oven,
    pub(super) parameters: BakeParameters,
    pub(super) drying: Drying,
}

impl Kitchen {
    /// Made once for an oven, a pressure and a set of numbers.
    pub(crate) fn new(oven: &Oven, parameters: &BakeParameters) -> Self {
        let oven = oven.sound();
        Self { oven, parameters: parameters.sound(), drying: Drying::new(oven.pressure) }
    }

    /// Pressure of the room.
    pub(crate) fn pressure(&self) -> Kilopascal {
        self.oven.pressure
    }

    /// True minus shown of the oven, K.
    pub(crate) fn knob_error(&self) -> f64 {
        self.oven.knob_error.0
    }
}

/// A loaf in each lane as it goes into the oven.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LoafLanes<'a, L> {
    /// Mass, shape and density.
    pub(crate) measures: Measures<L>,
    /// Water per dry solids, kg/kg, 0.05 to 3.
    pub(crate) water_per_solids: L,
    /// Temperatures from core to skin, °C, with their shares of the volume.
    pub(crate) profile: &'a [(L, L)],
    /// Tin, if they bake in one.
    pub(crate) tin: Option<Tin>,
    /// Conductivity of the crumb over that of the parameters.
    pub(crate) conductivity: L,
    /// Speed of browning over that of the parameters.
    pub(crate) browning: L,
}

/// When the baker takes the bread out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pull<L = f64> {
    /// By the clock: at the end of the programme.
    AtEnd,
    /// When it is done; the programme's last stage goes on until then.
    WhenDone {
        /// The core is at least this hot, °C.
        core: L,
        /// The top is at most this light, L*.
        lightness: Option<L>,
        /// By then at the latest, since loading.
        latest: Minutes,
    },
}

/// Bread as it comes out of the oven, or one in each lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Baked<L = f64> {
    /// In the oven, min.
    pub minutes: L,
    /// Core as it came out, °C.
    pub core: L,
    /// When the core reached what was waited for, min; NaN where it did not.
    pub core_reached: L,
    /// Weight lost, % of the dough.
    pub loss: L,
    /// Lightness L* of the top.
    pub lightness: L,
    /// Lightness L* of the base.
    pub base_lightness: L,
    /// Crust as measured, mm.
    pub crust_mm: L,
    /// Share of the core's starch that has set.
    pub starch: L,
    /// Highest core, °C.
    pub highest_core: L,
}

/// Bread in the oven at a minute, or one in each lane.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Glance<L> {
    /// Since loading.
    pub(crate) minute: f64,
    /// Core, °C.
    pub(crate) core: L,
    /// Weight lost, % of the dough.
    pub(crate) loss: L,
    /// Crust as measured, mm.
    pub(crate) crust_mm: L,
    /// Lightness L* of the top.
    pub(crate) lightness: L,
    /// Lightness L* of the base.
    pub(crate) base_lightness: L,
}

/// Who looks on while loaves bake.
pub(super) trait Watch<const N: usize, L: Lanes> {
    /// Before a step, `t` seconds after loading.
    fn before(&mut self, t: f64, scene: &Scene<'_, N, L>);
    /// After it; true ends the bake.
    fn after(&mut self, t: f64, scene: &Scene<'_, N, L>) -> bool;
}

/// What is baked in the lanes, how, and until when.
#[derive(Clone, Copy)]
pub(crate) struct Bake<'a, L> {
    pub(crate) kitchen: &'a Kitchen,
    pub(crate) ovens: &'a OvenLanes<L>,
    pub(crate) loaves: &'a LoafLanes<'a, L>,
    pub(crate) programme: &'a Programme,
    pub(crate) resolution: Resolution,
    pub(crate) pull: Pull<L>,
    /// Glances every so many whole minutes and at the end; for bread that comes out by the clock.
    pub(crate) every: Option<u32>,
}

/// Bakes a loaf in each lane; with it the glances asked for.
pub(crate) fn bake_lanes<L: Lanes>(bake: Bake<'_, L>) -> (Baked<L>, Vec<Glance<L>>) {
    match bake.resolution.cells() {
        0..=12 => run::<12, L>(bake),
        13..=20 => run::<20, L>(bake),
        _ => run::<40, L>(bake),
    }
}

fn run<const N: usize, L: Lanes>(bake: Bake<'_, L>) -> (Baked<L>, Vec<Glance<L>>) {
    L::compute(Cells::<N, L>(bake))
}

/// A bake in so many cells, compiled for the register.
struct Cells<'a, const N: usize, L: Lanes>(Bake<'a, L>);

impl<const N: usize, L: Lanes> Kernel for Cells<'_, N, L> {
    type Out = (Baked<L>, Vec<Glance<L>>);

    #[inline(always)]
    fn compute(self) -> Self::Out {
        let Bake { kitchen, ovens, loaves, programme, resolution, pull, every } = self.0;
        let minutes = match pull {
            Pull::AtEnd => programme.minutes().0,
            Pull::WhenDone { latest, .. } => sound(latest.0, 0.0, 2880.0, 0.0),
        };
        let mut scene = Scene::<N, L>::new(kitchen, ovens, loaves, programme, resolution);
        let mut baker = Baker::new(kitchen, programme, pull, 60.0 * minutes, &scene);
        if let Some(every) = every {
            baker.every_s = 60.0 * f64::from(every.max(1));
            baker.seen.reserve((minutes / f64::from(every.max(1))) as usize + 2);
            baker.glance(0.0, &scene);
        }
        walk(&mut scene, programme, resolution, 60.0 * minutes, &mut baker);
        (baker.baked, baker.seen)
    }
}

/// What a baker sees of a loaf.
#[derive(Clone, Copy)]
struct Look<L> {
    minutes: L,
    core: L,
    loss: L,
    lightness: L,
    base_lightness: L,
    starch: L,
}

impl<L: Lanes> Look<L> {
    #[inline(always)]
    fn at<const N: usize>(t: f64, scene: &Scene<'_, N, L>) -> Self {
        Self {
            minutes: L::splat(t / 60.0),
            core: scene.whole.t[0],
            loss: scene.whole.loss(),
            lightness: scene.colour.lightness,
            base_lightness: scene.base_colour.lightness,
            starch: scene.starch,
        }
    }

    /// A part `x` of the way to `then`.
    #[inline(always)]
    fn mix(&self, then: &Self, x: L) -> Self {
        Self {
            minutes: self.minutes + x * (then.minutes - self.minutes),
            core: self.core + x * (then.core - self.core),
            loss: self.loss + x * (then.loss - self.loss),
            lightness: self.lightness + x * (then.lightness - self.lightness),
            base_lightness: self.base_lightness + x * (then.base_lightness - self.base_lightness),
            starch: self.starch + x * (then.starch - self.starch),
        }
    }
}

/// Who takes the bread out.
struct Baker<L: Lanes> {
    pull: Pull<L>,
    target: L,
    length_s: f64,
    /// Lanes still in the oven.
    inside: L::Mask,
    before: Look<L>,
    baked: Baked<L>,
    /// Between glances; infinite without.
    every_s: f64,
    seen: Vec<Glance<L>>,
}

impl<L: Lanes> Baker<L> {
    #[inline(always)]
    fn new<const N: usize>(
        kitchen: &Kitchen,
        programme: &Programme,
        pull: Pull<L>,
        length_s: f64,
        scene: &Scene<'_, N, L>,
    ) -> Self {
        let target = match pull {
            Pull::AtEnd => {
                let core = programme.done_when.core_at(kitchen.oven.pressure);
                L::splat(core.map_or(f64::NAN, |c| c.0))
            }
            Pull::WhenDone { core, .. } => core,
        };
        let before = Look::at(0.0, scene);
        let zero = L::splat(0.0);
        let mut baker = Self {
            pull,
            target,
            length_s,
            inside: L::Mask::splat(true),
            before,
            baked: Baked {
                minutes: zero,
                core: zero,
                core_reached: L::splat(f64::NAN),
                loss: zero,
                lightness: zero,
                base_lightness: zero,
                crust_mm: zero,
                starch: zero,
                highest_core: before.core,
            },
            every_s: f64::INFINITY,
            seen: Vec::new(),
        };
        // for a programme without steps
        baker.take_out(baker.inside, zero, &before, zero);
        baker
    }

    #[inline(always)]
    fn glance<const N: usize>(&mut self, t: f64, scene: &Scene<'_, N, L>) {
        let now = Look::at(t, scene);
        self.seen.push(Glance {
            minute: t / 60.0,
            core: now.core,
            loss: now.loss * 100.0,
            crust_mm: crust_mm(scene.top.dry_zone()),
            lightness: now.lightness,
            base_lightness: now.base_lightness,
        });
    }

    /// Takes lanes out of the oven a part `x` of the last step on; the crust is that of its end.
    #[inline(always)]
    fn take_out(&mut self, lanes: L::Mask, x: L, now: &Look<L>, dry_zone: L) {
        let at = self.before.mix(now, x);
        let starch = L::splat(1.0) - exp(-at.starch);
        let crust_mm = crust_mm(dry_zone);
        let out = &mut self.baked;
        for (out, value) in [
            (&mut out.minutes, at.minutes),
            (&mut out.core, at.core),
            (&mut out.loss, at.loss * 100.0),
            (&mut out.lightness, at.lightness),
            (&mut out.base_lightness, at.base_lightness),
            (&mut out.crust_mm, crust_mm),
            (&mut out.starch, starch),
        ] {
            *out = L::select(lanes, value, *out);
        }
    }
}

impl<const N: usize, L: Lanes> Watch<N, L> for Baker<L> {
    #[inline(always)]
    fn before(&mut self, _: f64, _: &Scene<'_, N, L>) {}

    #[inline(always)]
    fn after(&mut self, t: f64, scene: &Scene<'_, N, L>) -> bool {
        let (before, now) = (self.before, Look::at(t, scene));
        // which part of the step went by before the core and the colour were there
        let hot = self.target.upto(now.core);
        let core_x = part(before.core, now.core, self.target);
        let minutes = core_x * (now.minutes - before.minutes) + before.minutes;
        let known = self.baked.core_reached.same(self.baked.core_reached);
        let first = self.inside & hot & !known;
        self.baked.core_reached = L::select(first, minutes, self.baked.core_reached);

        let (mut done, mut x) = (L::Mask::splat(false), L::splat(1.0));
        if let Pull::WhenDone { lightness, .. } = self.pull {
            (done, x) = (hot, core_x);
            if let Some(light) = lightness {
                done = done & now.lightness.upto(light);
                x = x.larger(part(before.lightness, now.lightness, light));
            }
        }
        if t >= self.length_s - 1e-9 {
            x = L::select(done, x, L::splat(1.0));
            done = L::Mask::splat(true);
        }
        let out = self.inside & done;
        x = L::select(out, x, L::splat(1.0));
        let core = before.core + x * (now.core - before.core);
        let highest = self.baked.highest_core.larger(core);
        self.baked.highest_core = L::select(self.inside, highest, self.baked.highest_core);
        if out.any() {
            self.take_out(out, x, &now, scene.top.dry_zone());
            self.inside = self.inside & !out;
        }
        self.before = now;
        let due = f64::min(self.seen.len() as f64 * self.every_s, self.length_s);
        if self.every_s.is_finite() && t >= due - 1e-6 {
            self.glance(t, scene);
        }
        !self.inside.any()
    }
}

/// As `crust_thickness`, of what has dried in m: half of it, mm.
#[inline(always)]
fn crust_mm<L: Lanes>(dry_zone: L) -> L {
    dry_zone * 500.0
}

/// Where between `a` and `b` a level lies, 0 to 1.
#[inline(always)]
fn part<L: Lanes>(a: L, b: L, level: L) -> L {
    let between = a.below(level) & b.above(a) | a.above(level) & b.below(a);
    let part = ((level - a) / (b - a)).within(0.0, 1.0);
    L::select(between, part, L::splat(0.0))
}

/// A loaf of a batch and how its oven differs from the one given.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// As it goes in.
    pub loaf: Loaf,
    /// True minus shown of its oven.
    pub knob_error: TempRise,
    /// Heat transfer of its oven over that of the one given.
    pub transfer: f64,
    /// Its room.
    pub room: Celsius,
    /// Conductivity of its crumb over that of the parameters.
    pub conductivity: f64,
    /// Speed of browning over that of the parameters.
    pub browning: f64,
}

impl Piece {
    /// A loaf in the oven given.
    pub fn of(loaf: Loaf, oven: &Oven) -> Self {
        let (knob_error, room) = (oven.knob_error, oven.room);
        Self { loaf, knob_error, transfer: 1.0, room, conductivity: 1.0, browning: 1.0 }
    }
}

/// Bakes many loaves, each as if alone; as many side by side as `width` says.
///
/// All are in a tin like the first's, or none is. Of the finer resolutions 12, 20 and 40 cells
/// are at hand. The result does not depend on `width`.
pub fn bake_many(
    pieces: &[Piece],
    oven: &Oven,
    programme: &Programme,
    resolution: Resolution,
    parameters: &BakeParameters,
    pull: Pull,
    width: Width,
) -> Vec<Baked> {
    let kitchen = Kitchen::new(oven, parameters);
    width.run(Many { pieces, kitchen: &kitchen, programme, resolution, pull })
}

struct Many<'a> {
    pieces: &'a [Piece],
    kitchen: &'a Kitchen,
    programme: &'a Programme,
    resolution: Resolution,
    pull: Pull,
}

impl Job for Many<'_> {
    type Out = Vec<Baked>;

    fn run<L: Lanes>(self) -> Vec<Baked> {
        let tin = self.pieces.first().and_then(|p| p.loaf.tin);
        let pull = match self.pull {
            Pull::AtEnd => Pull::AtEnd,
            Pull::WhenDone { core, lightness, latest } => {
                Pull::WhenDone { core: L::splat(core), lightness: lightness.map(L::splat), latest }
            }
        };
        let mut all = Vec::with_capacity(self.pieces.len());
        for some in self.pieces.chunks(L::N) {
            // lanes that are left over bake the last loaf again
            let piece = |i: usize| &some[i.min(some.len() - 1)];
            let of = |f: fn(&Piece) -> f64| L::from_fn(|i| f(piece(i)));
            let points = some.iter().map(|p| p.loaf.profile.len()).max().unwrap_or(0);
            let point = |i: usize, k: usize| match piece(i).loaf.profile.get(k) {
                Some((t, share)) => (t.0, *share),
                None => (f64::NAN, 0.0),
            };
            let profile: Vec<_> = (0..points)
                .map(|k| (L::from_fn(|i| point(i, k).0), L::from_fn(|i| point(i, k).1)))
                .collect();
            let factor = |x: f64| sound(x, 0.05, 20.0, 1.0);
            let loaves = LoafLanes {
                measures: Measures::side_by_side(|i| {
                    let loaf = &piece(i).loaf;
                    Measures::of(loaf.mass, loaf.shape, loaf.density_kg_m3, tin.is_some())
                }),
                water_per_solids: of(|p| p.loaf.sound_water()),
                profile: &profile,
                tin,
                conductivity: of(|p| p.conductivity).map(factor),
                browning: of(|p| p.browning).map(factor),
            };
            let ovens = OvenLanes {
                knob_error: of(|p| p.knob_error.0),
                transfer: of(|p| p.transfer),
                room: of(|p| p.room.0),
            };
            let Many { kitchen, programme, resolution, .. } = self;
            let (ovens, loaves) = (&ovens, &loaves);
            let every = None;
            let (baked, _) =
                bake_lanes(Bake { kitchen, ovens, loaves, programme, resolution, pull, every });
            all.extend((0..some.len()).map(|i| baked.lane(i)));
        }
        all
    }
}

impl<L: Lanes> Baked<L> {
    /// Of one lane.
    pub(crate) fn lane(&self, i: usize) -> Baked {
        Baked {
            minutes: self.minutes.lane(i),
            core: self.core.lane(i),
            core_reached: self.core_reached.lane(i),
            loss: self.loss.lane(i),
            lightness: self.lightness.lane(i),
            base_lightness: self.base_lightness.lane(i),
            crust_mm: self.crust_mm.lane(i),
            starch: self.starch.lane(i),
            highest_core: self.highest_core.lane(i),
        }
    }
}

#[cfg(test)]
mod tests;
