//! One step of a schedule moved by hand, and everything after it.
//!
//! Steps of fixed length keep it. The nearest free step before the moved one is stretched or
//! shortened, and what is free after it lasts as long as before wherever hours and the asked time
//! allow; where its result would leave its window it ends as near as it can inside. When mixing
//! moves, each preferment waits longer or shorter for it; when a preferment's beginning moves,
//! mixing stays.
//!
//! Every limit is a set of spans of the clock, so that it is known at once where a step may
//! begin, and the nearest moment that may be.

use super::hands::Hands;
use super::{LATER_MAX, Moves, grow, off_target, own_draws, slacks, waits_for_peak};
use crate::forecast::{Asked, Forecast, forecast};
use crate::hours::Blocked;
use crate::method::{End, Verb};
use crate::run::{
    Draw, Lump, MAX_STEP_MIN, Making, RunError, Schedule, Setting, Span, Trace, Walker, usual,
};
use quantity::Minutes;

/// Which end of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// When it begins.
    Begin,
    /// When it ends, and what follows begins.
    End,
}

/// What is moved, and to when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Index of the step in the method.
    pub step: usize,
    /// Its beginning or its end.
    pub edge: Edge,
    /// Elapsed minute.
    pub at: f64,
}

/// A limit that would break.
#[derive(Debug, Clone, PartialEq)]
pub enum Limit {
    /// It would begin before now.
    Past,
    /// It has begun already.
    Begun {
        /// Which step.
        step: usize,
    },
    /// No hands then.
    Hours {
        /// For which step.
        step: usize,
        /// Elapsed minute it would begin.
        at: f64,
        /// Why not.
        why: Blocked,
    },
    /// Hands are at another step.
    Hands {
        /// For which step.
        step: usize,
        /// Elapsed minute it would begin.
        at: f64,
        /// The other step.
        other: usize,
    },
    /// A step would be too short.
    Least {
        /// Which step.
        step: usize,
        /// It takes at least.
        least: Minutes,
        /// It would last.
        would: Minutes,
    },
    /// A step would be too long.
    Most {
        /// Which step.
        step: usize,
        /// It takes at most.
        most: Minutes,
        /// It would last.
        would: Minutes,
    },
    /// The bread would be ready after it is asked.
    Late {
        /// By so much at least.
        by: Minutes,
    },
}

impl Limit {
    /// In words.
    pub fn words(&self, setting: &Setting<'_>) -> String {
        let step = |i: &usize| {
            setting.recipe.method.steps.get(*i).map_or(String::new(), crate::method::Step::words)
        };
        match self {
            Self::Past => "that is before now".into(),
            Self::Begun { step: s } => format!("{}: it has begun already", step(s)),
            Self::Hours { step: s, why, .. } => format!("{}: {why} then", step(s)),
            Self::Hands { step: s, other, .. } => {
                format!("{}: your hands are at {} then", step(s), step(other))
            }
            Self::Least { step: s, least, would } => format!(
                "{}: it would last {}, and takes at least {}",
                step(s),
                would.show(),
                least.show()
            ),
            Self::Most { step: s, most, would } => format!(
                "{}: it would last {}, and takes at most {}",
                step(s),
                would.show(),
                most.show()
            ),
            Self::Late { by } => {
                format!("the bread would be ready {} after it is asked", by.show())
            }
        }
    }
}

/// Why nothing was moved.
#[derive(Debug, Clone, PartialEq)]
pub enum NotMoved {
    /// These are not the spans of a schedule of this recipe, or there is no such step in it.
    Odd,
    /// A limit would break.
    Refused {
        /// Which.
        limit: Limit,
        /// The nearest elapsed minute that may be asked instead.
        nearest: f64,
    },
    /// The recipe cannot be run here.
    Run(RunError),
}

impl From<RunError> for NotMoved {
    fn from(e: RunError) -> Self {
        Self::Run(e)
    }
}

