//! The schedule that fits the dough, the baker's hours and the asked time.
//!
//! One recipe, one kitchen, in all the kitchens that one may be. For every way through the method
//! (room or cold bulk, room or cold proof, and what the recipe leaves free) doughs are grown
//! forward on a grid of wall-clock times, best few kept per time and aim: first roughly, in few
//! kitchens on a coarse grid, then in all of them near what was found. Every hands-on moment must
//! lie in the baker's hours, the written kitchen's results inside their windows, and the bread be
//! cooled on time; how well a schedule does is its mean over the kitchens. Three answers are
//! given, each best by another aim. When nothing fits, what stands in the way is named, and one
//! constraint after another is softened for the cheapest way out.

mod crowd;
mod exhaustive;
mod grow;
mod hands;
mod limits;
mod remedy;
mod several;
mod shift;
pub mod together;
mod underway;
mod weigh;
mod why;

pub(crate) use crowd::off_target;
pub use exhaustive::{Least, least_found, least_of_all};
pub use limits::{Lack, limits};
pub use remedy::{Breach, Constraint, Nothing, Remedy};
pub use several::{Joint, Several, WayOut, needs};
pub(crate) use several::{One, Wrong, seek as seek_several};
pub use shift::{Change, Edge, Limit, Moved, NotMoved, moved, shifted};
pub use underway::{Did, Happened, Measured, Odd, ReadOff, Underway};
pub use weigh::{AIMS, Aim, Burden, Weights};
pub use why::{path_words, why, why_joint};

use crate::belief::Draws;
use crate::forecast::{Asked, Forecast, forecast};
use crate::method::{Cue, End, Path, Verb};
use crate::progress::Part;
use crate::run::{Draw, Lump, RunError, Schedule, Setting, Span, Trace, Walker};
use crowd::People;
use grow::{Effort, Found, KNOWN, Task};
use hands::Hands;
use quantity::Minutes;
use rayon::prelude::*;
use std::collections::BTreeSet;
use weigh::Scales;

/// What is asked of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// Elapsed minute by which the bread must be cooled; now is 0.
    pub ready: f64,
    /// How much sooner is still fine.
    pub early: Minutes,
    /// Grid of wall-clock times.
    pub grid: Minutes,
    /// Kitchens a schedule is tried in.
    pub kitchens: u32,
    /// Moments that are fixed: within half a grid of when they are asked.
    pub pins: Vec<Pin>,
    /// What weighs how much.
    pub weights: Weights,
}

impl Request {
    /// Ready by an elapsed minute, up to 3 h sooner, on a grid of ten minutes, in 256 kitchens.
    pub fn by(ready: f64) -> Self {
        Self {
            ready,
            early: Minutes(180.0),
            grid: Minutes(10.0),
            kitchens: 256,
            pins: Vec::new(),
            weights: Weights::USUAL,
        }
    }
}

/// A step that has to begin at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pin {
    /// Index of the step in the method.
    pub step: usize,
    /// Elapsed minute.
    pub at: f64,
}

/// A schedule with what it leads to.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Which of the ways asked it goes.
    pub way: usize,
    /// What it is best at; the first is what it was chosen for.
    pub aims: Vec<Aim>,
    /// When each step happens.
    pub schedule: Schedule,
    /// Badness for its first aim. Comparable within one request and aim only.
    pub cost: f64,
    /// Badness for every aim.
    pub costs: [f64; AIMS],
    /// What it asks of dough and baker.
    pub burden: Burden,
    /// For steps that start when something is ready: how early and how late they may start,
    /// elapsed minutes.
    pub slack: Vec<(usize, f64, f64)>,
    /// The doughs along it.
    pub trace: Trace,
    /// What it leads to over the kitchens this one may be.
    pub forecast: Forecast,
}

impl Plan {
    /// How early and late a step may start, if it has room.
    pub fn slack_of(&self, step: usize) -> Option<(f64, f64)> {
        self.slack.iter().find(|s| s.0 == step).map(|s| (s.1, s.2))
    }
}

