//! What is wrong with a formula (errors) and what is unusual in it (warnings).

use super::{Formula, Sheet};
use crate::flour::Grain;
use quantity::{Grams, Percent};
use std::fmt;

/// Why no sheet can be computed.
#[derive(Debug, Clone, PartialEq)]
pub enum FormulaError {
    /// There is no flour.
    NoFlour,
    /// Shares that should make 100 do not.
    NotAHundred {
        /// Which shares.
        of: String,
        /// What they make.
        sum: Percent,
    },
    /// A preferment uses a flour the formula does not have.
    UnknownFlour {
        /// The preferment.
        preferment: String,
        /// The flour asked for.
        flour: String,
    },
    /// A preferment uses more of a flour than the formula has.
    TooMuchFlour {
        /// The flour.
        flour: String,
        /// Used by the preferments.
        used: Grams,
        /// In the total formula.
        has: Grams,
    },
    /// Preferments and soakers hold more water than the formula.
    TooMuchWater {
        /// Held by them.
        used: Grams,
        /// In the total formula.
        has: Grams,
    },
    /// Preferments hold more salt than the formula.
    TooMuchSalt {
        /// Held by them.
        used: Grams,
        /// In the total formula.
        has: Grams,
    },
    /// A build would have to take water out.
    DryBuild {
        /// The preferment.
        preferment: String,
        /// Which build, from 1.
        build: usize,
    },
    /// A soaker names an ingredient the formula does not have.
    UnknownSoaked {
        /// The soaker.
        soaker: String,
        /// The name asked for.
        name: String,
    },
    /// Two soakers take the same ingredient.
    SoakedTwice {
        /// The ingredient.
        name: String,
    },
    /// More water is held back than goes into the final dough.
    TooMuchBassinage,
    /// A number is negative, not finite, or zero where it cannot be.
    BadNumber {
        /// Which.
        what: String,
    },
}

impl fmt::Display for FormulaError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoFlour => write!(f, "there is no flour in the formula"),
            Self::NotAHundred { of, sum } => {
                write!(f, "{of} make {}, not 100 %", sum.show_fine())
            }
            Self::UnknownFlour { preferment, flour } => {
                write!(f, "the {preferment} uses \"{flour}\", which is not among the flours")
            }
            Self::TooMuchFlour { flour, used, has } => write!(
                f,
                "the preferments use {used:.0} g of {flour}, the formula has {has:.0} g",
                used = used.0,
                has = has.0
            ),
            Self::TooMuchWater { used, has } => write!(
                f,
                "preferments and soakers hold {:.0} g of water, the whole formula has {:.0} g",
                used.0, has.0
            ),
            Self::TooMuchSalt { used, has } => write!(
                f,
                "the preferments hold {:.1} g of salt, the whole formula has {:.1} g",
                used.0, has.0
            ),
            Self::DryBuild { preferment, build } => write!(
                f,
                "build {build} of the {preferment} would have to take water out to reach its hydration"
            ),
            Self::UnknownSoaked { soaker, name } => {
                write!(f, "\"{soaker}\" soaks \"{name}\", which is not among the ingredients")
            }
            Self::SoakedTwice { name } => write!(f, "two soakers soak \"{name}\""),
            Self::TooMuchBassinage => {
                write!(f, "more water is held back than goes into the final dough")
            }
            Self::BadNumber { what } => write!(f, "{what} is negative, missing or not a number"),
        }
    }
}
impl std::error::Error for FormulaError {}

impl FormulaError {
    /// How to mend it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoFlour => "add a [[formula.flour]] with its share",
            Self::NotAHundred { .. } => "adjust the shares until they make 100 %",
            Self::UnknownFlour { .. } => "name it exactly as in [[formula.flour]]",
            Self::TooMuchFlour { .. } => "lower the prefermented flour or raise this flour's share",
            Self::TooMuchWater { .. } => {
                "raise the water, or make the levain stiffer or smaller, or soak with less"
            }
            Self::TooMuchSalt { .. } => "salt in percent of total flour includes the old dough's",
            Self::DryBuild { .. } => "raise this build's hydration or use a stiffer seed",
            Self::UnknownSoaked { .. } => "name it exactly as in [[formula.other]]",
            Self::SoakedTwice { .. } => "a soaker takes all of an ingredient: split the ingredient",
            Self::TooMuchBassinage => "lower the bassinage",
            Self::BadNumber { .. } => "write a number from zero up",
        }
    }
}

