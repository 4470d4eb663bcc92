//! Why a plan is the one it is: one paragraph in words.

use super::weigh::SOUREST;
use super::{Aim, Joint, Plan};
use crate::method::{Path, Place};
use crate::run::Setting;
use quantity::Minutes;

/// Why a plan was chosen, what it costs against the others, and where it is tight.
pub fn why(plan: &Plan, others: &[Plan], setting: &Setting<'_>) -> String {
    let mut words: Vec<String> = plan.aims.iter().map(|a| best_at(*a, plan, others)).collect();
    let cold = in_fridge(plan, setting);
    if cold.0 > 0.0 {
        words.push(format!("The dough spends {} in the fridge.", cold.show()));
    }
    if let Some(s) = late(plan) {
        words.push(s);
    }
    words.extend(tight(plan, setting));
    words.join(" ")
}

/// Why several breads are planned as they are: what decides, and which of them gives way.
pub fn why_joint(joint: &Joint, others: &[Joint], titles: &[&str]) -> String {
    let Some(aim) = joint.aims.first() else { return String::new() };
    let calls = joint.burden().calls;
    let than = |what: &dyn Fn(&Joint) -> f64| {
        others.iter().filter(|o| !o.aims.contains(aim)).map(what).reduce(f64::min)
    };
    let hit = |j: &Joint| j.plans.iter().map(|p| p.forecast.all_windows.0).fold(100.0, f64::min);
    let mut words = vec![match aim {
        Aim::Safest => format!(
            "Safest: every window is hit in {:.0} % of kitchens like this one, or more, for each bread.",
            hit(joint)
        ),
        Aim::LeastAttention => format!(
            "Least attention: {calls:.0} calls to the bench{}.",
            than(&|j| j.burden().calls)
                .filter(|x| *x > calls + 0.5)
                .map_or(String::new(), |x| format!(" instead of {x:.0}"))
        ),
        Aim::BestFlavour => {
            let n = joint.plans.len().max(1) as f64;
            let ph = SOUREST + joint.burden().mild / n;
            format!("Best flavour: the doughs are loaded at pH {ph:.2} on average.")
        }
    }];
    let gives = joint.plans.iter().zip(&joint.alone).map(|(p, alone)| p.cost - alone);
    let most = gives.zip(titles).max_by(|a, b| a.0.total_cmp(&b.0));
    words.push(match most {
        Some((more, title)) if more > GIVES_WAY => {
            format!("{title} gives way most so that all of them fit.")
        }
        _ => "None of them has to give way to another.".to_owned(),
    });
    if joint.gap > GIVES_WAY {
        words.push("There may be a better choice: the search was cut short.".to_owned());
    }
    words.join(" ")
}

/// More cost than this, beside a bread by itself, is giving way; a call to the bench costs 0.15.
const GIVES_WAY: f64 = 0.1;

fn best_at(aim: Aim, plan: &Plan, others: &[Plan]) -> String {
    let theirs = |f: &dyn Fn(&Plan) -> f64| -> Option<f64> {
        others.iter().filter(|o| !o.aims.contains(&aim)).map(f).reduce(f64::min)
    };
    match aim {
        Aim::Safest => {
            let hit = plan.forecast.all_windows.0;
            let than = theirs(&|o| o.forecast.all_windows.0)
                .filter(|x| hit - x >= 2.0)
                .map_or(String::new(), |x| format!(" ({x:.0} % where less care is taken)"));
            format!("Safest: every window is hit in {hit:.0} % of kitchens like this one{than}.")
        }
        Aim::LeastAttention => {
            let calls = plan.burden.calls;
            let than = theirs(&|o| o.burden.calls)
                .filter(|x| *x > calls + 0.5)
                .map_or(String::new(), |x| format!(" instead of {x:.0}"));
            let bound = Minutes(plan.burden.bound * 60.0);
            let bound = if bound.0 < 1.0 {
                String::new()
            } else {
                format!(", {} bound to it in between", bound.show())
            };
            let night = match plan.burden.uncivil.round() as i64 {
                0 => ", none before seven or after ten".to_owned(),
                1 => ", once before seven or after ten".to_owned(),
                n => format!(", {n} times before seven or after ten"),
            };
            format!("Least attention: {calls:.0} calls to the bench{than}{bound}{night}.")
        }
        Aim::BestFlavour => {
            let ph = |p: &Plan| SOUREST + p.burden.mild;
            let than = theirs(&|o| o.burden.mild)
                .filter(|x| x - plan.burden.mild >= 0.03)
                .map_or(String::new(), |x| {
                    format!(" (at {:.2} in the nearest other)", SOUREST + x)
                });
            format!("Best flavour: the dough is loaded at pH {:.2} on average{than}.", ph(plan))
        }
    }
}

fn in_fridge(plan: &Plan, setting: &Setting<'_>) -> Minutes {
    let steps = &setting.recipe.method.steps;
    let cold = plan.schedule.spans.iter().filter(|s| {
        let step = &steps[s.step];
        step.place == Place::Fridge && step.what.is_none()
    });
    Minutes(cold.map(|s| s.to - s.from).sum())
}

/// Bread that is ready long before it is asked for.
fn late(plan: &Plan) -> Option<String> {
    let early = libm::sqrt(plan.burden.early.max(0.0));
    (early >= 0.5).then(|| {
        format!("The bread is ready {} before it is asked for.", Minutes(60.0 * early).show())
    })
}

/// Where it may go wrong, and where the clock is narrowest.
fn tight(plan: &Plan, setting: &Setting<'_>) -> Vec<String> {
    let name = |i: usize| setting.recipe.method.steps[i].words();
    // what is over cannot go wrong any more
    let ahead = |i: usize| plan.schedule.of(i).is_some_and(|span| span.to > 0.0);
    let mut out = Vec::new();
    let risky = plan
        .forecast
        .steps
        .iter()
        .filter(|s| ahead(s.step))
        .filter_map(|s| Some((s.step, s.in_window?.0)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, chance)| *chance < 95.0);
    if let Some((step, chance)) = risky {
        out.push(format!(
            "Most at risk is the {}: right in {chance:.0} % of kitchens by the clock alone, so look at the dough.",
            name(step)
        ));
    }
    let narrow = plan
        .slack
        .iter()
        .filter(|s| plan.schedule.of(s.0).is_some_and(|span| span.from >= 0.0))
        .min_by(|a, b| (a.2 - a.1).total_cmp(&(b.2 - b.1)));
    if let Some(&(step, from, to)) = narrow {
        let room = to - from;
        out.push(if room < 5.0 {
            format!("{} has no room: it has to be on time.", capital(&name(step)))
        } else {
            format!("Least room has the {}: {} in all.", name(step), Minutes(room).show())
        });
    }
    out
}

fn capital(s: &str) -> String {
    let mut c = s.chars();
    c.next().map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

/// A way through the method in words, for reports.
pub fn path_words(path: Path, setting: &Setting<'_>) -> &'static str {
    if setting.recipe.method.paths().len() == 1 { "the recipe's one way" } else { path.words() }
}
