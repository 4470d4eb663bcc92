//! Ours for the bake: kernel, hearths, crust, loaves of the trade and of the papers.

mod reference;

use crate::Values;
use engine::bake::{
    BakeParameters, BakeTrace, Loaf, Programme, Resolution, bake_with, oven_spring,
};
use engine::crust::{change_rate_per_s, lightness_rate_per_min, starch_rate_per_s};
use engine::hearth::{
    Hearth, Oven, Pot, Slab, Stage, Steam, Tin, radiation, recovery, touch_temperature,
};
use engine::layout::{
    boule_height, flat_ended_diameter, linear_density_g_per_cm, round_ended_diameter,
};
use engine::properties::{CrumbConductivity, STANDARD_PRESSURE};
use engine::warmth::Shape;
use quantity::{Celsius, Grams, Kilopascal, Metres, Millimetres, Minutes, TempRise};
use std::f64::consts::PI;

/// Adds the values of this subject; `set` is `first` or `mended`.
pub(crate) fn values(set: &str, out: &mut Values) {
    rates(out);
    hearths(out);
    sizes(out);
    regression(out);
    grid(out);
    own_table(out);
    reference::values(out);
    let setup = Setup::of(set);
    practice(&setup, out);
    round_loaf_of_2025(&setup, out);
    cylinder_of_2005(&setup, out);
    single_numbers(&setup, out);
}

fn largest_gap(pairs: &[(f64, f64)]) -> f64 {
    pairs.iter().fold(0.0, |worst: f64, (ours, reference)| {
        if (ours - reference).abs() > worst.abs() { ours - reference } else { worst }
    })
}

fn rates(out: &mut Values) {
    for (id, t) in [
        ("crust-starch-60", 60.0),
        ("crust-starch-70", 70.0),
        ("crust-starch-80", 80.0),
        ("crust-starch-90", 90.0),
        ("crust-starch-95", 95.0),
    ] {
        out.insert(id, 1e3 * starch_rate_per_s(Celsius(t)));
    }
    for (id, t) in [
        ("crust-starch-t98-60", 60.0),
        ("crust-starch-t98-70", 70.0),
        ("crust-starch-t98-80", 80.0),
        ("crust-starch-t98-90", 90.0),
        ("crust-starch-t98-95", 95.0),
    ] {
        // 1 − exp(−kt) = 0.98
        out.insert(id, libm::log(50.0) / starch_rate_per_s(Celsius(t)));
    }
    for (id, t, a) in [
        ("crust-lightness-120", 120.0, 0.1),
        ("crust-lightness-150", 150.0, 0.1),
        ("crust-lightness-180", 180.0, 0.1),
        ("crust-lightness-200", 200.0, 0.1),
        ("crust-lightness-220", 220.0, 0.1),
        ("crust-lightness-180-03", 180.0, 0.3),
        ("crust-lightness-180-06", 180.0, 0.6),
    ] {
        out.insert(id, lightness_rate_per_min(Celsius(t), a));
    }
    for (id, t) in [
        ("crust-change-120", 120.0),
        ("crust-change-150", 150.0),
        ("crust-change-180", 180.0),
        ("crust-change-200", 200.0),
        ("crust-change-220", 220.0),
    ] {
        out.insert(id, 1e3 * change_rate_per_s(Celsius(t)));
    }
    let spring = |gas: f64, t: f64| oven_spring(gas, Celsius(25.0), Celsius(t), STANDARD_PRESSURE);
    for (id, gas, t) in [
        ("bake-spring-gas-30", 1.0, 30.0),
        ("bake-spring-gas-50", 1.0, 50.0),
        ("bake-spring-gas-60", 1.0, 60.0),
        ("bake-spring-gas-65", 1.0, 65.0),
        ("bake-spring-30", 0.7, 30.0),
        ("bake-spring-50", 0.7, 50.0),
        ("bake-spring-60", 0.7, 60.0),
        ("bake-spring-65", 0.7, 65.0),
    ] {
        out.insert(id, spring(gas, t));
    }
}

fn hearths(out: &mut Values) {
    let set = Celsius(250.0);
    let within = TempRise(10.0);
    let mm = Millimetres;
    let minutes = |m: Option<Minutes>| m.map_or(f64::NAN, |m| m.0);
    for (ids, slab) in [
        (["hearth-c15-40", "hearth-c15-60", "hearth-c15-heat"], Slab::cordierite(mm(15.0))),
        (["hearth-c20-40", "hearth-c20-60", "hearth-c20-heat"], Slab::cordierite(mm(20.0))),
        (["hearth-s8-40", "hearth-s8-60", "hearth-s8-heat"], Slab::steel(mm(8.0))),
        (["hearth-s10-40", "hearth-s10-60", "hearth-s10-heat"], Slab::steel(mm(10.0))),
        (["hearth-f30-40", "hearth-f30-60", "hearth-f30-heat"], Slab::firebrick(mm(30.0))),
    ] {
        out.insert(ids[0], minutes(recovery(&slab, set, TempRise(40.0), within)));
        out.insert(ids[1], minutes(recovery(&slab, set, TempRise(60.0), within)));
        out.insert(ids[2], minutes(slab.time_to_heat(set, Celsius(20.0), within)));
    }
    let dough = (Celsius(25.0), (0.36_f64 * 850.0 * 2850.0).sqrt());
    let touch = |slab: Slab| touch_temperature((set, slab.effusivity()), dough).0;
    out.insert("hearth-touch-cordierite", touch(Slab::cordierite(mm(20.0))));
    out.insert("hearth-touch-steel", touch(Slab::steel(mm(8.0))));
    out.insert("hearth-touch-firebrick", touch(Slab::firebrick(mm(30.0))));
    for (id, t) in
        [("hearth-total-60", 60.0), ("hearth-total-120", 120.0), ("hearth-total-180", 180.0)]
    {
        let oven = &Oven::FIRST;
        out.insert(id, oven.convection + oven.emissivity * radiation(235.0, t));
    }
}