/// The answer.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// One plan per aim, fewer when one is best at several.
    Plans(Vec<Plan>),
    /// Nothing fits: what stands in the way, and what could give.
    Nothing(Nothing),
}

/// Why no plan can even be sought.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanError {
    /// The bread should be ready before now.
    Past,
    /// More than four weeks ahead.
    TooFar,
    /// No minute of the baker's week is awake, at home and not ruled out.
    NoHours,
    /// Two pins cannot both be kept, whatever the dough does.
    Pins {
        /// The earlier step.
        first: Pin,
        /// The later one.
        second: Pin,
        /// Least and most minutes the method leaves between them.
        between: (f64, f64),
    },
    /// A pinned step belongs to no way through the method, or lies before now or after the bread
    /// is asked.
    Pin(Pin),
    /// The kitchen has not what every way through the method needs.
    Lack(Lack),
    /// What happened does not fit the method.
    Odd(Odd),
    /// The recipe cannot be run here.
    Run(RunError),
}

impl std::fmt::Display for PlanError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Past => write!(f, "the time asked for is already past"),
            Self::TooFar => write!(f, "the time asked for is more than four weeks ahead"),
            Self::NoHours => {
                write!(f, "your hours leave no minute in which you are awake, at home and free")
            }
            Self::Pins { first, second, between } => write!(
                f,
                "steps {} and {} are pinned {} apart, but the method puts {} to {} between them",
                first.step + 1,
                second.step + 1,
                Minutes(second.at - first.at).show(),
                Minutes(between.0).show(),
                Minutes(between.1).show(),
            ),
            Self::Pin(p) => write!(
                f,
                "step {} cannot be pinned there: it is in no way through the method, or the time is past or after the bread is asked",
                p.step + 1
            ),
            Self::Lack(e) => e.fmt(f),
            Self::Odd(e) => e.fmt(f),
            Self::Run(e) => e.fmt(f),
        }
    }
}
impl std::error::Error for PlanError {}
impl From<RunError> for PlanError {
    fn from(e: RunError) -> Self {
        Self::Run(e)
    }
}
impl From<Lack> for PlanError {
    fn from(e: Lack) -> Self {
        Self::Lack(e)
    }
}
impl From<Odd> for PlanError {
    fn from(e: Odd) -> Self {
        Self::Odd(e)
    }
}

/// Which constraints may be breached, at a price.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Softened {
    hours: bool,
    windows: bool,
    pins: bool,
    /// Minutes by which the bread may be late.
    later: u32,
}

/// Longest time ahead that is planned, minutes.
const HORIZON_MAX: f64 = 28.0 * 1440.0;
/// How much later than asked is searched when nothing fits, minutes.
const LATER_MAX: u32 = 48 * 60;
/// Kitchens of the rough search, the written one included: one register where there is a wide one.
const ROUGH_KITCHENS: usize = 8;
/// Grid of the rough search, minutes.
const ROUGH_GRID: f64 = 30.0;
/// How far from the rough schedule the fine search looks, minutes.
const NEAR: f64 = 40.0;
/// Partial schedules kept per time, acidity and aim.
const KEPT: usize = 3;
/// The same in the rough search that decides where the fine one looks.
const ROUGH_KEPT: usize = 16;
/// The same before it is said that nothing fits.
const LAST_KEPT: usize = 128;
/// Rough schedules near which better ones are looked for, for each aim; and as many that begin or
/// mix at another time.
const CLIMB_BEST: usize = 10;
/// Partial schedules kept there.
const CLIMB_KEPT: usize = 64;
/// How often, at most.
const CLIMBS: usize = 4;
/// What has to be gained to look again, as a part of the cost.
const GAIN: f64 = 1e-3;
/// Times in different parts of the day this long are quite other times, minutes.
const APART: f64 = 180.0;
/// Rough schedules that are looked at finely, for each aim.
const ROUGH_BEST: usize = 3;
/// Kitchens of the fine search, at most.
const FINE_KITCHENS: usize = 64;
/// Schedules that are tried in every kitchen, for each aim.
const FINALISTS: usize = 8;
/// How much worse a second way may be, roughly, as a part, to be looked at finely.
pub(crate) const CLOSE: f64 = 0.1;
/// A second answer is another one when some moment differs by this, minutes.
const ANOTHER: f64 = 90.0;

