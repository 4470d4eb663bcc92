//! Limits, balances and golden rows of the kernel.

use super::*;
use crate::culture::ripe_starter;
use crate::flour::Flour;
use quantity::{Grams, Kilopascal, Ph};

const SETS: [&str; 2] = ParameterSet::NAMES;

fn white() -> Flour {
    Flour::white("white")
}

fn starter(set: &ParameterSet) -> Dough {
    let sea = Kilopascal(101.325);
    ripe_starter(&[(white(), Percent(100.0))], Percent(100.0), sea, set).unwrap()
}

fn dough(set: &ParameterSet) -> Dough {
    let mix = Mix {
        flours: vec![(white(), Grams(1000.0))],
        water: Grams(700.0),
        salt: Grams(20.0),
        preferments: vec![(starter(set), Grams(200.0))],
        ..Mix::empty(Celsius(25.0))
    };
    Dough::mix(&mix, set).unwrap()
}

/// Damp flour is water poured: two points more on flour are the dough of the recipe with 720 g.
#[test]
fn water_in_the_flour_is_water_poured() {
    let set = ParameterSet::default_set();
    let of = |water: f64, damp: f64| {
        let mix = Mix {
            flours: vec![(white(), Grams(1000.0))],
            water: Grams(water),
            salt: Grams(20.0),
            ..Mix::empty(Celsius(25.0))
        };
        let ripe = [(&starter(set), 200.0)];
        Dough::mix_with(&mix, &ripe, 25.0, &Sack { water: damp, ..Sack::usual() }, set).unwrap()
    };
    assert_eq!(of(700.0, 0.0), dough(set));
    let (damp, wet) = (of(700.0, 0.02), of(720.0, 0.0));
    for (a, b) in [
        (damp.composition.hydration, wet.composition.hydration),
        (damp.composition.total_water, wet.composition.total_water),
        (damp.state.ln_yeast, wet.state.ln_yeast),
    ] {
        assert!((a - b).abs() < 1e-12, "{a} {b}");
    }
    // no more is taken away than there is
    assert!(of(10.0, -0.5).composition.total_water > 0.0);
}

/// Printed by the reference implementation; the file names its columns.
const GOLDEN: &str = include_str!("../../../../data/checks/regression/ferment.txt");

fn golden_row(t: f64, d: &Dough) -> [f64; 18] {
    let s = &d.state;
    [
        t,
        d.rise(Celsius(25.0)).0,
        d.ph().0,
        d.yeast_cells_per_g(),
        d.lab_cells_per_g(),
        s.yeast_readiness,
        s.maltose,
        s.hexose,
        s.starch,
        s.lactate,
        s.acetate,
        s.ethanol,
        s.co2_made,
        s.co2,
        s.co2_lost,
        s.nitrogen,
        s.weakening,
        s.growth_left,
    ]
}

#[test]
fn golden_rows_of_the_reference() {
    let mut d = dough(ParameterSet::named("first").unwrap());
    let mut t = 0.0;
    for line in GOLDEN.lines().filter(|l| !l.starts_with('#')) {
        let row: Vec<f64> = line.split(' ').map(|x| x.parse().unwrap()).collect();
        d.ferment(Hours(row[0] - t), |_| Celsius(25.0), Hours(0.05));
        t = row[0];
        for (i, (ours, printed)) in golden_row(t, &d).iter().zip(row).enumerate() {
            // half the last printed digit, or 1e-4 of it
            let digit = if i == 3 || i == 4 {
                0.0
            } else if i == 1 {
                0.0051
            } else {
                0.00051
            };
            assert!(
                (ours - printed).abs() <= digit + 1e-4 * printed.abs(),
                "{t} h, column {i}: {ours} against {printed}"
            );
        }
    }
}

