//! Growing doughs forward on the clock: the search.

use super::{Breach, Hands, Request, Softened, Weights, waits_for_peak};
use crate::method::{Cue, End, Path, Step, Verb, Window};
use crate::run::{Draw, Lump, MAX_STEP_MIN, RunError, Schedule, Setting, Span, usual};
use quantity::Minutes;
use std::collections::BTreeMap;
use std::rc::Rc;

/// Partial schedules kept per grid time.
const KEPT: usize = 3;

/// A partial schedule: the steps so far.
#[derive(Clone)]
pub(super) struct Node {
    t: f64,
    pub(super) cost: f64,
    lump: Option<Lump>,
    chain: Chain,
}

type Chain = Option<Rc<Link>>;

struct Link {
    before: Chain,
    span: Option<Span>,
    breach: Option<Breach>,
    /// Preferments joined at mixing.
    joined: Vec<Chain>,
}

fn link(before: &Chain, span: Span) -> Rc<Link> {
    Rc::new(Link { before: before.clone(), span: Some(span), breach: None, joined: vec![] })
}

impl Node {
    fn breached(&mut self, breach: Breach) {
        self.chain = Some(Rc::new(Link {
            before: self.chain.take(),
            span: None,
            breach: Some(breach),
            joined: vec![],
        }));
    }

    fn collect(chain: &Chain, spans: &mut Vec<Span>, breaches: &mut Vec<Breach>) {
        let mut at = chain.as_ref();
        while let Some(l) = at {
            spans.extend(l.span);
            breaches.extend(l.breach.clone());
            for j in &l.joined {
                Self::collect(j, spans, breaches);
            }
            at = l.before.as_ref();
        }
    }

    pub(super) fn schedule(&self, path: Path) -> Schedule {
        let mut spans = Vec::new();
        Self::collect(&self.chain, &mut spans, &mut Vec::new());
        spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
        Schedule { path, spans }
    }

    pub(super) fn breaches(&self) -> Vec<Breach> {
        let mut breaches = Vec::new();
        Self::collect(&self.chain, &mut Vec::new(), &mut breaches);
        breaches
    }
}

/// Partial schedules by time, the best few in each grid cell.
struct Frontier {
    grid: f64,
    cells: BTreeMap<i64, Vec<Node>>,
}

impl Frontier {
    fn new(grid: f64) -> Self {
        Self { grid, cells: BTreeMap::new() }
    }

    fn wants(&self, t: f64, cost: f64) -> bool {
        self.cells
            .get(&((t / self.grid).floor() as i64))
            .is_none_or(|c| c.len() < KEPT || c.last().is_some_and(|n| cost < n.cost))
    }

    fn offer(&mut self, node: Node) {
        let cell = self.cells.entry((node.t / self.grid).floor() as i64).or_default();
        let at = cell.partition_point(|n| n.cost <= node.cost);
        cell.insert(at, node);
        cell.truncate(KEPT);
    }

    fn nodes(self) -> impl Iterator<Item = Node> {
        self.cells.into_values().flatten()
    }
}

struct Search<'s, 'a> {
    setting: &'s Setting<'a>,
    request: &'s Request,
    hands: &'s Hands,
    weights: &'s Weights,
    soft: Softened,
    /// First grid time at or after now.
    offset: f64,
    /// Latest end.
    deadline: f64,
}

/// The cheapest schedule of one path, if any.
pub(super) fn search(
    setting: &Setting<'_>,
    request: &Request,
    path: Path,
    hands: &Hands,
    weights: &Weights,
    soft: Softened,
) -> Result<Option<Node>, RunError> {
    // the grid follows the wall clock: quarter past is quarter past
    let grid = request.grid.0.clamp(1.0, 60.0);
    let minute = f64::from(setting.calendar.local(0).minute());
    let offset = (grid - minute % grid) % grid;
    let deadline = request.ready + if soft.ready { super::LATER_MAX } else { 0.0 };
    let s = Search { setting, request, hands, weights, soft, offset, deadline };
    s.path(path)
}

impl Search<'_, '_> {
    fn step(&self, i: usize) -> &Step {
        &self.setting.recipe.method.steps[i]
    }

    fn grid(&self) -> f64 {
        self.request.grid.0.clamp(1.0, 60.0)
    }

    /// Grid times in a span.
    fn times(&self, from: f64, to: f64) -> impl Iterator<Item = f64> + use<> {
        let (grid, offset) = (self.grid(), self.offset);
        let first = ((from.max(0.0) - offset) / grid).ceil().max(0.0);
        let n = ((to - offset) / grid - first).floor();
        (0..=(n as i64)).map(move |k| offset + (first + k as f64) * grid).filter(move |_| n >= 0.0)
    }

