//! Does this recipe travel? Thousands of readers' kitchens follow it as written.
//!
//! Each reader has another room, fridge, starter, flour, scale, thermometer and oven. They follow
//! the recipe twice: by the clock, taking the printed times, and by the cue, waiting until it
//! looks so, with an eye of their own. What comes out is judged where a baker judges it: when the
//! dough is divided, when it is loaded, and when the loaf is out of the oven.
//!
//! Left out: what readers do wrong on purpose or by misreading; flour of another type than asked
//! for; hands (shaping and scoring); water forgotten or poured twice.

mod advise;
mod judge;

pub use advise::{ASKED, Advice, Driver, Drivers, Remedy, WORTH, levain_weights};
pub use judge::{Checkpoint, Count, FEW, Judge, Outcome, Tally, VIGOURS};

use crate::belief::{Belief, Draws};
use crate::ensemble::{Ensemble, Follow, Kitchens, Oven, Try};
use crate::hours::Calendar;
use crate::kitchen::{Kitchen, OvenKept, OvenLog};
use crate::method::{End, Method, Path};
use crate::numerics::lanes::Width;
use crate::parameters::ParameterSet;
use crate::recipe::Recipe;
use crate::run::{Draw, Guide, Rule, RunError, Schedule, Setting};
use advise::{Fare, Paired};
use quantity::{Celsius, Grams, Metres, Minutes, Percent, TempRise};
use rayon::prelude::*;

/// A question about a recipe.
#[derive(Debug, Clone, Copy)]
pub struct Question<'q> {
    /// The recipe.
    pub recipe: &'q Recipe,
    /// The kitchen it was written in: its times are the ones printed.
    pub written_in: &'q Kitchen,
    /// Way through the method.
    pub path: Path,
    /// Flour of the batch.
    pub flour: Grams,
    /// Parameters of the dough model.
    pub set: &'q ParameterSet,
    /// Readers and their kitchens.
    pub belief: &'q Belief,
    /// How many readers.
    pub readers: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Base points of the sensitivity: it takes twenty-odd times as many runs. 0 leaves it out.
    pub sensitivity: u32,
    /// Local time.
    pub calendar: &'q Calendar,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// How many readers were asked.
    pub readers: usize,
    /// Times as printed: steps in order, rounded as people write them.
    pub printed: Vec<(usize, Minutes)>,
    /// Edges of the maps' columns: room, °C.
    pub rooms: [f64; 7],
    /// By the clock.
    pub clock: Tally,
    /// By the cue.
    pub cue: Tally,
    /// What decides by the clock, the most first.
    pub drivers: Drivers,
    /// What to write instead, the most useful first.
    pub advice: Vec<Advice>,
}

/// A stranger's kitchen: the equipment the recipe asks for, the rest as the belief has it.
pub fn readers_kitchen(written_in: &Kitchen, belief: &Belief) -> Kitchen {
    let median = |what| belief.get(what).filter(|q| q.unit.neutral().is_none()).map(|q| q.at(0.5));
    let room = median(crate::belief::Uncertain::Room)
        .map_or_else(|| written_in.room.clone(), |t| vec![(0.0, Celsius(t))]);
    let fridge = median(crate::belief::Uncertain::Fridge).map(Celsius);
    let mut kitchen = written_in.clone();
    "a reader's kitchen".clone_into(&mut kitchen.name);
    kitchen.altitude = Metres(0.0);
    kitchen.room = room;
    kitchen.fridge.air = fridge.unwrap_or(kitchen.fridge.air);
    kitchen.flour = None;
    kitchen.oven =
        OvenKept { knob_error: TempRise(0.0), log: OvenLog::default(), ..kitchen.oven.clone() };
    kitchen.culture.yeast_vigour = 1.0;
    kitchen.culture.lab_vigour = 1.0;
    kitchen
}

/// A time as people print it: to 5 min below two hours, to a quarter of an hour from there on.
pub fn as_printed(t: Minutes) -> Minutes {
    let step = match t.0 {
        t if t < 20.0 => 1.0,
        t if t < 120.0 => 5.0,
        _ => 15.0,
    };
    Minutes(step * libm::round(t.0 / step))
}

/// The guide that the printed times are, from a schedule of the kitchen the recipe was written in.
fn printed_guide(method: &Method, schedule: &Schedule) -> (Guide, Vec<(usize, Minutes)>) {
    let mut guide = Guide::clock(method, schedule);
    let mut printed = Vec::new();
    for (i, rule) in guide.0.iter_mut().enumerate() {
        if let Rule::Time(t) = rule {
            *t = as_printed(*t);
            printed.push((i, *t));
        }
    }
    (guide, printed)
}

/// Readers asked at once: memory stays flat, however many there are. Remedies are tried on the
/// first block.
const BLOCK: usize = ASKED;
/// Readers all of whose loaves are baked, for the shares of loaves to a point or two: two blocks.
/// Of the rest those only that were loaded in their window, for the share of good breads.
pub const LOAVES: usize = 2 * BLOCK;

