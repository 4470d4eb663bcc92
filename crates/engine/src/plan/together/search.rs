//! Choosing bread by bread: depth first, the tightest bread first, its cheapest candidates first.
//!
//! After each pick everything that no longer fits is struck out, row by row, in sets of bits. A
//! branch ends when a bread has nothing left, or when even the cheapest of what is left, at the
//! prices of [`super::bound`], is no better than the best choice known. Batches of the same bread
//! are interchangeable: of their picks only one order is tried.

use super::bound::{self, Ascent, Bound, Picks};
use super::rows::{Column, Problem};

/// Of one row no more sets are kept than this, for different amounts; a candidate they let
/// through is still weighed before it is picked.
const LEVELS: usize = 16;

/// What the search came to.
pub(super) struct Found {
    /// Of each bread its column.
    pub(super) best: Option<Picks>,
    /// No choice costs less.
    pub(super) least: i64,
    /// Whether nothing better is left, or nothing at all.
    pub(super) finished: bool,
    pub(super) nodes: u64,
}

/// The cheapest choice, or with `any` whether there is one.
pub(super) fn search(problem: &Problem, limit: u64, any: bool) -> Found {
    let nothing = |nodes| Found { best: None, least: i64::MAX, finished: true, nodes };
    if problem.breads.iter().any(|b| b.columns.is_empty()) {
        return nothing(0);
    }
    let mut nodes = 0;
    let mut met = None;
    if !any {
        met = match cheapest(problem, None, limit, &mut nodes) {
            Ok(found) => return found,
            Err(met) => met,
        };
    }
    if met.is_none() {
        // is there a choice at all? All cost nothing, and 1 is too much
        let mut free = problem.clone();
        free.breads.iter_mut().flat_map(|b| &mut b.columns).for_each(|c| c.cost = 0);
        let Ascent { prices, met: easy } = bound::ascend(&free, false, true);
        let picks = if let Some((_, picks)) = easy {
            picks
        } else {
            let bound = Bound::at(&free, &prices);
            if bound.least > 0 {
                return nothing(nodes);
            }
            let mut dive = Dive::new(&free, &bound, 1, limit, nodes);
            let finished = dive.run();
            nodes = dive.nodes;
            match dive.best {
                Some((_, picks)) => picks,
                None => return Found { finished, ..nothing(nodes) },
            }
        };
        if any {
            return Found { best: Some(picks), least: i64::MIN, finished: true, nodes };
        }
        met = Some(picks);
    }
    match cheapest(problem, met, limit, &mut nodes) {
        Ok(found) => found,
        Err(_) => Found { finished: false, ..nothing(nodes) },
    }
}

/// The cheapest choice, once one is known: given, or met while the bound is raised. Without one
/// there is nothing to hold the search against.
fn cheapest(
    problem: &Problem,
    known: Option<Picks>,
    limit: u64,
    nodes: &mut u64,
) -> Result<Found, Option<Picks>> {
    let Ascent { prices, met } = bound::ascend(problem, true, false);
    let known = known.map(|picks| (bound::cost_of(problem, &picks), picks));
    let Some((cost, picks)) = [met, known].into_iter().flatten().min_by_key(|m| m.0) else {
        return Err(None);
    };
    let bound = Bound::at(problem, &prices);
    if bound.least >= cost {
        return Ok(Found { best: Some(picks), least: cost, finished: true, nodes: *nodes });
    }
    let mut dive = Dive::new(problem, &bound, cost, limit, *nodes);
    let finished = dive.run();
    *nodes = dive.nodes;
    let least = dive.least;
    let (cost, best) = dive.best.unwrap_or((cost, picks));
    let least = if finished { cost } else { least.min(cost) };
    Ok(Found { best: Some(best), least, finished, nodes: *nodes })
}

/// Sets of columns as bits; every bread begins at a word of its own.
type Word = u64;

/// A column still worth trying.
struct Live<'p> {
    /// Its place among its bread's.
    k: usize,
    column: &'p Column,
    /// Its cost with what it pays.
    paid: i64,
}

