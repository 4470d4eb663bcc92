//! What dough, crumb, water and air are like to heat: conductivity, density, heat
//! capacity, vapour pressure, boiling.
//!
//! Components after Choi and Okos (1986), porosity after Maxwell and Eucken, water
//! after Wagner and Pruss (2002), the standard atmosphere of ISO 2533. The crumb and
//! crust of the oven (conductivity that rises with temperature, sorption) stand at the
//! end. Not modelled: freezing, the melting of fat, gluten or starch changing state.
//!
//! Symbols: T temperature in °C, W water per mass of dry solids, ε volume share of
//! gas, p pressure. Evidence stands at each constant: *published*, *from memory* (a
//! published number not re-read), *calibrated* (chosen here so that measured breads
//! come out).

use crate::flour::{Flour, Grain};
use crate::numerics::lanes::{Lanes, exp, pow};
use crate::numerics::root;
use quantity::{Celsius, Grams, Kilopascal, Metres, Percent};

/// Zero of the Celsius scale, K; exact.
pub const ZERO_CELSIUS_K: f64 = 273.15;
/// Gas constant of water vapour, J/(kg K): 8.314 46 over 18.015 g/mol.
pub const VAPOUR_GAS_CONSTANT: f64 = 461.526;
/// Standard atmosphere, ISO 2533; exact by definition.
pub const STANDARD_PRESSURE: Kilopascal = Kilopascal(101.325);
/// Conductivity of still gas in the pores, W/(m K); air at room temperature.
pub const GAS_CONDUCTIVITY: f64 = 0.026;

/// What heat conduction needs to know of a body: three constants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoughThermal {
    /// Thermal conductivity, W/(m K).
    pub k: f64,
    /// Density, kg/m³.
    pub rho: f64,
    /// Specific heat capacity, J/(kg K).
    pub cp: f64,
}

impl DoughThermal {
    /// Lightly risen wheat dough, about a quarter gas, as it goes into the fridge.
    ///
    /// Source: rounded from the composition and mixing rules of this module (*calibrated*).
    pub const LIGHTLY_RISEN: Self = Self { k: 0.36, rho: 900.0, cp: 2850.0 };

    /// Thermal diffusivity k/(ρ cp), m²/s.
    pub fn diffusivity(self) -> f64 {
        self.k / (self.rho * self.cp)
    }

    /// The same dough with a volume share `gas` (0 to below 1) of pores whose filling conducts
    /// `gas_conductivity` W/(m K): k by [`maxwell_eucken`], ρ by the solid share, cp unchanged.
    #[must_use]
    pub fn with_gas(self, gas: f64, gas_conductivity: f64) -> Self {
        let gas = gas.clamp(0.0, 0.99);
        Self {
            k: maxwell_eucken(self.k, gas_conductivity, gas),
            rho: self.rho * (1.0 - gas),
            cp: self.cp,
        }
    }
}

/// A polynomial a + bT + cT².
type Quadratic = [f64; 3];

fn at(q: Quadratic, t: f64) -> f64 {
    q[0] + (q[1] + q[2] * t) * t
}

/// Conductivity W/(m K), density kg/m³, heat capacity J/(kg K) of one component.
struct Component {
    k: Quadratic,
    rho: Quadratic,
    cp: Quadratic,
}

