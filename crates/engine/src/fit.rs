//! A recipe fitted to an oven: how long hearth, bake and cooling take here, in how many loads,
//! and where the later ones wait.
//!
//! The recipe's own times are for the kitchen it was written in. Fitting gives back the same
//! recipe, once for every way through the method, with the oven steps as this kitchen needs
//! them, so that whatever plans or runs it needs to know nothing of ovens: dough from the
//! fridge bakes longer than dough from the bench, and a later load has a dough of its own.

mod cannot;
mod loads;
mod several;

pub(crate) use cannot::liner_words;
pub use cannot::{Cannot, can, notes};
pub use loads::{Lengths, OvenLoad, OvenLoads, Why, oven_loads};
pub use several::{Baking, Bread, plan_several};

use crate::bake::Resolution;
use crate::hearth::preheat;
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
use crate::leeway::Pick;
use crate::method::{End, Path, Step, Verb};
use crate::parameters::ParameterSet;
use crate::plan::{
    AIMS, Aim, CLOSE, Draft, Happened, Outcome, PlanError, Request, Underway, draft, plan_each,
    plans_of_each,
};
use crate::progress::Part;
use crate::properties::DoughThermal;
use crate::recipe::Recipe;
use crate::run::{Loaded, RunError, Schedule, Setting, Span, usual};
use crate::warmth::{Body, Vessel};
use quantity::{Celsius, Grams, Hours, Minutes};
use rayon::prelude::*;
use std::ops::Range;

/// A recipe for one oven: once for every way through the method.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// One per path, in the order of [`Method::paths`](crate::method::Method::paths); a planned
    /// recipe that leaves something open has them once more for each choice.
    pub ways: Vec<Way>,
}

/// A way through the method with its oven steps as one kitchen needs them.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Which way.
    pub path: Path,
    /// What was chosen of what the recipe leaves open.
    pub pick: Pick,
    /// The recipe, chosen; times of other paths are as written.
    pub recipe: Recipe,
    /// What differs from what was written.
    pub changes: Vec<Change>,
    /// Where later loads wait was simulated, not named by the recipe.
    pub chosen: bool,
    /// Steps put in for later loads.
    pub put_in: Range<usize>,
    /// The heated hearth when the last load comes out.
    pub leaves: Option<Celsius>,
}

/// A time that is another here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Which step's verb.
    pub verb: Verb,
    /// As written; for the bake, all steps of the first load together.
    pub written: Minutes,
    /// As this kitchen needs it.
    pub here: Minutes,
    /// Whether the bread is done then; a bake that never gets there keeps its written time.
    pub done: bool,
}

impl Fitted {
    /// The recipe as written, for every way alike.
    pub fn as_written(recipe: &Recipe) -> Self {
        let way = |path| Way {
            path,
            pick: Pick::default(),
            recipe: recipe.clone(),
            changes: Vec::new(),
            chosen: false,
            put_in: 0..0,
            leaves: None,
        };
        Self { ways: recipe.method.paths().into_iter().map(way).collect() }
    }
}

impl Way {
    /// Which step of the recipe as written a step is; none for one that was put in.
    pub fn written(&self, step: usize) -> Option<usize> {
        if step < self.put_in.start {
            Some(step)
        } else {
            (step >= self.put_in.end).then(|| step - self.put_in.len())
        }
    }

    /// The loads along a plan of this way.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn oven_loads(
        &self,
        setting: &Setting<'_>,
        schedule: &Schedule,
    ) -> Result<Option<OvenLoads>, RunError> {
        loads::oven_loads_at(setting, schedule, Lengths::Written, self.chosen)
    }
}

/// Crumb cool enough to cut. Common practice, no source: below about 40 °C.
pub const EATING: Celsius = Celsius(40.0);
/// Crumb while it cools: between the cold and the hot end of the bake's conductivity, W/(m K),
/// J/(kg K). From our oven model; the density is the loaf's own.
const CRUMB: (f64, f64) = (0.3, 2800.0);

/// What a batch is made of, where, and when.
#[derive(Debug, Clone)]
pub struct Order<'a> {
    /// The recipe.
    pub recipe: &'a Recipe,
    /// The kitchen.
    pub kitchen: &'a Kitchen,
    /// Parameters of the dough model.
    pub set: &'a ParameterSet,
    /// How much.
    pub total_flour: Grams,
    /// Local time for elapsed minutes.
    pub calendar: Calendar,
}

