//! The bake: heat goes in, an evaporation front moves inward, crust stays behind it.
//!
//! Same hypothesis as Zanoni, Peri and Pierucci 1993: the crumb keeps its water and tends to
//! boiling, the crust dries and tends to the oven. Here in terms of heat content: water leaves
//! a cell only when heat pays for it, so heat and water both balance. Three columns per loaf:
//! the whole (core, weight), the top crust, the base on its hearth.
//!
//! The surface that takes heat and the surface that gives off vapour are told apart: base, tin
//! and paper take heat but hold vapour, which then condenses in crumb that is open and not yet
//! boiling.
//!
//! Left out: oven spring (the loaf has its baked size throughout; [`oven_spring`] gives its
//! physical potential), cracks and slashes, warping crust, several loaves shading each other.

mod column;
mod drying;
#[cfg(test)]
mod tests;

use crate::crust::{Colour, DoneWhen, crust_thickness, starch_rate_per_s};
use crate::hearth::{
    Chamber, Covered, Door, Face, Hearth, LID_CONVECTION, LID_EMISSIVITY, Moment, Oven, Plate, Pot,
    RIM_EMISSIVITY, Stage, Tin, Top,
};
use crate::properties::{
    CrumbConductivity, ZERO_CELSIUS_K, boiling_point, latent_heat, water_saturation,
};
use crate::warmth::{Shape, geometry};
use column::{Boundary, Column};
use drying::Drying;
use quantity::{Celsius, Grams, Kilopascal, Millimetres, Minutes, Percent};
use std::fmt;

/// The numbers of the bread, as opposed to the oven's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BakeParameters {
    /// Conductivity of crumb and crust.
    pub conductivity: CrumbConductivity,
    /// Drying of a moist skin below boiling, kg/(Pa m² s).
    pub skin_drying: f64,
    /// Dry crust over a moist layer at which that drying has halved, mm; infinite: never.
    pub skin_depth_mm: f64,
    /// Temperature at which the conductivity by vapour is half its full value, °C.
    pub vapour_half_deg_c: f64,
    /// Share of the conductivity by vapour that moves its water along, 0 to 1.
    pub vapour_moves_water: f64,
    /// Share of the vapour made at a base on stone, steel or in a tin that stays inside, 0 to 1.
    pub held: f64,
    /// The same on paper or a mat, which lie tight.
    pub held_by_paper: f64,
    /// Whether the core's column touches the hearth, 0 or 1.
    pub contact: f64,
    /// Conductance from hearth to base: dry, and what wet dough adds at first, W/(m² K).
    pub contact_h: (f64, f64),
    /// Heat transfer to the top over the mean of the loaf.
    pub top: f64,
    /// Speed of browning; a baker's own calibration multiplies it.
    pub browning: f64,
    /// Lightness L* that browning tends to: 0 in the rate law as published.
    pub darkest: f64,
    /// Share of browning that a fully glossy skin lacks.
    pub gloss_pales: f64,
}

