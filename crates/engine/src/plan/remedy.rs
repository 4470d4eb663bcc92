//! When nothing fits: what stands in the way, which constraint to relax, and by how much.

use super::grow::{Effort, Found};
use super::{
    Aim, Grown, Hands, LATER_MAX, Moves, Plan, Quest, ROUGH_BEST, ROUGH_GRID, ROUGH_KITCHENS,
    Softened, finish,
};
use crate::hours::Blocked;
use crate::method::Window;
use crate::named::named;
use crate::progress::{Part, Pieces};
use crate::run::{RunError, from_one};
use quantity::Minutes;
use rayon::prelude::*;
use serde::Serialize;

/// A constraint a schedule does not keep.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "breach", rename_all = "kebab-case")]
pub enum Breach {
    /// The bread is ready late.
    Late {
        /// By so much.
        by: Minutes,
        /// Then, elapsed minute.
        ready: f64,
    },
    /// A step needs hands when they are not free.
    Hours {
        /// Step index; counted from 1 where it is written out.
        #[serde(serialize_with = "from_one")]
        step: usize,
        /// Elapsed minute.
        at: f64,
        /// Why they are not free.
        why: Blocked,
    },
    /// A result outside its window.
    Window {
        /// Step index; counted from 1 where it is written out.
        #[serde(serialize_with = "from_one")]
        step: usize,
        /// Elapsed minute.
        at: f64,
        /// The window; none for a levain away from its peak.
        #[serde(skip)]
        window: Option<Window>,
        /// What is reached instead, in the window's unit.
        reached: f64,
    },
}

named! {
    /// A kind of constraint.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum Constraint {
        /// Bread by the time asked.
        Ready = "the time asked",
        /// Sleep.
        Asleep = "your sleep",
        /// Away from home.
        Away = "your absence",
        /// Busy at home.
        Busy = "your busy hours",
        /// Ruled out.
        Never = "the times you ruled out",
        /// Windows of the dough.
        Windows = "the dough's windows",
        /// Pinned moments.
        Pins = "the moments you fixed",
    }
}

impl Constraint {
    const EACH: [Self; 7] =
        [Self::Pins, Self::Never, Self::Busy, Self::Away, Self::Asleep, Self::Windows, Self::Ready];
}

/// A plan that would work if something gave.
#[derive(Debug, Clone)]
pub struct Remedy {
    /// What has to give; at least one.
    pub breaches: Vec<Breach>,
    /// The plan then.
    pub plan: Plan,
}

/// Nothing fits.
#[derive(Debug, Clone, Default)]
pub struct Nothing {
    /// Constraints that cannot all be kept; without any one of them there would be a plan, as far
    /// as the rest of the list is concerned. Empty when even without all there is none.
    pub conflict: Vec<Constraint>,
    /// What could give, cheapest first.
    pub remedies: Vec<Remedy>,
}

/// How late a bread may be, minutes: first little, which takes less time to search.
const LATER: [u32; 2] = [6 * 60, LATER_MAX];

pub(super) fn seek(quest: &Quest<'_, '_>, part: Part<'_>) -> Result<Nothing, RunError> {
    let conflict = conflict(quest, &part.within(0.0, 0.5).pieces(Constraint::EACH.len() + 1))?;
    Ok(Nothing { conflict, remedies: remedies(quest, part.within(0.5, 1.0))? })
}

/// Leaves out one kind of constraint after another and keeps it out where there is still no plan.
fn conflict(quest: &Quest<'_, '_>, pieces: &Pieces<'_>) -> Result<Vec<Constraint>, RunError> {
    let hours = &quest.ways[0].1.kitchen.hours;
    let present = |c: &Constraint| match c {
        Constraint::Pins => !quest.request.pins.is_empty(),
        Constraint::Never => !hours.never.is_empty(),
        Constraint::Busy => !hours.busy.is_empty(),
        Constraint::Away => !hours.home.is_empty(),
        Constraint::Asleep => !hours.awake.is_empty(),
        Constraint::Windows | Constraint::Ready => true,
    };
    let mut kept: Vec<Constraint> = Constraint::EACH.into_iter().filter(present).collect();
    if !possible(quest, &[])? {
        return Ok(Vec::new());
    }
    pieces.one();
    for c in kept.clone() {
        let without: Vec<Constraint> = kept.iter().copied().filter(|k| *k != c).collect();
        if !possible(quest, &without)? {
            kept = without;
        }
        pieces.one();
    }
    Ok(kept)
}

