//! `ferment`: the dough simulated up to the oven.

use crate::{Problem, chosen, document};
use engine::forecast::{Asked, Forecast, forecast, own_kitchen};
use engine::method::Path;
use engine::plan::windows;
use engine::readiness::{ColdMark, cold_mark};
use engine::run::{Schedule, Setting, Trace};
use quantity::{Minutes, Units};
use serde_json::{Value, json};

/// The answer.
#[derive(Debug, Clone)]
pub struct Ferment {
    /// When each step happens.
    pub schedule: Schedule,
    /// The doughs along it.
    pub trace: Trace,
    /// How early and late steps may start: step, elapsed minutes.
    pub slack: Vec<(usize, f64, f64)>,
    /// Over the kitchens this one may be.
    pub forecast: Forecast,
    /// Where bulk would end before a cold proof.
    pub mark: Option<ColdMark>,
}

/// Follows a recipe's cues and usual times from the first build at elapsed minute `start`; bands
/// over time only where they are asked for.
///
/// # Errors
/// [`Problem`] when there is no such way, or something cannot be mixed.
pub fn ferment(
    setting: &Setting<'_>,
    path: Path,
    start: f64,
    over_time: bool,
) -> Result<Ferment, Problem> {
    let path = chosen(setting.recipe, path)?;
    let schedule = setting.follow(path, start).map_err(Problem::plain)?;
    let trace = setting.run(&schedule, Minutes(5.0)).map_err(Problem::plain)?;
    let slack = windows(setting, &schedule).map_err(Problem::plain)?;
    let asked = Asked { over_time, loaf: false };
    let forecast = forecast(setting, &schedule, &own_kitchen(), asked).map_err(Problem::plain)?;
    let mark = cold_mark(setting, &schedule).map_err(Problem::plain)?;
    Ok(Ferment { schedule, trace, slack, forecast, mark })
}

impl Ferment {
    /// The document; `zone` is the name of the calendar's.
    pub fn json(&self, setting: &Setting<'_>, zone: Option<&str>, units: Units) -> Value {
        document(
            "ferment",
            json!({
                "title": setting.recipe.title,
                "kitchen": setting.kitchen.name,
                "parameters": setting.set.name,
                "now": setting.calendar.start.to_string(),
                "zone": zone,
                "path": self.schedule.path.words(),
                "trace": self.trace,
                "slack": slack_json(&self.slack),
                "cold_mark": self.mark,
                "forecast": self.forecast,
                "notes": notes(&self.trace, units),
            }),
        )
    }
}

/// How early and how late steps may start.
pub(crate) fn slack_json(slack: &[(usize, f64, f64)]) -> Value {
    slack
        .iter()
        .map(|(step, from, to)| json!({ "step": step + 1, "from": from, "to": to }))
        .collect()
}

/// What to know before trusting a trace.
pub(crate) fn notes(trace: &Trace, units: Units) -> Vec<String> {
    trace.notes.iter().map(|n| n.tell(units)).collect()
}