impl BakeParameters {
    /// As first specified.
    pub const FIRST: Self = Self {
        conductivity: CrumbConductivity::DEFAULT,
        skin_drying: 5e-9,
        skin_depth_mm: f64::INFINITY,
        vapour_half_deg_c: 80.0,
        vapour_moves_water: 0.0,
        held: 0.0,
        held_by_paper: 0.0,
        contact: 0.0,
        contact_h: (100.0, 200.0),
        top: 1.0,
        browning: 1.0,
        darkest: 0.0,
        gloss_pales: 0.0,
    };
    /// In use: one set for every loaf, *calibrated* together with the totals of
    /// [`Oven::HOME`] and [`Oven::DECK`] on two measured series (free round loaf, doi
    /// 10.14311/TPFM.2025.015; small cylinder, doi 10.1002/aic.10518) and the weight and times
    /// of the trade's loaves.
    ///
    /// Vapour adds to conduction from 50 °C on: 65 % of it when hot (60 %, Foods 14 (2025) 1649,
    /// *published*). From where pores open (71 to 81 °C, same source) six tenths of that vapour
    /// take their water along. Contact with the hearth 150 falling to 75 W/(m² K): an aluminium
    /// block gives 50 to 115 (Front. Chem. 8 (2020) 511012, derived). Of the vapour made at a
    /// base three tenths condense inside, all of it on paper. Skin dries below boiling until crust lies over it.
    /// The top sees the roof: a fifth more heat than the mean of the loaf. Browning tends to
    /// L* 25, the darkest crust of one measured series, and is 1.2 times as fast as published to
    /// make up for it; a fully glossy skin browns a quarter slower (direction *published*,
    /// Altamirano-Fortoul 2012, size ours).
    pub const MENDED: Self = Self {
        conductivity: CrumbConductivity { k_dry: 0.12, k_cold: 0.24, k_vapour: 0.45 },
        skin_drying: 6.6e-9,
        skin_depth_mm: 1.0,
        vapour_half_deg_c: 58.0,
        vapour_moves_water: 0.6,
        held: 0.3,
        held_by_paper: 1.0,
        contact: 1.0,
        contact_h: (75.0, 75.0),
        top: 1.2,
        browning: 1.2,
        darkest: 25.0,
        gloss_pales: 0.25,
    };

    /// A set by name: `first` or `mended`.
    pub fn named(name: &str) -> Option<&'static Self> {
        match name {
            "first" => Some(&Self::FIRST),
            "mended" => Some(&Self::MENDED),
            _ => None,
        }
    }

    fn sound(&self) -> Self {
        let within =
            |x: f64, lo: f64, hi: f64, or: f64| if x.is_nan() { or } else { x.clamp(lo, hi) };
        let first = &Self::FIRST;
        let k = &self.conductivity;
        Self {
            conductivity: CrumbConductivity {
                k_dry: within(k.k_dry, 0.01, 5.0, 0.12),
                k_cold: within(k.k_cold, 0.01, 5.0, 0.2),
                k_vapour: within(k.k_vapour, 0.0, 5.0, 0.8),
            },
            skin_drying: within(self.skin_drying, 0.0, 1e-6, 0.0),
            skin_depth_mm: within(self.skin_depth_mm, 0.01, f64::INFINITY, f64::INFINITY),
            vapour_half_deg_c: within(self.vapour_half_deg_c, 0.0, 200.0, 80.0),
            vapour_moves_water: within(self.vapour_moves_water, 0.0, 1.0, 0.0),
            held: within(self.held, 0.0, 1.0, 0.0),
            held_by_paper: within(self.held_by_paper, 0.0, 1.0, 0.0),
            contact: within(self.contact, 0.0, 1.0, 0.0),
            contact_h: (
                within(self.contact_h.0, 0.0, 2000.0, first.contact_h.0),
                within(self.contact_h.1, 0.0, 2000.0, first.contact_h.1),
            ),
            top: within(self.top, 0.0, 5.0, 1.0),
            browning: within(self.browning, 0.0, 20.0, 1.0),
            darkest: within(self.darkest, 0.0, 60.0, 0.0),
            gloss_pales: within(self.gloss_pales, 0.0, 1.0, 0.0),
        }
    }
}

/// A loaf as it goes into the oven.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaf {
    /// Dough.
    pub mass: Grams,
    /// Its shape when baked.
    pub shape: Shape,
    /// Dough mass over baked volume, kg/m³. *Common practice*: baguette 270, batard 280, round
    /// 300, tin 330; ±15 %.
    pub density_kg_m3: f64,
    /// Water per dry solids, kg/kg; [`water_per_solids`] gives it from a formula. 0.75 to 1.05.
    pub water_per_solids: f64,
    /// Temperatures from core to skin with their shares of the volume, as
    /// [`Body::profile`](crate::warmth::Body::profile) gives them.
    pub profile: Vec<(Celsius, f64)>,
    /// Tin, if it bakes in one.
    pub tin: Option<Tin>,
}

