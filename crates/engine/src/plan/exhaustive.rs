//! Every schedule on the grid, for checking the search; slow.

use super::{AIMS, Effort, Found, Grown, Hands, PlanError, Quest, Request, Softened};
use crate::method::Path;
use crate::progress::Part;
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
        let effort = Effort { grid: request.grid.0, shift: 0.0, kept: usize::MAX, near: None };
        let kitchens = Grown::In(request.kitchens as usize);
        quest.every_way(hands, Softened::default(), kitchens, &effort)
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
    least(ways, request, |quest, hands| quest.found(hands, Part::UNTOLD))
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
