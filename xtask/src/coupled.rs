//! The whole model as one coupled system of differential equations, for general integrators, one
//! dough at a time: the 16 states of fermentation and the temperatures from core to skin, from the
//! levain's build to loading.
//!
//! Heat is put down as anyone would who has no solver of his own for it: finite volumes at the
//! engine's nodes, or at fewer, laid out before the clock runs.

use crate::scene::{Errors, Leg, Line, Reading, kitchen, say};
use engine::ferment::{Dough, Slopes, State};
use engine::run::{Lump, Setting};
use engine::warmth::{Body, Surroundings, heat_of_fermentation};
use libm::pow;
use quantity::{Celsius, Hours};
use serde_json::{Value, json};
use std::cell::Cell;

/// States of fermentation, which come before the temperatures.
pub(crate) const FERMENTATION: usize = State::<f64>::LEN;
/// Nodes from core to skin, as in the engine.
pub(crate) const NODES: usize = 16;
/// Crowding of the nodes towards the skin, as in the engine.
const CROWDING: f64 = 1.4;

/// Conduction from core to skin and the transfer to the air: rates over node volumes, 1/h.
pub(crate) struct Heat {
    /// Share of the volume at each node.
    shares: Vec<f64>,
    /// From each node towards its inner neighbour (none for the core).
    inwards: Vec<f64>,
    /// Towards its outer neighbour, for the skin the air.
    outwards: Vec<f64>,
    /// K/h for one W/kg.
    warms: f64,
}

impl Heat {
    fn new(body: &Body, nodes: usize) -> Self {
        let ((r, m), dough) = (body.geometry(), body.thermal());
        let node = |i: usize| 1.0 - pow(1.0 - i as f64 / (nodes - 1) as f64, CROWDING);
        let face = |i: usize| 0.5 * (node(i) + node(i + 1));
        let volume = |i: usize| if i + 1 < nodes { pow(face(i), m + 1.0) } else { 1.0 };
        let shares: Vec<f64> =
            (0..nodes).map(|i| volume(i) - if i > 0 { volume(i - 1) } else { 0.0 }).collect();
        let per_hour = 3600.0 * (m + 1.0);
        let skin = per_hour * body.transfer() / (dough.rho * dough.cp * r);
        let passes = |i: usize| {
            let gap = node(i + 1) - node(i);
            per_hour * dough.diffusivity() / (r * r) * pow(face(i), m) / gap
        };
        let inwards = |i: usize| if i > 0 { passes(i - 1) / shares[i] } else { 0.0 };
        let outwards = |i: usize| if i + 1 < nodes { passes(i) } else { skin } / shares[i];
        Self {
            inwards: (0..nodes).map(inwards).collect(),
            outwards: (0..nodes).map(outwards).collect(),
            shares,
            warms: 3600.0 / dough.cp,
        }
    }

    fn mean(&self, temps: &[f64]) -> f64 {
        self.shares.iter().zip(temps).map(|(s, t)| s * t).sum()
    }
}

/// Conduction in every leg of every line.
pub(crate) fn laid_out(lines: &[Line], nodes: usize) -> Vec<Vec<Heat>> {
    lines.iter().map(|l| l.legs.iter().map(|leg| Heat::new(&leg.body, nodes)).collect()).collect()
}

/// The right-hand side during one leg.
pub(crate) struct System<'a> {
    slopes: &'a Slopes<'a>,
    heat: &'a Heat,
    air: &'a Surroundings,
    /// Place warmer than written, K.
    warmer: f64,
    /// Hour of the day and hours in the place, as the leg begins.
    hour: f64,
    since: f64,
    /// Where the search for the pH starts.
    ph: &'a Cell<f64>,
    /// How often the rates were asked for.
    calls: &'a Cell<u64>,
}

impl System<'_> {
    /// Its constants, for the script.
    pub(crate) fn told(&self) -> Value {
        let heat = self.heat;
        json!({
            "shares": heat.shares,
            "inwards": heat.inwards,
            "outwards": heat.outwards,
            "warms": heat.warms,
            "warmer": self.warmer,
            "hour": self.hour,
            "since": self.since,
        })
    }

    /// How many states there are.
    fn len(&self) -> usize {
        FERMENTATION + self.heat.shares.len()
    }

    /// Change of the fermentation, 1/h, and the warming by it, K/h.
    fn ferments(&self, state: &[f64], mean: f64) -> ([f64; FERMENTATION], f64) {
        let mut of = [0.0; FERMENTATION];
        of.copy_from_slice(&state[..FERMENTATION]);
        let mut ph = self.ph.get();
        let change = self.slopes.at(&State::from_array(of), Celsius(mean), &mut ph);
        self.ph.set(ph);
        self.calls.set(self.calls.get() + 1);
        (change.array(), heat_of_fermentation(change.co2_made) * self.heat.warms)
    }

    /// Change of all states, 1/h.
    pub(crate) fn change(&self, hours: f64, state: &[f64], change: &mut [f64]) {
        let heat = self.heat;
        let temps = &state[FERMENTATION..];
        let (fermentation, warming) = self.ferments(state, heat.mean(temps));
        change[..FERMENTATION].copy_from_slice(&fermentation);
        let air = self.air.at(self.hour + hours, Hours(self.since + hours)).0 + self.warmer;
        let mut inner = temps[0];
        let nodes = heat.inwards.iter().zip(&heat.outwards).zip(temps);
        for (i, ((inwards, outwards), &t)) in nodes.enumerate() {
            let outer = temps.get(i + 1).copied().unwrap_or(air);
            change[FERMENTATION + i] = (inner - t) * inwards + (outer - t) * outwards + warming;
            inner = t;
        }
    }

    /// The matrix of derivatives, column by column. Conduction is linear and known; of the rest
    /// only what acts back is tried out, and the temperatures act by their mean.
    pub(crate) fn jacobian(&self, state: &[f64], columns: &mut [f64]) {
        let n = self.len();
        let heat = self.heat;
        let mean = heat.mean(&state[FERMENTATION..]);
        columns.fill(0.0);
        let (base, warm) = self.ferments(state, mean);
        let mut tried = [0.0; FERMENTATION];
        tried.copy_from_slice(&state[..FERMENTATION]);
        let step_from = |x: f64| 1e-7 * x.abs().max(1e-3);
        for j in ACTING {
            let step = step_from(tried[j]);
            tried[j] += step;
            let (change, warmer) = self.ferments(&tried, mean);
            tried[j] = state[j];
            let column = &mut columns[j * n..(j + 1) * n];
            for (c, (a, b)) in column.iter_mut().zip(change.iter().zip(&base)) {
                *c = (a - b) / step;
            }
            column[FERMENTATION..].fill((warmer - warm) / step);
        }
        let step = step_from(mean);
        let (change, warmer) = self.ferments(state, mean + step);
        for (i, share) in heat.shares.iter().enumerate() {
            let column = &mut columns[(FERMENTATION + i) * n..(FERMENTATION + i + 1) * n];
            for (c, (a, b)) in column.iter_mut().zip(change.iter().zip(&base)) {
                *c = share * (a - b) / step;
            }
            let of = &mut column[FERMENTATION..];
            of.fill(share * (warmer - warm) / step);
            of[i] -= heat.inwards[i] + heat.outwards[i];
            if i > 0 {
                of[i - 1] += heat.outwards[i - 1];
            }
            if i + 1 < of.len() {
                of[i + 1] += heat.inwards[i + 1];
            }
        }
    }
}

