//! How much of a recipe, by which way, with which numbers.

use crate::Problem;
use engine::fit::can;
use engine::formula::Scale;
use engine::kitchen::Kitchen;
use engine::method::Path;
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use engine::run::Setting;
use quantity::Grams;

/// How much to make.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Much {
    /// As the recipe says.
    Written,
    /// So much.
    Scale(Scale),
    /// One load of the kitchen's hearth.
    Hearth,
}

/// Total flour for what was asked.
///
/// # Errors
/// [`Problem`] when there is nothing to scale by, or far too much of it.
pub fn total_flour(much: Much, recipe: &Recipe, kitchen: &Kitchen) -> Result<Grams, Problem> {
    let scale = match much {
        Much::Written => Scale::Pieces(recipe.yields.pieces),
        Much::Scale(scale) => scale,
        Much::Hearth => {
            let h = kitchen.hearth.ok_or_else(|| {
                Problem::wish(
                    format!("{} has no hearth to fill", kitchen.name),
                    "give a kitchen that has [hearth] with width and depth",
                )
            })?;
            Scale::Hearth { width: h.width, depth: h.depth }
        }
    };
    let flour = scale.total_flour(&recipe.formula, &recipe.yields).map_err(Problem::plain)?;
    if flour.0 > 1e6 {
        return Err(Problem::wish(
            format!("that is {:.0} kg of flour", flour.0 / 1000.0),
            "grigne is for one oven: ask for less than a tonne of flour",
        ));
    }
    Ok(flour)
}

/// A parameter set by its name.
///
/// # Errors
/// [`Problem`] with the names there are.
pub fn parameters(name: &str) -> Result<&'static ParameterSet, Problem> {
    ParameterSet::named(name).ok_or_else(|| {
        Problem::wish(
            format!("there is no parameter set \"{name}\""),
            format!("choose from {}", ParameterSet::NAMES.join(", ")),
        )
    })
}

/// The way through the method that was asked for.
///
/// # Errors
/// [`Problem`] with the ways there are.
pub fn chosen(recipe: &Recipe, path: Path) -> Result<Path, Problem> {
    let paths = recipe.method.paths();
    if paths.contains(&path) {
        return Ok(path);
    }
    let known: Vec<&str> = paths.iter().map(|p| p.words()).collect();
    Err(Problem::wish(
        format!("this recipe has no steps for {}", path.words()),
        format!("it has {}", known.join("; ")),
    ))
}

/// Refuses what this oven, hearth or kitchen cannot do.
///
/// # Errors
/// [`Problem`] saying what.
pub fn fits_the_oven(setting: &Setting<'_>, path: Path) -> Result<(), Problem> {
    can(setting, path).map_err(|c| Problem::wish(c.to_string(), c.hint()))
}
