//! What a bread holds, what its label says, what it costs, and what to buy for it.
//!
//! Pure like the engine. Everything that is rounded or paid for is counted in [`Decimal`]: a
//! label's rules break ties upward, and a binary float has no ties to break. A value nobody has is
//! *unknown* and stays so through every sum; it is never nought. Nothing here judges whether bread
//! may be sold: that is the local authority's.

pub mod allergen;
pub mod cost;
mod decimal;
pub mod food;
pub mod ingredient;
mod label;
mod notes;
pub mod nutrition;
pub mod packet;
pub mod panel;
pub mod price;
pub mod round;
pub mod serving;
pub mod shop;
pub mod statement;

pub use decimal::Decimal;
pub use label::{Asked, Label, LabelError, Loss, label};
pub use packet::{Packet, read_packets};