#[test]
fn cardinal_curves_are_one_at_the_optimum_and_nothing_at_the_ends() {
    let t = [4.0, 32.5, 41.0];
    assert!((cardinal_temperature(32.5, t) - 1.0).abs() < 1e-12);
    assert_eq!([4.0, 41.0, -3.0, 60.0].map(|x| cardinal_temperature(x, t)), [0.0; 4]);
    let p = [3.8, 5.2, 6.9];
    assert!((cardinal_ph(5.2, p) - 1.0).abs() < 1e-12);
    assert_eq!([3.8, 6.9, 0.0].map(|x| cardinal_ph(x, p)), [0.0; 3]);
}

/// Mixes flour and water only.
fn lifeless(set: &ParameterSet) -> Dough {
    let mix = Mix {
        flours: vec![(white(), Grams(100.0))],
        water: Grams(70.0),
        ..Mix::empty(Celsius(25.0))
    };
    Dough::mix(&mix, set).unwrap()
}

/// With food and room enough the lag and growth have a closed form.
#[test]
fn growth_out_of_the_lag() {
    for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
        let mut d = lifeless(set);
        d.organisms.yeast.readiness_speed = 1.0;
        d.state.ln_yeast = libm::log(1e-9);
        d.state.yeast_readiness = 0.1;
        d.state.hexose = 1e9;
        d.state.growth_left = d.composition.flour * d.organisms.yeast.capacity_g_per_kg_flour;
        let start = d.state.ln_yeast;
        d.ferment(Hours(12.0), |_| Celsius(22.0), Hours(0.1));
        let mu = d.organisms.yeast.mu_opt_per_h * d.organisms.yeast.growth_at(Celsius(22.0));
        let exact = libm::log(0.9 + 0.1 * libm::exp(mu * 12.0));
        assert!((d.state.ln_yeast - start - exact).abs() < 1e-6);
    }
}

#[test]
fn a_dough_without_organisms_only_makes_maltose() {
    for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
        let mut d = lifeless(set);
        let before = d.clone();
        assert!((d.ph().0 - d.composition.ph0).abs() < 1e-3);
        d.ferment(Hours(8.0), |_| Celsius(30.0), Hours(0.25));
        let k = set.constants.starch_attack_per_h
            * d.composition.amylase
            * libm::pow(set.constants.starch_attack_q10, 0.5);
        let left = before.state.starch * libm::exp(-k * 8.0);
        assert!((d.state.starch - left).abs() < 1e-3 * left);
        assert!((d.state.maltose - before.state.maltose - before.state.starch + left).abs() < 0.05);
        assert_eq!((d.ph(), d.state.hexose), (before.ph(), before.state.hexose));
        assert!(d.co2_rate(Celsius(25.0)) < 1e-20 && d.gas_loss_share(Celsius(25.0)) < 1e20);
    }
}

#[test]
fn carbon_and_gas_balance() {
    for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
        let mut d = dough(set);
        let (carbon, gas) = (d.carbon(), d.state.co2);
        d.ferment(Hours(12.0), |t| Celsius(28.0 - t.0), Hours(0.25));
        d.degas(0.35, Celsius(16.0));
        let s = &d.state;
        // the integrator keeps sums of states exactly, the logarithm of cells to its order
        assert!((d.carbon() / carbon - 1.0).abs() < 1e-6);
        assert!((s.co2 + s.co2_lost - gas - s.co2_made).abs() < 1e-9);
    }
}

#[test]
fn gas_leaks_from_a_dead_dough() {
    let set = ParameterSet::named("first").unwrap();
    let mut d = lifeless(set);
    d.state.co2 = 12.0;
    let (temp, before) = (Celsius(15.0), d.clone());
    d.step(Hours(1e-3), temp, temp, temp);
    let leak = set.constants.leak_per_h * 0.5 * before.bubbles(temp.0);
    assert!(((before.state.co2 - d.state.co2) / 1e-3 / leak - 1.0).abs() < 1e-2);
    assert!((d.state.co2 + d.state.co2_lost - 12.0).abs() < 1e-12);
}

/// Halving the step divides the error by sixteen.
#[test]
fn the_integrator_is_of_order_four() {
    let run = |dt: f64| {
        let mut d = dough(ParameterSet::named("first").unwrap());
        d.ferment(Hours(4.0), |t| Celsius(24.0 - t.0), Hours(dt));
        d.state.lactate
    };
    let exact = run(0.02);
    let ratio = (run(1.0) - exact) / (run(0.5) - exact);
    assert!((11.0..24.0).contains(&ratio), "{ratio}");
}

