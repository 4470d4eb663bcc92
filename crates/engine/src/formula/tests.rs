use super::*;
use crate::flour::Grain;
use crate::recipe::{PieceShape, Yield};
use proptest::prelude::*;
use quantity::Millimetres;

fn flour(name: &str, share: f64) -> FlourShare {
    FlourShare { flour: Flour::white(name), share: Percent(share) }
}
fn other(name: &str, share: f64, water: f64) -> Other {
    Other {
        name: name.into(),
        share: Percent(share),
        water: Percent(water),
        sugar: Percent(0.0),
        fat: Percent(0.0),
        late: false,
        usda: None,
    }
}
fn lean(flours: Vec<FlourShare>, water: f64, salt: f64) -> Formula {
    Formula {
        flours,
        water: Percent(water),
        salt: Percent(salt),
        yeast: Percent(0.0),
        yeast_form: YeastForm::Fresh,
        bassinage: Percent(0.0),
        others: vec![],
        preferments: vec![],
        soakers: vec![],
    }
}
fn levain(pff: f64, hydration: f64, flour: &str, seed: Option<Seed>) -> Preferment {
    Preferment {
        name: "levain".into(),
        kind: PrefermentKind::Levain,
        prefermented_flour: Percent(pff),
        hydration: Percent(hydration),
        salt: Percent(0.0),
        yeast: Percent(0.0),
        flours: vec![(flour.into(), Percent(100.0))],
        seed,
        builds: vec![],
    }
}
fn seed(inoculation: f64, counted: bool) -> Seed {
    Seed { inoculation: Percent(inoculation), hydration: Percent(100.0), counted }
}
fn yields(pieces: u32, piece: f64) -> Yield {
    Yield {
        pieces,
        piece: Grams(piece),
        shape: PieceShape::Batard,
        length: Some(Millimetres(280.0)),
        diameter: None,
        process_loss: Percent(0.0),
        bake_loss: Percent(13.0),
    }
}
#[track_caller]
fn near(ours: f64, want: f64) {
    assert!((ours - want).abs() <= 5e-7 * want.abs().max(1.0), "ours {ours}, wanted {want}");
}

/// Basis: computed by hand; flour weight = dough weight / total percentage.
#[test]
fn straight_dough() {
    let mut f = lean(vec![flour("flour", 100.0)], 65.0, 2.0);
    f.yeast = Percent(1.0);
    let total = Scale::Pieces(10).total_flour(&f, &yields(10, 840.0)).unwrap();
    let s = f.sheet(total).unwrap();
    near(s.figures.total_percent.0, 168.0);
    near(s.dough().0, 8400.0);
    near(s.total.flour().0, 5000.0);
    near(s.total.water.0, 3250.0);
    near(s.total.salt.0, 100.0);
    near(s.total.yeast.0, 50.0);
    near(s.final_dough.yeast.0, 50.0);
}

fn levain_formula(counted: bool) -> Formula {
    let mut f = lean(vec![flour("bread", 90.0), flour("whole wheat", 10.0)], 75.0, 2.0);
    f.preferments.push(levain(20.0, 100.0, "bread", Some(seed(20.0, counted))));
    f
}

/// Basis: computed by hand; all weights exact.
#[test]
fn levain_opened_up_in_the_total_formula() {
    let f = levain_formula(true);
    let total = Scale::Dough(Grams(3540.0)).total_flour(&f, &yields(1, 1.0)).unwrap();
    near(total.0, 2000.0);
    let s = f.sheet(total).unwrap();
    near(s.total.flours[0].0, 1800.0);
    near(s.total.flours[1].0, 200.0);
    near(s.total.water.0, 1500.0);
    near(s.total.salt.0, 40.0);
    let p = &s.preferments[0];
    near(p.contents.flour().0, 400.0);
    near(p.contents.water.0, 400.0);
    near(p.builds[0].fresh.flour().0, 363.636_364);
    near(p.builds[0].fresh.water.0, 363.636_364);
    near(p.builds[0].seed.0, 72.727_273);
    near(p.builds[0].total().0, 800.0);
    let fd = &s.final_dough;
    near(fd.flours[0].0, 1400.0);
    near(fd.flours[1].0, 200.0);
    near(fd.water.0, 1100.0);
    near(fd.salt.0, 40.0);
    near(fd.total().0 + p.contents.total().0, 3540.0);
    // percent of final-dough flour
    let on_final = |g: Grams| 100.0 * (g / fd.flour());
    near(on_final(fd.flours[0]), 87.5);
    near(on_final(fd.flours[1]), 12.5);
    near(on_final(fd.water), 68.75);
    near(on_final(fd.salt), 2.5);
    near(s.figures.levain_of_total_flour.0, 40.0);
    near(s.figures.levain_of_final_flour.0, 50.0);
    near(s.figures.prefermented_flour.0, 20.0);
    near(s.figures.hydration.0, 75.0);
}

