//! The pure engine: same inputs, same bits, on every machine.
//!
//! Modules stand in the order bread is made. There is no clock here, no file, no
//! network, no hidden randomness: the time, the kitchen, the parameter tables and the seed are
//! arguments.

mod named;

pub mod flour;
pub mod forecast;
pub mod formula;
pub mod ingredients;
pub mod kitchen;
pub mod layout;
pub mod leeway;
pub mod method;
pub mod recipe;

pub mod culture;
pub mod ferment;
pub mod gas;
pub mod mix;
pub mod parameters;
pub mod properties;
pub mod travel;
pub mod warmth;

pub mod bake;
pub mod crust;
pub mod hearth;

pub mod caution;
pub mod fit;
pub mod plan;
pub mod progress;
pub mod readiness;
pub mod run;
pub mod words;

pub mod belief;

pub mod diff;
pub mod ensemble;
pub mod file;
pub mod hours;
pub mod numerics;