/// Water, protein, fat, carbohydrate, fibre, ash, in the order of [`Composition`].
///
/// Source: Choi and Okos 1986, table as several reprints that agree give it
/// (*published*). Circulating copies print the water cp as 4128.9, the water k as
/// 0.457109 and the fat k slope with a plus sign: slips.
const COMPONENTS: [Component; 6] = [
    Component {
        k: [0.57109, 1.7625e-3, -6.7036e-6],
        rho: [997.18, 3.1439e-3, -3.7574e-3],
        cp: [4176.2, -9.0864e-2, 5.4731e-3],
    },
    Component {
        k: [0.17881, 1.1958e-3, -2.7178e-6],
        rho: [1329.9, -0.5184, 0.0],
        cp: [2008.2, 1.2089, -1.3129e-3],
    },
    Component {
        k: [0.18071, -2.7604e-4, -1.7749e-7],
        rho: [925.59, -0.41757, 0.0],
        cp: [1984.2, 1.4733, -4.8008e-3],
    },
    Component {
        k: [0.20141, 1.3874e-3, -4.3312e-6],
        rho: [1599.1, -0.31046, 0.0],
        cp: [1548.8, 1.9625, -5.9399e-3],
    },
    Component {
        k: [0.18331, 1.2497e-3, -3.1683e-6],
        rho: [1311.5, -0.36589, 0.0],
        cp: [1845.9, 1.8306, -4.6509e-3],
    },
    Component {
        k: [0.32962, 1.4011e-3, -2.9069e-6],
        rho: [2423.8, -0.28063, 0.0],
        cp: [1092.6, 1.8896, -3.6817e-3],
    },
];

/// Mass fractions of a food; they are scaled to sum to one where they are used.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Composition {
    /// Water, 0 to 1.
    pub water: f64,
    /// Protein, 0 to 1.
    pub protein: f64,
    /// Fat, 0 to 1.
    pub fat: f64,
    /// Starch, sugars and other carbohydrate without fibre, 0 to 1.
    pub carbohydrate: f64,
    /// Fibre, 0 to 1.
    pub fibre: f64,
    /// Ash; salt counts as ash. 0 to 1.
    pub ash: f64,
}

impl Composition {
    /// Water alone.
    pub const WATER: Self =
        Self { water: 1.0, protein: 0.0, fat: 0.0, carbohydrate: 0.0, fibre: 0.0, ash: 0.0 };
    /// Salt, counted as ash.
    pub const SALT: Self =
        Self { water: 0.0, protein: 0.0, fat: 0.0, carbohydrate: 0.0, fibre: 0.0, ash: 1.0 };
    /// Oil or rendered fat.
    pub const FAT: Self =
        Self { water: 0.0, protein: 0.0, fat: 1.0, carbohydrate: 0.0, fibre: 0.0, ash: 0.0 };

    /// A flour from what its sack prints; fat and fibre, which it does not, follow the ash.
    ///
    /// Straight lines in ash through USDA SR28 flours (*published*): wheat bread flour
    /// 20129 and whole wheat 20080, rye light 20065 and dark 20063. Their weight here is
    /// small: all of the fibre as starch changes cp by half a percent.
    pub fn of_flour(flour: &Flour) -> Self {
        let water = flour.moisture.fraction().clamp(0.0, 1.0);
        let ash = flour.ash.fraction().clamp(0.0, 1.0) * (1.0 - water);
        let protein = flour.protein.fraction().clamp(0.0, 1.0);
        // (ash, fat, fibre) of the whitest and the darkest, as is
        let (white, dark) = match flour.grain {
            Grain::Rye => ((0.0078, 0.0133, 0.080), (0.0250, 0.0222, 0.238)),
            _ => ((0.0047, 0.0166, 0.024), (0.0158, 0.0250, 0.107)),
        };
        let along = ((ash - white.0) / (dark.0 - white.0)).clamp(0.0, 1.0);
        let fat = white.1 + along * (dark.1 - white.1);
        let fibre = white.2 + along * (dark.2 - white.2);
        let carbohydrate = (1.0 - water - ash - protein - fat - fibre).max(0.0);
        Self { water, protein, fat, carbohydrate, fibre, ash }
    }

    /// An ingredient of which only the share of water is known; the rest counts as carbohydrate.
    pub fn of_water_share(water: Percent) -> Self {
        let water = water.fraction().clamp(0.0, 1.0);
        Self { water, carbohydrate: 1.0 - water, ..Self::default() }
    }