/// A perpetual seed is taken out again: the dough is the same, more is built.
/// Exact: fresh flour 400, water 400, seed 80 in, 80 out.
#[test]
fn perpetual_seed_leaves_the_dough_alone() {
    let s = levain_formula(false).sheet(Grams(2000.0)).unwrap();
    let p = &s.preferments[0];
    near(p.builds[0].fresh.flour().0, 400.0);
    near(p.builds[0].fresh.water.0, 400.0);
    near(p.builds[0].seed.0, 80.0);
    near(p.kept_back.0, 80.0);
    near(p.builds[0].total().0 - p.kept_back.0, 800.0);
    near(s.dough().0, 3540.0);
    near(s.final_dough.water.0, 1100.0);
}

/// Basis: computed by hand; exact.
#[test]
fn rye_levain_and_soaker() {
    let mut f =
        lean(vec![flour("bread", 70.0), flour("rye", 20.0), flour("whole wheat", 10.0)], 80.0, 2.2);
    f.flours[1].flour.grain = Grain::Rye;
    f.others = vec![other("sunflower", 8.0, 0.0), other("flax", 4.0, 0.0)];
    f.preferments.push(levain(15.0, 80.0, "rye", Some(seed(20.0, true))));
    f.soakers.push(Soaker {
        name: "soaker".into(),
        soaks: vec!["sunflower".into(), "flax".into()],
        water: Percent(125.0),
        scalded: false,
    });
    let s = f.sheet(Grams(1000.0)).unwrap();
    near(s.figures.total_percent.0, 194.2);
    near(s.dough().0, 1942.0);
    near(s.figures.prefermented_flour.0, 15.0);
    near(s.preferments[0].contents.total().0, 270.0);
    near(s.preferments[0].contents.water.0, 120.0);
    near(s.soakers[0].contents.total().0, 270.0);
    near(s.soakers[0].contents.water.0, 150.0);
    let weights: Vec<f64> = s.final_dough.flours.iter().map(|g| g.0).collect();
    for (ours, want) in weights.iter().zip([700.0, 50.0, 100.0]) {
        near(*ours, want);
    }
    near(s.final_dough.water.0, 530.0);
    near(s.final_dough.salt.0, 22.0);
    near(s.final_dough.total().0, 1402.0);
}

/// Basis: computed by hand, backwards from weights with a starter of 125 % hydration.
#[test]
fn from_weights_with_a_wet_starter() {
    let (starter_flour, starter_water) = (100.0 / 2.25, 125.0 / 2.25);
    near(starter_flour, 44.444_444);
    near(starter_water, 55.555_556);
    let total = 450.0 + starter_flour;
    let mut f =
        lean(vec![flour("bread", 100.0)], 100.0 * (300.0 + starter_water) / total, 900.0 / total);
    f.preferments.push(levain(100.0 * starter_flour / total, 125.0, "bread", None));
    let s = f.sheet(Grams(total)).unwrap();
    near(s.final_dough.flour().0, 450.0);
    near(s.final_dough.water.0, 300.0);
    near(s.dough().0, 859.0);
    near(s.figures.hydration.0, 71.910_112);
    near(s.figures.salt.0, 1.820_225);
    near(s.figures.prefermented_flour.0, 8.988_764);
    near(s.figures.levain_of_final_flour.0, 22.222_222);
    near(s.figures.levain_of_total_flour.0, 20.224_719);
    near(s.figures.total_percent.0, 173.730_337);
}

