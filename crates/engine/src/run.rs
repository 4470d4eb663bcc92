//! One recipe walked through one kitchen: the [`Trace`].
//!
//! Dough and warmth advance together: the body of dough gives the temperature at the
//! start, middle and end of a step of time, the dough ferments along it, and the heat
//! of its gas goes back into the body (extrapolated from the two steps before, so the
//! coupling is of second order; `a_third_of_the_step_changes_nothing` shows the error).
//! The dough ferments at its mean temperature; core and mean are both reported.

mod draw;
mod lump;
mod oven;
mod trace;
mod walk;

pub use draw::Draw;
pub use lump::{Lump, MAX_STEP_MIN};
pub use oven::{Loaded, Loads, Suggestion};
pub use trace::{Line, Note, Sample, Span, TIRED, Trace, WaterUse};
pub(crate) use trace::{from_one, past_best};
use walk::{ByGuide, UpTo};
pub use walk::{Guide, Rule};
pub(crate) use walk::{Making, Told, Walker};

use crate::culture::Culture;
use crate::ferment::{Dough, Mix, MixError, Other};
use crate::flour::{Flour, Grain};
use crate::formula::{Amounts, BuildSheet, FormulaError, Sheet};
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
use crate::method::{End, Path, Place, Step, Verb};
use crate::mix::{
    Batch, CULTURE_HARM, NoWater, Part, Supply, WATER_CP, WaterPlan, flour_cp, melting,
};
use crate::numerics::lanes::{Lanes, Mask, exp, ln};
use crate::parameters::ParameterSet;
use crate::properties::pressure_at;
use crate::recipe::Recipe;
use crate::warmth::{Profile, ProfileError, Surroundings};
use quantity::{Celsius, Grams, Hours, Kilopascal, Minutes, Percent};
use std::fmt;

/// A recipe in a kitchen: everything a run needs that does not change.
#[derive(Debug, Clone)]
pub struct Setting<'a> {
    /// The recipe.
    pub recipe: &'a Recipe,
    /// The kitchen.
    pub kitchen: &'a Kitchen,
    /// Parameters of the dough model.
    pub set: &'a ParameterSet,
    /// Weights of this batch, as weighed.
    pub sheet: Sheet,
    /// Local time for elapsed minutes.
    pub calendar: Calendar,
    room: Profile,
    pressure: Kilopascal,
    seed: Dough,
}

/// Why a run cannot start.
#[derive(Debug, Clone, PartialEq)]
pub enum RunError {
    /// The formula does not fit together.
    Formula(FormulaError),
    /// The dough or a preferment cannot be mixed.
    Mix(MixError),
    /// The room's temperatures are no day.
    Room(ProfileError),
    /// A step is to happen in a proofing box the kitchen does not have.
    NoProofer {
        /// Which step, from 1.
        step: usize,
    },
}

impl fmt::Display for RunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Formula(e) => e.fmt(f),
            Self::Mix(e) => e.fmt(f),
            Self::Room(e) => e.fmt(f),
            Self::NoProofer { step } => {
                write!(
                    f,
                    "step {step} wants a proofing box, the kitchen has none (add proofer = \"28 °C\")"
                )
            }
        }
    }
}
impl std::error::Error for RunError {}
impl From<FormulaError> for RunError {
    fn from(e: FormulaError) -> Self {
        Self::Formula(e)
    }
}
impl From<MixError> for RunError {
    fn from(e: MixError) -> Self {
        Self::Mix(e)
    }
}

/// When each step begins and ends, elapsed minutes; steps of the path, in no order.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Choices made.
    pub path: Path,
    /// Step index, begin, end.
    pub spans: Vec<Span>,
}

impl Schedule {
    /// The span of a step.
    pub fn of(&self, step: usize) -> Option<Span> {
        self.spans.iter().copied().find(|s| s.step == step)
    }
    /// When the bread is ready.
    pub fn ready(&self) -> f64 {
        self.spans.iter().map(|s| s.to).fold(0.0, f64::max)
    }
    /// When the first hand is needed.
    pub fn begins(&self) -> f64 {
        self.spans.iter().map(|s| s.from).fold(f64::INFINITY, f64::min)
    }
}

