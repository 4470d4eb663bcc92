//! What goes into the bread: baker's percentages, preferments, soakers, and the
//! sheet of weights in the trade's layout (total formula, each preferment, final
//! dough).
//!
//! Conventions, stated once: water, salt and every other ingredient are percent of
//! *total* flour, the flour of the preferments included. Water means all water
//! poured anywhere. Flour moisture never counts as water. The seed of a levain is
//! taken to be of the levain's own flours.

mod scale;
mod sheet;
mod warn;

pub use scale::{Scale, ScaleError, before_losses};
pub use sheet::{Amounts, BuildSheet, Figures, PrefermentSheet, Sheet, SoakerSheet};
pub use warn::{FormulaError, Warning};

use crate::flour::Flour;
use crate::named::named;
use quantity::{Grams, Percent};

/// The ingredients of a recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Formula {
    /// Flours with their shares of total flour; the shares make 100.
    pub flours: Vec<FlourShare>,
    /// All water poured, of total flour.
    pub water: Percent,
    /// All salt, of total flour.
    pub salt: Percent,
    /// Baker's yeast weighed into the final dough, of total flour; preferments have their own.
    pub yeast: Percent,
    /// In what form all baker's yeast of this formula is weighed.
    pub yeast_form: YeastForm,
    /// Part of the water held back and worked in late, of total flour.
    pub bassinage: Percent,
    /// Everything else: honey, milk, butter, seeds.
    pub others: Vec<Other>,
    /// Levains, poolishes and the like.
    pub preferments: Vec<Preferment>,
    /// Seeds and grains that drink before mixing.
    pub soakers: Vec<Soaker>,
}

/// A flour and its share of total flour.
#[derive(Debug, Clone, PartialEq)]
pub struct FlourShare {
    /// The flour.
    pub flour: Flour,
    /// Of total flour.
    pub share: Percent,
}

/// An ingredient that is neither flour, water, salt nor yeast.
#[derive(Debug, Clone, PartialEq)]
pub struct Other {
    /// What the baker calls it; unique within a recipe.
    pub name: String,
    /// Of total flour.
    pub share: Percent,
    /// Its own water; counts in the effective hydration only.
    pub water: Percent,
    /// Its own sugar that yeast can eat, as hexose.
    pub sugar: Percent,
    /// Its own fat.
    pub fat: Percent,
    /// Worked in after mixing (seeds, nuts, fruit).
    pub late: bool,
    /// Its row in the ingredient table, by USDA's food number; none when not named.
    pub usda: Option<u32>,
}

named! {
    /// What sort of preferment.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum PrefermentKind {
        /// Built from a living culture.
        Levain = "levain",
        /// Liquid, baker's yeast.
        Poolish = "poolish",
        /// Stiff, baker's yeast.
        Biga = "biga",
        /// A piece of ripe, salted dough.
        OldDough = "old dough",
    }
}

impl PrefermentKind {}

named! {
    /// How baker's yeast comes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum YeastForm {
        /// Compressed, some 30 % dry matter.
        #[default]
        Fresh = "fresh",
        /// Fine dried granules, mixed in dry.
        Instant = "instant",
        /// Dried granules, wetted first.
        ActiveDry = "active dry",
    }
}

impl YeastForm {
    /// Its weight that does the work of fresh yeast. Common practice, handbook rounding varies:
    /// 100 fresh are 33–40 instant or 40–50 active dry; ours are 33 and 40.
    pub fn for_fresh(self, fresh: Grams) -> Grams {
        fresh * self.per_fresh()
    }
    /// Fresh yeast that does the work of this much.
    pub fn as_fresh(self, weighed: Grams) -> Grams {
        weighed / self.per_fresh()
    }
    fn per_fresh(self) -> f64 {
        match self {
            Self::Fresh => 1.0,
            Self::Instant => 0.33,
            Self::ActiveDry => 0.4,
        }
    }
}

/// A part of the flour fermented ahead.
#[derive(Debug, Clone, PartialEq)]
pub struct Preferment {
    /// What the baker calls it; unique within a recipe.
    pub name: String,
    /// Kind.
    pub kind: PrefermentKind,
    /// Its flour, of total flour (seed counted in).
    pub prefermented_flour: Percent,
    /// Its water, of its flour, when ripe.
    pub hydration: Percent,
    /// Salt, of its flour.
    pub salt: Percent,
    /// Baker's yeast, of its flour.
    pub yeast: Percent,
    /// Its flours: name among [`Formula::flours`], share of its flour; shares make 100.
    pub flours: Vec<(String, Percent)>,
    /// The ripe culture that starts it; none when yeast alone does.
    pub seed: Option<Seed>,
    /// Feeding stages, first to last; one stage when empty.
    pub builds: Vec<Build>,
}

/// Ripe culture put into the first build.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seed {
    /// Seed, of the fresh flour of the first build (inoculation).
    pub inoculation: Percent,
    /// Water of the seed, of its flour.
    pub hydration: Percent,
    /// Counted in the total formula (used up), or perpetual: as much is taken out again.
    pub counted: bool,
}

/// One feeding stage of a levain built in several.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Build {
    /// Flour added, of the levain's fresh flour; all stages make 100.
    pub flour: Percent,
    /// Hydration once this stage is mixed.
    pub hydration: Percent,
}

/// Seeds or grains with water of their own, taken out of the formula's water.
#[derive(Debug, Clone, PartialEq)]
pub struct Soaker {
    /// What the baker calls it.
    pub name: String,
    /// Names among [`Formula::others`]; the soaker takes all of each.
    pub soaks: Vec<String>,
    /// Water, of the weight of what it soaks.
    pub water: Percent,
    /// Poured on boiling.
    pub scalded: bool,
}

impl Formula {
    /// Weights for a total flour.
    ///
    /// # Errors
    /// [`FormulaError`] when the shares do not fit together (no flour, shares that do not
    /// make 100, a levain that holds more water than the formula has…).
    pub fn sheet(&self, total_flour: Grams) -> Result<Sheet, FormulaError> {
        sheet::compute(self, total_flour)
    }

    /// Blend value by flour share: `of` picks protein, ash or moisture.
    pub fn blend(&self, of: impl Fn(&Flour) -> Percent) -> Percent {
        let total: f64 = self.flours.iter().map(|f| f.share.0).sum();
        let sum: f64 = self.flours.iter().map(|f| f.share.0 * of(&f.flour).0).sum();
        Percent(if total > 0.0 { sum / total } else { 0.0 })
    }

    /// Position of a flour by name.
    pub fn flour_index(&self, name: &str) -> Option<usize> {
        self.flours.iter().position(|f| f.flour.name == name)
    }
}

#[cfg(test)]
mod tests;
