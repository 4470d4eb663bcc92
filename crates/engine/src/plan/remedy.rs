//! When nothing fits: what stands in the way, which constraint to relax, and by how much.

use super::grow::{Effort, Found};
use super::{Aim, Hands, Moves, Plan, Quest, ROUGH_GRID, ROUGH_KITCHENS, Softened, finish};
use crate::hours::Blocked;
use crate::method::Window;
use crate::named::named;
use crate::run::{RunError, from_one};
use quantity::Minutes;
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

pub(super) fn seek(quest: &Quest<'_, '_>) -> Result<Nothing, RunError> {
    Ok(Nothing { conflict: conflict(quest)?, remedies: remedies(quest)? })
}

/// Leaves out one kind of constraint after another and keeps it out where there is still no plan.
fn conflict(quest: &Quest<'_, '_>) -> Result<Vec<Constraint>, RunError> {
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
    for c in kept.clone() {
        let without: Vec<Constraint> = kept.iter().copied().filter(|k| *k != c).collect();
        if !possible(quest, &without)? {
            kept = without;
        }
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
        ready: let_go(Constraint::Ready),
        pins: let_go(Constraint::Pins),
    };
    Ok(!coarse(quest, &hands, soft)?.is_empty())
}

/// The rough search alone: whether there is a way at all, and the cheapest.
fn coarse(
    quest: &Quest<'_, '_>,
    hands: &Hands,
    soft: Softened,
) -> Result<Vec<(usize, Found)>, RunError> {
    let mut out = Vec::new();
    for w in quest.open() {
        let people = quest.people(quest.ways[w].1, ROUGH_KITCHENS);
        let grid = quest.request.grid.0.max(ROUGH_GRID / 2.0);
        let effort = Effort { grid, shift: 0.0, kept: 1, near: None };
        let found = quest.task(w, hands, &people, soft, effort).search()?;
        out.extend(found.into_iter().map(|f| (w, f)));
    }
    Ok(out)
}

/// One remedy per kind of constraint, where one alone suffices; otherwise all together.
fn remedies(quest: &Quest<'_, '_>) -> Result<Vec<Remedy>, RunError> {
    let none = Softened::default();
    let hands = Hands::new(quest.ways[0].1, quest.horizon(), &[]);
    let mut tries = vec![
        Softened { ready: true, ..none },
        Softened { hours: true, ..none },
        Softened { windows: true, ..none },
    ];
    if !quest.request.pins.is_empty() {
        tries.push(Softened { pins: true, ..none });
    }
    let all = Softened { hours: true, windows: true, ready: true, pins: true };
    let mut out: Vec<Remedy> = Vec::new();
    for soft in tries.into_iter().chain([all]) {
        if soft == all && !out.is_empty() {
            break;
        }
        let found = coarse(quest, &hands, soft)?;
        let safest = Aim::Safest as usize;
        let best = found.iter().min_by(|a, b| a.1.costs[safest].total_cmp(&b.1.costs[safest]));
        if let Some((way, f)) = best {
            let plan = finish(quest, &hands, *way, f, vec![Aim::Safest], Moves::FREE)?;
            out.push(Remedy { breaches: f.breaches.clone(), plan });
        }
    }
    out.sort_by(|a, b| a.plan.cost.total_cmp(&b.plan.cost));
    Ok(out)
}