impl<'a> Setting<'a> {
    /// Puts a recipe into a kitchen.
    ///
    /// # Errors
    /// [`RunError`], see its variants.
    pub fn new(
        recipe: &'a Recipe,
        kitchen: &'a Kitchen,
        set: &'a ParameterSet,
        total_flour: Grams,
        calendar: Calendar,
    ) -> Result<Self, RunError> {
        let sheet =
            recipe.formula.sheet(total_flour)?.rounded(kitchen.scale.step, kitchen.scale.fine);
        let room = Profile::new(&kitchen.room).map_err(RunError::Room)?;
        if kitchen.proofer.is_none()
            && let Some(i) = recipe.method.steps.iter().position(|s| s.place == Place::Proofer)
        {
            return Err(RunError::NoProofer { step: i + 1 });
        }
        let pressure = pressure_at(kitchen.altitude);
        let kept = &kitchen.culture;
        let mut flour = Flour::white("starter");
        flour.ash = kept.ash;
        if kept.rye {
            flour.grain = Grain::Rye;
        }
        let culture = Culture {
            flours: vec![(flour, Percent(100.0))],
            hydration: kept.hydration,
            fridge_days: kept.fridge_days,
            fridge: kitchen.fridge.air,
            feeds: Vec::new(),
            yeast_vigour: kept.yeast_vigour,
            lab_vigour: kept.lab_vigour,
            pressure,
        };
        let seed = culture.dough(set)?;
        Ok(Self { recipe, kitchen, set, sheet, calendar, room, pressure, seed })
    }

    fn step(&self, i: usize) -> &Step {
        &self.recipe.method.steps[i]
    }

    /// Air around a dough put to a place.
    fn surroundings(&self, place: Place, mass: Grams, at_min: f64) -> Surroundings {
        match place {
            Place::Room => Surroundings::Room(self.room.clone()),
            Place::Fridge => {
                let f = &self.kitchen.fridge;
                Surroundings::Fridge {
                    mean: f.air,
                    warms_by: f.warms_by * (mass.0 / 1000.0).min(3.0),
                    settles: f.settles_in,
                }
            }
            // a recipe with a proofer in a kitchen without one was refused in `new`
            Place::Proofer => Surroundings::Proofer(self.kitchen.proofer.unwrap_or(Celsius(26.0))),
            // Warmed for a minute, then off; our assumption, a home oven loses it in 1 to 2 h.
            Place::OvenOff | Place::Oven => Surroundings::OvenOff {
                start: Celsius(30.0),
                room: self.room.at(self.calendar.hour_of_day(at_min)),
                settles: Hours(1.5),
            },
        }
    }

    /// Room air at an elapsed minute.
    pub fn room_at(&self, at_min: f64) -> Celsius {
        self.room.at(self.calendar.hour_of_day(at_min))
    }

    /// The starter as it comes: from the fridge when it is kept there, else the room's.
    fn seed_temperature(&self, at_min: f64) -> Celsius {
        if self.kitchen.culture.fridge_days > 0.0 {
            self.kitchen.fridge.air
        } else {
            self.room_at(at_min)
        }
    }

    /// The batch as the water sees it: flour, salt, yeast and others at hand, preferments as they are.
    fn batch(
        &self,
        fresh: &Amounts,
        ripe: &[(Grams, Celsius)],
        water: Grams,
        at_min: f64,
    ) -> Batch {
        let room = self.room_at(at_min);
        let bin = self.kitchen.flour.unwrap_or(room);
        let f = &self.recipe.formula;
        let mut parts: Vec<Part> = f
            .flours
            .iter()
            .zip(&fresh.flours)
            .map(|(x, g)| Part::flour(*g, bin, &x.flour))
            .collect();
        parts.push(Part::salt(fresh.salt, room));
        for (o, g) in f.others.iter().zip(&fresh.others) {
            parts.push(Part::other(*g, room, o.water));
        }
        parts.extend(ripe.iter().map(|(mass, temp)| preferment_part(*mass, *temp)));
        Batch { parts, water, room, mixing_heat: self.kitchen.mixer.heat }
    }