/// A schedule after a move, with what it leads to.
#[derive(Debug, Clone)]
pub struct Moved {
    /// When each step happens now.
    pub schedule: Schedule,
    /// How early and late steps may start, hands and asked time kept: step, elapsed minutes.
    pub slack: Vec<(usize, f64, f64)>,
    /// The doughs along it.
    pub trace: Trace,
    /// What it leads to over the kitchens asked.
    pub forecast: Forecast,
}

/// Moves a step and runs what comes of it in so many kitchens: the written one's trace is sampled
/// at least every `every`.
///
/// # Errors
/// [`NotMoved`], see its variants.
pub fn moved(
    setting: &Setting<'_>,
    schedule: &Schedule,
    change: Change,
    ready: f64,
    kitchens: u32,
    every: Minutes,
) -> Result<Moved, NotMoved> {
    let schedule = shifted(setting, schedule, change, ready)?;
    let hands = hands_until(setting, &schedule, ready);
    let trace = setting.run(&schedule, every)?;
    let later = (ready - schedule.ready()).max(0.0);
    let moves = Moves { sooner: f64::INFINITY, later };
    let slack = slacks(setting, &hands, &schedule, moves, &Draw::as_written())?;
    let asked = Asked { over_time: true, loaf: false };
    let forecast = forecast(setting, &schedule, &own_draws(kitchens.clamp(1, 512)), asked)?;
    Ok(Moved { schedule, slack, trace, forecast })
}

fn hands_until(setting: &Setting<'_>, schedule: &Schedule, ready: f64) -> Hands {
    let last = if ready.is_finite() { ready.max(schedule.ready()) } else { schedule.ready() };
    Hands::new(setting, last.clamp(0.0, FURTHEST) + f64::from(LATER_MAX), &[])
}

/// Elapsed minutes further away are no schedule's: 60 days.
const FURTHEST: f64 = 60.0 * 1440.0;
/// Moments this near are one.
const SAME: f64 = 1e-7;

/// The schedule with one step moved, ready by an elapsed minute (infinite when nothing is asked).
///
/// # Errors
/// [`NotMoved`], see its variants.
pub fn shifted(
    setting: &Setting<'_>,
    schedule: &Schedule,
    change: Change,
    ready: f64,
) -> Result<Schedule, NotMoved> {
    let table = Table::of(setting, schedule, ready)?;
    if !change.at.is_finite() || change.at.abs() > FURTHEST {
        return Err(NotMoved::Odd);
    }
    let (line, k) = table.place(change.step).ok_or(NotMoved::Odd)?;
    // the end of a step is the beginning of the next, or of mixing; bread is ready with the last
    let steps = &table.lines[line];
    let (line, k, later) = match change.edge {
        Edge::Begin => (line, k, 0.0),
        Edge::End if k + 1 < steps.steps.len() => (line, k + 1, 0.0),
        Edge::End if line != table.main => (table.main, table.mix, 0.0),
        Edge::End => (line, k, steps.length(k)),
    };
    let nearest_of = |e| match e {
        NotMoved::Refused { limit, nearest } => {
            NotMoved::Refused { limit, nearest: nearest + later }
        }
        other => other,
    };
    table.to(line, k, change.at - later).map_err(nearest_of)
}

/// Spans of the clock, ascending and apart.
type Set = Vec<(f64, f64)>;

fn both(a: &[(f64, f64)], b: &[(f64, f64)]) -> Set {
    let mut out = Set::new();
    let (mut i, mut j) = (0, 0);
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        let (lo, hi) = (x.0.max(y.0), x.1.min(y.1));
        if lo <= hi + SAME / 4.0 {
            out.push((lo.min(hi), hi.max(lo)));
        }
        if x.1 < y.1 { i += 1 } else { j += 1 }
    }
    out
}

/// Every moment of a set moved by anything from `lo` to `hi`.
fn spread(set: &[(f64, f64)], lo: f64, hi: f64) -> Set {
    let mut out = Set::new();
    for (a, b) in set.iter().map(|s| (s.0 + lo, s.1 + hi)) {
        match out.last_mut() {
            Some(last) if a <= last.1 => last.1 = last.1.max(b),
            _ => out.push((a, b)),
        }
    }
    out
}

