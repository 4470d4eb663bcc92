//! Every JSON document, built in one place: the command line, a server and the page in the browser
//! give the same ones. `docs/json.md` says what stands in them.
//!
//! Pure like the engine: no clock, no file, no network. The time is an argument, a calendar.

pub mod ask;
pub mod bake;
mod batch;
pub mod clock;
pub mod cost;
pub mod ferment;
pub mod formula;
pub mod import;
pub mod label;
pub mod plan;
mod problem;
pub mod travel;
pub mod water;

pub use ask::{answer, ask, ask_telling};
pub use batch::{Much, chosen, fits_the_oven, parameters, total_flour};
pub use problem::{Place, Problem};

use serde_json::{Value, json};

/// The head of every document: which verb, which units its numbers have.
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
