//! `move`: one step of a plan at another time, and everything after it.

use super::{batch, calendar, moment, path, set, step};
use crate::ask::fields::Fields;
use crate::ferment::{notes, slack_json};
use crate::{Problem, chosen, document};
use engine::plan::{Change, Edge, Limit, NotMoved, moved};
use engine::run::{Schedule, Setting, Span, Trace};
use quantity::Minutes;
use serde_json::{Value, json};

/// Kitchens asked when nothing is said: as many as there is time for between two frames.
const KITCHENS: i64 = 12;
/// Furthest apart samples are when nothing is said, min.
const EVERY: f64 = 10.0;

pub(super) fn asked(q: &Fields<'_>) -> Result<Value, Problem> {
    let (batch, set) = (batch(q)?, set(q)?);
    let (calendar, _) = calendar(q)?;
    let path = chosen(&batch.recipe, path(q)?).map_err(|p| p.at("path"))?;
    let mut spans = Vec::new();
    // the steps of a plan have more fields, which say nothing here
    for s in q.objects("spans")? {
        let step = step(&s, &batch.recipe)?;
        let from = super::needed_moment(&s, "from", &calendar)?;
        spans.push(Span { step, from, to: super::needed_moment(&s, "to", &calendar)? });
    }
    if spans.is_empty() {
        return Err(q.missing("spans", "[{ \"step\": 1, \"from\": 0, \"to\": 300 }, …]"));
    }
    let ready = moment(q, "ready", &calendar)?.unwrap_or(f64::INFINITY);
    let begin = moment(q, "begin", &calendar)?;
    let end = moment(q, "end", &calendar)?;
    let (edge, at) = match (begin, end) {
        (Some(at), None) => (Edge::Begin, at),
        (None, Some(at)) => (Edge::End, at),
        _ => return Err(q.missing("begin", "1440, or \"end\": one of the two")),
    };
    let change = Change { step: step(q, &batch.recipe)?, edge, at };
    let kitchens = q.whole("kitchens", 1, 512)?.unwrap_or(KITCHENS);
    let every = q.number("every", 1.0, 15.0)?.unwrap_or(EVERY);
    q.finish()?;
    let setting = batch.setting(set, calendar)?;
    let schedule = Schedule { path, spans };
    let change = moved(&setting, &schedule, change, ready, kitchens as u32, Minutes(every));
    let moved = match change {
        Ok(moved) => moved,
        Err(NotMoved::Run(e)) => return Err(Problem::plain(e)),
        Err(NotMoved::Odd) => {
            return Err(Problem::wish(
                "these are not the spans of a plan of this recipe, or the step is none that can be moved",
                "send the recipe and the steps of one plan as they came; the preheat follows loading",
            )
            .at("spans"));
        }
        Err(NotMoved::Refused { limit, nearest }) => {
            return Ok(document(
                "move",
                json!({
                    "path": path.words(), "spans": null, "steps": null, "ready": null, "slack": null,
                    "trace": null, "forecast": null, "notes": null,
                    "refused": refused(&setting, &limit, nearest),
                }),
            ));
        }
    };
    Ok(document(
        "move",
        json!({
            "path": path.words(),
            "spans": moved.schedule.spans,
            "steps": steps(&setting, &moved.schedule, &moved.trace),
            "ready": moved.schedule.ready(),
            "slack": slack_json(&moved.slack),
            "trace": moved.trace,
            "forecast": moved.forecast,
            "notes": notes(&moved.trace, batch.units),
            "refused": null,
        }),
    ))
}

fn refused(setting: &Setting<'_>, limit: &Limit, nearest: f64) -> Value {
    let (name, step) = match limit {
        Limit::Past => ("past", None),
        Limit::Begun { step } => ("begun", Some(step)),
        Limit::Hours { step, .. } => ("hours", Some(step)),
        Limit::Hands { step, .. } => ("hands", Some(step)),
        Limit::Least { step, .. } => ("least", Some(step)),
        Limit::Most { step, .. } => ("most", Some(step)),
        Limit::Late { .. } => ("late", None),
    };
    json!({
        "limit": name, "step": step.map(|s| s + 1), "words": limit.words(setting),
        "nearest": nearest, "clock": setting.calendar.local(nearest as i64).to_string(),
    })
}

/// Each step with its wall clock and how far its result lies from the middle of its window, in
/// half-widths.
fn steps(setting: &Setting<'_>, schedule: &Schedule, trace: &Trace) -> Vec<Value> {
    use engine::method::Window;
    let mut spans = schedule.spans.clone();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    let one = |span: &Span| {
        let step = &setting.recipe.method.steps[span.step];
        let result = trace.result_of(span.step);
        let miss = step.good.zip(result).map(|(w, s)| match w {
            Window::Rise(..) => w.miss(s.rise.0),
            Window::Acid(..) => w.miss(s.ph.0),
            Window::Core(..) => w.miss(s.core.0),
        });
        json!({
            "step": span.step + 1, "do": step.verb.name(), "what": step.what,
            "from": span.from, "to": span.to,
            "clock": setting.calendar.local(span.from as i64).to_string(), "miss": miss,
        })
    };
    spans.iter().map(one).collect()
}
