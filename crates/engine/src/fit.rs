//! A recipe fitted to an oven: how long hearth, bake and cooling take here, and in how many
//! loads.
//!
//! The recipe's own times are for the kitchen it was written in. Fitting gives back the same
//! recipe with the oven steps as this kitchen needs them, so that whatever plans or runs it
//! needs to know nothing of ovens.

use crate::bake::Resolution;
use crate::hearth::{Hearth, preheat, recovery};
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
use crate::method::{End, Path, Step, Verb};
use crate::parameters::ParameterSet;
use crate::properties::DoughThermal;
use crate::recipe::Recipe;
use crate::run::{Loaded, Lump, MAX_STEP_MIN, RunError, Setting};
use crate::warmth::{Body, Vessel};
use quantity::{Celsius, Grams, Hours, Minutes, Percent, Ph, TempRise};

/// A recipe for one oven, and what was changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The recipe with its oven steps as this kitchen needs them.
    pub recipe: Recipe,
    /// What differs from what was written.
    pub changes: Vec<Change>,
    /// What waiting for the oven does to the later loads.
    pub waits: Vec<Wait>,
}

/// A time that is another here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Which step's verb.
    pub verb: Verb,
    /// As written; for the bake, all its steps together.
    pub written: Minutes,
    /// As this kitchen needs it.
    pub here: Minutes,
    /// Whether the bread is done then; a bake that never gets there keeps its written time.
    pub done: bool,
}

/// The dough of a later load when its turn comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wait {
    /// On this way through the method.
    pub path: Path,
    /// Load, from 2.
    pub load: u32,
    /// How long it has waited.
    pub minutes: Minutes,
    /// Grown by then.
    pub rise: Percent,
    /// Acidity by then.
    pub ph: Ph,
    /// Past its best.
    pub overproofed: bool,
}

/// Crumb cool enough to cut. Common practice, no source: below about 40 °C.
pub const EATING: Celsius = Celsius(40.0);
/// Crumb while it cools: between the cold and the hot end of the bake's conductivity, W/(m K),
/// J/(kg K). From our oven model; the density is the loaf's own.
const CRUMB: (f64, f64) = (0.3, 2800.0);
/// A hearth counts as ready again within this of the oven, K.
const READY_WITHIN: TempRise = TempRise(10.0);