/// Seeks plans.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn plan(setting: &Setting<'_>, request: &Request) -> Result<Outcome, PlanError> {
    let paths = setting.recipe.method.paths();
    let ways: Vec<(Path, &Setting<'_>)> = paths.into_iter().map(|p| (p, setting)).collect();
    plan_each(&ways, request, None, Part::UNTOLD)
}

/// In which kitchens a search grows its doughs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grown {
    /// In none: no dough matters.
    Nowhere,
    /// In the kitchen as it is alone: whether there is a way at all.
    Here,
    /// In so many.
    In(usize),
}

/// The order in which one path's moments lie, for a request.
struct Quest<'s, 'a> {
    ways: &'s [(Path, &'s Setting<'a>)],
    request: &'s Request,
    underway: Option<&'s Underway>,
    scales: Scales,
}

impl<'s, 'a> Quest<'s, 'a> {
    fn new(
        ways: &'s [(Path, &'s Setting<'a>)],
        request: &'s Request,
        underway: Option<&'s Underway>,
    ) -> Result<Self, PlanError> {
        if request.ready.is_nan() || request.ready <= 0.0 {
            return Err(PlanError::Past);
        }
        if request.ready > HORIZON_MAX {
            return Err(PlanError::TooFar);
        }
        for (path, setting) in ways {
            pins_agree(setting, *path, request)?;
        }
        let mut room = ways.iter().map(|(path, setting)| limits(setting, *path));
        if let (Some(Err(limit)), true) = (room.next(), room.all(|r| r.is_err())) {
            return Err(limit.into());
        }
        Ok(Self { ways, request, underway, scales: Scales::new(&request.weights) })
    }

    fn horizon(&self) -> f64 {
        self.request.ready + f64::from(LATER_MAX)
    }

    fn people(&self, setting: &Setting<'_>, grown: Grown) -> People {
        match (self.underway, grown) {
            (Some(u), Grown::In(n)) => u.people(setting.kitchen, n),
            (Some(u), _) => u.people(setting.kitchen, 2),
            (None, Grown::Nowhere) => People::none(),
            (None, Grown::Here) => People::here(),
            (None, Grown::In(n)) => People::of(setting.kitchen, n),
        }
    }

    /// Ways that the kitchen has room for and that agree with what has happened, by their place.
    fn open(&self) -> Vec<usize> {
        let fits = |&w: &usize| {
            let (path, setting) = self.ways[w];
            limits(setting, path).is_ok() && self.underway.is_none_or(|u| u.allows(setting, path))
        };
        (0..self.ways.len()).filter(fits).collect()
    }