/// The moment of a set nearest to another, a whole minute where there is one as near.
fn nearest(set: &[(f64, f64)], t: f64) -> Option<f64> {
    let near = |s: &(f64, f64)| {
        let inside = t.max(s.0).min(s.1);
        let whole = if inside > t { libm::ceil(inside) } else { libm::floor(inside) };
        if (inside - t).abs() <= SAME {
            t
        } else if s.0 <= whole && whole <= s.1 {
            whole
        } else {
            inside
        }
    };
    let all = set.iter().map(near).filter(|x| x.is_finite());
    all.min_by(|a, b| (a - t).abs().total_cmp(&(b - t).abs()))
}

fn holds(set: &[(f64, f64)], t: f64) -> bool {
    set.iter().any(|s| s.0 - SAME <= t && t <= s.1 + SAME)
}

/// A whole minute where rounding alone parts it from one.
fn snap(t: f64) -> f64 {
    let whole = libm::round(t);
    if (t - whole).abs() < SAME * 10.0 { whole } else { t }
}

/// Steps that follow one another.
#[derive(Debug, Clone)]
struct Steps {
    /// Indices in the method.
    steps: Vec<usize>,
    /// When each begins, and when the last is over.
    at: Vec<f64>,
}

impl Steps {
    fn length(&self, k: usize) -> f64 {
        self.at[k + 1] - self.at[k]
    }
}

/// A schedule by its lines.
struct Table<'s, 'a> {
    setting: &'s Setting<'a>,
    schedule: &'s Schedule,
    /// Preferments, soakers, the dough.
    lines: Vec<Steps>,
    /// Place of the dough's line.
    main: usize,
    /// Place of mixing in it.
    mix: usize,
    preheat: Option<Span>,
    hands: Hands,
    ready: f64,
}

impl<'s, 'a> Table<'s, 'a> {
    fn of(setting: &'s Setting<'a>, schedule: &'s Schedule, ready: f64) -> Result<Self, NotMoved> {
        let recipe = setting.recipe;
        let method = &recipe.method;
        let path = schedule.path;
        let fair = |s: &Span| s.from.abs() <= FURTHEST && s.to.abs() <= FURTHEST && s.from <= s.to;
        if !method.paths().contains(&path) || ready.is_nan() || !schedule.spans.iter().all(fair) {
            return Err(NotMoved::Odd);
        }
        let line = |mut steps: Vec<usize>, ends: Option<f64>| -> Result<Steps, NotMoved> {
            steps.retain(|&i| path.takes(&method.steps[i]));
            let spans: Vec<Span> = steps
                .iter()
                .map(|&i| schedule.of(i))
                .collect::<Option<_>>()
                .ok_or(NotMoved::Odd)?;
            let mut at: Vec<f64> = spans.iter().map(|s| s.from).collect();
            at.push(ends.or(spans.last().map(|s| s.to)).ok_or(NotMoved::Odd)?);
            let ascending = at.windows(2).all(|p| p[0] <= p[1]);
            if ascending { Ok(Steps { steps, at }) } else { Err(NotMoved::Odd) }
        };
        let dough = line(method.main_line(path), None)?;
        let verb = |&i: &usize| method.steps[i].verb;
        let mix = dough.steps.iter().position(|i| verb(i) == Verb::Mix).ok_or(NotMoved::Odd)?;
        let f = &recipe.formula;
        let names = f.preferments.iter().map(|p| &p.name).chain(f.soakers.iter().map(|k| &k.name));
        let mut lines = Vec::new();
        for name in names {
            lines.push(line(method.side_line(name), Some(dough.at[mix]))?);
        }
        let preheat = method.preheat(path).and_then(|p| schedule.of(p));
        let main = lines.len();
        lines.push(dough);
        let hands = hands_until(setting, schedule, ready);
        Ok(Self { setting, schedule, lines, main, mix, preheat, hands, ready })
    }