impl<'a> Order<'a> {
    /// A recipe of this order, put into its kitchen.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn setting<'r>(&'r self, recipe: &'r Recipe) -> Result<Setting<'r>, RunError>
    where
        'a: 'r,
    {
        Setting::new(recipe, self.kitchen, self.set, self.total_flour, self.calendar.clone())
    }
}

/// Fits a recipe's oven steps to a kitchen, for every way through the method.
///
/// Preheat: until the hearth is hot, never shorter than written. Bake: until the bread is done
/// as the recipe asks, every load from its own dough, never shorter than written where only a
/// core is asked for; set points as written. Cool: until the
/// crumb is at [`EATING`], or at the temperature the step names for bread eaten warm; never
/// shorter than written. More pieces than the hearth holds: several loads, the hearth reheated
/// between.
///
/// The dough is that of `along`, a schedule of the way, or where there is none that of the
/// recipe's cues and usual times.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn to_oven(order: &Order<'_>, along: &[Schedule]) -> Result<Fitted, RunError> {
    picked_to_oven(order, order.recipe, Pick::default(), along)
}

/// The same for a recipe in which something was chosen.
fn picked_to_oven(
    order: &Order<'_>,
    recipe: &Recipe,
    pick: Pick,
    along: &[Schedule],
) -> Result<Fitted, RunError> {
    let setting = order.setting(recipe)?;
    let mut ways = Vec::new();
    for path in recipe.method.paths() {
        let schedule = match along.iter().find(|s| s.path == path) {
            Some(schedule) => schedule.clone(),
            None => setting.follow(path, 0.0)?,
        };
        let (recipe, changes) = (recipe.clone(), Vec::new());
        let mut way =
            Way { path, pick, recipe, changes, chosen: false, put_in: 0..0, leaves: None };
        if let Some(oven_loads) = oven_loads(&setting, &schedule, Lengths::UntilDone)? {
            fit(&setting, &mut way, &oven_loads);
        }
        ways.push(way);
    }
    Ok(Fitted { ways })
}

/// How much better a choice the recipe leaves open has to be than what is written, in the cost
/// of the plan.
const WORTH: f64 = 0.1;

/// One choice with the plans it leads to, roughly.
struct Sketch {
    pick: Pick,
    recipe: Recipe,
    fitted: Fitted,
    drafts: Vec<Draft>,
}

impl Sketch {
    fn written(
        order: &Order<'_>,
        request: &Request,
        underway: Option<&Underway>,
    ) -> Result<Self, PlanError> {
        let fitted = to_oven(order, &[])?;
        let drafts = in_ways(order, &fitted, |ways| draft(ways, request, underway))?;
        Ok(Self { pick: Pick::default(), recipe: order.recipe.clone(), fitted, drafts })
    }

    /// Another choice in the oven times of this one.
    fn with(&self, order: &Order<'_>, pick: Pick, request: &Request) -> Result<Self, PlanError> {
        let mut recipe = self.recipe.clone();
        pick.apply(&mut recipe);
        let mut fitted = self.fitted.clone();
        for way in &mut fitted.ways {
            way.pick = pick;
            pick.apply(&mut way.recipe);
        }
        let drafts = in_ways(order, &fitted, |ways| draft(ways, request, None))?;
        Ok(Self { pick, recipe, fitted, drafts })
    }

    fn cost(&self, aim: Aim) -> f64 {
        self.drafts.iter().map(|d| d.costs[aim as usize]).fold(f64::INFINITY, f64::min)
    }

    /// Leaves out drafts that are far from the least costs of all, for every aim.
    fn leave_out(&mut self, least: [f64; AIMS]) {
        self.drafts.retain(|d| {
            d.costs.iter().zip(least).any(|(cost, least)| *cost <= least * (1.0 + CLOSE))
        });
    }

