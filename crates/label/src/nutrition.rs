//! What a dough holds, and the bread that is left of it when water has gone.
//!
//! Conventions, stated once. A levain is counted as its flour and water. What fermentation eats,
//! some 1 to 2 % of the flour as gas and alcohol (common practice), is left out, and so is what
//! baking does to vitamins. All weight lost is water: losing it concentrates the rest.

use crate::Decimal;
use crate::food::{Content, Nutrient};

/// A sum that knows what it misses.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Amount {
    /// What is known of it.
    pub known: Decimal,
    /// Ingredients of which nobody knows how much they bring.
    pub missing: Vec<String>,
}

impl Amount {
    /// The whole; none when something is missing.
    pub fn value(&self) -> Option<Decimal> {
        self.missing.is_empty().then_some(self.known)
    }

    /// Sum of some, each times a factor.
    pub fn of(parts: &[(&Self, Decimal)]) -> Self {
        let mut out = Self::default();
        for (amount, by) in parts {
            out.known += amount.known * *by;
            for name in &amount.missing {
                if !out.missing.contains(name) {
                    out.missing.push(name.clone());
                }
            }
        }
        out
    }
}

/// All nutrients of something.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Nutrition(Vec<Amount>);

impl Nutrition {
    /// Of a nutrient.
    pub fn of(&self, n: Nutrient) -> Amount {
        self.0.get(n as usize).cloned().unwrap_or_default()
    }

    /// Of a dough: name, mass in g and content of each ingredient; none where nothing is known of
    /// it.
    pub fn of_dough(parts: &[(String, Decimal, Option<Content>)]) -> Self {
        let sum = |n: &Nutrient| {
            let mut out = Amount::default();
            for (name, mass, content) in parts {
                match content.as_ref().and_then(|c| c.of(*n)) {
                    _ if mass.is_zero() => {}
                    Some(x) => out.known += x * *mass,
                    None => out.missing.push(name.clone()),
                }
            }
            // the table is per 100 g
            Amount { known: out.known * Decimal::thousandths(10), ..out }
        };
        Self(Nutrient::ALL.iter().map(sum).collect())
    }

    /// The bread: so much dough less so much water. None when more is lost than there is water,
    /// or nothing is left.
    pub fn baked(&self, lost: Decimal) -> Option<Self> {
        let mut out = self.clone();
        let water = out.0.get_mut(Nutrient::Water as usize)?;
        if water.missing.is_empty() && water.known < lost {
            return None;
        }
        water.known = water.known - lost;
        Some(out)
    }

    /// Of `whole` grams, what `part` grams hold; nothing of nothing.
    #[must_use]
    pub fn share(&self, part: Decimal, whole: Decimal) -> Self {
        let one = |a: &Amount| Amount {
            known: (a.known * part).over(whole).unwrap_or_default(),
            missing: a.missing.clone(),
        };
        Self(self.0.iter().map(one).collect())
    }
}