    /// Heat of everything but water and preferments, and what it would take to warm it by a
    /// kelvin: J and J/K; in a kitchen as drawn.
    fn dry_heat<L: Lanes>(&self, fresh: &Amounts, at_min: L, draw: &Draw<L>) -> (L, f64) {
        let room = at_min.map(|t| self.room_at(t).0) + draw.room;
        let bin = self.kitchen.flour.map_or(room, |t| L::splat(t.0));
        let f = &self.recipe.formula;
        let flour: f64 = f
            .flours
            .iter()
            .zip(&fresh.flours)
            .map(|(x, g)| Part::flour(*g, Celsius(0.0), &x.flour).capacity())
            .sum();
        let other: f64 = f
            .others
            .iter()
            .zip(&fresh.others)
            .map(|(o, g)| Part::other(*g, Celsius(0.0), o.water).capacity())
            .sum::<f64>()
            + Part::salt(fresh.salt, Celsius(0.0)).capacity();
        (bin * flour + room * other, flour + other)
    }

    /// Coldest and hottest water there is that does not harm a culture, °C; ice counts as the
    /// water so cold that would take the same heat.
    fn pourable(&self, cultured: bool) -> (f64, f64) {
        let w = &self.kitchen.water;
        let coldest = w.ice.map_or(w.cold.0, |ice| -melting(ice) / WATER_CP);
        (coldest, if cultured { CULTURE_HARM.0 } else { 95.0 }.max(coldest))
    }

    /// Dough temperature, °C, with water as warm as is wanted for it, or the nearest there is
    /// that does not harm a culture.
    fn mixed_temperature<L: Lanes>(
        &self,
        wanted: L,
        (heat, capacity): (L, f64),
        water: Grams,
        dough: Grams,
        cultured: bool,
    ) -> L {
        let wet = water.0 / 1000.0 * WATER_CP;
        let heat = heat + self.kitchen.mixer.heat.0 * dough.0 / 1000.0;
        if wet + capacity <= 0.0 {
            return wanted;
        }
        if wet <= 0.0 {
            return heat / capacity; // nothing to pour: the parts decide
        }
        let balance = wanted + (wanted * capacity - heat) / wet;
        let (coldest, hottest) = self.pourable(cultured);
        let poured = balance.within(coldest, hottest);
        let comes_to = (heat + poured * wet) / (capacity + wet);
        L::select(poured.same(balance), wanted, comes_to)
    }

    /// What is mixed at a build or mix step, preferments at the temperature given or the room's;
    /// none for other steps.
    pub fn mixing(&self, step: usize, preferment: Option<Celsius>) -> Option<Batch> {
        let s = self.recipe.method.steps.get(step)?;
        let at = 0.0;
        let ripe_temp = preferment.unwrap_or(self.room_at(at));
        match (s.verb, &s.what) {
            (Verb::Mix, _) => {
                let ripe: Vec<(Grams, Celsius)> = self
                    .sheet
                    .preferments
                    .iter()
                    .map(|p| (p.contents.total(), ripe_temp))
                    .chain(
                        self.sheet.soakers.iter().map(|k| (k.contents.total(), self.room_at(at))),
                    )
                    .collect();
                let a = &self.sheet.final_dough;
                Some(self.batch(a, &ripe, a.water, at))
            }
            (Verb::Build, Some(_)) => {
                let b = self.build_of(step)?;
                let seed_temp = preferment.unwrap_or_else(|| self.seed_temperature(at));
                let ripe: Vec<(Grams, Celsius)> = [(b.seed, seed_temp), (b.previous, ripe_temp)]
                    .into_iter()
                    .filter(|(g, _)| g.0 > 0.0)
                    .collect();
                Some(self.batch(&b.fresh, &ripe, b.fresh.water, at))
            }
            _ => None,
        }
    }

    /// Trade rule, heat balance, taps and ice for a mixing in this kitchen.
    ///
    /// # Errors
    /// [`NoWater`] when no water is left to pour.
    pub fn water_plan(&self, batch: &Batch, wanted: Celsius) -> Result<WaterPlan, NoWater> {
        let w = &self.kitchen.water;
        let supply = Supply { cold: w.cold, hot: Some(w.hot), ice: w.ice, pressure: self.pressure };
        batch.plan(wanted, Some(self.kitchen.mixer.friction), &supply)
    }

