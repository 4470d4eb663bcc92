//! What a bake costs: one column, and the three of a loaf, at both resolutions; and a loaf among
//! many.
//!
//! A baguette of 350 g, 22 min, steam; many rounds of 900 g on a stone, 40 min. How far each lies from the fine grid stands in
//! docs/science-bake.md.

use divan::counter::ItemsCount;
use engine::bake::{
    BakeParameters, BakeTrace, Baked, Loaf, Piece, Programme, Pull, Resolution, bake, bake_many,
};
use engine::hearth::{Hearth, Oven, Stage, Steam};
use engine::numerics::lanes::Width;
use engine::warmth::Shape;
use quantity::{Celsius, Grams, Kilopascal, Millimetres, Minutes, TempRise};

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

/// Whole loaves in ovens that differ, 64 at a time: look at the items per second.
#[divan::bench(args = [Width::One, Width::Four, Width::Eight])]
fn ensemble(bencher: divan::Bencher<'_, '_>, width: Width) {
    let pieces: Vec<Piece> = (0..64)
        .map(|i| {
            let x = f64::from(i) / 64.0;
            let shape = Shape::Boule { width: Millimetres(220.0) };
            let mass = Grams(850.0 + 100.0 * x);
            let loaf = Loaf::even(mass, shape, 300.0, 0.88 + 0.05 * x, Celsius(8.0 + 16.0 * x));
            Piece {
                knob_error: TempRise(20.0 * x - 10.0),
                transfer: 0.8 + 0.4 * x,
                ..Piece::of(loaf, &Oven::DECK)
            }
        })
        .collect();
    let mut stage = Stage::at(Celsius(245.0), Minutes(40.0));
    stage.steam = Steam::Held { pressure: Kilopascal(40.0), minutes: Minutes(6.0) };
    let mut programme = Programme::of(vec![stage]);
    programme.hearth = Hearth::stone();
    bencher.counter(ItemsCount::new(64_u32)).bench(|| -> Vec<Baked> {
        let (oven, parameters) = (&Oven::DECK, &BakeParameters::MENDED);
        let pieces = divan::black_box(&pieces);
        bake_many(pieces, oven, &programme, Resolution::Ensemble, parameters, Pull::AtEnd, width)
    });
}