    /// The mixture of these masses; empty when there is no mass.
    pub fn blend(parts: impl IntoIterator<Item = (Grams, Self)>) -> Self {
        let mut sum = [0.0; 6];
        let mut total = 0.0;
        for (mass, part) in parts {
            let fractions = part.fractions();
            for (s, x) in sum.iter_mut().zip(fractions) {
                *s += mass.0 * x;
            }
            total += mass.0;
        }
        if !(total > 0.0 && total.is_finite()) {
            return Self::default();
        }
        let [water, protein, fat, carbohydrate, fibre, ash] = sum.map(|s| s / total);
        Self { water, protein, fat, carbohydrate, fibre, ash }
    }

    /// Water per mass of dry solids, W. Infinite for water alone.
    pub fn water_per_solids(&self) -> f64 {
        let solids = self.protein + self.fat + self.carbohydrate + self.fibre + self.ash;
        self.water / solids
    }

    /// Conductivity, density and heat capacity of the gas-free food.
    ///
    /// ```text
    /// 1/ρ = Σ xᵢ/ρᵢ    cp = Σ xᵢ cpᵢ    k = Σ vᵢ kᵢ, vᵢ = ρ xᵢ/ρᵢ
    /// ```
    ///
    /// Valid −40 to 150 °C, above freezing only in what contains water; `t` is held to that
    /// range. Source: Choi and Okos 1986.
    pub fn thermal(&self, t: Celsius) -> DoughThermal {
        let t = t.0.clamp(-40.0, 150.0);
        let (mut total, mut volume, mut k_volume, mut cp) = (0.0, 0.0, 0.0, 0.0);
        for (x, c) in self.fractions().into_iter().zip(&COMPONENTS) {
            let v = x / at(c.rho, t);
            total += x;
            volume += v;
            k_volume += v * at(c.k, t);
            cp += x * at(c.cp, t);
        }
        DoughThermal { k: k_volume / volume, rho: total / volume, cp: cp / total }
    }

    fn fractions(&self) -> [f64; 6] {
        [self.water, self.protein, self.fat, self.carbohydrate, self.fibre, self.ash]
    }
}

/// Volume share of gas from the density of a dough and of the same dough without gas.
pub fn gas_share(density_kg_m3: f64, gas_free_kg_m3: f64) -> f64 {
    (1.0 - density_kg_m3 / gas_free_kg_m3).clamp(0.0, 1.0)
}

/// Conductivity of a continuous phase `k_dough` with a volume share `gas` of separate pores
/// of conductivity `k_gas`, W/(m K).
///
/// ```text
/// k = kc [2kc + kg − 2ε(kc − kg)] / [2kc + kg + ε(kc − kg)]
/// ```
///
/// Exact for dilute spheres, a fair bound above. Source: Maxwell and Eucken; *from memory*.
pub fn maxwell_eucken(k_dough: f64, k_gas: f64, gas: f64) -> f64 {
    let (sum, gap) = (2.0 * k_dough + k_gas, gas * (k_dough - k_gas));
    k_dough * (sum - 2.0 * gap) / (sum + gap)
}

/// Conductivity of the gas in a wet pore, W/(m K): air plus the heat that vapour carries by
/// evaporating on the warm wall and condensing on the cold one.
///
/// ```text
/// k* = k_air + λ D/(R_v T) · p/(p − p_sat) · dp_sat/dT      D = 2.26e-5 (T/273.15)^1.81 · 101325/p
/// ```
///
/// Valid 0 to 90 °C for cooling and warming; near boiling it overshoots measured bread, whose
/// cells are closed and crooked ([`CrumbConductivity`] is for the oven). Held to 0.98 of the
/// boiling pressure. Source: diffusivity and k_air = 0.0243 + 7.1e-5 T *from memory*.
pub fn wet_gas_conductivity(t: Celsius, pressure: Kilopascal) -> f64 {
    let kelvin = t.0 + ZERO_CELSIUS_K;
    let p = pressure.0.max(1e-3);
    let diffusivity =
        2.26e-5 * libm::pow(kelvin / ZERO_CELSIUS_K, 1.81) * (STANDARD_PRESSURE.0 / p);
    let saturation = water_saturation(t).0.min(0.98 * p);
    let slope_pa = 1000.0 * water_saturation_slope(t);
    let air = 0.0243 + 7.1e-5 * t.0;
    let shuttle = latent_heat(t) * diffusivity / (VAPOUR_GAS_CONSTANT * kelvin)
        * (p / (p - saturation))
        * slope_pa;
    air + shuttle
}

