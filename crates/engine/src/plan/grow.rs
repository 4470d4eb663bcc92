//! Growing doughs forward on the clock: the search.
//!
//! A partial schedule holds its dough in every kitchen of the search. At each time of the grid
//! the best few are kept for every aim, so one growth answers for all of them. With everything
//! kept it is an exhaustive search of the grid.

use super::crowd::{Crowd, Peaks, People};
use super::hands::Hands;
use super::underway::{Begun, Underway};
use super::weigh::{AIMS, Burden, ByAim, Scales};
use super::{Breach, Pin, Request, Softened, waits_for_peak};
use crate::method::{End, Path, Step, Verb, Window};
use crate::numerics::lanes::{Job, Lanes, Width};
use crate::run::{Draw, Lump, MAX_STEP_MIN, RunError, Schedule, Setting, Span, usual};
use quantity::{Minutes, Ph};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

/// How thoroughly to search.
#[derive(Debug, Clone)]
pub(super) struct Effort {
    /// Grid of wall-clock times, min.
    pub(super) grid: f64,
    /// Minutes after the full hour the grid begins.
    pub(super) shift: f64,
    /// Partial schedules kept per grid time and aim.
    pub(super) kept: usize,
    /// Free moments only within so many minutes of those of one of these schedules; all of one
    /// schedule's, at most [`KNOWN`] of them.
    pub(super) near: Option<(f64, Vec<Schedule>)>,
}

/// Known schedules a search can stay near to.
pub(super) const KNOWN: usize = 64;

/// A partial schedule: the steps so far.
struct Node<L> {
    t: f64,
    burden: Burden,
    costs: ByAim,
    /// Breaks ties, whatever the order in which cores come by.
    rank: u64,
    /// End of the last work on this line.
    worked: f64,
    /// Known schedules it is near to so far, a bit each.
    like: u64,
    crowd: Option<Crowd<L>>,
    chain: Chain,
}

impl<L: Lanes> Clone for Node<L> {
    fn clone(&self) -> Self {
        Self { crowd: self.crowd.clone(), chain: self.chain.clone(), ..*self }
    }
}

type Chain = Option<Arc<Link>>;

struct Link {
    before: Chain,
    span: Option<Span>,
    breach: Option<Breach>,
    /// Preferments joined at mixing.
    joined: Vec<Chain>,
}

#[expect(clippy::unnecessary_wraps, reason = "a chain may be empty")]
fn link(before: &Chain, span: Span) -> Chain {
    Some(Arc::new(Link { before: before.clone(), span: Some(span), breach: None, joined: vec![] }))
}

fn collect(chain: &Chain, spans: &mut Vec<Span>, breaches: &mut Vec<Breach>) {
    let mut at = chain.as_ref();
    while let Some(l) = at {
        spans.extend(l.span);
        breaches.extend(l.breach.clone());
        for j in &l.joined {
            collect(j, spans, breaches);
        }
        at = l.before.as_ref();
    }
}

/// A whole schedule that was found.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) schedule: Schedule,
    pub(super) burden: Burden,
    pub(super) costs: ByAim,
    pub(super) breaches: Vec<Breach>,
}

/// Partial schedules by time and acidity, the best few in each grid cell for each aim.
struct Frontier<L> {
    grid: f64,
    kept: usize,
    cells: BTreeMap<(i64, i64), Vec<Node<L>>>,
}

/// Doughs of one time whose pH differs by more are other doughs: what they will come to is not
/// told by what they cost so far, so they do not compete.
const ALIKE: f64 = 0.05;

/// Acidity of the dough in the kitchen as written; 0 for none.
fn acid<L: Lanes>(crowd: Option<&Crowd<L>>) -> f64 {
    crowd.map_or(0.0, |c| c.first(Window::Acid(Ph(0.0), Ph(0.0))))
}

impl<L: Lanes> Frontier<L> {
    fn new(grid: f64, kept: usize) -> Self {
        Self { grid, kept, cells: BTreeMap::new() }
    }

    fn cell(&self, t: f64, acid: f64) -> (i64, i64) {
        ((t / self.grid).floor() as i64, (acid / ALIKE).floor() as i64)
    }

    fn wants(&self, (t, acid): (f64, f64), costs: &ByAim, rank: u64) -> bool {
        let Some(cell) = self.cells.get(&self.cell(t, acid)) else { return true };
        (0..AIMS).any(|a| {
            cell.iter().filter(|n| before((n.costs[a], n.rank), (costs[a], rank))).count()
                < self.kept
        })
    }

