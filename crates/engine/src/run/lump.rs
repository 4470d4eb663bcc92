//! A body of dough that ferments where it stands, or several side by side.

use super::{Draw, Setting};
use crate::ferment::Dough;
use crate::method::{Cue, End, POKE_RISE, Place, Step, Verb, Window};
use crate::numerics::lanes::{Event, Lanes, Mask};
use crate::properties::DoughThermal;
use crate::recipe::PieceShape;
use crate::warmth::{Body, Shape, Surroundings, Vessel, heat_of_fermentation};
use quantity::{Grams, Millimetres, Percent};

/// Longest step of time, min: 0.25 h keeps rise, pH and readiness within 0.1 %.
pub const MAX_STEP_MIN: f64 = 15.0;

/// Dough with its temperature, where it stands.
#[derive(Debug, Clone)]
pub struct Lump<L = f64> {
    /// Chemistry and life.
    pub dough: Dough<L>,
    /// Temperature inside.
    pub body: Body<L>,
    /// Where it stands.
    pub place: Place,
    /// Since when, elapsed minutes.
    pub since_min: L,
    around: Surroundings,
    /// Place warmer than written, K.
    warmer: L,
    /// How this kitchen differs from the one written down.
    draw: Draw<L>,
    /// Gas being made at the start of the last step, mmol/(kg h), and its length.
    rate: Option<(L, L)>,
    /// Volume at mixing, L/kg.
    pub mixed_volume: L,
    /// Longest step of time, min.
    pub(super) longest_min: f64,
}

impl<L: Lanes> Lump<L> {
    pub(super) fn new(
        setting: &Setting<'_>,
        dough: Dough<L>,
        mass: Grams,
        step: &Step,
        temp: L,
        at_min: L,
        draw: &Draw<L>,
    ) -> Self {
        let vessel = step.vessel.unwrap_or_default();
        let shape = shape_in(setting, vessel);
        let thermal = DoughThermal::LIGHTLY_RISEN;
        let body = L::with(
            #[inline(always)]
            || Body::lanes(mass, vessel, shape, temp, thermal, draw.vessel),
        );
        let volume = L::with(
            #[inline(always)]
            || dough.volume_at(temp),
        );
        Self {
            body,
            place: step.place,
            since_min: at_min,
            around: setting.surroundings(step.place, mass, at_min.lane(0)),
            warmer: warmer(draw, step.place),
            draw: *draw,
            rate: None,
            mixed_volume: volume,
            longest_min: draw.longest_min,
            dough,
        }
    }