/// Whether there is a plan that keeps these.
fn possible(quest: &Quest<'_, '_>, keep: &[Constraint]) -> Result<bool, RunError> {
    let let_go = |c: Constraint| !keep.contains(&c);
    let free: Vec<Blocked> = [
        (Constraint::Asleep, Blocked::Asleep),
        (Constraint::Away, Blocked::Away),
        (Constraint::Busy, Blocked::Busy),
        (Constraint::Never, Blocked::Never),
    ]
    .into_iter()
    .filter(|(c, _)| let_go(*c))
    .map(|(_, b)| b)
    .collect();
    let hands = Hands::new(quest.ways[0].1, quest.horizon(), &free);
    let soft = Softened {
        hours: false,
        windows: let_go(Constraint::Windows),
        pins: let_go(Constraint::Pins),
        later: 0,
    };
    // without windows no dough is in the way; else the one of the kitchen as it is
    let grown = if soft.windows { Grown::Nowhere } else { Grown::Here };
    let later: &[u32] = if let_go(Constraint::Ready) { &LATER } else { &[0] };
    for &later in later {
        for grid in grids(quest) {
            let found = coarse(quest, &hands, Softened { later, ..soft }, grown, grid)?;
            if !found.is_empty() {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

/// Grids on which a way is sought, the quicker first.
fn grids(quest: &Quest<'_, '_>) -> [f64; 2] {
    [ROUGH_GRID, ROUGH_GRID / 2.0].map(|grid| quest.request.grid.0.max(grid))
}

/// The rough search alone.
fn coarse(
    quest: &Quest<'_, '_>,
    hands: &Hands,
    soft: Softened,
    grown: Grown,
    grid: f64,
) -> Result<Vec<(usize, Found)>, RunError> {
    quest.every_way(hands, soft, grown, &Effort { grid, shift: 0.0, kept: 1, near: None })
}

/// The safest way out when this may be breached: on a coarse grid, then finely near the best.
fn cheapest(
    quest: &Quest<'_, '_>,
    hands: &Hands,
    soft: Softened,
) -> Result<Option<(usize, Found)>, RunError> {
    let safest = Aim::Safest as usize;
    let few = Grown::In(ROUGH_KITCHENS);
    // coarser misses ways out that cost much less
    let [_, grid] = grids(quest);
    let mut found = coarse(quest, hands, soft, few, grid)?;
    found.sort_by(|a, b| a.1.costs[safest].total_cmp(&b.1.costs[safest]));
    let known = found.iter().take(ROUGH_BEST).map(|f| f.1.schedule.clone()).collect();
    let effort =
        Effort { grid: quest.request.grid.0, shift: 0.0, kept: 1, near: Some((ROUGH_GRID, known)) };
    let near =
        if found.is_empty() { Vec::new() } else { quest.every_way(hands, soft, few, &effort)? };
    found.extend(near);
    Ok(found.into_iter().min_by(|a, b| a.1.costs[safest].total_cmp(&b.1.costs[safest])))
}

/// The same when the bread may be late: much later only where that could cost less.
fn cheapest_late(
    quest: &Quest<'_, '_>,
    hands: &Hands,
    soft: Softened,
) -> Result<Option<(usize, Found)>, RunError> {
    let weights = &quest.request.weights;
    for later in LATER {
        let found = cheapest(quest, hands, Softened { later, ..soft })?;
        let least = weights.breaches + weights.breach_size * f64::from(later);
        let settled = |f: &(usize, Found)| f.1.costs[Aim::Safest as usize] <= least;
        if later == LATER_MAX || found.as_ref().is_some_and(settled) {
            return Ok(found);
        }
    }
    Ok(None)
}

/// One remedy per kind of constraint, where one alone suffices; otherwise all together.
fn remedies(quest: &Quest<'_, '_>, part: Part<'_>) -> Result<Vec<Remedy>, RunError> {
    let none = Softened::default();
    let hands = Hands::new(quest.ways[0].1, quest.horizon(), &[]);
    let mut tries = vec![
        (none, true),
        (Softened { hours: true, ..none }, false),
        (Softened { windows: true, ..none }, false),
    ];
    if !quest.request.pins.is_empty() {
        tries.push((Softened { pins: true, ..none }, false));
    }
    let pieces = part.pieces(tries.len());
    let remedy = |(soft, late): (Softened, bool)| {
        let best =
            if late { cheapest_late(quest, &hands, soft)? } else { cheapest(quest, &hands, soft)? };
        let remedy = best.map(|(way, f)| {
            let plan = finish(quest, &hands, way, &f, vec![Aim::Safest], Moves::FREE)?;
            Ok::<_, RunError>(Remedy { breaches: f.breaches, plan })
        });
        pieces.one();
        remedy.transpose()
    };
    let found: Vec<Option<Remedy>> =
        tries.into_par_iter().map(remedy).collect::<Result<_, RunError>>()?;
    let mut out: Vec<Remedy> = found.into_iter().flatten().collect();
    if out.is_empty() {
        let all = Softened { hours: true, windows: true, pins: true, later: 0 };
        out.extend(remedy((all, true))?);
    }
    out.sort_by(|a, b| a.plan.cost.total_cmp(&b.plan.cost));
    Ok(out)
}