/// Fits a recipe's oven steps to a kitchen.
///
/// Preheat: until the hearth is hot, never shorter than written. Bake: until the bread is done
/// as the recipe asks, longest over the recipe's ways of proofing; set points as written. Cool:
/// until the crumb is at [`EATING`], or at the temperature the step names for bread eaten warm;
/// never shorter than written. More pieces than the hearth holds: several loads, the hearth reheated between.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn to_oven(
    recipe: &Recipe,
    kitchen: &Kitchen,
    set: &ParameterSet,
    total_flour: Grams,
    calendar: &Calendar,
) -> Result<Fitted, RunError> {
    let setting = Setting::new(recipe, kitchen, set, total_flour, calendar.clone())?;
    let mut out = Fitted { recipe: recipe.clone(), changes: Vec::new(), waits: Vec::new() };
    let mut bakes: Vec<(Path, Loaded, Lump)> = Vec::new();
    for path in recipe.method.paths() {
        let schedule = setting.follow(path, 0.0)?;
        let load = schedule.spans.iter().find(|s| recipe.method.steps[s.step].verb == Verb::Load);
        let Some(load) = load.copied() else { continue };
        let lump = setting.dough_at(&schedule, load.from - 1e-6)?;
        if let (Some(loaded), Some(lump)) = (setting.loaded(&schedule)?, lump) {
            bakes.push((path, loaded, lump));
        }
    }
    let Some((_, first, _)) = bakes.first() else { return Ok(out) };
    let slab = match first.programme.hearth {
        Hearth::Slab(slab, _) => Some(slab),
        Hearth::Grid => None,
    };
    let room = setting.room_at(0.0);
    let steps = &mut out.recipe.method.steps;

    // the hearth
    let hottest = |s: &Step| s.verb == Verb::Preheat;
    for s in steps.iter_mut().filter(|s| hottest(s)) {
        let knob = s.temperature.unwrap_or(Celsius(230.0));
        let oven = knob + kitchen.oven.knob_error;
        if let Some(t) = preheat(slab.as_ref(), oven, room, kitchen.oven.climbs.0) {
            // in fives, upward
            let here = Minutes(5.0 * (t.0 / 5.0).ceil());
            change(&mut out.changes, s, here, true);
        }
    }

    // the bake: the longest over the ways of proofing
    let written: Minutes = first.programme.minutes();
    let mut length: Option<Minutes> = Some(Minutes(0.0));
    for (_, loaded, _) in &bakes {
        let mut longer = loaded.clone();
        if let Some(last) = longer.programme.stages.last_mut() {
            last.minutes = last.minutes + written + Minutes(30.0);
        }
        let done = longer.bake(Resolution::Publish).done.all;
        length = length.zip(done).map(|(a, b)| a.max(b));
    }
    let bake = length.map_or(written, |t| Minutes(t.0.ceil()));
    if bake != written || length.is_none() {
        out.changes.push(Change { verb: Verb::Bake, written, here: bake, done: length.is_some() });
    }
    shorten_or_lengthen(steps, bake, written);

    // cooling
    for s in steps.iter_mut().filter(|s| s.verb == Verb::Cool) {
        let cool = cooling(first, room, s.temperature.unwrap_or(EATING));
        change(&mut out.changes, s, Minutes(5.0 * (cool.0 / 5.0).ceil()), true);
    }

    // loads
    let loads = setting.loads().and_then(|l| l.loads).unwrap_or(1);
    if loads > 1 {
        let trace = first.bake(Resolution::Preview);
        let oven = first.oven.truly(trace_set_point(first));
        let end = trace.minutes.last().and_then(|s| s.hearth_top).unwrap_or(oven);
        let sag = TempRise((oven - end).0.max(0.0));
        let again = slab
            .and_then(|s| recovery(&s, oven, sag, READY_WITHIN))
            .map_or(Minutes(5.0), |t| Minutes(5.0 * (t.0 / 5.0).ceil()));
        repeat_loads(steps, loads, again);
        let turn = bake + again;
        for (path, _, lump) in &bakes {
            for load in 2..=loads {
                let mut waiting = lump.clone();
                let minutes = turn * f64::from(load - 1);
                waiting.rest(&setting, 0.0, minutes.0, MAX_STEP_MIN, |_, _| {});
                out.waits.push(Wait {
                    path: *path,
                    load,
                    minutes,
                    rise: waiting.rise(),
                    ph: waiting.dough.ph(),
                    overproofed: waiting.overproofed(),
                });
            }
        }
    }
    Ok(out)
}

fn change(changes: &mut Vec<Change>, step: &mut Step, here: Minutes, done: bool) {
    let written = crate::run::usual(step);
    if here > written {
        changes.push(Change { verb: step.verb, written, here, done });
        step.end = End::After(here);
    }
}

/// The last set point.
fn trace_set_point(loaded: &Loaded) -> Celsius {
    loaded.programme.stages.iter().rev().find_map(|s| s.set_point).unwrap_or(Celsius(200.0))
}

/// Gives the bake another length: the last bake step takes up the difference; what would fall
/// below a minute is taken from the step before.
fn shorten_or_lengthen(steps: &mut [Step], bake: Minutes, written: Minutes) {
    let mut more = (bake - written).0;
    for s in steps.iter_mut().rev().filter(|s| s.verb == Verb::Bake) {
        let t = crate::run::usual(s).0;
        let new = (t + more).max(1.0);
        s.end = End::After(Minutes(new));
        more -= new - t;
        if more.abs() < 1e-9 {
            break;
        }
    }
}

/// Repeats load, bake and vent, with the hearth reheated between.
fn repeat_loads(steps: &mut Vec<Step>, loads: u32, again: Minutes) {
    let oven = |s: &Step| matches!(s.verb, Verb::Load | Verb::Bake | Verb::Vent);
    let turn: Vec<Step> = steps.iter().filter(|s| oven(s)).cloned().collect();
    let Some(last) = steps.iter().rposition(oven) else { return };
    let Some(load) = turn.first().cloned() else { return };
    let mut rest = Vec::new();
    for _ in 1..loads {
        rest.push(Step {
            verb: Verb::Reheat,
            hands_on: Minutes(2.0),
            end: End::After(again),
            good: None,
            temperature: None,
            steam: false,
            lid: false,
            note: String::new(),
            ..load.clone()
        });
        rest.extend(turn.iter().cloned());
    }
    let tail = steps.split_off(last + 1);
    steps.extend(rest);
    steps.extend(tail);
}

