//! When nothing fits: which constraint to relax, and by how much.

use super::{Hands, Plan, Request, Softened, Weights, finish, grow};
use crate::hours::Blocked;
use crate::method::{Path, Window};
use crate::run::{RunError, Setting, from_one};
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

/// A plan that would work if something gave.
#[derive(Debug, Clone)]
pub struct Remedy {
    /// What has to give; at least one.
    pub breaches: Vec<Breach>,
    /// The plan then.
    pub plan: Plan,
}

/// One remedy per kind of constraint, where one alone suffices; otherwise all together.
pub(super) fn seek(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
    hands: &Hands,
    weights: &Weights,
) -> Result<Vec<Remedy>, RunError> {
    let one = |hours, windows, ready| Softened { hours, windows, ready };
    let mut out: Vec<Remedy> = Vec::new();
    let tries = [one(false, false, true), one(true, false, false), one(false, true, false)];
    for soft in tries.into_iter().chain([one(true, true, true)]) {
        if soft == one(true, true, true) && !out.is_empty() {
            break;
        }
        let mut best: Option<(grow::Node, Path, &Setting<'_>)> = None;
        for &(path, setting) in ways {
            if let Some(n) = grow::search(setting, request, path, hands, weights, soft)?
                && best.as_ref().is_none_or(|(b, ..)| n.cost < b.cost)
            {
                best = Some((n, path, setting));
            }
        }
        if let Some((node, path, setting)) = best {
            let breaches = node.breaches();
            let schedule = node.schedule(path);
            let plan = finish(setting, hands, schedule, node.cost, f64::INFINITY)?;
            out.push(Remedy { breaches, plan });
        }
    }
    out.sort_by(|a, b| a.plan.cost.total_cmp(&b.plan.cost));
    Ok(out)
}