    fn task<'t>(
        &'t self,
        way: usize,
        hands: &'t Hands,
        people: &'t People,
        soft: Softened,
        effort: Effort,
    ) -> Task<'t, 'a> {
        let (path, setting) = self.ways[way];
        Task {
            setting,
            request: self.request,
            path,
            hands,
            people,
            scales: &self.scales,
            soft,
            effort,
            underway: self.underway,
        }
    }

    /// One search of every way.
    fn every_way(
        &self,
        hands: &Hands,
        soft: Softened,
        grown: Grown,
        effort: &Effort,
    ) -> Result<Vec<(usize, Found)>, RunError> {
        let found: Vec<Vec<(usize, Found)>> = self
            .open()
            .into_par_iter()
            .map(|w| {
                let people = self.people(self.ways[w].1, grown);
                let found = self.task(w, hands, &people, soft, effort.clone()).search()?;
                Ok(found.into_iter().map(|f| (w, f)).collect())
            })
            .collect::<Result<_, RunError>>()?;
        Ok(found.into_iter().flatten().collect())
    }

    /// The rough search of every way, on a grid shifted by some minutes.
    fn rough(
        &self,
        hands: &Hands,
        kept: usize,
        shift: f64,
    ) -> Result<Vec<(usize, Found)>, RunError> {
        let kept_all = Softened::default();
        let effort = |grid| Effort { grid, shift, kept, near: None };
        let few = Grown::In(ROUGH_KITCHENS);
        let (wide, asked) = (self.request.grid.0.max(ROUGH_GRID), self.request.grid.0);
        let found = self.every_way(hands, kept_all, few, &effort(wide))?;
        if !found.is_empty() {
            return Ok(found);
        }
        // the asked grid takes long: first whether it has anything
        if self.hopeless(hands, shift)? {
            return Ok(found);
        }
        let any = self.every_way(hands, kept_all, Grown::Here, &effort(asked))?;
        if any.is_empty() {
            return Ok(any);
        }
        let found = self.every_way(hands, kept_all, few, &effort(asked))?;
        Ok(if found.is_empty() { any } else { found })
    }

    /// Whether hours and times alone, whatever the dough does, leave no way.
    fn hopeless(&self, hands: &Hands, shift: f64) -> Result<bool, RunError> {
        let grid = self.request.grid.0;
        let effort = Effort { grid, shift, kept: ROUGH_KEPT, near: None };
        let soft = Softened { windows: true, ..Softened::default() };
        // what is under way has a dough
        Ok(self.underway.is_none()
            && self.every_way(hands, soft, Grown::Nowhere, &effort)?.is_empty())
    }

    /// The last search before it is said that nothing fits.
    fn last(&self, hands: &Hands) -> Result<Vec<(usize, Found)>, RunError> {
        if self.hopeless(hands, 0.0)? {
            return Ok(Vec::new());
        }
        for grid in [self.request.grid.0.max(ROUGH_GRID), self.request.grid.0] {
            let effort = Effort { grid, shift: 0.0, kept: LAST_KEPT, near: None };
            let found = self.every_way(hands, Softened::default(), Grown::Here, &effort)?;
            if !found.is_empty() {
                return Ok(found);
            }
        }
        Ok(Vec::new())
    }

    /// The rough search, then the fine one.
    fn found(&self, hands: &Hands, part: Part<'_>) -> Result<Vec<(usize, Found)>, RunError> {
        let mut rough = self.rough(hands, ROUGH_KEPT, 0.0)?;
        if rough.is_empty() {
            rough = self.last(hands)?;
        }
        part.within(0.0, 0.2).done();
        if rough.is_empty() {
            return Ok(rough);
        }
        self.climb(hands, &mut rough)?;
        part.within(0.0, 0.3).done();
        let fine = self.fine(hands, &rough, part.within(0.3, 1.0))?;
        // the finer grid has other moments: keep what does fit
        Ok(if fine.is_empty() { rough } else { fine })
    }

    /// Adds better schedules on the rough grid: everything near the best, and near the best of
    /// those that begin or mix at quite another time, until nothing is gained.
    fn climb(&self, hands: &Hands, found: &mut Vec<(usize, Found)>) -> Result<(), RunError> {
        let grid = self.request.grid.0.max(ROUGH_GRID);
        let least = |found: &[(usize, Found)]| -> [f64; AIMS] {
            std::array::from_fn(|a| by_cost(found, a).first().map_or(0.0, |f| f.1.costs[a]))
        };
        let mut before = least(found);
        for _ in 0..CLIMBS {
            let mut known: Vec<Vec<Schedule>> = vec![Vec::new(); self.ways.len()];
            for a in 0..AIMS {
                let order = by_cost(found, a);
                let mut seen = BTreeSet::new();
                let apart = order.iter().filter(|(w, f)| {
                    let times = [f.schedule.begins(), self.mixed(*w, &f.schedule)];
                    seen.insert((*w, times.map(|t| (t / APART) as i64)))
                });
                for (w, f) in order.iter().take(CLIMB_BEST).chain(apart.take(CLIMB_BEST)) {
                    if !known[*w].contains(&f.schedule) {
                        known[*w].push(f.schedule.clone());
                    }
                }
            }
            found.extend(self.near(hands, known, grid, ROUGH_GRID, CLIMB_KEPT, ROUGH_KITCHENS)?);
            let now = least(found);
            if (0..AIMS).all(|a| now[a] >= before[a] * (1.0 - GAIN)) {
                break;
            }
            before = now;
        }
        Ok(())
    }

    /// When a schedule mixes its dough, elapsed minutes.
    fn mixed(&self, way: usize, schedule: &Schedule) -> f64 {
        let method = &self.ways[way].1.recipe.method;
        let mix = method
            .main_line(schedule.path)
            .into_iter()
            .find(|&i| method.steps[i].verb == Verb::Mix);
        mix.and_then(|i| schedule.of(i)).map_or(0.0, |s| s.from)
    }

    /// The fine search, near what the rough one found.
    fn fine(
        &self,
        hands: &Hands,
        rough: &[(usize, Found)],
        part: Part<'_>,
    ) -> Result<Vec<(usize, Found)>, RunError> {
        let mut near: Vec<Vec<Schedule>> = vec![Vec::new(); self.ways.len()];
        let mut add = |(w, f): &(usize, Found)| {
            if !near[*w].contains(&f.schedule) {
                near[*w].push(f.schedule.clone());
            }
        };
        for (a, aim) in Aim::EACH.into_iter().enumerate() {
            let order = by_cost(rough, a);
            let Some(first) = order.first() else { continue };
            order.iter().take(ROUGH_BEST).for_each(|f| add(f));
            // another way, if it is about as good
            let most = first.1.costs[a] * (1.0 + CLOSE);
            let close = |f: &&&(usize, Found)| f.0 != first.0 && f.1.costs[a] <= most;
            order.iter().find(close).into_iter().for_each(|f| add(f));
            // something else that gains what the aim is about, so that there is a choice
            let other = |f: &&&(usize, Found)| {
                aim.gains(&f.1.burden, &first.1.burden) && another(&f.1.schedule, &first.1.schedule)
            };
            order.iter().find(other).into_iter().for_each(|f| add(f));
        }
        let kitchens = self.request.kitchens as usize;
        let grid = self.request.grid.0;
        let some = self.near(hands, near.clone(), grid, NEAR, KEPT, kitchens.min(FINE_KITCHENS))?;
        part.within(0.0, 0.7).done();
        // the best of them again, and of what is known already, in every kitchen
        let mut best = near;
        for a in 0..AIMS {
            for (w, f) in by_cost(&some, a).into_iter().take(FINALISTS) {
                if !best[*w].contains(&f.schedule) {
                    best[*w].push(f.schedule.clone());
                }
            }
        }
        for (_, way, f) in answers(&some) {
            if !best[way].contains(&f.schedule) {
                best[way].push(f.schedule.clone());
            }
        }
        let all = self.near(hands, best, grid, 0.0, usize::MAX, kitchens)?;
        part.done();
        Ok(all)
    }

    /// The search on a grid within some minutes of known schedules, way by way.
    fn near(
        &self,
        hands: &Hands,
        known: Vec<Vec<Schedule>>,
        grid: f64,
        minutes: f64,
        kept: usize,
        kitchens: usize,
    ) -> Result<Vec<(usize, Found)>, RunError> {
        let asked: Vec<(usize, Vec<Schedule>)> =
            known.into_iter().enumerate().filter(|(_, k)| !k.is_empty()).collect();
        let all: Vec<Vec<(usize, Found)>> = asked
            .into_par_iter()
            .map(|(w, mut known)| {
                known.truncate(KNOWN);
                let people = self.people(self.ways[w].1, Grown::In(kitchens));
                let near = Some((minutes, known));
                let effort = Effort { grid, shift: 0.0, kept, near };
                let found = self.task(w, hands, &people, Softened::default(), effort).search()?;
                Ok(found.into_iter().map(|f| (w, f)).collect())
            })
            .collect::<Result<_, RunError>>()?;
        Ok(all.into_iter().flatten().collect())
    }
}

