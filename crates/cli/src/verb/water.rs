//! `water`: temperature and ice for the wanted dough temperature.

use super::document;
use crate::args::WaterArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use engine::hours::Calendar;
use engine::method::Verb;
use engine::mix::{Pour, WaterPlan};
use engine::parameters::ParameterSet;
use engine::run::Setting;
use quantity::{Celsius, Grams, Units};
use serde_json::json;
use std::fmt::Write as _;

pub(crate) fn run(args: &WaterArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let mut kitchen = input::kitchen(&args.recipe.batch)?;
    // what was measured just now stands above what the kitchen file says
    if let Some(t) = args.room {
        kitchen.room = vec![(0.0, t)];
    }
    if let Some(t) = args.flour_temp {
        kitchen.flour = Some(t);
    }
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    // the day's mean is what a room without a clock has
    let calendar = Calendar::plain(jiff::civil::datetime(2000, 1, 1, 12, 0, 0, 0));
    let setting = Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar)
        .map_err(Failure::plain)?;
    let units: Units = args.out.units.into();
    let mut rows = Vec::new();
    let mut documents = Vec::new();
    let mut notes = Vec::new();
    let mut measured = json!(null);
    for (i, step) in recipe.method.steps.iter().enumerate() {
        if !matches!(step.verb, Verb::Build | Verb::Mix) {
            continue;
        }
        let Some(mixing) = setting.mixing(i, args.preferment_temp) else { continue };
        let wanted = args.wanted.filter(|_| step.verb == Verb::Mix).or(step.temperature);
        let wanted = wanted.unwrap_or(Celsius(25.0));
        let name = step.what.clone().unwrap_or_else(|| "dough".into());
        if let (Some(water), Some(dough)) = (args.measured_water, args.measured_dough)
            && step.verb == Verb::Mix
        {
            let friction = mixing.factors().friction(dough, water);
            let heat = mixing.measured_mixing_heat(water, dough);
            notes.push(if heat.0 < 0.0 {
                "Your batch: the dough came out colder than its parts and the water together. Measure again, or say how cold flour, room and levain were (--flour-temp, --room, --preferment-temp).".to_owned()
            } else {
                format!(
                    "Your batch: friction factor {} for this mixer and dough; mixing heat {:.0} J per kg of dough. Put them into [mixer] of the kitchen file.",
                    friction.show(units),
                    heat.0
                )
            });
            measured = json!({ "friction": friction, "heat_j_per_kg": heat });
        }
        match setting.water_plan(&mixing, wanted) {
            Err(e) => notes.push(format!("{name}: {e}")),
            Ok(plan) => {
                rows.push(vec![
                    name.clone(),
                    wanted.show(units),
                    mixing.water.show(units),
                    plan.balance.show(units),
                    plan.trade.show(units),
                    pour(&plan, kitchen.scale.step, units),
                ]);
                notes.extend(plan.notes.iter().map(|n| format!("{name}: {}.", n.tell(units))));
                documents.push(as_json(&name, wanted, mixing.water, &plan));
            }
        }
    }
    if args.out.json {
        let body = json!({ "title": recipe.title, "mixings": documents, "measured": measured, "notes": notes });
        return out::json(&document("water", body), args.out.out.as_deref());
    }
    let mut text = format!("{} in {}\n\n", table::bold(&recipe.title), kitchen.name);
    text += &table::table(
        &["", "dough", "water", "by heat balance", "by trade rule", "pour"],
        &[0, 5],
        &rows,
    );
    let _ = writeln!(
        text,
        "\n{}",
        table::wrapped(
            "The heat balance weighs every part and is the one to pour by; the trade rule counts temperatures only. Levain and dough temperatures are wishes: measure the dough after mixing.",
            0,
            0
        )
    );
    for n in notes {
        let _ = writeln!(text, "note: {}", table::wrapped(&n, 6, 6));
    }
    out::text(&text, args.out.out.as_deref())
}

/// Where the water comes from, in steps of the scale; hot or ice too little to weigh is left out.
fn pour(plan: &WaterPlan, step: Grams, units: Units) -> String {
    let some = |g: Grams| g >= step * 5.0;
    match plan.pour {
        Pour::Taps { cold, hot } if !some(hot) => format!("{} cold", (cold + hot).show(units)),
        Pour::Taps { cold, hot } => format!("{} cold + {} hot", cold.show(units), hot.show(units)),
        Pour::Kettle { cold, boiling, .. } => {
            format!("{} cold + {} boiling", cold.show(units), boiling.show(units))
        }
        Pour::Ice { cold, ice, .. } if !some(ice) => format!("{} cold", (cold + ice).show(units)),
        Pour::Ice { cold, ice, ice_trade } => format!(
            "{} cold + {} ice (trade rule {})",
            cold.show(units),
            ice.show(units),
            ice_trade.show(units)
        ),
        Pour::Impossible => "not with the water there is".into(),
    }
}

fn as_json(name: &str, wanted: Celsius, water: Grams, plan: &WaterPlan) -> serde_json::Value {
    let pour = match plan.pour {
        Pour::Taps { cold, hot } => json!({ "cold": cold, "hot": hot }),
        Pour::Kettle { cold, boiling, at } => {
            json!({ "cold": cold, "boiling": boiling, "boils_at": at })
        }
        Pour::Ice { cold, ice, ice_trade } => {
            json!({ "cold": cold, "ice": ice, "ice_by_trade_rule": ice_trade })
        }
        Pour::Impossible => json!(null),
    };
    json!({
        "what": name, "dough": wanted, "water": water, "by_heat_balance": plan.balance,
        "by_trade_rule": plan.trade, "friction": plan.friction, "pour": pour,
    })
}