    /// What is mixed besides preferments; the temperature comes later.
    fn mix_of(&self, a: &Amounts, soaked: &[&Amounts]) -> Mix {
        let f = &self.recipe.formula;
        let mut water = a.water;
        let mut others: Vec<Grams> = a.others.clone();
        for s in soaked {
            water += s.water;
            for (o, g) in others.iter_mut().zip(&s.others) {
                *o += *g;
            }
        }
        Mix {
            flours: f
                .flours
                .iter()
                .zip(&a.flours)
                .filter(|(_, g)| g.0 > 0.0)
                .map(|(x, g)| (x.flour.clone(), *g))
                .collect(),
            water,
            salt: a.salt,
            fresh_yeast: f.yeast_form.as_fresh(a.yeast),
            others: f
                .others
                .iter()
                .zip(others)
                .filter(|(_, g)| g.0 > 0.0)
                .map(|(o, mass)| Other {
                    mass,
                    water: o.water,
                    fermentable_sugar: o.sugar,
                    density: None,
                })
                .collect(),
            preferments: Vec::new(),
            temperature: Celsius(0.0),
            pressure: self.pressure,
        }
    }

    /// The starter as it comes, in a kitchen as drawn.
    fn seed<L: Lanes>(&self, draw: &Draw<L>) -> Dough<L> {
        let mut seed = Dough::splat(&self.seed);
        let (s, o) = (&mut seed.state, &mut seed.organisms);
        let more = ln(draw.starter_ripeness);
        s.ln_yeast += more;
        s.ln_lab += more;
        s.yeast_readiness *= exp(-draw.starter_lag);
        s.lab_readiness *= exp(-draw.starter_lag);
        o.yeast_vigour *= draw.yeast_vigour;
        o.lab_vigour *= draw.lab_vigour;
        seed
    }

    /// Mixes build `k` of preferment `p` at an elapsed minute, from the build before.
    ///
    /// # Errors
    /// [`MixError`] when there is nothing to mix.
    pub fn mix_build<L: Lanes>(
        &self,
        p: usize,
        k: usize,
        step: usize,
        before: Option<&Lump<L>>,
        at_min: L,
        draw: &Draw<L>,
    ) -> Result<Lump<L>, MixError> {
        let b = &self.sheet.preferments[p].builds[k];
        let s = self.step(step);
        let room = at_min.map(|t| self.room_at(t).0) + draw.room;
        let mut ripe: Vec<(Dough<L>, L)> = Vec::new();
        let (mut heat, mut capacity) = self.dry_heat(&b.fresh, at_min, draw);
        let mut add = |dough: Dough<L>, mass: Grams, temp: L| {
            let part = preferment_part(mass, Celsius(0.0)).capacity();
            heat += temp * part;
            capacity += part;
            ripe.push((dough, draw.scale * mass.0));
        };
        if b.seed.0 > 0.0 {
            let fridge = self.kitchen.culture.fridge_days > 0.0;
            let temp = if fridge { draw.fridge + self.kitchen.fridge.air.0 } else { room };
            add(self.seed(draw), b.seed, temp);
        }
        if let Some(l) = before {
            add(l.dough.clone(), b.previous, l.body.mean_deg_c());
        }
        let wanted = s.temperature.map_or(room, |t| L::splat(t.0));
        let temp = self.mixed_temperature(
            wanted,
            (heat, capacity),
            b.fresh.water,
            b.total(),
            !ripe.is_empty(),
        ) + draw.dough_at_mix;
        let ripe: Vec<(&Dough<L>, L)> = ripe.iter().map(|(d, m)| (d, *m)).collect();
        let mix = self.mix_of(&b.fresh, &[]);
        let dough = L::with(
            #[inline(always)]
            || Dough::mix_with(&mix, &ripe, temp, &draw.sack(), self.set),
        )?;
        Ok(Lump::new(self, dough, b.total(), s, temp, at_min, draw))
    }

