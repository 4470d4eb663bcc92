//! Several breads, one kitchen: which timeline for each, so that hands, oven, fridge and starter
//! are enough for all.
//!
//! Every bread comes with candidates: complete timelines that work for it alone, each with its
//! cost. Exactly one is chosen for each bread, with the least sum of costs. What is shared:
//!
//! - **Hands** work on one bread at a time.
//! - **The oven** holds one bread at a time, and needs its reheat between two. A preheat from cold
//!   is not in the way of another bread: an oven in which something else bakes in that time is
//!   hot, and one that has heated on for longer since then is no colder.
//! - **The fridge** holds so many litres, and there are so many **bannetons**.
//! - **The starter** gives so many grams between two feeds that rebuild it.
//!
//! What one bread does with itself is not judged: two tubs of one dough are its own affair, unless
//! it alone needs more than there is.
//!
//! The choice is a best one among the candidates given, and the search proves it, or says how far
//! from it the answer may be (see `bound` and `search` for how).
//! Litres count in whole millilitres, grams in whole milligrams, costs in thousand-millionths.

mod bound;
mod rows;
mod search;

use rows::Problem;
use serde::Serialize;
use std::fmt;

/// Elapsed minutes, from and up to, not including.
pub type Stretch = (i32, i32);

/// One use of the oven by one bread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OvenUse {
    /// Minutes it must heat before loading when another bread came out of it.
    pub reheat: i32,
    /// Loaded at this elapsed minute; for a cold start, the minute it is switched on.
    pub load: i32,
    /// Free for others again; the vent and the cooling of a closed oven are inside.
    pub until: i32,
}

impl OvenUse {
    /// From when no other bread may be in the oven.
    pub fn from(self) -> i32 {
        self.load.saturating_sub(self.reheat.max(0))
    }
}

/// One complete timeline of one bread, and what it needs of what is shared.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Candidate {
    /// Badness; comparable between the breads of one request.
    pub cost: f64,
    /// Hands-on work.
    pub hands: Vec<Stretch>,
    /// Bakes, and what else the oven is used for.
    pub oven: Vec<OvenUse>,
    /// From, up to, litres of fridge taken up.
    pub fridge: Vec<(i32, i32, f64)>,
    /// From, up to, bannetons in use.
    pub bannetons: Vec<(i32, i32, u32)>,
    /// Elapsed minute, grams taken from the starter.
    pub starter: Vec<(i32, f64)>,
}

/// The starter all breads are built from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stock {
    /// Grams that may be taken until it is rebuilt; what is kept to go on is not among them.
    pub grams: f64,
    /// Elapsed minutes, ascending, from which it is whole again.
    pub rebuilt: Vec<i32>,
}

/// What there is to share.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shared {
    /// Litres of fridge; no limit when none.
    pub fridge_litres: Option<f64>,
    /// From, up to, litres: what else stands in the fridge.
    pub fridge_taken: Vec<(i32, i32, f64)>,
    /// Bannetons there are; no limit when none.
    pub bannetons: Option<u32>,
    /// The starter; no limit when none.
    pub starter: Option<Stock>,
}

/// What breads share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Resource {
    /// The baker's.
    Hands,
    /// One.
    Oven,
    /// Its room.
    Fridge,
    /// Their number.
    Bannetons,
    /// Its grams.
    Starter,
}

impl Resource {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Hands, Self::Oven, Self::Fridge, Self::Bannetons, Self::Starter];
}

impl fmt::Display for Resource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Hands => "hands",
            Self::Oven => "oven",
            Self::Fridge => "fridge",
            Self::Bannetons => "bannetons",
            Self::Starter => "starter",
        })
    }
}

/// One candidate for each bread.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Of each bread, the index of its candidate.
    pub picks: Vec<usize>,
    /// Sum of their costs.
    pub cost: f64,
    /// No choice costs less than this; `cost` when the search was finished.
    pub least: f64,
    /// Whether the search was finished: no choice is cheaper.
    pub proven: bool,
    /// Partial choices looked at.
    pub nodes: u64,
}

impl Choice {
    /// How much cheaper another choice might be, at most; 0 when proven.
    pub fn gap(&self) -> f64 {
        if self.proven { 0.0 } else { (self.cost - self.least).max(0.0) }
    }
}

/// Breads that cannot be had together, and what would have to give.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// The breads, ascending: no choice for these alone, and there is none smaller. A single one
    /// has no candidate that fits by itself.
    pub breads: Vec<usize>,
    /// If only these gave way, they could be had together; cheapest first.
    pub reliefs: Vec<Relief>,
}

/// What gives way in a clash, and what then.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// One resource if one is enough; no smaller set of them is.
    pub of: Vec<Resource>,
    /// Of each bread of the clash, in order, its candidate if these had no limit.
    pub picks: Vec<usize>,
    /// Sum of their costs.
    pub cost: f64,
    /// Where they then meet.
    pub overlaps: Vec<Overlap>,
}

/// Two or more breads that want the same thing at the same time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Overlap {
    /// What.
    pub resource: Resource,
    /// Who, ascending.
    pub breads: Vec<usize>,
    /// When, elapsed minutes; for the starter from its first to its last taking.
    pub at: Stretch,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Together {
    /// All of them.
    Chosen(Choice),
    /// It is proven that they cannot be had together.
    Nothing(Clash),
    /// The limit was reached before a choice was found or excluded.
    Unsettled,
}

