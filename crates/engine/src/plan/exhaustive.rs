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
    let quest = Quest::new(ways, request, None)?;
    let Some((_, any)) = ways.first() else { return Ok(None) };
    let hands = Hands::new(any, quest.horizon(), &[]);
    let mut all = Vec::new();
    for w in quest.open() {
        let people = quest.people(quest.ways[w].1, request.kitchens as usize);
        let effort = Effort { grid: request.grid.0, kept: usize::MAX, near: None };
        let soft = Softened::default();
        let found: Result<Vec<Found>, RunError> =
            quest.task(w, &hands, &people, soft, effort).search();
        all.extend(found?);
    }
    Ok(least(all.iter()))
}

/// The least costs the search finds; none when it finds nothing.
///
/// # Errors
/// [`PlanError`] when there is nothing to seek.
pub fn least_found(
    ways: &[(Path, &Setting<'_>)],
    request: &Request,
) -> Result<Option<Least>, PlanError> {
    let quest = Quest::new(ways, request, None)?;
    let Some((_, any)) = ways.first() else { return Ok(None) };
    let hands = Hands::new(any, quest.horizon(), &[]);
    let rough = quest.rough(&hands, Softened::default())?;
    let fine = quest.fine(&hands, &rough)?;
    let found = if fine.is_empty() { rough } else { fine };
    Ok(least(found.iter().map(|f| &f.1)))
}

fn least<'f>(found: impl Iterator<Item = &'f Found>) -> Option<Least> {
    found.map(|f| f.costs).reduce(|a, b| std::array::from_fn(|k| a[k].min(b[k])))
}
