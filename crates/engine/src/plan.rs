//! The schedule that fits the dough, the baker's hours and the asked time.
//!
//! One recipe, one kitchen. For every way through the method (room or cold bulk, room or cold
//! proof) the doughs of the median kitchen are grown forward on a grid of wall-clock times, best
//! few kept per time; every hands-on moment must lie in the baker's hours, every result inside its
//! window, and the bread be cooled on time. The best of each way then runs in an ensemble of
//! kitchens, the same for all, and the ways are ranked by that.
//! When nothing fits, one constraint after another is softened and the cheapest breach
//! is named.

mod grow;
mod remedy;
pub mod together;

pub(crate) use grow::off_target;
pub use remedy::{Breach, Remedy};

use crate::forecast::{Forecast, forecast, own_kitchen};
use crate::hours::Blocked;
use crate::method::{Cue, End, Path};
use crate::run::{Draw, Lump, RunError, Schedule, Setting, Span, Trace, Walker};
use quantity::Minutes;

/// What is asked of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// Elapsed minute by which the bread must be cooled; now is 0.
    pub ready: f64,
    /// How much sooner is still fine.
    pub early: Minutes,
    /// Grid of wall-clock times.
    pub grid: Minutes,
}

impl Request {
    /// Ready by an elapsed minute, up to 3 h sooner, on quarter hours.
    pub fn by(ready: f64) -> Self {
        Self { ready, early: Minutes(180.0), grid: Minutes(15.0) }
    }
}

/// What makes one plan worse than another. Few, named, and here; all ours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// A result at the edge of its window (0 at its target).
    pub edge_of_window: f64,
    /// A free duration at the edge of its range (0 at its usual).
    pub edge_of_range: f64,
    /// A dough past its best at the end of a step.
    pub tired: f64,
    /// Bread one hour too early, squared with the hours.
    pub hour_early: f64,
    /// A window missed in every kitchen of the ensemble; in proportion where some hit it.
    pub missed: f64,
    /// For softened constraints only: a breach, and each minute of it.
    pub breach: f64,
    /// See `breach`.
    pub breach_minute: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self {
            edge_of_window: 1.0,
            edge_of_range: 0.3,
            tired: 1.5,
            hour_early: 0.05,
            missed: 3.0,
            breach: 10.0,
            breach_minute: 0.1,
        }
    }
}

/// A schedule with what it leads to.
#[derive(Debug, Clone)]
pub struct Plan {
    /// When each step happens.
    pub schedule: Schedule,
    /// Badness; 0 is every result at its target in every kitchen of the ensemble. Comparable
    /// within one request only.
    pub cost: f64,
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
    /// One plan per way through the method that works, best first.
    Plans(Vec<Plan>),
    /// Nothing fits: what could give, cheapest first.
    Nothing(Vec<Remedy>),
}

/// Why no plan can even be sought.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanError {
    /// The bread should be ready before now.
    Past,
    /// More than four weeks ahead.
    TooFar,
    /// The recipe cannot be run here.
    Run(RunError),
}

impl std::fmt::Display for PlanError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Past => write!(f, "the time asked for is already past"),
            Self::TooFar => write!(f, "the time asked for is more than four weeks ahead"),
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

/// The baker's minutes: which are blocked, and why.
pub(crate) struct Hands {
    blocked: Vec<Option<Blocked>>,
    before: Vec<u32>,
}

impl Hands {
    fn new(setting: &Setting<'_>, horizon_min: f64) -> Self {
        let n = horizon_min.ceil().max(1.0) as i64 + 1;
        let hours = &setting.kitchen.hours;
        let blocked: Vec<Option<Blocked>> =
            (0..n).map(|m| hours.blocked(setting.calendar.local(m))).collect();
        let mut before = vec![0];
        for b in &blocked {
            before.push(before.last().copied().unwrap_or(0) + u32::from(b.is_some()));
        }
        Self { blocked, before }
    }

    /// Blocked minutes in a span of work; beyond the horizon nothing is.
    fn blocked_in(&self, from: f64, minutes: Minutes) -> u32 {
        if minutes.0 <= 0.0 {
            return 0;
        }
        let last = self.blocked.len();
        let clip = |m: f64| (m.max(0.0) as usize).min(last);
        let (a, b) = (clip(from.floor()), clip((from + minutes.0).ceil()));
        self.before[b] - self.before[a]
    }

