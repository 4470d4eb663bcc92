//! From the dough at loading to the baked loaf.

use super::{RunError, Schedule, Setting};
use crate::bake::{BakeTrace, Loaf, Programme, Resolution, bake};
use crate::hearth::{Door, Hearth, Oven, Pot, Stage, Steam, Tin};
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
    /// The loaf at loading, in this oven, with the recipe's programme; none when the schedule
    /// never loads.
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
        let Some(lump) = self.dough_at(schedule, load.from - 1e-6)? else { return Ok(None) };
        let y = &self.recipe.yields;
        let (length, width) = y.footprint();
        let shape = match y.shape {
            PieceShape::Batard | PieceShape::Baguette => Shape::Log { length },
            PieceShape::Boule | PieceShape::Roll => Shape::Boule { width },
            PieceShape::Pan => Shape::Tin { length, width },
        };
        let water = lump.dough.composition.total_water;
        let loaf = Loaf {
            mass: lump.body.mass(),
            shape,
            density_kg_m3: 1000.0 * baked_density_g_per_ml(y.shape),
            water_per_solids: water / (1.0 - water).max(1e-3),
            profile: lump.body.profile().collect(),
            tin: (y.shape == PieceShape::Pan).then_some(Tin::DARK),
        };
        let room = self.room_at(load.from);
        let oven = self.kitchen.oven.oven(room, self.kitchen.altitude);
        Ok(Some(Loaded { loaf, oven, programme: self.programme(schedule.path) }))
    }

    /// The recipe's oven steps as a programme for this kitchen.
    pub fn programme(&self, path: Path) -> Programme {
        let method = &self.recipe.method;
        let kept = &self.kitchen.oven;
        let mut stages: Vec<Stage> = Vec::new();
        let preheat = method.preheat(path).and_then(|i| method.steps[i].temperature);
        let mut knob = preheat.unwrap_or(Celsius(230.0));
        let mut vented = false;
        for i in method.main_line(path) {
            let step = &method.steps[i];
            let minutes = super::usual(step);
            match step.verb {
                Verb::Bake => {
                    knob = step.temperature.unwrap_or(knob);
                    let steam = if step.steam { kept.steam() } else { Steam::None };
                    // switched off, the bread dries behind a door left ajar
                    let off = step.place == Place::OvenOff;
                    let base = if off { Stage::off(minutes) } else { Stage::at(knob, minutes) };
                    let door = if off { Door::Ajar } else { Door::Shut };
                    stages.push(Stage {
                        steam,
                        vent: vented,
                        door,
                        lid: step.lid,
                        fan: kept.fan && !off,
                        ..base
                    });
                }
                // later loads bake alike
                Verb::Reheat => break,
                Verb::Vent => {
                    vented = true;
                    stages.push(Stage {
                        vent: true,
                        door: Door::Opened,
                        fan: kept.fan,
                        ..Stage::at(knob, minutes)
                    });
                }
                _ => {}
            }
        }
        let pan = self.recipe.yields.shape == PieceShape::Pan;
        let hearth = match self.kitchen.hearth {
            Some(h) if !pan => Hearth::Slab(h.slab(), None),
            _ => Hearth::Grid,
        };
        let lidded = stages.iter().any(|s| s.lid);
        let pot = self.kitchen.pot.filter(|_| lidded).map(|mass| Pot { mass, ..Pot::CAST_IRON });
        Programme { hearth, pot, done_when: self.recipe.done_when, ..Programme::of(stages) }
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
