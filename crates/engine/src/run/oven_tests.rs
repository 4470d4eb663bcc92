use super::*;
use crate::bake::Resolution;
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use crate::hearth::{Door, Hearth, Oven, Slab, Steam};
use crate::kitchen::Material;
use crate::method::Liner;
use jiff::civil::datetime;
use quantity::{Millimetres, TempRise};

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

/// A step of a verb, changed by hand.
fn step(verb: Verb, minutes: f64) -> Step {
    Step::of(verb, End::After(Minutes(minutes)))
}

/// Everything a recipe and a kitchen say of the oven is in the programme.
#[test]
fn what_is_said_of_the_oven_is_what_is_baked() {
    let mut recipe = read_recipe(BATARD).unwrap();
    let mut kitchen = read_kitchen(FLAT).unwrap();
    let steps = &mut recipe.method.steps;
    steps.truncate(steps.iter().position(|s| s.verb == Verb::Load).unwrap());
    steps.extend([
        Step { liner: Some(Liner::Mat), ..step(Verb::Load, 2.0) },
        Step {
            temperature: Some(Celsius(240.0)),
            steam: true,
            fan: Some(false),
            ..step(Verb::Bake, 12.0)
        },
        step(Verb::Vent, 1.0),
        Step { temperature: Some(Celsius(220.0)), ..step(Verb::Bake, 9.0) },
        step(Verb::Turn, 1.0),
        Step { door: Some(Door::Ajar), ..step(Verb::Bake, 5.0) },
        Step { place: Place::OvenOff, ..step(Verb::Bake, 10.0) },
    ]);
    kitchen.hearth.as_mut().unwrap().material = Material::CastIron;
    let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
    let s = Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar).unwrap();
    let p = s.programme(ROOM, 1);
    assert!(p.paper, "a mat holds heat and vapour back as paper does");
    let told: Vec<_> = p
        .stages
        .iter()
        .map(|s| (s.minutes.0, s.set_point.map(|t| t.0), s.door, s.vent, s.fan))
        .collect();
    // the kitchen bakes with its fan on, and off it stands still
    let want = [
        (12.0, Some(240.0), Door::Shut, false, false),
        (1.0, Some(240.0), Door::Opened, true, false),
        (9.0, Some(220.0), Door::Shut, true, true),
        (1.0, Some(220.0), Door::Opened, true, true),
        (5.0, Some(220.0), Door::Ajar, true, true),
        (10.0, None, Door::Ajar, true, false),
    ];
    assert_eq!(told, want);
    assert_ne!(p.stages[0].steam, Steam::None);
    assert!(p.stages[1..].iter().all(|s| s.steam == Steam::None));
    // heated with the oven to what the preheat says, less what the knob lies
    let Hearth::Slab(slab, start) = p.hearth else { panic!("no hearth") };
    assert_eq!((slab, start), (Slab::cast_iron(Millimetres(15.0)), Some(Celsius(240.0))));
    let schedule = s.follow(ROOM, 0.0).unwrap();
    let loaded = s.loaded(&schedule).unwrap().unwrap();
    // the fan does not run all through: walls and hearth have still air
    assert_eq!(loaded.oven.convection, Oven::HOME.convection);
}

#[test]
fn tins_pots_sheets_and_logs_are_the_kitchens() {
    let loaf = include_str!("../../../../examples/ferry-lane/recipes/millpond-milk-loaf.toml");
    let ask = |recipe: &str, kitchen: &str| {
        let recipe = read_recipe(recipe).unwrap();
        let kitchen = read_kitchen(kitchen).unwrap();
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
        let set = ParameterSet::default_set();
        let s = Setting::new(&recipe, &kitchen, set, flour, calendar).unwrap();
        s.loaded(&s.follow(ROOM, 0.0).unwrap()).unwrap().unwrap()
    };
    let tin = |words: &str| {
        let l = ask(loaf, &format!("{FLAT}\n[tin]\n{words}\n"));
        let done = l.bake(Resolution::Publish).core_reaches(Celsius(90.0)).unwrap();
        (l.loaf.tin.unwrap().emissivity, done.0)
    };
    let (dark, bright) = (tin("kind = \"dark\""), tin("kind = \"bright\""));
    assert_eq!((dark.0, bright.0, tin("kind = \"glass\"").0), (0.85, 0.35, 0.9));
    assert_eq!(tin("kind = \"glass\"\nemissivity = 0.5").0, 0.5);
    assert!(dark.1 < bright.1 - 1.0, "a dark tin bakes faster: {dark:?} {bright:?}");

    let lid = BATARD.replace("steam = true", "lid = true");
    let pot = |words: &str| {
        let kitchen = format!("{FLAT}\n[pot]\nmass = \"4 kg\"\n{words}\n");
        ask(&lid, &kitchen).programme.pot.unwrap()
    };
    let clay = pot("material = \"earthenware\"\nheated = false");
    assert_eq!((clay.mass, clay.cp), (Grams(4000.0), 900.0));
    assert!(clay.start.unwrap().0 < 25.0, "put in cold: {:?}", clay.start);
    assert_eq!(pot("material = \"cast iron\"").start, Some(Celsius(240.0)));

    let sheet =
        FLAT.replace("material = \"cordierite\"\nthickness = \"15 mm\"", "material = \"sheet\"");
    let Hearth::Slab(slab, start) = ask(BATARD, &sheet).programme.hearth else {
        panic!("no hearth")
    };
    assert_eq!(slab, Slab::sheet());
    assert!(start.unwrap().0 < 25.0, "a sheet goes in with the bread: {start:?}");

    let log = FLAT.replace("[oven]", "[oven]\nlog = [\"0 min 231 °C\", \"8 min 202 °C\"]");
    let logged = ask(BATARD, &log);
    assert_eq!(logged.programme.logged.len(), 2);
    let air = logged.bake(Resolution::Preview).at(Minutes(30.0)).unwrap().oven_air;
    assert!((air.0 - 202.0).abs() < 0.5, "held after its end: {air:?}");
}