    fn offer(&mut self, node: Node<L>) {
        let (at, kept) = (self.cell(node.t, acid(node.crowd.as_ref())), self.kept);
        let cell = self.cells.entry(at).or_default();
        cell.push(node);
        // now and then: sorting at every offer takes longer
        if cell.len() > kept.saturating_mul(2 * AIMS) {
            best(cell, kept);
        }
    }

    /// In an order that depends on nothing but what was offered.
    fn nodes(self) -> Vec<Node<L>> {
        let kept = self.kept;
        let cells = self.cells.into_values().map(|mut cell| {
            best(&mut cell, kept);
            cell
        });
        let mut all: Vec<Node<L>> = cells.flatten().collect();
        all.sort_by(|a, b| a.t.total_cmp(&b.t).then(a.rank.cmp(&b.rank)));
        for (k, n) in all.iter_mut().enumerate() {
            n.rank = k as u64;
        }
        all
    }
}

/// Leaves the best few for every aim.
fn best<L>(cell: &mut Vec<Node<L>>, kept: usize) {
    if cell.len() <= kept {
        return;
    }
    let mut keep = vec![false; cell.len()];
    for a in 0..AIMS {
        let mut order: Vec<usize> = (0..cell.len()).collect();
        order.sort_by(|&i, &j| {
            let (x, y) = (&cell[i], &cell[j]);
            x.costs[a].total_cmp(&y.costs[a]).then(x.rank.cmp(&y.rank))
        });
        order.iter().take(kept).for_each(|&i| keep[i] = true);
    }
    let mut keep = keep.into_iter();
    cell.retain(|_| keep.next().unwrap_or(true));
}

fn before(a: (f64, u64), b: (f64, u64)) -> bool {
    a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).is_lt()
}

/// Everything a search is about.
pub(super) struct Task<'s, 'a> {
    pub(super) setting: &'s Setting<'a>,
    pub(super) request: &'s Request,
    pub(super) path: Path,
    pub(super) hands: &'s Hands,
    pub(super) people: &'s People,
    pub(super) scales: &'s Scales,
    pub(super) soft: Softened,
    pub(super) effort: Effort,
    /// What has happened already.
    pub(super) underway: Option<&'s Underway>,
}

impl Task<'_, '_> {
    /// Whole schedules of one path, the best few for every aim among them; none when nothing fits.
    pub(super) fn search(&self) -> Result<Vec<Found>, RunError> {
        // a register holds as many kitchens as are asked, at most
        let width = if self.people.count() > 1 { Width::Widest } else { Width::One };
        width.run(self)
    }
}

impl Job for &Task<'_, '_> {
    type Out = Result<Vec<Found>, RunError>;
    fn run<L: Lanes>(self) -> Self::Out {
        let setting = self.setting;
        // the grid follows the wall clock: ten past is ten past
        let grid = self.effort.grid.clamp(1.0, 60.0);
        let minute = f64::from(setting.calendar.local(0).minute());
        let offset = (self.effort.shift - minute).rem_euclid(grid);
        let deadline = self.request.ready + f64::from(self.soft.later);
        let draws = self.people.lanes::<L>();
        Search { task: self, draws: &draws, grid, offset, deadline }.whole()
    }
}

struct Search<'s, 'a, L> {
    task: &'s Task<'s, 'a>,
    draws: &'s [Draw<L>],
    grid: f64,
    /// First grid time at or after now.
    offset: f64,
    /// Latest end.
    deadline: f64,
}

/// Gap between moments of work that still belong to one call to the bench, min.
const TOGETHER: f64 = 45.0;
/// How much earlier the oven may be switched on when hands are taken, min.
pub(super) const PREHEAT_SOONER: f64 = 30.0;