fn sizes(out: &mut Values) {
    let mut flat = Vec::new();
    let mut round = Vec::new();
    for (kg, m, rho, f, r) in [
        (0.35, 0.55, 1.1, 2.71, 2.74),
        (0.35, 0.55, 0.4, 4.50, 4.56),
        (0.35, 0.55, 0.27, 5.48, 5.57),
        (0.18, 0.30, 0.4, 4.37, 4.48),
        (0.18, 0.50, 0.4, 3.39, 3.42),
        (0.25, 0.60, 0.4, 3.64, 3.68),
    ] {
        let (mass, length) = (Grams(1000.0 * kg), Millimetres(1000.0 * m));
        flat.push((flat_ended_diameter(mass, length, rho).0 / 10.0, f));
        round.push((round_ended_diameter(mass, length, rho).0 / 10.0, r));
    }
    out.insert("bake-size-flat", largest_gap(&flat));
    out.insert("bake-size-round", largest_gap(&round));
    let boule = boule_height(Grams(900.0), Millimetres(220.0), 0.3);
    out.insert("bake-size-boule", boule.0 / 10.0);
    let density = linear_density_g_per_cm(Grams(335.0), Millimetres(600.0));
    out.insert("bake-size-linear", density);
    let place = (Millimetres(330.0), Millimetres(56.0));
    let side = Millimetres(380.0);
    out.insert("bake-size-load", f64::from(engine::layout::pieces_per_load(place, side, side)));
}

fn log(kg: f64, length_mm: f64, rho: f64, t: f64) -> Loaf {
    let shape = Shape::Log { length: Millimetres(length_mm) };
    Loaf::even(Grams(1000.0 * kg), shape, rho, 0.9, Celsius(t))
}

fn boule(kg: f64, width_mm: f64, w: f64, t: f64) -> Loaf {
    let shape = Shape::Boule { width: Millimetres(width_mm) };
    Loaf::even(Grams(1000.0 * kg), shape, 300.0, w, Celsius(t))
}

fn tin(width_mm: f64, height_mm: f64, w: f64) -> Loaf {
    let length_mm = 220.0;
    let volume = length_mm * width_mm * height_mm * 1e-9;
    let shape = Shape::Tin { length: Millimetres(length_mm), width: Millimetres(width_mm) };
    let mut loaf = Loaf::even(Grams(900.0), shape, 0.9 / volume, w, Celsius(25.0));
    loaf.tin = Some(Tin::DARK);
    loaf
}

fn rod(r_mm: f64, m: f64, rho: f64, w: f64, t: f64) -> Loaf {
    let shape = Shape::Exactly { r: Millimetres(r_mm), m };
    Loaf::even(Grams(300.0), shape, rho, w, Celsius(t))
}

fn held(kpa: f64, minutes: f64) -> Steam {
    Steam::Held { pressure: Kilopascal(kpa), minutes: Minutes(minutes) }
}

fn plain(t: f64, minutes: f64, steam: Steam) -> Programme {
    let mut stage = Stage::at(Celsius(t), Minutes(minutes));
    stage.steam = steam;
    Programme::of(vec![stage])
}

fn reaches(trace: &BakeTrace, t: f64) -> f64 {
    trace.core_reaches(Celsius(t)).map_or(f64::NAN, |m| m.0)
}

/// One value of the state at a minute.
fn at(trace: &BakeTrace, minute: f64, of: impl Fn(&engine::bake::BakeSample) -> f64) -> f64 {
    trace.at(Minutes(minute)).map_or(f64::NAN, |s| of(&s))
}

fn reference(loaf: &Loaf, programme: &Programme, cells: usize, dt_s: f64) -> BakeTrace {
    let resolution = Resolution::Exactly { cells, dt_s };
    bake_with(loaf, &Oven::FIRST, programme, resolution, &BakeParameters::FIRST)
}

fn regression(out: &mut Values) {
    let trace =
        reference(&log(0.35, 550.0, 270.0, 22.0), &plain(245.0, 25.0, held(40.0, 6.0)), 30, 2.0);
    out.insert("bake-ref-t96", reaches(&trace, 96.0));
    out.insert("bake-ref-loss-22", at(&trace, 22.0, |s| s.loss.0));
    out.insert("bake-ref-surface-22", at(&trace, 22.0, |s| s.top_surface.0));
    out.insert("bake-ref-lightness-22", at(&trace, 22.0, |s| s.lightness));
    out.insert("bake-ref-change-22", at(&trace, 22.0, |s| s.browning));
    for (ids, minute) in [
        (["bake-ref-core-5", "bake-ref-surface-5", "bake-ref-loss-5", "bake-ref-dry-5"], 5.0),
        (["bake-ref-core-10", "bake-ref-surface-10", "bake-ref-loss-10", "bake-ref-dry-10"], 10.0),
        (["bake-ref-core-15", "bake-ref-surface-15", "bake-ref-loss-15", "bake-ref-dry-15"], 15.0),
        (["bake-ref-core-20", "bake-ref-surface-20", "bake-ref-loss-20", "bake-ref-dry-20"], 20.0),
    ] {
        out.insert(ids[0], at(&trace, minute, |s| s.core.0));
        out.insert(ids[1], at(&trace, minute, |s| s.top_surface.0));
        out.insert(ids[2], at(&trace, minute, |s| s.loss.0));
        out.insert(ids[3], at(&trace, minute, |s| s.dry_zone.0));
    }
    out.insert("bake-ref-condensed", trace.condensed_g_per_m2);

    // the other loaves of the reference: core or its time, loss, lightness at the end
    let fan = {
        let mut p = plain(230.0, 20.0, held(40.0, 6.0));
        p.stages[0].fan = true;
        p
    };
    let off = {
        let mut p = plain(245.0, 18.0, held(40.0, 6.0));
        p.stages.push(Stage::at(Celsius(100.0), Minutes(6.0)));
        p
    };
    let pot = {
        let mut covered = Stage::at(Celsius(245.0), Minutes(22.0));
        covered.lid = true;
        let mut p = Programme::of(vec![covered, Stage::at(Celsius(245.0), Minutes(20.0))]);
        p.pot = Some(Pot::CAST_IRON);
        p
    };
    let steamed = |t: f64, m: f64| plain(t, m, held(40.0, 6.0));
    let bag = log(0.35, 550.0, 270.0, 22.0);
    let end = |loaf: &Loaf, p: &Programme| {
        let trace = reference(loaf, p, 30, 2.0);
        let last = p.minutes().0;
        let lightness = at(&trace, last, |s| s.lightness);
        (
            reaches(&trace, 96.0),
            at(&trace, last, |s| s.core.0),
            at(&trace, last, |s| s.loss.0),
            lightness,
        )
    };
    let (t96, _, loss, l) = end(&bag, &fan);
    out.insert("bake-ref-fan-t96", t96);
    out.insert("bake-ref-fan-loss", loss);
    out.insert("bake-ref-fan-lightness", l);
    let (t96, _, loss, l) = end(&log(0.18, 300.0, 270.0, 22.0), &steamed(245.0, 19.0));
    out.insert("bake-ref-demi-t96", t96);
    out.insert("bake-ref-demi-loss", loss);
    out.insert("bake-ref-demi-lightness", l);
    let (t96, _, loss, l) = end(&log(0.18, 500.0, 270.0, 22.0), &steamed(245.0, 15.0));
    out.insert("bake-ref-ficelle-t96", t96);
    out.insert("bake-ref-ficelle-loss", loss);
    out.insert("bake-ref-ficelle-lightness", l);
    let (_, core, loss, l) = end(&boule(0.9, 220.0, 0.9, 15.0), &pot);
    out.insert("bake-ref-pot-core", core);
    out.insert("bake-ref-pot-loss", loss);
    out.insert("bake-ref-pot-lightness", l);
    let trace = reference(&bag, &off, 30, 2.0);
    out.insert("bake-ref-off-loss", at(&trace, 24.0, |s| s.loss.0));
    out.insert("bake-ref-off-surface", at(&trace, 24.0, |s| s.top_surface.0));
    out.insert("bake-ref-off-lightness", at(&trace, 24.0, |s| s.lightness));
    // 78.5 kPa, about 2090 m
    let high = Oven { pressure: Kilopascal(78.5), ..Oven::FIRST };
    let fine = Resolution::Exactly { cells: 30, dt_s: 2.0 };
    let trace = bake_with(&bag, &high, &steamed(245.0, 22.0), fine, &BakeParameters::FIRST);
    out.insert("bake-ref-high-core", at(&trace, 22.0, |s| s.core.0));
    out.insert("bake-ref-high-loss", at(&trace, 22.0, |s| s.loss.0));
    let above = Oven::FIRST.at_altitude(Metres(2000.0));
    let trace = bake_with(&bag, &above, &steamed(245.0, 22.0), fine, &BakeParameters::FIRST);
    out.insert("bake-altitude-target", trace.done.core_target.map_or(f64::NAN, |t| t.0));
    base_column(out);
    let balance = reference(&bag, &steamed(245.0, 22.0), 30, 2.0).unbalanced;
    out.insert("bake-balance-heat", balance.0);
    out.insert("bake-balance-water", balance.1);
}

