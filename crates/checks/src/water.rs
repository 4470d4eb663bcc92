//! Ours for water temperature and ice.

use super::properties::FLOUR;
use crate::Values;
use engine::mix::{
    Batch, Factors, ICE_MELTING, Kind, Part, WATER_CP, ice_at, ice_by_heat, ice_trade,
    water_from_base,
};
use quantity::{Celsius, Grams, JoulesPerKg, TempRise};

/// Adds the values of this subject.
pub(crate) fn values(out: &mut Values) {
    trade(out);
    balance(out);
    ice(out);
}

fn from_f(t: f64) -> Celsius {
    Celsius((t - 32.0) / 1.8)
}

fn trade(out: &mut Values) {
    let c = |flour, room, preferment: Option<f64>| Factors {
        flour: Celsius(flour),
        room: Celsius(room),
        preferment: preferment.map(Celsius),
    };
    let f = |flour, room, preferment: Option<f64>| Factors {
        flour: from_f(flour),
        room: from_f(room),
        preferment: preferment.map(from_f),
    };
    let fahrenheit =
        |of: Factors, dough, ff: f64| of.water(from_f(dough), TempRise(ff / 1.8)).fahrenheit();
    let celsius = |of: Factors, dough, ff| of.water(Celsius(dough), TempRise(ff)).0;
    out.insert("water-ddt-straight-f", fahrenheit(f(68.0, 72.0, None), 78.0, 24.0));
    out.insert("water-ddt-preferment-f", fahrenheit(f(68.0, 72.0, Some(75.0)), 78.0, 24.0));
    out.insert("water-ddt-school", fahrenheit(f(65.0, 65.0, None), 75.0, 8.0));
    out.insert("water-ddt-straight-c", celsius(c(20.0, 22.0, None), 25.0, 4.0));
    out.insert("water-ddt-preferment-c", celsius(c(20.0, 22.0, Some(24.0)), 25.0, 4.0));
    out.insert("water-ddt-hot-day", celsius(c(28.0, 30.0, None), 24.0, 8.0));
    let friction = f(70.0, 72.0, None).friction(from_f(80.0), from_f(66.0));
    out.insert("water-friction-f", friction.0 * 1.8);
    let friction = c(21.0, 22.0, Some(23.0)).friction(Celsius(26.0), Celsius(24.0));
    out.insert("water-friction-c", friction.0);
    // reading "24 °F" never fails; NaN would show as a miss
    out.insert("water-friction-convert", "24 °F".parse().map_or(f64::NAN, |t: TempRise| t.0));
    let base = water_from_base(Celsius(56.0), Celsius(20.0), Celsius(20.0));
    out.insert("water-base", base.0);
    out.insert("water-rule-plain", celsius(c(21.0, 22.0, None), 25.0, 10.0));
    out.insert("water-rule-cold-flour", celsius(c(5.0, 22.0, None), 25.0, 10.0));
    out.insert("water-rule-hot-flour", celsius(c(30.0, 28.0, None), 24.0, 10.0));
    out.insert("water-rule-levain", celsius(c(21.0, 22.0, Some(24.0)), 25.0, 10.0));
    out.insert("water-rule-cold-levain", celsius(c(21.0, 22.0, Some(6.0)), 25.0, 10.0));
}

/// Heat capacity of the reference flour at the temperature of mixing, J/(kg K).
fn flour_cp() -> f64 {
    FLOUR.thermal(Celsius(21.0)).cp
}

fn flour(mass: f64, t: f64) -> Part {
    Part { mass: Grams(mass), temperature: Celsius(t), cp: flour_cp(), kind: Kind::Flour }
}

fn plain(flour_t: f64, salt_t: f64, water: f64, mixing_heat: f64) -> Batch {
    Batch {
        parts: vec![flour(1000.0, flour_t), Part::salt(Grams(20.0), Celsius(salt_t))],
        water: Grams(water),
        room: Celsius(22.0),
        mixing_heat: JoulesPerKg(mixing_heat),
    }
}

