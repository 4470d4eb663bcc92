//! A body of dough that ferments where it stands.

use super::Setting;
use crate::ferment::Dough;
use crate::method::{Cue, End, POKE_RISE, Place, Step, Verb, Window};
use crate::properties::DoughThermal;
use crate::recipe::PieceShape;
use crate::warmth::{Around, Body, Shape, Surroundings, Vessel, heat_of_fermentation};
use quantity::{Celsius, Grams, Hours, Millimetres, Percent};

/// Longest step of time, min: 0.25 h keeps rise, pH and readiness within 0.1 %.
pub const MAX_STEP_MIN: f64 = 15.0;

/// Dough with its temperature, where it stands.
#[derive(Debug, Clone)]
pub struct Lump {
    /// Chemistry and life.
    pub dough: Dough,
    /// Temperature inside.
    pub body: Body,
    /// Where it stands.
    pub place: Place,
    /// Since when, elapsed minutes.
    pub since_min: f64,
    around: Surroundings,
    /// Gas being made at the start of the last two steps, mmol/(kg h), and the last step's length.
    rate: Option<(f64, f64)>,
    /// Highest volume since mixing, L/kg: a levain past it is past its peak.
    pub top: f64,
    /// Volume at mixing, L/kg.
    pub mixed_volume: f64,
}

impl Lump {
    pub(super) fn new(
        setting: &Setting<'_>,
        dough: Dough,
        mass: Grams,
        step: &Step,
        temp: Celsius,
        at_min: f64,
    ) -> Self {
        let vessel = step.vessel.unwrap_or_default();
        let shape = shape_in(setting, vessel);
        let volume = dough.volume_l_per_kg(temp);
        Self {
            body: Body::new(mass, vessel, shape, temp, DoughThermal::LIGHTLY_RISEN),
            place: step.place,
            since_min: at_min,
            around: setting.surroundings(step.place, mass, at_min),
            rate: None,
            top: volume,
            mixed_volume: volume,
            dough,
        }
    }

    /// A step begins: the dough is handled and put where it belongs.
    pub fn begin(&mut self, setting: &Setting<'_>, step: &Step, at_min: f64) {
        let lost = step.verb.gas_lost();
        if lost > 0.0 {
            self.dough.degas(lost, self.body.mean());
        }
        let vessel = step.vessel.unwrap_or(match step.verb {
            Verb::Divide => Vessel::Bench,
            _ => self.body.vessel(),
        });
        let mass = self.body.mass();
        match step.verb {
            // handling mixes: one temperature all through
            Verb::Divide | Verb::Shape => {
                let piece = mass.min(setting.recipe.yields.piece);
                self.body.resize(piece, vessel, shape_in(setting, vessel));
            }
            Verb::Preshape | Verb::Fold => self.body.set_uniform(self.body.mean()),
            _ if vessel != self.body.vessel() => {
                self.body.resize(mass, vessel, shape_in(setting, vessel));
            }
            _ => {}
        }
        if step.place != self.place && !step.verb.in_oven() {
            self.place = step.place;
            self.since_min = at_min;
            self.around = setting.surroundings(step.place, self.body.mass(), at_min);
        }
    }

    /// A step is over: a shaped piece is the measure of its own proof.
    pub fn finish(&mut self, step: &Step) {
        if step.verb == Verb::Shape {
            self.dough.mark(self.body.mean());
        }
    }

    /// Stands from one elapsed minute to another; `see` is shown every step of at most `every`.
    pub fn rest(
        &mut self,
        setting: &Setting<'_>,
        from_min: f64,
        to_min: f64,
        every: f64,
        mut see: impl FnMut(f64, &Self),
    ) {
        let span = to_min - from_min;
        if span.is_nan() || span <= 0.0 {
            return;
        }
        let steps = (span / every.clamp(0.1, MAX_STEP_MIN) - 1e-9).ceil().max(1.0);
        let dt = span / steps;
        for i in 0..steps as u64 {
            let t = from_min + i as f64 * dt;
            self.advance(setting, t, dt);
            see(t + dt, self);
        }
    }

