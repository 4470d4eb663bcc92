//! Nutrition panels: which lines, in which order, rounded by which rule.
//!
//! A line of which something is not known says so; no rule makes a number of it.

pub mod eu;
pub mod us;

/// One line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What.
    pub name: &'static str,
    /// How far it is set in: 0, 1 for a part of the line above, 2 for a part of that.
    pub inset: u8,
    /// As declared; `unknown` where it is not known.
    pub amount: String,
    /// Percent of the daily value or reference intake, as declared; none where there is none.
    pub percent: Option<String>,
    /// Before rounding; none where it is not known.
    pub exact: Option<crate::Decimal>,
    /// Unit of `exact`.
    pub unit: &'static str,
    /// Ingredients of which nobody knows how much they bring.
    pub missing: Vec<String>,
}

/// What a line says that is not known.
pub const UNKNOWN: &str = "unknown";