    fn why(&self, from: f64, minutes: Minutes) -> Option<Blocked> {
        let a = from.floor().max(0.0) as usize;
        let n = minutes.0.ceil().max(1.0) as usize;
        self.blocked.iter().skip(a).take(n).flatten().copied().next()
    }
}

/// Which constraints may be breached, at a price.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Softened {
    hours: bool,
    windows: bool,
    ready: bool,
}

/// Longest time ahead that is planned, minutes.
const HORIZON_MAX: f64 = 28.0 * 1440.0;
/// How much later than asked is searched when nothing fits, minutes.
const LATER_MAX: f64 = 48.0 * 60.0;

/// Seeks plans.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn plan(setting: &Setting<'_>, request: &Request) -> Result<Outcome, PlanError> {
    let paths = setting.recipe.method.paths();
    let ways: Vec<(Path, &Setting<'_>)> = paths.into_iter().map(|p| (p, setting)).collect();
    plan_each(&ways, request)
}

/// Seeks plans where every way through the method has a setting of its own, one kitchen and
/// calendar for all.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn plan_each(ways: &[(Path, &Setting<'_>)], request: &Request) -> Result<Outcome, PlanError> {
    if request.ready.is_nan() || request.ready <= 0.0 {
        return Err(PlanError::Past);
    }
    if request.ready > HORIZON_MAX {
        return Err(PlanError::TooFar);
    }
    let weights = Weights::default();
    let Some((_, any)) = ways.first() else { return Ok(Outcome::Nothing(Vec::new())) };
    let hands = Hands::new(any, request.ready + LATER_MAX);
    let mut plans = Vec::new();
    for &(path, setting) in ways {
        let found = grow::search(setting, request, path, &hands, &weights, Softened::default())?;
        if let Some(found) = found {
            let schedule = found.schedule(path);
            let mut plan = finish(setting, &hands, schedule, found.cost, request.ready)?;
            // the median kitchen found it, the ensemble ranks it
            plan.cost += weights.missed * (1.0 - plan.forecast.all_windows.fraction());
            plans.push(plan);
        }
    }
    if plans.is_empty() {
        return Ok(Outcome::Nothing(remedy::seek(ways, request, &hands, &weights)?));
    }
    plans.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    Ok(Outcome::Plans(plans))
}

/// Simulates a schedule finely and finds how much room each moment has.
fn finish(
    setting: &Setting<'_>,
    hands: &Hands,
    schedule: Schedule,
    cost: f64,
    deadline: f64,
) -> Result<Plan, RunError> {
    let trace = setting.run(&schedule, Minutes(5.0))?;
    let slack = slacks(setting, hands, &schedule, deadline)?;
    // the same kitchens for every schedule
    let forecast = forecast(setting, &schedule, &own_kitchen(), false)?;
    Ok(Plan { schedule, cost, slack, trace, forecast })
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
    slacks(setting, &Hands { blocked: Vec::new(), before: vec![0] }, schedule, f64::INFINITY)
}

/// For each free end: the span around it in which the result stays good and hands are free.
fn slacks(
    setting: &Setting<'_>,
    hands: &Hands,
    schedule: &Schedule,
    deadline: f64,
) -> Result<Vec<(usize, f64, f64)>, RunError> {
    let method = &setting.recipe.method;
    let dough = setting.recipe.formula.preferments.len();
    // the last free end moves the bread itself: not beyond the asked time
    let spare = (deadline - schedule.ready()).max(0.0);
    let surveyor = |line: usize| {
        let steps = match setting.recipe.formula.preferments.get(line) {
            Some(p) => method.side_line(&p.name),
            None => method.main_line(schedule.path),
        };
        let spans = steps.iter().filter_map(|&i| schedule.of(i)).collect();
        Surveyor { hands, spans, main: line == dough, spare, out: Vec::new() }
    };
    let (surveyors, _) = setting.walk_all(schedule.path, &Draw::as_written(), surveyor)?;
    Ok(surveyors.into_iter().flat_map(|s| s.out).collect())
}

/// Measures how much room the moments of one line have.
struct Surveyor<'h> {
    hands: &'h Hands,
    spans: Vec<Span>,
    main: bool,
    spare: f64,
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
                let last = if tail { last.min(to + self.spare) } else { last };
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

/// A way through the method in words, for reports.
pub fn path_words(path: Path, setting: &Setting<'_>) -> &'static str {
    if setting.recipe.method.paths().len() == 1 { "the recipe's one way" } else { path.words() }
}

#[cfg(test)]
mod tests;
