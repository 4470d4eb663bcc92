//! Reading recipe and kitchen files, and setting one into the other.

use crate::args::{BatchArgs, ClockArgs, LossArgs};
use crate::fail::Failure;
use crate::when::Clock;
use document::Much;
use document::label::LossAsked;
use engine::belief::Belief;
use engine::file::{Problem, read_half_done, read_kitchen, read_oven_log, read_recipe};
use engine::formula::Scale;
use engine::kitchen::Kitchen;
use engine::parameters::ParameterSet;
use engine::plan::Happened;
use engine::recipe::Recipe;
use import::{Imported, Spoons};
use label::price::{Item, Prices, read_prices, read_stock};
use label::{Packet, read_packets};
use quantity::Grams;
use std::io::Read;
use std::path::{Path, PathBuf};

/// The text of a file, or of standard input for `-`; at most a little more than is ever read.
fn text_of(path: &Path) -> Result<String, Failure> {
    let bytes = bytes_of(path, engine::file::MAX_BYTES)?;
    String::from_utf8(bytes).map_err(|_| {
        Failure::wish(
            format!("{} is not text", path.display()),
            "recipes and kitchens are TOML files in UTF-8",
        )
    })
}

fn bytes_of(path: &Path, most: usize) -> Result<Vec<u8>, Failure> {
    let most = most as u64 + 1;
    let mut bytes = Vec::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin().take(most).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|f| f.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|e| Failure::read(path, &e))?;
    Ok(bytes)
}

/// What somebody else wrote down as a recipe.
pub(crate) fn imported(path: &Path, spoons: Option<Spoons>) -> Result<Imported, Failure> {
    let text = String::from_utf8(bytes_of(path, import::MAX_BYTES)?).map_err(|_| {
        Failure::wish(
            format!("{} is not text", path.display()),
            "import reads text, JSON or a saved page, in UTF-8",
        )
    })?;
    import::import(&text, spoons).map_err(|problems| Failure::File {
        name: path.display().to_string(),
        text,
        problems,
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

/// The kitchen, and whether one was named: without, a recipe's own loss and times count.
pub(crate) fn named_kitchen(args: &BatchArgs) -> Result<(Option<Kitchen>, Kitchen), Failure> {
    let kitchen = kitchen(args)?;
    Ok((args.kitchen.is_some().then(|| kitchen.clone()), kitchen))
}

/// How the loss was asked for.
pub(crate) fn loss(args: &LossArgs) -> LossAsked {
    LossAsked { loss: args.loss, dough_weight: args.dough_weight, baked_weight: args.baked_weight }
}

/// Ingredients from packets; of one that stands in several files the first counts.
pub(crate) fn packets(paths: &[PathBuf]) -> Result<Vec<Packet>, Failure> {
    let mut out = Vec::new();
    for path in paths {
        out.extend(parsed(path, read_packets)?);
    }
    Ok(out)
}

pub(crate) fn prices(path: &Path) -> Result<Prices, Failure> {
    parsed(path, read_prices)
}

pub(crate) fn stock(path: &Path) -> Result<Vec<Item>, Failure> {
    parsed(path, read_stock)
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
    let much = if let Some(n) = args.pieces {
        Much::Scale(Scale::Pieces(n))
    } else if let Some(g) = args.flour {
        Much::Scale(Scale::Flour(g))
    } else if let Some(g) = args.dough {
        Much::Scale(Scale::Dough(g))
    } else if let Some(g) = args.starter {
        Much::Scale(Scale::Starter(g))
    } else if args.fill_hearth {
        Much::Hearth
    } else {
        Much::Written
    };
    Ok(document::total_flour(much, recipe, kitchen)?)
}

pub(crate) fn parameters(clock: &ClockArgs) -> Result<&'static ParameterSet, Failure> {
    Ok(document::parameters(&clock.parameters)?)
}