/// Something unusual, in plain words; never a refusal. All ranges are common practice,
/// no source, unless the variant says otherwise.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// Salt outside 1.8–2.2 % of total flour.
    Salt(Percent),
    /// No salt at all.
    NoSalt,
    /// More water than flour of this strength usually carries.
    Slack {
        /// Effective hydration.
        hydration: Percent,
        /// What this blend usually carries at most.
        usual: Percent,
    },
    /// Less water than hearth doughs usually have.
    Stiff(Percent),
    /// Prefermented flour outside 10–40 %.
    Prefermented(Percent),
    /// Seed outside 5–60 % of the flour it meets.
    Inoculation {
        /// The levain.
        preferment: String,
        /// Its seed, of fresh flour.
        inoculation: Percent,
    },
    /// A lot of rye and little of it soured.
    SweetRye {
        /// Rye, of total flour.
        rye: Percent,
        /// Of that rye, prefermented.
        soured: Percent,
    },
    /// Enough sugar to slow yeast by osmosis, which the model leaves out.
    Sugar(Percent),
    /// Weak flour for a hearth loaf.
    WeakFlour(Percent),
    /// Nothing raises this dough.
    NoLeavening,
    /// Whole-loaf salt in water: above the lactobacilli's limit the model uses (4 % of the water phase).
    SaltyWater(Percent),
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Salt(p) if p.0 > 2.2 => write!(
                f,
                "salt is {} of flour; most bread has 1.8 to 2.2 %. It will taste salty and ferment slower",
                p.show_fine()
            ),
            Self::Salt(p) => write!(
                f,
                "salt is {} of flour; most bread has 1.8 to 2.2 %. It will taste flat and ferment faster",
                p.show_fine()
            ),
            Self::NoSalt => {
                write!(f, "there is no salt; some regional breads mean it, most forgot it")
            }
            Self::Slack { hydration, usual } => write!(
                f,
                "effective hydration is {}; flour of this protein and ash is comfortable up to about {}. Expect a slack dough",
                hydration.show(),
                usual.show()
            ),
            Self::Stiff(p) => write!(
                f,
                "effective hydration is {}; hearth doughs are seldom below 58 %. Expect a tight crumb",
                p.show()
            ),
            Self::Prefermented(p) => write!(
                f,
                "{} of the flour is prefermented; 10 to 40 % is usual. Times far from habit follow",
                p.show()
            ),
            Self::Inoculation { preferment, inoculation } => write!(
                f,
                "the {preferment} is seeded with {} of its flour; 5 to 60 % is usual",
                inoculation.show()
            ),
            Self::SweetRye { rye, soured } => write!(
                f,
                "{} of the flour is rye and only {} of it is soured; rye enzymes make a gummy crumb without acid (a quarter to a half is usual)",
                rye.show(),
                soured.show()
            ),
            Self::Sugar(p) => write!(
                f,
                "added sugar is {} of flour; above 5 % it slows yeast by osmosis, which the simulation leaves out",
                p.show()
            ),
            Self::WeakFlour(p) => write!(
                f,
                "the blend has {} protein; below about 10.5 % a wheat hearth loaf spreads",
                p.show()
            ),
            Self::NoLeavening => {
                write!(f, "no levain, preferment or yeast: nothing raises this dough")
            }
            Self::SaltyWater(p) => write!(
                f,
                "salt is {} of the water in the dough; at 4 % the lactobacilli stop",
                p.show()
            ),
        }
    }
}

/// What this formula does that bread seldom does.
pub(super) fn warnings(formula: &Formula, sheet: &Sheet) -> Vec<Warning> {
    let mut out = Vec::new();
    let fig = &sheet.figures;
    if formula.salt.0 == 0.0 {
        out.push(Warning::NoSalt);
    } else if !(1.8..=2.2).contains(&round2(formula.salt.0)) {
        out.push(Warning::Salt(formula.salt));
    }
    let share_of = |grain: Grain| -> f64 {
        formula.flours.iter().filter(|f| f.flour.grain == grain).map(|f| f.share.0).sum()
    };
    let rye = share_of(Grain::Rye);
    let wheat = 100.0 - rye - share_of(Grain::Other);
    // Habit: white flour of 11.5 % protein carries 74 %; 4 points more per point of protein,
    // 12 per point of ash, 12 per 100 of rye. Common practice, no source.
    let usual = Percent(
        74.0 + 4.0 * (fig.protein.0 - 11.5) + 12.0 * (fig.ash.0 - 0.55).max(0.0) + 0.12 * rye,
    );
    if fig.effective_hydration > usual {
        out.push(Warning::Slack { hydration: fig.effective_hydration, usual });
    } else if fig.effective_hydration.0 < 58.0 {
        out.push(Warning::Stiff(fig.effective_hydration));
    }
    if wheat > 60.0 && fig.protein.0 < 10.5 {
        out.push(Warning::WeakFlour(fig.protein));
    }
    let raised = formula.yeast.0 > 0.0
        || formula.preferments.iter().any(|p| p.seed.is_some() || p.yeast.0 > 0.0);
    if !raised {
        out.push(Warning::NoLeavening);
    }
    let pff = fig.prefermented_flour;
    if !formula.preferments.is_empty() && !(10.0..=40.0).contains(&round2(pff.0)) {
        out.push(Warning::Prefermented(pff));
    }
    for p in &formula.preferments {
        if let Some(seed) = p.seed
            && !(5.0..=60.0).contains(&round2(seed.inoculation.0))
        {
            out.push(Warning::Inoculation {
                preferment: p.name.clone(),
                inoculation: seed.inoculation,
            });
        }
    }
    if rye >= 30.0 {
        let soured: f64 = formula
            .preferments
            .iter()
            .filter(|p| p.seed.is_some())
            .flat_map(|p| p.flours.iter().map(move |(name, share)| (p, name, share)))
            .filter(|(_, name, _)| {
                formula
                    .flour_index(name)
                    .is_some_and(|i| formula.flours[i].flour.grain == Grain::Rye)
            })
            .map(|(p, _, share)| p.prefermented_flour.0 * share.fraction())
            .sum();
        let soured = Percent(100.0 * soured / rye);
        if soured.0 < 25.0 {
            out.push(Warning::SweetRye { rye: Percent(rye), soured });
        }
    }
    if fig.added_sugar.0 > 5.0 {
        out.push(Warning::Sugar(fig.added_sugar));
    }
    if fig.salt_in_water.0 > 3.5 {
        out.push(Warning::SaltyWater(fig.salt_in_water));
    }
    out
}

/// So that 2.2 % written as a sum of floats is 2.2 %.
fn round2(x: f64) -> f64 {
    (x * 100.0).round() / 100.0
}
