//! What a kitchen has to have for a way through the method: room in the fridge, bannetons, ripe
//! starter.

use crate::method::{Path, Place, Verb};
use crate::run::Setting;
use quantity::{Grams, Millilitres, Units};
use std::fmt;

/// Something there is not enough of.
#[derive(Debug, Clone, PartialEq)]
pub enum Lack {
    /// Room in the fridge.
    Fridge {
        /// For this dough and what it stands in.
        needs: Millilitres,
        /// There is.
        has: Millilitres,
        /// Pieces that would fit.
        pieces: u32,
    },
    /// Bannetons.
    Bannetons {
        /// Pieces.
        needs: u32,
        /// There are.
        has: u32,
    },
    /// Ripe starter.
    Starter {
        /// Seed of all levains.
        needs: Grams,
        /// There is.
        has: Grams,
    },
}

/// Room a dough and its bowl or bannetons take up in a fridge, litres per kilogram: risen to
/// twice its volume it takes 1.8, the rest is rims and corners. *Ours, no source.*
const LITRES_PER_KG: f64 = 2.5;

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let show = |v: &Millilitres| format!("{:.1}\u{a0}l", v.0 / 1000.0);
        match self {
            Self::Fridge { needs, has, pieces } => write!(
                f,
                "the dough takes {} of fridge in its vessels and there are {}: {} would fit",
                show(needs),
                show(has),
                match pieces {
                    0 => "not one piece".to_owned(),
                    1 => "one piece".to_owned(),
                    n => format!("{n} pieces"),
                }
            ),
            Self::Bannetons { needs, has } => {
                write!(f, "{needs} pieces proof at once, in {has} bannetons")
            }
            Self::Starter { needs, has } => write!(
                f,
                "the levain takes {} of ripe starter and you keep {}",
                needs.show(Units::Metric),
                has.show(Units::Metric)
            ),
        }
    }
}
impl std::error::Error for Lack {}

impl Lack {
    /// How to mend it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Fridge { .. } => {
                "make fewer pieces, give the recipe a way without the fridge, or write the space you really have as fridge.space in the kitchen file"
            }
            Self::Bannetons { .. } => {
                "make fewer pieces, or write the bannetons and bowls you have as bannetons in the kitchen file"
            }
            Self::Starter { .. } => {
                "feed the starter up the day before, lower the levain's seed, or write what you can keep as culture.stock in the kitchen file"
            }
        }
    }
}

/// Fridge a dough takes in its vessels.
pub(super) fn fridge_room(setting: &Setting<'_>) -> Millilitres {
    Millilitres(setting.sheet.dough().0 * LITRES_PER_KG)
}

/// Whether a kitchen has what one way through the method needs.
///
/// # Errors
/// [`Lack`]: the first thing there is not enough of.
pub fn limits(setting: &Setting<'_>, path: Path) -> Result<(), Lack> {
    let (kitchen, method) = (setting.kitchen, &setting.recipe.method);
    let pieces = setting.pieces();
    let main = method.main_line(path);
    let on_main =
        |f: &dyn Fn(&crate::method::Step) -> bool| main.iter().any(|&i| f(&method.steps[i]));
    if let Some(has) = kitchen.fridge.space {
        let needs = fridge_room(setting);
        if needs > has && on_main(&|s| s.place == Place::Fridge) {
            let each = needs.0 / f64::from(pieces);
            return Err(Lack::Fridge { needs, has, pieces: (has.0 / each) as u32 });
        }
    }
    if let Some(has) = kitchen.bannetons
        && pieces > has
        && on_main(&|s| s.verb == Verb::Shape)
    {
        return Err(Lack::Bannetons { needs: pieces, has });
    }
    if let Some(has) = kitchen.culture.stock {
        let seeds = setting.sheet.preferments.iter().filter_map(|p| p.builds.first());
        let needs = Grams(seeds.map(|b| b.seed.0).sum());
        if needs > has {
            return Err(Lack::Starter { needs, has });
        }
    }
    Ok(())
}
