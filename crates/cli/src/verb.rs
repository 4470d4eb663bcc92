//! One file a verb.

pub(crate) mod bake;
pub(crate) mod cost;
pub(crate) mod ferment;
pub(crate) mod formula;
pub(crate) mod import;
pub(crate) mod label;
pub(crate) mod notebook;
pub(crate) mod plan;
pub(crate) mod serve;
pub(crate) mod shop;
pub(crate) mod travel;
pub(crate) mod water;

use quantity::Units;

/// A mass of an ingredient column, empty when there is none.
fn mass(g: quantity::Grams, units: Units) -> String {
    if g.0 == 0.0 { String::new() } else { g.show(units) }
}