/// Seeks plans where every way through the method has a setting of its own, one kitchen and
/// calendar for all; from the dough as it is when something has happened already.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn plan_each(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
    underway: Option<&Underway>,
    part: Part<'_>,
) -> Result<Outcome, PlanError> {
    let (search, rest) = (part.within(0.0, 0.8), part.within(0.3, 1.0));
    let quest = Quest::new(ways, request, underway)?;
    match plans(&quest, search, part.within(0.8, 1.0))? {
        Some(plans) => Ok(Outcome::Plans(plans)),
        None if ways.is_empty() => Ok(Outcome::Nothing(Nothing::default())),
        None => Ok(Outcome::Nothing(remedy::seek(&quest, rest)?)),
    }
}

/// The plans alone; none where nothing fits.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub(crate) fn plans_of_each(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
    underway: Option<&Underway>,
    part: Part<'_>,
) -> Result<Option<Vec<Plan>>, PlanError> {
    let quest = Quest::new(ways, request, underway)?;
    plans(&quest, part.within(0.0, 0.8), part.within(0.8, 1.0))
}

fn plans(
    quest: &Quest<'_, '_>,
    search: Part<'_>,
    finishing: Part<'_>,
) -> Result<Option<Vec<Plan>>, PlanError> {
    let Some((_, any)) = quest.ways.first() else { return Ok(None) };
    let hands = Hands::new(any, quest.horizon(), &[]);
    if !hands.ever_free() && any.kitchen.hours.never_free() {
        return Err(PlanError::NoHours);
    }
    let found = quest.found(&hands, search)?;
    if found.is_empty() {
        return Ok(None);
    }
    let answers = answers(&found);
    let pieces = finishing.pieces(answers.len());
    let plans: Result<Vec<Plan>, RunError> = answers
        .into_par_iter()
        .map(|(aims, way, found)| {
            let later = (quest.request.ready - found.schedule.ready()).max(0.0);
            let moves = Moves { sooner: f64::INFINITY, later };
            let plan = finish(quest, &hands, way, found, aims, moves)?;
            pieces.one();
            Ok(plan)
        })
        .collect();
    Ok(Some(plans?))
}

