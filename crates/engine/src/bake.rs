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
mod loaf;
mod parameters;
mod programme;
#[cfg(test)]
mod tests;
mod trace;

pub use loaf::{Loaf, Measures, water_per_solids};
pub use parameters::BakeParameters;
pub use programme::{Programme, Resolution};
pub use trace::{BakeNote, BakeSample, BakeTrace, Depth, Done};

use crate::crust::{Colour, crust_thickness, starch_rate_per_s};
use crate::hearth::{
    Chamber, Covered, Door, Face, Hearth, LID_CONVECTION, LID_EMISSIVITY, Moment, Oven, Plate,
    RIM_EMISSIVITY, Top,
};
use crate::properties::{ZERO_CELSIUS_K, boiling_point, latent_heat, water_saturation};
use column::{Boundary, Column};
use drying::Drying;
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

/// Held between two bounds; `or` for NaN.
fn sound(x: f64, lo: f64, hi: f64, or: f64) -> f64 {
    if x.is_nan() { or } else { x.clamp(lo, hi) }
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
    // in a pot the pot is the hearth
    let mut plate = match (&programme.hearth, loaf.tin, programme.pot) {
        (Hearth::Slab(slab, t), None, None) => Some(Plate::new(slab, t.map_or(loading, |t| t.0))),
        _ => None,
    };
    let mut pot = programme.pot.map(|p| Covered::new(&p, loading, oven.total_transfer()));
    let tin = loaf.tin.map_or(1.0, |t| sound(t.emissivity, 0.0, 1.5, 0.85));
    let has_base = plate.is_some() || pot.is_some() || loaf.tin.is_some();
    let closed = has_base || programme.paper;
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
                    has_base,
                    &colour,
                    &base_colour,
                    starch,
                ));
                core.push((t / 60.0, whole.t[0]));
            }
            // whole minutes are met, whatever the stages' lengths
            let minute = 60.0 * (libm::floor(t / 60.0 + 1e-9) + 1.0);
            let dt = resolution.step_s(t).min(end - t).min(minute - t).max(1e-6);
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
            // a lid is alike on all sides
            let roof = if pot.is_some() && stage.lid { 1.0 } else { oven.roof };
            let top_around = Boundary {
                convection: around.convection * roof,
                emissivity: around.emissivity * roof,
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
            } else if let (Some(pot), None) = (&pot, loaf.tin) {
                let under =
                    Boundary { contact: 1.0, contact_h, plate: pot.t, vapour_pa: 0.0, ..around };
                base.step(dt, &under, parameters, &drying);
                whole_around = Boundary {
                    contact: measures.base * parameters.contact,
                    contact_h,
                    plate: pot.t,
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
            if has_base {
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
        has_base,
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
        // less than half a degree is weather, not altitude
        if target.0 < asked.0 - 0.5 {
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
    has_base: bool,
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
        base_surface: Celsius(if has_base { base.surface } else { top.surface }),
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
