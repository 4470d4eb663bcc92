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

mod batch;
mod column;
mod drying;
mod loaf;
mod parameters;
mod programme;
#[cfg(test)]
mod tests;
mod trace;

pub use batch::{Baked, Piece, Pull, bake_many};
pub use loaf::{Loaf, Measures, water_per_solids};
pub use parameters::BakeParameters;
pub use programme::{Programme, Resolution};
pub use trace::{BakeNote, BakeSample, BakeTrace, Depth, Done};

use crate::crust::{Colour, crust_thickness, starch_per_s};
use crate::hearth::{
    Chamber, Covered, Door, Face, Hearth, LID_CONVECTION, LID_EMISSIVITY, Moment, Oven, OvenLanes,
    Plate, RIM_EMISSIVITY, Stage, Top,
};
use crate::numerics::lanes::{Lanes, exp};
use crate::properties::{ZERO_CELSIUS_K, boiling_point, latent_heat, water_saturation};
use batch::Watch;
pub(crate) use batch::{Bake, Glance, Kitchen, LoafLanes, bake_lanes};
use column::{Boundary, Column, Crumb};
use loaf::Start;
use quantity::{Celsius, Kilopascal, Millimetres, Minutes, Percent};
use trace::crossing;

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
    let trace = match resolution.cells() {
        0..=10 => trace::<10>,
        11..=12 => trace::<12>,
        13..=15 => trace::<15>,
        16..=20 => trace::<20>,
        21..=30 => trace::<30>,
        31..=40 => trace::<40>,
        41..=60 => trace::<60>,
        _ => trace::<120>,
    };
    trace(loaf, &Kitchen::new(oven, parameters), programme, resolution)
}

/// Held between two bounds; `or` for NaN.
fn sound(x: f64, lo: f64, hi: f64, or: f64) -> f64 {
    if x.is_nan() { or } else { x.clamp(lo, hi) }
}

/// What a logged oven's points make of air and walls; none without any sensible point.
fn logged_at(log: &[(Minutes, Celsius)], minute: f64) -> Option<f64> {
    let mut points =
        log.iter().filter(|(m, t)| m.0.is_finite() && (-50.0..600.0).contains(&t.0)).copied();
    let mut before = points.next()?;
    for point in std::iter::once(before).chain(points) {
        if point.0.0 >= minute {
            let gap = point.0.0 - before.0.0;
            let x = if gap > 0.0 { (minute - before.0.0) / gap } else { 1.0 };
            return Some(before.1.0 + x.clamp(0.0, 1.0) * (point.1.0 - before.1.0));
        }
        before = point;
    }
    Some(before.1.0)
}

/// The part of a contact that a sheet of paper and the air below it add, m² K/W. Ours.
const PAPER_RESISTANCE: f64 = 0.002;
/// How fast the wet contact of a fresh loaf is lost, s. *Calibrated*.
const CONTACT_DRIES_S: f64 = 180.0;
/// Share of the cooling loaf's heat that leaves with vapour. *Calibrated*: 1.5 to 2 % of weight.
const COOLING_BY_VAPOUR: f64 = 0.25;
/// Heat capacity of bread while it cools, J/(kg K). *From memory*, rounded.
const BREAD_CP: f64 = 2700.0;

/// A loaf in its oven, or one in each lane.
struct Scene<'a, const N: usize, L: Lanes> {
    crumb: Crumb<'a, L>,
    kitchen: &'a Kitchen,
    programme: &'a Programme,
    ovens: OvenLanes<L>,
    measures: Measures<L>,
    /// Speed of browning over that of the parameters.
    browning: L,
    /// Emissivity of the tin if there is one.
    tin: Option<f64>,
    /// Share of the surface that holds vapour.
    held: L,
    whole: Column<N, L>,
    top: Column<N, L>,
    base: Column<N, L>,
    has_base: bool,
    chamber: Chamber<L>,
    plate: Option<Plate<L>>,
    pot: Option<Covered<L>>,
    colour: Colour<L>,
    base_colour: Colour<L>,
    /// ∫ k dt of starch that sets in the core.
    starch: L,
    moment: Moment<L>,
}