    /// Mixes the dough at an elapsed minute from its ripe preferments, in the formula's order.
    ///
    /// # Errors
    /// [`MixError`] when there is nothing to mix.
    pub fn mix_dough<L: Lanes>(
        &self,
        step: usize,
        preferments: &[Lump<L>],
        at_min: L,
        draw: &Draw<L>,
    ) -> Result<Lump<L>, MixError> {
        let s = self.step(step);
        let a = &self.sheet.final_dough;
        let (mut heat, mut capacity) = self.dry_heat(a, at_min, draw);
        let mut ripe = Vec::new();
        let kinds = &self.recipe.formula.preferments;
        for ((l, p), kind) in preferments.iter().zip(&self.sheet.preferments).zip(kinds) {
            let mass = p.contents.total();
            let part = preferment_part(mass, Celsius(0.0)).capacity();
            heat += l.body.mean_deg_c() * part;
            capacity += part;
            let levain = kind.seed.is_some();
            let meant = if levain { draw.inoculation } else { L::splat(1.0) };
            ripe.push((&l.dough, meant * draw.scale * mass.0));
        }
        let room = at_min.map(|t| self.room_at(t).0) + draw.room;
        for k in &self.sheet.soakers {
            let part = preferment_part(k.contents.total(), Celsius(0.0)).capacity();
            heat += room * part;
            capacity += part;
        }
        let wanted = L::splat(s.temperature.unwrap_or(Celsius(25.0)).0);
        let temp =
            self.mixed_temperature(wanted, (heat, capacity), a.water, self.sheet.dough(), true)
                + draw.dough_at_mix;
        let soaked: Vec<&Amounts> = self.sheet.soakers.iter().map(|s| &s.contents).collect();
        let mix = self.mix_of(a, &soaked);
        let dough = L::with(
            #[inline(always)]
            || Dough::mix_with(&mix, &ripe, temp, &draw.sack(), self.set),
        )?;
        Ok(Lump::new(self, dough, self.sheet.dough(), s, temp, at_min, draw))
    }

    /// Water for a mixing step at an elapsed minute, and the dough temperature it gives; none for
    /// other steps.
    fn water_use(
        &self,
        step: usize,
        before: &[&Lump],
        at_min: f64,
        dough: Celsius,
    ) -> Option<WaterUse> {
        let temp = |i: usize| before.get(i).map_or(self.room_at(at_min), |l| l.body.mean());
        let (batch, wanted, cultured) = match self.step(step).verb {
            Verb::Mix => {
                let a = &self.sheet.final_dough;
                let ripe = self.sheet.preferments.iter().enumerate();
                let soaked = self.sheet.soakers.iter();
                let masses: Vec<(Grams, Celsius)> = ripe
                    .map(|(i, p)| (p.contents.total(), temp(i)))
                    .chain(soaked.map(|k| (k.contents.total(), self.room_at(at_min))))
                    .collect();
                let wanted = self.step(step).temperature.unwrap_or(Celsius(25.0));
                (self.batch(a, &masses, a.water, at_min), wanted, true)
            }
            Verb::Build => {
                let b = self.build_of(step)?;
                let mut masses = Vec::new();
                if b.seed.0 > 0.0 {
                    masses.push((b.seed, self.seed_temperature(at_min)));
                }
                if !before.is_empty() {
                    masses.push((b.previous, temp(0)));
                }
                let cultured = !masses.is_empty();
                let wanted = self.step(step).temperature.unwrap_or(self.room_at(at_min));
                (self.batch(&b.fresh, &masses, b.fresh.water, at_min), wanted, cultured)
            }
            _ => return None,
        };
        let (coldest, hottest) = self.pourable(cultured);
        let plan = self.water_plan(&batch, wanted).ok();
        let water = plan.as_ref().map(|p| Celsius(p.balance.0.clamp(coldest, hottest)));
        Some(WaterUse { step, wanted, water, dough, plan })
    }

    /// The build a step makes.
    fn build_of(&self, step: usize) -> Option<&BuildSheet> {
        let what = self.step(step).what.as_ref()?;
        let line = self.recipe.method.side_line(what);
        let k =
            line.iter().filter(|&&i| self.step(i).verb == Verb::Build).position(|&i| i == step)?;
        self.sheet.preferments.iter().find(|p| p.name == *what)?.builds.get(k)
    }