impl<L: Lanes> Search<'_, '_, L> {
    fn setting(&self) -> &Setting<'_> {
        self.task.setting
    }

    fn step(&self, i: usize) -> &Step {
        &self.task.setting.recipe.method.steps[i]
    }

    fn frontier(&self) -> Frontier<L> {
        Frontier::new(self.grid, self.task.effort.kept)
    }

    /// Grid times in a span.
    fn times(&self, from: f64, to: f64) -> impl Iterator<Item = f64> + use<L> {
        let (grid, offset) = (self.grid, self.offset);
        let first = ((from.max(0.0) - offset) / grid).ceil().max(0.0);
        let n = ((to - offset) / grid - first).floor();
        (0..=(n as i64)).map(move |k| offset + (first + k as f64) * grid).filter(move |_| n >= 0.0)
    }

    fn charge(&self, node: &mut Node<L>, more: Burden) {
        node.burden += more;
        node.costs = self.task.scales.costs(&node.burden);
    }

    fn start(t: f64) -> Node<L> {
        Node {
            t,
            burden: Burden::default(),
            costs: [0.0; AIMS],
            rank: 0,
            worked: f64::NEG_INFINITY,
            like: u64::MAX,
            crowd: None,
            chain: None,
        }
    }

    /// Known schedules that have a moment near one; every bit where nothing is known.
    fn like(&self, t: f64, of: impl Fn(&Schedule) -> Option<f64>) -> u64 {
        let Some((within, known)) = &self.task.effort.near else { return u64::MAX };
        let near = |s: &Schedule| of(s).is_none_or(|at| (at - t).abs() <= within + 1e-9);
        known.iter().enumerate().filter(|(_, s)| near(s)).fold(0, |bits, (k, _)| bits | 1 << k)
    }

    fn sum(&self, steps: &[usize], f: impl Fn(&Step) -> Minutes) -> f64 {
        steps.iter().map(|&i| f(self.step(i)).0).sum()
    }

    fn whole(&self) -> Result<Vec<Found>, RunError> {
        let path = self.task.path;
        let method = &self.setting().recipe.method;
        let main = method.main_line(path);
        let Some(mix) = main.iter().position(|&i| self.step(i).verb == Verb::Mix) else {
            return Ok(Vec::new()); // refused when the recipe was read
        };
        let (before, after) = main.split_at(mix);
        let begun = match self.task.underway {
            Some(u) => u.dough(self.setting(), self.draws)?,
            None => None,
        };
        let (nodes, from) = match begun {
            // the dough is mixed: from the step it is in
            Some(begun) => {
                let at = after.iter().position(|&i| i == begun.step).unwrap_or(0);
                (vec![Self::resume(begun)], at)
            }
            None => (self.mixed(path, before, after)?, 0),
        };
        Ok(self.to_bread(path, after, from, nodes))
    }

    fn resume(begun: Begun<L>) -> Node<L> {
        let mut node = Self::start(begun.since);
        for span in begun.spans {
            node.chain = link(&node.chain, span);
        }
        node.crowd = Some(begun.crowd);
        node.worked = begun.since;
        node
    }

    /// Every dough that can be mixed.
    fn mixed(
        &self,
        path: Path,
        before: &[usize],
        after: &[usize],
    ) -> Result<Vec<Node<L>>, RunError> {
        let method = &self.setting().recipe.method;
        let request = self.task.request;
        let least = |s: &Step| s.end.least();
        let most = |s: &Step| s.end.most();
        // what was begun before mixing runs on until the dough is mixed
        let begun = self.task.underway.and_then(|u| u.before_mixing(self.setting()));
        let first_left = begun
            .as_ref()
            .map_or(0, |(_, (step, _))| before.iter().position(|i| i == step).map_or(0, |k| k + 1));
        let before = &before[first_left..];
        let lead = self.sum(before, usual);
        let slowest = request.ready - request.early.0 - self.sum(after, most);
        let first_mix = slowest.max(lead);
        let last_mix = self.deadline - self.sum(after, least);
        let mix = after[0];
        let span_of = |s: &Schedule, i: usize| s.of(i);
        let mixes: Vec<f64> = self
            .times(first_mix, last_mix)
            .filter(|t| self.like(*t, |s| span_of(s, mix).map(|x| x.from)) != 0)
            .collect();
        let (Some(&first_mix), Some(&last_mix)) = (mixes.first(), mixes.last()) else {
            return Ok(Vec::new());
        };

        // each preferment and soaker: its best ways to every possible mixing time
        let mut sides: Vec<BTreeMap<i64, Vec<Node<L>>>> = Vec::new();
        for (p, pre) in self.setting().recipe.formula.preferments.iter().enumerate() {
            let steps: Vec<usize> = method
                .side_line(&pre.name)
                .into_iter()
                .filter(|&i| path.takes(self.step(i)))
                .collect();
            sides.push(self.side(p, &steps, first_mix, last_mix)?);
        }
        for soaker in &self.setting().recipe.formula.soakers {
            sides.push(self.soaker(&method.side_line(&soaker.name), &mixes));
        }

        let mut frontier = self.frontier();
        for &t in &mixes {
            let ready: Option<Vec<&[Node<L>]>> =
                sides.iter().map(|s| s.get(&(t as i64)).map(Vec::as_slice)).collect();
            let (Some(ready), start) = (ready, t - lead) else { continue };
            let like = self.like(t, |s| span_of(s, mix).map(|x| x.from));
            if start < 0.0 {
                continue;
            }
            for (k, joined) in self.together(&ready).into_iter().enumerate() {
                let mut node = Self::start(start);
                node.like = like;
                for n in &joined {
                    node.burden += n.burden;
                    node.like &= n.like;
                }
                if node.like == 0 {
                    continue;
                }
                node.chain = Some(Arc::new(Link {
                    before: None,
                    span: None,
                    breach: None,
                    joined: joined.iter().map(|n| n.chain.clone()).collect(),
                }));
                node.rank = k as u64;
                self.charge(&mut node, Burden::default());
                if let Some((done, (step, since))) = &begun {
                    for span in done {
                        node.chain = link(&node.chain, *span);
                    }
                    let span = Span { step: *step, from: *since, to: start };
                    node.chain = link(&node.chain, span);
                }
                let Some(mut node) = self.prepare(node, before) else { continue };
                if !self.work(&mut node, mix) || self.hands_clash(&joined, &node, before, mix) {
                    continue;
                }
                let grown = (0..self.draws.len()).map(|r| {
                    let ripe: Vec<Lump<L>> = joined
                        .iter()
                        .filter_map(|n| n.crowd.as_ref().and_then(|c| c.0.get(r)).cloned())
                        .collect();
                    self.setting().mix_dough(mix, &ripe, L::splat(node.t), &self.draws[r])
                });
                let crowd = Crowd(grown.collect::<Result<_, _>>()?);
                node.crowd = (!self.draws.is_empty()).then_some(crowd);
                frontier.offer(node);
            }
        }
        Ok(frontier.nodes())
    }

    /// The steps before mixing, which take their usual time.
    fn prepare(&self, mut node: Node<L>, before: &[usize]) -> Option<Node<L>> {
        for &i in before {
            if !self.work(&mut node, i) {
                return None;
            }
            let to = node.t + usual(self.step(i)).0;
            node.chain = link(&node.chain, Span { step: i, from: node.t, to });
            node.t = to;
        }
        Some(node)
    }

    /// Choices of one node a side: every aim's best; all of them when everything is kept.
    fn together<'n>(&self, ready: &[&'n [Node<L>]]) -> Vec<Vec<&'n Node<L>>> {
        let mut out: Vec<Vec<&Node<L>>> = vec![Vec::new()];
        if self.task.effort.kept == usize::MAX {
            for side in ready {
                out = out
                    .into_iter()
                    .flat_map(|o| {
                        side.iter().map(move |n| o.iter().copied().chain([n]).collect::<Vec<_>>())
                    })
                    .collect();
            }
            return out;
        }
        // for each aim, the best few of every side with one another
        let few = match ready.len() {
            0 | 1 => usize::MAX,
            2 => self.task.effort.kept.saturating_mul(2).max(8),
            _ => (self.task.effort.kept / 4).max(4),
        };
        let mut out: Vec<Vec<&Node<L>>> = Vec::new();
        let mut seen: BTreeSet<Vec<u64>> = BTreeSet::new();
        for a in 0..AIMS {
            let mut all: Vec<Vec<&Node<L>>> = vec![Vec::new()];
            for side in ready {
                let mut best: Vec<&Node<L>> = side.iter().collect();
                best.sort_by(|x, y| x.costs[a].total_cmp(&y.costs[a]).then(x.rank.cmp(&y.rank)));
                best.truncate(few);
                all = all
                    .into_iter()
                    .flat_map(|o| best.iter().map(move |&n| o.iter().copied().chain([n]).collect()))
                    .collect();
            }
            for pick in all {
                if seen.insert(pick.iter().map(|n| n.rank).collect()) {
                    out.push(pick);
                }
            }
        }
        out
    }

    /// Whether work before mixing falls on other work: two hands only.
    fn hands_clash(
        &self,
        joined: &[&Node<L>],
        node: &Node<L>,
        before: &[usize],
        mix: usize,
    ) -> bool {
        let work = |chain: &Chain| {
            let mut spans = Vec::new();
            collect(chain, &mut spans, &mut Vec::new());
            spans
        };
        let mut lines: Vec<Vec<Span>> = joined.iter().map(|n| work(&n.chain)).collect();
        let mut main: Vec<Span> = Vec::new();
        let mut t = node.t;
        for &i in before.iter().rev() {
            let from = t - usual(self.step(i)).0;
            main.push(Span { step: i, from, to: t });
            t = from;
        }
        main.push(Span { step: mix, from: node.t, to: node.t });
        lines.push(main);
        let moments: Vec<(usize, f64, f64)> = lines
            .iter()
            .enumerate()
            .flat_map(|(l, spans)| {
                spans.iter().map(move |s| (l, s.from, s.from + self.step(s.step).hands_on.0))
            })
            .filter(|m| m.2 > m.1)
            .collect();
        moments.iter().enumerate().any(|(k, a)| {
            moments[k + 1..].iter().any(|b| a.0 != b.0 && a.1 < b.2 - 1e-9 && b.1 < a.2 - 1e-9)
        })
    }

    /// A preferment: its best ways to every grid time up to the last mixing.
    fn side(
        &self,
        p: usize,
        steps: &[usize],
        first_mix: f64,
        last_mix: f64,
    ) -> Result<BTreeMap<i64, Vec<Node<L>>>, RunError> {
        let begun = match self.task.underway {
            Some(u) => u.preferment(self.setting(), self.draws, p)?,
            None => None,
        };
        let mut frontier = self.frontier();
        let (mut build, mut from, standing) = (0, 0, begun.is_some());
        if let Some(begun) = begun {
            from = steps.iter().position(|&i| i == begun.step).unwrap_or(0);
            build = steps[..=from].iter().filter(|&&i| self.step(i).verb == Verb::Build).count();
            frontier.offer(Self::resume(begun));
        } else {
            let first = first_mix - self.sum(steps, |s| s.end.most());
            let last = last_mix - self.sum(steps, |s| s.end.least());
            for t in self.times(first, last) {
                let known = |s: &Schedule| steps.first().and_then(|&i| s.of(i)).map(|x| x.from);
                let like = self.like(t, known);
                if like != 0 {
                    frontier.offer(Node { like, ..Self::start(t) });
                }
            }
        }
        for (k, &i) in steps.iter().enumerate().skip(from) {
            let step = self.step(i);
            let is_build = step.verb == Verb::Build;
            let (fresh, last) = (!(standing && k == from), k + 1 == steps.len());
            let (lo, hi) = if last { (first_mix, last_mix) } else { (0.0, last_mix) };
            let rest = self.sum(&steps[k + 1..], |s| s.end.least());
            let next = Mutex::new(self.frontier());
            frontier.nodes().into_par_iter().try_for_each(|mut node| {
                if fresh {
                    if !self.work(&mut node, i) {
                        return Ok(());
                    }
                    if is_build && !self.draws.is_empty() {
                        let before = node.crowd.take();
                        let mix = |r: usize, draw: &Draw<L>| {
                            let l = before.as_ref().and_then(|c| c.0.get(r));
                            self.setting().mix_build(p, build, i, l, L::splat(node.t), draw)
                        };
                        node.crowd = Some(Crowd::mix(self.draws, mix)?);
                    } else if let Some(c) = node.crowd.as_mut() {
                        c.begin(self.setting(), step, node.t);
                    }
                }
                self.ends(node, i, (lo, hi - rest), &next);
                Ok::<(), RunError>(())
            })?;
            build += usize::from(is_build && fresh);
            frontier = next.into_inner().unwrap_or_else(PoisonError::into_inner);
        }
        let mut out: BTreeMap<i64, Vec<Node<L>>> = BTreeMap::new();
        for n in frontier.nodes() {
            out.entry(n.t as i64).or_default().push(n);
        }
        Ok(out)
    }

    /// A soaker forgives: the usual time, or the first that suits the hands.
    fn soaker(&self, steps: &[usize], mixes: &[f64]) -> BTreeMap<i64, Vec<Node<L>>> {
        let total = self.sum(steps, usual);
        let (lo, hi) = (self.sum(steps, |s| s.end.least()), self.sum(steps, |s| s.end.most()));
        let mut ways = BTreeMap::new();
        for &t in mixes {
            let mut tries: Vec<f64> =
                self.times(t - hi, t - lo).chain([t - total]).filter(|s| *s >= 0.0).collect();
            tries.sort_by(|a, b| (a - t + total).abs().total_cmp(&(b - t + total).abs()));
            let mut rank = 0;
            let nodes = tries.into_iter().filter_map(|start| {
                let mut node = Self::start(start);
                let stretch = t - start - total;
                for (k, &i) in steps.iter().enumerate() {
                    if !self.work(&mut node, i) {
                        return None;
                    }
                    let last = if k + 1 == steps.len() { stretch } else { 0.0 };
                    let to = node.t + usual(self.step(i)).0 + last;
                    node.chain = link(&node.chain, Span { step: i, from: node.t, to });
                    node.t = to;
                }
                rank += 1;
                node.rank = rank;
                Some(node)
            });
            // the nearest few, in case another line wants the hands
            let nodes: Vec<Node<L>> = nodes.take(3).collect();
            if !nodes.is_empty() {
                ways.insert(t as i64, nodes);
            }
        }
        ways
    }

    /// From mixing, or the step the dough is in, to cooled bread.
    fn to_bread(
        &self,
        path: Path,
        after: &[usize],
        from: usize,
        nodes: Vec<Node<L>>,
    ) -> Vec<Found> {
        let method = &self.setting().recipe.method;
        let request = self.task.request;
        let mut nodes = nodes;
        for (k, &i) in after.iter().enumerate().skip(from) {
            let rest = &after[k + 1..];
            let bounds = (
                request.ready - request.early.0 - self.sum(rest, |s| s.end.most()),
                self.deadline - self.sum(rest, |s| s.end.least()),
            );
            let step = self.step(i);
            let load = step.verb == Verb::Load;
            let first_load = load && after[..k].iter().all(|&i| self.step(i).verb != Verb::Load);
            let next = Mutex::new(self.frontier());
            nodes.into_par_iter().for_each(|mut node| {
                // a dough that was just mixed or stands in its step has begun it
                if k > from {
                    if !self.work(&mut node, i) {
                        return;
                    }
                    if let Some(c) = node.crowd.as_mut() {
                        c.begin(self.setting(), step, node.t);
                    }
                }
                if first_load {
                    let loaded = node.crowd.as_ref().map(|c| c.mild(self.task.people));
                    let mild = loaded.unwrap_or(0.0);
                    self.charge(&mut node, Burden { mild, ..Burden::default() });
                    if !method.preheat(path).is_none_or(|p| self.preheat(&mut node, p)) {
                        return;
                    }
                    // the oven is not simulated here
                    node.crowd = None;
                }
                self.ends(node, i, bounds, &next);
            });
            nodes = next.into_inner().unwrap_or_else(PoisonError::into_inner).nodes();
        }
        let mut out: Vec<Found> = Vec::new();
        for mut n in nodes {
            let late = n.t - request.ready;
            let more = if late > 0.0 {
                n.chain = Some(Arc::new(Link {
                    before: n.chain.take(),
                    span: None,
                    breach: Some(Breach::Late { by: Minutes(late), ready: n.t }),
                    joined: vec![],
                }));
                Burden { breaches: 1.0, breach_size: late, ..Burden::default() }
            } else {
                let hours = late / 60.0;
                Burden { early: hours * hours, ..Burden::default() }
            };
            self.charge(&mut n, more);
            let (mut spans, mut breaches) = (Vec::new(), Vec::new());
            collect(&n.chain, &mut spans, &mut breaches);
            spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
            let schedule = Schedule { path, spans };
            out.push(Found { schedule, burden: n.burden, costs: n.costs, breaches });
        }
        out
    }

    /// Switches the oven on, sooner when hands are not free at the latest moment.
    fn preheat(&self, node: &mut Node<L>, p: usize) -> bool {
        let at = node.t;
        let work = self.step(p).hands_on;
        let needs = usual(self.step(p)).0;
        let mut spans = Vec::new();
        collect(&node.chain, &mut spans, &mut Vec::new());
        let taken = |from: f64| {
            spans.iter().any(|s| {
                let until = s.from + self.step(s.step).hands_on.0;
                s.from < from + work.0 - 1e-9 && from < until - 1e-9
            })
        };
        let mut from = at - needs;
        let latest = from;
        // work that is already under way comes first
        while from > latest - PREHEAT_SOONER
            && from > 0.0
            && (taken(from) || self.task.hands.blocked_in(from, work) > 0)
        {
            from -= 1.0;
        }
        if taken(from) || (self.task.hands.blocked_in(from, work) > 0) {
            from = latest;
        }
        if self.task.underway.is_some() {
            from = from.max(0.0); // hot a little late is still hot
        }
        if from < 0.0 || taken(from) {
            return false;
        }
        node.t = from;
        let worked = node.worked;
        if !self.work(node, p) {
            return false;
        }
        node.worked = node.worked.max(worked);
        node.chain = link(&node.chain, Span { step: p, from, to: at });
        node.t = at;
        true
    }

    /// Work at the start of a step: whether hands are free for it, at a price when hours are
    /// softened.
    fn work(&self, node: &mut Node<L>, i: usize) -> bool {
        let t = node.t;
        let pinned = |p: &Pin| p.step == i && (p.at - t).abs() > self.grid / 2.0 + 1e-9;
        if !self.task.soft.pins && self.task.request.pins.iter().any(pinned) {
            return false;
        }
        let work = self.step(i).hands_on;
        if work.0 <= 0.0 {
            return true;
        }
        let hands = self.task.hands;
        let blocked = hands.blocked_in(t, work);
        let mut b = Burden::default();
        if blocked > 0 {
            let Some(why) = hands.why(t, work).filter(|_| self.task.soft.hours) else {
                return false;
            };
            b.breaches = 1.0;
            b.breach_size = f64::from(blocked);
            node.chain = Some(Arc::new(Link {
                before: node.chain.take(),
                span: None,
                breach: Some(Breach::Hours { step: i, at: t, why }),
                joined: vec![],
            }));
        }
        let gap = t - node.worked;
        if gap > TOGETHER {
            b.calls = 1.0;
        } else {
            b.bound = gap.max(0.0) / 60.0;
        }
        let hour = self.setting().calendar.hour_of_day(t);
        b.uncivil = f64::from(!(7.0..22.0).contains(&hour));
        b.busy = f64::from(hands.busy_in(t, work) > 0);
        node.worked = node.worked.max(t + work.0);
        self.charge(node, b);
        true
    }

    /// Every end this step may have from this node, offered to the next frontier.
    fn ends(&self, mut node: Node<L>, i: usize, bounds: (f64, f64), next: &Mutex<Frontier<L>>) {
        let step = self.step(i);
        let from = node.t;
        let base = node.rank << 12;
        let wants = |at: (f64, f64), costs: &ByAim, rank: u64| {
            next.lock().unwrap_or_else(PoisonError::into_inner).wants(at, costs, rank)
        };
        let offer = |n: Node<L>| next.lock().unwrap_or_else(PoisonError::into_inner).offer(n);
        if let End::After(t) = step.end {
            let to = from + t.0;
            if to < bounds.0 || to > bounds.1 {
                return;
            }
            if let Some(c) = node.crowd.as_mut() {
                c.rest(self.setting(), from, to);
                let (b, _) = c.judge(self.task.people, step, None, to);
                c.finish(step);
                let missed = Burden { missed: b.missed, ..Burden::default() };
                self.charge(&mut node, missed);
            }
            // of the dough as it is now: its cell decides with whom it competes
            if !wants((to, acid(node.crowd.as_ref())), &node.costs, base) {
                return;
            }
            node.chain = link(&node.chain, Span { step: i, from, to });
            node.t = to;
            node.rank = base;
            offer(node);
            return;
        }
        let (mut lo, mut hi) =
            ((from + step.end.least().0).max(bounds.0), (from + step.end.most().0).min(bounds.1));
        if self.task.underway.is_some() && from <= 0.0 {
            // under way: it may be over at once, even when that is late
            lo = lo.max(0.0);
            hi = hi.max((lo + self.grid).min(bounds.1));
        }
        if lo > hi {
            return;
        }
        let mut ends: Vec<f64> = self.times(lo, hi).collect();
        if let End::Between { usual, .. } = step.end {
            let t = from + usual.0;
            if t >= lo && t <= hi && !ends.contains(&t) {
                ends.push(t);
                ends.sort_by(f64::total_cmp);
            }
        }
        let like = |t: f64| node.like & self.like(t, |s| s.of(i).map(|x| x.to));
        ends.retain(|t| like(*t) != 0);
        if ends.is_empty() {
            return;
        }
        // a peak is known only when the whole curve is seen
        let ripe = waits_for_peak(step.end);
        let peaks =
            node.crowd.as_ref().filter(|_| ripe).map(|c| Peaks::of(self.setting(), step, c, from));
        if !self.task.soft.windows && peaks.as_ref().is_some_and(|p| p.0[0].is_none()) {
            return;
        }
        let mut at = from;
        for (k, to) in ends.into_iter().enumerate() {
            let mut more = Burden { off_usual: off_usual(step, to - from), ..Burden::default() };
            let mut breach = None;
            if let Some(c) = node.crowd.as_mut() {
                if let (Some(peak), false) =
                    (peaks.as_ref().and_then(|p| p.0[0]), self.task.soft.windows)
                {
                    if to > peak.until {
                        break;
                    }
                    if to < peak.from {
                        continue;
                    }
                }
                c.rest(self.setting(), at, to);
                at = to;
                let (judged, off) = c.judge(self.task.people, step, peaks.as_ref(), to);
                more += judged;
                if off > 1.0 {
                    if !self.task.soft.windows {
                        let over = step.good.is_some_and(|w| w.miss(c.first(w)) > 1.0);
                        if over && matches!(step.good, Some(crate::method::Window::Rise(..))) {
                            break;
                        }
                        continue;
                    }
                    more.breaches = off.min(50.0);
                    breach = Some(Breach::Window {
                        step: i,
                        at: to,
                        window: step.good,
                        reached: step.good.map_or(f64::NAN, |w| c.first(w)),
                    });
                }
            }
            let mut burden = node.burden;
            burden += more;
            let costs = self.task.scales.costs(&burden);
            let rank = base + k as u64 + 1;
            if !wants((to, acid(node.crowd.as_ref())), &costs, rank) {
                continue;
            }
            let mut done = node.clone();
            (done.burden, done.costs, done.rank) = (burden, costs, rank);
            done.like &= self.like(to, |s| s.of(i).map(|x| x.to));
            if let Some(c) = done.crowd.as_mut() {
                c.finish(step);
            }
            done.chain = link(&done.chain, Span { step: i, from, to });
            if let Some(b) = breach {
                done.chain = Some(Arc::new(Link {
                    before: done.chain.take(),
                    span: None,
                    breach: Some(b),
                    joined: vec![],
                }));
            }
            done.t = to;
            offer(done);
        }
    }
}