    fn path(&self, path: Path) -> Result<Option<Node>, RunError> {
        let method = &self.setting.recipe.method;
        let main = method.main_line(path);
        let Some(mix) = main.iter().position(|&i| self.step(i).verb == Verb::Mix) else {
            return Ok(None); // refused when the recipe was read
        };
        let (before, after) = main.split_at(mix);
        let sum = |steps: &[usize], f: fn(&Step) -> Minutes| -> f64 {
            steps.iter().map(|&i| f(self.step(i)).0).sum()
        };
        let least = |s: &Step| s.end.least();
        let most = |s: &Step| s.end.most();
        let lead = sum(before, usual);
        let first_mix = (self.request.ready - self.request.early.0 - sum(after, most)).max(lead);
        let last_mix = self.deadline - sum(after, least);

        // each preferment and soaker: its cheapest way to every possible mixing time
        let mut sides: Vec<BTreeMap<i64, Node>> = Vec::new();
        let preferments = &self.setting.recipe.formula.preferments;
        for (p, pre) in preferments.iter().enumerate() {
            let steps: Vec<usize> = method
                .side_line(&pre.name)
                .into_iter()
                .filter(|&i| path.takes(self.step(i)))
                .collect();
            let from = first_mix - sum(&steps, most);
            let to = last_mix - sum(&steps, least);
            let mut frontier = Frontier::new(self.grid());
            for t in self.times(from, to) {
                frontier.offer(Node { t, cost: 0.0, lump: None, chain: None });
            }
            let mut build = 0;
            for &i in &steps {
                let mut next = Frontier::new(self.grid());
                let is_build = self.step(i).verb == Verb::Build;
                for node in frontier.nodes() {
                    let Some(mut node) = self.hands_free(node, i) else { continue };
                    if is_build {
                        let before = node.lump.as_ref();
                        let written = Draw::as_written();
                        node.lump =
                            Some(self.setting.mix_build(p, build, i, before, node.t, &written)?);
                    } else if let Some(l) = node.lump.as_mut() {
                        l.begin(self.setting, self.step(i), node.t);
                    }
                    self.ends(node, i, (0.0, last_mix), &mut next);
                }
                build += usize::from(is_build);
                frontier = next;
            }
            sides.push(cheapest(frontier));
        }
        for soaker in &self.setting.recipe.formula.soakers {
            let steps = method.side_line(&soaker.name);
            let mut ways = BTreeMap::new();
            for t in self.times(first_mix, last_mix) {
                // a soaker forgives: the usual time, or the first that suits the hands
                let total = sum(&steps, usual);
                let (lo, hi) = (sum(&steps, least), sum(&steps, most));
                let mut tries: Vec<f64> =
                    self.times(t - hi, t - lo).chain([t - total]).filter(|s| *s >= 0.0).collect();
                tries.sort_by(|a, b| (a - t + total).abs().total_cmp(&(b - t + total).abs()));
                let node = tries.into_iter().find_map(|start| {
                    let mut node = Node { t: start, cost: 0.0, lump: None, chain: None };
                    let stretch = t - start - total;
                    for (k, &i) in steps.iter().enumerate() {
                        node = self.hands_free(node, i)?;
                        let last = if k + 1 == steps.len() { stretch } else { 0.0 };
                        let to = node.t + usual(self.step(i)).0 + last;
                        node.chain = Some(link(&node.chain, Span { step: i, from: node.t, to }));
                        node.t = to;
                    }
                    Some(node)
                });
                if let Some(node) = node {
                    ways.insert(t as i64, node);
                }
            }
            sides.push(ways);
        }

        // mixing: every grid time at which all of them are ready
        let mut frontier = Frontier::new(self.grid());
        for t in self.times(first_mix, last_mix) {
            let joined: Option<Vec<&Node>> = sides.iter().map(|s| s.get(&(t as i64))).collect();
            let Some(joined) = joined else { continue };
            let start = t - lead;
            if start < 0.0 {
                continue;
            }
            let mut node = Node {
                t: start,
                cost: joined.iter().map(|n| n.cost).sum(),
                lump: None,
                chain: Some(Rc::new(Link {
                    before: None,
                    span: None,
                    breach: None,
                    joined: joined.iter().map(|n| n.chain.clone()).collect(),
                })),
            };
            let mut free = true;
            for &i in before {
                let Some(n) = self.hands_free(node.clone(), i) else {
                    free = false;
                    break;
                };
                node = n;
                let to = node.t + usual(self.step(i)).0;
                node.chain = Some(link(&node.chain, Span { step: i, from: node.t, to }));
                node.t = to;
            }
            if !free {
                continue;
            }
            let Some(mut node) = self.hands_free(node, after[0]) else { continue };
            let ripe: Vec<Lump> = joined.iter().filter_map(|n| n.lump.clone()).collect();
            node.lump =
                Some(self.setting.mix_dough(after[0], &ripe, node.t, &Draw::as_written())?);
            frontier.offer(node);
        }

        // from mixing to cooled bread
        for (k, &i) in after.iter().enumerate() {
            let rest = &after[k + 1..];
            let bounds = (
                self.request.ready - self.request.early.0 - sum(rest, most),
                self.deadline - sum(rest, least),
            );
            let mut next = Frontier::new(self.grid());
            let step = self.step(i);
            for mut node in frontier.nodes() {
                if k > 0 {
                    let Some(n) = self.hands_free(node, i) else { continue };
                    node = n;
                    if let Some(l) = node.lump.as_mut() {
                        l.begin(self.setting, step, node.t);
                    }
                }
                let first_load = step.verb == Verb::Load
                    && after[..k].iter().all(|&i| self.step(i).verb != Verb::Load);
                if first_load && let Some(p) = method.preheat(path) {
                    let from = node.t - usual(self.step(p)).0;
                    if from < 0.0 {
                        continue;
                    }
                    let at = node.t;
                    node.t = from;
                    let Some(n) = self.hands_free(node, p) else { continue };
                    node = n;
                    node.chain = Some(link(&node.chain, Span { step: p, from, to: at }));
                    node.t = at;
                }
                self.ends(node, i, bounds, &mut next);
            }
            frontier = next;
        }
        let w = self.weights;
        Ok(frontier
            .nodes()
            .map(|mut n| {
                let late = n.t - self.request.ready;
                if late > 0.0 {
                    n.cost += w.breach + w.breach_minute * late;
                    n.breached(Breach::Late { by: Minutes(late), ready: n.t });
                } else {
                    n.cost += w.hour_early * (late / 60.0) * (late / 60.0);
                }
                n
            })
            .min_by(|a, b| a.cost.total_cmp(&b.cost)))
    }