    /// A step begins: the dough is handled and put where it belongs.
    pub fn begin(&mut self, setting: &Setting<'_>, step: &Step, at_min: L) {
        let lost = step.verb.gas_lost();
        if lost > 0.0 {
            L::with(
                #[inline(always)]
                || self.dough.degas_at(lost, self.body.mean_deg_c()),
            );
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
                L::with(
                    #[inline(always)]
                    || self.body.resize(piece, vessel, shape_in(setting, vessel)),
                );
            }
            Verb::Preshape | Verb::Fold => {
                L::with(
                    #[inline(always)]
                    || self.body.level(self.body.mean_deg_c()),
                );
            }
            _ if vessel != self.body.vessel() => {
                L::with(
                    #[inline(always)]
                    || self.body.resize(mass, vessel, shape_in(setting, vessel)),
                );
            }
            _ => {}
        }
        if step.place != self.place && !step.verb.in_oven() {
            self.place = step.place;
            self.since_min = at_min;
            self.around = setting.surroundings(step.place, self.body.mass(), at_min.lane(0));
            self.warmer = warmer(&self.draw, step.place);
        }
    }

    /// A step is over: a shaped piece is the measure of its own proof.
    pub fn finish(&mut self, step: &Step) {
        if step.verb == Verb::Shape {
            L::with(
                #[inline(always)]
                || self.dough.mark_at(self.body.mean_deg_c()),
            );
        }
    }

    /// Stands from one elapsed minute to another; `see` is shown every step of at most `every`.
    pub fn rest(
        &mut self,
        setting: &Setting<'_>,
        from_min: L,
        to_min: L,
        every: f64,
        mut see: impl FnMut(L, &Self),
    ) {
        let (zero, one) = (L::splat(0.0), L::splat(1.0));
        let span = to_min - from_min;
        let going = span.above(zero);
        let steps = (span / every.clamp(0.1, self.longest_min) - 1e-9).ceiling();
        let steps = L::select(going, steps.larger(one), zero);
        let dt = L::select(going, span / steps.larger(one), zero);
        let most = (0..L::N).map(|i| steps.lane(i)).fold(0.0, f64::max);
        let mut done = 0.0;
        while done < most {
            let active = L::splat(done).below(steps);
            let t = from_min + dt * done;
            self.advance(setting, t, L::select(active, dt, zero));
            see(L::select(active, t + dt, to_min), self);
            done += 1.0;
        }
    }

    /// One step of time: warmth in two halves, then the dough along it. Lanes with no step stand
    /// still.
    #[inline(never)]
    fn advance(&mut self, setting: &Setting<'_>, at_min: L, dt_min: L) {
        L::with(
            #[inline(always)]
            || self.advance_here(setting, at_min, dt_min),
        );
    }

    #[inline(always)]
    fn advance_here(&mut self, setting: &Setting<'_>, at_min: L, dt_min: L) {
        L::happens(Event::Step);
        let zero = L::splat(0.0);
        let going = dt_min.above(zero);
        let hours = dt_min * (1.0 / 60.0);
        let hour = || at_min.map(|t| setting.calendar.hour_of_day(t));
        let mut around = self.around.around(hour, (at_min - self.since_min) * (1.0 / 60.0), hours);
        around.start += self.warmer;
        around.mid += self.warmer;
        around.end += self.warmer;
        let start = self.body.mean_deg_c();
        let underway = self.dough.underway(start);
        let rate = underway.co2_rate();
        // gas rate at the middle of this step, from this one and the last
        let (mid_rate, kept) = match self.rate {
            Some((before, length)) => {
                let ahead = rate + (rate - before) * 0.5 * (dt_min / length);
                let known = length.above(zero);
                let mid = L::select(known, ahead.at_least(0.0), rate);
                (mid, (L::select(going, rate, before), L::select(going, dt_min, length)))
            }
            None => (rate, (rate, dt_min)),
        };
        self.rate = Some(kept);
        let heat = heat_of_fermentation(mid_rate);
        let half = hours * 0.5;
        let (first, second) = around.halves();
        self.body.advance(half, &first, heat);
        let mid = self.body.mean_deg_c();
        self.body.advance(half, &second, heat);
        let end = self.body.mean_deg_c();
        let arrived = underway.after(hours, [start, mid, end]);
        self.dough.arrive(arrived);
    }

    /// Goes back to `before` in the lanes of the mask.
    fn keep(&mut self, mask: L::Mask, before: &Self) {
        self.dough.keep(mask, &before.dough);
        self.body.keep(mask, &before.body);
        self.rate = match (self.rate, before.rate) {
            (Some((r, l)), Some((s, m))) => Some((L::select(mask, s, r), L::select(mask, m, l))),
            (now, None) => now.map(|(r, l)| (r, L::select(mask, L::splat(0.0), l))),
            (None, then) => then,
        };
    }

    /// Mean temperature as this kitchen's thermometer shows it, °C.
    pub(crate) fn as_read(&self) -> L {
        L::with(
            #[inline(always)]
            || self.body.mean_deg_c() + self.draw.thermometer,
        )
    }

    /// Volume now, L/kg.
    pub fn volume(&self) -> L {
        L::with(
            #[inline(always)]
            || self.dough.volume_at(self.body.mean_deg_c()),
        )
    }

    /// Growth since mixing or shaping, %.
    pub(crate) fn rise_percent(&self) -> L {
        L::with(
            #[inline(always)]
            || self.dough.rise_at(self.body.mean_deg_c()),
        )
    }

    /// Mean temperature, °C.
    pub(crate) fn mean_deg_c(&self) -> L {
        L::with(
            #[inline(always)]
            || self.body.mean_deg_c(),
        )
    }

    /// Gas lost per gas made.
    pub(crate) fn gas_loss(&self) -> L {
        L::with(
            #[inline(always)]
            || self.dough.gas_loss_share_at(self.body.mean_deg_c()),
        )
    }

    /// Acidity.
    pub(crate) fn acidity(&self) -> L {
        L::with(
            #[inline(always)]
            || self.dough.acidity_now(),
        )
    }

    /// Where a cue stands, as the baker judges it: at 0 and above it is reached.
    fn past(&self, cue: Cue, warming: L::Mask) -> L {
        match cue {
            Cue::Rise(r) => self.rise_percent() - self.draw.judgement * r.0,
            Cue::Poke => self.rise_percent() - self.draw.judgement * POKE_RISE.1.0,
            Cue::Acid(p) => -self.acidity() + p.0,
            Cue::Core(c) => {
                let over = self.body.core_deg_c() + self.draw.thermometer - c.0;
                L::select(warming, over, -over)
            }
            Cue::Ripe => L::splat(f64::NEG_INFINITY), // seen only once it is past: `rest_until`
        }
    }

    /// Stands until the step's cue, within its least and most; returns the minute, whole.
    pub fn rest_until(&mut self, setting: &Setting<'_>, step: &Step, from_min: L) -> L {
        let End::Cue { cue, least, most } = step.end else {
            return from_min;
        };
        let zero = L::splat(0.0);
        let mut t = from_min + least.0;
        if least.0 > 0.0 {
            self.rest(setting, from_min, t, self.longest_min, |_, _| {});
        }
        let end = from_min + most.0;
        let warming = match cue {
            Cue::Core(c) => (self.body.core_deg_c() + self.draw.thermometer).below(L::splat(c.0)),
            _ => L::Mask::splat(false),
        };
        let mut standing = self.past(cue, warming);
        let mut going = t.below(end) & standing.below(zero);
        while going.any() {
            let left = end - t;
            let dt = left.at_most(self.longest_min);
            let there = L::select(dt.same(left), end, t + dt);
            let before = self.clone();
            self.advance(setting, t, L::select(going, dt, zero));
            if cue == Cue::Ripe {
                // the peak: the first step after which the volume falls
                let was = before.volume();
                let fell = self.volume().below(was) & was.above(self.mixed_volume * 1.1);
                t = L::select(going, there, t);
                going = going & !fell & t.below(end);
                continue;
            }
            let after = self.past(cue, warming);
            let reached = going & !after.below(zero);
            t = L::select(going & !reached, there, t);
            if reached.any() {
                // the minute in between; a straight line is right to a third of a minute
                let into = dt * (standing / (standing - after));
                let minute = (t + into - 1e-9).ceiling().smaller(end).larger(t);
                let mut again = before;
                again.advance(setting, t, L::select(reached, minute - t, zero));
                self.keep(reached, &again);
                t = L::select(reached, minute, t);
            }
            standing = after;
            going = going & !reached & t.below(end);
        }
        t
    }

    /// Where a window's measure stands.
    pub fn measure(&self, window: Window) -> L {
        match window {
            Window::Rise(..) => self.rise_percent(),
            Window::Acid(..) => self.acidity(),
            Window::Core(..) => self.body.core_deg_c(),
        }
    }
}

impl Lump {
    /// Growth since mixing or shaping.
    pub fn rise(&self) -> Percent {
        Percent(self.rise_percent())
    }
}

/// A place warmer than written, K.
fn warmer<L: Lanes>(draw: &Draw<L>, place: Place) -> L {
    match place {
        Place::Room | Place::OvenOff | Place::Oven => draw.room,
        Place::Fridge => draw.fridge,
        Place::Proofer => L::splat(0.0),
    }
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