impl Loaf {
    /// A loaf of one temperature all through.
    pub fn even(mass: Grams, shape: Shape, density_kg_m3: f64, w: f64, t: Celsius) -> Self {
        let profile = vec![(t, 1.0)];
        Self { mass, shape, density_kg_m3, water_per_solids: w, profile, tin: None }
    }

    /// The loaf's measures when baked; nonsense is held to the nearest loaf.
    pub fn measures(&self) -> Measures {
        let kg = if self.mass.0 > 1.0 { self.mass.0.min(1e5) / 1000.0 } else { 1e-3 };
        let rho = sound(self.density_kg_m3, 50.0, 1300.0, 300.0);
        let volume = kg / rho;
        let (r, m) = geometry(volume, self.shape);
        let surface = (m + 1.0) * volume / r;
        // what lies on the hearth: a strip half as wide as a log, a disc 0.8 as wide as a round
        let base = match self.shape {
            Shape::Log { length } => r * (length.0 / 1000.0).max(2.0 * r) / surface,
            Shape::Boule { width } => {
                let a = 0.4 * width.0 / 1000.0;
                std::f64::consts::PI * a * a / surface
            }
            Shape::Tin { length, width } => length.0 * width.0 * 1e-6 / surface,
            Shape::Slab { .. } => 0.5,
            Shape::Lump | Shape::Vat { .. } | Shape::Exactly { .. } => 0.2,
        };
        let base = sound(base, 0.0, 0.5, 0.2);
        // in a tin only the top is open, and it is as large as the base
        let covered = if self.tin.is_some() { 1.0 - base } else { base };
        let height = match self.shape {
            Shape::Tin { length, width } => volume / (length.0 * width.0 * 1e-6).max(1e-6),
            _ => 2.0 * r,
        };
        Measures {
            r,
            m,
            volume_m3: volume,
            surface_m2: surface,
            height_m: height,
            base,
            covered,
            rho,
        }
    }
}

fn sound(x: f64, lo: f64, hi: f64, or: f64) -> f64 {
    if x.is_nan() { or } else { x.clamp(lo, hi) }
}

/// What the kernel sees of a loaf's shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Core to nearest surface, m.
    pub r: f64,
    /// Curvature: 0 slab, 1 cylinder, 2 sphere.
    pub m: f64,
    /// Baked volume, m³.
    pub volume_m3: f64,
    /// Whole surface, m².
    pub surface_m2: f64,
    /// Height, m.
    pub height_m: f64,
    /// Share of the surface that lies on the hearth.
    pub base: f64,
    /// Share of the surface on the hearth or in the tin: it takes heat but does not see the air.
    /// The base holds vapour back; along the walls of a tin it escapes as the loaf shrinks.
    pub covered: f64,
    /// Baked density, kg/m³.
    rho: f64,
}

/// Water per dry solids, kg/kg, from the masses of a dough.
///
/// W = (water + Σ flour × moisture)/(dough − that). White dough of 65 to 72 % hydration: 0.87 to
/// 0.98.
pub fn water_per_solids(dough: Grams, water_with_flours: Grams) -> f64 {
    let solids = dough.0 - water_with_flours.0;
    if solids > 0.0 { (water_with_flours.0 / solids).max(0.0) } else { f64::INFINITY }
}

/// How the loaf is baked.
#[derive(Debug, Clone, PartialEq)]
pub struct Programme {
    /// One after the other.
    pub stages: Vec<Stage>,
    /// What the loaf stands on.
    pub hearth: Hearth,
    /// Paper or a mat below.
    pub paper: bool,
    /// Pot around it.
    pub pot: Option<Pot>,
    /// A logged oven: air and walls follow it instead of knob, sag and fall at loading.
    pub logged: Vec<(Minutes, Celsius)>,
    /// When the bread counts as done.
    pub done_when: DoneWhen,
}