impl<'a, const N: usize, L: Lanes> Scene<'a, N, L> {
    /// At loading.
    #[inline(always)]
    fn new(
        kitchen: &'a Kitchen,
        ovens: &OvenLanes<L>,
        loaves: &LoafLanes<'_, L>,
        programme: &'a Programme,
        resolution: Resolution,
    ) -> Self {
        let Kitchen { oven, parameters, drying } = kitchen;
        let ovens = ovens.sound(oven);
        let measures = loaves.measures;
        let (r, m, rho) = (measures.r, measures.m, measures.rho);
        let w0 = loaves.water_per_solids;
        let start = Start { profile: loaves.profile, m };
        let whole = Column::<N, L>::new(r, m, rho, w0, &start);
        let top = whole.clone();
        let half = measures.height_m * 0.5;
        let base = Column::<N, L>::new(half, L::splat(0.0), rho, w0, &start);

        let first_knob = programme.stages.first().and_then(|s| s.set_point);
        let loading = match (logged_at(&programme.logged, f64::NEG_INFINITY), first_knob) {
            (Some(t), _) => L::splat(t),
            (None, Some(knob)) => ovens.truly(oven, knob),
            (None, None) => ovens.room,
        };
        // in a pot the pot is the hearth
        let plate = match (&programme.hearth, loaves.tin, programme.pot) {
            (Hearth::Slab(slab, t), None, None) => {
                Some(Plate::new(slab, t.map_or(loading, |t| L::splat(t.0))))
            }
            _ => None,
        };
        let transfer = ovens.transfer * oven.total_transfer();
        let pot = programme.pot.map(|p| Covered::new(&p, loading, transfer));
        let has_base = plate.is_some() || pot.is_some() || loaves.tin.is_some();
        let closed = has_base || programme.paper;
        let held = match (closed, programme.paper) {
            (false, _) => 0.0,
            (true, false) => parameters.held,
            (true, true) => parameters.held_by_paper,
        };
        Self {
            crumb: Crumb {
                parameters,
                drying,
                conductivity: loaves.conductivity,
                tolerance_k: resolution.tolerance_k(),
                thick_cells: resolution == Resolution::Ensemble,
            },
            kitchen,
            programme,
            ovens,
            measures,
            browning: loaves.browning,
            tin: loaves.tin.map(|t| sound(t.emissivity, 0.0, 1.5, 0.85)),
            held: measures.base * held,
            whole,
            top,
            base,
            has_base,
            chamber: Chamber::new(oven, ovens, first_knob),
            plate,
            pot,
            colour: Colour::raw(),
            base_colour: Colour::raw(),
            starch: L::splat(0.0),
            moment: Moment {
                air: loading,
                wall: loading,
                vapour_pa: L::splat(1000.0 * oven.dry.0),
            },
        }
    }

    /// A new stage begins.
    #[inline(always)]
    fn begin(&mut self, stage: &Stage) {
        self.chamber.begin(stage);
        if stage.door == Door::Opened
            && let Some(pot) = &mut self.pot
        {
            pot.vapour *= L::splat(0.2);
        }
    }

    /// Moves on by `dt` seconds from `t` seconds after loading.
    #[inline(always)]
    fn step(&mut self, t: f64, dt: f64, stage: &Stage) {
        let Kitchen { oven, parameters, drying } = self.kitchen;
        let (crumb, measures) = (&self.crumb, &self.measures);
        let zero = L::splat(0.0);
        let mut moment = self.chamber.step(dt, stage);
        if let Some(logged) = logged_at(&self.programme.logged, (t + 0.5 * dt) / 60.0) {
            (moment.air, moment.wall) = (L::splat(logged), L::splat(logged));
        }
        let outside = moment;
        let convection = if stage.fan { oven.convection_fan } else { oven.convection };
        let mut around = Boundary {
            air: moment.air,
            wall: moment.wall,
            convection: self.ovens.transfer * convection,
            emissivity: self.ovens.transfer * oven.emissivity,
            vapour_pa: moment.vapour_pa,
            contact: zero,
            contact_h: 0.0,
            plate: moment.air,
            held: zero,
        };
        if let Some(pot) = &self.pot {
            if stage.lid {
                moment = Moment { air: pot.t, wall: pot.t, vapour_pa: pot.vapour };
                around = Boundary {
                    air: pot.t,
                    wall: pot.t,
                    convection: L::splat(LID_CONVECTION),
                    emissivity: L::splat(LID_EMISSIVITY),
                    vapour_pa: pot.vapour,
                    plate: pot.t,
                    ..around
                };
            } else {
                around.emissivity = around.emissivity * (RIM_EMISSIVITY / Oven::FIRST.emissivity);
            }
        }
        self.moment = moment;
        // a lid is alike on all sides
        let roof = if self.pot.is_some() && stage.lid { 1.0 } else { oven.roof };
        let top_around = Boundary {
            convection: around.convection * roof,
            emissivity: around.emissivity * roof,
            ..around
        };
        let surface_before = self.top.surface;
        self.top.step(dt, &top_around, crumb);
        let dry_h = parameters.contact_h.0
            + parameters.contact_h.1 * exp(-(t + 0.5 * dt) / CONTACT_DRIES_S);
        let contact_h =
            if self.programme.paper { dry_h / (1.0 + dry_h * PAPER_RESISTANCE) } else { dry_h };
        let mut whole_around = Boundary { held: self.held, ..around };
        let base_before = self.base.surface;
        let contact = measures.base * parameters.contact;
        let dry = Boundary { vapour_pa: zero, ..around };
        if let Some(plate) = &mut self.plate {
            let under = Boundary { contact: L::splat(1.0), contact_h, plate: plate.top(), ..dry };
            self.base.step(dt, &under, crumb);
            let convection = self.ovens.transfer * oven.convection;
            let face = Face { convection, air: outside.air, wall: outside.wall };
            plate.step(dt, Top::Loaf(L::splat(contact_h), self.base.surface), face);
            whole_around = Boundary { contact, contact_h, plate: plate.top(), ..whole_around };
        } else if let (Some(pot), None) = (&self.pot, self.tin) {
            let under = Boundary { contact: L::splat(1.0), contact_h, plate: pot.t, ..dry };
            self.base.step(dt, &under, crumb);
            whole_around = Boundary { contact, contact_h, plate: pot.t, ..whole_around };
        } else if let Some(tin) = self.tin {
            let wall = Boundary { emissivity: around.emissivity * tin, ..dry };
            self.base.step(dt, &wall, crumb);
            let open = L::splat(1.0) - measures.covered;
            whole_around.emissivity *= open + measures.covered * tin;
            whole_around.vapour_pa *= open;
        }
        let heat_before = self.whole.ledger.heat_in;
        self.whole.step(dt, &whole_around, crumb);
        if let Some(pot) = &mut self.pot {
            let watts = (self.whole.ledger.heat_in - heat_before) / dt * measures.surface_m2;
            pot.step(dt, outside.air, watts, drying.pressure_pa);
            if !stage.lid {
                pot.vapour = outside.vapour_pa;
            }
        }
        self.starch += starch_per_s(self.whole.t[0]) * dt;
        let top = ((surface_before + self.top.surface) * 0.5, self.top.w[N - 1], self.top.film);
        self.colour.step(dt, top, self.browning, oven.pressure, parameters);
        if self.has_base {
            let base = ((base_before + self.base.surface) * 0.5, self.base.w[N - 1], zero);
            self.base_colour.step(dt, base, self.browning, oven.pressure, parameters);
        } else {
            self.base_colour = self.colour;
        }
    }
}

