use super::*;
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use crate::method::Cue;
use jiff::civil::datetime;
use proptest::prelude::*;

const BATARD: &str = include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
const RYE: &str = include_str!("../../../../examples/ferry-lane/recipes/slipway-rye.toml");
const BAGUETTE: &str =
    include_str!("../../../../examples/ferry-lane/recipes/lock-keepers-baguettes.toml");
const BOULE: &str =
    include_str!("../../../../examples/ferry-lane/recipes/reedbed-seeded-boule.toml");
const FLAT: &str = include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml");
const HOUSE: &str = include_str!("../../../../examples/ferry-lane/kitchens/warm-house.toml");

const ROOM: Path = Path { cold_bulk: false, cold_proof: false };
const COLD: Path = Path { cold_bulk: false, cold_proof: true };

fn settle<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Setting<'a> {
    let flour =
        Scale::Pieces(recipe.yields.pieces).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let start = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
    Setting::new(recipe, kitchen, ParameterSet::default_set(), flour, start).unwrap()
}

/// Figure to hold: 0.1 % on rise, pH and temperature against a step ten times finer, on a path
/// that warms, cools and is handled.
#[test]
fn a_tenth_of_the_step_changes_nothing() {
    for (recipe, path) in [(BATARD, COLD), (BATARD, ROOM), (RYE, ROOM), (BAGUETTE, ROOM)] {
        let recipe = read_recipe(recipe).unwrap();
        let kitchen = read_kitchen(FLAT).unwrap();
        let s = settle(&recipe, &kitchen);
        let schedule = s.follow(path, 0.0).unwrap();
        let coarse = s.run(&schedule, Minutes(MAX_STEP_MIN)).unwrap();
        let fine = s.run(&schedule, Minutes(MAX_STEP_MIN / 10.0)).unwrap();
        for (a, b) in coarse.lines.iter().zip(&fine.lines) {
            for span in &a.spans {
                let end = |l: &Line| l.samples.iter().rfind(|x| x.step == span.step).copied();
                let (Some(x), Some(y)) = (end(a), end(b)) else { continue };
                let volume = (x.volume / y.volume - 1.0).abs();
                assert!(volume < 1e-3, "{} step {}: volume {volume}", a.name, span.step);
                assert!((x.ph.0 - y.ph.0).abs() < 1e-3 * y.ph.0, "pH {} {}", x.ph.0, y.ph.0);
                let kelvin = (x.mean.0 - y.mean.0).abs();
                assert!(kelvin < 0.03, "{} step {}: {kelvin} K", a.name, span.step);
            }
        }
    }
}

/// The minute a cue is reached, coarse against fine: within a minute, the grid it is told on.
#[test]
fn readiness_does_not_depend_on_the_step() {
    let recipe = read_recipe(BATARD).unwrap();
    let kitchen = read_kitchen(FLAT).unwrap();
    let s = settle(&recipe, &kitchen);
    let schedule = s.follow(ROOM, 0.0).unwrap();
    let bulk = recipe.method.steps.iter().position(|x| x.verb == Verb::Bulk).unwrap();
    let span = schedule.of(bulk).unwrap();
    let mut fine = s.dough_at(&schedule, span.from).unwrap().unwrap();
    let Some(Cue::Rise(target)) = (match recipe.method.steps[bulk].end {
        End::Cue { cue, .. } => Some(cue),
        _ => None,
    }) else {
        panic!("the batard waits for a rise")
    };
    let mut reached = f64::NAN;
    fine.rest(&s, span.from, span.to + 30.0, 0.5, |t, l| {
        if reached.is_nan() && l.rise() >= target {
            reached = t;
        }
    });
    assert!((reached - span.to).abs() <= 1.5, "coarse {} fine {reached}", span.to);
}

#[test]
fn doughs_do_what_doughs_do() {
    let recipe = read_recipe(BATARD).unwrap();
    let (flat, house) = (read_kitchen(FLAT).unwrap(), read_kitchen(HOUSE).unwrap());
    let length = |kitchen: &Kitchen, path| {
        let s = settle(&recipe, kitchen);
        let f = s.follow(path, 0.0).unwrap();
        f.ready() - f.begins()
    };
    assert!(length(&flat, ROOM) > length(&house, ROOM) + 60.0, "cold is slow");
    assert!(length(&flat, COLD) > length(&flat, ROOM), "a night in the fridge is long");

    let s = settle(&recipe, &flat);
    let trace = s.run(&s.follow(COLD, 0.0).unwrap(), Minutes(10.0)).unwrap();
    let dough = trace.dough().unwrap();
    // acid only ever rises, gas made never shrinks, the fridge wins in the end
    for pair in dough.samples.windows(2) {
        assert!(pair[1].co2_made >= pair[0].co2_made - 1e-9);
        assert!(pair[1].lactate >= pair[0].lactate - 1e-9);
    }
    let retard = recipe.method.steps.iter().position(|x| x.verb == Verb::Retard).unwrap();
    let cold = trace.result_of(retard).unwrap();
    assert!((cold.mean.0 - flat.fridge.air.0).abs() < 0.6, "{}", cold.mean.0);
    // folding and shaping press gas out
    let before = |v: Verb| {
        let i = recipe.method.steps.iter().position(|x| x.verb == v).unwrap();
        let first = dough.samples.iter().position(|x| x.step == i).unwrap();
        (dough.samples[first - 1].volume, dough.samples[first].volume)
    };
    for v in [Verb::Fold, Verb::Divide, Verb::Preshape, Verb::Shape] {
        let (a, b) = before(v);
        assert!(b < a, "{v:?} {a} {b}");
    }
}

