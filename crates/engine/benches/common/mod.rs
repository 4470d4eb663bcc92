//! The scene the benches share.

use engine::file::{read_kitchen, read_recipe};
use engine::formula::Scale;
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use engine::run::Setting;
use jiff::civil::datetime;

pub(crate) fn bundled() -> (Recipe, Kitchen) {
    let recipe = include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    let kitchen = include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml");
    (read_recipe(recipe).expect("bundled"), read_kitchen(kitchen).expect("bundled"))
}

pub(crate) fn settle<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Setting<'a> {
    let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).expect("bundled");
    let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
    Setting::new(recipe, kitchen, ParameterSet::default_set(), flour, calendar).expect("bundled")
}