/// From the oven until the crumb can be cut, on a rack in still air.
fn cooling(loaded: &Loaded, room: Celsius, eating: Celsius) -> Minutes {
    let trace = loaded.bake(Resolution::Preview);
    let Some(end) = trace.minutes.last() else { return Minutes(0.0) };
    let thermal = DoughThermal { k: CRUMB.0, rho: loaded.loaf.density_kg_m3, cp: CRUMB.1 };
    let baked = loaded.loaf.mass * (1.0 - end.loss.fraction());
    let mut body = Body::new(baked, Vessel::Bench, loaded.loaf.shape, end.core, thermal);
    let step = Minutes(5.0);
    let mut t = Minutes(0.0);
    while body.core() > eating && t < Minutes(1440.0) && room < eating {
        body.step(Hours::from(step), room, 0.0);
        t += step;
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{read_kitchen, read_recipe};
    use crate::formula::Scale;
    use jiff::civil::datetime;

    const BATARD: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    const FLAT: &str = include_str!("../../../examples/ferry-lane/kitchens/cold-flat.toml");

    fn fitted(pieces: u32, change: impl Fn(&mut Kitchen)) -> (Recipe, Fitted) {
        let recipe = read_recipe(BATARD).unwrap();
        let mut kitchen = read_kitchen(FLAT).unwrap();
        change(&mut kitchen);
        let flour = Scale::Pieces(pieces).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
        let set = ParameterSet::default_set();
        let f = to_oven(&recipe, &kitchen, set, flour, &calendar).unwrap();
        (recipe, f)
    }

    fn time(r: &Recipe, verb: Verb) -> f64 {
        r.method.steps.iter().filter(|s| s.verb == verb).map(|s| s.end.most().0).sum()
    }

    #[test]
    fn a_thicker_stone_heats_longer_and_a_cooler_oven_bakes_longer() {
        let (_, thin) = fitted(2, |_| {});
        let (_, thick) =
            fitted(2, |k| k.hearth.as_mut().unwrap().thickness = quantity::Millimetres(30.0));
        assert!(time(&thick.recipe, Verb::Preheat) > time(&thin.recipe, Verb::Preheat));
        let (_, cool) = fitted(2, |k| k.oven.knob_error = TempRise(-25.0));
        assert!(time(&cool.recipe, Verb::Bake) > time(&thin.recipe, Verb::Bake) + 1.0);
    }

    /// Common practice, no source: a batard of this size cools one to two hours before it is cut.
    #[test]
    fn cooling_takes_the_hours_bakers_give_it() {
        let recipe = read_recipe(BATARD).unwrap();
        let kitchen = read_kitchen(FLAT).unwrap();
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
        let s = Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar);
        let s = s.unwrap();
        let path = Path { cold_bulk: false, cold_proof: true };
        let loaded = s.loaded(&s.follow(path, 0.0).unwrap()).unwrap().unwrap();
        let cool = cooling(&loaded, Celsius(19.0), EATING);
        assert!((60.0..=130.0).contains(&cool.0), "{cool:?}");
        assert!(cooling(&loaded, Celsius(19.0), Celsius(60.0)) < cool, "eaten warm");
    }

    #[test]
    fn more_pieces_than_fit_make_more_loads_and_the_last_waits_longest() {
        let (recipe, f) = fitted(6, |_| {});
        let count = |r: &Recipe, v: Verb| r.method.steps.iter().filter(|s| s.verb == v).count();
        assert_eq!(count(&f.recipe, Verb::Load), 3 * count(&recipe, Verb::Load));
        assert_eq!(count(&f.recipe, Verb::Reheat), 2);
        let (second, third) = (f.waits[0], f.waits[1]);
        assert!(third.minutes > second.minutes && third.ph.0 <= second.ph.0);
        // the cooling still comes last
        assert_eq!(f.recipe.method.steps.last().unwrap().verb, Verb::Cool);
    }

    #[test]
    fn a_bread_that_is_never_done_keeps_its_time_and_says_so() {
        let (recipe, f) = fitted(2, |k| {
            k.oven.knob_error = TempRise(-80.0);
            k.altitude = quantity::Metres(-400.0);
        });
        let never = f.changes.iter().find(|c| c.verb == Verb::Bake && !c.done);
        if let Some(c) = never {
            assert_eq!(c.here, c.written);
            assert_eq!(time(&recipe, Verb::Bake), time(&f.recipe, Verb::Bake));
        } else {
            assert!(time(&f.recipe, Verb::Bake) > time(&recipe, Verb::Bake));
        }
    }
}