/// The best schedule a rough search found for one way.
#[derive(Debug, Clone)]
pub(crate) struct Draft {
    /// Which of the ways asked.
    pub(crate) way: usize,
    /// The safest schedule.
    pub(crate) schedule: Schedule,
    /// The least cost for each aim.
    pub(crate) costs: [f64; AIMS],
}

/// The best of a rough search, for each way that has any: enough to see which doughs will be
/// baked.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub(crate) fn draft(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
    underway: Option<&Underway>,
) -> Result<Vec<Draft>, PlanError> {
    let quest = Quest::new(ways, request, underway)?;
    let Some((_, any)) = ways.first() else { return Ok(Vec::new()) };
    let hands = Hands::new(any, quest.horizon(), &[]);
    let rough = quest.rough(&hands, KEPT, 0.0)?;
    Ok((0..ways.len())
        .filter_map(|way| {
            let mine: Vec<&Found> = rough.iter().filter(|f| f.0 == way).map(|f| &f.1).collect();
            let best = mine.iter().min_by(|a, b| a.costs[0].total_cmp(&b.costs[0]))?;
            let least = |a: usize| mine.iter().map(|f| f.costs[a]).fold(f64::INFINITY, f64::min);
            let costs = std::array::from_fn(least);
            Some(Draft { way, schedule: best.schedule.clone(), costs })
        })
        .collect())
}

/// What was found, the best for an aim first.
fn by_cost(found: &[(usize, Found)], aim: usize) -> Vec<&(usize, Found)> {
    let mut order: Vec<&(usize, Found)> = found.iter().collect();
    order.sort_by(|x, y| x.1.costs[aim].total_cmp(&y.1.costs[aim]));
    order
}

