use super::*;
use crate::crust::DoneWhen;
use crate::hearth::{Pot, Slab, Stage, Steam, Tin};
use crate::properties::{CrumbConductivity, pressure_at};
use crate::warmth::Shape;
use proptest::prelude::*;
use quantity::{Grams, Metres, TempRise};

fn near(ours: f64, reference: f64, slack: f64) {
    assert!((ours - reference).abs() <= slack, "{ours} is not {reference} ± {slack}");
}

fn baguette() -> Loaf {
    let shape = Shape::Log { length: Millimetres(550.0) };
    Loaf::even(Grams(350.0), shape, 270.0, 0.9, Celsius(22.0))
}

fn exactly(r_mm: f64, m: f64) -> Loaf {
    let shape = Shape::Exactly { r: Millimetres(r_mm), m };
    Loaf::even(Grams(350.0), shape, 270.0, 0.9, Celsius(22.0))
}

fn steamed(minutes: f64) -> Programme {
    let mut stage = Stage::at(Celsius(245.0), Minutes(minutes));
    let (pressure, minutes) = (Kilopascal(40.0), Minutes(6.0));
    stage.steam = Steam::Held { pressure, minutes };
    Programme::of(vec![stage])
}

fn first(loaf: &Loaf, programme: &Programme, cells: usize, dt_s: f64) -> BakeTrace {
    let resolution = Resolution::Exactly { cells, dt_s };
    bake_with(loaf, &Oven::FIRST, programme, resolution, &BakeParameters::FIRST)
}

/// Source: our reference implementation; regression. Slack: half the last printed digit.
#[test]
fn baguette_of_the_reference() {
    let trace = first(&baguette(), &steamed(22.0), 30, 2.0);
    near(trace.core_reaches(Celsius(96.0)).unwrap().0, 8.98, 0.005);
    let end = trace.at(Minutes(22.0)).unwrap();
    near(end.loss.0, 25.04, 0.005);
    near(end.top_surface.0, 182.8, 0.05);
    near(end.lightness, 56.6, 0.05);
    near(end.browning, 28.7, 0.05);
    for (minute, core, surface, loss, dry) in [
        (5.0, 47.1, 108.6, 2.4, 0.5),
        (10.0, 98.2, 139.0, 10.2, 2.8),
        (15.0, 100.4, 162.9, 17.4, 5.6),
        (20.0, 100.4, 178.3, 23.1, 7.5),
    ] {
        let s = trace.at(Minutes(minute)).unwrap();
        near(s.core.0, core, 0.05);
        near(s.top_surface.0, surface, 0.06);
        near(s.loss.0, loss, 0.05);
        near(s.dry_zone.0, dry, 0.05);
    }
}

fn mended(loaf: &Loaf, oven: &Oven, programme: &Programme) -> BakeTrace {
    bake(loaf, oven, programme, Resolution::Publish)
}

fn on_stone(mut programme: Programme) -> Programme {
    programme.hearth = Hearth::stone();
    programme
}

fn boule() -> Loaf {
    let shape = Shape::Boule { width: Millimetres(220.0) };
    Loaf::even(Grams(900.0), shape, 300.0, 0.9, Celsius(22.0))
}

fn t96(trace: &BakeTrace) -> f64 {
    trace.core_reaches(Celsius(96.0)).map_or(f64::INFINITY, |m| m.0)
}

/// Law: water to 1e-12, heat to 1e-4, in all columns, whatever the loaf stands in.
#[test]
fn water_and_heat_balance() {
    let mut tin = boule();
    tin.shape = Shape::Tin { length: Millimetres(220.0), width: Millimetres(105.0) };
    tin.tin = Some(Tin::DARK);
    let mut pot = Stage::at(Celsius(245.0), Minutes(20.0));
    pot.lid = true;
    let mut covered = Programme::of(vec![pot, Stage::at(Celsius(230.0), Minutes(20.0))]);
    covered.pot = Some(Pot::CAST_IRON);
    let dry = Programme::at(Celsius(200.0), Minutes(40.0));
    for (loaf, programme) in [
        (baguette(), steamed(22.0)),
        (baguette(), on_stone(steamed(22.0))),
        (boule(), on_stone(dry.clone())),
        (tin, dry),
        (boule(), covered),
    ] {
        for resolution in [Resolution::Publish, Resolution::Preview] {
            let trace = bake(&loaf, &Oven::DECK, &programme, resolution);
            let (heat, water) = trace.unbalanced;
            assert!(heat < 1e-4, "{heat}");
            assert!(water < 1e-12, "{water}");
        }
    }
}

