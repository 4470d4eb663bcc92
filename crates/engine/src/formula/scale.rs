//! Five ways to say how much: pieces, flour, dough, the starter at hand, the hearth.

use super::{Formula, FormulaError};
use crate::recipe::Yield;
use quantity::{Grams, Millimetres, Percent};
use std::fmt;

/// How much to make.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// As many pieces of the recipe's weight.
    Pieces(u32),
    /// A weight of total flour.
    Flour(Grams),
    /// A weight of mixed dough.
    Dough(Grams),
    /// As much as this much ripe seed can start, through the recipe's first levain.
    Starter(Grams),
    /// As many pieces as one load of this hearth holds.
    Hearth {
        /// Usable width.
        width: Millimetres,
        /// Usable depth.
        depth: Millimetres,
    },
}

/// Why a scale cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub enum ScaleError {
    /// The formula itself does not fit together.
    Formula(FormulaError),
    /// Nothing to scale by: zero, negative or not a number.
    Nothing,
    /// The recipe has no seed to scale by.
    NoSeed,
    /// Not one piece fits.
    TooLong {
        /// Length of a piece.
        piece: Millimetres,
        /// The hearth's longer side.
        hearth: Millimetres,
    },
}

impl fmt::Display for ScaleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Formula(e) => e.fmt(f),
            Self::Nothing => write!(f, "the amount to scale to must be above zero"),
            Self::NoSeed => write!(f, "no preferment of this recipe starts from a culture"),
            Self::TooLong { piece, hearth } => write!(
                f,
                "a piece {:.0} mm long does not fit a hearth of {:.0} mm",
                piece.0, hearth.0
            ),
        }
    }
}
impl std::error::Error for ScaleError {}
impl From<FormulaError> for ScaleError {
    fn from(e: FormulaError) -> Self {
        Self::Formula(e)
    }
}

impl Scale {
    /// Total flour for this scale.
    ///
    /// # Errors
    /// [`ScaleError`], see its variants.
    pub fn total_flour(self, formula: &Formula, yields: &Yield) -> Result<Grams, ScaleError> {
        // Linear: whatever 1 kg of flour gives, scaled.
        let unit = formula.sheet(Grams(1000.0))?;
        let per_flour = |wanted: Grams, from_a_kilo: Grams| -> Result<Grams, ScaleError> {
            if wanted.0 > 0.0 && wanted.0.is_finite() && from_a_kilo.0 > 0.0 {
                Ok(Grams(1000.0 * (wanted / from_a_kilo)))
            } else {
                Err(ScaleError::Nothing)
            }
        };
        match self {
            Self::Flour(flour) => per_flour(flour, Grams(1000.0)),
            Self::Dough(dough) => per_flour(dough, unit.dough()),
            Self::Pieces(n) => per_flour(yields.dough_for(n), unit.dough()),
            Self::Starter(seed) => {
                let of_a_kilo = unit
                    .preferments
                    .iter()
                    .filter_map(|p| p.builds.first())
                    .map(|b| b.seed)
                    .find(|s| s.0 > 0.0)
                    .ok_or(ScaleError::NoSeed)?;
                per_flour(seed, of_a_kilo)
            }
            Self::Hearth { width, depth } => {
                let n = yields.pieces_per_load(width, depth);
                if n == 0 {
                    return Err(ScaleError::TooLong {
                        piece: yields.footprint().0,
                        hearth: width.max(depth),
                    });
                }
                per_flour(yields.dough_for(n), unit.dough())
            }
        }
    }
}

/// Weight before losses that multiply (bowl and bench, then oven).
pub fn before_losses(after: Grams, losses: &[Percent]) -> Grams {
    losses.iter().fold(after, |g, loss| g / (1.0 - loss.fraction()))
}
