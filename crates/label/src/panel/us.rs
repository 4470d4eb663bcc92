//! The panel of the United States, 21 CFR 101.9: order of lines and daily values of the 2016 rule
//! (81 FR 33742; adults and children from four years), read. Calories by USDA's specific factors,
//! (c)(1)(i)(A). Percents are of the amount before rounding, one of two ways (d)(7)(ii) leaves open
//! (from memory).

use super::{Line, UNKNOWN};
use crate::Decimal;
use crate::food::Nutrient;
use crate::nutrition::Nutrition;
use crate::round::us::{self, Declared};

/// A nutrient's rule: how its amount is rounded, its daily value, whether it is a vitamin or mineral.
struct Rule {
    nutrient: Nutrient,
    name: &'static str,
    inset: u8,
    round: fn(Decimal) -> Declared,
    daily: Option<i64>,
    mineral: bool,
}

const fn rule(
    nutrient: Nutrient,
    name: &'static str,
    inset: u8,
    round: fn(Decimal) -> Declared,
    daily: Option<i64>,
) -> Rule {
    Rule { nutrient, name, inset, round, daily, mineral: false }
}

/// A vitamin or mineral: its daily value decides its steps.
const fn mineral(nutrient: Nutrient, name: &'static str, daily: i64) -> Rule {
    Rule { nutrient, name, inset: 0, round: us::grams, daily: Some(daily), mineral: true }
}

const RULES: [Rule; 15] = [
    rule(Nutrient::EnergyKcal, "Calories", 0, us::calories, None),
    rule(Nutrient::Fat, "Total Fat", 0, us::fat, Some(78)),
    rule(Nutrient::Saturated, "Saturated Fat", 1, us::fat, Some(20)),
    rule(Nutrient::Trans, "Trans Fat", 1, us::fat, None),
    rule(Nutrient::Cholesterol, "Cholesterol", 0, us::cholesterol, Some(300)),
    rule(Nutrient::Sodium, "Sodium", 0, us::sodium, Some(2300)),
    rule(Nutrient::Carbohydrate, "Total Carbohydrate", 0, us::grams, Some(275)),
    rule(Nutrient::Fibre, "Dietary Fiber", 1, us::grams, Some(28)),
    rule(Nutrient::Sugars, "Total Sugars", 1, us::grams, None),
    rule(Nutrient::AddedSugars, "Includes Added Sugars", 2, us::grams, Some(50)),
    // a percent of protein needs its digestibility, (c)(7)(i): left out, as it may be
    rule(Nutrient::Protein, "Protein", 0, us::grams, None),
    mineral(Nutrient::VitaminD, "Vitamin D", 20),
    mineral(Nutrient::Calcium, "Calcium", 1300),
    mineral(Nutrient::Iron, "Iron", 18),
    mineral(Nutrient::Potassium, "Potassium", 4700),
];

/// The footnote of (d)(9), from memory: compare with the rule in force.
pub const FOOTNOTE: &str = "* The % Daily Value (DV) tells you how much a nutrient in a serving of food contributes to a daily diet. 2,000 calories a day is used for general nutrition advice.";

/// Lines for one serving.
pub fn panel(serving: &Nutrition) -> Vec<Line> {
    RULES.iter().map(|r| line(r, serving)).collect()
}

fn line(r: &Rule, serving: &Nutrition) -> Line {
    let amount = serving.of(r.nutrient);
    let unit = if r.nutrient == Nutrient::VitaminD { "mcg" } else { r.nutrient.unit() };
    let exact = amount.value();
    let daily = r.daily.map(Decimal::whole);
    let on_label = if r.nutrient == Nutrient::EnergyKcal { "" } else { unit };
    let declared = exact.map_or(UNKNOWN.to_owned(), |x| {
        let declared = match daily {
            Some(daily) if r.mineral => us::mineral(x, daily),
            _ => (r.round)(x),
        };
        declared.words(on_label)
    });
    let percent = exact.zip(daily).and_then(|(x, daily)| {
        let share = (x * Decimal::whole(100)).over(daily)?;
        let rounded = if r.mineral { us::percent_of_mineral(share) } else { us::percent(share) };
        Some(format!("{rounded}%"))
    });
    Line {
        name: r.name,
        inset: r.inset,
        amount: declared,
        percent,
        exact,
        unit,
        missing: amount.missing,
    }
}