/// Law: without a difference nothing moves.
#[test]
fn without_an_oven_nothing_moves() {
    let mut oven = Oven { room: Celsius(22.0), knob_error: TempRise(0.0), ..Oven::FIRST };
    oven.dry = crate::properties::water_saturation(Celsius(22.0));
    oven.air_drop = TempRise(0.0);
    oven.wall_drop = TempRise(0.0);
    let programme = Programme::of(vec![Stage::off(Minutes(60.0))]);
    for parameters in [BakeParameters::FIRST, BakeParameters::MENDED] {
        let trace = bake_with(&baguette(), &oven, &programme, Resolution::Publish, &parameters);
        for s in &trace.minutes {
            near(s.core.0, 22.0, 1e-9);
            near(s.top_surface.0, 22.0, 1e-9);
            near(s.loss.0, 0.0, 1e-6);
            near(s.core_water, 0.9, 1e-12);
        }
    }
}

/// Law: dough boils where its water says; the core does not pass that while it is wet.
#[test]
fn the_core_stays_at_its_boiling_point() {
    for oven in [Oven::FIRST, Oven::DECK.at_altitude(Metres(2000.0)), Oven::HOME_FAN] {
        let trace = mended(&baguette(), &oven, &on_stone(steamed(25.0)));
        let boils = crumb_boils(0.9, oven.pressure).0;
        for s in &trace.minutes {
            assert!(s.core.0 <= boils + 0.1, "{} over {boils}", s.core.0);
        }
    }
}

/// Law of the first set: no water moves inward, so moisture only falls.
#[test]
fn moisture_only_falls_in_the_first_set() {
    let trace = first(&baguette(), &steamed(22.0), 30, 2.0);
    for pair in trace.minutes.windows(2) {
        assert!(pair[1].core_water <= pair[0].core_water);
    }
    assert!(trace.depths.iter().all(|d| d.water > 0.0 && d.water <= 0.9));
    // the set in use moves water to the core, and loses none by it
    let trace = mended(&baguette(), &Oven::DECK, &on_stone(steamed(22.0)));
    let end = trace.minutes.last().unwrap();
    assert!(end.core_water > 0.905 && end.core_water < 1.05, "{}", end.core_water);
    let water: f64 = trace.depths.iter().map(|d| d.share * d.water).sum();
    near(end.loss.0, 100.0 * (0.9 - water) / 1.9, 0.1);
}

/// Law: without drying and with constant conductivity the kernel is heat conduction.
///
/// Source: series of the slab, cylinder and sphere plunged into other air, Bi 2, Fo 0.5; exact.
/// Slack: 0.3 %, the heat capacity's own rise over the 10 K used here.
#[test]
fn without_water_it_is_conduction() {
    let mut parameters = BakeParameters::FIRST;
    parameters.conductivity = CrumbConductivity { k_dry: 0.2, k_cold: 0.2, k_vapour: 0.0 };
    parameters.skin_drying = 0.0;
    let oven = Oven {
        range: (Celsius(0.0), Celsius(300.0)),
        loaded_sag: TempRise(0.0),
        air_drop: TempRise(0.0),
        wall_drop: TempRise(0.0),
        convection: 20.0, // Bi = h R/k = 2
        emissivity: 0.0,
        dry: Kilopascal(0.0),
        ..Oven::FIRST
    };
    let heat = 270.0 / 1.9 * (1391.0 + 5.0 * 25.0 + 4200.0 * 0.9);
    let minutes = 0.5 * 0.02 * 0.02 * heat / 0.2 / 60.0; // Fo 0.5
    let programme = Programme::at(Celsius(30.0), Minutes(minutes));
    for (m, core) in [(0.0, 0.65962), (1.0, 0.37240), (2.0, 0.18893)] {
        let mut loaf = exactly(20.0, m);
        loaf.profile = vec![(Celsius(20.0), 1.0)];
        let resolution = Resolution::Exactly { cells: 60, dt_s: 1.0 };
        let trace = bake_with(&loaf, &oven, &programme, resolution, &parameters);
        let end = trace.minutes.last().unwrap();
        near((30.0 - end.core.0) / 10.0, core, 3e-3);
    }
}

/// Law: the flatter the body, the farther its core from the surface.
#[test]
fn slab_rod_and_ball_come_in_that_order() {
    let times: Vec<f64> = [0.0, 1.0, 2.0]
        .map(|m| t96(&mended(&exactly(25.0, m), &Oven::DECK, &steamed(60.0))))
        .to_vec();
    assert!(times[0] > times[1] && times[1] > times[2], "{times:?}");
}

