use super::*;
use crate::belief::{Belief, Draws};
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
use crate::parameters::ParameterSet;
use crate::recipe::Recipe;
use jiff::civil::datetime;
use proptest::prelude::*;

const RECIPES: [&str; 3] = [
    include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml"),
    include_str!("../../../../examples/ferry-lane/recipes/slipway-rye.toml"),
    include_str!("../../../../examples/ferry-lane/recipes/lock-keepers-baguettes.toml"),
];
const KITCHEN: &str = include_str!("../../../../examples/ferry-lane/kitchens/warm-house.toml");

fn bundled(which: usize) -> (Recipe, Kitchen) {
    (read_recipe(RECIPES[which]).unwrap(), read_kitchen(KITCHEN).unwrap())
}

fn settle<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Setting<'a> {
    let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
    Setting::new(recipe, kitchen, ParameterSet::default_set(), flour, calendar).unwrap()
}

/// Law: a dough has the same bits alone and beside others, however many lanes and threads.
#[test]
fn a_dough_alone_is_the_dough_in_the_batch() {
    for which in 0..RECIPES.len() {
        let (recipe, kitchen) = bundled(which);
        let s = settle(&recipe, &kitchen);
        let draws = Draws::new(Belief::readers().clone(), 32, 5);
        let kitchens = Kitchens::around(&kitchen, &draws);
        let path = recipe.method.paths()[0];
        let schedule = s.follow(path, 0.0).unwrap();
        let guide = Guide::cues(&recipe.method);
        let oven = Oven::of(&s, path, true, Resolution::Preview);
        for follow in [Follow::Clock(&schedule), Follow::Guide(path, &guide, 0.0)] {
            let of =
                |width| Ensemble { setting: &s, follow, oven: Some(&oven), every: None, width };
            // 13 doughs: the last registers are not full
            let wide = of(Width::Widest).run(13, |i| kitchens.draw(i)).unwrap();
            let four = of(Width::Four).run(13, |i| kitchens.draw(i)).unwrap();
            assert_eq!(wide, four);
            let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
            let one = pool.install(|| of(Width::One).run(13, |i| kitchens.draw(i)).unwrap());
            assert_eq!(wide, one);
            let alone = of(Width::One).run(1, |_| kitchens.draw(11)).unwrap();
            for m in 0..alone.moments.len() {
                for r in [Reading::Minute, Reading::Rise, Reading::Ph, Reading::Core] {
                    assert_eq!(alone.at(m, r)[0].to_bits(), wide.at(m, r)[11].to_bits());
                }
            }
            assert_eq!(alone.baked[0], wide.baked[11]);
        }
    }
}

/// Law: a loaf over time has the same bits alone and beside others, and is read at the same minutes.
#[test]
fn a_loaf_over_time_alone_is_the_loaf_in_the_batch() {
    let (recipe, kitchen) = bundled(0);
    let s = settle(&recipe, &kitchen);
    let draws = Draws::new(Belief::own_kitchen().clone(), 32, 5);
    let kitchens = Kitchens::around(&kitchen, &draws);
    let path = recipe.method.paths()[0];
    let schedule = s.follow(path, 0.0).unwrap();
    let oven = Oven::of(&s, path, false, Resolution::Preview);
    let of = |width, every| {
        let follow = Follow::Clock(&schedule);
        Ensemble { setting: &s, follow, oven: Some(&oven), every, width }
    };
    let wide = of(Width::Widest, Some(20.0)).run(13, |i| kitchens.draw(i)).unwrap();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let run = || of(Width::One, Some(20.0)).run(13, |i| kitchens.draw(i)).unwrap();
    assert_eq!(pool.install(run).baking, wide.baking);
    let alone = of(Width::Four, Some(20.0)).run(1, |_| kitchens.draw(11)).unwrap();
    assert_eq!(alone.baking.minutes, wide.baking.minutes);
    assert_eq!(wide.baking.minutes.last().copied(), Some(oven.programme().minutes().0));
    for m in 0..alone.baking.minutes.len() {
        for r in [LoafReading::Core, LoafReading::Loss, LoafReading::BaseLightness] {
            assert_eq!(alone.baking.at(m, r)[0].to_bits(), wide.baking.at(m, r)[11].to_bits());
        }
    }
    // looking changes nothing, and not looking keeps nothing
    let unseen = of(Width::Widest, None).run(13, |i| kitchens.draw(i)).unwrap();
    assert!(unseen.baking.minutes.is_empty());
    for (a, b) in unseen.baked.iter().zip(&wide.baked) {
        assert_eq!((a.core, a.loss, a.lightness), (b.core, b.loss, b.lightness));
    }
}

