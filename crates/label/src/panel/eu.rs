//! The declaration of the European Union: Regulation (EU) 1169/2011, order of Annex XV (from
//! memory), factors of Annex XIV and reference intakes of Annex XIII (read). kJ and kcal are each
//! counted from the grams; one is not the other times 4.184. Salt is sodium times 2.5, Annex I (11):
//! weighed table salt comes to 0.969 of its weight by that, and is declared so.

use super::{Line, UNKNOWN};
use crate::Decimal;
use crate::food::Nutrient;
use crate::nutrition::{Amount, Nutrition};
use crate::round::eu;

/// Which protein counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Protein {
    /// Nitrogen times 6.25, as Annex I (10) has it.
    #[default]
    ByLaw,
    /// Nitrogen times the factor of each food, as USDA prints it.
    Usda,
}

impl Protein {
    fn nutrient(self) -> Nutrient {
        match self {
            Self::ByLaw => Nutrient::ProteinEu,
            Self::Usda => Nutrient::Protein,
        }
    }
}

/// kJ per g of carbohydrate, protein, fat, fibre, alcohol: Annex XIV.
const KJ: [i64; 5] = [17, 17, 37, 8, 29];
/// kcal per g of the same.
const KCAL: [i64; 5] = [4, 4, 9, 2, 7];

/// Energy by the factors of Annex XIV.
pub fn energy(of: &Nutrition, protein: Protein) -> (Amount, Amount) {
    let parts = [
        Nutrient::CarbohydrateEu,
        protein.nutrient(),
        Nutrient::Fat,
        Nutrient::Fibre,
        Nutrient::Alcohol,
    ]
    .map(|n| of.of(n));
    let sum = |factors: [i64; 5]| {
        let all: Vec<(&Amount, Decimal)> =
            parts.iter().zip(factors).map(|(a, k)| (a, Decimal::whole(k))).collect();
        Amount::of(&all)
    };
    (sum(KJ), sum(KCAL))
}

/// Salt, g: sodium in mg times 2.5.
pub fn salt(of: &Nutrition) -> Amount {
    Amount::of(&[(&of.of(Nutrient::Sodium), Decimal::of(0.0025).unwrap_or_default())])
}

/// Lines for an amount of bread: the mandatory ones, fibre, and minerals where `per_100g` holds 15 %
/// of the reference value (Annex XIII; their figures from memory).
pub fn panel(of: &Nutrition, per_100g: &Nutrition, protein: Protein) -> Vec<Line> {
    let (kj, kcal) = energy(of, protein);
    let line = |name, inset, a: Amount, round: fn(Decimal) -> String, unit, intake: Option<i64>| {
        let exact = a.value();
        let amount = exact.map_or(UNKNOWN.to_owned(), |x| format!("{} {unit}", round(x)));
        let percent = exact.zip(intake).and_then(|(x, i)| {
            Some(format!("{} %", (x * Decimal::whole(100)).over(Decimal::whole(i))?.show(0)))
        });
        Line { name, inset, amount, percent, exact, unit, missing: a.missing }
    };
    let mut out = vec![
        line("Energy", 0, kj, eu::energy, "kJ", Some(8400)),
        line("", 0, kcal, eu::energy, "kcal", Some(2000)),
        line("Fat", 0, of.of(Nutrient::Fat), eu::grams, "g", Some(70)),
        line("of which saturates", 1, of.of(Nutrient::Saturated), eu::saturates, "g", Some(20)),
        line("Carbohydrate", 0, of.of(Nutrient::CarbohydrateEu), eu::grams, "g", Some(260)),
        line("of which sugars", 1, of.of(Nutrient::Sugars), eu::grams, "g", Some(90)),
        line("Fibre", 0, of.of(Nutrient::Fibre), eu::grams, "g", None),
        line("Protein", 0, of.of(protein.nutrient()), eu::grams, "g", Some(50)),
        line("Salt", 0, salt(of), eu::salt, "g", Some(6)),
    ];
    let three: fn(Decimal) -> String = |x| x.to_figures(3).to_string();
    let two: fn(Decimal) -> String = |x| x.to_figures(2).to_string();
    for (name, n, round, value) in [
        ("Vitamin D", Nutrient::VitaminD, two, 5),
        ("Potassium", Nutrient::Potassium, three, 2000),
        ("Calcium", Nutrient::Calcium, three, 800),
        ("Iron", Nutrient::Iron, two, 14),
    ] {
        let enough = |x: Decimal| x * Decimal::whole(100) >= Decimal::whole(15 * value);
        if per_100g.of(n).value().is_some_and(enough) {
            out.push(line(name, 0, of.of(n), round, n.unit(), Some(value)));
        }
    }
    out
}