/// The safest schedule, and for each other aim the best one that is noticeably better than those
/// before in what that aim is about; where there is none, one of them is best at this too.
fn answers(found: &[(usize, Found)]) -> Vec<(Vec<Aim>, usize, &Found)> {
    let mut out: Vec<(Vec<Aim>, usize, &Found)> = Vec::new();
    for (a, aim) in Aim::EACH.into_iter().enumerate() {
        let gains = |f: &Found| out.iter().all(|o| aim.gains(&f.burden, &o.2.burden));
        let better = by_cost(found, a).into_iter().find(|f| gains(&f.1));
        if let Some((way, f)) = better {
            out.push((vec![aim], *way, f));
        } else if let Some(o) = out.iter_mut().min_by(|x, y| x.2.costs[a].total_cmp(&y.2.costs[a]))
        {
            o.0.push(aim);
        }
    }
    out
}

/// Whether some moment of two schedules differs much.
fn another(a: &Schedule, b: &Schedule) -> bool {
    a.path != b.path
        || a.spans.iter().any(|s| b.of(s.step).is_none_or(|t| (t.from - s.from).abs() >= ANOTHER))
}

/// Pins that no dough could keep.
fn pins_agree(setting: &Setting<'_>, path: Path, request: &Request) -> Result<(), PlanError> {
    let method = &setting.recipe.method;
    for pin in &request.pins {
        let Some(step) = method.steps.get(pin.step) else { return Err(PlanError::Pin(*pin)) };
        let any = method.paths().into_iter().any(|p| p.takes(step));
        if !any || !pin.at.is_finite() || pin.at < 0.0 || pin.at >= request.ready {
            return Err(PlanError::Pin(*pin));
        }
    }
    let main = method.main_line(path);
    let place = |p: &Pin| main.iter().position(|&i| i == p.step);
    for (k, a) in request.pins.iter().enumerate() {
        for b in &request.pins[k + 1..] {
            let (Some(i), Some(j)) = (place(a), place(b)) else { continue };
            let ((first, i), (second, j)) =
                if i <= j { ((a, i), (b, j)) } else { ((b, j), (a, i)) };
            let sum = |f: fn(End) -> Minutes| -> f64 {
                main[i..j].iter().map(|&s| f(method.steps[s].end).0).sum()
            };
            let between = (sum(End::least), sum(End::most));
            let apart = second.at - first.at;
            let give = request.grid.0;
            if apart < between.0 - give || apart > between.1 + give {
                return Err(PlanError::Pins { first: *first, second: *second, between });
            }
        }
    }
    Ok(())
}

/// Minutes by which the bread itself may come sooner or later.
#[derive(Debug, Clone, Copy)]
struct Moves {
    sooner: f64,
    later: f64,
}

impl Moves {
    const FREE: Self = Self { sooner: f64::INFINITY, later: f64::INFINITY };
}

/// Simulates a schedule finely and finds how much room each moment has.
fn finish(
    quest: &Quest<'_, '_>,
    hands: &Hands,
    way: usize,
    found: &Found,
    aims: Vec<Aim>,
    moves: Moves,
) -> Result<Plan, RunError> {
    let setting = quest.ways[way].1;
    let schedule = found.schedule.clone();
    let written = Draw::as_written();
    let draw = quest.underway.map_or(written, Underway::reference);
    let trace = setting.run_as(&schedule, Minutes(5.0), &draw)?;
    let slack = slacks(setting, hands, &schedule, moves, &draw)?;
    // the same kitchens for every schedule
    let draws = match quest.underway {
        Some(u) => u.draws().clone(),
        None => own_draws(quest.request.kitchens),
    };
    let forecast = forecast(setting, &schedule, &draws, Asked { over_time: true, loaf: false })?;
    let by = aims.first().copied().unwrap_or(Aim::Safest);
    Ok(Plan {
        way,
        aims,
        schedule,
        cost: found.costs[by as usize],
        costs: found.costs,
        burden: found.burden,
        slack,
        trace,
        forecast,
    })
}

fn own_draws(kitchens: u32) -> Draws {
    Draws::new(crate::belief::Belief::own_kitchen().clone(), kitchens, crate::forecast::SEED)
}