struct Dive<'p> {
    problem: &'p Problem,
    /// Of each bread, by what they pay, ascending.
    live: Vec<Vec<Live<'p>>>,
    /// Where each bread's words begin; one more at the end.
    words: Vec<usize>,
    /// Of each row: an amount, and which columns need so much or more.
    over: Vec<Vec<(i64, Vec<Word>)>>,
    back: i64,
    /// What a choice must cost less than.
    under: i64,
    best: Option<(i64, Picks)>,
    load: Vec<i64>,
    /// Of each bread its place in `live`, once picked.
    picked: Vec<Option<usize>>,
    /// No choice costs less, as far as the first bread's picks have come.
    least: i64,
    nodes: u64,
    limit: u64,
}

impl<'p> Dive<'p> {
    fn new(problem: &'p Problem, bound: &Bound, under: i64, limit: u64, nodes: u64) -> Self {
        let mut live = Vec::new();
        let mut words = vec![0];
        for (b, paid) in problem.breads.iter().zip(&bound.paid) {
            let least = paid.iter().min().copied().unwrap_or(0);
            let mut of: Vec<Live<'_>> = b
                .columns
                .iter()
                .zip(paid)
                .enumerate()
                .filter(|(_, (_, paid))| bound.least + (*paid - least) < under)
                .map(|(k, (column, paid))| Live { k, column, paid: *paid })
                .collect();
            of.sort_by_key(|l| (l.paid, l.k));
            words.push(words.last().copied().unwrap_or(0) + of.len().div_ceil(64));
            live.push(of);
        }
        let all = words.last().copied().unwrap_or(0);
        // which amounts are needed of each row
        let mut amounts: Vec<Vec<i64>> = vec![Vec::new(); problem.caps.len()];
        let parts = || live.iter().flatten().flat_map(|l| &l.column.parts);
        for p in parts() {
            for a in &mut amounts[p.rows()] {
                if a.last() != Some(&p.amount) {
                    a.push(p.amount);
                }
            }
        }
        let mut over: Vec<Vec<(i64, Vec<Word>)>> = amounts
            .into_iter()
            .map(|mut a| {
                a.sort_unstable();
                a.dedup();
                let every = a.len().div_ceil(LEVELS).max(1);
                a.into_iter().step_by(every).map(|a| (a, vec![0; all])).collect()
            })
            .collect();
        for (b, of) in live.iter().enumerate() {
            for (i, l) in of.iter().enumerate() {
                let (word, bit) = (words[b] + i / 64, 1 << (i % 64));
                for p in &l.column.parts {
                    for level in &mut over[p.rows()] {
                        for (_, set) in level.iter_mut().filter(|(a, _)| *a <= p.amount) {
                            set[word] |= bit;
                        }
                    }
                }
            }
        }
        Self {
            problem,
            load: vec![0; problem.caps.len()],
            picked: vec![None; live.len()],
            live,
            words,
            over,
            back: bound.back,
            under,
            best: None,
            least: bound.least,
            nodes,
            limit,
        }
    }

    /// Whether it came to the end.
    fn run(&mut self) -> bool {
        let mut alive = vec![0; self.words.last().copied().unwrap_or(0)];
        for (b, of) in self.live.iter().enumerate() {
            for i in 0..of.len() {
                alive[self.words[b] + i / 64] |= 1 << (i % 64);
            }
        }
        self.pick(0, -self.back, &alive)
    }