/// Critical point of water: K, kPa. Wagner and Pruss 2002.
const CRITICAL: (f64, f64) = (647.096, 22_064.0);
/// Coefficients and exponents of the saturation line. Source: Wagner and Pruss 2002, as also
/// adopted by the IAPWS supplementary release on saturation; *from memory*.
const SATURATION: [(f64, f64); 6] = [
    (-7.859_517_83, 1.0),
    (1.844_082_59, 1.5),
    (-11.786_649_7, 3.0),
    (22.680_741_1, 3.5),
    (-15.961_871_9, 4.0),
    (1.801_225_02, 7.5),
];

/// The sum of the saturation line and its derivative in τ = 1 − T/T_c.
#[inline(always)]
fn saturation_sum<L: Lanes>(kelvin: L) -> (L, L) {
    let tau = (L::splat(1.0) - kelvin / CRITICAL.0).at_least(0.0);
    let root = tau.root();
    let (t2, t3) = (tau * tau, tau * tau * tau);
    // each power over τ: the derivative needs no division
    let powers = [L::splat(1.0), root, t2, t2 * root, t3, t3 * t3 * root];
    let (mut sum, mut slope) = (L::splat(0.0), L::splat(0.0));
    for ((a, n), power) in SATURATION.into_iter().zip(powers) {
        sum += power * a;
        slope += power * (a * n);
    }
    (sum * tau, slope)
}

/// Held inside the fit: the triple point to the critical point (a little below is allowed).
#[inline(always)]
fn fitted_kelvin<L: Lanes>(t_deg_c: L) -> L {
    (t_deg_c + ZERO_CELSIUS_K).within(250.0, CRITICAL.0)
}

/// [`water_saturation`] in lanes, kPa.
#[inline(always)]
pub(crate) fn saturation_kpa<L: Lanes>(t_deg_c: L) -> L {
    saturation_and_slope_kpa(t_deg_c).0
}

/// [`water_saturation`] and its slope in lanes, kPa and kPa/K.
#[inline(always)]
pub(crate) fn saturation_and_slope_kpa<L: Lanes>(t_deg_c: L) -> (L, L) {
    let kelvin = fitted_kelvin(t_deg_c);
    let (sum, slope) = saturation_sum(kelvin);
    let over = sum * CRITICAL.0 / kelvin;
    let p = exp(over) * CRITICAL.1;
    (p, -p * (over + slope) / kelvin)
}

/// Pressure of saturated vapour over liquid water.
///
/// Valid 0 to 374 °C; held to −23..=374 °C, extrapolated smoothly below 0 °C. Error below
/// 0.02 % as its source states. Source: Wagner and Pruss 2002.
pub fn water_saturation(t: Celsius) -> Kilopascal {
    Kilopascal(saturation_kpa(t.0))
}

/// Slope of [`water_saturation`], kPa/K; the analytic derivative.
pub fn water_saturation_slope(t: Celsius) -> f64 {
    saturation_and_slope_kpa(t.0).1
}

/// Pressure of the standard atmosphere at an altitude.
///
/// p = 101.325 (1 − 2.25577e-5 z)^5.25588. Valid −2000 to 11 000 m, held to that. Weather moves
/// it by ±3 %. Source: ISO 2533, troposphere; *from memory*.
pub fn pressure_at(altitude: Metres) -> Kilopascal {
    let z = altitude.0.clamp(-2000.0, 11_000.0);
    Kilopascal(STANDARD_PRESSURE.0 * libm::pow(1.0 - 2.255_77e-5 * z, 5.255_88))
}