/// What the documentation promises of steps of a quarter of an hour.
#[test]
fn quarter_hours_are_fine_enough_for_a_bulk_and_a_night() {
    for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
        let run = |dt: f64| {
            let mut d = dough(set);
            d.ferment(Hours(4.5), |_| Celsius(25.0), Hours(dt));
            let cool = |t: Hours| Celsius(4.0 + 21.0 * libm::exp(-t.0 / 2.5));
            d.ferment(Hours(13.0), cool, Hours(dt));
            [d.volume_l_per_kg(Celsius(4.0)), d.ph().0, d.state.ln_yeast, d.state.lactate]
        };
        for (coarse, fine) in run(0.25).into_iter().zip(run(0.02)) {
            assert!((coarse / fine - 1.0).abs() < 1e-5, "{coarse} {fine}");
        }
    }
}

#[test]
fn mixing_two_equal_doughs_changes_no_cells_sugars_or_acids() {
    let set = ParameterSet::named("mended").unwrap();
    let mut d = dough(set);
    d.ferment(Hours(5.0), |_| Celsius(25.0), Hours(0.25));
    let mix = Mix {
        preferments: vec![(d.clone(), Grams(300.0)), (d.clone(), Grams(700.0))],
        ..Mix::empty(Celsius(25.0))
    };
    let e = Dough::mix(&mix, set).unwrap();
    let same = |s: &State| {
        [
            s.ln_yeast,
            s.ln_lab,
            s.yeast_readiness,
            s.lab_readiness,
            s.maltose,
            s.hexose,
            s.starch,
            s.growth_left,
            s.lactate,
            s.acetate,
            s.ethanol,
        ]
    };
    for (a, b) in same(&d.state).into_iter().zip(same(&e.state)) {
        assert!((a - b).abs() < 1e-12 * a.abs().max(1.0));
    }
    assert!((d.ph().0 - e.ph().0).abs() < 1e-12);
    assert!((d.composition.volume - e.composition.volume).abs() < 1e-12);
    assert!(!e.organisms.mixed_yeasts && e.organisms.yeast == d.organisms.yeast);
}

#[test]
fn two_yeasts_become_one_pool_that_says_so() {
    let set = ParameterSet::named("mended").unwrap();
    let mix = Mix {
        flours: vec![(white(), Grams(1000.0))],
        water: Grams(650.0),
        fresh_yeast: Grams(2.0),
        preferments: vec![(starter(set), Grams(200.0))],
        ..Mix::empty(Celsius(24.0))
    };
    let d = Dough::mix(&mix, set).unwrap();
    assert!(d.organisms.mixed_yeasts);
    assert!(d.organisms.yeast.maltose > 0.0 && d.organisms.yeast.maltose < 1.0);
}

#[test]
fn what_is_no_dough_is_refused() {
    let set = ParameterSet::named("mended").unwrap();
    let refused = |mix: &Mix| Dough::mix(mix, set).unwrap_err().to_string();
    let mut mix = Mix::empty(Celsius(24.0));
    assert_eq!(refused(&mix), "there is no flour in the mix");
    mix.water = Grams(100.0);
    assert_eq!(refused(&mix), "there is no flour in the mix");
    mix.water = Grams(f64::NAN);
    assert!(refused(&mix).starts_with("the water is NaN"));
    mix.water = Grams(0.0);
    mix.flours.push((Flour { moisture: Percent(0.0), ..white() }, Grams(1.0)));
    assert_eq!(refused(&mix), "there is no water in the mix");
    mix.flours[0].1 = Grams(-1.0);
    assert!(refused(&mix).starts_with("white is -1"));
}