    fn step(&self, i: usize) -> &crate::method::Step {
        &self.setting.recipe.method.steps[i]
    }

    /// Line and place of a step; the preheat has none of its own.
    fn place(&self, step: usize) -> Option<(usize, usize)> {
        self.lines
            .iter()
            .enumerate()
            .find_map(|(l, line)| Some((l, line.steps.iter().position(|&i| i == step)?)))
    }

    /// How long a step of a line may last: as it does when it is fixed; a length it has now is
    /// never too much or too little.
    fn lasts(&self, line: usize, k: usize) -> (f64, f64) {
        let steps = &self.lines[line];
        let (now, end) = (steps.length(k), self.step(steps.steps[k]).end);
        match end {
            End::After(_) => (now, now),
            _ => (end.least().0.min(now), end.most().0.max(now)),
        }
    }

    fn free(&self, line: usize, k: usize) -> bool {
        !matches!(self.step(self.lines[line].steps[k]).end, End::After(_))
    }

    /// The nearest free step of a line before a place.
    fn free_before(&self, line: usize, k: usize) -> Option<usize> {
        (0..k).rev().find(|&j| self.free(line, j))
    }

    /// Moves a step of a line.
    fn to(&self, line: usize, k: usize, at: f64) -> Result<Schedule, NotMoved> {
        let steps = &self.lines[line];
        let now = steps.at[k];
        if (at - now).abs() <= SAME {
            return Ok(self.schedule.clone());
        }
        if now < 0.0 {
            let limit = Limit::Begun { step: steps.steps[k] };
            return Err(NotMoved::Refused { limit, nearest: now });
        }
        if line != self.main && !(k..steps.steps.len()).any(|j| self.free(line, j)) {
            // nothing that could wait for mixing: mixing comes along
            let by = at - now;
            let mixed = self.lines[self.main].at[self.mix];
            return self.to(self.main, self.mix, mixed + by).map_err(|e| match e {
                NotMoved::Refused { limit, nearest } => {
                    NotMoved::Refused { limit, nearest: nearest - mixed + now }
                }
                other => other,
            });
        }
        // from the first step that moves: what lies between it and the moved one is fixed
        let absorbs = self.free_before(line, k);
        let first = absorbs.map_or(0, |f| f + 1);
        let lead = now - steps.at[first];
        let move_of = Move { table: self, line, first, hands: self.hands_for(line, first) };
        let rooms = move_of.rooms();
        let mut may = rooms[0].clone();
        if let Some(f) = absorbs {
            let (lo, hi) = self.lasts(line, f);
            may = both(&may, &[(steps.at[f] + lo, steps.at[f] + hi)]);
        }
        let start = at - lead;
        if !holds(&may, start) {
            let nearest = nearest(&may, start).map_or(now, |t| t + lead);
            // where it stands now is as near when it is nearer
            let nearest = if (now - at).abs() < (nearest - at).abs() { now } else { nearest };
            let limit = move_of.limit(absorbs, start);
            return Err(NotMoved::Refused { limit, nearest });
        }
        move_of.schedule(snap(start), &rooms)
    }

    /// Hands but for the work that stays where it is.
    fn hands_for(&self, line: usize, first: usize) -> Hands {
        let mut taken = Vec::new();
        for (l, steps) in self.lines.iter().enumerate() {
            for (k, &i) in steps.steps.iter().enumerate() {
                let moves = l == line && k >= first;
                let joins = line == self.main && first <= self.mix && l != self.main;
                let work = self.step(i).hands_on.0;
                if !moves && !joins && work > 0.0 {
                    let from = steps.at[k];
                    taken.push((libm::floor(from) as i32, libm::ceil(from + work) as i32));
                }
            }
        }
        self.hands.without(taken.into_iter())
    }
}

/// The steps of one line that move, from the first.
struct Move<'t, 's, 'a> {
    table: &'t Table<'s, 'a>,
    line: usize,
    first: usize,
    hands: Hands,
}

