//! `water`: temperature and ice for the wanted dough temperature.

use crate::args::WaterArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use document::water::{Asked, Mixing, water};
use engine::mix::{Pour, WaterPlan};
use quantity::{Grams, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &WaterArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let mut kitchen = input::kitchen(&args.recipe.batch)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let asked = Asked {
        wanted: args.wanted,
        room: args.room,
        flour: args.flour_temp,
        preferment: args.preferment_temp,
        measured: args.measured_water.zip(args.measured_dough),
    };
    let units: Units = args.out.units.into();
    let answer = water(&recipe, &mut kitchen, flour, &asked, units)?;
    if args.out.json {
        return out::json(&answer.json(&recipe), args.out.out.as_deref());
    }
    let row = |m: &Mixing| {
        vec![
            m.what.clone(),
            m.wanted.show(units),
            m.water.show(units),
            m.plan.balance.show(units),
            m.plan.trade.show(units),
            pour(&m.plan, kitchen.scale.step, units),
        ]
    };
    let rows: Vec<Vec<String>> = answer.mixings.iter().map(row).collect();
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
    for n in &answer.notes {
        let _ = writeln!(text, "note: {}", table::wrapped(n, 6, 6));
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