#[test]
fn a_loaf_from_the_fridge_is_late() {
    let warm = mended(&boule(), &Oven::DECK, &on_stone(steamed(50.0)));
    let mut cold = boule();
    cold.profile = vec![(Celsius(7.0), 0.3), (Celsius(6.0), 0.4), (Celsius(10.0), 0.3)];
    let cold = mended(&cold, &Oven::DECK, &on_stone(steamed(50.0)));
    assert!(t96(&cold) > t96(&warm) + 1.0, "{} {}", t96(&cold), t96(&warm));
    // cold dough condenses more steam
    assert!(cold.condensed_g_per_m2 > warm.condensed_g_per_m2);
}

#[test]
fn a_profile_keeps_its_order_from_core_to_skin() {
    let start = Start { profile: &[(4.0, 0.5), (20.0, 0.5)], m: 0.0 };
    near(start.between(0.0, 0.5), 4.0, 1e-12);
    near(start.between(0.5, 1.0), 20.0, 1e-12);
    near(start.between(0.25, 0.75), 12.0, 1e-12);
    // a body from the fridge as warmth gives it
    let body = crate::warmth::Body::new(
        Grams(900.0),
        crate::warmth::Vessel::Banneton,
        Shape::Lump,
        Celsius(24.0),
        crate::warmth::DoughThermal::LIGHTLY_RISEN,
    );
    let mut loaf = boule();
    loaf.profile = body.profile().collect();
    let trace = mended(&loaf, &Oven::DECK, &steamed(1.0));
    near(trace.minutes[0].core.0, 24.0, 1e-9);
    near(trace.minutes[0].mean.0, 24.0, 1e-6);
}

#[test]
fn steam_comes_and_goes() {
    let with = |steam: Steam| {
        let mut stage = Stage::at(Celsius(230.0), Minutes(30.0));
        stage.steam = steam;
        mended(&boule(), &Oven::HOME, &Programme::of(vec![stage]))
    };
    let peak = |t: &BakeTrace| t.minutes.iter().map(|s| s.vapour.0).fold(0.0, f64::max);
    for steam in [
        Steam::Tray(Grams(300.0)),
        Steam::Ice(Grams(150.0)),
        Steam::Towels(Grams(200.0)),
        Steam::Spray(Grams(30.0)),
    ] {
        let trace = with(steam);
        assert!(peak(&trace) > 20.0 && peak(&trace) < 101.0, "{steam:?} {}", peak(&trace));
        assert!(trace.minutes[29].vapour.0 < 6.0, "{steam:?}");
    }
    near(peak(&with(Steam::None)), 3.0, 1e-9);
}

#[test]
fn a_lid_keeps_the_crust_pale_and_shiny() {
    let mut covered = Stage::at(Celsius(245.0), Minutes(22.0));
    covered.lid = true;
    let open = Stage::at(Celsius(245.0), Minutes(20.0));
    let mut pot = Programme::of(vec![covered, open]);
    pot.pot = Some(Pot::CAST_IRON);
    let trace = mended(&boule(), &Oven::HOME_FAN, &pot);
    let at = |m: f64| trace.at(Minutes(m)).unwrap();
    assert!(at(22.0).vapour.0 > 70.0);
    assert!(at(22.0).gloss > 0.5, "{}", at(22.0).gloss);
    assert!(at(42.0).lightness < at(22.0).lightness - 2.0);
}

#[test]
fn an_open_door_and_an_oven_switched_off_cool() {
    let mut opened = Stage::at(Celsius(230.0), Minutes(20.0));
    opened.door = Door::Opened;
    let mut ajar = Stage::off(Minutes(10.0));
    ajar.door = Door::Ajar;
    let p = Programme::of(vec![Stage::at(Celsius(230.0), Minutes(20.0)), opened, ajar]);
    let trace = mended(&boule(), &Oven::HOME, &p);
    let air = |m: f64| trace.at(Minutes(m)).unwrap().oven_air.0;
    assert!(air(21.0) < air(20.0) - 15.0 && air(39.0) > 215.0);
    assert!(air(50.0) < 130.0, "{}", air(50.0));
}

#[test]
fn every_minute_is_there_whatever_the_stages() {
    let stages = [0.31, 7.43, 2.0, 5.27].map(|m| Stage::at(Celsius(240.0), Minutes(m)));
    for resolution in [Resolution::Preview, Resolution::Publish] {
        let p = Programme::of(stages.to_vec());
        let trace = bake(&boule(), &Oven::DECK, &p, resolution);
        let minutes: Vec<f64> = trace.minutes.iter().map(|s| s.minute.0).collect();
        assert_eq!(minutes.len(), 17, "{minutes:?}");
        near(minutes[15], 15.0, 1e-9);
        near(minutes[16], 15.01, 1e-9);
    }
    assert_eq!(mended(&boule(), &Oven::DECK, &Programme::of(vec![])).minutes.len(), 1);
}