impl Programme {
    /// One setting, on a grid.
    pub fn at(knob: Celsius, minutes: Minutes) -> Self {
        Self::of(vec![Stage::at(knob, minutes)])
    }

    /// Stages, on a grid.
    pub fn of(stages: Vec<Stage>) -> Self {
        Self {
            stages,
            hearth: Hearth::Grid,
            paper: false,
            pot: None,
            logged: Vec::new(),
            done_when: DoneWhen::LEAN,
        }
    }

    /// Whole length, held to two days.
    pub fn minutes(&self) -> Minutes {
        let sum: f64 = self.stages.iter().map(|s| s.minutes.0.max(0.0)).sum();
        Minutes(sound(sum, 0.0, 2880.0, 0.0))
    }
}

/// How finely the kernel works.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Resolution {
    /// For a slider: core within half a minute of the fine grid.
    Preview,
    /// For a result.
    #[default]
    Publish,
    /// For checks: 10, 15, 20, 30, 40, 60 or 120 cells (the next larger is taken) and a step in
    /// seconds, best one that divides a minute.
    Exactly {
        /// Cells from core to surface.
        cells: usize,
        /// Step, s.
        dt_s: f64,
    },
}

impl Resolution {
    fn cells(self) -> usize {
        match self {
            Self::Preview => 15,
            Self::Publish => 40,
            Self::Exactly { cells, .. } => cells,
        }
    }

    /// Step at a time, s: short while the skin heats and the gradients are steep.
    fn step_s(self, t_s: f64) -> f64 {
        match self {
            Self::Preview if t_s < 300.0 => 5.0,
            Self::Preview => 10.0,
            Self::Publish if t_s < 300.0 => 2.0,
            Self::Publish => 5.0,
            Self::Exactly { dt_s, .. } => sound(dt_s, 0.05, 60.0, 5.0),
        }
    }
}

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
    core: Vec<(f64, f64)>,
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
fn crossing(curve: impl Iterator<Item = (f64, f64)>, level: f64) -> Option<f64> {
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

/// Bakes a loaf with the numbers in use.
pub fn bake(loaf: &Loaf, oven: &Oven, programme: &Programme, resolution: Resolution) -> BakeTrace {
    bake_with(loaf, oven, programme, resolution, &BakeParameters::MENDED)
}

/// As [`bake`] with other numbers.
pub fn bake_with(
    loaf: &Loaf,
    oven: &Oven,
    programme: &Programme,
    resolution: Resolution,
    parameters: &BakeParameters,
) -> BakeTrace {
    let run = match resolution.cells() {
        0..=10 => run::<10>,
        11..=15 => run::<15>,
        16..=20 => run::<20>,
        21..=30 => run::<30>,
        31..=40 => run::<40>,
        41..=60 => run::<60>,
        _ => run::<120>,
    };
    run(loaf, &oven.sound(), programme, resolution, &parameters.sound())
}

/// A profile of the dough: temperature by volume, core to skin.
struct Start<'a> {
    profile: &'a [(Celsius, f64)],
    total: f64,
    m: f64,
}

impl Start<'_> {
    /// Mean temperature between two depths (0 core, 1 skin) of the body the profile is of.
    fn between(&self, a: f64, b: f64) -> f64 {
        let share = |x: f64| libm::pow(x.clamp(0.0, 1.0), self.m + 1.0) * self.total;
        let (lo, hi) = (share(a), share(b));
        let (mut sum, mut weight, mut at) = (0.0, 0.0, 0.0);
        for &(t, s) in self.profile {
            if !(s > 0.0 && s.is_finite() && t.0.is_finite()) {
                continue;
            }
            let part = (hi.min(at + s) - lo.max(at)).max(0.0);
            sum += part * t.0.clamp(-20.0, 95.0);
            weight += part;
            at += s;
        }
        if weight > 0.0 {
            return sum / weight;
        }
        let known = self.profile.iter().rev().find(|(t, _)| t.0.is_finite());
        known.map_or(20.0, |(t, _)| t.0.clamp(-20.0, 95.0))
    }
}

