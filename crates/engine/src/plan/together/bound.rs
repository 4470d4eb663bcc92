//! How cheap a choice can be at best: prices on what is scarce.
//!
//! Put a price on every row. A choice within the rows costs no more with the prices paid and the
//! worth of all there is given back; so the cheapest candidate of each bread, at these prices,
//! tells what no choice undercuts (Lagrangian relaxation). Prices rise where the cheapest need
//! too much and fall where they need too little (subgradient steps after Held, Wolfe and Crowder
//! 1974, Mathematical Programming 6:62, *from memory*). Prices may be anything: whatever they are,
//! the bound holds. It is computed in whole numbers.

use super::rows::{Column, Problem};

/// Steps of price at most.
const STEPS: usize = 400;
/// Steps without a better bound after which steps are halved.
const PATIENCE: usize = 12;

/// Prices, and what they tell.
pub(super) struct Bound {
    /// No choice costs less.
    pub(super) least: i64,
    /// Of each bread and column, its cost with what it pays.
    pub(super) paid: Vec<Vec<i64>>,
    /// What is given back: `least` is the sum of the least paid, less this.
    pub(super) back: i64,
}

/// Greatest price of one row times its greatest need.
const PRICE_MAX: f64 = 1e12;

impl Bound {
    /// The bound at these prices of one unit of each row.
    pub(super) fn at(problem: &Problem, prices: &[i64]) -> Self {
        let mut sums = vec![0_i64];
        for p in prices {
            sums.push(sums.last().copied().unwrap_or(0) + p);
        }
        let pays = |c: &Column| {
            let each =
                c.parts.iter().map(|p| p.amount * (sums[p.to as usize] - sums[p.from as usize]));
            c.cost + each.sum::<i64>()
        };
        let paid: Vec<Vec<i64>> =
            problem.breads.iter().map(|b| b.columns.iter().map(pays).collect()).collect();
        let back: i64 = prices.iter().zip(&problem.caps).map(|(p, cap)| p * cap).sum();
        let least = paid.iter().map(|p| p.iter().min().copied().unwrap_or(0)).sum::<i64>() - back;
        Self { least, paid, back }
    }
}

/// One way to choose, whether found on the way or not.
pub(super) type Picks = Vec<usize>;

/// What the steps of price came to.
pub(super) struct Ascent {
    /// The best prices of one unit of each row.
    pub(super) prices: Vec<i64>,
    /// The cheapest choice met on the way.
    pub(super) met: Option<(i64, Picks)>,
}

/// The cost of a choice.
pub(super) fn cost_of(problem: &Problem, picks: &[usize]) -> i64 {
    picks.iter().zip(&problem.breads).map(|(&k, b)| b.columns[k].cost).sum()
}

