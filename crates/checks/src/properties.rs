//! Ours for dough, water, steam, altitude and crumb.

use crate::Values;
use engine::properties::{
    Composition, CrumbConductivity, GAS_CONDUCTIVITY, LIQUID_WATER_CP, STANDARD_PRESSURE,
    boiling_point, dough_boiling_point, dry_solids_cp, equilibrium_moisture, gas_share,
    latent_heat, maxwell_eucken, pressure_at, water_activity, water_saturation,
    wet_gas_conductivity,
};
use quantity::{Celsius, Grams, Kilopascal, Metres};

/// The flour of the reference vectors.
pub(crate) const FLOUR: Composition = Composition {
    water: 0.14,
    protein: 0.115,
    fat: 0.012,
    carbohydrate: 0.70,
    fibre: 0.027,
    ash: 0.006,
};

fn dough() -> Composition {
    Composition::blend([
        (Grams(100.0), FLOUR),
        (Grams(70.0), Composition::WATER),
        (Grams(2.0), Composition::SALT),
    ])
}

/// The difference of largest size, without its sign; NaN if any is.
pub(crate) fn largest_gap<const N: usize>(ours: [f64; N], printed: [f64; N]) -> f64 {
    ours.iter().zip(printed).fold(0.0, |worst, (ours, printed)| {
        let gap = (ours - printed).abs();
        if gap <= worst { worst } else { gap }
    })
}

/// Adds the values of this subject.
pub(crate) fn values(out: &mut Values) {
    mixing_rules(out);
    pores(out);
    water(out);
    altitude(out);
    crumb(out);
}

fn mixing_rules(out: &mut Values) {
    for (t, k, rho, cp) in [
        (4.0, "properties-dough-k-4", "properties-dough-density-4", "properties-dough-cp-4"),
        (25.0, "properties-dough-k-25", "properties-dough-density-25", "properties-dough-cp-25"),
        (60.0, "properties-dough-k-60", "properties-dough-density-60", "properties-dough-cp-60"),
        (95.0, "properties-dough-k-95", "properties-dough-density-95", "properties-dough-cp-95"),
    ] {
        let ours = dough().thermal(Celsius(t));
        out.extend([(k, ours.k), (rho, ours.rho), (cp, ours.cp)]);
    }
    let flour = [4.0, 25.0, 60.0, 95.0].map(|t| FLOUR.thermal(Celsius(t)));
    let k = [0.27772, 0.30429, 0.34021, 0.36572];
    let rho = [1426.184, 1419.954, 1407.451, 1392.256];
    let cp = [1986.230, 2017.096, 2061.193, 2096.108];
    out.insert("properties-flour-k", largest_gap(flour.map(|f| f.k), k));
    out.insert("properties-flour-density", largest_gap(flour.map(|f| f.rho), rho));
    out.insert("properties-flour-cp", largest_gap(flour.map(|f| f.cp), cp));
    let left = gas_share(1100.0, dough().thermal(Celsius(25.0)).rho);
    out.insert("properties-residual-gas", 100.0 * left);
    for (id, water) in [("properties-w0-65", 65.0), ("properties-w0-72", 72.0)] {
        let made = Composition::blend([
            (Grams(100.0), FLOUR),
            (Grams(water), Composition::WATER),
            (Grams(2.0), Composition::SALT),
        ]);
        out.insert(id, made.water_per_solids());
    }
    out.insert("properties-dough-w0", dough().water_per_solids());
    out.insert("properties-water-cp", Composition::WATER.thermal(Celsius(25.0)).cp);
}

fn pores(out: &mut Values) {
    let kc = |t: f64| dough().thermal(Celsius(t)).k;
    for (id, gas) in [
        ("properties-porous-0", 0.0),
        ("properties-porous-10", 0.1),
        ("properties-porous-30", 0.3),
        ("properties-porous-50", 0.5),
        ("properties-porous-65", 0.65),
        ("properties-porous-75", 0.75),
        ("properties-porous-80", 0.8),
        ("properties-measured-30", 0.3),
        ("properties-measured-50", 0.5),
        ("properties-measured-65", 0.65),
        ("properties-measured-75", 0.75),
        ("properties-measured-80", 0.8),
    ] {
        out.insert(id, maxwell_eucken(kc(25.0), GAS_CONDUCTIVITY, gas));
    }
    for (t, gas, crumb) in [
        (5.0, "properties-wet-gas-5", "properties-wet-crumb-5"),
        (25.0, "properties-wet-gas-25", "properties-wet-crumb-25"),
        (40.0, "properties-wet-gas-40", "properties-wet-crumb-40"),
        (60.0, "properties-wet-gas-60", "properties-wet-crumb-60"),
        (80.0, "properties-wet-gas-80", "properties-wet-crumb-80"),
        (90.0, "properties-wet-gas-90", "properties-wet-crumb-90"),
    ] {
        let k = wet_gas_conductivity(Celsius(t), STANDARD_PRESSURE);
        out.insert(gas, k);
        out.insert(crumb, maxwell_eucken(kc(t), k, 0.75));
    }
}