/// Air and walls of a logged oven.
fn logged_at(log: &[(Minutes, Celsius)], minute: f64) -> f64 {
    let mut before = log[0];
    for &point in log {
        if point.0.0 >= minute {
            let gap = point.0.0 - before.0.0;
            let x = if gap > 0.0 { (minute - before.0.0) / gap } else { 1.0 };
            return before.1.0 + x.clamp(0.0, 1.0) * (point.1.0 - before.1.0);
        }
        before = point;
    }
    before.1.0
}

/// The part of a contact that a sheet of paper and the air below it add, m² K/W. Ours.
const PAPER_RESISTANCE: f64 = 0.002;
/// How fast the wet contact of a fresh loaf is lost, s. *Calibrated*.
const CONTACT_DRIES_S: f64 = 180.0;
/// Share of the cooling loaf's heat that leaves with vapour. *Calibrated*: 1.5 to 2 % of weight.
const COOLING_BY_VAPOUR: f64 = 0.25;
/// Heat capacity of bread while it cools, J/(kg K). *From memory*, rounded.
const BREAD_CP: f64 = 2700.0;

fn run<const N: usize>(
    loaf: &Loaf,
    oven: &Oven,
    programme: &Programme,
    resolution: Resolution,
    parameters: &BakeParameters,
) -> BakeTrace {
    let measures = loaf.measures();
    let mut notes = Vec::new();
    let w0 = sound(loaf.water_per_solids, 0.05, 3.0, 0.9);
    let odd = !(loaf.mass.0 > 1.0 && loaf.mass.0 <= 1e5 && loaf.density_kg_m3 >= 50.0)
        || w0 != loaf.water_per_solids
        || loaf.profile.iter().any(|(t, s)| !(t.0.is_finite() && *s >= 0.0));
    if odd {
        notes.push(BakeNote::Held);
    } else if !(0.5..=1.2).contains(&w0) {
        notes.push(BakeNote::Moisture { water_per_solids: w0 });
    }

    let (r, m, rho) = (measures.r, measures.m, measures.rho);
    let total: f64 = loaf.profile.iter().map(|p| p.1).filter(|s| *s > 0.0 && s.is_finite()).sum();
    let start = Start { profile: &loaf.profile, total, m };
    let between = |a: f64, b: f64| start.between(a, b);
    let mut whole = Column::<N>::new(r, m, rho, w0, between);
    let mut top = whole.clone();
    let mut base = Column::<N>::new(0.5 * measures.height_m, 0.0, rho, w0, between);
    let drying = Drying::new(oven.pressure);

    let first_knob = programme.stages.first().and_then(|s| s.set_point);
    let mut chamber = Chamber::new(oven, first_knob);
    let log: Vec<(Minutes, Celsius)> = programme
        .logged
        .iter()
        .filter(|(m, t)| m.0.is_finite() && (-50.0..600.0).contains(&t.0))
        .copied()
        .collect();
    let loading = match (log.first(), first_knob) {
        (Some(p), _) => p.1.0,
        (None, Some(knob)) => oven.truly(knob).0,
        (None, None) => oven.room.0,
    };
    let mut plate = match (&programme.hearth, loaf.tin) {
        (Hearth::Slab(slab, t), None) => Some(Plate::new(slab, t.map_or(loading, |t| t.0))),
        _ => None,
    };
    let on_hearth = plate.is_some();
    let mut pot = programme.pot.map(|p| Covered::new(&p, loading, oven.total_transfer()));
    let tin = loaf.tin.map_or(1.0, |t| sound(t.emissivity, 0.0, 1.5, 0.85));
    let closed = on_hearth || loaf.tin.is_some() || programme.paper;
    let held = match (closed, programme.paper) {
        (false, _) => 0.0,
        (true, false) => measures.base * parameters.held,
        (true, true) => measures.base * parameters.held_by_paper,
    };

    let mut colour = Colour::raw();
    let mut base_colour = Colour::raw();
    let mut starch = 0.0; // ∫ k dt
    let length_s = 60.0 * programme.minutes().0;
    let steps = (length_s / resolution.step_s(1e9).min(resolution.step_s(0.0))) as usize + 8;
    let mut core = Vec::with_capacity(steps.min(200_000));
    let mut samples = Vec::with_capacity((length_s / 60.0) as usize + 2);
    let mut moment = Moment { air: loading, wall: loading, vapour_pa: 1000.0 * oven.dry.0 };
    let mut stage_start = 0.0;
    let mut t = 0.0;
    let target = programme.done_when.core_at(oven.pressure);
    let mut done = Done { core_target: target, ..Done::default() };
    let (mut looks, mut weighs) = ([(0.0, 0.0); 2], [(0.0, 0.0); 2]);

    for stage in &programme.stages {
        let minutes = if stage.minutes.0 > 0.0 { stage.minutes.0 } else { 0.0 };
        let end = (stage_start + 60.0 * minutes).min(length_s);
        chamber.begin(stage);
        if stage.door == Door::Opened
            && let Some(pot) = &mut pot
        {
            pot.vapour *= 0.2;
        }
        while t < end - 1e-9 {
            if is_minute(t) {
                samples.push(sample(
                    t,
                    &moment,
                    plate.as_ref(),
                    &whole,
                    &top,
                    &base,
                    on_hearth,
                    &colour,
                    &base_colour,
                    starch,
                ));
                core.push((t / 60.0, whole.t[0]));
            }
            let dt = resolution.step_s(t).min(end - t).max(1e-6);
            moment = chamber.step(dt, stage);
            if !log.is_empty() {
                let logged = logged_at(&log, (t + 0.5 * dt) / 60.0);
                (moment.air, moment.wall) = (logged, logged);
            }
            let outside = moment;
            let convection = if stage.fan { oven.convection_fan } else { oven.convection };
            let mut around = Boundary {
                air: moment.air,
                wall: moment.wall,
                convection,
                emissivity: oven.emissivity,
                vapour_pa: moment.vapour_pa,
                contact: 0.0,
                contact_h: 0.0,
                plate: moment.air,
                held: 0.0,
            };
            if let Some(pot) = &pot {
                if stage.lid {
                    moment = Moment { air: pot.t, wall: pot.t, vapour_pa: pot.vapour };
                    around = Boundary {
                        air: pot.t,
                        wall: pot.t,
                        convection: LID_CONVECTION,
                        emissivity: LID_EMISSIVITY,
                        vapour_pa: pot.vapour,
                        plate: pot.t,
                        ..around
                    };
                } else {
                    around.emissivity *= RIM_EMISSIVITY / Oven::FIRST.emissivity;
                }
            }
            let top_around = Boundary {
                convection: around.convection * parameters.top,
                emissivity: around.emissivity * parameters.top,
                ..around
            };
            let surface_before = top.surface;
            top.step(dt, &top_around, parameters, &drying);
            let dry_h = parameters.contact_h.0
                + parameters.contact_h.1 * libm::exp(-(t + 0.5 * dt) / CONTACT_DRIES_S);
            let contact_h =
                if programme.paper { dry_h / (1.0 + dry_h * PAPER_RESISTANCE) } else { dry_h };
            let mut whole_around = Boundary { held, ..around };
            let base_before = base.surface;
            if let Some(plate) = &mut plate {
                let under = Boundary {
                    contact: 1.0,
                    contact_h,
                    plate: plate.top(),
                    vapour_pa: 0.0,
                    ..around
                };
                base.step(dt, &under, parameters, &drying);
                let face =
                    Face { convection: oven.convection, air: outside.air, wall: outside.wall };
                plate.step(dt, Top::Loaf(contact_h, base.surface), face);
                whole_around = Boundary {
                    contact: measures.base * parameters.contact,
                    contact_h,
                    plate: plate.top(),
                    ..whole_around
                };
            } else if loaf.tin.is_some() {
                let wall =
                    Boundary { emissivity: around.emissivity * tin, vapour_pa: 0.0, ..around };
                base.step(dt, &wall, parameters, &drying);
                whole_around.emissivity *= 1.0 - measures.covered + measures.covered * tin;
                whole_around.vapour_pa *= 1.0 - measures.covered;
            }
            let heat_before = whole.ledger.heat_in;
            whole.step(dt, &whole_around, parameters, &drying);
            if let Some(pot) = &mut pot {
                let watts = (whole.ledger.heat_in - heat_before) / dt * measures.surface_m2;
                pot.step(dt, outside.air, watts, drying.pressure_pa);
                if !stage.lid {
                    pot.vapour = outside.vapour_pa;
                }
            }
            t += dt;
            if (t - libm::round(t)).abs() < 1e-6 {
                t = libm::round(t); // no drift of the minutes
            }
            starch += starch_rate_per_s(Celsius(whole.t[0])) * dt;
            colour.step(
                dt,
                0.5 * (surface_before + top.surface),
                top.w[N - 1],
                top.film,
                oven.pressure,
                parameters,
            );
            if on_hearth || loaf.tin.is_some() {
                base_colour.step(
                    dt,
                    0.5 * (base_before + base.surface),
                    base.w[N - 1],
                    0.0,
                    oven.pressure,
                    parameters,
                );
            } else {
                base_colour = colour;
            }
            if !is_minute(t) || t >= length_s {
                core.push((t / 60.0, whole.t[0]));
            }
            looks = [looks[1], (t / 60.0, -colour.lightness)];
            weighs = [weighs[1], (t / 60.0, 100.0 * whole.loss())];
            note_crossing(&mut done.lightness, &looks, programme.done_when.lightness.map(|l| -l));
            note_crossing(&mut done.loss, &weighs, programme.done_when.loss.map(|l| l.0));
        }
        stage_start = end;
    }
    samples.push(sample(
        t,
        &moment,
        plate.as_ref(),
        &whole,
        &top,
        &base,
        on_hearth,
        &colour,
        &base_colour,
        starch,
    ));

    done.core = target.and_then(|c| crossing(core.iter().copied(), c.0)).map(Minutes);
    let asked = programme.done_when;
    let met = [
        (asked.core.is_some(), done.core),
        (asked.lightness.is_some(), done.lightness),
        (asked.loss.is_some(), done.loss),
    ];
    done.all = met
        .iter()
        .filter(|(asked, _)| *asked)
        .try_fold(Minutes(0.0), |latest, (_, at)| at.map(|at| latest.max(at)));
    let last = whole.t[0];
    if let (Some(asked), Some(target)) = (asked.core, target) {
        if target.0 < asked.0 {
            notes.push(BakeNote::CoreLowered { asked, target });
        }
        if done.core.is_none() {
            notes.push(BakeNote::CoreNotReached { core: Celsius(last), target });
        }
    }
    let set = 1.0 - libm::exp(-starch);
    if set < 0.98 {
        notes.push(BakeNote::CoreRaw { starch: set });
    }
    if colour.lightness < 35.0 {
        notes.push(BakeNote::VeryDark { lightness: colour.lightness });
    }
    let hot = (whole.mean().min(100.0) - oven.room.0).max(0.0);
    let cooling = COOLING_BY_VAPOUR * BREAD_CP * hot * (1.0 - whole.loss().clamp(0.0, 1.0))
        / latent_heat(Celsius(100.0));
    let unbalanced = [&whole, &top, &base].iter().fold((0.0_f64, 0.0_f64), |(h, w), c| {
        (h.max(c.heat_gap().abs()), w.max(c.water_gap().abs()))
    });
    BakeTrace {
        minutes: samples,
        done,
        notes,
        depths: whole.depths(),
        heat_j_per_kg: whole.ledger.heat_in / whole.dough(),
        condensed_g_per_m2: 1000.0 * top.ledger.condensed,
        cooling_loss: Percent(100.0 * cooling),
        unbalanced,
        core,
    }
}