/// Law: a try has the same bits alone and beside others with whom it shares its preferments, and
/// a loaf the same bits whatever else is baked.
#[test]
fn a_try_alone_is_the_try_among_others() {
    let (recipe, kitchen) = bundled(0);
    let s = settle(&recipe, &kitchen);
    let draws = Draws::new(Belief::readers().clone(), 32, 5);
    let kitchens = Kitchens::around(&kitchen, &draws);
    let draws: Vec<Draw> = (0..13).map(|i| kitchens.draw(i)).collect();
    let path = recipe.method.paths()[0];
    let clock = Guide::clock(&recipe.method, &s.follow(path, 0.0).unwrap());
    let cues = Guide::cues(&recipe.method);
    let more = |d: &Draw| 1.0 - 0.05 * d.room;
    let tries = [
        Try { guide: &clock, levain: None },
        Try { guide: &clock, levain: Some(&more) },
        Try { guide: &cues, levain: None },
    ];
    let of = |tries| Ensemble {
        setting: &s,
        follow: Follow::Tries(path, tries, 0.0),
        oven: None,
        every: None,
        width: Width::Widest,
    };
    let all = of(&tries).doughs_of_each(&draws).unwrap();
    assert_ne!(all[0], all[1]);
    for (one, among) in tries.iter().zip(&all) {
        let e = of(std::slice::from_ref(one));
        let alone = e.doughs(&draws).unwrap();
        assert_eq!(alone, *among);
        let oven = Oven::of(&s, path, true, Resolution::Preview);
        let loaves = e.bake(&oven, &alone, &draws, &(0..13).collect::<Vec<_>>());
        assert_eq!(e.bake(&oven, &alone, &draws, &[11, 2]), [loaves[11], loaves[2]]);
    }
}

/// The kitchen as written, in a lane, is the run that the commands show.
#[test]
fn an_undrawn_lane_is_the_run() {
    let (recipe, kitchen) = bundled(0);
    let s = settle(&recipe, &kitchen);
    let path = recipe.method.paths()[0];
    let schedule = s.follow(path, 0.0).unwrap();
    let trace = s.run(&schedule, Minutes(15.0)).unwrap();
    let e = Ensemble {
        setting: &s,
        follow: Follow::Clock(&schedule),
        oven: None,
        every: None,
        width: Width::Widest,
    };
    let doughs = e.run(3, |_| Draw::as_written()).unwrap();
    for (m, moment) in doughs.moments.iter().enumerate() {
        let sample = trace.result_of(moment.step).unwrap();
        assert!((doughs.at(m, Reading::Rise)[1] - sample.rise.0).abs() < 1e-9);
        assert!((doughs.at(m, Reading::Ph)[1] - sample.ph.0).abs() < 1e-9);
        assert!((doughs.at(m, Reading::Mean)[1] - sample.mean.0).abs() < 1e-9);
    }
}

/// Steps of [`STEP_MIN`] against steps of a minute, over readers' kitchens: volume and pH within
/// 0.1 %, temperature within 0.05 °C.
#[test]
fn the_step_is_fine_enough() {
    let (recipe, kitchen) = bundled(0);
    let s = settle(&recipe, &kitchen);
    let draws = Draws::new(Belief::readers().clone(), 32, 1);
    let kitchens = Kitchens::around(&kitchen, &draws);
    for path in recipe.method.paths() {
        let schedule = s.follow(path, 0.0).unwrap();
        let follow = Follow::Clock(&schedule);
        let e = Ensemble { setting: &s, follow, oven: None, every: None, width: Width::Widest };
        let coarse = e.run(32, |i| kitchens.draw(i)).unwrap();
        let fine = e.run(32, |i| Draw { longest_min: 1.0, ..kitchens.draw(i) }).unwrap();
        for m in 0..coarse.moments.len() {
            let gap = |r, relative: bool| {
                let pairs = coarse.at(m, r).iter().zip(fine.at(m, r));
                pairs
                    .map(|(a, b)| (a - b).abs() / if relative { b.abs() } else { 1.0 })
                    .fold(0.0, f64::max)
            };
            assert!(gap(Reading::Volume, true) < 1e-3, "{}", gap(Reading::Volume, true));
            assert!(gap(Reading::Ph, true) < 1e-3, "{}", gap(Reading::Ph, true));
            assert!(gap(Reading::Mean, false) < 0.05, "{}", gap(Reading::Mean, false));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// Whatever is drawn, every lane stays a dough and its loaf a loaf.
    #[test]
    fn nothing_is_lost_in_any_lane(
        seed in any::<u64>(), which in 0..RECIPES.len(), way in 0..4usize, clock in any::<bool>(),
    ) {
        let (recipe, kitchen) = bundled(which);
        let s = settle(&recipe, &kitchen);
        let draws = Draws::new(Belief::readers().clone(), 9, seed);
        let kitchens = Kitchens::around(&kitchen, &draws);
        let paths = recipe.method.paths();
        let path = paths[way % paths.len()];
        let schedule = s.follow(path, 0.0).unwrap();
        let guide = Guide::cues(&recipe.method);
        let follow =
            if clock { Follow::Clock(&schedule) } else { Follow::Guide(path, &guide, 0.0) };
        let oven = Oven::of(&s, path, !clock, Resolution::Preview);
        let e = Ensemble {
            setting: &s, follow, oven: Some(&oven), every: Some(60.0), width: Width::Widest,
        };
        let doughs = e.run(9, |i| kitchens.draw(i)).unwrap();
        prop_assert!(doughs.values.iter().all(|x| x.is_finite()));
        for m in 0..doughs.moments.len() {
            for (v, ph) in doughs.at(m, Reading::Volume).iter().zip(doughs.at(m, Reading::Ph)) {
                prop_assert!(*v > 0.5 && *v < 10.0 && *ph > 2.5 && *ph < 7.5);
            }
        }
        for b in &doughs.baked {
            prop_assert!(b.core.is_finite() && (0.0..60.0).contains(&b.loss), "{b:?}");
            prop_assert!((0.0..=1.0).contains(&b.starch));
        }
    }
}
