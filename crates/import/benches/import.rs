//! Lines a second, and a saved page.

use divan::{Bencher, black_box};
use import::{import, line};

fn main() {
    divan::main();
}

const CARD: &str = include_str!("../../../examples/ferry-lane/imports/harbour-card.txt");
const PAGE: &str = include_str!("../../../examples/ferry-lane/imports/towpath-page.html");

/// A thousand ingredient lines, of all kinds.
fn thousand() -> String {
    let kinds = [
        "500 g bread flour",
        "1 ½ cups (190 g) wholemeal flour",
        "100g ripe starter, 125% hydration",
        "3-4 tbsp honey",
        "1/2 cup sunflower seeds, toasted",
        "12 oz water",
        "2 tsp fine sea salt",
        "1 cup plus 2 tablespoons rye flour",
    ];
    kinds.iter().cycle().take(1000).flat_map(|l| [*l, "\n"]).collect()
}

#[divan::bench]
fn a_thousand_lines_read(bencher: Bencher<'_, '_>) {
    let text = thousand();
    bencher.bench(|| text.lines().map(|l| line::read(black_box(l)).amounts.len()).sum::<usize>());
}

#[divan::bench]
fn a_thousand_lines_imported(bencher: Bencher<'_, '_>) {
    let text = thousand();
    bencher.bench(|| import(black_box(&text), None));
}

#[divan::bench]
fn a_card() {
    let _ = black_box(import(black_box(CARD), None));
}

#[divan::bench]
fn a_saved_page() {
    let _ = black_box(import(black_box(PAGE), None));
}