/// Asks readers. `done` hears the share of the work that is done, 0 to 1, and says whether to go
/// on; none comes back when it said no.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn travel(
    q: &Question<'_>,
    done: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<Report>, RunError> {
    let calendar = || q.calendar.clone();
    let written = Setting::new(q.recipe, q.written_in, q.set, q.flour, calendar())?;
    let schedule = written.follow(q.path, 0.0)?;
    let method = &q.recipe.method;
    let (clock, printed) = printed_guide(method, &schedule);
    let cues = Guide::cues(method);

    let kitchen = readers_kitchen(q.written_in, q.belief);
    let setting = Setting::new(q.recipe, &kitchen, q.set, q.flour, calendar())?;
    let judge = Judge::of(q.recipe, q.path);
    let readers = q.readers.max(1);
    let draws = Draws::new(q.belief.clone(), readers as u32, q.seed);
    let asked = Asked { q, setting: &setting, kitchens: Kitchens::around(&kitchen, &draws), judge };

    let rooms = judge::rooms(q.belief, asked.kitchens.room);
    let (pulled, waited) = (asked.oven(false), asked.oven(true));
    let ways = [(&clock, &pulled), (&cues, &waited)];
    let mut tallies = [Tally::default(), Tally::default()];
    let mut both = Paired::default();
    let mut first = None;
    let mut from = 0;
    while from < readers {
        let draws = asked.draws(from..readers.min(from + BLOCK));
        let tries = ways.map(|(guide, _)| Try { guide, levain: None });
        let ensemble = asked.ensemble(&tries);
        let mut doughs = ensemble.doughs_of_each(&draws)?;
        let mut fared = Vec::new();
        for ((doughs, (_, oven)), tally) in doughs.iter_mut().zip(ways).zip(&mut tallies) {
            if from < LOAVES {
                doughs.baked = ensemble.bake(oven, doughs, &draws, &all_of(doughs.n));
            }
            let fare = asked.fare(&ensemble, doughs, &draws, oven);
            tally.add(&asked.judge, &asked.kitchens, from, doughs, (&fare, &rooms));
            fared.push(fare);
        }
        // one for each way
        if let [by_clock, by_cue] = fared.as_slice() {
            both.add(by_clock, by_cue);
        }
        if from == 0 {
            let tables = doughs.last().map(|cued| asked.tables(cued)).unwrap_or_default();
            first = fared.into_iter().next().map(|fare| First { draws, fare, tables });
        }
        from = readers.min(from + BLOCK);
        if !done(0.6 * from as f64 / readers as f64) {
            return Ok(None);
        }
    }
    let mut tick = |share: f64, from: f64, to: f64| done(from + share * (to - from));
    // there is a first block: there is a reader
    let Some(first) = first else { return Ok(None) };
    let found =
        advise::advice(&asked, &clock, &first, (&tallies[0], &both), &mut |x| tick(x, 0.6, 0.8))?;
    let Some(advice) = found else { return Ok(None) };
    let Some(drivers) = advise::drivers(&asked, &clock, &mut |x| tick(x, 0.8, 1.0))? else {
        return Ok(None);
    };
    let [clock, cue] = tallies;
    Ok(Some(Report { readers, printed, rooms, clock, cue, drivers, advice }))
}

fn all_of(n: usize) -> Vec<usize> {
    (0..n).collect()
}

/// Readers about to be asked.
struct Asked<'a> {
    q: &'a Question<'a>,
    setting: &'a Setting<'a>,
    kitchens: Kitchens<'a>,
    judge: Judge,
}

/// The first readers, as they fare by the clock, and the times they waited by the cue.
struct First {
    draws: Vec<Draw>,
    fare: Fare,
    tables: Vec<(usize, Vec<(Celsius, Minutes)>)>,
}

impl Asked<'_> {
    fn oven(&self, by_cue: bool) -> Oven {
        Oven::of(self.setting, self.q.path, by_cue, crate::bake::Resolution::Ensemble)
    }

    fn draws(&self, readers: std::ops::Range<usize>) -> Vec<Draw> {
        readers.into_par_iter().map(|i| self.kitchens.draw(i)).collect()
    }

    fn ensemble<'e>(&'e self, tries: &'e [Try<'e>]) -> Ensemble<'e> {
        Ensemble {
            setting: self.setting,
            follow: Follow::Tries(self.q.path, tries, 0.0),
            oven: None,
            every: None,
            width: Width::Widest,
        }
    }

    /// Steps whose end the dough decides: those with a cue, on this way.
    fn cued(&self) -> Vec<usize> {
        let method = &self.q.recipe.method;
        let pre = self.q.recipe.formula.preferments.iter();
        pre.flat_map(|p| method.side_line(&p.name))
            .chain(method.main_line(self.q.path))
            .filter(|&i| matches!(method.steps[i].end, End::Cue { .. }))
            .collect()
    }
}

/// Share of a whole.
fn share(part: u64, whole: u64) -> Percent {
    Percent(if whole > 0 { 100.0 * part as f64 / whole as f64 } else { 0.0 })
}

#[cfg(test)]
mod tests;
