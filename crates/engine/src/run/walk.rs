//! Walking the steps of one line: the builds of a preferment, or the dough itself.

use super::{Draw, Lump, MAX_STEP_MIN, RunError, Schedule, Setting, usual};
use crate::method::{End, Method, Path, Step, Verb};
use crate::numerics::lanes::Lanes;
use quantity::{Celsius, Minutes};

/// What a line makes.
pub(crate) enum Making<'l, L = f64> {
    /// A preferment, by its place in the formula.
    Preferment(usize),
    /// The dough, from its ripe preferments in the formula's order.
    Dough(&'l [Lump<L>]),
}

/// Who walks: decides when steps begin, lets their time pass, looks.
pub(crate) trait Walker<L: Lanes = f64> {
    /// When a step begins; none leaves it out.
    fn begins(&mut self, step: usize) -> Option<L>;
    /// A step has begun (its dough mixed, handled, moved): let its time pass. There is no dough
    /// before mixing and in the oven.
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>);
    /// Something was mixed, from these.
    fn mixes(&mut self, _setting: &Setting<'_>, _step: usize, _of: &[&Lump<L>], _made: &Lump<L>) {}
}

impl Setting<'_> {
    /// Walks steps in order; gives the dough as it is at the end.
    pub(crate) fn walk<L: Lanes>(
        &self,
        making: &Making<'_, L>,
        steps: &[usize],
        walker: &mut impl Walker<L>,
        draw: &Draw<L>,
    ) -> Result<Option<Lump<L>>, RunError> {
        let mut lump: Option<Lump<L>> = None;
        let mut builds = 0;
        for &i in steps {
            let Some(from) = walker.begins(i) else { continue };
            let step = self.step(i);
            match (step.verb, making) {
                (Verb::Build, Making::Preferment(p)) => {
                    builds += 1;
                    let made = self.mix_build(*p, builds - 1, i, lump.as_ref(), from, draw)?;
                    walker.mixes(self, i, &lump.iter().collect::<Vec<_>>(), &made);
                    lump = Some(made);
                }
                (Verb::Mix, Making::Dough(ripe)) => {
                    let made = self.mix_dough(i, ripe, from, draw)?;
                    walker.mixes(self, i, &ripe.iter().collect::<Vec<_>>(), &made);
                    lump = Some(made);
                }
                _ => {
                    if let Some(l) = lump.as_mut() {
                        l.begin(self, step, from);
                    }
                }
            }
            let in_hand = lump.as_mut().filter(|_| !step.verb.in_oven());
            walker.pass(self, i, from, in_hand);
            if let Some(l) = lump.as_mut() {
                l.finish(step);
            }
        }
        Ok(lump)
    }

    /// Walks every line of a path in turn, preferments first, each with a walker of its own.
    pub(crate) fn walk_all<L: Lanes, W: Walker<L>>(
        &self,
        path: Path,
        draw: &Draw<L>,
        mut walker: impl FnMut(usize) -> W,
    ) -> Result<(Vec<W>, Option<Lump<L>>), RunError> {
        let method = &self.recipe.method;
        let mut walkers = Vec::new();
        let mut ripe = Vec::new();
        for (p, pre) in self.recipe.formula.preferments.iter().enumerate() {
            let mut w = walker(p);
            let steps = method.side_line(&pre.name);
            ripe.extend(self.walk(&Making::Preferment(p), &steps, &mut w, draw)?);
            walkers.push(w);
        }
        let mut w = walker(ripe.len());
        let steps = method.main_line(path);
        let dough = self.walk(&Making::Dough(&ripe), &steps, &mut w, draw)?;
        walkers.push(w);
        Ok((walkers, dough))
    }
}

/// How a baker tells that a step is over.
#[derive(Debug, Clone, PartialEq)]
pub enum Rule {
    /// By its cue where it has one, else after its usual time.
    Cue,
    /// After a time.
    Time(Minutes),
    /// After a time by the dough's temperature at its beginning: rising temperatures, straight
    /// lines between them, flat outside.
    Table(Vec<(Celsius, Minutes)>),
}

/// A rule for every step of the method.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide(pub Vec<Rule>);

impl Guide {
    /// By the cues.
    pub fn cues(method: &Method) -> Self {
        Self(vec![Rule::Cue; method.steps.len()])
    }

