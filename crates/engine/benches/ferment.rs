//! What a dough costs: one evaluation of the rates, and a bulk with a night in the fridge.

use engine::culture::Culture;
use engine::ferment::{Dough, Mix};
use engine::flour::Flour;
use engine::parameters::ParameterSet;
use quantity::{Celsius, Grams, Hours};

fn main() {
    divan::main();
}

fn dough() -> Dough {
    let set = ParameterSet::default_set();
    let seed = Culture::white().dough(set).unwrap_or_else(|e| panic!("{e}"));
    let mix = Mix {
        flours: vec![(Flour::white("white"), Grams(1000.0))],
        water: Grams(700.0),
        salt: Grams(20.0),
        preferments: vec![(seed, Grams(200.0))],
        ..Mix::empty(Celsius(25.0))
    };
    Dough::mix(&mix, set).unwrap_or_else(|e| panic!("{e}"))
}

/// The rates once, with what goes with composition and temperature.
#[divan::bench]
fn rates(bencher: divan::Bencher<'_, '_>) {
    let mut dough = dough();
    dough.ferment(Hours(3.0), |_| Celsius(25.0), Hours(0.25));
    bencher.bench_local(|| divan::black_box(&dough).co2_rate(Celsius(25.0)));
}

/// A step at constant temperature: four evaluations of the rates, one of what goes with
/// composition and temperature.
#[divan::bench]
fn one_step(bencher: divan::Bencher<'_, '_>) {
    let mut dough = dough();
    dough.ferment(Hours(3.0), |_| Celsius(25.0), Hours(0.25));
    let t = Celsius(25.0);
    bencher.with_inputs(|| dough.clone()).bench_local_refs(|d| d.step(Hours(0.25), t, t, t));
}

/// 36 h at 24 °C: bulk, ripe, far past; steps of 0.25 h.
#[divan::bench]
fn thirty_six_hours(bencher: divan::Bencher<'_, '_>) {
    let dough = dough();
    bencher.with_inputs(|| dough.clone()).bench_local_refs(|d| {
        d.ferment(Hours(36.0), |_| Celsius(24.0), Hours(0.25));
    });
}

/// 4 h warm, then a night cooling to 4 °C.
#[divan::bench]
fn bulk_and_retard(bencher: divan::Bencher<'_, '_>) {
    let dough = dough();
    let temp = |t: Hours| Celsius(if t.0 < 4.0 { 25.0 } else { 4.0 + 84.0 / t.0 });
    bencher
        .with_inputs(|| dough.clone())
        .bench_local_refs(|d| d.ferment(Hours(18.0), temp, Hours(0.25)));
}
