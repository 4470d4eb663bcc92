use super::*;
use crate::hearth::{Door, Hearth, Pot, Stage, Steam};
use crate::warmth::Shape;
use proptest::prelude::*;
use quantity::{Grams, Kilopascal, Millimetres};

/// Mixed loaves: masses, moistures, temperatures and ovens far apart.
fn mixed(seed: [f64; 11]) -> Vec<Piece> {
    (0..11)
        .map(|i| {
            let x = |k: usize| seed[(3 * i + k) % 11];
            let mass = 300.0 + 900.0 * x(0);
            let width = Millimetres(170.0 * libm::cbrt(mass / 500.0));
            let shape = Shape::Boule { width };
            let density = 250.0 + 80.0 * x(1);
            let mut loaf = Loaf::even(
                Grams(mass),
                shape,
                density,
                0.8 + 0.2 * x(2),
                Celsius(2.0 + 26.0 * x(3)),
            );
            if i % 3 == 0 {
                loaf.profile = vec![(Celsius(6.0), 0.3), (Celsius(5.0 + 10.0 * x(4)), 0.7)];
            }
            Piece {
                knob_error: TempRise(40.0 * x(5) - 20.0),
                transfer: 0.6 + x(6),
                room: Celsius(15.0 + 10.0 * x(7)),
                conductivity: 0.8 + 0.4 * x(8),
                browning: 0.7 + 0.6 * x(9),
                ..Piece::of(loaf, &Oven::HOME)
            }
        })
        .collect()
}

fn steamed() -> Programme {
    let mut hot = Stage::at(Celsius(245.0), Minutes(12.5));
    hot.steam = Steam::Tray(Grams(200.0));
    let mut falling = Stage::at(Celsius(220.0), Minutes(25.0));
    (falling.vent, falling.door) = (true, Door::Opened);
    Programme::of(vec![hot, falling])
}

fn on_stone() -> Programme {
    Programme { hearth: Hearth::stone(), ..steamed() }
}

fn baked(pieces: &[Piece], programme: &Programme, pull: Pull, width: Width) -> Vec<Baked> {
    let (oven, parameters) = (&Oven::HOME, &BakeParameters::MENDED);
    bake_many(pieces, oven, programme, Resolution::Ensemble, parameters, pull, width)
}

const DONE: Pull = Pull::WhenDone { core: 96.0, lightness: Some(62.0), latest: Minutes(55.0) };

/// NaN has no equal: bits.
fn bits(b: &Baked) -> [u64; 9] {
    [b.minutes, b.core, b.core_reached, b.loss, b.lightness, b.base_lightness, b.crust_mm, b.starch]
        .into_iter()
        .chain([b.highest_core])
        .map(f64::to_bits)
        .collect::<Vec<_>>()
        .try_into()
        .unwrap()
}