/// The base of the reference baguette on three hearths: base and hearth top over time.
fn base_column(out: &mut Values) {
    let loaf = log(0.35, 550.0, 270.0, 22.0);
    let on = |slab: Slab, start: f64| {
        let mut p = plain(245.0, 22.0, held(40.0, 6.0));
        p.hearth = Hearth::Slab(slab, Some(Celsius(start)));
        reference(&loaf, &p, 30, 2.0)
    };
    let base = |t: &BakeTrace, m: f64| at(t, m, |s| s.base_surface.0);
    let top = |t: &BakeTrace, m: f64| at(t, m, |s| s.hearth_top.map_or(f64::NAN, |t| t.0));
    let stone = on(Slab::cordierite(Millimetres(20.0)), 240.0);
    let steel = on(Slab::steel(Millimetres(8.0)), 240.0);
    let sheet = on(Slab::sheet(), 20.0);
    for (ids, m) in [
        (
            [
                "hearth-base-stone-2",
                "hearth-top-stone-2",
                "hearth-base-steel-2",
                "hearth-base-sheet-2",
            ],
            2.0,
        ),
        (
            [
                "hearth-base-stone-5",
                "hearth-top-stone-5",
                "hearth-base-steel-5",
                "hearth-base-sheet-5",
            ],
            5.0,
        ),
        (
            [
                "hearth-base-stone-10",
                "hearth-top-stone-10",
                "hearth-base-steel-10",
                "hearth-base-sheet-10",
            ],
            10.0,
        ),
        (
            [
                "hearth-base-stone-22",
                "hearth-top-stone-22",
                "hearth-base-steel-22",
                "hearth-base-sheet-22",
            ],
            22.0,
        ),
    ] {
        out.insert(ids[0], base(&stone, m));
        out.insert(ids[1], top(&stone, m));
        out.insert(ids[2], base(&steel, m));
        out.insert(ids[3], base(&sheet, m));
    }
}

macro_rules! grid_ids {
    ($name:literal) => {
        [
            concat!("bake-grid-", $name, "-t96"),
            concat!("bake-grid-", $name, "-loss"),
            concat!("bake-grid-", $name, "-surface"),
            concat!("bake-grid-", $name, "-lightness"),
            concat!("bake-grid-", $name, "-dry"),
        ]
    };
}

/// Grid errors of the reference baguette against 120 cells and 0.25 s.
fn grid(out: &mut Values) {
    let loaf = log(0.35, 550.0, 270.0, 22.0);
    let programme = plain(245.0, 22.0, held(40.0, 6.0));
    let of = |cells: usize, dt: f64| {
        let trace = reference(&loaf, &programme, cells, dt);
        [
            reaches(&trace, 96.0),
            at(&trace, 22.0, |s| s.loss.0),
            at(&trace, 22.0, |s| s.top_surface.0),
            at(&trace, 22.0, |s| s.lightness),
            at(&trace, 22.0, |s| s.dry_zone.0),
        ]
    };
    let fine = of(120, 0.25);
    for (id, value) in grid_ids!("fine").into_iter().zip(fine) {
        out.insert(id, value);
    }
    for (ids, cells, dt) in [
        (grid_ids!("60"), 60, 0.5),
        (grid_ids!("40"), 40, 1.0),
        (grid_ids!("30-1"), 30, 1.0),
        (grid_ids!("30-5"), 30, 5.0),
        (grid_ids!("30-10"), 30, 10.0),
        (grid_ids!("20-5"), 20, 5.0),
        (grid_ids!("20-10"), 20, 10.0),
        (grid_ids!("15"), 15, 15.0),
        (grid_ids!("10"), 10, 1.0),
    ] {
        let here = of(cells, dt);
        for i in 0..ids.len() {
            out.insert(ids[i], here[i] - fine[i]);
        }
    }
    let named = |resolution: Resolution| {
        let t = bake_with(&loaf, &Oven::FIRST, &programme, resolution, &BakeParameters::FIRST);
        (reaches(&t, 96.0) - fine[0], at(&t, 22.0, |s| s.loss.0) - fine[1])
    };
    let (publish, preview) = (named(Resolution::Publish), named(Resolution::Preview));
    out.insert("bake-grid-publish-t96", publish.0);
    out.insert("bake-grid-publish-loss", publish.1);
    out.insert("bake-grid-preview-t96", preview.0);
    out.insert("bake-grid-preview-loss", preview.1);
}

