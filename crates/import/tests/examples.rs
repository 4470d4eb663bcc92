//! The bundled examples, whole: their files are kept as they came out, and read back.
//!
//! Snapshots: what we gave before. `GRIGNE_KEEP=1 cargo test -p import` keeps them anew.

#![allow(clippy::unwrap_used, reason = "a test file")]

use engine::file::{read_recipe, write_recipe};
use import::{Imported, import};
use quantity::Grams;
use std::path::PathBuf;

const CARD: &str = include_str!("../../../examples/ferry-lane/imports/harbour-card.txt");
const JSON: &str = include_str!("../../../examples/ferry-lane/imports/quay-steps.json");
const PAGE: &str = include_str!("../../../examples/ferry-lane/imports/towpath-page.html");

#[track_caller]
fn kept(name: &str, text: &str) -> Imported {
    let imported = import(text, None).unwrap();
    let file = imported.file();
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/expected").join(name);
    if std::env::var_os("GRIGNE_KEEP").is_some() {
        std::fs::write(&path, &file).unwrap();
    }
    let before = std::fs::read_to_string(&path).unwrap();
    assert_eq!(file, before, "{name} is no longer what it was");
    let again = read_recipe(&file).unwrap();
    assert_eq!(again, imported.recipe);
    assert_eq!(read_recipe(&write_recipe(&again)).unwrap(), again);
    imported
}

#[test]
fn a_card_of_ingredient_lines() {
    let got = kept("harbour-card.toml", CARD);
    assert_eq!(got.recipe.yields.pieces, 2);
    let f = &got.recipe.formula;
    assert_eq!(f.preferments.len(), 1);
    // 180 g of the 210 g built, 20 g of it seed of 100 % hydration
    let flour = 110.0 * 180.0 / 210.0;
    let total = 610.0 + 120.0 + flour; // a US cup of wholemeal flour: 120 g
    assert!((f.preferments[0].prefermented_flour.0 - 100.0 * flour / total).abs() < 1e-9);
    assert!((f.preferments[0].seed.unwrap().inoculation.0 - 20.0).abs() < 1e-9);
    let water = 480.0 + 100.0 * 180.0 / 210.0;
    assert!((f.water.0 - 100.0 * water / total).abs() < 1e-9);
    assert!(got.suggestions.len() >= 5);
}

#[test]
fn a_recipe_in_json_ld() {
    let got = kept("quay-steps.toml", JSON);
    let sheet = got.recipe.formula.sheet(Grams(450.0 + 100.0 / 2.25)).unwrap();
    assert!((sheet.preferments[0].contents.water.0 - 100.0 * 1.25 / 2.25).abs() < 1e-9);
    assert!((sheet.total.salt.0 - 9.0).abs() < 1e-9);
    assert!((sheet.final_dough.water.0 - 340.0).abs() < 0.5);
}

#[test]
fn a_saved_page() {
    let got = kept("towpath-page.toml", PAGE);
    assert_eq!(got.recipe.title, "Towpath sandwich loaf");
    assert_eq!(got.recipe.yields.pieces, 1);
    assert_eq!(got.recipe.formula.preferments[0].name, "poolish");
    assert!(got.not_understood.iter().any(|u| u.place.text.contains("hope")));
}

/// Basis: computed by hand, exact: 450 flour, 300 water, 9 salt, 100 g starter of 125 %.
#[test]
fn percentages_backwards_from_weights() {
    let text = "450 g bread flour\n300 g water\n9 g salt\n100 g ripe starter, 125% hydration\n";
    let f = import(text, None).unwrap().recipe.formula;
    let close = |a: f64, b: f64| assert!((a - b).abs() < 5e-4, "{a} {b}");
    close(f.water.0, 71.910);
    close(f.salt.0, 1.820);
    close(f.preferments[0].prefermented_flour.0, 8.989);
    close(f.preferments[0].hydration.0, 125.0);
}