#[test]
fn done_is_the_last_of_what_was_asked() {
    let mut p = on_stone(steamed(30.0));
    p.done_when =
        DoneWhen { core: Some(Celsius(96.0)), lightness: Some(60.0), loss: Some(Percent(20.0)) };
    let trace = mended(&baguette(), &Oven::DECK, &p);
    let done = trace.done;
    let all = [done.core, done.lightness, done.loss].map(|m| m.unwrap().0);
    assert_eq!(done.all.unwrap().0, all.into_iter().fold(0.0, f64::max));
    near(trace.at(done.loss.unwrap()).unwrap().loss.0, 20.0, 0.05);
    near(trace.at(done.lightness.unwrap()).unwrap().lightness, 60.0, 0.1);
    p.done_when.loss = Some(Percent(60.0));
    assert_eq!(mended(&baguette(), &Oven::DECK, &p).done.all, None);
}

#[test]
fn notes_say_what_is_wrong() {
    let short = mended(&boule(), &Oven::DECK, &steamed(12.0));
    assert!(short.notes.iter().any(|n| matches!(n, BakeNote::CoreNotReached { .. })));
    assert!(short.notes.iter().any(|n| matches!(n, BakeNote::CoreRaw { .. })));
    let high = mended(&baguette(), &Oven::DECK.at_altitude(Metres(2000.0)), &steamed(25.0));
    let lowered = high.notes.iter().find(|n| matches!(n, BakeNote::CoreLowered { .. })).unwrap();
    assert_eq!(
        lowered.to_string(),
        "water boils lower here: the bread is done at 90.3 °C, not 96 °C"
    );
}