#[test]
fn the_search_for_the_ph_does_not_remember_where_it_started() {
    let c = dough(ParameterSet::default_set()).composition;
    for (lactate, acetate) in [(0.0, 0.0), (4.0, 1.0), (40.0, 9.0), (300.0, 80.0)] {
        let reference = c.acidity(lactate, acetate, 5.0).ph;
        for start in [2.0, 2.6, 3.3, 4.4, 6.0, 7.9, f64::NAN] {
            let again = c.acidity(lactate, acetate, start).ph;
            assert!((again - reference).abs() < 1e-12, "{lactate} {acetate} {start}");
        }
    }
}

use proptest::prelude::*;

fn any_flour() -> impl Strategy<Value = Flour> {
    let grain = (0..5usize).prop_map(|i| crate::flour::Grain::NAMES[i].1);
    (grain, 0.0..4.0f64, 0.0..30.0f64, 0.0..600.0f64).prop_map(|(grain, ash, moisture, fn_s)| {
        Flour {
            grain,
            ash: Percent(ash),
            moisture: Percent(moisture),
            falling_number_s: fn_s,
            ..Flour::white("any")
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Any dough at any temperature: numbers stay numbers, carbon stays, nothing goes below zero.
    #[test]
    fn any_dough_stays_a_dough(
        flour in any_flour(),
        water in 10.0..200.0f64,
        salt in 0.0..12.0f64,
        yeast in prop_oneof![Just(0.0), 0.0..10.0f64],
        seed in prop_oneof![Just(0.0), 0.0..400.0f64],
        sugar in prop_oneof![Just(0.0), 0.0..30.0f64],
        temps in proptest::array::uniform3(-30.0..90.0f64),
        pressure in 50.0..110.0f64,
        dt in 0.02..1.5f64,
        first in proptest::bool::ANY,
    ) {
        let set = ParameterSet::named(if first { "first" } else { "mended" }).unwrap();
        let mix = Mix {
            flours: vec![(flour, Grams(100.0))],
            water: Grams(water),
            salt: Grams(salt),
            fresh_yeast: Grams(yeast),
            others: vec![Other {
                mass: Grams(sugar),
                water: Percent(10.0),
                fermentable_sugar: Percent(80.0),
                density: None,
            }],
            preferments: vec![(starter(set), Grams(seed))],
            temperature: Celsius(temps[0]),
            pressure: Kilopascal(pressure),
        };
        let mut d = Dough::mix(&mix, set).unwrap();
        let carbon = d.carbon();
        for t in temps {
            d.ferment(Hours(9.0), |_| Celsius(t), Hours(dt));
            d.degas(0.3, Celsius(t));
            let s = &d.state;
            prop_assert!(s.is_finite() && d.ph().0.is_finite());
            prop_assert!(d.rise(Celsius(t)).0.is_finite() && d.gas_loss_share(Celsius(t)) >= 0.0);
            let amounts = [
                s.maltose, s.hexose, s.starch, s.growth_left, s.lactate, s.acetate, s.ethanol,
                s.co2_made, s.co2, s.nitrogen, s.weakening,
            ];
            prop_assert!(amounts.iter().all(|x| *x >= 0.0), "{s:?}");
            prop_assert!((d.carbon() / carbon - 1.0).abs() < 1e-3);
            let balance = s.co2 + s.co2_lost - s.co2_made;
            prop_assert!(balance.is_finite() && balance.abs() < 60.0);
        }
    }

    #[test]
    fn nonsense_does_not_panic(
        x in proptest::num::f64::ANY,
        y in proptest::num::f64::ANY,
        z in proptest::num::f64::ANY,
    ) {
        let set = ParameterSet::default_set();
        let mix = Mix {
            flours: vec![(white(), Grams(x))],
            water: Grams(y),
            pressure: Kilopascal(z),
            ..Mix::empty(Celsius(20.0))
        };
        let _ = Dough::mix(&mix, set);
        let mut d = dough(set);
        d.step(Hours(x.abs().min(10.0)), Celsius(y), Celsius(z), Celsius(x));
        d.degas(x, Celsius(y));
        let _ = (d.ph(), d.tta(Ph(z)), d.rise(Celsius(x)), d.co2_rate(Celsius(z)));
    }
}