/// The same piece as one loaf in an oven of its own; its conductivity left out.
fn alone(
    piece: &Piece,
    oven: &Oven,
    programme: &Programme,
    resolution: Resolution,
) -> crate::bake::BakeTrace {
    let oven = oven.with_total_transfer(piece.transfer * oven.total_transfer());
    let oven = Oven { knob_error: piece.knob_error, room: piece.room, ..oven };
    let browning = BakeParameters::MENDED.browning * piece.browning;
    let parameters = BakeParameters { browning, ..BakeParameters::MENDED };
    crate::bake::bake_with(&piece.loaf, &oven, programme, resolution, &parameters)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    /// Law: a loaf bakes the same alone, among others, in any lane and in any register.
    #[test]
    fn loaves_do_not_know_of_each_other(seed in prop::array::uniform11(0.0..1.0f64)) {
        let pieces = mixed(seed);
        let mut pot = steamed();
        pot.pot = Some(Pot::CAST_IRON);
        pot.stages[0].lid = true;
        let mut papered = on_stone();
        papered.paper = true;
        for (programme, pull) in [
            (on_stone(), Pull::AtEnd), (on_stone(), DONE), (steamed(), DONE), (pot, DONE),
            (papered, DONE),
        ] {
            let alone = baked(&pieces, &programme, pull, Width::One);
            let mut turned = pieces.clone();
            turned.rotate_left(5);
            let mut elsewhere = baked(&turned, &programme, pull, Width::Widest);
            elsewhere.rotate_right(5);
            let four = baked(&pieces, &programme, pull, Width::Four);
            let eight = baked(&pieces, &programme, pull, Width::Eight);
            for i in 0..pieces.len() {
                for other in [&four, &eight, &elsewhere] {
                    prop_assert_eq!(bits(&alone[i]), bits(&other[i]), "{:?} {:?}", alone[i], other[i]);
                }
            }
        }
    }

    /// Law: by the clock a batch bakes what one loaf bakes alone.
    #[test]
    fn a_batch_bakes_what_a_loaf_bakes(seed in prop::array::uniform11(0.0..1.0f64)) {
        let programme = on_stone();
        for piece in mixed(seed) {
            let plain = Piece { conductivity: 1.0, ..piece };
            let trace = alone(&plain, &Oven::HOME, &programme, Resolution::Ensemble);
            let end = trace.minutes.last().unwrap();
            let ours = baked(&[plain], &programme, Pull::AtEnd, Width::Widest)[0];
            for (a, b) in [
                (ours.minutes, 37.5), (ours.core, end.core.0), (ours.loss, end.loss.0),
                (ours.lightness, end.lightness), (ours.base_lightness, end.base_lightness),
                (ours.crust_mm, end.crust.0), (ours.starch, end.starch),
                (ours.core_reached, trace.done.core.map_or(f64::NAN, |m| m.0)),
            ] {
                prop_assert!((a - b).abs() <= 1e-9 * b.abs() || a.is_nan() && b.is_nan(), "{} {}", a, b);
            }
        }
    }
}

/// The ensemble's grid stands near the fine one for loaves and ovens far apart.
#[test]
fn a_coarse_grid_for_many_loaves() {
    let mut pieces = mixed([0.35, 0.9, 0.4, 0.75, 0.0, 0.6, 0.3, 1.0, 0.5, 0.15, 0.8]);
    pieces.truncate(6);
    let fine = Resolution::Exactly { cells: 120, dt_s: 1.0 };
    let mut worst = [0.0_f64; 4];
    for piece in &mut pieces {
        piece.conductivity = 1.0;
        let (oven, parameters) = (&Oven::DECK, &BakeParameters::MENDED);
        let (one, programme) = (std::slice::from_ref(piece), on_stone());
        let (coarse, pull) = (Resolution::Ensemble, Pull::AtEnd);
        let ours = bake_many(one, oven, &programme, coarse, parameters, pull, Width::One)[0];
        let trace = alone(piece, oven, &programme, fine);
        let end = trace.minutes.last().unwrap();
        let reached = trace.done.core.map_or(f64::NAN, |m| m.0);
        assert_eq!(ours.core_reached.is_nan(), reached.is_nan());
        for (worst, gap) in worst.iter_mut().zip([
            ours.core_reached - reached,
            ours.loss - end.loss.0,
            ours.lightness - end.lightness,
            ours.base_lightness - end.base_lightness,
        ]) {
            *worst = worst.max(gap.abs()); // no number where neither got there
        }
    }
    println!("minutes, points, L*: {worst:?}");
    let [core, loss, top, base] = worst;
    assert!(core < 0.5 && loss < 1.0 && top < 2.0 && base < 2.0, "{worst:?}");
}