/// R mm, oven °C, h W/(m² K): core set (98 %) min, L* 70 min, loss % at the later.
const OWN: [(f64, f64, f64, f64, f64, f64); 48] = [
    (20.0, 180.0, 5.0, 7.1, 37.9, 35.4),
    (20.0, 180.0, 10.0, 5.9, 31.6, 34.6),
    (20.0, 180.0, 20.0, 4.8, 24.3, 33.3),
    (20.0, 200.0, 5.0, 5.8, 26.5, 33.2),
    (20.0, 200.0, 10.0, 5.1, 22.0, 32.1),
    (20.0, 200.0, 20.0, 4.4, 16.6, 30.4),
    (20.0, 220.0, 5.0, 5.1, 19.3, 30.8),
    (20.0, 220.0, 10.0, 4.6, 16.0, 29.6),
    (20.0, 220.0, 20.0, 4.2, 12.0, 27.8),
    (20.0, 240.0, 5.0, 4.6, 14.5, 28.5),
    (20.0, 240.0, 10.0, 4.3, 12.0, 27.3),
    (20.0, 240.0, 20.0, 4.0, 9.1, 25.4),
    (30.0, 180.0, 5.0, 11.5, 45.0, 27.8),
    (30.0, 180.0, 10.0, 9.7, 37.2, 26.8),
    (30.0, 180.0, 20.0, 8.3, 28.1, 25.2),
    (30.0, 200.0, 5.0, 9.6, 31.3, 25.4),
    (30.0, 200.0, 10.0, 8.6, 25.7, 24.2),
    (30.0, 200.0, 20.0, 7.7, 19.2, 22.5),
    (30.0, 220.0, 5.0, 8.6, 22.6, 23.1),
    (30.0, 220.0, 10.0, 8.0, 18.6, 21.9),
    (30.0, 220.0, 20.0, 7.4, 13.9, 20.2),
    (30.0, 240.0, 5.0, 8.0, 16.9, 21.0),
    (30.0, 240.0, 10.0, 7.6, 14.0, 19.9),
    (30.0, 240.0, 20.0, 7.1, 10.4, 18.1),
    (40.0, 180.0, 5.0, 17.1, 49.7, 22.3),
    (40.0, 180.0, 10.0, 14.4, 40.9, 21.4),
    (40.0, 180.0, 20.0, 12.6, 30.7, 19.9),
    (40.0, 200.0, 5.0, 14.2, 34.6, 20.1),
    (40.0, 200.0, 10.0, 13.0, 28.4, 19.1),
    (40.0, 200.0, 20.0, 11.9, 21.1, 17.5),
    (40.0, 220.0, 5.0, 12.9, 25.0, 18.1),
    (40.0, 220.0, 10.0, 12.2, 20.5, 17.0),
    (40.0, 220.0, 20.0, 11.5, 15.1, 15.3),
    (40.0, 240.0, 5.0, 12.2, 18.7, 16.2),
    (40.0, 240.0, 10.0, 11.7, 15.3, 15.1),
    (40.0, 240.0, 20.0, 11.1, 11.2, 13.5),
    (50.0, 180.0, 5.0, 23.4, 53.4, 18.4),
    (50.0, 180.0, 10.0, 20.0, 43.9, 17.5),
    (50.0, 180.0, 20.0, 17.8, 32.8, 16.2),
    (50.0, 200.0, 5.0, 19.7, 37.3, 16.5),
    (50.0, 200.0, 10.0, 18.2, 30.5, 15.5),
    (50.0, 200.0, 20.0, 17.0, 22.4, 13.9),
    (50.0, 220.0, 5.0, 18.1, 26.9, 14.6),
    (50.0, 220.0, 10.0, 17.3, 21.9, 13.6),
    (50.0, 220.0, 20.0, 16.4, 15.9, 12.3),
    (50.0, 240.0, 5.0, 17.3, 19.9, 12.9),
    (50.0, 240.0, 10.0, 16.7, 16.2, 12.3),
    (50.0, 240.0, 20.0, 15.9, 11.7, 13.9),
];

/// When ∫ k dt of the core's starch reaches a level, min: between steps, from the times at which
/// the core passes each tenth of a degree.
fn starch_set(trace: &BakeTrace, level: f64) -> f64 {
    let (mut sum, mut before) = (0.0, f64::NAN);
    let mut rate = 0.0;
    for tenth in 400..1010 {
        let t = f64::from(tenth) / 10.0;
        let Some(now) = trace.core_reaches(Celsius(t)) else { break };
        if before.is_finite() {
            rate = 60.0 * starch_rate_per_s(Celsius(t - 0.05));
            let part = rate * (now.0 - before);
            if sum + part >= level {
                return before + (level - sum) / rate;
            }
            sum += part;
        }
        before = now.0;
    }
    before + (level - sum) / rate // the core has stopped rising
}

fn own_table(out: &mut Values) {
    let mut parameters = BakeParameters::FIRST;
    parameters.conductivity = CrumbConductivity::PURLIS_2009;
    let (mut set, mut brown, mut loss) = (Vec::new(), Vec::new(), Vec::new());
    for (r, t, h, t_set, t_brown, lost) in OWN {
        let oven = Oven {
            convection: h,
            emissivity: 0.9,
            loaded_sag: TempRise(0.0),
            air_drop: TempRise(0.0),
            wall_drop: TempRise(0.0),
            ..Oven::FIRST
        };
        let loaf = rod(r, 1.0, 250.0, 0.65, 25.0);
        let programme = plain(t, 60.0, Steam::None);
        let resolution = Resolution::Exactly { cells: 40, dt_s: 2.0 };
        let trace = bake_with(&loaf, &oven, &programme, resolution, &parameters);
        let first = |level: f64, of: &dyn Fn(&engine::bake::BakeSample) -> f64| {
            let mut before = (0.0, f64::NAN);
            for s in &trace.minutes {
                let y = of(s);
                if y >= level {
                    return before.0
                        + (s.minute.0 - before.0) * (level - before.1) / (y - before.1);
                }
                before = (s.minute.0, y);
            }
            f64::NAN
        };
        let a = starch_set(&trace, 3.912);
        let b = first(-70.0, &|s| -s.lightness);
        set.push((a, t_set));
        brown.push((b, t_brown));
        loss.push((at(&trace, a.max(b), |s| s.loss.0), lost));
    }
    out.insert("bake-own-set", largest_gap(&set));
    out.insert("bake-own-brown", largest_gap(&brown));
    out.insert("bake-own-loss", largest_gap(&loss));
}

