//! A bake that has begun: what was done, what was measured, and the doughs that explain it.

use super::crowd::{Crowd, People};
use crate::belief::{Belief, Draws};
use crate::ensemble::{Kitchens, STEP_MIN};
use crate::forecast::SEED;
use crate::kitchen::Kitchen;
use crate::method::{End, Path, Verb};
use crate::numerics::lanes::{Job, Lanes, Width};
use crate::run::{Draw, Lump, Making, RunError, Setting, Span, Walker};
use quantity::{Celsius, Percent, Ph};
use std::fmt;

/// A step that was begun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Did {
    /// Index of the step in the method.
    pub step: usize,
    /// Elapsed minute; now is 0, the past negative.
    pub at: f64,
}

/// What was read off a dough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured {
    /// Growth since mixing or shaping.
    Rise(Percent),
    /// Acidity.
    Acid(Ph),
    /// Temperature inside.
    Temperature(Celsius),
}

/// A reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadOff {
    /// Line: a preferment's place in the formula, then the dough.
    pub line: usize,
    /// Elapsed minute.
    pub at: f64,
    /// What it showed.
    pub what: Measured,
}

/// A half-done bake, as it was noted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Happened {
    /// Steps begun, in any order.
    pub did: Vec<Did>,
    /// Readings.
    pub read: Vec<ReadOff>,
}

/// Why what happened does not fit the method.
#[derive(Debug, Clone, PartialEq)]
pub enum Odd {
    /// Nothing has been begun.
    Nothing,
    /// A step is not in the method, or lies in the future.
    Step {
        /// Index of the step.
        step: usize,
        /// Elapsed minute.
        at: f64,
    },
    /// Steps were begun in another order than the method's.
    Order {
        /// Index of the earlier step by the method.
        before: usize,
        /// Index of the step that was begun sooner all the same.
        after: usize,
    },
    /// It cannot be told when a step ended, since several in a row may last as they please.
    Unknown {
        /// Index of the step whose beginning would tell.
        step: usize,
    },
    /// A preferment was not begun, though the dough was mixed.
    Missing {
        /// Its place in the formula.
        preferment: usize,
    },
    /// A reading of something that was not there then.
    Reading {
        /// Its place among the readings.
        reading: usize,
    },
    /// The bread is in the oven: nothing is left to plan.
    InOven,
}

impl fmt::Display for Odd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nothing => write!(f, "nothing has been begun yet: plan it from the start"),
            Self::Step { step, at } if *at > 0.0 => {
                write!(f, "step {} was begun in the future", step + 1)
            }
            Self::Step { step, .. } => write!(f, "there is no step {} to have begun", step + 1),
            Self::Order { before, after } => write!(
                f,
                "step {} was begun after step {}, which comes later in the method",
                before + 1,
                after + 1
            ),
            Self::Unknown { step } => {
                write!(f, "say when step {} was begun: it cannot be worked out", step + 1)
            }
            Self::Missing { preferment } => {
                write!(f, "say when preferment {} was begun: the dough is mixed", preferment + 1)
            }
            Self::Reading { reading } => write!(
                f,
                "reading {} is of something that was not standing then, or is later than now",
                reading + 1
            ),
            Self::InOven => write!(f, "the bread is in the oven: nothing is left to plan"),
        }
    }
}
impl std::error::Error for Odd {}

/// One line so far.
#[derive(Debug, Clone, PartialEq)]
struct SoFar {
    /// Steps that are over.
    done: Vec<Span>,
    /// The step it is in, and since when.
    now: (usize, f64),
}

/// A bake that has begun.
#[derive(Debug, Clone)]
pub struct Underway {
    /// By line: preferments in the formula's order, then the dough.
    lines: Vec<Option<SoFar>>,
    did: Vec<Did>,
    draws: Draws,
    reference: Draw,
}

/// Errors of the readings, one sd. *Common practice, no source*: a jar's mark is read to a
/// twentieth of the dough, a home pH meter to a tenth, a probe to a degree.
const RISE_SD: (f64, f64) = (5.0, 0.1);
const PH_SD: f64 = 0.1;
const TEMPERATURE_SD: f64 = 1.0;