fn water(out: &mut Values) {
    for (id, t) in [
        ("properties-saturation-20", 20.0),
        ("properties-saturation-40", 40.0),
        ("properties-saturation-60", 60.0),
        ("properties-saturation-80", 80.0),
        ("properties-saturation-100", 100.0),
        ("properties-saturation-120", 120.0),
        ("properties-saturation-150", 150.0),
        ("properties-saturation-300k", 300.0 - 273.15),
    ] {
        out.insert(id, 1000.0 * water_saturation(Celsius(t)).0);
    }
    out.insert("properties-saturation-500k", water_saturation(Celsius(500.0 - 273.15)).0);
    out.insert("properties-boiling-standard", boiling_point(STANDARD_PRESSURE).0);
    let dew = [5.0, 10.0, 20.0, 40.0, 60.0, 80.0].map(|p| boiling_point(Kilopascal(p)).0);
    let printed = [32.87, 45.81, 60.06, 75.86, 85.93, 93.49];
    out.insert("properties-dew-points", largest_gap(dew, printed));
    for (id, t) in [
        ("properties-latent-0", 0.0),
        ("properties-latent-25", 25.0),
        ("properties-latent-50", 50.0),
        ("properties-latent-100", 100.0),
        ("properties-latent-150", 150.0),
    ] {
        out.insert(id, latent_heat(Celsius(t)) / 1000.0);
    }
}

fn altitude(out: &mut Values) {
    for (id, z) in [
        ("properties-pressure-1000", 1000.0),
        ("properties-pressure-2000", 2000.0),
        ("properties-pressure-3000", 3000.0),
        ("properties-pressure-5000", 5000.0),
    ] {
        out.insert(id, pressure_at(Metres(z)).0);
    }
    let pascal = [0.0, 500.0, 1000.0, 1500.0, 2000.0, 3000.0, 4000.0]
        .map(|z| 1000.0 * pressure_at(Metres(z)).0);
    let printed = [101_325.0, 95460.8, 89874.6, 84556.0, 79495.2, 70108.5, 61640.2];
    out.insert("properties-pressure-vectors", largest_gap(pascal, printed));
    let rounded = [0.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0];
    let printed = [101.33, 95.46, 89.87, 84.56, 79.5, 74.68, 70.11];
    let ours = rounded.map(|z| pressure_at(Metres(z)).0);
    out.insert("properties-pressure-rounded", largest_gap(ours, printed));
    for (id, z) in [
        ("properties-boiling-0", 0.0),
        ("properties-boiling-500", 500.0),
        ("properties-boiling-1000", 1000.0),
        ("properties-boiling-1500", 1500.0),
        ("properties-boiling-2000", 2000.0),
        ("properties-boiling-3000", 3000.0),
        ("properties-boiling-4000", 4000.0),
        ("properties-boiling-antoine-0", 0.0),
        ("properties-boiling-antoine-500", 500.0),
        ("properties-boiling-antoine-1000", 1000.0),
        ("properties-boiling-antoine-1500", 1500.0),
        ("properties-boiling-antoine-2000", 2000.0),
        ("properties-boiling-antoine-2500", 2500.0),
        ("properties-boiling-antoine-3000", 3000.0),
    ] {
        out.insert(id, boiling_point(pressure_at(Metres(z))).0);
    }
}

fn crumb(out: &mut Values) {
    let moistures = [0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9];
    let at = |t: f64| moistures.map(|w| water_activity(Celsius(t), w));
    let cool = [0.0894, 0.3766, 0.7813, 0.9039, 0.9625, 0.9756, 0.9801];
    let hot = [0.2282, 0.6417, 0.9067, 0.9566, 0.9774, 0.9819, 0.9834];
    out.insert("properties-activity-25", largest_gap(at(25.0), cool));
    out.insert("properties-activity-100", largest_gap(at(100.0), hot));
    out.insert("properties-activity-second-set", water_activity(Celsius(30.0), 0.2));
    for (id, t) in [
        ("properties-equilibrium-102", 102.0),
        ("properties-equilibrium-105", 105.0),
        ("properties-equilibrium-110", 110.0),
        ("properties-equilibrium-120", 120.0),
        ("properties-equilibrium-150", 150.0),
        ("properties-equilibrium-180", 180.0),
        ("properties-equilibrium-200", 200.0),
    ] {
        out.insert(id, equilibrium_moisture(Celsius(t), STANDARD_PRESSURE));
    }
    for (id, w) in [
        ("properties-dough-boils-90", 0.9),
        ("properties-dough-boils-70", 0.7),
        ("properties-dough-boils-50", 0.5),
        ("properties-dough-boils-30", 0.3),
        ("properties-dough-boils-20", 0.2),
        ("properties-dough-boils-10", 0.1),
        ("properties-dough-boils-5", 0.05),
    ] {
        out.insert(id, dough_boiling_point(w, STANDARD_PRESSURE).0);
    }
    // baked density 270 kg/m³, W0 0.9; in 1e-7 m²/s
    let diffusivity = |t: f64, wet: f64| {
        let t = Celsius(t);
        let heat = 270.0 / 1.9 * (dry_solids_cp(t) + LIQUID_WATER_CP * 0.9 * wet);
        1e7 * CrumbConductivity::DEFAULT.at(t, wet) / heat
    };
    for (id, t) in [
        ("properties-crumb-diffusivity-25", 25.0),
        ("properties-crumb-diffusivity-60", 60.0),
        ("properties-crumb-diffusivity-80", 80.0),
        ("properties-crumb-diffusivity-95", 95.0),
    ] {
        out.insert(id, diffusivity(t, 1.0));
    }
    let mean = (0..70).map(|i| diffusivity(25.5 + f64::from(i), 1.0)).sum::<f64>() / 70.0;
    out.insert("properties-crumb-diffusivity", mean);
    out.insert("properties-crust-diffusivity", diffusivity(175.0, 0.0));
}