/// Basis: computed by hand from USDA SR28 water values.
#[test]
fn effective_hydration_counts_the_water_in_milk_and_egg() {
    let pct = |g: f64| 100.0 * g / 550.0;
    let mut f = lean(vec![flour("bread", 100.0)], pct(50.0), pct(10.0));
    f.others = vec![
        other("milk", pct(250.0), 88.13),
        other("egg", pct(100.0), 76.15),
        other("butter", pct(75.0), 17.94),
        other("honey", pct(25.0), 17.10),
    ];
    f.preferments.push(levain(pct(50.0), 100.0, "bread", None));
    let s = f.sheet(Grams(550.0)).unwrap();
    near(s.figures.effective_hydration.0, 66.219_091);
    near(s.figures.hydration.0, 9.090_909);
    near(s.final_dough.water.0, 0.0);
    // all liquids taken as water
    near(100.0 * (s.total.water.0 + 250.0) / 550.0, 54.545_455);
}

/// Basis: common practice, handbook rounding varies.
#[test]
fn dry_yeast_for_fresh() {
    near(YeastForm::Instant.for_fresh(Grams(30.0)).0, 9.9);
    near(YeastForm::ActiveDry.for_fresh(Grams(30.0)).0, 12.0);
    near(YeastForm::Instant.as_fresh(Grams(9.9)).0, 30.0);
}

/// Basis: computed by hand; two losses multiply, adding them is a different answer.
#[test]
fn losses_multiply() {
    near(before_losses(Grams(800.0), &[Percent(12.0)]).0, 909.090_909);
    let both = before_losses(Grams(500_000.0), &[Percent(2.0), Percent(11.0)]);
    near(both.0, 573_263.013);
    near(100.0 * (1.0 - 783.0 / 900.0), 13.0);
}

/// Basis: computed by hand on the levain formula; all loss taken as water.
#[test]
fn finished_solids() {
    let s = levain_formula(true).sheet(Grams(2000.0)).unwrap();
    let moisture = (1800.0 * 13.36 + 200.0 * 10.74) / 100.0;
    let water = s.total.water.0 + moisture;
    near(water, 1761.96);
    for (loss, solids) in [(13.0, 57.732_32), (18.0, 61.252_584), (20.0, 62.783_898)] {
        let baked = s.dough().0 * (1.0 - loss / 100.0);
        let left = water - s.dough().0 * loss / 100.0;
        near(100.0 * (1.0 - left / baked), solids);
    }
}

#[test]
fn a_levain_wetter_than_the_dough_is_refused_with_a_remedy() {
    let mut f = lean(vec![flour("bread", 100.0)], 60.0, 2.0);
    f.preferments.push(levain(60.0, 125.0, "bread", Some(seed(20.0, true))));
    let e = f.sheet(Grams(1000.0)).unwrap_err();
    assert_eq!(
        e.to_string(),
        "preferments and soakers hold 750 g of water, the whole formula has 600 g"
    );
    assert!(e.hint().contains("stiffer"));
}

#[test]
fn all_flour_prefermented_is_legal() {
    let mut f = lean(vec![flour("bread", 100.0)], 70.0, 2.0);
    f.preferments.push(levain(100.0, 60.0, "bread", Some(seed(20.0, true))));
    let s = f.sheet(Grams(1000.0)).unwrap();
    near(s.final_dough.flour().0, 0.0);
    near(s.final_dough.water.0, 100.0);
    assert_eq!(s.figures.levain_of_final_flour, Percent(0.0));
}