impl Move<'_, '_, '_> {
    fn steps(&self) -> &Steps {
        &self.table.lines[self.line]
    }

    fn is_main(&self) -> bool {
        self.line == self.table.main
    }

    /// When hands are free for a step.
    fn free_for(&self, step: usize) -> Set {
        self.hands.stretches(self.table.step(step).hands_on)
    }

    /// Where each moving step may begin so that all after it can be kept, and last where the last
    /// may end.
    fn rooms(&self) -> Vec<Set> {
        let steps = self.steps();
        let end = if self.is_main() { self.table.ready } else { steps.at[steps.steps.len()] };
        let begins = if self.is_main() { f64::NEG_INFINITY } else { end };
        let mut rooms = vec![vec![(begins, end)]];
        for k in (self.first..steps.steps.len()).rev() {
            let (lo, hi) = self.table.lasts(self.line, k);
            let after = spread(&rooms[rooms.len() - 1], -hi, -lo);
            let mut may = both(&after, &self.free_for(steps.steps[k]));
            if self.is_first_load(k) {
                may = both(&may, &self.preheated());
            }
            if self.is_main() && k == self.table.mix {
                for line in 0..self.table.main {
                    may = both(&may, &self.joined(line));
                }
            }
            rooms.push(may);
        }
        rooms.reverse();
        rooms
    }

    fn is_first_load(&self, k: usize) -> bool {
        let load = |i: &usize| self.table.step(*i).verb == Verb::Load;
        self.is_main() && self.steps().steps.iter().position(load) == Some(k)
    }

    /// How long the oven may be on before loading.
    fn heats(&self, p: Span) -> (f64, f64) {
        let (now, needs) = (p.to - p.from, usual(self.table.step(p.step)).0);
        (needs.min(now), (needs + grow::PREHEAT_SOONER).max(now))
    }

    /// When an oven that hands are free to switch on is hot.
    fn preheated(&self) -> Set {
        match self.table.preheat {
            Some(p) if p.from >= 0.0 => {
                let (lo, hi) = self.heats(p);
                spread(&self.free_for(p.step), lo, hi)
            }
            _ => vec![(f64::NEG_INFINITY, f64::INFINITY)],
        }
    }

    /// When a preferment or soaker can be mixed in: its last free step waits; where none is free
    /// it is begun at another time.
    fn joined(&self, line: usize) -> Set {
        let side = &self.table.lines[line];
        let n = side.steps.len();
        let waits = self.table.free_before(line, n);
        let mut may = vec![(f64::NEG_INFINITY, f64::INFINITY)];
        for k in waits.map_or(0, |f| f + 1)..n {
            let ahead = side.at[n] - side.at[k];
            may = both(&may, &spread(&self.free_for(side.steps[k]), ahead, ahead));
        }
        if let Some(f) = waits {
            let (lo, hi) = self.table.lasts(line, f);
            let fixed = side.at[n] - side.at[f + 1];
            may = both(&may, &[(side.at[f] + lo + fixed, side.at[f] + hi + fixed)]);
        }
        may
    }

    /// Why the first moving step cannot begin at a moment: the first limit that it meets.
    fn limit(&self, absorbs: Option<usize>, start: f64) -> Limit {
        let (table, steps) = (self.table, self.steps());
        if start < 0.0 {
            return Limit::Past;
        }
        if let Some(f) = absorbs {
            let (would, lasts) = (start - steps.at[f], table.lasts(self.line, f));
            if let Some(limit) = Self::too(steps.steps[f], would, lasts) {
                return limit;
            }
        }
        let mut reach = vec![(start, start)];
        for k in self.first..steps.steps.len() {
            let step = steps.steps[k];
            let at = reach[0].0;
            let free = both(&reach, &self.free_for(step));
            if free.is_empty() {
                return self.no_hands(step, at);
            }
            reach = free;
            if self.is_first_load(k) {
                let hot = both(&reach, &self.preheated());
                if let (true, Some(p)) = (hot.is_empty(), table.preheat) {
                    let on = reach[0].0 - (p.to - p.from);
                    return if on < 0.0 { Limit::Past } else { self.no_hands(p.step, on) };
                }
                reach = hot;
            }
            if self.is_main() && k == table.mix {
                for line in 0..table.main {
                    let joined = both(&reach, &self.joined(line));
                    if joined.is_empty() {
                        return self.not_joined(line, reach[0].0);
                    }
                    reach = joined;
                }
            }
            let (lo, hi) = table.lasts(self.line, k);
            reach = spread(&reach, lo, hi);
        }
        if self.is_main() {
            return Limit::Late { by: Minutes((reach[0].0 - table.ready).max(0.0)) };
        }
        // a preferment that cannot end when the dough is mixed
        let end = steps.at[steps.steps.len()];
        let last = table.free_before(self.line, steps.steps.len()).unwrap_or(0);
        let lasts = table.lasts(self.line, last);
        let over = if reach[0].0 > end { end - reach[0].0 } else { 0.0 };
        let would = if over < 0.0 {
            lasts.0 + over
        } else {
            lasts.1 + end - reach.last().map_or(end, |r| r.1)
        };
        Self::too(steps.steps[last], would, lasts).unwrap_or(Limit::Late { by: Minutes(0.0) })
    }

    fn too(step: usize, would: f64, (lo, hi): (f64, f64)) -> Option<Limit> {
        let would_last = Minutes(would);
        if would < lo - SAME {
            Some(Limit::Least { step, least: Minutes(lo), would: would_last })
        } else {
            let most = Minutes(hi);
            (would > hi + SAME).then_some(Limit::Most { step, most, would: would_last })
        }
    }

    fn no_hands(&self, step: usize, at: f64) -> Limit {
        let work = self.table.step(step).hands_on;
        if let Some(why) = self.table.hands.why(at, work).filter(|_| at >= 0.0) {
            return Limit::Hours { step, at, why };
        }
        let busy = |(i, from): (usize, f64)| {
            let until = from + self.table.step(i).hands_on.0;
            i != step && from < at + work.0 && at < until
        };
        let all = self.table.lines.iter().flat_map(|l| l.steps.iter().copied().zip(l.at.clone()));
        match all.into_iter().find(|x| busy(*x)) {
            Some((other, _)) => Limit::Hands { step, at, other },
            None => Limit::Past,
        }
    }

    fn not_joined(&self, line: usize, mixed: f64) -> Limit {
        let (table, side) = (self.table, &self.table.lines[line]);
        let n = side.steps.len();
        let Some(f) = table.free_before(line, n) else {
            let from = side.at[0] + mixed - side.at[n];
            return if from < 0.0 { Limit::Past } else { self.no_hands(side.steps[0], from) };
        };
        let would = side.length(f) + mixed - side.at[n];
        let waits = Self::too(side.steps[f], would, table.lasts(line, f));
        waits.unwrap_or_else(|| {
            let k = (f + 1).min(n - 1);
            self.no_hands(side.steps[k], side.at[k] + mixed - side.at[n])
        })
    }

    /// The schedule once the first moving step begins at a moment that may be.
    fn schedule(&self, start: f64, rooms: &[Set]) -> Result<Schedule, NotMoved> {
        let table = self.table;
        let mut lines = table.lines.clone();
        if !self.is_main() {
            lines[self.line].at = self.side(start, rooms);
        }
        let by = start - table.lines[self.line].at[self.first];
        if self.is_main() && self.first <= table.mix {
            // what is fixed before mixing moves with it
            let free = (self.first..table.mix).any(|k| table.free(self.line, k));
            let mixed = if free {
                self.ends_before_mixing(start, rooms)
            } else {
                snap(lines[table.main].at[table.mix] + by)
            };
            let (sides, _) = lines.split_at_mut(table.main);
            for (l, side) in sides.iter_mut().enumerate() {
                let n = side.steps.len();
                let from = table.free_before(l, n).map_or(0, |f| f + 1);
                let later = mixed - side.at[n];
                side.at[from..].iter_mut().for_each(|t| *t = snap(*t + later));
            }
        }
        let mut ripe = Vec::new();
        let preferments = table.setting.recipe.formula.preferments.len();
        for (p, line) in lines.iter().enumerate().take(preferments) {
            let mut keeps = Keeps { steps: line };
            let making = Making::Preferment(p);
            let draw = Draw::as_written();
            ripe.extend(table.setting.walk(&making, &line.steps, &mut keeps, &draw)?);
        }
        let dough = &lines[table.main];
        // what a changed preferment makes of the dough may ask for other ends
        let all;
        let (rooms, first, start) = if self.is_main() {
            (rooms, self.first, start)
        } else {
            let hands = table.hands_for(table.main, table.mix + 1);
            let rest = Move { table, line: table.main, first: table.mix + 1, hands };
            all = rest.rooms();
            (all.as_slice(), table.mix + 1, dough.at[table.mix + 1])
        };
        let mut mover = Mover { table, at: dough.at.clone(), first, rooms };
        mover.at[first] = start;
        let steps = dough.steps.clone();
        table.setting.walk(&Making::Dough(&ripe), &steps, &mut mover, &Draw::as_written())?;
        lines[table.main].at = mover.at;
        Ok(self.together(&lines))
    }

    /// When the dough is mixed, where something free comes between the first moving step and
    /// mixing.
    fn ends_before_mixing(&self, start: f64, rooms: &[Set]) -> f64 {
        let mut t = start;
        for k in self.first..self.table.mix {
            t = self.kept(k, t, &rooms[k + 1 - self.first]);
        }
        t
    }

    /// When a step ends that begins at a moment: as long after as now, or as near to that as may
    /// be.
    fn kept(&self, k: usize, from: f64, after: &[(f64, f64)]) -> f64 {
        ends(self.table, self.line, k, from, after).1
    }

    /// A preferment's moments: every free step as long as now, the last takes up the rest.
    fn side(&self, start: f64, rooms: &[Set]) -> Vec<f64> {
        let steps = self.steps();
        let mut at = steps.at.clone();
        at[self.first] = start;
        for k in self.first..steps.steps.len() {
            at[k + 1] = self.kept(k, at[k], &rooms[k + 1 - self.first]);
        }
        if let Some(end) = at.last_mut() {
            *end = steps.at[steps.steps.len()];
        }
        at
    }

    fn together(&self, lines: &[Steps]) -> Schedule {
        let table = self.table;
        let mut spans = Vec::with_capacity(table.schedule.spans.len());
        for s in &table.schedule.spans {
            let Some((l, k)) = table.place(s.step) else {
                spans.push(*s);
                continue;
            };
            let (now, then) = (&table.lines[l].at, &lines[l].at);
            let same = now[k] == then[k] && now[k + 1] == then[k + 1];
            // a step that did not move keeps its span to the bit
            spans.push(if same {
                *s
            } else {
                Span { step: s.step, from: then[k], to: then[k + 1] }
            });
        }
        let mut out = Schedule { path: table.schedule.path, spans };
        let load = lines[table.main].steps.iter().find(|i| table.step(**i).verb == Verb::Load);
        if let (Some(p), Some(load)) = (table.preheat, load.and_then(|&i| out.of(i))) {
            let on = self.switched_on(p, load.from, &out);
            for s in out.spans.iter_mut().filter(|s| s.step == p.step) {
                (s.from, s.to) = (on, load.from);
            }
        }
        out
    }

    /// When to switch the oven on for a load: as long before as now, where hands are free for it
    /// and, if it can be, not at other work.
    fn switched_on(&self, p: Span, load: f64, schedule: &Schedule) -> f64 {
        if p.from < 0.0 || load == p.to {
            return p.from;
        }
        let (lo, hi) = self.heats(p);
        let wanted = load - (p.to - p.from);
        let may = both(&self.free_for(p.step), &[(load - hi, load - lo)]);
        let work = self.table.step(p.step).hands_on.0;
        let taken = schedule.spans.iter().filter(|s| s.step != p.step).filter_map(|s| {
            let other = self.table.step(s.step).hands_on.0;
            (other > 0.0).then_some((s.from - work, s.from + other))
        });
        let mut apart = may.clone();
        for (from, to) in taken {
            let outside = [(f64::NEG_INFINITY, from), (to, f64::INFINITY)];
            apart = both(&apart, &outside);
        }
        let at = nearest(&apart, wanted).or_else(|| nearest(&may, wanted));
        snap(at.unwrap_or(wanted).max(0.0))
    }
}

