//! Ours for what bread holds: a loaf counted by hand, and lean loaves beside breads of USDA's table.

use crate::Values;
use label::Decimal;
use label::food::{Nutrient, by_key};
use label::nutrition::Nutrition;
use label::panel::eu::{Protein, energy, salt};

/// A dough of foods by key and g.
fn dough(parts: &[(&str, i64)]) -> Nutrition {
    let parts: Vec<_> = parts
        .iter()
        .map(|(key, g)| {
            let content = by_key(key).map(|f| f.content.clone());
            ((*key).to_owned(), Decimal::whole(*g), content)
        })
        .collect();
    Nutrition::of_dough(&parts)
}

/// 100 g of a dough of so many g that lost so much water.
fn hundred(of: &Nutrition, dough: Decimal, lost: Decimal) -> Nutrition {
    let bread = of.baked(lost).unwrap_or_default();
    bread.share(Decimal::whole(100), dough - lost)
}

/// NaN where it is not known: a miss.
fn of(what: &Nutrition, n: Nutrient) -> f64 {
    what.of(n).value().map_or(f64::NAN, Decimal::to_f64)
}

/// Adds the values of this subject.
pub(crate) fn values(out: &mut Values) {
    let loaf = dough(&[
        ("bread-flour-enriched", 1800),
        ("whole-wheat-flour", 200),
        ("salt", 40),
        ("water-tap", 1500),
    ]);
    let loaf = hundred(&loaf, Decimal::whole(3540), Decimal::whole(531));
    let (kj, kcal) = energy(&loaf, Protein::Usda);
    out.extend([
        ("label-loaf-kcal", of(&loaf, Nutrient::EnergyKcal)),
        ("label-loaf-kj-eu", kj.known.to_f64()),
        ("label-loaf-kcal-eu", kcal.known.to_f64()),
        ("label-loaf-salt-eu", salt(&loaf).known.to_f64()),
        ("label-loaf-iron", of(&loaf, Nutrient::Iron)),
    ]);
    // baked to the water of the row
    let lean = |flour: &str, water: f64| {
        let whole = dough(&[(flour, 100), ("water-tap", 65), ("salt", 2)]);
        let solids = 167.0 - of(&whole, Nutrient::Water);
        let bread = Decimal::of(solids / (1.0 - water / 100.0)).unwrap_or_default();
        hundred(&whole, Decimal::whole(167), Decimal::whole(167) - bread)
    };
    let french = lean("bread-flour-enriched", 33.0);
    let whole = lean("whole-wheat-flour", 39.01);
    out.extend([
        ("label-french-kcal", of(&french, Nutrient::EnergyKcal)),
        ("label-french-protein", of(&french, Nutrient::Protein)),
        ("label-french-carbohydrate", of(&french, Nutrient::Carbohydrate)),
        ("label-french-fibre", of(&french, Nutrient::Fibre)),
        ("label-whole-kcal", of(&whole, Nutrient::EnergyKcal)),
        ("label-whole-protein", of(&whole, Nutrient::Protein)),
        ("label-whole-fibre", of(&whole, Nutrient::Fibre)),
    ]);
}