/// What a parameter set bakes with.
struct Setup {
    parameters: BakeParameters,
    deck: Oven,
    home: Oven,
    /// The ovens of the measured loaves: their own total, heat alike from all sides.
    lab: Oven,
    /// A brick vault, black on all sides.
    vault: Oven,
    stone: Hearth,
    mended: bool,
}

/// Total heat transfer of the oven of the free round loaf, W/(m² K). *Calibrated*.
const LAB_TOTAL: f64 = 13.0;
/// That of a brick vault: 6 by air, 0.9 of black radiation. Ours.
const VAULT_TOTAL: f64 = 25.0;

/// Heat transfer of an oven from walls and air of `oven` to a surface of `surface`, W/(m² K).
fn transfer(of: &Oven, oven: f64, surface: f64) -> f64 {
    of.convection + of.emissivity * radiation(oven, surface)
}

impl Setup {
    fn of(set: &str) -> Self {
        if set == "first" {
            Self {
                parameters: BakeParameters::FIRST,
                deck: Oven::FIRST,
                home: Oven::FIRST,
                lab: Oven::FIRST,
                vault: Oven::FIRST,
                stone: Hearth::Grid,
                mended: false,
            }
        } else {
            Self {
                parameters: BakeParameters::MENDED,
                deck: Oven::DECK,
                home: Oven::HOME,
                lab: Oven { roof: 1.0, ..Oven::HOME }.with_total_transfer(LAB_TOTAL),
                vault: Oven::DECK.with_total_transfer(VAULT_TOTAL),
                stone: Hearth::stone(),
                mended: true,
            }
        }
    }

    fn bake(&self, loaf: &Loaf, oven: &Oven, mut p: Programme, hearth: Hearth) -> BakeTrace {
        p.hearth = hearth;
        bake_with(loaf, oven, &p, Resolution::Publish, &self.parameters)
    }

    fn deck(&self, loaf: &Loaf, p: Programme) -> BakeTrace {
        self.bake(loaf, &self.deck, p, self.stone)
    }
}

/// Loss while baking and cooling, % of dough.
fn whole_loss(trace: &BakeTrace, minute: f64) -> f64 {
    at(trace, minute, |s| s.loss.0) + trace.cooling_loss.0
}

fn practice(setup: &Setup, out: &mut Values) {
    let bag = setup.deck(&log(0.35, 550.0, 270.0, 22.0), plain(245.0, 25.0, held(40.0, 6.0)));
    out.insert("bake-baguette-t96", reaches(&bag, 96.0));
    out.insert("bake-baguette-lightness", at(&bag, 22.0, |s| s.lightness));
    out.insert("bake-baguette-lightness-20", at(&bag, 20.0, |s| s.lightness));
    out.insert("bake-baguette-lightness-25", at(&bag, 25.0, |s| s.lightness));
    out.insert("bake-baguette-loss", whole_loss(&bag, 22.0));
    let bag = setup.deck(&log(0.335, 600.0, 270.0, 22.0), plain(250.0, 20.0, held(40.0, 6.0)));
    out.insert("bake-baguette335-loss", at(&bag, 20.0, |s| s.loss.0));
    let round = setup.deck(&boule(0.9, 220.0, 0.9, 15.0), plain(230.0, 45.0, Steam::None));
    out.insert("bake-boule-core-40", at(&round, 40.0, |s| s.core.0));
    out.insert("bake-boule-core-45", at(&round, 45.0, |s| s.core.0));
    out.insert("bake-boule-loss", whole_loss(&round, 42.0));
    out.insert("bake-boule-lightness", at(&round, 42.0, |s| s.lightness));
    let cold = setup.deck(&boule(0.9, 220.0, 0.9, 5.0), plain(230.0, 45.0, Steam::None));
    out.insert("bake-boule-fridge-core-45", at(&cold, 45.0, |s| s.core.0));
    let batard = setup.deck(&log(0.7, 300.0, 280.0, 22.0), plain(235.0, 35.0, held(40.0, 6.0)));
    out.insert("bake-batard-t96", reaches(&batard, 96.0));
    out.insert("bake-batard-core-30", at(&batard, 30.0, |s| s.core.0));
    out.insert("bake-batard-core-35", at(&batard, 35.0, |s| s.core.0));
    out.insert("bake-batard-lightness", at(&batard, 32.0, |s| s.lightness));
    // at home: a tray of water, a stone
    let home = |loaf: &Loaf, t: f64, minutes: f64| {
        let programme = plain(t, minutes, Steam::Tray(Grams(250.0)));
        setup.bake(loaf, &setup.home, programme, Hearth::stone())
    };
    let batard = home(&log(0.7, 300.0, 280.0, 22.0), 240.0, 38.0);
    out.insert("bake-home-batard-t96", reaches(&batard, 96.0));
    out.insert("bake-home-batard-lightness-30", at(&batard, 30.0, |s| s.lightness));
    out.insert("bake-home-batard-lightness-37", at(&batard, 37.0, |s| s.lightness));
    let batard = home(&log(0.7, 300.0, 280.0, 22.0), 235.0, 38.0);
    out.insert("bake-home-batard-lightness-38", at(&batard, 38.0, |s| s.lightness));
    let round = home(&boule(0.9, 220.0, 0.9, 15.0), 230.0, 45.0);
    out.insert("bake-home-boule-lightness", at(&round, 45.0, |s| s.lightness));
    out.insert("bake-home-boule-loss", whole_loss(&round, 45.0));
    for (core, loss, t, minutes) in [
        ("bake-pan-core-200", "bake-pan-loss-200", 200.0, 40.0),
        ("bake-pan-core-210", "bake-pan-loss-210", 210.0, 37.0),
        ("bake-pan-core-220", "bake-pan-loss-220", 220.0, 35.0),
    ] {
        let pan = setup.deck(&tin(105.0, 115.0, 0.9), plain(t, minutes, Steam::None));
        out.insert(core, at(&pan, minutes, |s| s.core.0));
        out.insert(loss, whole_loss(&pan, minutes));
    }
    let big = setup.deck(&boule(1.8, 283.0, 0.9, 15.0), plain(230.0, 60.0, Steam::None));
    out.insert("bake-big-boule-lightness", at(&big, 60.0, |s| s.lightness));
    out.insert("bake-big-boule-core", at(&big, 60.0, |s| s.core.0));
    let pan = setup.deck(&tin(100.0, 107.0, 0.9), plain(240.0, 30.0, Steam::None));
    out.insert("bake-campden-core", at(&pan, 30.0, |s| s.core.0));
    let steam = |s: Steam| setup.deck(&log(0.35, 550.0, 270.0, 22.0), plain(245.0, 22.0, s));
    let (wet, dry) = (steam(held(80.0, 5.0)), steam(Steam::None));
    let light = |t: &BakeTrace| at(t, 22.0, |s| s.lightness);
    out.insert("crust-steam-paler", light(&wet) - light(&dry));
    out.insert("crust-steam-gloss", at(&wet, 22.0, |s| s.gloss) - at(&dry, 22.0, |s| s.gloss));
    let hot = |t: &BakeTrace| {
        let pair = t.minutes.windows(2).find(|w| w[1].top_surface.0 >= 100.0);
        pair.map_or(f64::NAN, |w| {
            let (a, b) = (w[0].top_surface.0, w[1].top_surface.0);
            w[0].minute.0 + (100.0 - a) / (b - a)
        })
    };
    out.insert("crust-steam-delay", hot(&wet) - hot(&dry));
    let measures = log(0.35, 550.0, 270.0, 22.0).measures();
    let surface = measures.surface_m2 * (1.0 - measures.base);
    out.insert("bake-condensed", 100.0 * wet.condensed_g_per_m2 * surface / 350.0);
}