/// Temperature at which pure water boils under a pressure; the inverse of [`water_saturation`].
///
/// Valid 0.6 to 22 000 kPa; outside, the end of the range.
pub fn boiling_point(pressure: Kilopascal) -> Celsius {
    let (lo, hi) = (0.0, CRITICAL.0 - ZERO_CELSIUS_K);
    let p = pressure.0.clamp(water_saturation(Celsius(lo)).0, CRITICAL.1);
    // logarithms straighten the curve; the bracket holds by the clamp, else an end is the root
    let gap = |t: f64| libm::log(water_saturation(Celsius(t)).0 / p);
    Celsius(root(gap, lo, hi, 1e-9).unwrap_or(if p < 100.0 { lo } else { hi }))
}

/// Latent heat of water, J/kg: 2.501e6 − 2440 T.
///
/// A straight line through the steam tables: within 0.15 % to 100 °C, 1 % high at 150 °C.
pub fn latent_heat(t: Celsius) -> f64 {
    latent_j_per_kg(t.0)
}

/// [`latent_heat`] in lanes.
#[inline(always)]
pub(crate) fn latent_j_per_kg<L: Lanes>(t_deg_c: L) -> L {
    L::splat(2.501e6) - t_deg_c * 2440.0
}

/// Heat capacity of liquid water in the bake, J/(kg K); a mean over 20 to 150 °C, rounded.
pub const LIQUID_WATER_CP: f64 = 4200.0;

/// Enthalpy of vapour over liquid at 0 °C, J/kg: consistent with the two above.
pub fn vapour_enthalpy(t: Celsius) -> f64 {
    vapour_j_per_kg(t.0)
}

/// [`vapour_enthalpy`] in lanes.
#[inline(always)]
pub(crate) fn vapour_j_per_kg<L: Lanes>(t_deg_c: L) -> L {
    t_deg_c * LIQUID_WATER_CP + latent_j_per_kg(t_deg_c)
}

/// Heat capacity of dry bread solids, J/(kg K): 1391 + 5 T.
///
/// Source: Purlis and Salvadori 2009, 5 T + 25 in K; *from memory*.
pub fn dry_solids_cp(t: Celsius) -> f64 {
    1391.0 + 5.0 * t.0
}

/// Enthalpy of moist crumb per mass of dry solids over 0 °C, J/kg: (1391 + 2.5 T) T + 4200 W T.
pub fn crumb_enthalpy(t: Celsius, w: f64) -> f64 {
    crumb_j_per_kg(t.0, w)
}

/// [`crumb_enthalpy`] in lanes.
#[inline(always)]
pub(crate) fn crumb_j_per_kg<L: Lanes>(t_deg_c: L, w: L) -> L {
    (t_deg_c * 2.5 + 1391.0) * t_deg_c + w * LIQUID_WATER_CP * t_deg_c
}

/// Conductivity of crumb that turns into crust as it dries.
///
/// ```text
/// k(T, W) = k_dry + (k_crumb(T) − k_dry) min(W/W0, 1)
/// k_crumb = k_cold + k_vapour/(1 + exp(−0.1 (T − 80)))
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrumbConductivity {
    /// Dry crust, W/(m K).
    pub k_dry: f64,
    /// Cold crumb, W/(m K).
    pub k_cold: f64,
    /// What evaporation and condensation in the pores add when hot, W/(m K).
    pub k_vapour: f64,
}

impl CrumbConductivity {
    /// As Purlis and Salvadori 2009 print it; *from memory*.
    pub const PURLIS_2009: Self = Self { k_dry: 0.2, k_cold: 0.2, k_vapour: 0.9 };
    /// *Calibrated*: the dry value gives the crust diffusivity of Zanoni, Peri and Gianotti 1995.
    pub const DEFAULT: Self = Self { k_dry: 0.12, k_cold: 0.2, k_vapour: 0.8 };

