//! What comes out of a bake: the loaf at every minute, when it was done, comments.

use quantity::{Celsius, Kilopascal, Millimetres, Minutes, Percent};
use std::fmt;

/// The bread and its oven at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BakeSample {
    /// Since loading.
    pub minute: Minutes,
    /// Air of the oven, or of the covered pot.
    pub oven_air: Celsius,
    /// Walls of the oven, or of the covered pot.
    pub wall: Celsius,
    /// Vapour around the loaf.
    pub vapour: Kilopascal,
    /// Top of the hearth; none on a grid.
    pub hearth_top: Option<Celsius>,
    /// Core of the loaf.
    pub core: Celsius,
    /// Mean of the loaf.
    pub mean: Celsius,
    /// Surface on top.
    pub top_surface: Celsius,
    /// Surface below.
    pub base_surface: Celsius,
    /// Weight lost, of the dough.
    pub loss: Percent,
    /// Depth dried below W = 0.2, at the dough's own density.
    pub dry_zone: Millimetres,
    /// Crust as measured.
    pub crust: Millimetres,
    /// Lightness L* of the top, 85 raw.
    pub lightness: f64,
    /// Lightness L* of the base.
    pub base_lightness: f64,
    /// Total colour change ΔE of the top, 0 raw, 52 burnt.
    pub browning: f64,
    /// Share of the skin's starch that set under water: gloss.
    pub gloss: f64,
    /// Share of the core's starch that has set.
    pub starch: f64,
    /// Water per solids in the core, kg/kg.
    pub core_water: f64,
}

/// A place in the loaf at the end of the bake.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depth {
    /// Below the surface.
    pub below: Millimetres,
    /// Share of the loaf's solids here.
    pub share: f64,
    /// Temperature.
    pub temperature: Celsius,
    /// Water per solids, kg/kg.
    pub water: f64,
}

/// When the bread met what was asked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Done {
    /// The core temperature waited for, adjusted for altitude.
    pub core_target: Option<Celsius>,
    /// Core reached it.
    pub core: Option<Minutes>,
    /// Colour reached.
    pub lightness: Option<Minutes>,
    /// Loss reached.
    pub loss: Option<Minutes>,
    /// Everything asked for reached.
    pub all: Option<Minutes>,
}

/// What to know when reading the result.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum BakeNote {
    /// The core does not get there in the time given.
    CoreNotReached {
        /// What it reached.
        core: Celsius,
        /// What was asked.
        target: Celsius,
    },
    /// At this altitude the wanted core temperature lies too near boiling.
    CoreLowered {
        /// Asked.
        asked: Celsius,
        /// Waited for.
        target: Celsius,
    },
    /// The crust is darker than the words reach.
    VeryDark {
        /// L*.
        lightness: f64,
    },
    /// Moisture outside what the model was held to.
    Moisture {
        /// Water per solids.
        water_per_solids: f64,
    },
    /// Starch in the core had not set.
    CoreRaw {
        /// Share set.
        starch: f64,
    },
    /// Some input was not a number or no bread and was held to the nearest sensible value.
    Held,
}

impl fmt::Display for BakeNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CoreNotReached { core, target } => write!(
                f,
                "the core reaches {:.0} °C, not {:.0} °C: bake longer, or a flatter loaf",
                core.0, target.0
            ),
            Self::CoreLowered { asked, target } => write!(
                f,
                "water boils lower here: the bread is done at {:.1} °C, not {:.0} °C",
                target.0, asked.0
            ),
            Self::VeryDark { lightness } => write!(
                f,
                "the crust comes out very dark (L* {lightness:.0}): a falling oven keeps it lighter"
            ),
            Self::Moisture { water_per_solids } => write!(
                f,
                "{water_per_solids:.2} water per solids lies outside 0.5 to 1.2, where the model was held to breads"
            ),
            Self::CoreRaw { starch } => write!(
                f,
                "only {:.0} % of the core's starch has set: the crumb would be gummy",
                100.0 * starch
            ),
            Self::Held => write!(f, "a value that no loaf or oven has was held to the nearest one"),
        }
    }
}

/// A bake from loading to the end of the programme.
#[derive(Debug, Clone, PartialEq)]
pub struct BakeTrace {
    /// At every whole minute and at the end.
    pub minutes: Vec<BakeSample>,
    /// When it was done.
    pub done: Done,
    /// Comments.
    pub notes: Vec<BakeNote>,
    /// The whole loaf from core to surface at the end.
    pub depths: Vec<Depth>,
    /// Heat conducted into the loaf, J per kg of dough.
    pub heat_j_per_kg: f64,
    /// Steam that condensed on the top, g/m².
    pub condensed_g_per_m2: f64,
    /// Weight lost while cooling to the room, of the dough.
    pub cooling_loss: Percent,
    /// Largest heat and water unaccounted for in any column, relative.
    pub unbalanced: (f64, f64),
    /// Core at every step, min and °C.
    pub(super) core: Vec<(f64, f64)>,
}

impl BakeTrace {
    /// When the core first reaches a temperature, between steps; none when it does not.
    pub fn core_reaches(&self, t: Celsius) -> Option<Minutes> {
        crossing(self.core.iter().copied(), t.0).map(Minutes)
    }

    /// The state at a time, on straight lines between whole minutes; none for an empty bake.
    pub fn at(&self, minute: Minutes) -> Option<BakeSample> {
        let after = self.minutes.iter().position(|s| s.minute.0 >= minute.0);
        let last = self.minutes.last().copied();
        let Some(i) = after else { return last };
        let b = self.minutes[i];
        if i == 0 {
            return Some(b);
        }
        let a = self.minutes[i - 1];
        let gap = b.minute.0 - a.minute.0;
        let x = if gap > 0.0 { (minute.0 - a.minute.0) / gap } else { 1.0 };
        let mix = |p: f64, q: f64| p + x * (q - p);
        Some(BakeSample {
            minute,
            oven_air: Celsius(mix(a.oven_air.0, b.oven_air.0)),
            wall: Celsius(mix(a.wall.0, b.wall.0)),
            vapour: Kilopascal(mix(a.vapour.0, b.vapour.0)),
            hearth_top: a.hearth_top.zip(b.hearth_top).map(|(p, q)| Celsius(mix(p.0, q.0))),
            core: Celsius(mix(a.core.0, b.core.0)),
            mean: Celsius(mix(a.mean.0, b.mean.0)),
            top_surface: Celsius(mix(a.top_surface.0, b.top_surface.0)),
            base_surface: Celsius(mix(a.base_surface.0, b.base_surface.0)),
            loss: Percent(mix(a.loss.0, b.loss.0)),
            dry_zone: Millimetres(mix(a.dry_zone.0, b.dry_zone.0)),
            crust: Millimetres(mix(a.crust.0, b.crust.0)),
            lightness: mix(a.lightness, b.lightness),
            base_lightness: mix(a.base_lightness, b.base_lightness),
            browning: mix(a.browning, b.browning),
            gloss: mix(a.gloss, b.gloss),
            starch: mix(a.starch, b.starch),
            core_water: mix(a.core_water, b.core_water),
        })
    }
}

/// First time a rising curve reaches a level.
pub(super) fn crossing(curve: impl Iterator<Item = (f64, f64)>, level: f64) -> Option<f64> {
    let mut before: Option<(f64, f64)> = None;
    for (t, y) in curve {
        if y >= level {
            return Some(match before {
                Some((t0, y0)) if y > y0 => t0 + (t - t0) * (level - y0) / (y - y0),
                _ => t,
            });
        }
        before = Some((t, y));
    }
    None
}
