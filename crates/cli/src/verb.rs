//! One file a verb.

pub(crate) mod bake;
pub(crate) mod ferment;
pub(crate) mod formula;
pub(crate) mod notebook;
pub(crate) mod plan;
pub(crate) mod serve;
pub(crate) mod travel;
pub(crate) mod water;

use quantity::Units;
use serde_json::{Value, json};

/// The head of every JSON document: which verb, which units its numbers have.
fn document(verb: &str, mut body: Value) -> Value {
    let head = json!({
        "verb": verb,
        "version": env!("CARGO_PKG_VERSION"),
        "units": {
            "mass": "g", "temperature": "°C", "time": "min", "share": "%",
            "amount": "mmol/kg", "tta": "mL 0.1 mol/L per 10 g",
        },
    });
    if let (Some(body), Value::Object(head)) = (body.as_object_mut(), head) {
        for (key, value) in head {
            body.insert(key, value);
        }
    }
    body
}

/// A mass of an ingredient column, empty when there is none.
fn mass(g: quantity::Grams, units: Units) -> String {
    if g.0 == 0.0 { String::new() } else { g.show(units) }
}
