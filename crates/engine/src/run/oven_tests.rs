use super::*;
use crate::bake::Resolution;
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use jiff::civil::datetime;
use quantity::TempRise;

const BATARD: &str = include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
const FLAT: &str = include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml");

fn with<T>(change: impl Fn(&mut Kitchen), path: Path, ask: impl Fn(&Loaded) -> T) -> T {
    let recipe = read_recipe(BATARD).unwrap();
    let mut kitchen = read_kitchen(FLAT).unwrap();
    change(&mut kitchen);
    let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
    let s = Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar).unwrap();
    let schedule = s.follow(path, 0.0).unwrap();
    ask(&s.loaded(&schedule).unwrap().unwrap())
}

const ROOM: Path = Path { cold_bulk: false, cold_proof: false };
const COLD: Path = Path { cold_bulk: false, cold_proof: true };

/// A loaf from the fridge goes in cold and is done later than one from the bench.
#[test]
fn the_dough_at_loading_decides() {
    let minutes = |path| {
        with(
            |_| {},
            path,
            |l| {
                let t = l.bake(Resolution::Publish);
                (l.loaf.profile[0].0.0, t.core_reaches(Celsius(90.0)).unwrap().0)
            },
        )
    };
    let ((cold_core, cold), (warm_core, warm)) = (minutes(COLD), minutes(ROOM));
    assert!(cold_core < 6.0 && warm_core > 15.0, "{cold_core} {warm_core}");
    assert!(cold > warm + 1.0, "{cold} {warm}");
}

/// 73 % hydration of flours with some 13.7 % moisture: water per dry solids by hand,
/// (73 + 13.7)/(100 − 13.7 + 2) = 0.982.
#[test]
fn the_water_of_the_formula_goes_into_the_oven() {
    let w = with(|_| {}, ROOM, |l| l.loaf.water_per_solids);
    assert!((w - 0.982).abs() < 0.01, "{w}");
}

#[test]
fn the_kitchens_oven_is_used() {
    let end = |change: fn(&mut Kitchen)| {
        with(change, COLD, |l| {
            let t = l.bake(Resolution::Publish);
            let s = *t.minutes.last().unwrap();
            (s.core.0, s.lightness, s.loss.0)
        })
    };
    let base = end(|_| {});
    let hot = end(|k| k.oven.knob_error = TempRise(15.0));
    assert!(hot.1 < base.1 && hot.2 > base.2, "hotter is darker and drier: {base:?} {hot:?}");
    let high = end(|k| k.altitude = quantity::Metres(2500.0));
    assert!(high.0 < base.0 - 2.0, "a core boils lower up there: {base:?} {high:?}");
}

#[test]
fn a_suggestion_ends_done_and_no_darker_than_asked() {
    let s = with(|_| {}, COLD, |l| l.suggest(55.0).unwrap());
    let end = s.trace.minutes.last().unwrap();
    assert!(s.trace.done.core.is_some(), "the core is done");
    assert!(end.minute.0 <= s.core.0 + 1.0 || end.lightness <= 55.0);
    assert!((end.lightness - 55.0).abs() < 6.0, "L* {}", end.lightness);
    assert!(s.moved.0 <= 0.0 && !s.too_dark);
}

#[test]
fn loads_are_counted() {
    let recipe = read_recipe(BATARD).unwrap();
    let kitchen = read_kitchen(FLAT).unwrap();
    let flour = Scale::Pieces(7).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
    let s = Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar).unwrap();
    let loads = s.loads().unwrap();
    assert_eq!((loads.pieces, loads.layout.places.len(), loads.loads), (7, 2, Some(4)));
}