/// Where a step that begins at a moment may end, and the end nearest to as long as it lasts now.
fn ends(
    table: &Table<'_, '_>,
    line: usize,
    k: usize,
    from: f64,
    after: &[(f64, f64)],
) -> (Set, f64) {
    let (lo, hi) = table.lasts(line, k);
    let wanted = snap(from + table.lines[line].length(k));
    if lo == hi {
        return (vec![(wanted, wanted)], wanted);
    }
    let may = both(after, &[(from + lo, from + hi)]);
    let end = nearest(&may, wanted).map_or(wanted, snap);
    (may, end)
}

/// Walks a preferment as it stands in a table.
struct Keeps<'l> {
    steps: &'l Steps,
}

impl Walker for Keeps<'_> {
    fn begins(&mut self, step: usize) -> Option<f64> {
        self.steps.steps.iter().position(|&i| i == step).map(|k| self.steps.at[k])
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: f64, lump: Option<&mut Lump>) {
        let k = self.steps.steps.iter().position(|&i| i == step);
        if let (Some(l), Some(k)) = (lump, k) {
            l.rest(setting, from, self.steps.at[k + 1], MAX_STEP_MIN, |_, _| {});
        }
    }
}

/// Walks the dough and decides when what moves ends.
struct Mover<'m, 's, 'a> {
    table: &'m Table<'s, 'a>,
    at: Vec<f64>,
    /// The first step that may move; it begins when `at` says.
    first: usize,
    /// Where each from there on may begin.
    rooms: &'m [Set],
}