#[test]
fn a_staged_levain_ends_at_its_own_weight_and_hydration() {
    let mut f = lean(vec![flour("rye", 100.0)], 80.0, 1.8);
    let mut p = levain(40.0, 80.0, "rye", Some(seed(50.0, true)));
    p.builds = [(10.0, 150.0), (35.0, 60.0), (55.0, 80.0)]
        .map(|(flour, hydration)| Build { flour: Percent(flour), hydration: Percent(hydration) })
        .to_vec();
    f.preferments.push(p);
    let s = f.sheet(Grams(1000.0)).unwrap();
    let b = &s.preferments[0].builds;
    near(b[2].total().0, 720.0);
    near(b[0].seed.0, 0.5 * b[0].fresh.flour().0);
    near(b[1].previous.0, b[0].total().0);
    near(s.dough().0, 1818.0);
    // the second build is stiffer: the water it adds brings the whole to 60 %
    let flour_in = b[0].seed.0 / 2.0 + b[0].fresh.flour().0 + b[1].fresh.flour().0;
    let water_in = b[0].seed.0 / 2.0 + b[0].fresh.water.0 + b[1].fresh.water.0;
    near(water_in / flour_in, 0.6);
}

#[test]
fn scaling_by_the_starter_at_hand_uses_it_up() {
    let f = levain_formula(true);
    let total = Scale::Starter(Grams(50.0)).total_flour(&f, &yields(1, 1.0)).unwrap();
    near(f.sheet(total).unwrap().preferments[0].builds[0].seed.0, 50.0);
    let none = lean(vec![flour("bread", 100.0)], 70.0, 2.0);
    assert_eq!(
        Scale::Starter(Grams(50.0)).total_flour(&none, &yields(1, 1.0)),
        Err(ScaleError::NoSeed)
    );
}

fn any_formula() -> impl Strategy<Value = Formula> {
    (
        prop::collection::vec(0.5f64..10.0, 1..5),
        50.0f64..110.0,
        0.0f64..4.0,
        0.0f64..45.0,
        50.0f64..130.0,
        5.0f64..80.0,
        any::<bool>(),
        0.0f64..15.0,
    )
        .prop_map(|(parts, water, salt, pff, hydration, inoculation, counted, seeds)| {
            let sum: f64 = parts.iter().sum();
            let flours: Vec<FlourShare> = parts
                .iter()
                .enumerate()
                .map(|(i, p)| flour(&format!("flour {i}"), 100.0 * p / sum))
                .collect();
            let mut f = lean(flours, water, salt);
            let pff = pff.min(0.9 * f.flours[0].share.0);
            f.others.push(other("seeds", seeds, 5.0));
            f.preferments.push(levain(pff, hydration, "flour 0", Some(seed(inoculation, counted))));
            f
        })
}

proptest! {
    #[test]
    fn mass_is_conserved_and_flour_sums_to_a_hundred(f in any_formula(), flour in 100.0f64..20_000.0) {
        if let Ok(s) = f.sheet(Grams(flour)) {
            let columns = s.final_dough.total().0
                + s.preferments.iter().map(|p| p.contents.total().0).sum::<f64>();
            prop_assert!((columns - s.dough().0).abs() < 1e-9 * s.dough().0);
            prop_assert!((s.total.flour().0 - flour).abs() < 1e-9 * flour);
            for p in &s.preferments {
                let built = p.builds.last().unwrap().total() - p.kept_back;
                prop_assert!((built.0 - p.contents.total().0).abs() < 1e-9 * flour);
            }
        }
    }

    #[test]
    fn rounded_weights_still_add_up(f in any_formula(), flour in 300.0f64..5000.0) {
        if let Ok(exact) = f.sheet(Grams(flour)) {
            let s = exact.rounded(Grams(1.0), Grams(0.1));
            let columns = s.final_dough.total().0
                + s.preferments.iter().map(|p| p.contents.total().0).sum::<f64>();
            prop_assert!((columns - s.dough().0).abs() < 1e-6);
            for p in &s.preferments {
                // what is built is what goes into the dough and what is kept back
                let built = p.builds.last().unwrap().total().0;
                prop_assert!((built - p.kept_back.0 - p.contents.total().0).abs() < 1e-6);
            }
            // never further from the exact dough than a step per column
            prop_assert!((s.dough().0 - exact.dough().0).abs() <= 3.0, "{} {}", s.dough().0, exact.dough().0);
            for g in s.final_dough.flours.iter().chain([&s.final_dough.water]) {
                prop_assert!((g.0 - g.0.round()).abs() < 1e-9 && g.0 >= 0.0);
            }
        }
    }
}