    /// Picks for the breads that are left; `base` is what the others pay, less what is given back.
    fn pick(&mut self, depth: usize, base: i64, alive: &[Word]) -> bool {
        self.nodes += 1;
        if self.nodes > self.limit {
            return false;
        }
        let n = self.live.len();
        if depth == n {
            let columns = self.live.iter().zip(&self.picked);
            let picks: Vec<&Live<'_>> = columns.filter_map(|(of, i)| of.get((*i)?)).collect();
            let cost = picks.iter().map(|l| l.column.cost).sum();
            if cost < self.under {
                self.under = cost;
                self.best = Some((cost, picks.iter().map(|l| l.k).collect()));
            }
            return true;
        }
        // the cheapest of what is left of each bread
        let mut rest = base;
        let mut least = vec![0; n];
        for b in (0..n).filter(|&b| self.picked[b].is_none()) {
            let Some(i) = first(&alive[self.words[b]..self.words[b + 1]]) else { return true };
            least[b] = self.live[b][i].paid;
            rest += least[b];
        }
        if rest >= self.under {
            return true;
        }
        // the bread with the fewest that could still better the best
        let mut fewest = (usize::MAX, 0);
        for b in (0..n).filter(|&b| self.picked[b].is_none()) {
            let dear = self.live[b].partition_point(|l| rest - least[b] + l.paid < self.under);
            let count = count(&alive[self.words[b]..self.words[b + 1]], dear);
            if count < fewest.0 {
                fewest = (count, b);
            }
        }
        let b = fewest.1;
        let rest = rest - least[b];
        let mut next = alive.to_vec();
        let of: Vec<usize> = members(&alive[self.words[b]..self.words[b + 1]]).collect();
        for i in of {
            let Live { column, paid, .. } = self.live[b][i];
            if rest + paid >= self.under {
                break;
            }
            if depth == 0 {
                self.least = rest + paid;
            }
            if !bound::fits(self.problem, &self.load, column) {
                continue;
            }
            bound::put(&mut self.load, column, 1);
            self.picked[b] = Some(i);
            next.copy_from_slice(alive);
            self.strike(column, &mut next);
            self.keep_order(b, i, &mut next);
            let done = self.pick(depth + 1, base + paid, &next);
            self.picked[b] = None;
            bound::put(&mut self.load, column, -1);
            if !done {
                return false;
            }
        }
        true
    }

    /// Strikes out what no longer fits beside a column just picked.
    fn strike(&self, column: &Column, alive: &mut [Word]) {
        for p in &column.parts {
            for r in p.rows() {
                let left = self.problem.caps[r] - self.load[r];
                let Some((_, set)) = self.over[r].iter().find(|(a, _)| *a > left) else { continue };
                for (word, out) in alive.iter_mut().zip(set) {
                    *word &= !out;
                }
            }
        }
    }

    /// Batches of the same bread take their picks in the order of their list.
    fn keep_order(&self, b: usize, i: usize, alive: &mut [Word]) {
        let like = self.problem.breads[b].like;
        for other in 0..self.live.len() {
            if other == b || self.problem.breads[other].like != like {
                continue;
            }
            for (w, word) in alive[self.words[other]..self.words[other + 1]].iter_mut().enumerate()
            {
                let before = below(i, w);
                *word &= if other < b { before | bit(i, w) } else { !before };
            }
        }
    }
}

/// Bit `i` in word `w`.
fn bit(i: usize, w: usize) -> Word {
    if i / 64 == w { 1 << (i % 64) } else { 0 }
}

/// Bits below `i` in word `w`.
fn below(i: usize, w: usize) -> Word {
    match (i / 64).cmp(&w) {
        std::cmp::Ordering::Greater => Word::MAX,
        std::cmp::Ordering::Equal => (1 << (i % 64)) - 1,
        std::cmp::Ordering::Less => 0,
    }
}

fn first(words: &[Word]) -> Option<usize> {
    let w = words.iter().position(|w| *w != 0)?;
    Some(64 * w + words[w].trailing_zeros() as usize)
}

/// How many bits below `end` are set.
fn count(words: &[Word], end: usize) -> usize {
    words.iter().enumerate().map(|(w, word)| (word & below(end, w)).count_ones() as usize).sum()
}

fn members(words: &[Word]) -> impl Iterator<Item = usize> + '_ {
    words
        .iter()
        .enumerate()
        .flat_map(|(w, word)| (0..64).filter(move |i| word >> i & 1 == 1).map(move |i| 64 * w + i))
}
