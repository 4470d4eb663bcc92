//! From the dough at loading to the baked loaf.

use super::{Lump, RunError, Schedule, Setting};
use crate::bake::{BakeTrace, Loaf, Programme, Resolution, bake};
use crate::hearth::{Door, Hearth, Oven, Stage, Steam};
use crate::layout::{Layout, baked_density_g_per_ml, loads};
use crate::method::{Path, Place, Verb};
use crate::recipe::PieceShape;
use crate::warmth::Shape;
use quantity::{Celsius, Millimetres, Minutes, TempRise};

/// A loaf in this kitchen's oven: everything a bake needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The loaf as it is loaded.
    pub loaf: Loaf,
    /// The oven.
    pub oven: Oven,
    /// Set points, steam, hearth.
    pub programme: Programme,
}

impl Loaded {
    /// The same with another length: the last stage takes up the difference, and what it cannot,
    /// the stage before.
    #[must_use]
    pub fn for_minutes(mut self, minutes: Minutes) -> Self {
        let mut more = (minutes - self.programme.minutes()).0;
        for s in self.programme.stages.iter_mut().rev() {
            let new = (s.minutes.0 + more).max(0.0);
            more -= new - s.minutes.0;
            s.minutes = Minutes(new);
        }
        self
    }

    /// Bakes it.
    pub fn bake(&self, resolution: Resolution) -> BakeTrace {
        bake(&self.loaf, &self.oven, &self.programme, resolution)
    }
}

/// How the pieces of a batch meet the hearth.
#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    /// Pieces in the batch.
    pub pieces: u32,
    /// One load, seen from above.
    pub layout: Layout,
    /// Loads; none when not one piece fits.
    pub loads: Option<u32>,
    /// Hearth, left to right.
    pub width: Millimetres,
    /// Hearth, front to back.
    pub depth: Millimetres,
}

/// Set points and a time for core and colour both.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// The programme.
    pub programme: Programme,
    /// All set points moved by this; never up.
    pub moved: TempRise,
    /// When the core is done.
    pub core: Minutes,
    /// What the written programme comes to.
    pub written: BakeTrace,
    /// What this one comes to.
    pub trace: BakeTrace,
    /// Darker than asked even at the lowest set points tried.
    pub too_dark: bool,
}

impl Setting<'_> {
    /// The first load's loaf at loading, in this oven, with the recipe's programme; none when the
    /// schedule never loads.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn loaded(&self, schedule: &Schedule) -> Result<Option<Loaded>, RunError> {
        let method = &self.recipe.method;
        let Some(load) =
            schedule.spans.iter().find(|s| method.steps[s.step].verb == Verb::Load).copied()
        else {
            return Ok(None);
        };
        // a moment before the oven door opens
        let lump = self.dough_at(schedule, load.from - 1e-6)?;
        Ok(lump.map(|l| self.loaded_as(&l, schedule.path, 1, load.from)))
    }

    /// A piece of dough as it goes into the oven, as part of a load counted from 1.
    pub fn loaded_as(&self, lump: &Lump, path: Path, load: u32, at_min: f64) -> Loaded {
        let y = &self.recipe.yields;
        let water = lump.dough.composition.total_water;
        let loaf = Loaf {
            mass: lump.body.mass(),
            shape: self.baked_shape(),
            density_kg_m3: 1000.0 * baked_density_g_per_ml(y.shape),
            water_per_solids: water / (1.0 - water).max(1e-3),
            profile: lump.body.profile().collect(),
            tin: (y.shape == PieceShape::Pan).then(|| self.kitchen.tin.tin()),
        };
        let programme = self.programme(path, load);
        // the loaf sees the fan step by step; walls, hearth and pot have it when it never stops
        let fan = programme.stages.iter().all(|s| s.fan || s.set_point.is_none())
            && programme.stages.iter().any(|s| s.fan);
        let room = self.room_at(at_min);
        let oven = self.kitchen.oven.oven(room, self.kitchen.altitude, fan);
        Loaded { loaf, oven, programme }
    }

    /// A baked piece's shape.
    pub(crate) fn baked_shape(&self) -> Shape {
        let y = &self.recipe.yields;
        let (length, width) = y.footprint();
        match y.shape {
            PieceShape::Batard | PieceShape::Baguette => Shape::Log { length },
            PieceShape::Boule | PieceShape::Roll => Shape::Boule { width },
            PieceShape::Pan => Shape::Tin { length, width },
        }
    }

    /// What the knob stands at when the first bread goes in: the preheat's, else the first bake's.
    pub fn loading_knob(&self, path: Path) -> Celsius {
        let method = &self.recipe.method;
        let preheat = method.preheat(path).and_then(|i| method.steps[i].temperature);
        let bakes = method.main_line(path).into_iter().map(|i| &method.steps[i]);
        let first = bakes.filter(|s| s.verb == Verb::Bake).find_map(|s| s.temperature);
        preheat.or(first).unwrap_or(Celsius(230.0))
    }

    /// The steps of one load, counted from 1, from the load on; the first load's when the recipe
    /// does not go on to that one.
    pub fn oven_steps(&self, path: Path, load: u32) -> Vec<usize> {
        let steps = &self.recipe.method.steps;
        let line = self.recipe.method.main_line(path);
        let from = line.iter().position(|&i| steps[i].verb == Verb::Load).unwrap_or(line.len());
        let loads: Vec<&[usize]> = line[from..].split(|&i| steps[i].verb == Verb::Reheat).collect();
        let one = loads.get(load.max(1) as usize - 1).or(loads.first());
        one.map_or(Vec::new(), |l| l.to_vec())
    }

    /// The recipe's oven steps of one load, counted from 1, as a programme for this kitchen.
    pub fn programme(&self, path: Path, load: u32) -> Programme {
        let method = &self.recipe.method;
        let kept = &self.kitchen.oven;
        let mut stages: Vec<Stage> = Vec::new();
        let loading = self.loading_knob(path);
        let mut knob = loading;
        let mut now = Stage { fan: kept.fan, ..Stage::at(loading, Minutes(0.0)) };
        let mut paper = false;
        for i in self.oven_steps(path, load) {
            let step = &method.steps[i];
            let minutes = super::usual(step);
            match step.verb {
                Verb::Load => paper = step.liner.is_some(),
                Verb::Bake => {
                    let off = step.place == Place::OvenOff;
                    knob = step.temperature.unwrap_or(knob);
                    // switched off, the bread dries behind a door left ajar
                    let usual_door = if off { Door::Ajar } else { Door::Shut };
                    now = Stage {
                        set_point: (!off).then_some(knob),
                        door: step.door.unwrap_or(usual_door),
                        lid: step.lid,
                        fan: step.fan.unwrap_or(kept.fan && !off),
                        ..now
                    };
                    let steam = if step.steam { kept.steam() } else { Steam::None };
                    stages.push(Stage { minutes, steam, ..now });
                }
                Verb::Vent | Verb::Turn => {
                    if step.verb == Verb::Vent {
                        now.vent = true;
                        now.lid = false;
                    }
                    stages.push(Stage { minutes, door: Door::Opened, ..now });
                }
                _ => {}
            }
        }
        let oven = self.kitchen.oven.oven(Celsius(20.0), self.kitchen.altitude, kept.fan);
        let heated = kept.log.points.first().map_or(oven.truly(loading), |p| p.1);
        let room = self.room_at(0.0);
        let pan = self.recipe.yields.shape == PieceShape::Pan;
        let hearth = match self.kitchen.hearth {
            Some(h) if !pan => h.hearth(heated, room),
            _ => Hearth::Grid,
        };
        let lidded = stages.iter().any(|s| s.lid);
        let pot = self.kitchen.pot.filter(|_| lidded).map(|p| p.pot(heated, room));
        Programme {
            hearth,
            pot,
            paper,
            logged: kept.log.points.clone(),
            done_when: self.recipe.done_when,
            ..Programme::of(stages)
        }
    }

    /// How this batch lies on the hearth; none without one.
    pub fn loads(&self) -> Option<Loads> {
        let h = self.kitchen.hearth?;
        let pieces = self.pieces();
        let layout = Layout::of(self.recipe.yields.footprint(), h.width, h.depth);
        let loads = loads(pieces, layout.places.len() as u32);
        Some(Loads { pieces, layout, loads, width: h.width, depth: h.depth })
    }
}