/// Free round loaf, doi 10.14311/TPFM.2025.015, as the authors' own figures have it: 492 g, W 0.55.
fn round_loaf_of_2025(setup: &Setup, out: &mut Values) {
    let volume = PI / 6.0 * 0.18 * 0.18 * 0.081;
    let shape = Shape::Boule { width: Millimetres(180.0) };
    let loaf = Loaf::even(Grams(492.0), shape, 0.492 / volume, 0.55, Celsius(29.0));
    let mut programme = plain(250.0, 40.0, Steam::None);
    programme.paper = true;
    programme.logged = [
        (0.0, 200.0),
        (2.0, 206.0),
        (6.0, 236.0),
        (10.0, 252.0),
        (16.0, 259.0),
        (20.0, 252.0),
        (24.0, 250.0),
        (30.0, 247.0),
        (36.0, 243.0),
        (40.0, 245.0),
    ]
    .map(|(m, t)| (Minutes(m), Celsius(t)))
    .to_vec();
    let tray = Hearth::Slab(Slab::sheet(), Some(Celsius(25.0)));
    let hearth = if setup.mended { tray } else { Hearth::Grid };
    // Prague stands about 220 m high
    let place = if setup.mended { setup.lab.at_altitude(Metres(220.0)) } else { setup.lab };
    let trace = setup.bake(&loaf, &place, programme, hearth);
    out.insert("bake-round-t96", reaches(&trace, 96.0));
    for (core, loss, minute) in [
        ("bake-round-core-2", "bake-round-loss-2", 2.0),
        ("bake-round-core-6", "bake-round-loss-6", 6.0),
        ("bake-round-core-10", "bake-round-loss-10", 10.0),
        ("bake-round-core-16", "bake-round-loss-16", 16.0),
        ("bake-round-core-20", "bake-round-loss-20", 20.0),
        ("bake-round-core-24", "bake-round-loss-24", 24.0),
        ("bake-round-core-30", "bake-round-loss-30", 30.0),
        ("bake-round-core-36", "bake-round-loss-36", 36.0),
        ("bake-round-core-40", "bake-round-loss-40", 40.0),
    ] {
        out.insert(core, at(&trace, minute, |s| s.core.0));
        out.insert(loss, at(&trace, minute, |s| s.loss.0));
    }
    let late = at(&trace, 40.0, |s| s.loss.0) - at(&trace, 30.0, |s| s.loss.0);
    out.insert("bake-round-rate", 4.92 * late / 10.0);
    let t96 = reaches(&trace, 96.0);
    out.insert("bake-round-loss-at-96", at(&trace, t96, |s| s.loss.0));
}

/// Small cylinder on a grid, doi 10.1002/aic.10518, at its size half-way through its rise.
fn cylinder_of_2005(setup: &Setup, out: &mut Values) {
    let (d, h): (f64, f64) = (0.082, 0.043);
    let volume = PI / 4.0 * d * d * h;
    let surface = PI / 2.0 * d * d + PI * d * h;
    let m = h / 2.0 * surface / volume - 1.0;
    let shape = Shape::Exactly { r: Millimetres(500.0 * h), m };
    let loaf = Loaf::even(Grams(43.0), shape, 0.043 / volume, 0.537, Celsius(23.0));
    let mut programme = plain(190.0, 15.0, Steam::None);
    programme.logged = vec![(Minutes(0.0), Celsius(190.0))];
    // the authors' 9.75 holds in their oven: of 190 °C, surface near 90 °C
    let mut own = setup.lab;
    if setup.mended {
        own = own.with_total_transfer(9.75 * own.total_transfer() / transfer(&own, 190.0, 90.0));
    }
    let trace = setup.bake(&loaf, &own, programme, Hearth::Grid);
    out.insert("bake-cylinder-t96", reaches(&trace, 96.0));
    for (core, surface, minute) in [
        ("bake-cylinder-core-1", "bake-cylinder-surface-1", 1.0),
        ("bake-cylinder-core-2", "bake-cylinder-surface-2", 2.0),
        ("bake-cylinder-core-4", "bake-cylinder-surface-4", 4.0),
        ("bake-cylinder-core-6", "bake-cylinder-surface-6", 6.0),
        ("bake-cylinder-core-8", "bake-cylinder-surface-8", 8.0),
        ("bake-cylinder-core-10", "bake-cylinder-surface-10", 10.0),
        ("bake-cylinder-core-12", "bake-cylinder-surface-12", 12.0),
        ("bake-cylinder-core-13", "bake-cylinder-surface-13", 13.3),
    ] {
        out.insert(core, at(&trace, minute, |s| s.core.0));
        out.insert(surface, at(&trace, minute, |s| s.top_surface.0));
    }
    for (id, minute) in [
        ("bake-cylinder-loss-2", 2.0),
        ("bake-cylinder-loss-5", 5.0),
        ("bake-cylinder-loss-7", 7.0),
        ("bake-cylinder-loss-9", 9.0),
        ("bake-cylinder-loss-11", 11.0),
        ("bake-cylinder-loss-13", 13.3),
        ("bake-cylinder-loss-15", 15.0),
    ] {
        out.insert(id, at(&trace, minute, |s| s.loss.0));
    }
    let spring = |t: f64| oven_spring(0.7, Celsius(24.0), Celsius(t), STANDARD_PRESSURE);
    out.insert("bake-cylinder-rise", spring(65.0));
    out.insert("bake-cylinder-rise-1", spring(at(&trace, 1.0, |s| s.mean.0)));
    out.insert("bake-cylinder-rise-2", spring(at(&trace, 2.0, |s| s.mean.0)));
    let t96 = reaches(&trace, 96.0);
    out.insert("bake-cylinder-loss-at-96", at(&trace, t96, |s| s.loss.0));
}

