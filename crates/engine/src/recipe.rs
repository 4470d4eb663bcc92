//! A recipe: formula, method and words; and what it yields.

use crate::formula::{Formula, before_losses};
use crate::method::Method;
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
}

/// The shape of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PieceShape {
    /// Oval loaf.
    Batard,
    /// Round loaf.
    Boule,
    /// Long thin loaf.
    Baguette,
    /// Loaf in a pan.
    Pan,
    /// Small round piece.
    Roll,
}

impl PieceShape {
    /// All, with their names in files.
    pub const NAMES: [(&'static str, Self); 5] = [
        ("batard", Self::Batard),
        ("boule", Self::Boule),
        ("baguette", Self::Baguette),
        ("pan loaf", Self::Pan),
        ("roll", Self::Roll),
    ];
    /// Its name in files.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, s)| *s == self).map_or("boule", |(n, _)| n)
    }
    /// So many of it, in words.
    pub fn counted(self, n: u32) -> String {
        match (n, self) {
            (1, s) => format!("1 {}", s.name()),
            (n, Self::Pan) => format!("{n} pan loaves"),
            (n, s) => format!("{n} {}s", s.name()),
        }
    }
    /// Mass of dough per baked volume, g/mL. Common practice, no source: baguette and
    /// batard 0.27–0.29, round 0.30, pan 0.32–0.34.
    fn baked_density_g_per_ml(self) -> f64 {
        match self {
            Self::Baguette => 0.27,
            Self::Batard => 0.28,
            Self::Boule | Self::Roll => 0.30,
            Self::Pan => 0.33,
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

/// Space between pieces on a hearth, mm. Common practice, no source: 4 to 5 cm.
const GAP_MM: f64 = 45.0;
/// Bare rim of a hearth, mm, both ends together. Common practice, no source.
const RIM_MM: f64 = 20.0;

impl Yield {
    /// Mixed dough for a number of pieces, process loss included.
    pub fn dough_for(&self, pieces: u32) -> Grams {
        before_losses(self.piece * f64::from(pieces), &[self.process_loss])
    }

    /// Length and width of one baked piece.
    pub fn footprint(&self) -> (Millimetres, Millimetres) {
        let volume_ml = self.piece.0 / self.shape.baked_density_g_per_ml();
        let given = |x: Option<Millimetres>| x.filter(|l| l.0 > 0.0);
        match (self.shape, given(self.length), given(self.diameter)) {
            (PieceShape::Pan, Some(l), Some(w)) => (l, w),
            (PieceShape::Boule | PieceShape::Roll, _, Some(d)) => (d, d),
            (_, Some(l), _) => {
                // flat-ended cylinder: V = π D² L / 4
                let d = 2.0 * (volume_ml * 1000.0 / (std::f64::consts::PI * l.0)).max(0.0).sqrt();
                (l, Millimetres(d))
            }
            _ => {
                // a round loaf about half as high as wide: V = π D³ / 12
                let d = libm::cbrt((12.0 * volume_ml * 1000.0 / std::f64::consts::PI).max(0.0));
                (Millimetres(d), Millimetres(d))
            }
        }
    }

    /// How many pieces one load holds, laid in straight rows, either way round.
    pub fn pieces_per_load(&self, width: Millimetres, depth: Millimetres) -> u32 {
        let (l, w) = self.footprint();
        let fit = |room: f64, piece: f64| -> u32 {
            if room + 1e-9 < piece || piece <= 0.0 {
                0
            } else {
                (((room + GAP_MM) / (piece + GAP_MM)).floor() as u32).min(10_000)
            }
        };
        let (a, b) = (width.0 - RIM_MM, depth.0 - RIM_MM);
        (fit(a, w.0) * fit(b, l.0)).max(fit(a, l.0) * fit(b, w.0))
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