    /// The node, if hands are free for its next step; at a price when hours are softened.
    fn hands_free(&self, mut node: Node, i: usize) -> Option<Node> {
        let work = self.step(i).hands_on;
        let blocked = self.hands.blocked_in(node.t, work);
        if blocked == 0 {
            return Some(node);
        }
        if !self.soft.hours {
            return None;
        }
        let why = self.hands.why(node.t, work)?;
        node.cost += self.weights.breach + self.weights.breach_minute * f64::from(blocked);
        let at = node.t;
        node.breached(Breach::Hours { step: i, at, why });
        Some(node)
    }

    /// Every end this step may have from this node, offered to the next frontier.
    fn ends(&self, mut node: Node, i: usize, bounds: (f64, f64), next: &mut Frontier) {
        let step = self.step(i);
        let from = node.t;
        let simulated = !step.verb.in_oven();
        if let End::After(t) = step.end {
            let to = from + t.0;
            if to < bounds.0 || to > bounds.1 || !next.wants(to, node.cost) {
                return;
            }
            if let Some(l) = node.lump.as_mut().filter(|_| simulated) {
                l.rest(self.setting, from, to, MAX_STEP_MIN, |_, _| {});
                l.finish(step);
            }
            node.chain = Some(link(&node.chain, Span { step: i, from, to }));
            node.t = to;
            next.offer(node);
            return;
        }
        let (lo, hi) =
            ((from + step.end.least().0).max(bounds.0), (from + step.end.most().0).min(bounds.1));
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
        // a peak is known only when the whole curve is seen
        let peak = waits_for_peak(step.end)
            .then(|| node.lump.as_ref().and_then(|l| Peak::of(self.setting, step, l, from)))
            .flatten();
        let mut at = from;
        for to in ends {
            if let Some(l) = node.lump.as_mut().filter(|_| simulated) {
                l.rest(self.setting, at, to, MAX_STEP_MIN, |_, _| {});
            }
            at = to;
            let off = match (&node.lump, peak) {
                (_, Some(peak)) => peak.off(to),
                (Some(_), None) if waits_for_peak(step.end) => f64::INFINITY,
                (Some(l), None) if simulated => off_target(step, l),
                _ => 0.0,
            };
            let mut cost = node.cost + self.weights.edge_of_range * off_usual(step, to - from);
            let mut breach = None;
            if node
                .lump
                .as_ref()
                .is_some_and(|l| simulated && step.what.is_none() && l.overproofed())
            {
                cost += self.weights.tired;
            }
            if off > 1.0 {
                if !self.soft.windows {
                    continue;
                }
                let off = off.min(50.0);
                cost += self.weights.breach * off;
                breach = node.lump.as_ref().map(|l| Breach::Window {
                    step: i,
                    at: to,
                    window: step.good,
                    reached: step.good.map_or(f64::NAN, |w| l.measure(w)),
                });
            } else {
                cost += self.weights.edge_of_window * off * off;
            }
            if !next.wants(to, cost) {
                continue;
            }
            let mut done = node.clone();
            done.cost = cost;
            if let Some(l) = done.lump.as_mut() {
                l.finish(step);
            }
            done.chain = Some(link(&done.chain, Span { step: i, from, to }));
            if let Some(b) = breach {
                done.breached(b);
            }
            done.t = to;
            next.offer(done);
        }
    }
}