impl Underway {
    /// Works out how far every line is and weighs the kitchens by what was measured.
    ///
    /// # Errors
    /// [`super::PlanError`]: what happened does not fit the method.
    pub fn new(
        setting: &Setting<'_>,
        happened: &Happened,
        kitchens: u32,
    ) -> Result<Self, super::PlanError> {
        let method = &setting.recipe.method;
        let mut did = happened.did.clone();
        did.sort_by(|a, b| a.at.total_cmp(&b.at).then(a.step.cmp(&b.step)));
        if did.is_empty() {
            return Err(Odd::Nothing.into());
        }
        for d in &did {
            let known = method.steps.get(d.step).is_some();
            if !known || !d.at.is_finite() || d.at > 0.0 || d.at < -super::HORIZON_MAX {
                return Err(Odd::Step { step: d.step, at: d.at }.into());
            }
            if method.steps[d.step].verb.in_oven() {
                return Err(Odd::InOven.into());
            }
        }
        let path = path_of(setting, &did)
            .ok_or_else(|| Odd::Step { step: did[did.len() - 1].step, at: 0.0 })?;
        let formula = &setting.recipe.formula;
        let main = so_far(setting, &method.main_line(path), &did)?;
        let mixed = |l: &SoFar| {
            let mut steps = l.done.iter().map(|s| s.step).chain([l.now.0]);
            steps.any(|i| method.steps[i].verb == Verb::Mix)
        };
        let mixed_at = main.as_ref().filter(|l| mixed(l)).and_then(|l| {
            let spans = l.done.iter().map(|s| (s.step, s.from)).chain([l.now]);
            spans.filter(|s| method.steps[s.0].verb == Verb::Mix).map(|s| s.1).next()
        });
        let mut lines = Vec::new();
        for (p, pre) in formula.preferments.iter().enumerate() {
            let mut line = so_far(setting, &method.side_line(&pre.name), &did)?;
            match (&mut line, mixed_at) {
                // what was mixed is over: it stood until then
                (Some(l), Some(at)) => {
                    l.done.push(Span { step: l.now.0, from: l.now.1, to: at });
                    if at < l.now.1 {
                        return Err(Odd::Order { before: l.now.0, after: main_mix(setting) }.into());
                    }
                }
                (None, Some(_)) => return Err(Odd::Missing { preferment: p }.into()),
                _ => {}
            }
            lines.push(line);
        }
        lines.push(main);
        let belief = Belief::own_kitchen().clone();
        let draws = Draws::new(belief, kitchens.max(2) - 1, SEED);
        let written = Draw { longest_min: STEP_MIN, ..Draw::as_written() };
        let mut out = Self { lines, did, draws, reference: written };
        if !happened.read.is_empty() {
            out.weigh(setting, &happened.read)?;
        }
        Ok(out)
    }

    /// Whether a way agrees with what was done.
    pub(super) fn allows(&self, setting: &Setting<'_>, path: Path) -> bool {
        let steps = &setting.recipe.method.steps;
        self.did.iter().all(|d| steps.get(d.step).is_some_and(|s| path.takes(s)))
            && self.decided(setting).is_none_or(|(cold_bulk, cold_proof)| {
                cold_bulk.is_none_or(|c| c == path.cold_bulk)
                    && cold_proof.is_none_or(|c| c == path.cold_proof)
            })
    }

    /// Choices that what lies behind has made: a step of the other choice was passed over.
    fn decided(&self, setting: &Setting<'_>) -> Option<(Option<bool>, Option<bool>)> {
        use crate::method::Choice;
        let steps = &setting.recipe.method.steps;
        let last = self.did.iter().map(|d| d.step).filter(|&i| steps[i].what.is_none()).max()?;
        let passed = |cold: Choice| {
            let mut tagged =
                steps.iter().enumerate().filter(|(_, s)| s.when == Some(cold)).map(|(i, _)| i);
            let first = tagged.next()?;
            // a choice that lies wholly behind was made
            (first < last).then(|| self.did.iter().any(|d| steps[d.step].when == Some(cold)))
        };
        Some((passed(Choice::BulkCold), passed(Choice::ProofCold)))
    }

    /// The kitchens, weighed by what was measured.
    pub fn draws(&self) -> &Draws {
        &self.draws
    }

    /// The kitchen most like what was measured.
    pub fn reference(&self) -> Draw {
        self.reference
    }

    /// Kitchens of a search: all of them, or a few that stand for them.
    pub(super) fn people(&self, kitchen: &Kitchen, n: usize) -> People {
        let around = Kitchens::around(kitchen, &self.draws);
        let others = n.max(2) - 1;
        if others >= self.draws.lanes() {
            let all = (0..self.draws.lanes()).map(|i| around.draw(i)).collect();
            return People::weighed(self.reference, all, self.draws.weights());
        }
        let few: Vec<Draw> =
            self.draws.resampled(others).into_iter().map(|i| around.draw(i)).collect();
        let weights = vec![1.0 / others as f64; others];
        People::weighed(self.reference, few, &weights)
    }

