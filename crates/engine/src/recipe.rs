//! A recipe: formula, method and words; and what it yields.

use crate::crust::DoneWhen;
use crate::formula::{Formula, before_losses};
use crate::layout;
use crate::leeway::Leeway;
use crate::method::Method;
use crate::named::named;
use quantity::{Grams, Millimetres, Percent};

/// Formula, method and words.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Its name.
    pub title: String,
    /// A sentence or two for the reader.
    pub words: String,
    /// Pieces, shape, losses.
    pub yields: Yield,
    /// Ingredients.
    pub formula: Formula,
    /// Steps.
    pub method: Method,
    /// When the bread counts as done.
    pub done_when: DoneWhen,
    /// What it leaves to the day.
    pub leeway: Leeway,
}

named! {
    /// The shape of a piece.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum PieceShape {
        /// Oval loaf.
        Batard = "batard",
        /// Round loaf.
        Boule = "boule",
        /// Long thin loaf.
        Baguette = "baguette",
        /// Loaf in a pan.
        Pan = "pan loaf",
        /// Small round piece.
        Roll = "roll",
    }
}

impl PieceShape {
    /// So many of it, in words.
    pub fn counted(self, n: u32) -> String {
        match (n, self) {
            (1, s) => format!("1 {}", s.name()),
            (n, Self::Pan) => format!("{n} pan loaves"),
            (n, s) => format!("{n} {}s", s.name()),
        }
    }
}

/// What comes out.
#[derive(Debug, Clone, PartialEq)]
pub struct Yield {
    /// Pieces.
    pub pieces: u32,
    /// Scaled dough in one piece.
    pub piece: Grams,
    /// Shape.
    pub shape: PieceShape,
    /// Length of a long piece or of the pan.
    pub length: Option<Millimetres>,
    /// Diameter of a round piece, width of a pan.
    pub diameter: Option<Millimetres>,
    /// Dough lost to bowl, bench and hands, of the mixed dough.
    pub process_loss: Percent,
    /// Weight lost in the oven and while cooling, of the scaled dough.
    pub bake_loss: Percent,
}

impl Yield {
    /// Mixed dough for a number of pieces, process loss included.
    pub fn dough_for(&self, pieces: u32) -> Grams {
        before_losses(self.piece * f64::from(pieces), &[self.process_loss])
    }

    /// Length and width of one baked piece.
    pub fn footprint(&self) -> (Millimetres, Millimetres) {
        layout::footprint(self.shape, self.piece, self.length, self.diameter)
    }

    /// How many pieces one load holds, laid in straight rows, either way round.
    pub fn pieces_per_load(&self, width: Millimetres, depth: Millimetres) -> u32 {
        layout::pieces_per_load(self.footprint(), width, depth)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_home_stone_holds_what_a_baker_would_lay_on_it() {
        let baguette = Yield {
            pieces: 4,
            piece: Grams(350.0),
            shape: PieceShape::Baguette,
            length: Some(Millimetres(340.0)),
            diameter: None,
            process_loss: Percent(0.0),
            bake_loss: Percent(22.0),
        };
        // 350 g over 34 cm is 7 cm thick baked: three lie side by side on 38 × 38 cm, not four
        assert_eq!(baguette.pieces_per_load(Millimetres(380.0), Millimetres(380.0)), 3);
        assert_eq!(baguette.pieces_per_load(Millimetres(300.0), Millimetres(300.0)), 0);
    }
}