/// States of fermentation that act on anything: not alcohol, and not gas made and lost so far.
const ACTING: [usize; FERMENTATION - 3] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 14, 15];

/// A dough that was integrated.
pub(crate) struct Walked {
    /// Against what the legs end with.
    pub(crate) errors: Errors,
    /// How often the rates were asked for.
    pub(crate) calls: u64,
    /// At the end of every leg of every line.
    pub(crate) readings: Vec<Vec<Reading>>,
}

impl Walked {
    /// The lines with these readings instead of what they ended with.
    pub(crate) fn instead(&self, lines: &[Line]) -> Vec<Line> {
        let mut lines = lines.to_vec();
        for (line, readings) in lines.iter_mut().zip(&self.readings) {
            for (leg, reading) in line.legs.iter_mut().zip(readings) {
                leg.ends = *reading;
            }
        }
        lines
    }
}

/// One dough from its levain on, mixing included. `integrate` brings the states from the beginning
/// of a leg to its end.
pub(crate) fn walk(
    setting: &Setting<'_>,
    i: usize,
    lines: &[Line],
    heats: &[Vec<Heat>],
    mut integrate: impl FnMut(&System<'_>, f64, &mut [f64]) -> Result<(), String>,
) -> Result<Walked, String> {
    let draw = kitchen(i, 1.0);
    let mut errors = Errors::default();
    let calls = Cell::new(0);
    let mut readings = Vec::new();
    let mut ripe: Vec<Lump> = Vec::new();
    for (line, heats) in lines.iter().zip(heats) {
        let mut lump = if ripe.is_empty() {
            line.mixed.clone()
        } else {
            setting.mix_dough(line.step, &ripe, line.from_min, &draw).map_err(say)?
        };
        let made = lump.dough.clone();
        let slopes = made.slopes();
        let mut dough: Dough = made.clone();
        let ph = Cell::new(dough.ph().0);
        let mut mean = lump.body.mean().0;
        let mut state: Vec<f64> = dough.state.array().into();
        let mut place = None;
        let mut of_line = Vec::new();
        let mut since_min = line.from_min;
        for (leg, heat) in line.legs.iter().zip(heats) {
            if place != Some(leg.place) {
                (place, since_min) = (Some(leg.place), leg.begins_min());
            }
            dough.degas(leg.lost, Celsius(mean));
            state[..FERMENTATION].copy_from_slice(&dough.state.array());
            if leg.levelled || state.len() == FERMENTATION {
                state.resize(FERMENTATION + heat.shares.len(), mean);
                state[FERMENTATION..].fill(mean);
            }
            if leg.hours > 0.0 {
                let system = System {
                    slopes: &slopes,
                    heat,
                    air: &leg.air,
                    warmer: leg.warmer,
                    hour: setting.calendar.hour_of_day(leg.begins_min()),
                    since: (leg.begins_min() - since_min) / 60.0,
                    ph: &ph,
                    calls: &calls,
                };
                integrate(&system, leg.hours, &mut state)?;
                let mut of = [0.0; FERMENTATION];
                of.copy_from_slice(&state[..FERMENTATION]);
                dough.state = State::from_array(of);
            }
            mean = heat.mean(&state[FERMENTATION..]);
            let temp = Celsius(mean);
            let volume = dough.volume_l_per_kg(temp);
            let read = Reading { volume, rise: dough.rise(temp).0, ph: dough.ph().0 };
            errors.take(line, leg, read);
            of_line.push(read);
            if leg.marks {
                dough.mark(temp);
            }
        }
        lump.dough = dough;
        lump.body.set_uniform(Celsius(mean));
        readings.push(of_line);
        ripe.push(lump);
    }
    Ok(Walked { errors, calls: calls.get(), readings })
}

impl Leg {
    fn begins_min(&self) -> f64 {
        self.to_min - self.hours * 60.0
    }
}
