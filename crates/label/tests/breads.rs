//! Whole breads: from a recipe file to lists, servings, costs.

#![allow(clippy::unwrap_used, reason = "a test file")]

use engine::file::read_recipe;
use engine::formula::Sheet;
use engine::recipe::Recipe;
use label::cost::{Batch, OvenTime, cost};
use label::food::Nutrient;
use label::ingredient::ingredients;
use label::price::read_prices;
use label::statement::Levain;
use label::{Asked, Decimal, Label, LabelError, Loss, label, read_packets};
use proptest::prelude::*;
use quantity::{Grams, Percent, TempRise};

const METHOD: &str = "[[step]]\ndo = \"build\"\nwhat = \"levain\"\ntime = \"6 h\"\n[[step]]\ndo = \"mix\"\ntime = \"10 min\"\nhands_on = \"10 min\"\n[[step]]\ndo = \"preheat\"\ntemperature = \"250 °C\"\ntime = \"60 min\"\n[[step]]\ndo = \"load\"\n[[step]]\ndo = \"bake\"\ntemperature = \"230 °C\"\ntime = \"40 min\"\n";

/// 90 bread flour, 10 whole wheat, so much water, 2 salt, a levain of a fifth of the flour.
fn bread(water: u32, more: &str) -> Recipe {
    read_recipe(&format!(
        "title = \"A loaf\"\n[yield]\npieces = 4\npiece = \"885 g\"\nshape = \"boule\"\n[formula]\nwater = \"{water} %\"\nsalt = \"2 %\"\n[[formula.flour]]\nname = \"bread flour\"\nshare = \"90 %\"\nusda = 20083\n[[formula.flour]]\nname = \"whole wheat\"\nshare = \"10 %\"\nusda = \"20080\"\n{more}[[preferment]]\nname = \"levain\"\nkind = \"levain\"\nprefermented_flour = \"20 %\"\nhydration = \"50 %\"\nseed = {{ inoculation = \"20 %\", hydration = \"100 %\" }}\n{METHOD}"
    ))
    .unwrap()
}

fn sheet(recipe: &Recipe) -> Sheet {
    recipe.formula.sheet(Grams(2000.0)).unwrap()
}

fn labelled(recipe: &Recipe, loss: f64, levain: Levain) -> Label {
    let asked = Asked { loss: Loss::Given(Percent(loss)), levain, ..Asked::default() };
    label(recipe, &sheet(recipe), &asked).unwrap()
}

fn d(text: &str) -> Decimal {
    Decimal::read(text).unwrap()
}

/// Basis: computed by hand, Annex VII part A (1): 969 g of water in 3009 g of bread, 32.2 %, after
/// the white flour and before the whole.
#[test]
fn water_in_the_list_of_the_european_union() {
    let l = labelled(&bread(75, ""), 15.0, Levain::Opened);
    assert_eq!(l.statement.eu_water.show(4), "32.2034");
    let water = l.statement.eu.iter().find(|e| e.words == "water").unwrap();
    assert_eq!(water.weight, d("969"));
    assert!(l.statement.eu_words().ends_with(", water, whole WHEAT flour, salt."));
    // the same order in the United States, by the 1500 g poured
    let us = l.statement.us_words();
    assert!(us.ends_with("water, whole wheat flour, salt.\nContains: Wheat."), "{us}");
    // crispbread: 40 g in 1060 g, 3.8 %: it may be left out
    let crisp = bread(60, "");
    let loss = 100.0 * (1.0 - 2120.0 / 3240.0);
    let l = labelled(&crisp, loss, Levain::Opened);
    assert_eq!(l.statement.eu_water.show(4), "3.7736");
    assert!(l.statement.eu_water_left_out && !l.statement.eu_words().contains("water"));
}

/// A levain kept whole takes its flour and water out of the others.
#[test]
fn a_levain_may_stay_whole() {
    let l = labelled(&bread(75, ""), 15.0, Levain::Compound);
    let words = l.statement.us_words();
    assert!(words.contains("sourdough (enriched wheat flour"), "{words}");
    let all: Decimal = l.statement.us.iter().map(|e| e.weight).sum();
    assert_eq!(all, d("3540"));
    let levain = l.statement.us.iter().find(|e| e.words.starts_with("sourdough")).unwrap();
    assert_eq!(levain.weight, d("600"));
    assert!(l.statement.eu_words().contains("sourdough (enriched WHEAT flour"));
}

