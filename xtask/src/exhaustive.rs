//! The planner's search beside a look at every schedule on the same grid.

use checks::exhaustive::{Case, Kept, NEAR, cases, line, worse};
use engine::plan::{least_found, least_of_all};
use std::path::Path;
use std::time::Instant;

/// Asks every case both ways, prints how they compare, and keeps what all schedules gave when
/// asked to.
pub(crate) fn exhaustive(root: &Path, write: bool) -> Result<(), String> {
    let said = |e: engine::plan::PlanError| e.to_string();
    let mut kept = vec!["case,verdict,safest,least attention,best flavour".to_owned()];
    let (mut search, mut looking, mut hits, mut planned) = (0.0, 0.0, 0, 0);
    let cases = cases()?;
    for case in &cases {
        let setting = case.setting()?;
        let ways: Vec<_> =
            setting.recipe.method.paths().into_iter().map(|p| (p, &setting)).collect();
        let began = now();
        let found = least_found(&ways, &Case::request()).map_err(said)?;
        let sought = began.elapsed().as_secs_f64();
        let began = now();
        let all = least_of_all(&ways, &Case::request()).map_err(said)?;
        let looked = began.elapsed().as_secs_f64();
        let by = worse(found, all);
        println!(
            "{:<60} {:>7.0} ms {:>8.0} ms  {}",
            case.name,
            1e3 * sought,
            1e3 * looked,
            match all {
                None if by == 0.0 => "no schedule, both agree".to_owned(),
                None => "the search found what is not there".to_owned(),
                Some(_) if by.is_infinite() => "the search found none".to_owned(),
                Some(_) => format!("{:.3} % worse", 100.0 * by),
            }
        );
        search += sought;
        looking += looked;
        planned += usize::from(all.is_some());
        let hit = by <= NEAR;
        hits += usize::from(hit);
        kept.push(line(&Kept { name: case.name.clone(), hit, all }));
    }
    println!(
        "{} cases, {planned} with schedules: search {search:.2} s, all schedules {looking:.2} s; {hits} within {:.0} %",
        cases.len(),
        100.0 * NEAR
    );
    if write {
        let file = root.join("data/checks/exhaustive.csv");
        std::fs::write(&file, kept.join("\n") + "\n")
            .map_err(|e| format!("{}: {e}", file.display()))?;
    }
    Ok(())
}

#[expect(clippy::disallowed_methods, reason = "a report of times, not a test of them")]
fn now() -> Instant {
    Instant::now()
}
