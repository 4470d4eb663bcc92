//! Boiling by altitude and the pressure of steam beside an independent IAPWS-IF97.
//!
//! The package `seuif97` is held first to the verification values that IAPWS prints for region 4
//! (R7-97(2012), tables 35 and 36), then ours to it.

use engine::properties::{boiling_point, pressure_at, water_saturation};
use quantity::{Celsius, Kilopascal, Metres};

const KELVIN: f64 = 273.15;
/// Numbers of a property in `seuif97`: pressure in MPa, temperature in °C.
const PRESSURE: i32 = 0;
const TEMPERATURE: i32 = 1;

/// Saturation pressure, kPa.
fn pressure_of(t: f64) -> f64 {
    1000.0 * seuif97::tx(t, 0.0, PRESSURE)
}

/// Boiling point, °C.
fn boils_at(kpa: f64) -> f64 {
    seuif97::px(kpa / 1000.0, 0.0, TEMPERATURE)
}

/// Source: IAPWS R7-97(2012), tables 35 and 36; from memory. Slack: half the last printed digit.
#[test]
fn the_package_gives_the_verification_values() {
    for (kelvin, mpa) in [(300.0, 0.353_658_941e-2), (500.0, 0.263_889_776e1)] {
        assert!((pressure_of(kelvin - KELVIN) / 1000.0 / mpa - 1.0).abs() < 2e-9, "{kelvin}");
    }
    for (mpa, kelvin) in [(0.1, 372.755_919), (1.0, 453.035_632)] {
        assert!((boils_at(1000.0 * mpa) + KELVIN - kelvin).abs() < 5.1e-7, "{mpa}");
    }
}

/// Slack: 0.025 %, the uncertainty IAPWS states for the saturation line.
#[test]
fn steam_from_40_to_150_agrees() {
    let mut worst: f64 = 0.0;
    for t in (40..=150).map(f64::from) {
        let (ours, theirs) = (water_saturation(Celsius(t)).0, pressure_of(t));
        worst = worst.max((ours / theirs - 1.0).abs());
    }
    println!("largest relative gap {worst:.1e}");
    assert!(worst < 2.5e-4, "{worst}");
}

/// Slack: 0.007 K, what 0.025 % of pressure move the boiling point by.
#[test]
fn boiling_by_altitude_agrees() {
    let mut worst: f64 = 0.0;
    for z in (0..=5000).step_by(100).map(f64::from) {
        let p = pressure_at(Metres(z)).0;
        worst = worst.max((boiling_point(Kilopascal(p)).0 - boils_at(p)).abs());
    }
    println!("largest gap {worst:.1e} K");
    assert!(worst < 7e-3, "{worst}");
}