/// Walks a loaf, or one in each lane, through a programme whose last stage ends at `length_s`;
/// `watch` looks on and may end it.
#[inline(always)]
fn walk<const N: usize, L: Lanes>(
    scene: &mut Scene<'_, N, L>,
    programme: &Programme,
    resolution: Resolution,
    length_s: f64,
    watch: &mut impl Watch<N, L>,
) {
    let (mut t, mut stage_start) = (0.0, 0.0);
    for (i, stage) in programme.stages.iter().enumerate() {
        let minutes = if stage.minutes.0 > 0.0 { stage.minutes.0 } else { 0.0 };
        let last = i + 1 == programme.stages.len();
        let end = if last { length_s } else { f64::min(stage_start + 60.0 * minutes, length_s) };
        scene.begin(stage);
        while t < end - 1e-9 {
            watch.before(t, scene);
            // whole minutes are met, whatever the stages' lengths
            let minute = 60.0 * (libm::floor(t / 60.0 + 1e-9) + 1.0);
            let dt = resolution.step_s(t).min(end - t).min(minute - t).max(1e-6);
            scene.step(t, dt, stage);
            t += dt;
            if (t - libm::round(t)).abs() < 1e-6 {
                t = libm::round(t); // no drift of the minutes
            }
            if watch.after(t, scene) {
                return;
            }
        }
        stage_start = end;
    }
}