/// Exact: carbon is neither made nor lost between handlings, gas held plus lost is gas made.
#[test]
fn carbon_and_gas_are_conserved_along_a_run() {
    for recipe in [BATARD, RYE, BOULE] {
        let recipe = read_recipe(recipe).unwrap();
        let kitchen = read_kitchen(HOUSE).unwrap();
        let s = settle(&recipe, &kitchen);
        let schedule = s.follow(ROOM, 0.0).unwrap();
        let mix = recipe.method.steps.iter().position(|x| x.verb == Verb::Mix).unwrap();
        let start = s.dough_at(&schedule, schedule.of(mix).unwrap().from).unwrap().unwrap();
        let load = recipe.method.steps.iter().position(|x| x.verb == Verb::Load).unwrap();
        let before = schedule.of(load).unwrap().from - 1.0;
        let end = s.dough_at(&schedule, before).unwrap().unwrap();
        let (a, b) = (start.dough.carbon(), end.dough.carbon());
        assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
        let x = &end.dough.state;
        let held = start.dough.state.co2 + x.co2_made;
        assert!((held - x.co2 - x.co2_lost).abs() < 1e-6 * held);
    }
}

#[test]
fn same_inputs_same_bits() {
    let recipe = read_recipe(BOULE).unwrap();
    let kitchen = read_kitchen(HOUSE).unwrap();
    let bits = || {
        let s = settle(&recipe, &kitchen);
        let trace = s.run(&s.follow(COLD, 0.0).unwrap(), Minutes(7.0)).unwrap();
        let samples = trace.lines.into_iter().flat_map(|l| l.samples);
        samples.map(|x| x.rise.0.to_bits() ^ x.ph.0.to_bits()).collect::<Vec<u64>>()
    };
    assert_eq!(bits(), bits());
}

#[test]
fn water_that_does_not_exist_is_told() {
    let recipe = read_recipe(BATARD).unwrap();
    let mut kitchen = read_kitchen(FLAT).unwrap();
    kitchen.room = vec![(0.0, Celsius(34.0))];
    kitchen.water.cold = Celsius(27.0);
    let s = settle(&recipe, &kitchen);
    let trace = s.run(&s.follow(ROOM, 0.0).unwrap(), Minutes(15.0)).unwrap();
    let told =
        trace.notes.iter().any(|n| matches!(n, Note::Water { reached, .. } if reached.0 > 26.0));
    assert!(told, "{:?}", trace.notes);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Random formulas in random kitchens: nothing panics, nothing is NaN.
    #[test]
    fn no_recipe_in_no_kitchen_gives_nonsense(
        which in 0usize..4, water in 55.0f64..110.0, salt in 0.0f64..4.0, seed in 5.0f64..200.0,
        room in 1.0f64..42.0, fridge in -1.0f64..14.0, altitude in -300.0f64..4500.0,
        days in 0.0f64..40.0, vigour in 0.15f64..4.0, cold in any::<bool>(), every in 3.0f64..15.0,
    ) {
        let text = [BATARD, RYE, BAGUETTE, BOULE][which];
        let mut recipe = read_recipe(text).unwrap();
        recipe.formula.water = Percent(water.max(recipe.formula.water.0));
        recipe.formula.salt = Percent(salt);
        if let Some(s) = recipe.formula.preferments[0].seed.as_mut() {
            s.inoculation = Percent(seed);
        }
        let mut kitchen = read_kitchen(FLAT).unwrap();
        kitchen.room = vec![(4.0, Celsius(room)), (16.0, Celsius(room + 3.0))];
        kitchen.fridge.air = Celsius(fridge);
        kitchen.altitude = quantity::Metres(altitude);
        kitchen.culture.fridge_days = days;
        kitchen.culture.yeast_vigour = vigour;
        let s = settle(&recipe, &kitchen);
        let path = if cold && recipe.method.paths().contains(&COLD) { COLD } else { ROOM };
        let schedule = s.follow(path, 0.0).unwrap();
        let trace = s.run(&schedule, Minutes(every)).unwrap();
        for x in trace.lines.iter().flat_map(|l| &l.samples) {
            let all = [
                x.minute, x.core.0, x.mean.0, x.air.0, x.rise.0, x.volume, x.ph.0, x.tta.0, x.yeast,
                x.lab, x.maltose, x.hexose, x.lactate, x.acetate, x.co2_made, x.co2_held,
                x.co2_lost, x.weakening, x.gas_loss,
            ];
            prop_assert!(all.iter().all(|v| v.is_finite()), "{x:?}");
            prop_assert!(x.volume > 0.3 && (2.5..8.0).contains(&x.ph.0), "{x:?}");
            prop_assert!(x.co2_held > -1e-9 && x.hexose >= 0.0 && x.maltose >= 0.0, "{x:?}");
        }
    }
}