/// Raises the bound; where `costs` is false every candidate is free, and a bound above 0 says
/// that there is no choice at all.
pub(super) fn ascend(problem: &Problem, costs: bool, any: bool) -> Ascent {
    let rows = problem.caps.len();
    let scale: Vec<f64> = problem.scale.iter().map(|s| *s as f64).collect();
    // price of the greatest need at each row
    let mut price = vec![0.0_f64; rows];
    let mut best_price = price.clone();
    let mut best = f64::NEG_INFINITY;
    let mut direction = vec![0.0_f64; rows];
    let mut sums = vec![0.0_f64; rows + 1];
    let mut paid: Vec<Vec<f64>> =
        problem.breads.iter().map(|b| vec![0.0; b.columns.len()]).collect();
    let mut met: Option<(i64, Picks)> = None;
    let spread: f64 = problem
        .breads
        .iter()
        .map(|b| {
            let costs = || b.columns.iter().map(|c| c.cost);
            (costs().max().unwrap_or(0) - costs().min().unwrap_or(0)) as f64
        })
        .sum();
    let (mut step, mut waited) = (1.0_f64, 0);
    for turn in 0..STEPS {
        for r in 0..rows {
            sums[r + 1] = sums[r] + price[r] / scale[r];
        }
        let mut bound = 0.0;
        let mut cheapest = Vec::with_capacity(problem.breads.len());
        for (b, paid) in problem.breads.iter().zip(&mut paid) {
            let mut least = (f64::INFINITY, 0);
            for (k, (c, paid)) in b.columns.iter().zip(paid).enumerate() {
                let mut pays = if costs { c.cost as f64 } else { 0.0 };
                for p in &c.parts {
                    pays += p.amount as f64 * (sums[p.to as usize] - sums[p.from as usize]);
                }
                *paid = pays;
                if pays < least.0 {
                    least = (pays, k);
                }
            }
            bound += least.0;
            cheapest.push(least.1);
        }
        let mut over: Vec<f64> = problem.caps.iter().map(|c| -(*c as f64)).collect();
        for (&k, b) in cheapest.iter().zip(&problem.breads) {
            for p in &b.columns[k].parts {
                for o in &mut over[p.rows()] {
                    *o += p.amount as f64;
                }
            }
        }
        for r in 0..rows {
            bound += price[r] / scale[r] * -(problem.caps[r] as f64);
        }
        if bound > best {
            if bound > best + 1e-4 * (best.abs() + 1.0) {
                waited = 0;
            }
            best = bound;
            best_price.copy_from_slice(&price);
        }
        if costs && (turn % 8 == 0 || over.iter().all(|o| *o <= 0.0)) {
            for way in 0..problem.breads.len().min(3) {
                if let Some(picks) = assemble(problem, &paid, turn / 8 + way) {
                    let cost = cost_of(problem, &picks);
                    if met.as_ref().is_none_or(|m| cost < m.0) {
                        met = Some((cost, picks));
                    }
                }
            }
        }
        let enough = match &met {
            Some(m) => any || m.0 as f64 - best < 1.0,
            None => !costs && best > 1.0,
        };
        if enough {
            break;
        }
        waited += 1;
        if waited > PATIENCE {
            waited = 0;
            step *= 0.6;
            price.copy_from_slice(&best_price);
            direction.fill(0.0);
            if step < 2e-3 {
                break;
            }
            continue;
        }
        let goal = if costs {
            met.as_ref().map_or(bound + 0.1 * spread + 1.0, |m| m.0 as f64)
        } else {
            bound.max(0.0) + super::rows::COST
        };
        let mut norm = 0.0;
        for r in 0..rows {
            let g = over[r] / scale[r];
            let d = g + 0.5 * direction[r];
            // what is cheap already and enough stays at nothing
            direction[r] = if price[r] <= 0.0 && d < 0.0 { 0.0 } else { d };
            norm += direction[r] * direction[r];
        }
        if norm <= 0.0 {
            break;
        }
        let length = step * (goal - bound).max(1.0) / norm;
        for r in 0..rows {
            price[r] = (price[r] + length * direction[r]).clamp(0.0, PRICE_MAX);
        }
    }
    let prices = best_price.iter().zip(&scale).map(|(p, s)| (p / s).round() as i64).collect();
    Ascent { prices, met }
}

/// A choice put together bread by bread, each the cheapest that still fits, then bettered one
/// bread at a time; breads in an order that changes with `turn`.
fn assemble(problem: &Problem, paid: &[Vec<f64>], turn: usize) -> Option<Picks> {
    let n = problem.breads.len();
    let mut load = vec![0_i64; problem.caps.len()];
    let mut picks = vec![usize::MAX; n];
    for i in 0..n {
        // walk the breads from another start, forwards or backwards
        let at = (turn + if (turn / n).is_multiple_of(2) { i } else { n - i }) % n;
        let columns = &problem.breads[at].columns;
        let mut least = (f64::INFINITY, None);
        for (k, c) in columns.iter().enumerate() {
            if paid[at][k] < least.0 && fits(problem, &load, c) {
                least = (paid[at][k], Some(k));
            }
        }
        picks[at] = least.1?;
        put(&mut load, &columns[picks[at]], 1);
    }
    let mut better = true;
    while better {
        better = false;
        for (pick, b) in picks.iter_mut().zip(&problem.breads) {
            put(&mut load, &b.columns[*pick], -1);
            for (k, c) in b.columns.iter().enumerate() {
                if c.cost < b.columns[*pick].cost && fits(problem, &load, c) {
                    *pick = k;
                    better = true;
                }
            }
            put(&mut load, &b.columns[*pick], 1);
        }
    }
    Some(picks)
}

/// Whether a column fits beside what is there.
pub(super) fn fits(problem: &Problem, load: &[i64], column: &Column) -> bool {
    column.parts.iter().all(|p| p.rows().all(|r| load[r] + p.amount <= problem.caps[r]))
}

/// Adds a column to what is there, or takes it away.
pub(super) fn put(load: &mut [i64], column: &Column, sign: i64) {
    for p in &column.parts {
        for l in &mut load[p.rows()] {
            *l += sign * p.amount;
        }
    }
}