/// Distance of a free duration from its usual, squared: 1 at the edge of the range.
fn off_usual(step: &Step, minutes: f64) -> f64 {
    let End::Between { least, usual, most } = step.end else { return 0.0 };
    let half = if minutes < usual.0 { usual.0 - least.0 } else { most.0 - usual.0 };
    if half <= 0.0 { 0.0 } else { ((minutes - usual.0) / half) * ((minutes - usual.0) / half) }
}

/// The span around a chosen end in which the result is good, within the step's range.
pub(super) fn good_span(
    setting: &Setting<'_>,
    step: &Step,
    start: &Lump,
    from: f64,
    chosen: f64,
    fine: f64,
) -> Option<(f64, f64)> {
    let (lo, hi) = (from + step.end.least().0, from + step.end.most().0);
    if waits_for_peak(step.end) {
        let peaks = Peaks::of(setting, step, &Crowd(vec![start.clone()]), from);
        let p = peaks.0.first().copied().flatten()?;
        return Some((p.from.max(lo), p.until.min(hi)));
    }
    if step.good.is_none() {
        return Some((lo, hi));
    }
    let mut l = start.clone();
    let mut span: Option<(f64, f64)> = None;
    let mut closed = false;
    let mut see = |t: f64, l: &Lump| {
        let good = t >= lo - 1e-9 && super::off_target(step, l) <= 1.0;
        match (&mut span, good, closed) {
            (Some(s), true, false) => s.1 = t,
            (None, true, _) => span = Some((t, t)),
            (Some(_), true, true) if t <= chosen + fine => {
                span = Some((t, t)); // an earlier good stretch ended before the chosen time
                closed = false;
            }
            (Some(_), false, _) => closed = true,
            _ => {}
        }
    };
    see(from, &l);
    l.rest(setting, from, hi, fine.min(MAX_STEP_MIN), see);
    span
}