    /// One step of time: warmth in two halves, then the dough along it.
    fn advance(&mut self, setting: &Setting<'_>, at_min: f64, dt_min: f64) {
        let hours = dt_min / 60.0;
        let hour = setting.calendar.hour_of_day(at_min);
        let around: Around =
            self.around.over(hour, Hours((at_min - self.since_min) / 60.0), Hours(hours));
        let start = self.body.mean();
        let rate = self.dough.co2_rate(start);
        // gas rate at the middle of this step, from this one and the last
        let mid_rate = match self.rate {
            Some((before, length)) if length > 0.0 => {
                (rate + (rate - before) * 0.5 * (dt_min / length)).max(0.0)
            }
            _ => rate,
        };
        self.rate = Some((rate, dt_min));
        let heat = heat_of_fermentation(mid_rate);
        let half = Hours(hours / 2.0);
        let (first, second) = halves(&around);
        self.body.step(half, first, heat);
        let mid = self.body.mean();
        self.body.step(half, second, heat);
        let end = self.body.mean();
        self.dough.step(Hours(hours), start, mid, end);
        self.top = self.top.max(self.volume());
    }

    /// Volume now, L/kg.
    pub fn volume(&self) -> f64 {
        self.dough.volume_l_per_kg(self.body.mean())
    }

    /// Growth since mixing or shaping.
    pub fn rise(&self) -> Percent {
        self.dough.rise(self.body.mean())
    }

    /// Where a cue stands: at 0 and above it is reached.
    fn past(&self, cue: Cue, warming: bool) -> f64 {
        match cue {
            Cue::Rise(r) => (self.rise() - r).0,
            Cue::Poke => (self.rise() - POKE_RISE.1).0,
            Cue::Acid(p) => p.0 - self.dough.ph().0,
            Cue::Core(c) if warming => (self.body.core() - c).0,
            Cue::Core(c) => (c - self.body.core()).0,
            Cue::Ripe => f64::NEG_INFINITY, // a peak is seen only once it is past: `rest_until`
        }
    }

    /// Stands until the step's cue, within its least and most; returns the minute, whole.
    pub fn rest_until(&mut self, setting: &Setting<'_>, step: &Step, from_min: f64) -> f64 {
        let End::Cue { cue, least, most } = step.end else {
            return from_min;
        };
        if least.0 > 0.0 {
            self.rest(setting, from_min, from_min + least.0, MAX_STEP_MIN, |_, _| {});
        }
        let end = from_min + most.0;
        let mut t = from_min + least.0;
        let warming = match cue {
            Cue::Core(c) => self.body.core() < c,
            _ => false,
        };
        if cue == Cue::Ripe {
            // the peak: the first minute after which the volume falls
            while t < end {
                let dt = MAX_STEP_MIN.min(end - t);
                let mut next = self.clone();
                next.advance(setting, t, dt);
                let fell = next.volume() < self.volume() && next.top > 1.1 * next.mixed_volume;
                *self = next;
                t += dt;
                if fell {
                    break;
                }
            }
            return t;
        }
        if self.past(cue, warming) >= 0.0 {
            return t;
        }
        while t < end {
            let dt = MAX_STEP_MIN.min(end - t);
            let mut next = self.clone();
            next.advance(setting, t, dt);
            if next.past(cue, warming) >= 0.0 {
                // the minute in between, by halving; then walk there in one step
                let (mut lo, mut hi) = (0.0, dt);
                while hi - lo > 0.5 {
                    let mid = f64::midpoint(lo, hi);
                    let mut probe = self.clone();
                    probe.advance(setting, t, mid);
                    if probe.past(cue, warming) >= 0.0 { hi = mid } else { lo = mid }
                }
                let minute = (t + hi).ceil().min(end);
                self.advance(setting, t, minute - t);
                return minute;
            }
            *self = next;
            t += dt;
        }
        end
    }

    /// Where a window's measure stands.
    pub fn measure(&self, window: Window) -> f64 {
        match window {
            Window::Rise(..) => self.rise().0,
            Window::Acid(..) => self.dough.ph().0,
            Window::Core(..) => self.body.core().0,
        }
    }
}

/// An air temperature's first and second half.
fn halves(a: &Around) -> (Around, Around) {
    let at = |x: f64| Celsius(a.at(x));
    (
        Around { start: a.start, mid: at(0.25), end: a.mid },
        Around { start: a.mid, mid: at(0.75), end: a.end },
    )
}

/// The shape a vessel gives this recipe's dough.
fn shape_in(setting: &Setting<'_>, vessel: Vessel) -> Shape {
    let y = &setting.recipe.yields;
    let (length, width) = y.footprint();
    match (vessel, y.shape) {
        (Vessel::Jar | Vessel::Tub | Vessel::Bowl | Vessel::Exactly(_), _) => Shape::Lump,
        (_, PieceShape::Batard | PieceShape::Baguette) => Shape::Log { length },
        // proofed, a round piece is narrower than baked
        (_, PieceShape::Boule | PieceShape::Roll) => {
            Shape::Boule { width: Millimetres(width.0 * 0.9) }
        }
        (_, PieceShape::Pan) => Shape::Tin { length, width },
    }
}