/// How early and how late each step that waits for something may start, hands always free:
/// step index, elapsed minutes.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn windows(
    setting: &Setting<'_>,
    schedule: &Schedule,
) -> Result<Vec<(usize, f64, f64)>, RunError> {
    slacks(setting, &Hands::always(), schedule, Moves::FREE, &Draw::as_written())
}

/// For each free end: the span around it in which the result stays good and hands are free.
fn slacks(
    setting: &Setting<'_>,
    hands: &Hands,
    schedule: &Schedule,
    moves: Moves,
    draw: &Draw,
) -> Result<Vec<(usize, f64, f64)>, RunError> {
    let method = &setting.recipe.method;
    let dough = setting.recipe.formula.preferments.len();
    let surveyor = |line: usize| {
        let steps = match setting.recipe.formula.preferments.get(line) {
            Some(p) => method.side_line(&p.name),
            None => method.main_line(schedule.path),
        };
        let spans = steps.iter().filter_map(|&i| schedule.of(i)).collect();
        Surveyor { hands, spans, main: line == dough, moves, out: Vec::new() }
    };
    let (surveyors, _) = setting.walk_all(schedule.path, draw, surveyor)?;
    Ok(surveyors.into_iter().flat_map(|s| s.out).collect())
}

/// Measures how much room the moments of one line have.
struct Surveyor<'h> {
    hands: &'h Hands,
    spans: Vec<Span>,
    main: bool,
    moves: Moves,
    out: Vec<(usize, f64, f64)>,
}

impl Surveyor<'_> {
    /// Minutes tried at once.
    const FINE: f64 = 5.0;

    /// The stretch around a moment, inside limits, in which hands are free for the work.
    fn stretch(&self, at: f64, (lo, hi): (f64, f64), work: Minutes) -> (f64, f64) {
        let free = |t: f64| t >= 0.0 && self.hands.blocked_in(t, work) == 0;
        let (mut early, mut late) = (at, at);
        while early - Self::FINE >= lo && free(early - Self::FINE) {
            early -= Self::FINE;
        }
        while late + Self::FINE <= hi && free(late + Self::FINE) {
            late += Self::FINE;
        }
        (early, late)
    }
}

impl Walker for Surveyor<'_> {
    fn begins(&mut self, step: usize) -> Option<f64> {
        self.spans.iter().find(|s| s.step == step).map(|s| s.from)
    }

    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: f64, lump: Option<&mut Lump>) {
        let steps = &setting.recipe.method.steps;
        let s = &steps[step];
        let (Some(k), Some(l)) = (self.spans.iter().position(|x| x.step == step), lump) else {
            return;
        };
        let to = self.spans[k].to;
        if !matches!(s.end, End::After(_)) {
            let (first, last) =
                grow::good_span(setting, s, l, from, to, Self::FINE).unwrap_or((to, to));
            let rest = &self.spans[k + 1..];
            if let Some(next) = rest.first() {
                // the next step may start anywhere in that span, hands allowing
                let fixed = |x: &Span| matches!(steps[x.step].end, End::After(_));
                let tail = self.main && rest.iter().all(fixed);
                // the last free end moves the bread itself
                let (first, last) = if tail {
                    (first.max(to - self.moves.sooner), last.min(to + self.moves.later))
                } else {
                    (first, last)
                };
                let (a, b) = self.stretch(to, (first, last), steps[next.step].hands_on);
                self.out.push((next.step, a, b));
            } else if !self.main && k == 0 {
                // a single build waits for mixing: it is its own start that has room
                let (a, b) =
                    self.stretch(from, (from - (last - to), from + (to - first)), s.hands_on);
                self.out.push((step, a, b));
            }
        }
        l.rest(setting, from, to, crate::run::MAX_STEP_MIN, |_, _| {});
    }
}

/// Whether a step waits for a levain's peak.
fn waits_for_peak(end: End) -> bool {
    matches!(end, End::Cue { cue: Cue::Ripe, .. })
}

#[cfg(test)]
mod tests;