fn balance(out: &mut Values) {
    // every batch has water; NaN would show as a miss
    let water = |b: &Batch, dough| b.water_temperature(Celsius(dough)).map_or(f64::NAN, |t| t.0);
    for (id, grams, heat) in [
        ("water-balance-10k", 700.0, 10e3),
        ("water-balance-0", 700.0, 0.0),
        ("water-balance-5k", 700.0, 5e3),
        ("water-balance-15k", 700.0, 15e3),
        ("water-balance-20k", 700.0, 20e3),
        ("water-balance-600", 600.0, 10e3),
        ("water-balance-850", 850.0, 10e3),
    ] {
        out.insert(id, water(&plain(21.0, 21.0, grams, heat), 25.0));
    }
    out.insert("water-balance-cold-flour", water(&plain(5.0, 22.0, 800.0, 10e3), 25.0));
    out.insert("water-balance-hot-flour", water(&plain(30.0, 30.0, 700.0, 10e3), 24.0));
    let half = [(Grams(200.0), flour_cp()), (Grams(200.0), WATER_CP)];
    for (id, t) in [("water-balance-levain", 24.0), ("water-balance-cold-levain", 6.0)] {
        let levain = Part::preferment(&half, Celsius(t));
        let batch = Batch {
            parts: vec![flour(800.0, 21.0), Part::salt(Grams(16.0), Celsius(21.0)), levain],
            water: Grams(500.0),
            room: Celsius(22.0),
            mixing_heat: JoulesPerKg(8e3),
        };
        out.insert(id, water(&batch, 25.0));
        out.insert("water-levain-cp", levain.cp);
    }
    out.insert("water-flour-cp", flour_cp());
    let forward =
        plain(21.0, 21.0, 700.0, 10e3).dough_temperature(Celsius(21.90), Grams(0.0), Celsius(0.0));
    out.insert("water-forward", forward.0);
    let rise = |heat| plain(21.0, 21.0, 700.0, heat).mixing_rise().0;
    out.insert("water-friction-of-heat", 3.0 * rise(10e3));
    out.insert("water-wetting", rise(15e3 / 1.72)); // per kg of dough
    out.insert("water-ice-degrees", ICE_MELTING / WATER_CP);
    let round = Part { cp: 1800.0, ..flour(1000.0, 20.0) };
    let mut batch = Batch {
        parts: vec![round],
        water: Grams(700.0),
        room: Celsius(20.0),
        mixing_heat: JoulesPerKg(1.0),
    };
    batch.mixing_heat = JoulesPerKg(5.0 / batch.mixing_rise().0);
    out.insert("water-balance-round", water(&batch, 26.0));
}

fn ice(out: &mut Values) {
    let c = Celsius;
    out.insert("water-ice-20lb", ice_trade(Grams(20.0), from_f(65.0), from_f(45.0)).0);
    out.insert("water-ice-12lb", ice_trade(Grams(12.0), from_f(70.0), from_f(38.0)).0);
    out.insert("water-ice-10kg", ice_trade(Grams(10.0), c(20.0), c(8.0)).0);
    out.insert("water-ice-10kg-79", ice_at(Grams(10.0), c(20.0), c(8.0), 79.7).0);
    out.insert("water-ice-5kg", ice_trade(Grams(5.0), c(24.0), c(2.0)).0);
    out.insert("water-ice-5kg-79", ice_at(Grams(5.0), c(24.0), c(2.0), 79.7).0);
    let mut round_trip: f64 = 0.0;
    for (water, tap, needed, [trade, wet, freezer]) in [
        (1000.0, 18.0, 4.0, ["water-ice-trade-1", "water-ice-wet-1", "water-ice-freezer-1"]),
        (1000.0, 22.0, 0.0, ["water-ice-trade-2", "water-ice-wet-2", "water-ice-freezer-2"]),
        (700.0, 20.0, -3.0, ["water-ice-trade-3", "water-ice-wet-3", "water-ice-freezer-3"]),
        (650.0, 15.0, 8.0, ["water-ice-trade-4", "water-ice-wet-4", "water-ice-freezer-4"]),
    ] {
        let (grams, tap, needed) = (Grams(water), c(tap), c(needed));
        let ice = ice_by_heat(grams, tap, needed, c(-18.0));
        out.insert(trade, ice_trade(grams, tap, needed).0);
        out.insert(wet, ice_by_heat(grams, tap, needed, c(0.0)).0);
        out.insert(freezer, ice.0);
        let batch = plain(21.0, 21.0, water, 10e3);
        let iced = batch.dough_temperature(tap, ice, c(-18.0));
        let liquid = batch.dough_temperature(needed, Grams(0.0), c(0.0));
        round_trip = round_trip.max((iced - liquid).0.abs());
    }
    out.insert("water-round-trip", round_trip);
}