/// Bakes one loaf and writes down all of it.
fn trace<const N: usize>(
    loaf: &Loaf,
    kitchen: &Kitchen,
    programme: &Programme,
    resolution: Resolution,
) -> BakeTrace {
    let oven = &kitchen.oven;
    let mut notes = Vec::new();
    let w0 = loaf.sound_water();
    let odd = !(loaf.mass.0 > 1.0 && loaf.mass.0 <= 1e5 && loaf.density_kg_m3 >= 50.0)
        || w0 != loaf.water_per_solids
        || loaf.profile.iter().any(|(t, s)| !(t.0.is_finite() && *s >= 0.0));
    if odd {
        notes.push(BakeNote::Held);
    } else if !(0.5..=1.2).contains(&w0) {
        notes.push(BakeNote::Moisture { water_per_solids: w0 });
    }

    let profile: Vec<_> = loaf.profile.iter().map(|(t, s)| (t.0, *s)).collect();
    let one = LoafLanes {
        measures: loaf.measures(),
        water_per_solids: w0,
        profile: &profile,
        tin: loaf.tin,
        conductivity: 1.0,
        browning: 1.0,
    };
    let ovens = OvenLanes::as_is(oven);
    let mut scene = Scene::<N, f64>::new(kitchen, &ovens, &one, programme, resolution);
    let length_s = 60.0 * programme.minutes().0;
    let mut record = Record::new(programme, oven.pressure, length_s, resolution);
    walk(&mut scene, programme, resolution, length_s, &mut record);
    let Record { mut done, mut samples, core, t, .. } = record;
    samples.push(sample(t, &scene));

    let target = done.core_target;
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
    let Scene { whole, top, base, .. } = &scene;
    let last = whole.t[0];
    if let (Some(asked), Some(target)) = (asked.core, target) {
        // less than half a degree is weather, not altitude
        if target.0 < asked.0 - 0.5 {
            notes.push(BakeNote::CoreLowered { asked, target });
        }
        if done.core.is_none() {
            notes.push(BakeNote::CoreNotReached { core: Celsius(last), target });
        }
    }
    let set = 1.0 - exp(-scene.starch);
    if set < 0.98 {
        notes.push(BakeNote::CoreRaw { starch: set });
    }
    if scene.colour.lightness < 35.0 {
        notes.push(BakeNote::VeryDark { lightness: scene.colour.lightness });
    }
    let hot = (whole.mean().min(100.0) - oven.room.0).max(0.0);
    let cooling = COOLING_BY_VAPOUR * BREAD_CP * hot * (1.0 - whole.loss().clamp(0.0, 1.0))
        / latent_heat(Celsius(100.0));
    let unbalanced = [whole, top, base].iter().fold((0.0_f64, 0.0_f64), |(h, w), c| {
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

/// What is written down of one bake.
struct Record<'a> {
    programme: &'a Programme,
    length_s: f64,
    done: Done,
    samples: Vec<BakeSample>,
    /// Core at every step, min and °C.
    core: Vec<(f64, f64)>,
    looks: [(f64, f64); 2],
    weighs: [(f64, f64); 2],
    /// Since loading, s.
    t: f64,
}

impl<'a> Record<'a> {
    fn new(
        programme: &'a Programme,
        pressure: Kilopascal,
        length_s: f64,
        resolution: Resolution,
    ) -> Self {
        let steps = (length_s / resolution.step_s(1e9).min(resolution.step_s(0.0))) as usize + 8;
        let core_target = programme.done_when.core_at(pressure);
        Self {
            programme,
            length_s,
            done: Done { core_target, ..Done::default() },
            samples: Vec::with_capacity((length_s / 60.0) as usize + 2),
            core: Vec::with_capacity(steps.min(200_000)),
            looks: [(0.0, 0.0); 2],
            weighs: [(0.0, 0.0); 2],
            t: 0.0,
        }
    }
}

impl<const N: usize> Watch<N, f64> for Record<'_> {
    fn before(&mut self, t: f64, scene: &Scene<'_, N, f64>) {
        if is_minute(t) {
            self.samples.push(sample(t, scene));
            self.core.push((t / 60.0, scene.whole.t[0]));
        }
    }

    fn after(&mut self, t: f64, scene: &Scene<'_, N, f64>) -> bool {
        self.t = t;
        if !is_minute(t) || t >= self.length_s {
            self.core.push((t / 60.0, scene.whole.t[0]));
        }
        let asked = self.programme.done_when;
        self.looks = [self.looks[1], (t / 60.0, -scene.colour.lightness)];
        self.weighs = [self.weighs[1], (t / 60.0, 100.0 * scene.whole.loss())];
        note_crossing(&mut self.done.lightness, &self.looks, asked.lightness.map(|l| -l));
        note_crossing(&mut self.done.loss, &self.weighs, asked.loss.map(|l| l.0));
        false
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

/// A loaf and its oven at a moment.
fn sample<const N: usize>(t: f64, scene: &Scene<'_, N, f64>) -> BakeSample {
    let Scene { whole, top, base, moment, colour, .. } = scene;
    let dry = Millimetres(1000.0 * top.dry_zone());
    BakeSample {
        minute: Minutes(t / 60.0),
        oven_air: Celsius(moment.air),
        wall: Celsius(moment.wall),
        vapour: Kilopascal(moment.vapour_pa / 1000.0),
        hearth_top: scene.plate.as_ref().map(|p| Celsius(p.top())),
        core: Celsius(whole.t[0]),
        mean: Celsius(whole.mean()),
        top_surface: Celsius(top.surface),
        base_surface: Celsius(if scene.has_base { base.surface } else { top.surface }),
        loss: Percent(100.0 * whole.loss()),
        dry_zone: dry,
        crust: crust_thickness(dry),
        lightness: colour.lightness,
        base_lightness: scene.base_colour.lightness,
        browning: colour.change,
        gloss: colour.gloss(),
        starch: 1.0 - exp(-scene.starch),
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
