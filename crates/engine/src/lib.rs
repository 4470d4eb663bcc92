//! The pure engine: same inputs, same bits, on every machine.
//!
//! Modules stand in the order bread is made. There is no clock here, no file, no
//! network, no randomness: the time, the kitchen and the parameter tables are
//! arguments.

pub mod flour;

pub mod culture;
pub mod ferment;
pub mod gas;
pub mod mix;
pub mod parameters;
pub mod properties;
pub mod warmth;

pub mod numerics;
