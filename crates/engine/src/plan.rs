//! The schedule that fits the dough, the baker's hours and the asked time.
//!
//! First form: one recipe, one kitchen, one simulated dough. For every way through the
//! method (room or cold bulk, room or cold proof) the doughs are grown forward on a
//! grid of wall-clock times, best few kept per time; every hands-on moment must lie in
//! the baker's hours, every result inside its window, and the bread be cooled on time.
//! When nothing fits, one constraint after another is softened and the cheapest breach
//! is named.

mod grow;
mod remedy;

pub use remedy::{Breach, Remedy};

use crate::hours::Blocked;
use crate::method::{Cue, End, Path, Verb};
use crate::run::{Lump, RunError, Schedule, Setting, Span, Trace};
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
    /// Bread one hour too early, squared with the hours.
    pub hour_early: f64,
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
            hour_early: 0.05,
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
    /// Badness; 0 is every result at its target. Comparable within one request only.
    pub cost: f64,
    /// For steps that start when something is ready: how early and how late they may start,
    /// elapsed minutes.
    pub slack: Vec<(usize, f64, f64)>,
    /// The doughs along it.
    pub trace: Trace,
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
            Self::Past => write!(f, "the bread should be ready before now"),
            Self::TooFar => write!(f, "the bread should be ready in more than four weeks"),
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
    if request.ready.is_nan() || request.ready <= 0.0 {
        return Err(PlanError::Past);
    }
    if request.ready > HORIZON_MAX {
        return Err(PlanError::TooFar);
    }
    let weights = Weights::default();
    let hands = Hands::new(setting, request.ready + LATER_MAX);
    let mut plans = Vec::new();
    for path in setting.recipe.method.paths() {
        let found = grow::search(setting, request, path, &hands, &weights, Softened::default())?;
        if let Some(found) = found {
            let schedule = found.schedule(path);
            plans.push(finish(setting, &hands, schedule, found.cost, request.ready)?);
        }
    }
    if plans.is_empty() {
        return Ok(Outcome::Nothing(remedy::seek(setting, request, &hands, &weights)?));
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
    Ok(Plan { schedule, cost, slack, trace })
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
    const FINE: f64 = 5.0;
    // the last free end moves the bread itself: not beyond the asked time
    let spare = (deadline - schedule.ready()).max(0.0);
    let method = &setting.recipe.method;
    let mut out = Vec::new();
    let mut ripe: Vec<Lump> = Vec::new();
    let side = setting.recipe.formula.preferments.iter().map(|p| method.side_line(&p.name));
    let lines: Vec<Vec<usize>> = side.chain([method.main_line(schedule.path)]).collect();
    for (n, line) in lines.iter().enumerate() {
        let main = n + 1 == lines.len();
        let line: Vec<Span> = line.iter().filter_map(|&i| schedule.of(i)).collect();
        let mut lump: Option<Lump> = None;
        let mut builds = 0;
        for (k, span) in line.iter().enumerate() {
            let step = &method.steps[span.step];
            if step.verb == Verb::Build {
                lump = Some(setting.mix_build(n, builds, span.step, lump.as_ref(), span.from)?.0);
                builds += 1;
            } else if step.verb == Verb::Mix {
                let refs: Vec<&Lump> = ripe.iter().collect();
                lump = Some(setting.mix_dough(span.step, &refs, span.from)?.0);
            } else if let Some(l) = lump.as_mut() {
                l.begin(setting, step, span.from);
            }
            if step.verb.in_oven() {
                break;
            }
            let Some(l) = lump.as_mut() else { continue };
            if !matches!(step.end, End::After(_)) {
                let good = grow::good_span(setting, step, l, span.from, span.to, FINE);
                let (from, to) = good.unwrap_or((span.to, span.to));
                match line.get(k + 1) {
                    // the next step of this line may start anywhere in that span, hands allowing
                    Some(next) => {
                        let work = method.steps[next.step].hands_on;
                        let free = |t: f64| hands.blocked_in(t, work) == 0;
                        let mut early = span.to;
                        while early - FINE >= from && free(early - FINE) {
                            early -= FINE;
                        }
                        let fixed = |s: &Span| matches!(method.steps[s.step].end, End::After(_));
                        let last = main && line[k + 1..].iter().all(fixed);
                        let to = if last { to.min(span.to + spare) } else { to };
                        let mut late = span.to;
                        while late + FINE <= to && free(late + FINE) {
                            late += FINE;
                        }
                        out.push((next.step, early, late));
                    }
                    // the last build waits for mixing: it is its own start that has room
                    None if !main => {
                        let work = step.hands_on;
                        let free = |t: f64| t >= 0.0 && hands.blocked_in(t, work) == 0;
                        let (lo, hi) = (span.from - (to - span.to), span.from + (span.to - from));
                        let mut early = span.from;
                        while early - FINE >= lo && free(early - FINE) {
                            early -= FINE;
                        }
                        let mut late = span.from;
                        while late + FINE <= hi && free(late + FINE) {
                            late += FINE;
                        }
                        // a build in the middle of others already has its room from the one before
                        if k == 0 {
                            out.push((span.step, early, late));
                        }
                    }
                    None => {}
                }
            }
            l.rest(setting, span.from, span.to, crate::run::MAX_STEP_MIN, |_, _| {});
            l.finish(step);
        }
        if !main {
            ripe.extend(lump);
        }
    }
    Ok(out)
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
