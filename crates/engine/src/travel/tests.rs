use super::*;
use crate::belief::{Season, Uncertain as U};
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use jiff::civil::datetime;

const BATARD: &str = include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
const HOUSE: &str = include_str!("../../../../examples/ferry-lane/kitchens/warm-house.toml");

fn ask(readers: usize, sensitivity: u32, change: impl Fn(&mut Belief)) -> Report {
    let recipe = read_recipe(BATARD).unwrap();
    let kitchen = read_kitchen(HOUSE).unwrap();
    let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
    let mut belief = Belief::readers().clone();
    change(&mut belief);
    let q = Question {
        recipe: &recipe,
        written_in: &kitchen,
        path: Path { cold_bulk: false, cold_proof: true },
        flour,
        set: ParameterSet::default_set(),
        belief: &belief,
        readers,
        seed: 3,
        sensitivity,
        calendar: &calendar,
    };
    travel(&q, &mut |_| true).unwrap().unwrap()
}

/// A recipe from a warm house, in rooms five degrees cooler: the clock leaves doughs young, the
/// cue brings them in.
#[test]
fn the_cue_travels_farther_than_the_clock() {
    let r = ask(512, 0, |_| {});
    let divide = |t: &Tally| t.count(Checkpoint::Divide).shares();
    assert!(divide(&r.clock)[0].0 > 50.0, "{:?}", divide(&r.clock));
    assert!(divide(&r.cue)[1] > divide(&r.clock)[1]);
    let bulk = r.advice.iter().find(|a| matches!(a.remedy, Remedy::Cue(7))).unwrap();
    assert!(bulk.load_after.0 >= 0.0 && r.clock.readers == 512);
    let all: u64 = r.clock.map.iter().flatten().map(judge::Count::all).sum();
    assert!(all > 450, "{all} on the map");
}

/// Times of a table fall as dough gets warmer.
#[test]
fn tables_fall_with_temperature() {
    let r = ask(1024, 0, |_| {});
    let tables: Vec<_> = r
        .advice
        .iter()
        .filter_map(|a| match &a.remedy {
            Remedy::Table(_, rows) => Some(rows),
            _ => None,
        })
        .collect();
    assert!(!tables.is_empty());
    for rows in tables {
        assert!(rows.windows(2).all(|w| w[0].0 < w[1].0 && w[0].1 >= w[1].1), "{rows:?}");
    }
}

/// The starter decides more than the scale; shares of variance lie between 0 and 1 within their
/// bounds.
#[test]
fn what_decides_is_found() {
    let r = ask(64, 256, |_| {});
    let total = |what| r.drivers.load.iter().find(|d| d.what == what).unwrap().total.value;
    assert!(total(U::YeastVigour) > total(U::Scale));
    assert!(total(U::Room) > total(U::FlourBuffer));
    assert!(total(U::HydrationError) > 0.0);
    for d in r.drivers.load.iter().chain(&r.drivers.loaf) {
        assert!(d.total.value > -0.05 && d.total.value < 1.1, "{d:?}");
        assert!(d.total.low <= d.total.high);
    }
}

/// Readers who all have the writer's kitchen, starter and eye mostly succeed.
#[test]
fn without_uncertainty_the_recipe_works() {
    let r = ask(16, 0, |b| b.quantities.clear());
    assert_eq!(r.cue.count(Checkpoint::Divide).good, 16, "{:?}", r.cue);
}

/// The oven decides the loaf, the starter the dough.
#[test]
fn dough_and_loaf_have_drivers_of_their_own() {
    let r = ask(64, 128, |_| {});
    let total = |of: &[Driver], what| of.iter().find(|d| d.what == what).unwrap().total.value;
    assert!(total(&r.drivers.loaf, U::OvenTransfer) > 0.1);
    assert_eq!(total(&r.drivers.load, U::OvenTransfer), 0.0);
    assert!(total(&r.drivers.loaf, U::YeastVigour) < total(&r.drivers.load, U::YeastVigour));
    assert_eq!(total(&r.drivers.loaf, U::Judgement), 0.0);
}

/// In warm rooms the times of a warm house leave fewer doughs young; the map moves along.
#[test]
fn the_season_moves_rooms_and_map() {
    let cold = ask(512, 0, |_| {});
    let warm = ask(512, 0, |b| *b = Belief::readers_in(Season::Warm));
    let young = |r: &Report| r.clock.count(Checkpoint::Divide).shares()[0].0;
    assert!(young(&warm) < young(&cold) - 20.0, "{} {}", young(&warm), young(&cold));
    assert_eq!(cold.rooms, [14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 26.0]);
    assert_eq!(warm.rooms[3], 24.0);
    let mapped = |r: &Report| r.cue.map.iter().flatten().map(judge::Count::all).sum::<u64>();
    assert!(mapped(&warm) > 470 && mapped(&cold) > 470);
}

/// Changes are told against what all readers get as written; one that cannot gain is dropped early.
#[test]
fn changes_are_tried_on_the_same_readers() {
    let r = ask(2048, 0, |_| {});
    let cues = r.advice.iter().find(|a| a.remedy == Remedy::Cues).unwrap();
    let whole = r.cue.good_share().0 - r.clock.good_share().0;
    assert!((cues.gain() - whole).abs() < 1e-9 && cues.readers == 2048);
    for a in &r.advice {
        assert!(a.readers == 2048 || a.readers == 512, "{a:?}");
        assert!(a.error.0 > 0.0 && a.error.0 < 3.0, "{a:?}");
        assert_eq!(a.before, r.clock.good_share());
    }
    assert!(r.advice.windows(2).all(|w| w[0].gain() >= w[1].gain()));
}

#[test]
fn same_seed_same_answer_and_a_no_ends_it() {
    let asked = ask(100, 4, |_| {});
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(asked, pool.install(|| ask(100, 4, |_| {})));
    assert_eq!(as_printed(Minutes(211.0)), Minutes(210.0));
    assert_eq!(as_printed(Minutes(43.0)), Minutes(45.0));
    assert_eq!(as_printed(Minutes(7.4)), Minutes(7.0));
}