    /// Fitted again to the doughs of its drafts, in the ways that have one.
    fn fit_again(&self, order: &Order<'_>) -> Result<Fitted, RunError> {
        // in the steps of the recipe before it was fitted
        let along: Vec<Schedule> = self
            .drafts
            .iter()
            .map(|d| {
                let way = &self.fitted.ways[d.way];
                let step = |s: &Span| Some(Span { step: way.written(s.step)?, ..*s });
                Schedule {
                    path: way.path,
                    spans: d.schedule.spans.iter().filter_map(step).collect(),
                }
            })
            .collect();
        let mut fitted = picked_to_oven(order, &self.recipe, self.pick, &along)?;
        fitted.ways.retain(|w| along.iter().any(|s| s.path == w.path));
        Ok(fitted)
    }
}

/// Asks something of all ways of a fitted recipe.
fn in_ways<T>(
    order: &Order<'_>,
    fitted: &Fitted,
    ask: impl FnOnce(&[(Path, &Setting<'_>)]) -> Result<T, PlanError>,
) -> Result<T, PlanError> {
    let settings: Vec<(Path, Setting<'_>)> = fitted
        .ways
        .iter()
        .map(|w| Ok((w.path, order.setting(&w.recipe)?)))
        .collect::<Result<_, RunError>>()?;
    let ways: Vec<(Path, &Setting<'_>)> = settings.iter().map(|(p, s)| (*p, s)).collect();
    ask(&ways)
}

/// The recipe as written, and for each aim the choices that serve it best, where that is worth
/// it: one change after another, the most useful first.
fn sketches(
    order: &Order<'_>,
    request: &Request,
    underway: Option<&Underway>,
    part: Part<'_>,
) -> Result<Vec<Sketch>, PlanError> {
    let written = Sketch::written(order, request, underway)?;
    if underway.is_some() {
        return Ok(vec![written]); // weighed and mixed already, or soon
    }
    let picks = order.recipe.leeway.single_picks();
    let pieces = part.pieces(picks.len() + 1);
    pieces.one();
    let singles: Vec<Sketch> = picks
        .into_par_iter()
        .filter_map(|pick| {
            let sketch = written.with(order, pick, request);
            pieces.one();
            sketch.ok() // a choice that cannot be mixed is no choice
        })
        .collect();
    let mut out = vec![written];
    for aim in Aim::EACH {
        let base = out[0].cost(aim);
        let mut useful: Vec<&Sketch> =
            singles.iter().filter(|s| s.cost(aim) < base - WORTH).collect();
        useful.sort_by(|x, y| x.cost(aim).total_cmp(&y.cost(aim)));
        let Some(first) = useful.first() else { continue };
        let (mut pick, mut cost) = (first.pick, first.cost(aim));
        let mut best = None;
        for more in &useful[1..] {
            let both = more.pick.and(pick);
            if both == pick {
                continue;
            }
            let Ok(sketch) = out[0].with(order, both, request) else { continue };
            if sketch.cost(aim) < cost - WORTH {
                (pick, cost) = (both, sketch.cost(aim));
                best = Some(sketch);
            }
        }
        if out.iter().any(|s| s.pick == pick) {
            continue;
        }
        let sketch = match best {
            Some(sketch) => sketch,
            None => out[0].with(order, pick, request)?,
        };
        out.push(sketch);
    }
    let least = Aim::EACH.map(|a| out.iter().map(|s| s.cost(a)).fold(f64::INFINITY, f64::min));
    for sketch in &mut out {
        sketch.leave_out(least);
    }
    Ok(out)
}

/// Fits and plans: first roughly for the dough of the recipe's usual times, with what the recipe
/// leaves open chosen for each aim; then in full for the doughs those plans lead to, so that bake
/// and waits belong to what is planned. From the dough as it is when something has happened
/// already.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn plan_in_oven(
    order: &Order<'_>,
    request: &Request,
    happened: Option<&Happened>,
    part: Part<'_>,
) -> Result<(Fitted, Outcome), PlanError> {
    let written = order.setting(order.recipe)?;
    let underway = match happened {
        Some(h) => Some(Underway::new(&written, h, request.kitchens)?),
        None => None,
    };
    let underway = underway.as_ref();
    let Both { again, first } = fitted_twice(order, request, underway, part.within(0.0, 0.4))?;
    let part = part.within(0.4, 1.0);
    if !again.ways.is_empty() {
        let found = in_ways(order, &again, |ways| plans_of_each(ways, request, underway, part))?;
        if let Some(plans) = found {
            return Ok((again, Outcome::Plans(plans)));
        }
    }
    // minutes more in the oven do not fit, or nothing does
    let found = in_ways(order, &first, |ways| plan_each(ways, request, underway, part))?;
    Ok((first, found))
}

/// A recipe with its choices, fitted for the doughs of its usual times and for those of plans.
struct Both {
    /// For the doughs rough plans lead to, the ways that have one.
    again: Fitted,
    /// For the recipe's usual times.
    first: Fitted,
}

fn fitted_twice(
    order: &Order<'_>,
    request: &Request,
    underway: Option<&Underway>,
    part: Part<'_>,
) -> Result<Both, PlanError> {
    let sketches = sketches(order, request, underway, part.within(0.0, 0.7))?;
    let mut again = Fitted { ways: Vec::new() };
    let drafted = sketches.par_iter().filter(|s| !s.drafts.is_empty());
    let fitted: Vec<Fitted> =
        drafted.map(|s| s.fit_again(order)).collect::<Result<_, RunError>>()?;
    again.ways.extend(fitted.into_iter().flat_map(|f| f.ways));
    part.done();
    let mut first = Fitted { ways: Vec::new() };
    let (with, without): (Vec<Sketch>, Vec<Sketch>) =
        sketches.into_iter().partition(|s| !s.drafts.is_empty());
    let asked = if with.is_empty() { without } else { with };
    for sketch in asked {
        first.ways.extend(sketch.fitted.ways);
    }
    Ok(Both { again, first })
}

/// Writes what the oven needs into one way of the recipe.
fn fit(setting: &Setting<'_>, way: &mut Way, oven_loads: &OvenLoads) {
    let (Some(first), Some(last)) = (oven_loads.all.first(), oven_loads.all.last()) else { return };
    let heated = setting.kitchen.hearth.is_some_and(|h| h.heated);
    way.leaves = last.end.and_then(|e| e.hearth_top).filter(|_| heated);
    let kitchen = setting.kitchen;
    let path = way.path;
    let room = setting.room_at(0.0);
    let knob = setting.loading_knob(path);
    let steps = &mut way.recipe.method.steps;

    // the hearth
    let slab = kitchen.hearth.filter(|h| h.heated).map(|h| h.slab());
    let oven = first.loaded.oven.truly(knob);
    for s in steps.iter_mut().filter(|s| s.verb == Verb::Preheat && path.takes(s)) {
        if let Some(t) = preheat(slab.as_ref(), oven, room, kitchen.oven.climbs.0) {
            // in fives, upward
            lengthen(&mut way.changes, s, Minutes(5.0 * (t.0 / 5.0).ceil()));
        }
    }

    // the bake
    let written = first.loaded.programme.minutes();
    if first.bake != written || first.done.is_none() {
        let done = first.done.is_some();
        way.changes.push(Change { verb: Verb::Bake, written, here: first.bake, done });
    }

    // cooling
    for s in steps.iter_mut().filter(|s| s.verb == Verb::Cool && path.takes(s)) {
        let cool = cooling(&first.loaded, first.bake, room, s.temperature.unwrap_or(EATING));
        lengthen(&mut way.changes, s, Minutes(5.0 * (cool.0 / 5.0).ceil()));
    }

    // the loads
    let oven_steps = setting.oven_steps(path, 1);
    let (Some(&begin), Some(&last)) = (oven_steps.first(), {
        let baking = |i: &&usize| steps[**i].verb != Verb::Cool;
        oven_steps.iter().rfind(baking)
    }) else {
        return;
    };
    let one: Vec<Step> =
        oven_steps.iter().map(|&i| steps[i].clone()).filter(|s| s.verb != Verb::Cool).collect();
    bake_for(steps, &oven_steps, first.bake, written);
    if oven_loads.all.len() > 1 {
        way.chosen = steps[begin].wait.is_none();
        steps[begin].wait = Some(oven_loads.place);
    }
    let mut rest = Vec::new();
    for next in &oven_loads.all[1..] {
        let again = (next.reheat - oven_loads.scoring).max(Minutes(2.0));
        rest.push(Step {
            temperature: Some(knob),
            when: steps[begin].when,
            ..Step::of(Verb::Reheat, End::After(again))
        });
        let mut load = one.clone();
        let all: Vec<usize> = (0..load.len()).collect();
        bake_for(&mut load, &all, next.bake, written);
        if let Some(l) = load.first_mut() {
            // scored while the hearth heats up
            l.hands_on += oven_loads.scoring;
            l.end = End::After(usual(l) + oven_loads.scoring);
        }
        rest.extend(load);
    }
    way.put_in = last + 1..last + 1 + rest.len();
    let tail = steps.split_off(last + 1);
    steps.extend(rest);
    steps.extend(tail);
}

fn lengthen(changes: &mut Vec<Change>, step: &mut Step, here: Minutes) {
    let written = usual(step);
    if here > written {
        changes.push(Change { verb: step.verb, written, here, done: true });
        step.end = End::After(here);
    }
}

/// Gives the bake of one load another length: its last bake step takes up the difference; what
/// would fall below a minute is taken from the step before.
fn bake_for(steps: &mut [Step], load: &[usize], bake: Minutes, written: Minutes) {
    let mut more = (bake - written).0;
    for &i in load.iter().rev() {
        let s = &mut steps[i];
        if s.verb != Verb::Bake {
            continue;
        }
        let t = usual(s).0;
        let new = (t + more).max(1.0);
        s.end = End::After(Minutes(new));
        more -= new - t;
        if more.abs() < 1e-9 {
            break;
        }
    }
}

/// From the oven until the crumb can be cut, on a rack in still air.
fn cooling(loaded: &Loaded, bake: Minutes, room: Celsius, eating: Celsius) -> Minutes {
    let trace = loaded.clone().for_minutes(bake).bake(Resolution::Preview);
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
    use crate::method::Place;
    use jiff::civil::datetime;
    use quantity::TempRise;

    const BATARD: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    const FLAT: &str = include_str!("../../../examples/ferry-lane/kitchens/cold-flat.toml");
    const ROOM: Path = Path { cold_bulk: false, cold_proof: false };
    const COLD: Path = Path { cold_bulk: false, cold_proof: true };

    /// What a batch of the batard comes to, along the recipe's usual times.
    fn with<T>(
        pieces: u32,
        path: Path,
        change: impl Fn(&mut Recipe, &mut Kitchen),
        ask: impl Fn(&Way, &OvenLoads) -> T,
    ) -> T {
        let mut recipe = read_recipe(BATARD).unwrap();
        let mut kitchen = read_kitchen(FLAT).unwrap();
        change(&mut recipe, &mut kitchen);
        let total_flour =
            Scale::Pieces(pieces).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
        let set = ParameterSet::default_set();
        let order = Order { recipe: &recipe, kitchen: &kitchen, set, total_flour, calendar };
        let fitted = to_oven(&order, &[]).unwrap();
        let setting = order.setting(&recipe).unwrap();
        let schedule = setting.follow(path, 0.0).unwrap();
        let oven_loads = oven_loads(&setting, &schedule, Lengths::UntilDone).unwrap().unwrap();
        ask(fitted.ways.iter().find(|w| w.path == path).unwrap(), &oven_loads)
    }

    fn time(way: &Way, verb: Verb) -> f64 {
        let mine = |s: &&Step| s.verb == verb && way.path.takes(s);
        way.recipe.method.steps.iter().filter(mine).map(|s| s.end.most().0).sum()
    }

    fn count(way: &Way, verb: Verb) -> usize {
        way.recipe.method.steps.iter().filter(|s| s.verb == verb).count()
    }

    #[test]
    fn a_thicker_stone_heats_longer_and_a_cooler_oven_bakes_longer() {
        let preheat = |mm: f64| {
            let thick = |_: &mut Recipe, k: &mut Kitchen| {
                k.hearth.as_mut().unwrap().thickness = quantity::Millimetres(mm);
            };
            with(2, ROOM, thick, |w, _| time(w, Verb::Preheat))
        };
        assert!(preheat(30.0) > preheat(15.0));
        let bake = |error: f64| {
            let off = |_: &mut Recipe, k: &mut Kitchen| k.oven.knob_error = TempRise(error);
            with(2, COLD, off, |_, t| t.all[0].done.unwrap().0)
        };
        assert!(bake(-25.0) > bake(-10.0) + 1.0, "{} {}", bake(-25.0), bake(-10.0));
    }

    /// Dough at 4 °C takes longer than dough at 19 °C: each way has its own bake.
    #[test]
    fn every_way_of_proofing_has_its_own_bake() {
        // written short, so that the oven decides
        let short = |r: &mut Recipe, _: &mut Kitchen| {
            let last = r.method.steps.iter_mut().rfind(|s| s.verb == Verb::Bake).unwrap();
            last.end = End::After(Minutes(5.0));
        };
        let bake = |path| with(2, path, short, |w, t| (time(w, Verb::Bake), t.all[0].bake.0));
        let ((room, room_turn), (cold, cold_turn)) = (bake(ROOM), bake(COLD));
        assert!(cold > room + 1.0, "{cold} {room}");
        // vent lasts a minute of the bake
        assert_eq!((room + 1.0, cold + 1.0), (room_turn, cold_turn));
    }

    /// Common practice, no source: a batard of this size cools one to two hours before it is cut.
    #[test]
    fn cooling_takes_the_hours_bakers_give_it() {
        let cool = |eating: f64| {
            with(
                2,
                COLD,
                |_, _| {},
                |_, t| cooling(&t.all[0].loaded, t.all[0].bake, Celsius(19.0), Celsius(eating)).0,
            )
        };
        assert!((60.0..=130.0).contains(&cool(40.0)), "{}", cool(40.0));
        assert!(cool(60.0) < cool(40.0), "eaten warm");
    }

    #[test]
    fn more_pieces_than_fit_make_more_loads_and_the_last_waits_longest() {
        with(
            6,
            ROOM,
            |_, _| {},
            |w, t| {
                let written = read_recipe(BATARD).unwrap();
                let once = written.method.steps.iter().filter(|s| s.verb == Verb::Load).count();
                assert_eq!((count(w, Verb::Load), count(w, Verb::Reheat)), (3 * once, 2));
                let [first, second, third] = &t.all[..] else { panic!("{} loads", t.all.len()) };
                assert_eq!(first.waited.0, 0.0);
                assert!(third.waited > second.waited && third.ph.0 <= second.ph.0);
                // each goes in when the one before is out and the hearth is hot again
                let between = first.bake + second.reheat + Minutes(2.0);
                assert!(
                    (second.waited - between).0.abs() < 1e-6,
                    "{:?} {between:?}",
                    second.waited
                );
                assert_eq!(w.recipe.method.steps.last().unwrap().verb, Verb::Cool);
            },
        );
    }

    /// A dough that goes on rising on a warm bench is put in the fridge; one that comes out of the
    /// fridge stays there.
    #[test]
    fn later_loads_wait_where_the_dough_keeps() {
        let warm = |_: &mut Recipe, k: &mut Kitchen| k.room = vec![(0.0, Celsius(25.0))];
        with(8, ROOM, warm, |w, t| {
            assert_eq!(t.place, Place::Fridge, "{:?}", t.why);
            assert!(w.chosen && t.why != Why::Stays);
            let (place, bench) = t.elsewhere.as_ref().unwrap();
            let fridge = t.all.last().unwrap();
            assert_eq!(*place, Place::Room);
            assert!(bench.rise > fridge.rise && bench.core > fridge.core);
            // the first load is the same dough either way
            assert_eq!(t.all[0].waited.0, 0.0);
        });
        with(
            8,
            COLD,
            |_, _| {},
            |_, t| {
                assert_eq!(t.place, Place::Fridge);
                assert!((t.all[3].rise - t.all[0].rise).0.abs() < 6.0);
            },
        );
    }

    /// A piece that waited in the fridge is colder than the first and bakes longer, from its own
    /// dough.
    #[test]
    fn a_load_from_the_fridge_has_its_own_bake() {
        let fridge = |r: &mut Recipe, k: &mut Kitchen| {
            k.room = vec![(0.0, Celsius(25.0))];
            let load = r.method.steps.iter_mut().find(|s| s.verb == Verb::Load).unwrap();
            load.wait = Some(Place::Fridge);
            let last = r.method.steps.iter_mut().rfind(|s| s.verb == Verb::Bake).unwrap();
            last.end = End::After(Minutes(5.0));
        };
        with(8, ROOM, fridge, |w, t| {
            assert_eq!((t.why, w.chosen), (Why::Named, false));
            let (first, last) = (&t.all[0], &t.all[3]);
            assert!(last.core < first.core - TempRise(5.0), "{:?} {:?}", last.core, first.core);
            assert!(last.bake > first.bake, "{:?} {:?}", last.bake, first.bake);
            let bakes = time(w, Verb::Bake) + time(w, Verb::Vent);
            let oven_loads: f64 = t.all.iter().map(|t| t.bake.0).sum();
            assert_eq!(bakes, oven_loads, "the plan bakes each load as long as it needs");
        });
    }

    /// A thin bread is done inside long before it has colour: the written time stands, unless the
    /// recipe says what colour or loss it wants.
    #[test]
    fn a_core_alone_does_not_shorten_a_bake() {
        let written = |r: &mut Recipe| {
            r.yields.piece = Grams(300.0);
            r.done_when.lightness = None;
            r.method.steps.iter().filter(|s| s.verb == Verb::Bake).map(|s| usual(s).0).sum::<f64>()
        };
        with(
            2,
            ROOM,
            |r, _| _ = written(r),
            |w, t| {
                let whole = written(&mut read_recipe(BATARD).unwrap());
                assert!(t.all[0].done.unwrap().0 < whole - 5.0, "{:?}", t.all[0].done);
                assert_eq!(time(w, Verb::Bake), whole);
            },
        );
        let loss = |r: &mut Recipe, _: &mut Kitchen| {
            written(r);
            r.done_when.loss = Some(quantity::Percent(8.0));
        };
        with(2, ROOM, loss, |w, t| {
            assert_eq!(time(w, Verb::Bake) + 1.0, t.all[0].done.unwrap().0.ceil());
            assert!(time(w, Verb::Bake) < 36.0);
        });
    }

    /// Plans of several loads are planned again for the dough they lead to; steps of the second
    /// pass are those of the recipe as written.
    #[test]
    fn plans_of_several_loads_are_staggered() {
        let recipe = read_recipe(BATARD).unwrap();
        let kitchen = read_kitchen(FLAT).unwrap();
        let total_flour = Scale::Pieces(6).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
        let set = ParameterSet::default_set();
        let order = Order { recipe: &recipe, kitchen: &kitchen, set, total_flour, calendar };
        let (fitted, outcome) =
            plan_in_oven(&order, &Request::by(48.0 * 60.0), None, Part::UNTOLD).unwrap();
        let Outcome::Plans(plans) = outcome else { panic!("no plan") };
        for plan in plans {
            let way = &fitted.ways[plan.way];
            let setting = order.setting(&way.recipe).unwrap();
            let oven_loads = way.oven_loads(&setting, &plan.schedule).unwrap().unwrap();
            assert_eq!(oven_loads.all.len(), 3);
            for (k, pair) in oven_loads.all.windows(2).enumerate() {
                let between = (pair[1].waited - pair[0].waited).0;
                assert!(between >= pair[0].bake.0 + pair[1].reheat.0, "{k}: {between}");
            }
            let loads: Vec<f64> = way
                .recipe
                .method
                .main_line(way.path)
                .into_iter()
                .filter(|&i| way.recipe.method.steps[i].verb == Verb::Load)
                .map(|i| plan.schedule.of(i).unwrap().from)
                .collect();
            // scored in the same step from the second load on
            let waited = loads[2] + oven_loads.scoring.0 - loads[0];
            assert!((oven_loads.all[2].waited.0 - waited).abs() < 1e-6);
            let written: Vec<Option<usize>> =
                (0..way.recipe.method.steps.len()).map(|i| way.written(i)).collect();
            let kept: Vec<usize> = written.into_iter().flatten().collect();
            let mut picked = recipe.clone();
            way.pick.apply(&mut picked);
            assert_eq!(kept, (0..picked.method.steps.len()).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_bread_that_is_never_done_keeps_its_time_and_says_so() {
        let cold = |_: &mut Recipe, k: &mut Kitchen| k.oven.knob_error = TempRise(-80.0);
        let never = |r: &mut Recipe, k: &mut Kitchen| {
            cold(r, k);
            // nothing browns that dark in an oven of 145 °C
            r.done_when.lightness = Some(45.0);
        };
        with(2, ROOM, never, |w, t| {
            let change = w.changes.iter().find(|c| c.verb == Verb::Bake).unwrap();
            assert!(!change.done && t.all[0].done.is_none());
            assert_eq!(change.here, change.written);
        });
    }
}