    /// Weighs the kitchens by the readings.
    fn weigh(&mut self, setting: &Setting<'_>, read: &[ReadOff]) -> Result<(), super::PlanError> {
        for (k, r) in read.iter().enumerate() {
            if !r.at.is_finite() || r.at > 0.0 {
                return Err(Odd::Reading { reading: k }.into());
            }
        }
        let people = self.people(setting.kitchen, self.draws.lanes() + 1);
        let seen = Width::Widest.run(Readings { of: self, setting, people: &people, read })?;
        if let Some(reading) = seen.iter().position(Option::is_none) {
            return Err(Odd::Reading { reading }.into());
        }
        let n = self.draws.lanes();
        let mut log = vec![0.0; n];
        for (r, values) in read.iter().zip(seen.iter().flatten()) {
            for (i, l) in log.iter_mut().enumerate() {
                // the first is the kitchen as written
                let z = r.what.off(values[i + 1]);
                // tails of a Student distribution: one wild reading rules nothing out
                *l -= 2.5 * libm::log1p(z * z / 4.0);
            }
        }
        let prior: Vec<f64> = self.draws.weights().to_vec();
        // finite for every finite reading, so there is no error
        let _ = self.draws.reweight(&log);
        let around = Kitchens::around(setting.kitchen, &self.draws);
        let all: Vec<Draw> = (0..n).map(|i| around.draw(i)).collect();
        self.reference = self.reference.moved(&all, &prior, self.draws.weights());
        Ok(())
    }

    /// The dough as it was when its present step began; none before it was mixed.
    pub(super) fn dough<L: Lanes>(
        &self,
        setting: &Setting<'_>,
        draws: &[Draw<L>],
    ) -> Result<Option<Begun<L>>, RunError> {
        let Some(Some(line)) = self.lines.last() else { return Ok(None) };
        let steps = &setting.recipe.method.steps;
        let mixed = |i: usize| steps[i].verb == Verb::Mix;
        if !line.done.iter().any(|s| mixed(s.step)) && !mixed(line.now.0) {
            return Ok(None);
        }
        let crowd = draws
            .iter()
            .map(|d| {
                let mut ripe = Vec::new();
                for (p, l) in self.lines[..self.lines.len() - 1].iter().enumerate() {
                    let Some(l) = l else { continue };
                    let mut w = Past::of(l, false);
                    let steps: Vec<usize> = l.done.iter().map(|s| s.step).collect();
                    ripe.extend(setting.walk(&Making::Preferment(p), &steps, &mut w, d)?);
                }
                let steps: Vec<usize> =
                    line.done.iter().map(|s| s.step).chain([line.now.0]).collect();
                setting.walk(&Making::Dough(&ripe), &steps, &mut Past::of(line, true), d)
            })
            .collect::<Result<Option<Vec<Lump<L>>>, RunError>>()?;
        // what lies behind, preferments too
        let before = self.lines[..self.lines.len() - 1].iter().flatten();
        let mut spans: Vec<Span> = before.flat_map(|l| l.done.iter().copied()).collect();
        spans.extend(line.done.iter().copied());
        spans.extend(soakers_before(setting, line));
        let (step, since) = line.now;
        Ok(crowd.map(|c| Begun { crowd: Crowd(c), spans, step, since }))
    }

    /// A preferment as it was when its present step began; none before it was begun.
    pub(super) fn preferment<L: Lanes>(
        &self,
        setting: &Setting<'_>,
        draws: &[Draw<L>],
        p: usize,
    ) -> Result<Option<Begun<L>>, RunError> {
        let Some(Some(line)) = self.lines.get(p) else { return Ok(None) };
        let steps: Vec<usize> = line.done.iter().map(|s| s.step).chain([line.now.0]).collect();
        let crowd = draws
            .iter()
            .map(|d| setting.walk(&Making::Preferment(p), &steps, &mut Past::of(line, true), d))
            .collect::<Result<Option<Vec<Lump<L>>>, RunError>>()?;
        let (step, since) = line.now;
        Ok(crowd.map(|c| Begun { crowd: Crowd(c), spans: line.done.clone(), step, since }))
    }

