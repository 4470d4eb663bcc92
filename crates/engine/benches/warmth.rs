//! What a night of dough temperature costs.

use engine::warmth::{Air, Body, DoughThermal, Shape, Surroundings, Vessel};
use quantity::{Celsius, Grams, Hours, TempRise};

fn main() {
    divan::main();
}

fn tub() -> Body {
    let warm = Celsius(25.0);
    Body::new(Grams(1000.0), Vessel::Tub, Shape::Lump, warm, DoughThermal::LIGHTLY_RISEN)
}

/// 36 h of 1 kg in a fridge at 7.5 min: 288 steps.
#[divan::bench]
fn fridge_for_36_hours() -> Celsius {
    let fridge =
        Surroundings::Fridge { mean: Celsius(5.0), warms_by: TempRise(2.0), settles: Hours(3.0) };
    let step = Hours(0.125);
    let mut body = divan::black_box(tub());
    for i in 0..288 {
        let since = step * f64::from(i);
        body.step(step, fridge.over(0.0, since, step), 0.02);
    }
    body.mean()
}

/// The same with the air given: the kernel alone.
#[divan::bench]
fn kernel_for_36_hours() -> Celsius {
    let mut body = divan::black_box(tub());
    for _ in 0..288 {
        body.step(Hours(0.125), Celsius(5.0), 0.02);
    }
    body.mean()
}

/// Laying out a new body: grid, shares, rates.
#[divan::bench]
fn divide_and_shape() -> Body {
    let mut body = divan::black_box(tub());
    let boule = Shape::Boule { width: quantity::Millimetres(190.0) };
    body.resize(Grams(500.0), Vessel::Banneton, boule);
    body.move_to(Air::Fan);
    body
}
