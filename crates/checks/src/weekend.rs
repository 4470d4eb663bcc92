//! Made-up weekends with several breads in one kitchen, to hold the joint choice of
//! `engine::plan::together` against a constraint solver.
//!
//! No dough is simulated here. The timelines have the shape of real ones (a levain built ahead,
//! mixing, folds, shaping, a proof in the room or a night in the fridge, a bake of 60 to 95
//! minutes), and costs that rise away from a usual time. A weekend is a function of its number.
//! `data/checks/weekends.csv` keeps what the solver found for the first of them.

use crate::Values;
use engine::numerics::random::Stream;
use engine::plan::together::{Candidate, OvenUse, Patience, Shared, Stock, Together, choose};
use std::sync::OnceLock;

/// What the solver proved: number, breads, candidates of all of them, least cost.
const KEPT: &str = include_str!("../../../data/checks/weekends.csv");

/// Where numbers of weekends begin.
const SEED: u64 = 20_261_125;

/// A weekend to plan.
#[derive(Debug, Clone)]
pub struct Weekend {
    /// Its breads.
    pub breads: Vec<Vec<Candidate>>,
    /// What they share.
    pub shared: Shared,
}

/// Numbers drawn one after another.
struct Draws {
    stream: Stream,
    at: u64,
}

impl Draws {
    /// A whole number from `lo` to `hi`, both included.
    fn whole(&mut self, lo: i32, hi: i32) -> i32 {
        self.at += 1;
        lo + self.stream.below(self.at, (hi - lo + 1).max(1) as u64) as i32
    }

    fn one_of<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.whole(0, of.len() as i32 - 1) as usize]
    }
}

/// How a bread is made, minutes.
struct Kind {
    /// From the levain's build to mixing.
    levain: i32,
    folds: i32,
    /// From mixing to shaping.
    bulk: i32,
    /// In the room, or through a night in the fridge.
    cold: bool,
    bake: i32,
    litres: f64,
    grams: f64,
}

const DAY: i32 = 1440;
/// Costs are whole ten-thousandths, so that both sides can add them without rounding.
const STEPS_OF_COST: f64 = 10_000.0;

/// Breads, candidates of each, and how tight it is (0 roomy, 1, 2) of a weekend of this number.
pub fn size(number: u64) -> (usize, usize, u32) {
    let mut d = Draws { stream: Stream::new(SEED, number), at: 1000 };
    let breads = 2 + (number % 5) as usize;
    (breads, d.whole(20, 400) as usize, (number / 5 % 3) as u32)
}

/// The weekend of this number, of its own size.
pub fn weekend(number: u64) -> Weekend {
    let (breads, candidates, tight) = size(number);
    of_size(number, breads, candidates, tight)
}

/// A weekend of a size. Minute 0 is Friday 12:00.
pub fn of_size(number: u64, breads: usize, candidates: usize, tight: u32) -> Weekend {
    let mut d = Draws { stream: Stream::new(SEED, number), at: 0 };
    // all for one meal, or spread over the weekend
    let meal = d.one_of(&[30, 33, 48, 54]) * 60;
    let spread = [30, 20, 8][tight.min(2) as usize] * 4;
    let early = [18, 14, 11][tight.min(2) as usize] * 4;
    // away for some hours on Saturday
    let away = d.whole(20, 26) * 60;
    let away = (away, away + [0, 2, 4][tight.min(2) as usize] * 60);
    let mut lists: Vec<Vec<Candidate>> = Vec::new();
    for b in 0..breads {
        // now and then the same bread once more
        if b > 0 && d.whole(0, 5) == 0 {
            lists.push(lists[b - 1].clone());
            continue;
        }
        // some breads can hardly be had inside these hours: then another
        let mut list = Vec::new();
        for _ in 0..40 {
            let kind = Kind {
                levain: d.whole(16, 40) * 15,
                folds: d.whole(1, 4),
                bulk: d.whole(14, 22) * 15,
                cold: d.whole(0, 2) > 0,
                bake: d.whole(9, 16) * 5,
                litres: f64::from(d.whole(20, 55)) / 10.0,
                grams: f64::from(d.whole(10, 60)),
            };
            let ready = meal - d.whole(0, spread) * 15;
            let other = timelines(&mut d, &kind, ready, early, away, candidates);
            if other.len() > list.len() {
                list = other;
            }
            if 2 * list.len() > candidates {
                break;
            }
        }
        lists.push(list);
    }
    let litres: f64 = lists.iter().filter_map(|l| l.first()?.fridge.first()).map(|f| f.2).sum();
    let grams: f64 = lists.iter().filter_map(|l| l.first()?.starter.first()).map(|s| s.1).sum();
    // tenths of what all together would need at once
    let of = |sum: f64, tenths: i32| (sum * f64::from(tenths)).ceil() / 10.0;
    let litres_tenths = [(10, 15), (9, 14), (8, 12)][tight.min(2) as usize];
    let grams_tenths = [(11, 15), (10, 14), (9, 13)][tight.min(2) as usize];
    let shared = Shared {
        fridge_litres: Some(of(litres, d.whole(litres_tenths.0, litres_tenths.1)) + 2.0),
        fridge_taken: vec![(0, 5 * DAY, 1.0), (d.whole(20, 30) * 60, 5 * DAY, 1.0)],
        bannetons: None,
        starter: Some(Stock {
            grams: of(grams, d.whole(grams_tenths.0, grams_tenths.1)),
            rebuilt: vec![d.whole(16, 30) * 60],
        }),
    };
    Weekend { breads: lists, shared }
}

