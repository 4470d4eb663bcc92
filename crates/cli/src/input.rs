//! Reading recipe and kitchen files, and setting one into the other.

use crate::args::{BatchArgs, ClockArgs};
use crate::fail::Failure;
use crate::when::Clock;
use engine::belief::Belief;
use engine::file::{Problem, read_half_done, read_kitchen, read_oven_log, read_recipe};
use engine::formula::Scale;
use engine::kitchen::Kitchen;
use engine::parameters::ParameterSet;
use engine::plan::Happened;
use engine::recipe::Recipe;
use quantity::Grams;
use std::io::Read;
use std::path::Path;

/// The text of a file, or of standard input for `-`; at most a little more than is ever read.
fn text_of(path: &Path) -> Result<String, Failure> {
    let most = engine::file::MAX_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin().take(most).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|f| f.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|e| Failure::read(path, &e))?;
    String::from_utf8(bytes).map_err(|_| {
        Failure::wish(
            format!("{} is not text", path.display()),
            "recipes and kitchens are TOML files in UTF-8",
        )
    })
}

fn parsed<T>(path: &Path, read: impl Fn(&str) -> Result<T, Vec<Problem>>) -> Result<T, Failure> {
    let text = text_of(path)?;
    read(&text).map_err(|problems| Failure::File {
        name: path.display().to_string(),
        text,
        problems,
    })
}

pub(crate) fn recipe(path: &Path) -> Result<Recipe, Failure> {
    parsed(path, read_recipe)
}

pub(crate) fn kitchen(args: &BatchArgs) -> Result<Kitchen, Failure> {
    let Some(path) = args.kitchen.as_deref() else { return Ok(Kitchen::unknown()) };
    let mut kitchen = parsed(path, read_kitchen)?;
    if let Some(name) = &kitchen.oven.log.file {
        // beside the kitchen file; here, when that comes from standard input
        let beside = path.parent().filter(|_| path.as_os_str() != "-");
        kitchen.oven.log.points =
            parsed(&beside.unwrap_or(Path::new("")).join(name), read_oven_log)?;
    }
    Ok(kitchen)
}

/// A half-done bake of a recipe.
pub(crate) fn half_done(path: &Path, recipe: &Recipe, clock: &Clock) -> Result<Happened, Failure> {
    parsed(path, |text| read_half_done(text, recipe, &|t| clock.past(t)))
}

/// A belief by name, or from a file.
pub(crate) fn belief(name: &Path) -> Result<Belief, Failure> {
    match name.to_str().and_then(Belief::named) {
        Some(known) => Ok(known.clone()),
        None if !name.exists() && name.as_os_str() != "-" => Err(Failure::wish(
            format!("{} is no belief that comes with grigne, and no file", name.display()),
            format!("choose from {}, or name a belief file", Belief::NAMES.join(", ")),
        )),
        None => parsed(name, Belief::from_toml),
    }
}

/// Total flour for what was asked.
pub(crate) fn total_flour(
    args: &BatchArgs,
    recipe: &Recipe,
    kitchen: &Kitchen,
) -> Result<Grams, Failure> {
    let scale = if let Some(n) = args.pieces {
        Scale::Pieces(n)
    } else if let Some(g) = args.flour {
        Scale::Flour(g)
    } else if let Some(g) = args.dough {
        Scale::Dough(g)
    } else if let Some(g) = args.starter {
        Scale::Starter(g)
    } else if args.fill_hearth {
        let h = kitchen.hearth.ok_or_else(|| {
            Failure::wish(
                format!("{} has no hearth to fill", kitchen.name),
                "name a kitchen with -k that has [hearth] with width and depth",
            )
        })?;
        Scale::Hearth { width: h.width, depth: h.depth }
    } else {
        Scale::Pieces(recipe.yields.pieces)
    };
    let flour = scale.total_flour(&recipe.formula, &recipe.yields).map_err(Failure::plain)?;
    if flour.0 > 1e6 {
        return Err(Failure::wish(
            format!("that is {:.0} kg of flour", flour.0 / 1000.0),
            "grigne is for one oven: ask for less than a tonne of flour",
        ));
    }
    Ok(flour)
}

pub(crate) fn parameters(clock: &ClockArgs) -> Result<&'static ParameterSet, Failure> {
    ParameterSet::named(&clock.parameters).ok_or_else(|| {
        Failure::wish(
            format!("there is no parameter set \"{}\"", clock.parameters),
            format!("choose from {}", ParameterSet::NAMES.join(", ")),
        )
    })
}