fn is_minute(t_s: f64) -> bool {
    let minute = t_s / 60.0;
    (minute - libm::round(minute)).abs() < 1e-7
}

/// Writes down when the last step crossed a level, once.
fn note_crossing(seen: &mut Option<Minutes>, pair: &[(f64, f64); 2], level: Option<f64>) {
    if let (None, Some(level)) = (&seen, level)
        && pair[1].1 >= level
    {
        let from = usize::from(pair[0].0 <= 0.0);
        *seen = crossing(pair[from..].iter().copied(), level).map(Minutes);
    }
}

#[allow(clippy::too_many_arguments)] // gathers what one moment has
fn sample<const N: usize>(
    t: f64,
    moment: &Moment,
    plate: Option<&Plate>,
    whole: &Column<N>,
    top: &Column<N>,
    base: &Column<N>,
    on_hearth: bool,
    colour: &Colour,
    base_colour: &Colour,
    starch: f64,
) -> BakeSample {
    let dry = Millimetres(1000.0 * top.dry_zone());
    BakeSample {
        minute: Minutes(t / 60.0),
        oven_air: Celsius(moment.air),
        wall: Celsius(moment.wall),
        vapour: Kilopascal(moment.vapour_pa / 1000.0),
        hearth_top: plate.map(|p| Celsius(p.top())),
        core: Celsius(whole.t[0]),
        mean: Celsius(whole.mean()),
        top_surface: Celsius(top.surface),
        base_surface: Celsius(if on_hearth { base.surface } else { top.surface }),
        loss: Percent(100.0 * whole.loss()),
        dry_zone: dry,
        crust: crust_thickness(dry),
        lightness: colour.lightness,
        base_lightness: base_colour.lightness,
        browning: colour.change,
        gloss: colour.gloss(),
        starch: 1.0 - libm::exp(-starch),
        core_water: whole.w[0],
    }
}