/// Timelines of one bread, in no order that helps.
fn timelines(
    d: &mut Draws,
    kind: &Kind,
    ready: i32,
    early: i32,
    away: (i32, i32),
    most: usize,
) -> Vec<Candidate> {
    let mut out: Vec<Candidate> = Vec::new();
    // a fixed number of tries: hours may leave few
    for _ in 0..most * 30 {
        if out.len() == most {
            break;
        }
        let sooner = d.whole(0, early);
        let (bulk, levain) = (d.whole(-3, 3), d.whole(-6, 6));
        let proof = if kind.cold { d.whole(32, 64) * 15 } else { d.whole(4, 10) * 15 };
        let usual = if kind.cold { 48 * 15 } else { 7 * 15 };
        let cooled = ready - sooner * 15;
        let load = cooled - 120 - kind.bake;
        let load = load - load.rem_euclid(15);
        let shaped = load - proof;
        let divided = shaped - 30;
        let mixed = divided - kind.bulk - bulk * 15;
        let built = mixed - kind.levain - levain * 15;
        let mut hands = vec![(built, built + 5), (mixed, mixed + 20)];
        hands.extend((1..=kind.folds).map(|k| (mixed + 20 + k * 30, mixed + 25 + k * 30)));
        hands.extend([(divided, divided + 15), (shaped, shaped + 15), (load - 45, load - 40)]);
        hands.extend([(load, load + 10), (load + kind.bake, load + kind.bake + 5)]);
        // Friday noon is minute 0: awake from half past six to half past ten
        let clock = |m: i32| (m + 720).rem_euclid(DAY);
        let free = |h: &(i32, i32)| {
            let awake = clock(h.0) >= 390 && clock(h.0) + (h.1 - h.0) <= 1350;
            h.0 >= 0 && awake && (h.1 <= away.0 || h.0 >= away.1)
        };
        if !hands.iter().all(free) {
            continue;
        }
        let off = f64::from(proof - usual) / if kind.cold { 240.0 } else { 45.0 };
        let (bulk, levain) = (f64::from(bulk) / 3.0, f64::from(levain) / 6.0);
        let hour = f64::from(sooner) / 4.0;
        let scatter = f64::from(d.whole(0, 400)) / 1000.0;
        let cost = off * off + bulk * bulk + 0.3 * levain * levain + 0.05 * hour * hour + scatter;
        out.push(Candidate {
            cost: (cost * STEPS_OF_COST).round() / STEPS_OF_COST,
            hands,
            oven: vec![OvenUse { reheat: 15, load, until: load + kind.bake + 10 }],
            fridge: if kind.cold { vec![(shaped + 15, load, kind.litres)] } else { Vec::new() },
            bannetons: Vec::new(), // as the fridge, in pieces
            starter: vec![(built, kind.grams)],
        });
    }
    out
}

/// A cost in whole ten-thousandths.
pub fn whole_cost(cost: f64) -> i64 {
    (cost * STEPS_OF_COST).round() as i64
}

/// A weekend that was solved before, and what we say today.
#[derive(Debug, Clone, Copy)]
struct Held {
    /// Whether the weekend is still the one that was solved.
    same: bool,
    /// Least cost in whole ten-thousandths; none when proven impossible.
    kept: Option<i64>,
    /// As `kept`; an error when nothing was proven.
    ours: Result<Option<i64>, ()>,
}

impl Held {
    fn agrees(self) -> bool {
        self.same && self.ours == Ok(self.kept)
    }
}

/// All that were kept, solved once. Lines that cannot be read are left out: the number of
/// weekends is a row of its own.
fn held() -> &'static [Held] {
    static HELD: OnceLock<Vec<Held>> = OnceLock::new();
    HELD.get_or_init(|| KEPT.lines().skip(1).filter_map(hold).collect())
}

fn hold(line: &str) -> Option<Held> {
    let mut fields = line.split(',');
    let number = fields.next()?.parse().ok()?;
    let breads: usize = fields.next()?.parse().ok()?;
    let candidates: usize = fields.next()?.parse().ok()?;
    let kept = match fields.next()? {
        "none" => None,
        cost => Some(cost.parse().ok()?),
    };
    let w = weekend(number);
    let all: usize = w.breads.iter().map(Vec::len).sum();
    let ours = match choose(&w.breads, &w.shared, Patience::default()) {
        Together::Chosen(c) if c.proven => Ok(Some(whole_cost(c.cost))),
        Together::Nothing(_) => Ok(None),
        _ => Err(()),
    };
    Some(Held { same: w.breads.len() == breads && all == candidates, kept, ours })
}

/// Ours, for the page.
pub(crate) fn values(v: &mut Values) {
    let held = held();
    let count = |is: &dyn Fn(&Held) -> bool| held.iter().filter(|h| is(h)).count() as f64;
    v.insert("together-weekends", held.len() as f64);
    v.insert("together-same", count(&|h| h.agrees()));
    v.insert("together-impossible", count(&|h| h.ours == Ok(None)));
    v.insert("together-open", count(&|h| h.ours.is_err()));
    let apart = held.iter().filter_map(|h| Some((h.kept?, h.ours.ok()??)));
    let most = apart.map(|(kept, ours)| (ours - kept).abs()).max().unwrap_or(i64::MAX);
    v.insert("together-cost-apart", most as f64 / STEPS_OF_COST);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_weekend_costs_what_the_solver_found() {
        let lines = || KEPT.lines().skip(1);
        assert_eq!(held().len(), lines().count());
        let apart: Vec<(&str, &Held)> =
            lines().zip(held()).filter(|(_, held)| !held.agrees()).collect();
        assert!(apart.is_empty(), "{apart:?}");
        // from two breads to six, and enough of both answers
        let none = held().iter().filter(|h| h.kept.is_none()).count();
        assert!(none > 10 && held().len() - none > 40, "{none} of {}", held().len());
    }
}