/// How long to search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patience {
    /// Partial choices looked at, at most. A count, not a time: the same answer everywhere.
    pub nodes: u64,
}

impl Default for Patience {
    /// About a second or two where six breads are hard to fit; nearly always far less is enough.
    fn default() -> Self {
        Self { nodes: 4_000_000 }
    }
}

/// Chooses one candidate for each bread.
pub fn choose(breads: &[Vec<Candidate>], shared: &Shared, patience: Patience) -> Together {
    match sought(breads, shared, patience) {
        Ok(choice) => Together::Chosen(choice),
        Err(true) => Together::Nothing(clash(breads, shared, patience)),
        Err(false) => Together::Unsettled,
    }
}

/// As [`choose`], without asking why there is none.
pub fn cheapest(breads: &[Vec<Candidate>], shared: &Shared, patience: Patience) -> Option<Choice> {
    sought(breads, shared, patience).ok()
}

/// The choice; where there is none, whether that is proven.
fn sought(breads: &[Vec<Candidate>], shared: &Shared, patience: Patience) -> Result<Choice, bool> {
    let all: Vec<usize> = (0..breads.len()).collect();
    let found = solve(breads, &all, shared, &[], patience, false);
    let Some((picks, least)) = found.picks else { return Err(found.finished) };
    let cost = cost_of(breads, &all, &picks);
    let least = if found.finished { cost } else { least.min(cost) };
    Ok(Choice { picks, cost, least, proven: found.finished, nodes: found.nodes })
}

/// What one search came to.
struct Found {
    /// The best choice, and what no choice undercuts.
    picks: Option<(Vec<usize>, f64)>,
    finished: bool,
    nodes: u64,
}

/// Searches some of the breads, without limits on some resources.
fn solve(
    breads: &[Vec<Candidate>],
    some: &[usize],
    shared: &Shared,
    free: &[Resource],
    patience: Patience,
    any: bool,
) -> Found {
    let lists: Vec<&[Candidate]> =
        some.iter().filter_map(|&b| breads.get(b)).map(Vec::as_slice).collect();
    let problem = Problem::new(&lists, shared, free);
    let mut found = search::search(&problem, patience.nodes, any);
    // costs of the problem are whole numbers; back to the indices of the caller
    let picks = found.best.take().map(|best| {
        let picks = best.iter().zip(&problem.breads).map(|(&k, b)| b.columns[k].index).collect();
        (picks, found.least as f64 / rows::COST)
    });
    Found { picks, finished: found.finished, nodes: found.nodes }
}

fn cost_of(breads: &[Vec<Candidate>], some: &[usize], picks: &[usize]) -> f64 {
    some.iter().zip(picks).map(|(&b, &k)| breads[b][k].cost).sum()
}

/// Breads among which a clash is looked for.
const EXPLAINED: usize = 8;

/// The first smallest set of breads that cannot be had together.
fn clash(breads: &[Vec<Candidate>], shared: &Shared, patience: Patience) -> Clash {
    // sets of breads, or of resources, smaller ones first
    fn sets(n: usize) -> Vec<u32> {
        let mut sets: Vec<u32> = (1..1 << n).collect();
        sets.sort_by_key(|s| s.count_ones());
        sets
    }
    let members = |set: u32, n: usize| (0..n).filter(|i| set >> i & 1 == 1).collect::<Vec<_>>();
    // many small questions: less patience for each
    let each = Patience { nodes: (patience.nodes / 128).max(1000) };
    let n = breads.len().min(EXPLAINED);
    let together =
        |some: &[usize], free: &[Resource], any| solve(breads, some, shared, free, each, any);
    let cannot = |some: &Vec<usize>| {
        let found = together(some, &[], true);
        found.finished && found.picks.is_none()
    };
    let whole: Vec<usize> = (0..breads.len()).collect();
    let breads_in = sets(n)
        .into_iter()
        .map(|set| members(set, n))
        .find(cannot)
        .unwrap_or_else(|| whole.clone());
    let mut reliefs: Vec<Relief> = Vec::new();
    for set in sets(Resource::ALL.len()) {
        let of: Vec<Resource> =
            members(set, Resource::ALL.len()).into_iter().map(|i| Resource::ALL[i]).collect();
        if reliefs.iter().any(|r| r.of.iter().all(|x| of.contains(x))) {
            continue;
        }
        if let Some((picks, _)) = together(&breads_in, &of, false).picks {
            let cost = cost_of(breads, &breads_in, &picks);
            let overlaps = overlaps(breads, &breads_in, &picks, shared);
            reliefs.push(Relief { of, picks, cost, overlaps });
        }
    }
    reliefs.sort_by(|a, b| a.of.len().cmp(&b.of.len()).then(a.cost.total_cmp(&b.cost)));
    Clash { breads: breads_in, reliefs }
}

/// Where candidates meet: of each of `some` breads the candidate in `picks`.
pub fn overlaps(
    breads: &[Vec<Candidate>],
    some: &[usize],
    picks: &[usize],
    shared: &Shared,
) -> Vec<Overlap> {
    let chosen: Vec<(usize, &Candidate)> =
        some.iter().zip(picks).filter_map(|(&b, &k)| Some((b, breads.get(b)?.get(k)?))).collect();
    let mut out = Vec::new();
    for resource in Resource::ALL {
        rows::overlaps(&chosen, shared, resource, &mut out);
    }
    out
}

#[cfg(test)]
mod tests;