/// What gas and steam in a dough's cells would make of its volume, V/V0, if nothing held it:
/// the physical potential of oven spring, not a forecast.
///
/// ```text
/// V/V0 = (1 − ε) + ε (T/T0)(p − p_sat(T0))/(p − p_sat(T))     T in K
/// ```
///
/// `gas` is the dough's share of gas ε; `t` counts up to 65 °C, where crumb sets (*from memory*);
/// carbon dioxide leaving the water and the last fermentation add some 5 to 15 %.
pub fn oven_spring(gas: f64, t0: Celsius, t: Celsius, pressure: Kilopascal) -> f64 {
    let p = sound(pressure.0, 40.0, 120.0, 101.325);
    let (t0, t) = (sound(t0.0, -10.0, 60.0, 25.0), sound(t.0, -10.0, SETS_AT, 25.0));
    let wet = |t: f64| p - water_saturation(Celsius(t)).0;
    let g = (t + ZERO_CELSIUS_K) / (t0 + ZERO_CELSIUS_K) * wet(t0) / wet(t);
    let gas = sound(gas, 0.0, 1.0, 0.0);
    (1.0 - gas) + gas * g
}

/// Crumb is set and no longer grows, °C. *From memory*, about 65.
pub const SETS_AT: f64 = 65.0;

/// Temperature at which the wet crumb of a loaf stays while it boils, °C.
pub fn crumb_boils(w: f64, pressure: Kilopascal) -> Celsius {
    let ends = boiling_point(pressure);
    crate::properties::dough_boiling_point(w, pressure).max(ends)
}