/// Law: a slab in an oven warms to it and never past it; its mean follows the lumped time.
#[test]
fn a_stone_warms_to_the_oven() {
    for slab in [
        Slab::cordierite(Millimetres(15.0)),
        Slab::steel(Millimetres(8.0)),
        Slab::sheet(),
        Slab::cast_iron(Millimetres(6.0)),
        Slab::firebrick(Millimetres(60.0)),
    ] {
        let near_by = slab.time_to_heat(Celsius(250.0), Celsius(20.0), TempRise(10.0)).unwrap().0;
        let nearer = slab.time_to_heat(Celsius(250.0), Celsius(20.0), TempRise(5.0)).unwrap().0;
        assert!(nearer > near_by && near_by > 0.5, "{slab:?} {near_by} {nearer}");
    }
    let none = Slab::sheet().time_to_heat(Celsius(20.0), Celsius(250.0), TempRise(10.0));
    assert_eq!(none, Some(Minutes(0.0)));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Law: a hotter oven bakes sooner and darker; a thicker loaf is later; colder dough too.
    #[test]
    fn what_bakers_know(
        knob in 190.0..270.0f64, mass in 200.0..1200.0f64, t0 in 2.0..28.0f64,
        w in 0.75..1.05f64,
    ) {
        let with = |knob: f64, mass: f64, t0: f64| {
            let width = Millimetres(170.0 * libm::cbrt(mass / 500.0));
            let shape = Shape::Boule { width };
            let loaf = Loaf::even(Grams(mass), shape, 300.0, w, Celsius(t0));
            let p = on_stone(Programme::at(Celsius(knob), Minutes(90.0)));
            let trace = bake(&loaf, &Oven::DECK, &p, Resolution::Preview);
            (t96(&trace), trace.minutes[60].lightness)
        };
        let here = with(knob, mass, t0);
        let hotter = with(knob + 10.0, mass, t0);
        prop_assert!(hotter.0 < here.0 && hotter.1 < here.1);
        prop_assert!(with(knob, 1.15 * mass, t0).0 > here.0);
        prop_assert!(with(knob, mass, t0 - 6.0).0 > here.0);
    }

    /// Law: the higher the oven stands, the lower the crumb's plateau.
    #[test]
    fn height_lowers_the_plateau(z in 0.0..3500.0f64) {
        let core = |z: f64| {
            let oven = Oven::DECK.at_altitude(Metres(z));
            mended(&baguette(), &oven, &steamed(25.0)).minutes.last().unwrap().core.0
        };
        let (here, above) = (core(z), core(z + 400.0));
        prop_assert!(above < here - 0.5, "{here} {above}");
        let boils = crumb_boils(0.9, pressure_at(Metres(z))).0;
        prop_assert!((here - boils).abs() < 0.3, "{here} {boils}");
    }

    /// No input panics or gives a number that is none.
    #[test]
    fn nonsense_still_bakes(
        x in prop::array::uniform14(prop_oneof![
            prop::num::f64::ANY, -10.0..400.0f64, Just(0.0), Just(f64::NAN)
        ]),
        kind in 0..6usize, off in any::<bool>(), flags in 0..32u8,
    ) {
        let l = Millimetres(x[1]);
        let shape = [
            Shape::Lump,
            Shape::Boule { width: l },
            Shape::Log { length: l },
            Shape::Tin { length: l, width: Millimetres(x[2]) },
            Shape::Slab { thickness: l },
            Shape::Exactly { r: l, m: x[2] },
        ][kind];
        let mut loaf = Loaf::even(Grams(x[0]), shape, x[3], x[4], Celsius(x[5]));
        loaf.profile.push((Celsius(x[6]), x[7]));
        if flags & 1 == 1 {
            loaf.tin = Some(Tin { emissivity: x[8] });
        }
        let stage = Stage {
            minutes: Minutes(if x[9].abs() < 60.0 { x[9] } else { 7.3 }),
            set_point: (!off).then_some(Celsius(x[10])),
            steam: [
                Steam::Tray(Grams(x[11])),
                Steam::Held { pressure: Kilopascal(x[11]), minutes: Minutes(x[12]) },
                Steam::Ice(Grams(x[11])),
            ][kind % 3],
            vent: flags & 2 == 2,
            door: [Door::Shut, Door::Opened, Door::Ajar][kind % 3],
            lid: flags & 4 == 4,
            fan: flags & 8 == 8,
        };
        let mut p = Programme::of(vec![stage, Stage::at(Celsius(x[10]), Minutes(3.0))]);
        if flags & 16 == 16 {
            p.hearth = Hearth::Slab(
                Slab {
                    thickness: Millimetres(x[12]),
                    k: x[13],
                    heat_per_volume: x[11],
                    emissivity: x[8],
                },
                Some(Celsius(x[6])),
            );
            p.pot = Some(Pot { mass: Grams(x[0]), cp: x[13], surface_m2: x[8], start: None });
        }
        if kind == 2 {
            p.logged = vec![(Minutes(x[12]), Celsius(x[10])), (Minutes(x[9]), Celsius(x[13]))];
        }
        let oven = Oven {
            convection: x[11],
            emissivity: x[12],
            loaded_sag: TempRise(x[13]),
            litres: x[8],
            pressure: Kilopascal(x[7]),
            ..Oven::HOME
        };
        for parameters in [BakeParameters::FIRST, BakeParameters::MENDED] {
            let trace = bake_with(&loaf, &oven, &p, Resolution::Preview, &parameters);
            let end = trace.minutes.last().unwrap();
            for n in [end.core.0, end.mean.0, end.top_surface.0, end.base_surface.0, end.loss.0,
                end.dry_zone.0, end.lightness, end.browning, end.starch, end.core_water,
                end.vapour.0, end.oven_air.0, trace.unbalanced.0, trace.cooling_loss.0] {
                prop_assert!(n.is_finite(), "{:?}", end);
            }
        }
    }
}

/// The preview stands near the result, the result near the fine grid.
#[test]
fn resolutions_agree() {
    let p = on_stone(steamed(22.0));
    let of = |r: Resolution| {
        let t = bake(&baguette(), &Oven::DECK, &p, r);
        (t96(&t), t.minutes.last().unwrap().loss.0, t.minutes.last().unwrap().lightness)
    };
    let fine = of(Resolution::Exactly { cells: 120, dt_s: 0.5 });
    let publish = of(Resolution::Publish);
    let preview = of(Resolution::Preview);
    let ensemble = of(Resolution::Ensemble);
    println!("fine {fine:?} publish {publish:?} preview {preview:?} ensemble {ensemble:?}");
    near(publish.0, fine.0, 0.15);
    near(publish.1, fine.1, 0.4);
    near(publish.2, fine.2, 1.0);
    near(preview.0, fine.0, 0.5);
    near(preview.1, fine.1, 1.0);
    near(preview.2, fine.2, 2.5);
    near(ensemble.0, fine.0, 0.5);
    near(ensemble.1, fine.1, 1.0);
    near(ensemble.2, fine.2, 2.0);
}