    /// Steps of the dough that were begun before mixing: those that are over, and the one it is
    /// in.
    pub(super) fn before_mixing(&self, setting: &Setting<'_>) -> Option<(Vec<Span>, (usize, f64))> {
        let line = self.lines.last()?.as_ref()?;
        let mixed = |i: usize| setting.recipe.method.steps[i].verb == Verb::Mix;
        if line.done.iter().any(|s| mixed(s.step)) || mixed(line.now.0) {
            return None;
        }
        Some((line.done.clone(), line.now))
    }
}

/// A dough in its present step.
pub(super) struct Begun<L> {
    /// As it was when the step began.
    pub(super) crowd: Crowd<L>,
    /// Steps that are over.
    pub(super) spans: Vec<Span>,
    /// The present step.
    pub(super) step: usize,
    /// When it began.
    pub(super) since: f64,
}

/// Soakers of a dough that was mixed, as they usually are: nobody asks when they were wetted.
fn soakers_before(setting: &Setting<'_>, line: &SoFar) -> Vec<Span> {
    let method = &setting.recipe.method;
    let mixed = line.done.iter().map(|s| (s.step, s.from)).chain([line.now]);
    let Some((_, at)) = mixed.into_iter().find(|s| method.steps[s.0].verb == Verb::Mix) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for soaker in &setting.recipe.formula.soakers {
        let mut to = at;
        for step in method.side_line(&soaker.name).into_iter().rev() {
            let from = to - crate::run::usual(&method.steps[step]).0;
            out.push(Span { step, from, to });
            to = from;
        }
    }
    out
}

fn main_mix(setting: &Setting<'_>) -> usize {
    setting.recipe.method.steps.iter().position(|s| s.verb == Verb::Mix).unwrap_or(0)
}

/// The first way that takes every step done.
fn path_of(setting: &Setting<'_>, did: &[Did]) -> Option<Path> {
    let method = &setting.recipe.method;
    method.paths().into_iter().find(|p| did.iter().all(|d| p.takes(&method.steps[d.step])))
}

/// How far a line is: steps that were not noted are filled in where their times are fixed.
fn so_far(setting: &Setting<'_>, line: &[usize], did: &[Did]) -> Result<Option<SoFar>, Odd> {
    let steps = &setting.recipe.method.steps;
    let at = |i: usize| did.iter().find(|d| d.step == i).map(|d| d.at);
    let noted: Vec<(usize, f64)> =
        line.iter().enumerate().filter_map(|(k, &i)| at(i).map(|t| (k, t))).collect();
    let Some(&(first, _)) = noted.first() else { return Ok(None) };
    for pair in noted.windows(2) {
        if pair[1].1 < pair[0].1 {
            return Err(Odd::Order { before: line[pair[1].0], after: line[pair[0].0] });
        }
    }
    let fixed = |k: usize| match steps[line[k]].end {
        End::After(t) => Some(t.0),
        _ => None,
    };
    let mut begins: Vec<Option<f64>> = vec![None; line.len()];
    for (k, t) in &noted {
        begins[*k] = Some(*t);
    }
    // backwards from what was noted, then forwards
    for k in (0..line.len().saturating_sub(1)).rev() {
        if begins[k].is_none()
            && let (Some(next), Some(t)) = (begins[k + 1], fixed(k))
        {
            begins[k] = Some(next - t);
        }
    }
    for k in 1..line.len() {
        if begins[k].is_none()
            && let (Some(before), Some(t)) = (begins[k - 1], fixed(k - 1))
        {
            begins[k] = Some(before + t).filter(|b| *b <= 0.0);
        }
    }
    if first > 0 && begins[0].is_none() {
        let missing = (0..first).find(|k| begins[*k].is_none()).unwrap_or(0);
        return Err(Odd::Unknown { step: line[missing] });
    }
    let last = begins.iter().rposition(Option::is_some).unwrap_or(0);
    let mut done = Vec::new();
    for k in 0..last {
        let (Some(from), Some(to)) = (begins[k], begins[k + 1]) else {
            let k = if begins[k].is_none() { k } else { k + 1 };
            return Err(Odd::Unknown { step: line[k] });
        };
        // a fixed step that was cut short or ran on: what was noted counts
        if to < from {
            return Err(Odd::Order { before: line[k], after: line[k + 1] });
        }
        done.push(Span { step: line[k], from, to });
    }
    let Some(since) = begins[last] else { return Ok(None) };
    Ok(Some(SoFar { done, now: (line[last], since) }))
}