/// Basis: computed by hand with pure water: moisture 42.268, 38.747 and 37.216 % at 13, 18 and 20 %
/// loss. The tap water of the table holds 0.1 % minerals and its salt 0.2 % water: 1.42 g less water in
/// all, in bread of 3079.8, 2902.8 and 2832 g.
#[test]
fn solids_of_the_finished_bread() {
    for (loss, moisture, bread_g, below) in [
        (13.0, 42.267_68, 3079.8, true),
        (18.0, 38.747_416, 2902.8, true),
        (20.0, 37.216_102, 2832.0, false),
    ] {
        let l = labelled(&bread(75, ""), loss, Levain::Opened);
        let water = l.per_100g.of(Nutrient::Water).value().unwrap().to_f64();
        assert!((water + 142.0 / bread_g - moisture).abs() < 1e-5, "{water} {moisture}");
        let told = l.notes.iter().find(|n| n.starts_with("Solids")).unwrap();
        assert_eq!(told.contains(": below the 62 %"), below, "{told}");
    }
}

#[test]
fn allergens_packets_and_what_nobody_knows() {
    let walnuts = "[[formula.other]]\nname = \"walnuts\"\nshare = \"10 %\"\nlike = \"walnuts\"\n[[formula.other]]\nname = \"moss\"\nshare = \"1 %\"\n";
    let recipe = bread(75, walnuts);
    let l = labelled(&recipe, 15.0, Levain::Opened);
    assert!(l.statement.us_words().ends_with("Contains: Wheat, Tree nuts (walnut)."));
    assert!(l.statement.eu_words().contains("WALNUTS"));
    assert_eq!(l.statement.unknown, ["moss"]);
    assert!(l.eu.iter().all(|line| line.missing == ["moss"]));
    let packet = "[[packet]]\nname = \"moss\"\nstatement = \"moss (*milk*)\"\nallergens = [\"milk\"]\nkcal = 10\nfat = \"0 g\"\ncarbohydrate = \"1 g\"\nsugars = \"0 g\"\nfibre = \"1 g\"\nprotein = \"1 g\"\nsalt = \"0 g\"\n";
    let packets = read_packets(packet).unwrap();
    let asked = Asked { packets: &packets, ..Asked::default() };
    let l = label(&recipe, &sheet(&recipe), &asked).unwrap();
    assert!(l.eu.iter().all(|line| line.missing.is_empty()));
    assert!(l.statement.eu_words().contains("moss (MILK)") && l.statement.unknown.is_empty());
    assert!(l.cautions.iter().any(|c| c.contains("coeliac")));
}

/// A title that names an ingredient: share of the finished bread.
#[test]
fn an_ingredient_in_the_title_is_quantified() {
    let walnuts = "[[formula.other]]\nname = \"walnuts\"\nshare = \"20 %\"\nlike = \"walnuts\"\n";
    let mut recipe = bread(75, walnuts);
    recipe.title = "Walnut loaf, with walnuts".into();
    // 400 g in (3540 + 400) × 0.8
    assert_eq!(labelled(&recipe, 20.0, Levain::Opened).statement.quid, ["walnuts: 13 %"]);
}

#[test]
fn losses_that_leave_no_bread_are_refused() {
    let recipe = bread(75, "");
    let asked = |loss| Asked { loss, ..Asked::default() };
    for loss in [-1.0, 100.0, 200.0, f64::NAN] {
        let told = label(&recipe, &sheet(&recipe), &asked(Loss::Given(Percent(loss)))).unwrap_err();
        assert!(matches!(told, LabelError::NoBread(_)));
    }
    let told = label(&recipe, &sheet(&recipe), &asked(Loss::Given(Percent(60.0)))).unwrap_err();
    assert!(matches!(told, LabelError::TooMuchLost(..)), "{told}");
    let slice = Asked { slice: Some(Grams(900.0)), ..Asked::default() };
    assert!(matches!(label(&recipe, &sheet(&recipe), &slice), Err(LabelError::Slice(..))));
}