fn single_numbers(setup: &Setup, out: &mut Values) {
    // weight loss against weight: the same 40 min for all
    let loss = |kg: f64| {
        let width = 220.0 * libm::cbrt(kg / 0.9);
        let loaf = boule(kg, width, 0.8, 25.0);
        let oven = &setup.home;
        let trace = setup.bake(&loaf, oven, plain(230.0, 40.0, Steam::None), setup.stone);
        whole_loss(&trace, 40.0)
    };
    let losses = [loss(0.65), loss(0.8), loss(0.9), loss(1.0)];
    for (id, loss) in ["bake-weight-650", "bake-weight-800", "bake-weight-900", "bake-weight-1000"]
        .iter()
        .zip(losses)
    {
        out.insert(id, loss);
    }
    out.insert("bake-weight-falls", losses[0] - losses[3]);

    // Balland: 1750 g, 47.6 % water, falling oven
    let w = 0.476 / 0.524;
    let loaf = boule(1.75, 300.0, w, 25.0);
    let mut programme = plain(270.0, 35.0, Steam::None);
    programme.logged = vec![(Minutes(0.0), Celsius(270.0)), (Minutes(35.0), Celsius(225.0))];
    let brick = Hearth::Slab(Slab::firebrick(Millimetres(60.0)), None);
    let hearth = if setup.mended { brick } else { Hearth::Grid };
    let trace = setup.bake(&loaf, &setup.vault, programme, hearth);
    out.insert("bake-balland-loss", at(&trace, 35.0, |s| s.loss.0));
    out.insert("bake-balland-core", at(&trace, 35.0, |s| s.core.0));
    let wet_share = |inner: f64, outer: f64| {
        let (mut water, mut solids, mut seen) = (0.0, 0.0, 0.0);
        for d in &trace.depths {
            let part = ((seen + d.share).min(outer) - seen.max(inner)).max(0.0);
            water += part * d.water;
            solids += part;
            seen += d.share;
        }
        let w: f64 = water / solids;
        100.0 * w / (1.0 + w)
    };
    out.insert("bake-balland-crumb", wet_share(0.0, 0.3));
    // the whole loaf was analysed cold: what cooling takes is gone too
    let solids = 1.0 / (1.0 + w);
    let hot = wet_share(0.0, 1.0) / 100.0;
    let water = solids * hot / (1.0 - hot) - trace.cooling_loss.0 / 100.0;
    out.insert("bake-balland-whole", 100.0 * water / (solids + water));
    // the outer third of the loaf's weight: a little more than a third of its solids
    out.insert("bake-balland-crust-water", wet_share(0.587, 1.0));
    out.insert("bake-balland-crust", at(&trace, 35.0, |s| s.crust.0));
    let bag = setup.deck(&log(0.35, 550.0, 270.0, 22.0), plain(245.0, 22.0, held(40.0, 6.0)));
    out.insert("bake-girard-core", at(&bag, 22.0, |s| s.core.0));
    let per_bread = |t: &BakeTrace, minute: f64| {
        t.heat_j_per_kg / 1000.0 / (1.0 - at(t, minute, |s| s.loss.0) / 100.0)
    };
    out.insert("bake-heat-baguette", per_bread(&bag, 22.0));
    out.insert("bake-birnbaum", per_bread(&trace, 35.0));
    out.insert("bake-birnbaum-baguette", per_bread(&bag, 22.0));
    out.insert("bake-le-bail-heat", per_bread(&bag, 22.0));
    out.insert("bake-zanoni-plateau", at(&bag, 20.0, |s| s.core.0));
    let crumb = at(&bag, 22.0, |s| s.core_water);
    out.insert("bake-inrae-crumb", 100.0 * crumb / (1.0 + crumb));
    let surface = |m: f64| at(&bag, m, |s| s.top_surface.0);
    out.insert("bake-zanoni-surface", surface(20.0) - surface(15.0));
    let round = setup.deck(&boule(0.9, 220.0, 0.9, 15.0), plain(230.0, 42.0, Steam::None));
    out.insert("bake-heat-boule", per_bread(&round, 42.0));
    // a hearth loaf at 230 °C with 300 mL of steam: bread per volume is what the density says
    let volume = 1000.0 / 300.0 / (1.0 - at(&round, 42.0, |s| s.loss.0) / 100.0);
    out.insert("bake-dessev-volume", volume);

    // intense heat browns before it bakes: oven of 240 °C, 20 W/(m² K) and black walls, 10 cm thick
    let fierce = Oven { convection: 20.0, emissivity: 0.9, ..Oven::FIRST };
    let trace = setup.bake(
        &rod(50.0, 1.0, 250.0, 0.65, 25.0),
        &fierce,
        plain(240.0, 60.0, Steam::None),
        Hearth::Grid,
    );
    let browns = trace.minutes.iter().find(|s| s.lightness <= 70.0);
    let sets = trace.minutes.iter().find(|s| s.starch >= 0.98);
    let early = browns.zip(sets).map_or(f64::NAN, |(b, s)| b.minute.0 - s.minute.0);
    out.insert("bake-purlis-browns-first", early);
    // steamed, oven falling from 260 to 190 °C
    let mut falling = plain(260.0, 22.0, held(40.0, 6.0));
    falling.logged = vec![(Minutes(0.0), Celsius(260.0)), (Minutes(22.0), Celsius(190.0))];
    let trace = setup.deck(&log(0.35, 550.0, 270.0, 22.0), falling);
    out.insert("bake-falling-surface", at(&trace, 22.0, |s| s.top_surface.0));
    // black and bright walls, 30 min
    let walls = |emissivity: f64| {
        let oven = Oven { emissivity, ..setup.home };
        let trace = setup.bake(
            &boule(0.5, 175.0, 0.9, 22.0),
            &oven,
            plain(240.0, 30.0, Steam::None),
            setup.stone,
        );
        (at(&trace, 12.0, |s| s.lightness), at(&trace, 30.0, |s| s.lightness))
    };
    let (black, bright) = (walls(0.9), walls(0.3));
    out.insert("crust-walls-early", bright.0 - black.0);
    out.insert("crust-walls-black", black.1);
    out.insert("crust-walls-bright", bright.1);

    // Therdthai: a tin through four zones
    let mut zones = plain(176.0, 27.4, Steam::None);
    let (a, b, c) = (27.4 / 4.0, 27.4 / 2.0, 0.75 * 27.4);
    zones.logged = [
        (0.0, 115.0),
        (a, 115.0),
        (a + 0.1, 130.0),
        (b, 130.0),
        (b + 0.1, 156.0),
        (c, 156.0),
        (c + 0.1, 176.0),
        (27.4, 176.0),
    ]
    .map(|(m, t)| (Minutes(m), Celsius(t)))
    .to_vec();
    // the temperatures are the tin's: its contact with the dough is all that lies between
    let touching = setup.deck.with_total_transfer(75.0);
    let mut dough = tin(110.0, 110.0, 0.9);
    dough.tin = Some(Tin { emissivity: 1.0 });
    let trace = setup.bake(&dough, &touching, zones, Hearth::Grid);
    out.insert("bake-therdthai", at(&trace, 27.4, |s| s.core.0));
    let french = rod(22.5, 1.0, 270.0, 0.9, 25.0);
    let trace = setup.deck(&french, plain(218.0, 20.0, Steam::None));
    out.insert("bake-park", reaches(&trace, 97.0));

    out.insert("hearth-baik-total", setup.deck.total_transfer());
    let radiant = 100.0 * setup.deck.emissivity * radiation(235.0, 120.0);
    out.insert("hearth-baik-radiant", radiant / setup.deck.total_transfer());
    out.insert("hearth-rack-radiant", radiant / setup.deck.total_transfer());
    let p = &setup.parameters;
    out.insert("hearth-block-base", p.contact_h.0 + p.contact_h.1 * libm::exp(-600.0 / 180.0));
    out.insert("hearth-authors-total", transfer(&setup.lab, 190.0, 90.0));

    // water in the core
    let rises = {
        let mut loaf = tin(105.0, 80.0, 0.83);
        loaf.mass = Grams(570.0);
        let trace = setup.bake(&loaf, &setup.home, plain(225.0, 60.0, Steam::None), Hearth::Grid);
        let level = 0.83 * 1.001;
        let pair = trace.minutes.windows(2).find(|w| w[1].core_water >= level);
        pair.map_or(f64::NAN, |w| {
            let x = (level - w[0].core_water) / (w[1].core_water - w[0].core_water);
            w[0].core.0 + x * (w[1].core.0 - w[0].core.0)
        })
    };
    out.insert("bake-core-water-from", rises);
    let k = &p.conductivity;
    let share = |t: f64| {
        let steep = libm::exp(-p.vapour_slope_per_k * (t - p.vapour_half_deg_c));
        let open = 1.0 / (1.0 + libm::exp(-(t - 76.0) / 3.0));
        let vapour = k.k_vapour / (1.0 + steep) * (1.0 - p.vapour_escapes * open);
        100.0 * vapour / (k.k_cold + vapour)
    };
    out.insert("bake-vapour-share", share(95.0));
    out.insert("bake-vapour-share-71", share(71.0));
    let closed = (30..=71).map(|t| share(f64::from(t))).sum::<f64>() / 42.0;
    out.insert("bake-vapour-share-closed", closed);
    let small = rod(20.0, 1.0, 300.0, 0.8, 25.0);
    let mut fan = plain(182.0, 25.0, Steam::None);
    fan.stages[0].fan = true;
    let trace = setup.bake(&small, &setup.home, fan, Hearth::Grid);
    let most = trace.minutes.iter().map(|s| s.core_water).fold(0.0, f64::max);
    out.insert("bake-wagner-rise", most / 0.8 - 1.0);
    out.insert("bake-wagner-back", at(&trace, 7.0, |s| s.core_water) / 0.8 - 1.0);
    let khater = |t: f64| {
        let trace = setup.bake(
            &rod(30.0, 1.0, 280.0, 0.8, 25.0),
            &setup.home,
            plain(t, 40.0, Steam::None),
            Hearth::Grid,
        );
        at(&trace, 40.0, |s| s.loss.0)
    };
    out.insert("bake-khater-180", khater(180.0));
    out.insert("bake-khater-220", khater(220.0));
    let crust = |t: f64, minutes: f64| {
        let loaf = rod(45.0, 1.0, 300.0, 0.8, 25.0);
        let mut programme = plain(t, minutes, Steam::None);
        programme.stages[0].fan = true;
        let trace = setup.bake(&loaf, &setup.home, programme, Hearth::Grid);
        let end = |of: fn(&engine::bake::BakeSample) -> f64| at(&trace, minutes, of);
        (end(|s| s.dry_zone.0), end(|s| s.crust.0), end(|s| s.lightness))
    };
    let (thin, thick) = (crust(185.0, 25.0), crust(205.0, 35.0));
    out.insert("crust-colour-thin", thin.0);
    out.insert("crust-colour-thick", thick.0);
    out.insert("crust-cut-thin", thin.1);
    out.insert("crust-cut-thick", thick.1);
    out.insert("crust-brown-thin", thin.2);
    out.insert("crust-brown-thick", thick.2);
}
