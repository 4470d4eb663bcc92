//! What a bake costs: one column, and the three of a loaf, at both resolutions.
//!
//! A baguette of 350 g, 22 min, steam. How far each lies from the fine grid stands in
//! docs/science-bake.md.

use engine::bake::{BakeTrace, Loaf, Programme, Resolution, bake};
use engine::hearth::{Hearth, Oven, Stage, Steam};
use engine::warmth::Shape;
use quantity::{Celsius, Grams, Kilopascal, Millimetres, Minutes};

fn main() {
    divan::main();
}

fn on(hearth: Hearth, resolution: Resolution) -> BakeTrace {
    let shape = Shape::Log { length: Millimetres(550.0) };
    let loaf = Loaf::even(Grams(350.0), shape, 270.0, 0.9, Celsius(22.0));
    let mut stage = Stage::at(Celsius(245.0), Minutes(22.0));
    stage.steam = Steam::Held { pressure: Kilopascal(40.0), minutes: Minutes(6.0) };
    let mut programme = Programme::of(vec![stage]);
    programme.hearth = hearth;
    bake(divan::black_box(&loaf), &Oven::DECK, &programme, resolution)
}

/// Two columns alike (the whole and the top): halve it for one.
#[divan::bench(args = [Resolution::Preview, Resolution::Publish])]
fn two_columns(resolution: Resolution) -> BakeTrace {
    on(Hearth::Grid, resolution)
}

/// The whole loaf, its top and its base on a stone.
#[divan::bench(args = [Resolution::Preview, Resolution::Publish])]
fn three_columns(resolution: Resolution) -> BakeTrace {
    on(Hearth::stone(), resolution)
}