/// Law: bread that is taken out when it is done is as asked; frozen there, whatever others do.
#[test]
fn taken_out_when_done() {
    let pieces = mixed([0.1, 0.9, 0.4, 0.7, 0.2, 0.6, 0.3, 0.8, 0.5, 0.05, 0.95]);
    let all = baked(&pieces, &on_stone(), DONE, Width::Widest);
    let (mut early, mut late) = (0, 0);
    for b in &all {
        if b.minutes < 55.0 {
            early += 1;
            // both were reached, one of them just now
            assert!(b.core >= 96.0 - 1e-9 && b.lightness <= 62.0 + 1e-9, "{b:?}");
            assert!(b.core < 96.0 + 1e-6 || b.lightness > 62.0 - 1e-6, "{b:?}");
            assert!(b.core_reached <= b.minutes + 1e-9);
        } else {
            late += 1;
            assert!(b.core < 96.0 || b.lightness > 62.0, "{b:?}");
        }
        assert!(b.highest_core >= b.core && b.starch > 0.0 && b.starch <= 1.0);
    }
    assert!(early > 3 && late > 0, "{early} {late}");
    // the minute is where the trace of the same bake crosses
    let first = &pieces[..1];
    let core = Pull::WhenDone { core: 90.0, lightness: None, latest: Minutes(37.5) };
    let out = baked(first, &on_stone(), core, Width::One)[0];
    let by_clock = baked(first, &on_stone(), Pull::AtEnd, Width::One)[0];
    assert!((out.core - 90.0).abs() < 1e-9 && out.minutes == out.core_reached);
    assert!(out.minutes < by_clock.core_reached && out.loss < by_clock.loss);
}

/// Law: targets may differ by lane.
#[test]
fn each_lane_its_own_target() {
    struct Targets;
    impl Job for Targets {
        type Out = Vec<f64>;
        fn run<L: Lanes>(self) -> Vec<f64> {
            let kitchen = Kitchen::new(&Oven::DECK, &BakeParameters::MENDED);
            let shape = Shape::Log { length: Millimetres(550.0) };
            let loaves = LoafLanes {
                measures: Measures::side_by_side(|_| {
                    Measures::of(Grams(350.0), shape, 270.0, false)
                }),
                water_per_solids: L::splat(0.9),
                profile: &[(L::splat(22.0), L::splat(1.0))],
                tin: None,
                conductivity: L::splat(1.0),
                browning: L::splat(1.0),
            };
            let core = L::from_fn(|i| 60.0 + 5.0 * i as f64);
            let (out, _) = bake_lanes(Bake {
                kitchen: &kitchen,
                ovens: &OvenLanes::as_is(&Oven::DECK),
                loaves: &loaves,
                programme: &on_stone(),
                resolution: Resolution::Preview,
                pull: Pull::WhenDone { core, lightness: None, latest: Minutes(60.0) },
                every: None,
            });
            (0..L::N).map(|i| out.lane(i).core).collect()
        }
    }
    for width in [Width::One, Width::Four, Width::Eight] {
        for (i, core) in width.run(Targets).into_iter().enumerate() {
            assert!((core - 60.0 - 5.0 * i as f64).abs() < 1e-9, "{core}");
        }
    }
}

/// No input panics or gives a number that is none.
#[test]
fn nonsense_still_bakes_side_by_side() {
    let mut pieces = mixed([0.5; 11]);
    for (i, x) in [f64::NAN, f64::INFINITY, -1e300, 0.0, 1e300].into_iter().enumerate() {
        let p = &mut pieces[i];
        (p.transfer, p.conductivity, p.browning) = (x, x, x);
        (p.knob_error, p.room, p.loaf.mass) = (TempRise(x), Celsius(x), Grams(x));
        p.loaf.profile = if i == 0 { Vec::new() } else { vec![(Celsius(x), x)] };
        p.loaf.water_per_solids = x;
    }
    let mut programme = on_stone();
    programme.stages[1].steam =
        Steam::Held { pressure: Kilopascal(f64::NAN), minutes: Minutes(f64::NAN) };
    for latest in [f64::NAN, -1.0, 0.0, 30.0] {
        let core = if latest > 0.0 { f64::NAN } else { 96.0 };
        let pull = Pull::WhenDone { core, lightness: Some(f64::NAN), latest: Minutes(latest) };
        for b in baked(&pieces, &programme, pull, Width::Widest) {
            for x in
                [b.minutes, b.core, b.loss, b.lightness, b.base_lightness, b.crust_mm, b.starch]
            {
                assert!(x.is_finite(), "{b:?}");
            }
        }
    }
    assert!(baked(&[], &programme, Pull::AtEnd, Width::Widest).is_empty());
    let none = baked(&pieces[5..6], &Programme::of(Vec::new()), DONE, Width::One)[0];
    assert_eq!((none.minutes, none.lightness), (0.0, 85.0));
}