/// Walks what is over; the present step begins, and no time passes in it.
struct Past<'l> {
    line: &'l SoFar,
    present: bool,
}

impl<'l> Past<'l> {
    fn of(line: &'l SoFar, present: bool) -> Self {
        Self { line, present }
    }
}

impl<L: Lanes> Walker<L> for Past<'_> {
    fn begins(&mut self, step: usize) -> Option<L> {
        let done = self.line.done.iter().find(|s| s.step == step).map(|s| s.from);
        let now = (self.present && self.line.now.0 == step).then_some(self.line.now.1);
        done.or(now).map(L::splat)
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>) {
        let over = self.line.done.iter().find(|s| s.step == step);
        if let (Some(l), Some(span)) = (lump, over) {
            l.rest(setting, from, L::splat(span.to), f64::INFINITY, |_, _| {});
        }
    }
}

impl Measured {
    /// Distance of what a dough would show from what was read, in sds.
    fn off(self, shows: f64) -> f64 {
        match self {
            Self::Rise(r) => (shows - r.0) / (RISE_SD.0 + RISE_SD.1 * r.0.abs()),
            Self::Acid(p) => (shows - p.0) / PH_SD,
            Self::Temperature(t) => (shows - t.0) / TEMPERATURE_SD,
        }
    }
    fn of<L: Lanes>(self, l: &Lump<L>) -> L {
        match self {
            Self::Rise(_) => l.rise_percent(),
            Self::Acid(_) => l.acidity(),
            Self::Temperature(_) => l.as_read(),
        }
    }
}

/// What the readings would be in every kitchen; none for a reading of nothing.
struct Readings<'r, 'a> {
    of: &'r Underway,
    setting: &'r Setting<'a>,
    people: &'r People,
    read: &'r [ReadOff],
}

impl Job for Readings<'_, '_> {
    type Out = Result<Vec<Option<Vec<f64>>>, RunError>;
    fn run<L: Lanes>(self) -> Self::Out {
        let draws = self.people.lanes::<L>();
        let dough = self.of.lines.len() - 1;
        let mut out: Vec<Option<Vec<f64>>> = vec![None; self.read.len()];
        for d in &draws {
            let mut ripe: Vec<Lump<L>> = Vec::new();
            for (p, line) in self.of.lines.iter().enumerate() {
                let Some(line) = line else { continue };
                let read: Vec<(usize, ReadOff)> =
                    self.read.iter().copied().enumerate().filter(|r| r.1.line == p).collect();
                let mut w = Reader { line, read, seen: Vec::new() };
                let over = line.done.last().is_some_and(|s| s.step == line.now.0);
                let now = (!over).then_some(line.now.0);
                let steps: Vec<usize> = line.done.iter().map(|s| s.step).chain(now).collect();
                let making = if p == dough { Making::Dough(&ripe) } else { Making::Preferment(p) };
                let lump = self.setting.walk(&making, &steps, &mut w, d)?;
                for (k, x) in w.seen {
                    let all = out[k].get_or_insert_default();
                    all.extend((0..L::N).map(|i| x.lane(i)));
                }
                ripe.extend(lump.filter(|_| p != dough));
            }
        }
        Ok(out)
    }
}

struct Reader<'l, L> {
    line: &'l SoFar,
    read: Vec<(usize, ReadOff)>,
    seen: Vec<(usize, L)>,
}

impl<L: Lanes> Walker<L> for Reader<'_, L> {
    fn begins(&mut self, step: usize) -> Option<L> {
        Walker::<L>::begins(&mut Past::of(self.line, true), step)
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>) {
        let Some(l) = lump else { return };
        let over = self.line.done.iter().find(|s| s.step == step);
        let until = over.map_or(0.0, |s| s.to);
        let mut at = from.lane(0);
        self.read.sort_by(|a, b| a.1.at.total_cmp(&b.1.at));
        for (k, r) in &self.read {
            // a reading at the very end of a step is of that step
            let mine = r.at >= at - 1e-9 && r.at <= until;
            if mine && !self.seen.iter().any(|s| s.0 == *k) {
                l.rest(setting, L::splat(at), L::splat(r.at), f64::INFINITY, |_, _| {});
                at = r.at;
                self.seen.push((*k, r.what.of(l)));
            }
        }
        l.rest(setting, L::splat(at), L::splat(until), f64::INFINITY, |_, _| {});
    }
}