    /// By the clock: every step takes the time it takes in a schedule.
    pub fn clock(method: &Method, schedule: &Schedule) -> Self {
        let rule = |i| {
            schedule.of(i).map_or(Rule::Cue, |s: super::Span| Rule::Time(Minutes(s.to - s.from)))
        };
        Self((0..method.steps.len()).map(rule).collect())
    }

    /// How long a step takes that no dough decides.
    pub(super) fn time(&self, step: usize, as_written: &Step) -> Minutes {
        match self.0.get(step) {
            Some(Rule::Time(t)) => *t,
            _ => usual(as_written),
        }
    }
}

/// A time from a table of times by temperature.
#[inline(always)]
fn looked_up<L: Lanes>(table: &[(Celsius, Minutes)], t: L) -> L {
    let Some(first) = table.first() else { return L::splat(0.0) };
    let mut at = L::splat(first.1.0);
    for pair in table.windows(2) {
        let ((t0, a), (t1, b)) = (pair[0], pair[1]);
        let part = ((t - t0.0) / (t1.0 - t0.0).max(1e-9)).within(0.0, 1.0);
        at += part * (b.0 - a.0);
    }
    at
}

/// Follows a guide, one step after another; tells of each.
pub(super) struct ByGuide<'f, L, T, F> {
    pub(super) guide: &'f Guide,
    pub(super) t: L,
    pub(super) told: Vec<T>,
    /// The last step told of, when it began, and its temperature.
    pub(super) last: Option<(usize, L, Option<L>)>,
    pub(super) tell: &'f F,
}

impl<'f, L, T, F> ByGuide<'f, L, T, F> {
    pub(super) fn from(t: L, guide: &'f Guide, tell: &'f F) -> Self {
        Self { guide, t, told: Vec::new(), last: None, tell }
    }
}

impl<L: Lanes, T, F: Fn(Told<'_, L>) -> T> Walker<L> for ByGuide<'_, L, T, F> {
    fn begins(&mut self, _: usize) -> Option<L> {
        Some(self.t)
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: L, lump: Option<&mut Lump<L>>) {
        let s = setting.step(step);
        let as_read = lump.as_ref().map(|l| l.as_read());
        let (to, lump) = match (self.guide.0.get(step), s.end, lump) {
            (Some(Rule::Cue), End::Cue { .. }, Some(l)) => {
                (l.rest_until(setting, s, from), Some(&*l))
            }
            (rule, _, Some(l)) => {
                let minutes = match rule {
                    Some(Rule::Table(table)) => looked_up(table, l.as_read()),
                    _ => L::splat(self.guide.time(step, s).0),
                };
                let to = from + minutes;
                l.rest(setting, from, to, l.longest_min, |_, _| {});
                (to, Some(&*l))
            }
            (_, _, None) => (from + self.guide.time(step, s).0, None),
        };
        self.told.push((self.tell)(Told { step, from, to, as_read, lump }));
        self.last = Some((step, from, as_read));
        self.t = to;
    }
}

/// A step that was done.
pub(crate) struct Told<'l, L> {
    /// Index of the step in the method.
    pub(crate) step: usize,
    /// Elapsed minute it began.
    pub(crate) from: L,
    /// Elapsed minute it ended.
    pub(crate) to: L,
    /// Mean temperature at its beginning, as the kitchen's thermometer shows it, °C.
    pub(crate) as_read: Option<L>,
    /// The dough then; none before mixing and in the oven.
    pub(crate) lump: Option<&'l Lump<L>>,
}

/// Keeps to a schedule up to an elapsed minute.
pub(super) struct UpTo<'s> {
    pub(super) schedule: &'s Schedule,
    pub(super) at_min: f64,
}

impl Walker for UpTo<'_> {
    fn begins(&mut self, step: usize) -> Option<f64> {
        self.schedule.of(step).map(|s| s.from).filter(|from| *from <= self.at_min)
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: f64, lump: Option<&mut Lump>) {
        if let (Some(l), Some(span)) = (lump, self.schedule.of(step)) {
            l.rest(setting, from, span.to.min(self.at_min), MAX_STEP_MIN, |_, _| {});
        }
    }
}
