//! What an oven, a hearth or a kitchen cannot do, and what to know before using them so.

use super::loads::LOADS_MAX;
use super::{Celsius, Minutes, Path, Setting};
use crate::layout::weight_note;
use crate::method::Liner;
use quantity::{Millimetres, Units};
use std::fmt;

/// Why a recipe cannot be baked here.
#[derive(Debug, Clone, PartialEq)]
pub enum Cannot {
    /// No piece lies on the hearth.
    HearthTooSmall {
        /// Of a piece.
        length: Millimetres,
        /// Of the hearth, left to right.
        width: Millimetres,
        /// Of the hearth, front to back.
        depth: Millimetres,
    },
    /// More loads than a baker can stand by.
    TooManyLoads {
        /// Pieces in the batch.
        pieces: u32,
        /// Loads they make.
        loads: u32,
    },
    /// No bake step on this path.
    NoBake,
    /// Hotter than this oven gets.
    TooHot {
        /// Asked for.
        asked: Celsius,
        /// Its highest.
        most: Celsius,
    },
    /// Cooler than this oven can be set.
    TooCool {
        /// Asked for.
        asked: Celsius,
        /// Its lowest.
        least: Celsius,
    },
    /// A lid without a pot.
    NoPot {
        /// The kitchen.
        kitchen: String,
    },
    /// Pan loaves stand in tins, not in a pot.
    TinInPot,
}

impl fmt::Display for Cannot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HearthTooSmall { length, width, depth } => write!(
                f,
                "a piece {:.0} cm long does not fit a hearth of {:.0} × {:.0} cm",
                length.0 / 10.0,
                width.0 / 10.0,
                depth.0 / 10.0
            ),
            Self::TooManyLoads { pieces, loads } => write!(
                f,
                "{pieces} pieces make {loads} loads in this oven; at most {LOADS_MAX} are followed"
            ),
            Self::NoBake => write!(f, "the recipe has no bake step"),
            Self::TooHot { asked, most } => write!(
                f,
                "the recipe asks for {:.0} °C, this oven reaches {:.0} °C",
                asked.0, most.0
            ),
            Self::TooCool { asked, least } => write!(
                f,
                "the recipe asks for {:.0} °C, this oven cannot be set below {:.0} °C",
                asked.0, least.0
            ),
            Self::NoPot { kitchen } => {
                write!(f, "the recipe bakes under a lid, {kitchen} has no pot")
            }
            Self::TinInPot => write!(f, "the recipe bakes pan loaves under the lid of a pot"),
        }
    }
}
impl std::error::Error for Cannot {}

impl Cannot {
    /// How to mend it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::HearthTooSmall { .. } => {
                "make shorter pieces, or name a larger hearth in the kitchen file"
            }
            Self::TooManyLoads { .. } => {
                "make fewer pieces, or name a larger hearth in the kitchen file"
            }
            Self::NoBake => "add a [[step]] with do = \"bake\"",
            Self::TooHot { .. } => {
                "lower the bake steps, or say in [oven] of the kitchen file what it reaches (most)"
            }
            Self::TooCool { .. } => "switch it off instead: place = \"oven off\" at the bake step",
            Self::NoPot { .. } => {
                "add a [pot] with mass = \"5 kg\" (with its lid) to the kitchen file"
            }
            Self::TinInPot => "drop lid = true, or bake another shape",
        }
    }
}

/// Refuses what this oven, hearth or kitchen cannot do.
///
/// # Errors
/// [`Cannot`], the first thing found.
pub fn can(setting: &Setting<'_>, path: Path) -> Result<(), Cannot> {
    let kitchen = setting.kitchen;
    if let Some(l) = setting.loads()
        && l.loads.is_none()
    {
        let (length, _) = setting.recipe.yields.footprint();
        return Err(Cannot::HearthTooSmall { length, width: l.width, depth: l.depth });
    }
    if let Some((pieces, loads)) = setting.loads().and_then(|l| Some((l.pieces, l.loads?)))
        && loads > LOADS_MAX
    {
        return Err(Cannot::TooManyLoads { pieces, loads });
    }
    let programme = setting.programme(path, 1);
    if programme.stages.is_empty() {
        return Err(Cannot::NoBake);
    }
    let (least, most) = kitchen.oven.range();
    for asked in programme.stages.iter().filter_map(|s| s.set_point) {
        if asked > most {
            return Err(Cannot::TooHot { asked, most });
        }
        if asked < least {
            return Err(Cannot::TooCool { asked, least });
        }
    }
    if programme.stages.iter().any(|s| s.lid) {
        if programme.pot.is_none() {
            return Err(Cannot::NoPot { kitchen: kitchen.name.clone() });
        }
        if setting.recipe.yields.shape == crate::recipe::PieceShape::Pan {
            return Err(Cannot::TinInPot);
        }
    }
    Ok(())
}

/// What this kitchen does otherwise than the recipe says, or cannot vouch for: sentences
/// without a full stop. `bake` is how long the bread is in.
pub fn notes(setting: &Setting<'_>, path: Path, bake: Minutes, units: Units) -> Vec<String> {
    let kitchen = setting.kitchen;
    let recipe = setting.recipe;
    let y = &recipe.yields;
    let programme = setting.programme(path, 1);
    let first = programme.stages.iter().find_map(|s| s.set_point);
    let mut out = Vec::new();
    let scaled = setting.sheet.dough() * (1.0 - y.process_loss.fraction());
    out.extend(weight_note(y.shape, y.piece.min(scaled), y.length.unwrap_or(Millimetres(0.0))));

    let preheat = recipe.method.preheat(path).and_then(|i| recipe.method.steps[i].temperature);
    let (_, most) = kitchen.oven.range();
    if let Some(asked) = preheat.filter(|t| *t > most) {
        out.push(format!(
            "the recipe heats the oven to {}, this one reaches {}: it is heated to that",
            asked.show(units),
            most.show(units)
        ));
    }
    let liner = setting.oven_steps(path, 1).into_iter().find_map(|i| recipe.method.steps[i].liner);
    let hottest = programme.stages.iter().filter_map(|s| s.set_point).reduce(Celsius::max);
    if let (Some(liner), Some(hottest)) = (liner, hottest)
        && let Some(rated) = kitchen.rated(liner).filter(|r| hottest > *r)
    {
        out.push(format!(
            "the {} is rated to {} by its maker, the oven stands at {}: bake without it, or cooler",
            liner_words(liner),
            rated.show(units),
            hottest.show(units)
        ));
    }
    let log = &kitchen.oven.log;
    if let Some(ends) = log.ends() {
        out.push(format!(
            "oven air and walls follow the log of this oven, {} long, whatever set points and door do",
            ends.show()
        ));
        if bake > ends {
            out.push(format!(
                "the log ends {} before the bread comes out: its last reading is held until then",
                (bake - ends).show()
            ));
        }
        if let (Some(was), Some(is)) = (log.knob, first)
            && (was - is).0.abs() > 5.0
        {
            out.push(format!(
                "the oven was logged at a setting of {}, the recipe begins at {}: log it again",
                was.show(units),
                is.show(units)
            ));
        }
    }
    out
}

/// A liner in the middle of a sentence.
pub(crate) fn liner_words(liner: Liner) -> &'static str {
    match liner {
        Liner::Paper => "baking paper",
        Liner::Mat => "baking mat",
    }
}
