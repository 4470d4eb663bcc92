//! Readiness in the trade's terms: when bulk may end, when a dough is past its best.

use crate::method::{Path, Verb};
use crate::run::{Lump, MAX_STEP_MIN, RunError, Schedule, Setting};
use quantity::{Celsius, Percent};
use serde::Serialize;

/// Rise at which bakers end bulk before a cold retard, by dough temperature.
///
/// Common practice, no source: 75–100 % at 20–21 °C, 50–75 % at 24 °C, 40–50 % at 26–27 °C,
/// 30–40 % at 28–29 °C; straight lines between, flat outside.
///
/// ```
/// use engine::readiness::bulk_habit;
/// use quantity::{Celsius, Percent};
/// assert_eq!(bulk_habit(Celsius(24.0)), (Percent(50.0), Percent(75.0)));
/// ```
pub fn bulk_habit(dough: Celsius) -> (Percent, Percent) {
    const ROWS: [(f64, f64, f64); 4] =
        [(20.5, 75.0, 100.0), (24.0, 50.0, 75.0), (26.5, 40.0, 50.0), (28.5, 30.0, 40.0)];
    let t = dough.0.clamp(ROWS[0].0, ROWS[3].0);
    for pair in ROWS.windows(2) {
        let ((t0, lo0, hi0), (t1, lo1, hi1)) = (pair[0], pair[1]);
        if t <= t1 {
            let x = (t - t0) / (t1 - t0);
            return (Percent(lo0 + x * (lo1 - lo0)), Percent(hi0 + x * (hi1 - hi0)));
        }
    }
    (Percent(30.0), Percent(40.0))
}

/// CO2 made in bulk and still made while the fridge cools the dough, mmol/kg, at which a
/// retarded dough is well proofed. Ours: the total that reproduces the habit of [`bulk_habit`]
/// (same direction, smaller slope).
pub const COLD_MARK: f64 = 52.0;

/// Where bulk would end by the gas it leads to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ColdMark {
    /// Elapsed minute at which to divide.
    pub minute: f64,
    /// Rise then.
    pub rise: Percent,
    /// Mean dough temperature then.
    pub dough: Celsius,
}

/// When bulk should end so that gas made by then and gas still made in the cold reach
/// [`COLD_MARK`]; none when the path has no cold proof or the mark lies outside the bulk step.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn cold_mark(setting: &Setting<'_>, schedule: &Schedule) -> Result<Option<ColdMark>, RunError> {
    let method = &setting.recipe.method;
    let Path { cold_proof, .. } = schedule.path;
    let retard = method
        .steps
        .iter()
        .rfind(|s| s.verb == Verb::Retard && schedule.path.takes(s) && s.what.is_none());
    let Some((bulk, shape, retard)) = (|| {
        let find =
            |v| method.main_line(schedule.path).into_iter().find(|&i| method.steps[i].verb == v);
        Some((schedule.of(find(Verb::Bulk)?)?, schedule.of(find(Verb::Shape)?)?, retard?))
    })() else {
        return Ok(None);
    };
    if !cold_proof {
        return Ok(None);
    }
    let Some(mut lump) = setting.dough_at(schedule, bulk.from)? else { return Ok(None) };
    let handling = shape.to - bulk.to;
    let made_cold = |l: &Lump, at: f64| -> f64 {
        let mut l = l.clone();
        l.rest(setting, at, at + handling, MAX_STEP_MIN, |_, _| {});
        l.dough.degas(Verb::Shape.gas_lost(), l.body.mean());
        if let Some(s) = method.steps.iter().find(|s| s.verb == Verb::Shape) {
            l.begin(setting, s, at + handling);
        }
        l.begin(setting, retard, at + handling);
        l.rest(setting, at + handling, at + handling + 720.0, MAX_STEP_MIN, |_, _| {});
        l.dough.state.co2_made
    };
    let mut t = bulk.from;
    let last = bulk.from + method.steps[bulk.step].end.most().0;
    while t < last {
        if made_cold(&lump, t) >= COLD_MARK {
            return Ok(Some(ColdMark { minute: t, rise: lump.rise(), dough: lump.body.mean() }));
        }
        lump.rest(setting, t, t + MAX_STEP_MIN, MAX_STEP_MIN, |_, _| {});
        t += MAX_STEP_MIN;
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn warmer_dough_is_divided_sooner() {
        let mut last = 200.0;
        for t in 18..32 {
            let (lo, hi) = bulk_habit(Celsius(f64::from(t)));
            assert!(lo < hi && hi.0 <= last, "{t}");
            last = hi.0;
        }
        assert_eq!(bulk_habit(Celsius(29.0)), (Percent(30.0), Percent(40.0)));
        assert_eq!(bulk_habit(Celsius(5.0)), (Percent(75.0), Percent(100.0)));
    }
}
