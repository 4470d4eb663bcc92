//! Flour as it comes from the sack: grain, protein, ash, moisture, and the
//! arithmetic of blending.
//!
//! Bases differ by country and are stated at each field: protein as is (N × 5.7 for
//! wheat), ash on dry matter as European types print it. What the dough model makes
//! of a flour (buffer, sugars, enzymes, gas holding) is in
//! [`parameters`](crate::parameters).

use crate::named::named;
use quantity::{Grams, Percent};

named! {
    /// The grain a flour is milled from.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum Grain {
        /// *Triticum aestivum* and, for want of data of their own, other wheats.
        Wheat = "wheat",
        /// Spelt; simulated as wheat.
        Spelt = "spelt",
        /// Durum; simulated as wheat.
        Durum = "durum",
        /// Rye.
        Rye = "rye",
        /// Anything else ground and counted as flour; brings no gluten.
        Other = "other",
    }
}

/// One flour.
#[derive(Debug, Clone, PartialEq)]
pub struct Flour {
    /// What the baker calls it; unique within a recipe.
    pub name: String,
    /// Grain.
    pub grain: Grain,
    /// Protein as is (at its own moisture), N × 5.7.
    pub protein: Percent,
    /// Ash on dry matter.
    pub ash: Percent,
    /// Moisture as is.
    pub moisture: Percent,
    /// Falling number, s (ICC 107): 250 when unknown.
    pub falling_number_s: f64,
    /// Its row in the ingredient table, by USDA's food number; none when not named.
    pub usda: Option<u32>,
}

impl Flour {
    /// A plain white bread flour: 12 % protein, 0.55 % ash, 14 % moisture.
    pub fn white(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            grain: Grain::Wheat,
            protein: Percent(12.0),
            ash: Percent(0.55),
            moisture: Percent(14.0),
            falling_number_s: 250.0,
            usda: None,
        }
    }
}

/// Shares of a strong and a weak flour that reach a target (Pearson square).
///
/// Linear in what is blended: protein, ash, moisture. Not for falling number.
///
/// ```
/// use engine::flour::pearson_square;
/// use quantity::Percent;
/// let high = pearson_square(Percent(12.5), Percent(9.5), Percent(11.5))?;
/// assert!((high.0 - 66.666_667).abs() < 1e-6);
/// # Ok::<(), engine::flour::OutsideBlend>(())
/// ```
///
/// # Errors
/// [`OutsideBlend`] when the target lies outside the two.
pub fn pearson_square(
    high: Percent,
    low: Percent,
    target: Percent,
) -> Result<Percent, OutsideBlend> {
    let (hi, lo) = (high.max(low), high.min(low));
    if !(lo.0..=hi.0).contains(&target.0) || hi == lo {
        return Err(OutsideBlend { low: lo, high: hi, target });
    }
    let parts_of_first = (target - low) / (high - low);
    Ok(Percent(100.0 * parts_of_first))
}

/// A blend target outside what the flours span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutsideBlend {
    /// Lower of the two.
    pub low: Percent,
    /// Higher of the two.
    pub high: Percent,
    /// What was asked for.
    pub target: Percent,
}

impl std::fmt::Display for OutsideBlend {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} cannot be blended from {} and {}: it lies outside them",
            self.target.show_fine(),
            self.low.show_fine(),
            self.high.show_fine()
        )
    }
}
impl std::error::Error for OutsideBlend {}

/// Vital gluten to add to a flour to raise its protein; all as is.
///
/// # Errors
/// [`OutsideBlend`] when the target is below the flour or above the gluten.
pub fn gluten_addition(
    flour: Grams,
    flour_protein: Percent,
    gluten_protein: Percent,
    target: Percent,
) -> Result<Grams, OutsideBlend> {
    let share = pearson_square(gluten_protein, flour_protein, target)?.fraction();
    Ok(flour * (share / (1.0 - share)))
}

/// Protein or ash moved from one moisture to another (100 − moisture scales it).
pub fn at_moisture(value: Percent, from: Percent, to: Percent) -> Percent {
    value * ((100.0 - to.0) / (100.0 - from.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Basis: computed by hand; Pearson square, gluten addition (SR28 proteins, as is),
    /// moisture basis.
    #[test]
    fn blending_vectors() {
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b.abs().max(1.0), "{a} {b}");
        let p = |h, l, t| pearson_square(Percent(h), Percent(l), Percent(t));
        close(p(14.0, 10.0, 11.0).unwrap().0, 25.0);
        assert!(p(12.0, 10.0, 13.0).is_err());
        let g =
            gluten_addition(Grams(1000.0), Percent(10.33), Percent(75.16), Percent(12.5)).unwrap();
        close(g.0, 34.631_344);
        close(at_moisture(Percent(11.98), Percent(13.36), Percent(0.0)).0, 13.827_331);
        close(at_moisture(Percent(11.98), Percent(13.36), Percent(14.0)).0, 11.891_505);
        close(at_moisture(Percent(0.55), Percent(0.0), Percent(14.0)).0, 0.473);
    }
}