    /// Conductivity at a temperature and a moisture `w_ratio` = W/W0, W/(m K).
    pub fn at(&self, t: Celsius, w_ratio: f64) -> f64 {
        let crumb = self.k_cold + self.k_vapour / (1.0 + libm::exp(-0.1 * (t.0 - 80.0)));
        self.k_dry + (crumb - self.k_dry) * w_ratio.clamp(0.0, 1.0)
    }
}

/// Exponent of the sorption curve. Lind and Rask 1991, as used since; *from memory*.
const OSWIN_EXPONENT: f64 = 0.38;
/// Water activity of fresh dough: salt keeps it below one. *Calibrated* (boils at 100.44 °C).
pub(crate) const SALT_ACTIVITY: f64 = 0.985;

/// Oswin's coefficient: 0.12 exp(−0.0056 (T − 25)).
///
/// The slope is Lind and Rask's (*from memory*), the 12 % *calibrated*: the intercept
/// remembered with that set would give a water activity of 0.11 at W = 0.20, too dry by far.
#[inline(always)]
fn oswin_coefficient<L: Lanes>(t_deg_c: L) -> L {
    exp((t_deg_c - 25.0) * -0.0056) * 0.12
}

/// Water activity of bread at a temperature and moisture W (kg water per kg dry solids).
///
/// W = A(T) (a/(1 − a))^0.38, times 0.985 for salt. Valid W 0 to 1.2, 20 to 200 °C.
pub fn water_activity(t: Celsius, w: f64) -> f64 {
    activity(t.0, w)
}

/// [`water_activity`] in lanes.
#[inline(always)]
pub(crate) fn activity<L: Lanes>(t_deg_c: L, w: L) -> L {
    let x = pow(w / oswin_coefficient(t_deg_c), L::splat(1.0 / OSWIN_EXPONENT));
    let a = x * SALT_ACTIVITY / (x + 1.0);
    // the floor keeps the curve invertible at the dry end
    L::select(w.above(L::splat(1e-6)), a, L::splat(1e-6))
}

/// Moisture W that bread keeps in pure steam of total pressure `p` at a temperature.
///
/// Infinite below boiling: steam then takes nothing away.
pub fn equilibrium_moisture(t: Celsius, p: Kilopascal) -> f64 {
    let a = p.0 / water_saturation(t).0 / SALT_ACTIVITY;
    if a >= 0.999_99 {
        return f64::INFINITY;
    }
    oswin_coefficient(t.0) * libm::pow(a / (1.0 - a), OSWIN_EXPONENT)
}

