//! Every schedule on the grid, for checking the search; slow.

use super::{AIMS, Effort, Found, Hands, PlanError, Quest, Request, Softened};
use crate::method::Path;
use crate::run::{RunError, Setting};

/// The least cost for each aim.
pub type Least = [f64; AIMS];

/// The least costs of any schedule on the grid, found by looking at all of them; none when
/// nothing fits.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn least_of_all(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
) -> Result<Option<Least>, PlanError> {
    least(ways, request, |quest, hands| {
        let mut all = Vec::new();
        for w in quest.open() {
            let people = quest.people(quest.ways[w].1, request.kitchens as usize);
            let effort = Effort { grid: request.grid.0, shift: 0.0, kept: usize::MAX, near: None };
            let found = quest.task(w, hands, &people, Softened::default(), effort).search()?;
            all.extend(found.into_iter().map(|f| (w, f)));
        }
        Ok(all)
    })
}

/// The least costs the search finds; none when it finds nothing.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn least_found(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
) -> Result<Option<Least>, PlanError> {
    #[expect(
        clippy::redundant_closure_for_method_calls,
        reason = "the method alone is less general"
    )]
    least(ways, request, |quest, hands| quest.found(hands))
}

fn least(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
    seek: impl FnOnce(&Quest<'_, '_>, &Hands) -> Result<Vec<(usize, Found)>, RunError>,
) -> Result<Option<Least>, PlanError> {
    let quest = Quest::new(ways, request, None)?;
    let Some((_, any)) = ways.first() else { return Ok(None) };
    let found = seek(&quest, &Hands::new(any, quest.horizon(), &[]))?;
    let costs = found.iter().map(|f| f.1.costs);
    Ok(costs.reduce(|a, b| std::array::from_fn(|k| a[k].min(b[k]))))
}