    /// The dough of a schedule at an elapsed minute; none before it is mixed or once it is loaded.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn dough_at(&self, schedule: &Schedule, at_min: f64) -> Result<Option<Lump>, RunError> {
        let load = |s: &Span| self.step(s.step).verb == Verb::Load && s.from <= at_min;
        if schedule.spans.iter().any(load) {
            return Ok(None);
        }
        let dough = self.recipe.formula.preferments.len();
        let walker = |line: usize| {
            // preferments are walked whole: what was mixed took them as they were then
            UpTo { schedule, at_min: if line == dough { at_min } else { f64::INFINITY } }
        };
        Ok(self.walk_all(schedule.path, &Draw::as_written(), walker)?.1)
    }

    /// How many whole pieces this batch makes.
    pub fn pieces(&self) -> u32 {
        let y = &self.recipe.yields;
        let scaled = self.sheet.dough() * (1.0 - y.process_loss.fraction());
        ((scaled / y.piece + 0.02).floor() as u32).max(1)
    }

    /// Follows the method by its cues and usual times, from the first build at elapsed minute
    /// `start`; steps end on whole minutes.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn follow(&self, path: Path, start: f64) -> Result<Schedule, RunError> {
        let method = &self.recipe.method;
        let span = |t: Told<'_, f64>| Span { step: t.step, from: t.from, to: t.to };
        let cues = Guide::cues(method);
        let (lines, _) = self.follow_lanes(path, &cues, start, &Draw::as_written(), span)?;
        let mut spans: Vec<Span> = lines.into_iter().flatten().collect();
        let load = spans.iter().find(|s| self.step(s.step).verb == Verb::Load).copied();
        if let (Some(load), Some(p)) = (load, method.preheat(path)) {
            spans.push(Span { step: p, from: load.from - usual(self.step(p)).0, to: load.from });
        }
        Ok(Schedule { path, spans })
    }

    /// As [`follow`](Self::follow) for several kitchens and by any guide: what `tell` makes of
    /// every step, by line (preferments, soakers, the dough), and the dough at its loading.
    fn follow_lanes<L: Lanes, T>(
        &self,
        path: Path,
        guide: &Guide,
        start: L,
        draw: &Draw<L>,
        tell: impl Fn(Told<'_, L>) -> T,
    ) -> Result<Followed<L, T>, RunError> {
        let mut ripe = self.ripen_lanes(path, guide, start, draw, &tell)?;
        let (told, dough) = self.make_lanes(path, guide, &ripe, draw, &tell)?;
        ripe.told.push(told);
        Ok((ripe.told, dough))
    }

    /// Preferments and soakers by a guide, up to the mixing of the dough.
    pub(crate) fn ripen_lanes<L: Lanes, T>(
        &self,
        path: Path,
        guide: &Guide,
        start: L,
        draw: &Draw<L>,
        tell: &impl Fn(Told<'_, L>) -> T,
    ) -> Result<Ripe<L, T>, RunError> {
        let method = &self.recipe.method;
        let mut told = Vec::new();
        let time = |i: usize| guide.time(i, self.step(i)).0;
        let total = |steps: &[usize]| steps.iter().map(|&i| time(i)).sum::<f64>();
        let before_mix = total(&self.before_mixing(path));
        let lines: Vec<Vec<usize>> =
            self.recipe.formula.preferments.iter().map(|p| method.side_line(&p.name)).collect();
        let soakers: Vec<Vec<usize>> =
            self.recipe.formula.soakers.iter().map(|k| method.side_line(&k.name)).collect();

        // how long each takes from `start`: the slowest decides when the dough is mixed
        let mut mix_at = start + before_mix;
        let mut first = Vec::new();
        for (p, steps) in lines.iter().enumerate() {
            let mut reader = ByGuide::from(start, guide, tell);
            let lump = self.walk(&Making::Preferment(p), steps, &mut reader, draw)?;
            mix_at = mix_at.larger(reader.t);
            first.push((reader, lump));
        }
        for steps in &soakers {
            mix_at = mix_at.larger(start + total(steps));
        }
        // each preferment started later, so that all are ripe together
        let mut lumps = Vec::new();
        for (p, (mut reader, mut lump)) in first.into_iter().enumerate() {
            if !reader.t.same(mix_at).all() {
                reader = ByGuide::from(start + mix_at - reader.t, guide, tell);
                lump = self.walk(&Making::Preferment(p), &lines[p], &mut reader, draw)?;
                if let (Some((step, from, as_read)), Some(l)) = (reader.last, lump.as_mut()) {
                    // a room that changes through the day makes it a little early or late
                    l.rest(self, reader.t, mix_at, l.longest_min, |_, _| {});
                    reader.told.pop();
                    reader.told.push({
                        let lump = Some(&*l);
                        tell(Told { step, from, to: mix_at, as_read, lump })
                    });
                }
            }
            lumps.extend(lump);
            told.push(reader.told);
        }
        for steps in &soakers {
            let mut t = mix_at - total(steps);
            let mut soaked = Vec::new();
            for &step in steps {
                let to = t + time(step);
                soaked.push(tell(Told { step, from: t, to, as_read: None, lump: None }));
                t = to;
            }
            told.push(soaked);
        }
        Ok(Ripe { told, lumps, begins: mix_at - before_mix })
    }

    /// The dough by a guide, from its ripe preferments to its loading.
    pub(crate) fn make_lanes<L: Lanes, T>(
        &self,
        path: Path,
        guide: &Guide,
        ripe: &Ripe<L, T>,
        draw: &Draw<L>,
        tell: &impl Fn(Told<'_, L>) -> T,
    ) -> Result<(Vec<T>, Option<Lump<L>>), RunError> {
        let main = self.recipe.method.main_line(path);
        let mut reader = ByGuide::from(ripe.begins, guide, tell);
        let dough = self.walk(&Making::Dough(&ripe.lumps), &main, &mut reader, draw)?;
        Ok((reader.told, dough))
    }

    /// Whether preferments and soakers ripen alike by two guides.
    pub(crate) fn ripen_alike(&self, path: Path, a: &Guide, b: &Guide) -> bool {
        let method = &self.recipe.method;
        let formula = &self.recipe.formula;
        let names = formula
            .preferments
            .iter()
            .map(|p| &p.name)
            .chain(formula.soakers.iter().map(|k| &k.name));
        let side = names.flat_map(|name| method.side_line(name));
        side.chain(self.before_mixing(path)).all(|i| a.0.get(i) == b.0.get(i))
    }

    /// Steps of the dough's own line before it is mixed.
    fn before_mixing(&self, path: Path) -> Vec<usize> {
        let mut main = self.recipe.method.main_line(path);
        let mixing = main.iter().position(|&i| self.step(i).verb == Verb::Mix).unwrap_or(0);
        main.truncate(mixing);
        main
    }

    /// Simulates a schedule: every dough through time, sampled at least every `every`.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn run(&self, schedule: &Schedule, every: Minutes) -> Result<Trace, RunError> {
        self.run_as(schedule, every, &Draw::as_written())
    }

    /// As [`run`](Self::run), in a kitchen as drawn.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn run_as(
        &self,
        schedule: &Schedule,
        every: Minutes,
        draw: &Draw,
    ) -> Result<Trace, RunError> {
        trace::run(self, schedule, every.0.clamp(0.5, MAX_STEP_MIN), draw)
    }
}

/// What was told of every step, by line, and the dough at its loading.
type Followed<L, T> = (Vec<Vec<T>>, Option<Lump<L>>);

/// Preferments and soakers, ripe together.
pub(crate) struct Ripe<L, T> {
    /// What was told of every step, by line.
    pub(crate) told: Vec<Vec<T>>,
    lumps: Vec<Lump<L>>,
    /// When the dough's own line begins.
    begins: L,
}

/// A preferment as the heat balance sees it: half flour, half water is near enough.
fn preferment_part(mass: Grams, temp: Celsius) -> Part {
    let half = mass / 2.0;
    Part::preferment(&[(half, flour_cp(&Flour::white(""))), (half, WATER_CP)], temp)
}

/// How long a step takes when nobody looks: its time, its usual, or the middle of a cue's range.
pub(crate) fn usual(step: &Step) -> Minutes {
    match step.end {
        End::After(t) => t,
        End::Between { usual, .. } => usual,
        End::Cue { least, most, .. } => Minutes(f64::midpoint(least.0, most.0)),
    }
}

#[cfg(test)]
mod oven_tests;
#[cfg(test)]
mod tests;