/// Temperature at which bread of moisture W boils under a pressure.
///
/// Valid W 0.02 to 1.2; the search ends at 373 °C, which is the answer for anything drier.
pub fn dough_boiling_point(w: f64, p: Kilopascal) -> Celsius {
    let (lo, hi) = (boiling_point(p).0, CRITICAL.0 - ZERO_CELSIUS_K);
    let gap = |t: f64| w.min(1e3) - equilibrium_moisture(Celsius(t), p).min(1e6);
    Celsius(root(gap, lo, hi, 1e-9).unwrap_or(hi))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(ours: f64, reference: f64, slack: f64) {
        assert!((ours - reference).abs() <= slack, "{ours} is not {reference} ± {slack}");
    }

    const FLOUR: Composition = Composition {
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

    /// Source: computed from the published polynomials by our reference; regression.
    /// Slack: half the last printed digit.
    #[test]
    fn flour_and_dough_of_the_reference() {
        near(dough().water_per_solids(), 0.954_55, 5e-6);
        for (t, flour, made) in [
            (4.0, [0.27772, 1426.184, 1986.230], [0.42743, 1218.614, 2867.081]),
            (25.0, [0.30429, 1419.954, 2017.096], [0.45700, 1214.600, 2886.041]),
            (60.0, [0.34021, 1407.451, 2061.193], [0.49603, 1202.537, 2917.653]),
            (95.0, [0.36572, 1392.256, 2096.108], [0.52227, 1183.702, 2949.279]),
        ] {
            for (ours, reference) in
                [(FLOUR.thermal(Celsius(t)), flour), (dough().thermal(Celsius(t)), made)]
            {
                near(ours.k, reference[0], 5.1e-6);
                near(ours.rho, reference[1], 5.1e-4);
                near(ours.cp, reference[2], 5.1e-4);
            }
        }
    }

    /// Law: a mixture of one thing is that thing; the mixture lies between its parts.
    #[test]
    fn pure_water_is_water() {
        let water = Composition::WATER.thermal(Celsius(20.0));
        near(water.k, 0.6037, 5e-4);
        near(water.rho, 995.7, 0.1); // the fit's own 0.25 % below the true 998.2
        near(water.cp, 4176.6, 0.1);
        assert_eq!(Composition::WATER.water_per_solids(), f64::INFINITY);
        assert_eq!(Composition::blend([]), Composition::default());
    }

    #[test]
    fn a_flour_from_its_sack_is_close_to_its_full_composition() {
        let white = Composition::of_flour(&Flour::white("bread")).thermal(Celsius(25.0));
        let full = FLOUR.thermal(Celsius(25.0));
        near(white.k, full.k, 0.002);
        near(white.rho, full.rho, 6.0);
        near(white.cp, full.cp, 5.0);
    }

    /// Source: our reference; regression. Slack: half the last printed digit.
    #[test]
    fn porous_dough_of_the_reference() {
        let kc = dough().thermal(Celsius(25.0)).k;
        for (gas, k) in [
            (0.0, 0.45700),
            (0.1, 0.39690),
            (0.3, 0.29122),
            (0.5, 0.20131),
            (0.65, 0.14221),
            (0.75, 0.10618),
            (0.8, 0.08907),
        ] {
            near(maxwell_eucken(kc, GAS_CONDUCTIVITY, gas), k, 5.1e-6);
        }
    }

    /// Source: our reference; regression. DIFFERENCE: its printed values for the wet gas lie up
    /// to 0.6 % above what its printed formula gives; the slack covers that.
    #[test]
    fn vapour_shuttles_heat_through_hot_pores() {
        for (t, wet, porous) in [
            (5.0, 0.0525, 0.124),
            (25.0, 0.1177, 0.186),
            (40.0, 0.2318, 0.285),
            (60.0, 0.5995, 0.572),
            (80.0, 1.872, 1.35),
            (90.0, 4.51, 2.34),
        ] {
            let k = wet_gas_conductivity(Celsius(t), STANDARD_PRESSURE);
            near(k, wet, 0.03 * wet);
            let kc = dough().thermal(Celsius(t)).k;
            near(maxwell_eucken(kc, k, 0.75), porous, 0.03 * porous);
        }
    }

    /// Source: Wagner and Pruss 2002 as evaluated by our reference; IAPWS-97 agrees to 1e-4.
    #[test]
    fn saturation_pressures() {
        for (t, pa) in [
            (20.0, 2339.19),
            (40.0, 7385.11),
            (60.0, 19947.38),
            (80.0, 47415.78),
            (100.0, 101_417.99),
            (120.0, 198_671.42),
            (150.0, 476_158.72),
        ] {
            near(1000.0 * water_saturation(Celsius(t)).0, pa, 0.005_1);
            let (a, b) = (water_saturation(Celsius(t + 1e-3)), water_saturation(Celsius(t - 1e-3)));
            near(water_saturation_slope(Celsius(t)), (a - b).0 / 2e-3, 1e-6 * pa / 1000.0);
        }
        // the ends of the fit stay finite
        for t in [-1e9, -30.0, 373.9, 374.0, 1e9] {
            assert!(water_saturation(Celsius(t)).0.is_finite());
            assert!(water_saturation_slope(Celsius(t)).is_finite());
        }
    }

    /// Source: ISO 2533 and Wagner and Pruss as evaluated by our reference; regression.
    #[test]
    fn altitude_and_boiling() {
        for (z, pa, boils) in [
            (0.0, 101_325.0, 99.974),
            (500.0, 95460.8, 98.312),
            (1000.0, 89874.6, 96.649),
            (1500.0, 84556.0, 94.983),
            (2000.0, 79495.2, 93.315),
            (3000.0, 70108.5, 89.972),
            (4000.0, 61640.2, 86.619),
        ] {
            let p = pressure_at(Metres(z));
            near(1000.0 * p.0, pa, 0.051);
            near(boiling_point(p).0, boils, 5.1e-4);
        }
        // dew points
        for (kpa, t) in [
            (5.0, 32.87),
            (10.0, 45.81),
            (20.0, 60.06),
            (40.0, 75.86),
            (60.0, 85.93),
            (80.0, 93.49),
        ] {
            near(boiling_point(Kilopascal(kpa)).0, t, 5.1e-3);
        }
        for p in [f64::NEG_INFINITY, 0.0, 1e-9, 1e9, f64::INFINITY] {
            assert!((0.0..=374.0).contains(&boiling_point(Kilopascal(p)).0), "{p}");
        }
    }

    /// Source: our reference; regression. Slack: half the last printed digit.
    #[test]
    fn sorption_and_boiling_of_dough() {
        let w = [0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9];
        for (t, activities) in [
            (25.0, [0.0894, 0.3766, 0.7813, 0.9039, 0.9625, 0.9756, 0.9801]),
            (100.0, [0.2282, 0.6417, 0.9067, 0.9566, 0.9774, 0.9819, 0.9834]),
        ] {
            for (w, a) in w.iter().zip(activities) {
                near(water_activity(Celsius(t), *w), a, 5.1e-5);
            }
        }
        for (t, w) in [
            (102.0, 0.22947),
            (105.0, 0.14858),
            (110.0, 0.10623),
            (120.0, 0.07242),
            (150.0, 0.03651),
            (180.0, 0.02209),
            (200.0, 0.01647),
        ] {
            near(equilibrium_moisture(Celsius(t), STANDARD_PRESSURE), w, 5.1e-6);
        }
        for (w, t) in [
            (0.9, 100.444),
            (0.7, 100.487),
            (0.5, 100.613),
            (0.3, 101.208),
            (0.2, 102.654),
            (0.1, 111.249),
            (0.05, 134.442),
        ] {
            near(dough_boiling_point(w, STANDARD_PRESSURE).0, t, 5.1e-4);
        }
        assert_eq!(equilibrium_moisture(Celsius(99.0), STANDARD_PRESSURE), f64::INFINITY);
    }

    /// Source: Zanoni, Peri and Gianotti 1995 (crust), and our reference for the rest.
    #[test]
    fn diffusivity_of_crumb_and_crust() {
        let solids = 270.0 / 1.9; // baked density 270 kg/m³, W0 0.9
        let of = |t: f64, wet: f64| {
            let t = Celsius(t);
            let heat = solids * (dry_solids_cp(t) + LIQUID_WATER_CP * 0.9 * wet);
            CrumbConductivity::DEFAULT.at(t, wet) / heat
        };
        near(of(25.0, 1.0), 2.70e-7, 5e-10);
        near(of(60.0, 1.0), 3.80e-7, 5e-10);
        near(of(80.0, 1.0), 7.58e-7, 5e-10);
        near(of(95.0, 1.0), 1.06e-6, 5e-9);
        near(of(175.0, 0.0), 3.73e-7, 5e-10);
    }

    /// Law: activity and moisture invert each other; boiling needs the equilibrium moisture.
    #[test]
    fn sorption_inverts() {
        for t in [101.0, 105.0, 130.0, 180.0] {
            let w = equilibrium_moisture(Celsius(t), STANDARD_PRESSURE);
            if w.is_finite() {
                let a = water_activity(Celsius(t), w);
                near(a * water_saturation(Celsius(t)).0, STANDARD_PRESSURE.0, 1e-9);
                near(dough_boiling_point(w, STANDARD_PRESSURE).0, t, 1e-6);
            }
        }
    }
}