/// One node per time, the cheapest.
fn cheapest(frontier: Frontier) -> BTreeMap<i64, Node> {
    let mut out: BTreeMap<i64, Node> = BTreeMap::new();
    for n in frontier.nodes() {
        match out.get(&(n.t as i64)) {
            Some(have) if have.cost <= n.cost => {}
            _ => {
                out.insert(n.t as i64, n);
            }
        }
    }
    out
}

/// Distance of a free duration from its usual, squared: 1 at the edge of the range.
fn off_usual(step: &Step, minutes: f64) -> f64 {
    let End::Between { least, usual, most } = step.end else { return 0.0 };
    let half = if minutes < usual.0 { usual.0 - least.0 } else { most.0 - usual.0 };
    if half <= 0.0 { 0.0 } else { ((minutes - usual.0) / half) * ((minutes - usual.0) / half) }
}

/// Distance of a result from its target: 0 there, 1 at the edge of its window, more outside.
pub(crate) fn off_target(step: &Step, l: &Lump) -> f64 {
    let Some(window) = step.good else { return 0.0 };
    let (lo, hi) = match window {
        Window::Rise(a, b) => (a.0, b.0),
        Window::Acid(a, b) => (a.0, b.0),
        Window::Core(a, b) => (a.0, b.0),
    };
    let target = match step.end {
        End::Cue { cue: Cue::Rise(r), .. } => r.0,
        End::Cue { cue: Cue::Acid(p), .. } => p.0,
        End::Cue { cue: Cue::Core(c), .. } => c.0,
        _ => f64::midpoint(lo, hi),
    }
    .clamp(lo, hi);
    let x = l.measure(window);
    let side = if x < target { target - lo } else { hi - target };
    let off = (x - target).abs();
    // a window without a target of its own only has edges
    let inside = matches!(step.end, End::Between { .. } | End::After(_)) && x >= lo && x <= hi;
    if inside {
        0.0
    } else if side <= 0.0 {
        if off == 0.0 { 0.0 } else { f64::INFINITY }
    } else {
        off / side
    }
}

/// When a levain is at its peak, and the 95 % around it, elapsed minutes.
#[derive(Clone, Copy)]
struct Peak {
    from: f64,
    at: f64,
    until: f64,
}

impl Peak {
    fn of(setting: &Setting<'_>, step: &Step, l: &Lump, from: f64) -> Option<Self> {
        let start = l.volume();
        let mut curve = vec![(from, start)];
        // a little beyond its longest time, so that a late peak is seen
        let end = from + step.end.most().0 + 120.0;
        l.clone().rest(setting, from, end, MAX_STEP_MIN, |t, l| curve.push((t, l.volume())));
        let top = curve.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
        if top.1 < 1.1 * start {
            return None; // it never rose
        }
        let inside = |v: f64| v >= 0.95 * top.1;
        let first = curve.iter().find(|c| inside(c.1)).map(|c| c.0)?;
        let last = curve.iter().rev().find(|c| inside(c.1)).map(|c| c.0)?;
        Some(Self { from: first, at: top.0, until: last })
    }

    fn off(&self, t: f64) -> f64 {
        let side = if t < self.at { self.at - self.from } else { self.until - self.at };
        let off = (t - self.at).abs();
        if off == 0.0 {
            0.0
        } else if side <= 0.0 {
            f64::INFINITY
        } else {
            off / side
        }
    }
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
        let p = Peak::of(setting, step, start, from)?;
        return Some((p.from.max(lo), p.until.min(hi)));
    }
    if step.good.is_none() {
        return Some((lo, hi));
    }
    let mut l = start.clone();
    let mut span: Option<(f64, f64)> = None;
    let mut closed = false;
    let mut see = |t: f64, l: &Lump| {
        let good = t >= lo - 1e-9 && off_target(step, l) <= 1.0;
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
    l.rest(setting, from, hi, fine, see);
    span
}