impl Mover<'_, '_, '_> {
    /// Minutes tried at once.
    const FINE: f64 = 5.0;

    fn end(&self, setting: &Setting<'_>, k: usize, from: f64, lump: Option<&Lump>) -> f64 {
        let table = self.table;
        let after = self.rooms.get(k + 1 - self.first).map_or(&[][..], Vec::as_slice);
        let (may, end) = ends(table, table.main, k, from, after);
        let step = table.step(table.lines[table.main].steps[k]);
        let (Some(l), true) = (lump, table.free(table.main, k)) else { return end };
        if step.good.is_none() || waits_for_peak(step.end) {
            return end;
        }
        let mut then = l.clone();
        then.rest(setting, from, end, MAX_STEP_MIN, |_, _| {});
        if off_target(step, &then) <= 1.0 {
            return end;
        }
        let good = grow::good_span(setting, step, l, from, end, Self::FINE);
        let good = good.map(|g| both(&may, &[g])).unwrap_or_default();
        nearest(&good, end).map_or(end, snap)
    }
}

impl Walker for Mover<'_, '_, '_> {
    fn begins(&mut self, step: usize) -> Option<f64> {
        let steps = &self.table.lines[self.table.main].steps;
        steps.iter().position(|&i| i == step).map(|k| self.at[k])
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: f64, lump: Option<&mut Lump>) {
        let steps = &self.table.lines[self.table.main].steps;
        let Some(k) = steps.iter().position(|&i| i == step) else { return };
        if k >= self.first {
            self.at[k + 1] = self.end(setting, k, from, lump.as_deref());
        }
        if let Some(l) = lump {
            l.rest(setting, from, self.at[k + 1], MAX_STEP_MIN, |_, _| {});
        }
    }
}

#[cfg(test)]
mod tests;