/// Basis: 900 g of dough and 783 g of bread are 13 %.
#[test]
fn a_loss_from_weights() {
    let loss = Loss::Weighed(Grams(900.0), Grams(783.0)).share(&bread(75, ""));
    assert!((loss.0 - 13.0).abs() < 1e-12);
}

/// Laws of a bill: lines sum to the whole, pieces times a piece is the whole, what has no price
/// makes the whole unknown.
#[test]
fn a_bill_adds_up() {
    let recipe = bread(75, "");
    let prices = "currency = \"EUR\"\ndate = \"2026-11-01\"\nlabour_per_hour = \"12\"\n[oven]\ntariff = \"0.30\"\n[[item]]\nname = \"bread flour\"\npackage = \"1 kg\"\nprice = \"1.00\"\nwaste = \"10 %\"\n[[item]]\nname = \"whole wheat\"\npackage = \"1 kg\"\nprice = \"2.00\"\n[[item]]\nname = \"water\"\npackage = \"1 kg\"\nprice = \"0.002\"\n";
    let salt = "[[item]]\nname = \"salt\"\npackage = \"1 kg\"\nprice = \"1\"\n";
    let sheet = sheet(&recipe);
    let (all, _) = ingredients(&recipe, &[]);
    let bill = |discard: &str, prices: &str| {
        let batch = Batch {
            recipe: &recipe,
            sheet: &sheet,
            ingredients: &all,
            loss: Percent(15.0),
            discard: d(discard),
            oven: OvenTime::of(&recipe, TempRise(10.0), 1, "as written"),
        };
        cost(&batch, &read_prices(prices).unwrap())
    };
    let without = bill("0", prices);
    assert_eq!((without.missing.as_slice(), without.total()), (&["salt".to_owned()][..], None));
    assert!(without.per_piece().is_none());
    let whole = format!("{prices}{salt}");
    let b = bill("0", &whole);
    let sum: Decimal = b.charges.iter().filter_map(|c| c.cost).sum();
    assert_eq!(b.total(), Some(sum));
    assert_eq!(b.charges[0].cost, Some(d("1.98"))); // 1800 g and 10 % of it
    assert_eq!(b.per_piece().unwrap() * Decimal::whole(4), sum);
    assert_eq!(b.bread, d("3009"));
    // 100 g of starter at 100 %: 50 g of flour and 10 % of it, 50 g of water
    let more = bill("100", &whole).total().unwrap() - sum;
    assert_eq!(more, d("0.0551"));
    // 2.5 kW: 23 min of climbing, the rest at 30 %, the bread's own heat
    let kwh = b.charges.iter().find(|c| c.name == "oven").unwrap();
    assert!(
        kwh.quantity.ends_with("kWh")
            && b.notes[0].replace('\u{a0}', " ").contains("1 h of heating up and")
    );
}

proptest! {
    #[test]
    fn whatever_is_weighed_there_is_an_answer(
        water in 40_u32..120, loss in -10.0..110.0_f64, slice in 0.0..2000.0_f64, pack in 0_u32..2000,
    ) {
        let recipe = bread(water, "");
        let asked = Asked { loss: Loss::Given(Percent(loss)), slice: Some(Grams(slice)), pack, ..Asked::default() };
        if let Ok(l) = label(&recipe, &sheet(&recipe), &asked) {
            let carbohydrate = l.per_100g.of(Nutrient::Carbohydrate).value().unwrap();
            prop_assert!(carbohydrate >= Decimal::ZERO && carbohydrate <= Decimal::whole(100));
            // solids and water are the whole
            let solids: Decimal = [Nutrient::Protein, Nutrient::Fat, Nutrient::Carbohydrate, Nutrient::Ash, Nutrient::Water]
                .iter().map(|n| l.per_100g.of(*n).known).sum();
            prop_assert!((solids.to_f64() - 100.0).abs() < 0.1, "{solids}");
        }
    }
}