/// Farthest the set points are lowered, K.
const LOWER_MAX: f64 = 60.0;

impl Loaded {
    /// A bake that ends with the core done and the crust at a lightness L*.
    ///
    /// A thick loaf browns before its core is done: all set points are lowered together until
    /// the two meet. A thin one is done inside before it has colour: it stays in, at the set
    /// points written, until it has. None when the core is never done.
    pub fn suggest(&self, lightness: f64) -> Option<Suggestion> {
        let low = self.oven.range.0;
        let at = |lowered: f64, resolution| {
            let mut one = self.clone();
            for s in &mut one.programme.stages {
                if let Some(t) = s.set_point.as_mut() {
                    *t = (*t - TempRise(lowered)).max(low.min(*t));
                }
            }
            // room to finish, however long it takes
            if let Some(last) = one.programme.stages.last_mut() {
                last.minutes = last.minutes * 2.0 + Minutes(30.0);
            }
            let trace = one.bake(resolution);
            (one, trace)
        };
        let core_done = |t: &BakeTrace| t.done.core_target.and_then(|c| t.core_reaches(c));
        // how much too light when the core is done; heat darkens faster than it cooks
        let too_light = |lowered: f64| {
            let (_, trace) = at(lowered, Resolution::Preview);
            let core = core_done(&trace)?;
            Some(trace.at(core)?.lightness - lightness)
        };
        let mut lowered = 0.0;
        let mut too_dark = false;
        if too_light(0.0)? < 0.0 {
            // what a cooler oven no longer bakes through counts as light enough
            let light = |x: f64| too_light(x).is_none_or(|l| l >= 0.0);
            let (mut lo, mut hi) = (0.0, LOWER_MAX);
            too_dark = !light(hi);
            while hi - lo > 1.0 && !too_dark {
                let mid = f64::midpoint(lo, hi);
                if light(mid) { hi = mid } else { lo = mid }
            }
            // knobs are marked in fives; a step back when the core would not be done
            lowered = 5.0 * libm::round(hi / 5.0);
            while lowered > 0.0 && too_light(lowered).is_none() {
                lowered -= 5.0;
            }
        }
        let (mut best, trace) = at(lowered, Resolution::Publish);
        let core = core_done(&trace)?;
        let coloured = trace.minutes.iter().find(|s| s.lightness <= lightness).map(|s| s.minute);
        let end = coloured.map_or(core, |c| core.max(c)).0.ceil();
        let mut left = end;
        for s in &mut best.programme.stages {
            s.minutes = s.minutes.min(Minutes(left.max(0.0)));
            left -= s.minutes.0;
        }
        best.programme.stages.retain(|s| s.minutes.0 > 0.0);
        let trace = best.bake(Resolution::Publish);
        Some(Suggestion {
            programme: best.programme,
            moved: TempRise(-lowered),
            core,
            written: self.bake(Resolution::Publish),
            trace,
            too_dark,
        })
    }
}
