//! What happens in the dough between mixing and the oven: yeast and bacteria grow, starch
//! turns to maltose, sugars to gas, alcohol and acid, the dough rises, sours and at last
//! lets go of its gas.
//!
//! Everything is per kg of dough: amounts in mmol/kg, cells in g dry mass/kg, volumes in
//! L/kg, time in h. The science, its sources and what was mended stand in
//! `docs/science-fermentation.md`; the numbers in [`parameters`](crate::parameters).
//!
//! Left out: glycerol, mannitol and succinate (gas and alcohol come out 5 to 10 % high),
//! electron acceptors of the acetate, protein breakdown other than one weakening integral,
//! temperature differences inside the dough (the caller gives the temperature).

use crate::flour::Flour;
use crate::gas;
use crate::parameters::{Bacterium, Constants, FlourKinetics, ParameterSet, Yeast};
use quantity::{Celsius, Grams, Hours, Kilopascal, Percent, Ph, Tta};
use std::fmt;
use std::ops::ControlFlow;

/// Carbon in dry cells, mmol/g: 38.46 mmol, of the usual cell formula. From memory.
const CELL_CARBON: f64 = 38.46;
/// Hexose built into new dry cells, mmol/g.
const CELL_HEXOSE: f64 = CELL_CARBON / 6.0;
/// pKa of lactic acid at 25 °C. Textbook.
const PKA_LACTIC: f64 = 3.86;
/// pKa of acetic acid at 25 °C. Textbook.
const PKA_ACETIC: f64 = 4.76;
/// 10^(`PKA_LACTIC` − `PKA_ACETIC`), ready made: one exponential serves both acids.
const LACTIC_OVER_ACETIC: f64 = 0.125_892_541_179_416_73;
/// 10^3 / 10^`PKA_ACETIC`, likewise, for free hydrogen ions in mmol/L.
const FREE_OVER_ACETIC: f64 = 0.017_378_008_287_493_755;
/// ln 10.
const LN_10: f64 = std::f64::consts::LN_10;
/// Volume of flour in dough, L/kg: density 1.45 kg/L.
const FLOUR_VOLUME: f64 = 1.0 / 1.45;
/// Volume of salt, L/kg.
const SALT_VOLUME: f64 = 1.0 / 2.16;
/// Density of the dry matter of additions when the recipe does not say, kg/L.
const OTHER_DENSITY: f64 = 1.4;
/// Dry matter of compressed yeast.
const FRESH_YEAST_DRY: f64 = 0.30;
/// Density of yeast cells, kg/L.
const YEAST_DENSITY: f64 = 1.1;
/// Cells in a dough without any, g/kg: keeps the logarithm finite and never grows to be seen.
const NO_CELLS: f64 = 1e-30;
/// Share of nitrogen in air.
const NITROGEN: f64 = 0.79;
/// Temperatures the kernel is asked for outside this range are taken at its ends, °C.
const RANGE_DEG_C: (f64, f64) = (-10.0, 60.0);

/// What the dough is made of, per kg: constant between mixes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    /// Flour as it comes, kg.
    pub flour: f64,
    /// Added water, kg, with the water of liquids and yeast.
    pub water: f64,
    /// Salt, kg.
    pub salt: f64,
    /// Dry matter of everything else, kg.
    pub other: f64,
    /// Added water and the moisture of the flour, kg.
    pub total_water: f64,
    /// Added water per flour, starters counted: 0.7 is 70 %.
    pub hydration: f64,
    /// Salt in the aqueous phase, %.
    pub salt_in_water: f64,
    /// Volume without gas, L.
    pub volume: f64,
    /// Buffer capacity, mmol per pH.
    pub buffer: f64,
    /// pH of the flour without acids.
    pub ph0: f64,
    /// Amylase activity relative to the white row.
    pub amylase: f64,
    /// Gas holding relative to the white row.
    pub retention: f64,
    /// Pressure of the room, atm.
    pub pressure_atm: f64,
}

macro_rules! state {
    ($($(#[$doc:meta])* $field:ident),* $(,)?) => {
        /// Where the dough stands, per kg.
        #[derive(Debug, Clone, Copy, PartialEq, Default)]
        pub struct State { $($(#[$doc])* pub $field: f64),* }

        impl State {
            /// Number of state variables.
            pub const LEN: usize = [$(stringify!($field)),*].len();
            /// `self + h · k`, field by field.
            fn plus(&self, h: f64, k: &Self) -> Self {
                Self { $($field: self.$field + h * k.$field),* }
            }
            /// The Runge-Kutta sum, field by field.
            fn runge_kutta(&self, h: f64, [a, b, c, d]: [&Self; 4]) -> Self {
                Self { $($field: self.$field
                    + h / 6.0 * (a.$field + 2.0 * (b.$field + c.$field) + d.$field)),* }
            }
            /// Whether no field is NaN or infinite.
            pub fn is_finite(&self) -> bool {
                true $(&& self.$field.is_finite())*
            }
        }
    };
}

state! {
    /// ln of yeast, g dry cells.
    ln_yeast,
    /// ln of lactic acid bacteria, g dry cells.
    ln_lab,
    /// Readiness of the yeast to grow, 0..=1: carries the lag.
    yeast_readiness,
    /// Readiness of the bacteria, 0..=1.
    lab_readiness,
    /// Maltose, mmol.
    maltose,
    /// Glucose, fructose, sucrose and glucofructans, as hexose, mmol.
    hexose,
    /// Starch that amylases can still attack, as maltose, mmol.
    starch,
    /// Yeast that can still grow, g.
    growth_left,
    /// Lactate in all forms, mmol.
    lactate,
    /// Acetate in all forms, mmol.
    acetate,
    /// Ethanol, mmol.
    ethanol,
    /// Carbon dioxide made since mixing, mmol.
    co2_made,
    /// Carbon dioxide held, dissolved and in bubbles, mmol.
    co2,
    /// Carbon dioxide lost since mixing, mmol.
    co2_lost,
    /// Nitrogen in bubbles, mmol.
    nitrogen,
    /// Weakening of the gluten: gas holding falls with e^−this.
    weakening,
}

/// Who lives in the dough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Organisms {
    /// The yeast, or the mean of several by cell mass.
    pub yeast: Yeast,
    /// The bacteria, or the mean of several by cell mass.
    pub lab: Bacterium,
    /// How much faster this yeast is than its row; 1 is the row.
    pub yeast_vigour: f64,
    /// How much faster these bacteria grow than their row; 1 is the row.
    pub lab_vigour: f64,
    /// Whether two different yeasts were pooled: their mean is an approximation worth a note.
    pub mixed_yeasts: bool,
}

/// A dough or a starter: what it is made of, who lives in it, where it stands.
///
/// Small, on the stack, cheap to clone: to find when a cue is reached, step a clone.
#[derive(Debug, Clone, PartialEq)]
pub struct Dough {
    /// What it is made of.
    pub composition: Composition,
    /// Where it stands.
    pub state: State,
    /// Who lives in it.
    pub organisms: Organisms,
    constants: Constants,
    /// Volume that [`Dough::rise`] is relative to, L/kg.
    reference_volume: f64,
    /// pH of the last step, where the next search for it starts.
    last_ph: f64,
}

/// Something in the mix that is neither flour, water, salt nor yeast: milk, seeds, sugar, butter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Other {
    /// Its mass.
    pub mass: Grams,
    /// Its water; joins the water of the dough.
    pub water: Percent,
    /// Sugar that yeast and bacteria can use, counted as hexose.
    pub fermentable_sugar: Percent,
    /// Density of its dry matter, kg/L; 1.4 when unknown.
    pub density: Option<f64>,
}

/// What goes into the bowl.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// Flours with their masses.
    pub flours: Vec<(Flour, Grams)>,
    /// Water.
    pub water: Grams,
    /// Salt.
    pub salt: Grams,
    /// Compressed baker's yeast, 30 % dry matter.
    pub fresh_yeast: Grams,
    /// Everything else.
    pub others: Vec<Other>,
    /// Starters, levains, autolysed or old dough, with the masses used.
    pub preferments: Vec<(Dough, Grams)>,
    /// Temperature of the mixed dough.
    pub temperature: Celsius,
    /// Pressure of the room.
    pub pressure: Kilopascal,
}

impl Mix {
    /// Nothing but a temperature, at sea level.
    pub fn empty(temperature: Celsius) -> Self {
        Self {
            flours: Vec::new(),
            water: Grams(0.0),
            salt: Grams(0.0),
            fresh_yeast: Grams(0.0),
            others: Vec::new(),
            preferments: Vec::new(),
            temperature,
            pressure: Kilopascal(101.325),
        }
    }
}

/// Why a mix is no dough.
#[derive(Debug, Clone, PartialEq)]
pub enum MixError {
    /// A mass or a property that is negative, not a number or infinite.
    BadAmount {
        /// What it belongs to.
        what: String,
        /// As given.
        value: f64,
    },
    /// No flour, neither fresh nor in a preferment.
    NoFlour,
    /// No water at all, not even in the flour.
    NoWater,
}

impl fmt::Display for MixError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadAmount { what, value } => {
                write!(f, "{what} is {value}: it must be a finite number, not below zero")
            }
            Self::NoFlour => f.write_str("there is no flour in the mix"),
            Self::NoWater => f.write_str("there is no water in the mix"),
        }
    }
}
impl std::error::Error for MixError {}

fn amount(what: &str, value: f64) -> Result<f64, MixError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(MixError::BadAmount { what: what.to_owned(), value })
    }
}

/// Cardinal temperature curve with inflection: 1 at the optimum, 0 outside its ends.
///
/// `[a, o, x]`: minimum, optimum, maximum, °C. Rosso et al. 1993, J. Theor. Biol. 162:447.
pub fn cardinal_temperature(t: f64, [a, o, x]: [f64; 3]) -> f64 {
    if t <= a || t >= x {
        return 0.0;
    }
    (t - x) * (t - a) * (t - a) / ((o - a) * ((o - a) * (t - o) - (o - x) * (o + a - 2.0 * t)))
}

/// Cardinal pH curve: 1 at the optimum, 0 outside its ends.
///
/// `[a, o, x]`: minimum, optimum, maximum. Rosso et al. 1995, Appl. Environ. Microbiol. 61:610.
pub fn cardinal_ph(p: f64, [a, o, x]: [f64; 3]) -> f64 {
    if p <= a || p >= x {
        return 0.0;
    }
    let n = (p - a) * (p - x);
    n / (n - (p - o) * (p - o))
}

/// 2 per 10 K from 25 °C.
fn doubling(t: f64) -> f64 {
    libm::exp2((t - 25.0) / 10.0)
}

/// 1 − (N/Nmax)^n, not below 0.
fn salt_factor(salt: f64, max: f64, exponent: f64) -> f64 {
    let x = salt / max;
    let power = if exponent == 2.0 { x * x } else { libm::pow(x, exponent) };
    (1.0 - power).max(0.0)
}

/// The growth curve with its hot side bent by an exponent.
fn growth_curve(t: f64, cardinal: [f64; 3], hot_exponent: f64) -> f64 {
    let g = cardinal_temperature(t, cardinal);
    if hot_exponent == 1.0 || t <= cardinal[1] || g <= 0.0 { g } else { libm::pow(g, hot_exponent) }
}

impl Yeast {
    /// Growth at a temperature relative to its best, 0..=1.
    pub fn growth_at(&self, temp: Celsius) -> f64 {
        growth_curve(temp.0, self.growth_temp_deg_c, self.growth_hot_exponent)
    }
}

impl Bacterium {
    /// Growth at a temperature relative to its best, 0..=1.
    pub fn growth_at(&self, temp: Celsius) -> f64 {
        growth_curve(temp.0, self.growth_temp_deg_c, self.growth_hot_exponent)
    }
}

/// What the rates need of composition and organisms, worked out once a step.
struct Kernel<'a> {
    of: &'a Dough,
    /// Yeast: speed by vigour, salt and stiffness.
    yeast: f64,
    /// Bacteria growing: by vigour, salt and stiffness.
    lab_growth: f64,
    /// Bacteria making acid without growth: by salt.
    lab_metabolism: f64,
    /// mmol acetate per mmol lactate, at 30 °C and below.
    acetate: f64,
    /// 1 / (yeast capacity of the flour in the dough).
    per_capacity: f64,
    /// Bacteria the dough carries, g.
    lab_capacity: f64,
    /// Gas the dough holds while young, L per L.
    gas_limit: f64,
}

/// What the rates need of one temperature.
#[derive(Clone, Copy)]
struct Warmth {
    yeast_growth: f64,
    yeast_metabolism: f64,
    lab_growth: f64,
    lab_metabolism: f64,
    acetate: f64,
    doubling: f64,
    starch: f64,
    /// Carbon dioxide dissolved under its own pressure of a room, mmol.
    solvent: f64,
    /// Bubble gas per gas-free dough, L/mmol/L.
    gas: f64,
}

/// Rates of change, and what callers ask of them.
struct Rates {
    change: State,
    co2_made: f64,
    co2_lost: f64,
    /// The fastest of leak and sugar turnover, 1/h: steps must be shorter.
    fastest_per_h: f64,
}

impl<'a> Kernel<'a> {
    fn new(of: &'a Dough) -> Self {
        let (c, o, k) = (&of.composition, &of.organisms, &of.constants);
        let stiff = (k.stiff_from_hydration - c.hydration).max(0.0);
        let slow = (1.0 - k.stiff_slowing * stiff).max(0.0);
        let salt = |max, exponent| salt_factor(c.salt_in_water, max, exponent);
        let wetter = (k.stiff_from_hydration - c.hydration).clamp(-0.5, 0.6);
        Self {
            of,
            yeast: o.yeast_vigour * salt(o.yeast.salt_max_percent, o.yeast.salt_exponent) * slow,
            lab_growth: o.lab_vigour * salt(o.lab.salt_max_percent, o.lab.salt_exponent) * slow,
            lab_metabolism: salt(o.lab.metabolism_salt_max_percent, o.lab.salt_exponent),
            acetate: o.lab.acetate_per_lactate * (1.0 + k.acetate_stiff * wetter),
            per_capacity: 1.0 / (o.yeast.capacity_g_per_kg_flour * c.flour),
            lab_capacity: o.lab.capacity_g_per_kg_flour * c.flour,
            gas_limit: k.gas_limit
                * c.retention
                * libm::exp(-k.gas_limit_wet * (c.hydration - 0.7).max(0.0)),
        }
    }

    fn warmth(&self, temp: Celsius) -> Warmth {
        let temp = Celsius(temp.0.clamp(RANGE_DEG_C.0, RANGE_DEG_C.1));
        let t = temp.0;
        let (c, k) = (&self.of.composition, &self.of.constants);
        let Organisms { yeast, lab, .. } = &self.of.organisms;
        let hot = (t - k.acetate_hot_from_deg_c).max(0.0);
        Warmth {
            yeast_growth: growth_curve(t, yeast.growth_temp_deg_c, yeast.growth_hot_exponent),
            yeast_metabolism: cardinal_temperature(t, yeast.metabolism_temp_deg_c),
            lab_growth: growth_curve(t, lab.growth_temp_deg_c, lab.growth_hot_exponent),
            lab_metabolism: cardinal_temperature(t, lab.metabolism_temp_deg_c),
            acetate: (1.0 - k.acetate_hot_per_k * hot).max(0.3),
            doubling: doubling(t),
            starch: libm::pow(k.starch_attack_q10, (t - 25.0) / 10.0)
                * k.starch_attack_per_h
                * c.amylase,
            solvent: gas::solubility(temp) * c.total_water * c.pressure_atm,
            gas: gas::molar_volume(temp, c.pressure_atm) / c.volume,
        }
    }

    /// The rates at a state and a temperature; `ph` is the start of the search and its result.
    fn rates(&self, s: &State, w: &Warmth, ph: &mut f64) -> Rates {
        let c = &self.of.composition;
        let k = &self.of.constants;
        let Organisms { yeast, lab, .. } = &self.of.organisms;
        let y = libm::exp(s.ln_yeast);
        let l = libm::exp(s.ln_lab);
        let maltose = s.maltose.max(0.0);
        let hexose = s.hexose.max(0.0);

        let acidity = c.acidity(s.lactate, s.acetate, *ph);
        *ph = acidity.ph;
        let p = acidity.ph;
        let acetic = s.acetate * acidity.acetic_undissociated / c.total_water;
        let spared = (1.0 - acetic / yeast.acetic_stop_mmol_per_l).max(0.0);

        // what the cells find to eat
        let sugar = 2.0 * maltose + hexose;
        let lab_fed = sugar / (lab.half_sugar_mmol_per_kg + sugar);
        let from_maltose = 2.0 * maltose / (sugar + 1e-9);
        let half_hexose = yeast.half_hexose_mmol_per_kg;
        let on_hexose = hexose / (half_hexose + hexose);
        let on_maltose = if yeast.maltose > 0.0 {
            yeast.maltose * maltose / (yeast.half_maltose_mmol_per_kg + maltose) * half_hexose
                / (half_hexose + hexose)
        } else {
            0.0
        };
        let yeast_fed = (on_hexose + on_maltose).min(1.0);

        // growth
        let yeast_works = self.yeast * spared * yeast_fed;
        let yeast_could = yeast.mu_opt_per_h * w.yeast_growth * yeast_works;
        let left = s.growth_left.max(0.0) * self.per_capacity;
        let yeast_mu = yeast_could * s.yeast_readiness * left;
        let lab_could = lab.mu_opt_per_h
            * self.lab_growth
            * w.lab_growth
            * cardinal_ph(p, lab.growth_ph)
            * lab_fed;
        let lab_mu = lab_could * s.lab_readiness * (1.0 - l / self.lab_capacity).max(0.0);

        // sugar through the cells, mmol hexose/h
        let yeast_burns = y
            * (yeast.sugar_per_growth_mmol_per_g * yeast_mu
                + yeast.sugar_upkeep_mmol_per_g_h
                    * w.yeast_metabolism
                    * yeast_works
                    * s.yeast_readiness.max(yeast.gate));
        let not_too_sour = ((p - lab.metabolism_ph_stop) / lab.metabolism_ph_width).clamp(0.0, 1.0);
        let lactate = l
            * (lab.lactate_per_growth_mmol_per_g * lab_mu
                + lab.lactate_upkeep_mmol_per_g_h
                    * w.lab_metabolism
                    * self.lab_metabolism
                    * not_too_sour
                    * lab_fed
                    * s.lab_readiness);
        let yeast_takes = yeast_burns + CELL_HEXOSE * yeast_mu * y;
        let yeast_takes_hexose = yeast_takes * on_hexose / (on_hexose + on_maltose + 1e-12);
        let lab_takes = lactate + CELL_HEXOSE * lab_mu * l;
        let lab_takes_maltose = lab_takes * from_maltose;
        let excreted = lab.glucose_excreted_per_maltose * lab_takes_maltose;
        let attack =
            w.starch * s.starch.max(0.0) * if p > 4.5 { 1.0 } else { ((p - 3.2) / 1.3).max(0.2) };

        // acid, alcohol, gas
        let acetate_share = self.acetate * w.acetate;
        let co2_made = 2.0 * yeast_burns + lactate;
        let bubbles = gas::in_bubbles(s.co2, s.nitrogen, w.solvent);
        let fullness = (bubbles + s.nitrogen.max(1e-9)) * w.gas
            / (self.gas_limit * libm::exp(-s.weakening)).max(1e-6);
        let over = fullness * fullness * fullness * fullness;
        let leak_per_h = k.leak_per_h * w.doubling * (1.0 + over.min(k.leak_cap));
        let co2_lost = leak_per_h * bubbles;

        // readiness: gained by growing, lost when starved or soured
        let sour = k.sourness(p);
        let yeast_at_ease = yeast_fed * spared * (1.0 - 0.5 * sour);
        let lab_at_ease = lab_fed * ((p - 3.4) / 0.4).clamp(0.0, 1.0);
        let readiness = |a: f64, speed: f64, at_ease: f64| {
            speed * a * (1.0 - a)
                - k.readiness_loss_per_h * w.doubling * (1.0 - at_ease) * (a - k.readiness_floor)
        };
        let change = State {
            ln_yeast: yeast_mu,
            ln_lab: lab_mu,
            yeast_readiness: readiness(
                s.yeast_readiness,
                yeast.readiness_speed * yeast_could,
                yeast_at_ease,
            ),
            lab_readiness: readiness(s.lab_readiness, lab.readiness_speed * lab_could, lab_at_ease),
            maltose: attack
                - (lab_takes_maltose + excreted) / 2.0
                - (yeast_takes - yeast_takes_hexose) / 2.0,
            hexose: excreted - (lab_takes - lab_takes_maltose) - yeast_takes_hexose,
            starch: -attack,
            growth_left: -yeast_mu * y,
            lactate,
            acetate: lactate * acetate_share,
            ethanol: 2.0 * yeast_burns + lactate * (1.0 - acetate_share),
            co2_made,
            co2: co2_made - co2_lost,
            co2_lost,
            nitrogen: -leak_per_h * s.nitrogen,
            weakening: k.weakening_per_h
                * w.doubling
                * (1.0 + k.weakening_acid * ((4.5 - p) / 0.6).clamp(0.0, 1.0)),
        };
        // none of the pools may be emptied within a step
        let hexose_out = yeast_takes_hexose + lab_takes - lab_takes_maltose;
        let maltose_out = 0.5 * (lab_takes_maltose + excreted + yeast_takes - yeast_takes_hexose);
        let fastest_per_h = leak_per_h
            .max(w.starch)
            .max(hexose_out / hexose.max(1e-6))
            .max(maltose_out / maltose.max(1e-6));
        Rates { change, co2_made, co2_lost, fastest_per_h }
    }
}

impl Constants {
    /// 0 above the acid switch, 1 below; a ramp between.
    fn sourness(&self, ph: f64) -> f64 {
        if self.acid_switch_width > 0.0 {
            (0.5 - (ph - self.acid_switch_ph) / self.acid_switch_width).clamp(0.0, 1.0)
        } else if ph > self.acid_switch_ph {
            0.0
        } else {
            1.0
        }
    }
}

/// A solved charge balance.
struct Acidity {
    ph: f64,
    /// Share of acetic acid that is undissociated.
    acetic_undissociated: f64,
}

impl Composition {
    /// Solves the charge balance for the pH.
    ///
    /// ```text
    /// Lac/(1+10^(3.86−p)) + Ac/(1+10^(4.76−p)) − 10^(3−p)·W = b (p0 − p)
    /// ```
    /// Strictly increasing in p: Newton's steps, kept inside a shrinking bracket. The last
    /// step is below 1e-7, its error below 1e-13 wherever the search starts.
    fn acidity(&self, lactate: f64, acetate: f64, start: f64) -> Acidity {
        let (mut lo, mut hi) = (2.5, 8.0);
        let (lactate, acetate) = (lactate.max(0.0), acetate.max(0.0));
        let mut p = if start > lo && start < hi { start } else { 5.0 };
        let mut undissociated = 0.0;
        for _ in 0..60 {
            // 10^(pKa − p) of acetic acid carries the two others
            let e = libm::exp(LN_10 * (PKA_ACETIC - p));
            let (a, b) = (1.0 / (1.0 + e), 1.0 / (1.0 + LACTIC_OVER_ACETIC * e));
            let free = FREE_OVER_ACETIC * e * self.total_water;
            let f = lactate * b + acetate * a - free - self.buffer * (self.ph0 - p);
            let slope =
                LN_10 * (lactate * b * (1.0 - b) + acetate * a * (1.0 - a) + free) + self.buffer;
            undissociated = 1.0 - a;
            if f > 0.0 {
                hi = p;
            } else {
                lo = p;
            }
            let step = -f / slope;
            if step.abs() < 1e-7 {
                // first order is enough for so small a move
                undissociated -= LN_10 * a * (1.0 - a) * step;
                p += step;
                break;
            }
            p += step;
            if !(p > lo && p < hi) {
                p = 0.5 * (lo + hi);
            }
        }
        Acidity { ph: p, acetic_undissociated: undissociated }
    }
}

/// Weighted mean of two rows, field by field; exact when they are equal.
macro_rules! mean_of {
    ($t:ident: $($f:ident),*; $($v:ident),*) => {
        impl $t {
            fn mean(&self, own: f64, other: &Self, share: f64) -> Self {
                if self == other || share == 0.0 { return *self; }
                if own == 0.0 { return *other; }
                let m = |a: f64, b: f64| (own * a + share * b) / (own + share);
                let m3 = |a: [f64; 3], b: [f64; 3]| [m(a[0], b[0]), m(a[1], b[1]), m(a[2], b[2])];
                Self { $($f: m(self.$f, other.$f),)* $($v: m3(self.$v, other.$v),)* }
            }
        }
    };
}
mean_of!(Yeast: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    acetic_stop_mmol_per_l, sugar_per_growth_mmol_per_g, sugar_upkeep_mmol_per_g_h, maltose, gate,
    half_hexose_mmol_per_kg, half_maltose_mmol_per_kg, capacity_g_per_kg_flour, fresh_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c);
mean_of!(Bacterium: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    metabolism_salt_max_percent, metabolism_ph_stop, metabolism_ph_width,
    lactate_per_growth_mmol_per_g, lactate_upkeep_mmol_per_g_h, acetate_per_lactate,
    glucose_excreted_per_maltose, half_sugar_mmol_per_kg, capacity_g_per_kg_flour, ripe_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c, growth_ph);

/// Cells as they are put together from several sources.
struct Pool<R> {
    row: R,
    cells: f64,
    readiness: f64,
    vigour: f64,
    mixed: bool,
}

impl<R: Copy + PartialEq> Pool<R> {
    fn new(row: R) -> Self {
        Self { row, cells: 0.0, readiness: 0.0, vigour: 1.0, mixed: false }
    }
    fn add(&mut self, mean: fn(&R, f64, &R, f64) -> R, row: &R, cells: f64, a: f64, vigour: f64) {
        if cells <= NO_CELLS {
            return;
        }
        self.mixed |= self.cells > 0.0 && self.row != *row;
        self.row = mean(&self.row, self.cells, row, cells);
        let all = self.cells + cells;
        self.readiness = (self.readiness * self.cells + a * cells) / all;
        self.vigour = if self.cells == 0.0 || self.vigour == vigour {
            vigour
        } else {
            (self.vigour * self.cells + vigour * cells) / all
        };
        self.cells = all;
    }
}

impl Dough {
    /// Mixes a dough from its ingredients; amounts come out per kg.
    ///
    /// Cells, sugars, acids and composition add up by mass. A preferment loses its bubbles
    /// and a tenth of its dissolved gas; air is beaten in. Two yeasts become one pool with the
    /// mean of their parameters by cell mass, an approximation that
    /// [`Organisms::mixed_yeasts`] marks. A mix without any organisms is legal and stays dead.
    ///
    /// The reference volume of [`rise`](Self::rise) is that of the fresh dough.
    ///
    /// # Errors
    /// [`MixError`] on amounts that are no amounts, and without flour or water.
    pub fn mix(mix: &Mix, set: &ParameterSet) -> Result<Self, MixError> {
        let temp = mix.temperature;
        if !temp.0.is_finite() {
            return Err(MixError::BadAmount { what: "the temperature".to_owned(), value: temp.0 });
        }
        let pressure_atm = amount("the pressure of the room", mix.pressure.0)? / 101.325;
        let mut total = amount("the water", mix.water.0)?
            + amount("the salt", mix.salt.0)?
            + amount("the yeast", mix.fresh_yeast.0)?;
        for (flour, mass) in &mix.flours {
            total += amount(&flour.name, mass.0)?;
            amount(&format!("the ash of {}", flour.name), flour.ash.0)?;
            amount(&format!("the falling number of {}", flour.name), flour.falling_number_s)?;
            let moisture = amount(&format!("the moisture of {}", flour.name), flour.moisture.0)?;
            if moisture > 100.0 {
                let what = format!("the moisture of {}", flour.name);
                return Err(MixError::BadAmount { what, value: moisture });
            }
        }
        for other in &mix.others {
            total += amount("an addition", other.mass.0)?;
            amount("the water of an addition", other.water.0)?;
            amount("the sugar of an addition", other.fermentable_sugar.0)?;
            if let Some(density) = other.density
                && !(density.is_finite() && density > 0.0)
            {
                let what = "the density of an addition".to_owned();
                return Err(MixError::BadAmount { what, value: density });
            }
        }
        for (_, mass) in &mix.preferments {
            total += amount("a preferment", mass.0)?;
        }
        let per_kg = |mass: Grams| mass.0 / total;

        let mut c = Composition {
            flour: 0.0,
            water: 0.0,
            salt: 0.0,
            other: 0.0,
            total_water: 0.0,
            hydration: 0.0,
            salt_in_water: 0.0,
            volume: 0.0,
            buffer: 0.0,
            ph0: 0.0,
            amylase: 0.0,
            retention: 0.0,
            pressure_atm,
        };
        let mut s = State::default();
        let mut fresh_flour = 0.0;
        let mut growth_left = 0.0; // of capacity, as kg flour
        let mut yeast = Pool::new(set.levain_yeast);
        let mut lab = Pool::new(set.bacterium);

        for (dough, mass) in &mix.preferments {
            let x = per_kg(*mass);
            if x == 0.0 {
                continue;
            }
            let (d, from, o) = (&dough.composition, &dough.state, &dough.organisms);
            c.flour += x * d.flour;
            c.water += x * d.water;
            c.salt += x * d.salt;
            c.other += x * d.other;
            c.total_water += x * d.total_water;
            c.volume += x * d.volume;
            c.buffer += x * d.buffer;
            c.ph0 += x * d.flour * d.ph0;
            c.amylase += x * d.flour * d.amylase;
            c.retention += x * d.flour * d.retention;
            s.maltose += x * from.maltose.max(0.0);
            s.hexose += x * from.hexose.max(0.0);
            s.starch += x * from.starch.max(0.0);
            s.lactate += x * from.lactate;
            s.acetate += x * from.acetate;
            s.ethanol += x * from.ethanol;
            growth_left += x * from.growth_left.max(0.0) / o.yeast.capacity_g_per_kg_flour;
            let solvent = gas::solubility(temp) * d.total_water * pressure_atm;
            let dissolved = (from.co2 - gas::in_bubbles(from.co2, from.nitrogen, solvent)).max(0.0);
            s.co2 += x * set.constants.dissolved_kept * dissolved;
            let (y, l) = (x * libm::exp(from.ln_yeast), x * libm::exp(from.ln_lab));
            yeast.add(Yeast::mean, &o.yeast, y, from.yeast_readiness, o.yeast_vigour);
            yeast.mixed |= o.mixed_yeasts && y > NO_CELLS;
            lab.add(Bacterium::mean, &o.lab, l, from.lab_readiness, o.lab_vigour);
        }
        for (flour, mass) in &mix.flours {
            let x = per_kg(*mass);
            if x == 0.0 || !x.is_finite() {
                continue;
            }
            let k: FlourKinetics = set.flour(flour);
            fresh_flour += x;
            c.flour += x;
            c.total_water += x * flour.moisture.fraction();
            c.volume += x * FLOUR_VOLUME;
            c.buffer += x * k.buffer;
            c.ph0 += x * k.ph;
            c.amylase += x * k.amylase;
            c.retention += x * k.retention;
            s.maltose += x * k.maltose;
            s.hexose += x * k.hexose;
            s.starch += x * k.starch;
        }
        if c.flour <= 0.0 {
            return Err(MixError::NoFlour);
        }
        for other in &mix.others {
            let x = per_kg(other.mass);
            let water = x * other.water.fraction().min(1.0);
            let dry = x - water;
            c.water += water;
            c.total_water += water;
            c.other += dry;
            c.volume += water + dry / other.density.unwrap_or(OTHER_DENSITY);
            s.hexose += x * other.fermentable_sugar.fraction().min(1.0) * 1e6 / 180.16;
        }
        let block = per_kg(mix.fresh_yeast);
        let cells = block * FRESH_YEAST_DRY;
        c.other += cells;
        c.volume += cells / YEAST_DENSITY;
        let baker = &set.bakers_yeast;
        yeast.add(Yeast::mean, baker, cells * 1000.0, baker.fresh_readiness, 1.0);
        let water = per_kg(mix.water) + block - cells;
        let salt = per_kg(mix.salt);
        c.water += water;
        c.total_water += water;
        c.salt += salt;
        c.volume += water + salt * SALT_VOLUME;
        if c.total_water <= 0.0 {
            return Err(MixError::NoWater);
        }
        c.hydration = c.water / c.flour;
        c.salt_in_water = 100.0 * c.salt / (c.salt + c.total_water);
        c.ph0 /= c.flour;
        c.amylase /= c.flour;
        c.retention /= c.flour;

        s.ln_yeast = libm::log(yeast.cells.max(NO_CELLS));
        s.ln_lab = libm::log(lab.cells.max(NO_CELLS));
        s.yeast_readiness = yeast.readiness;
        s.lab_readiness = lab.readiness;
        s.growth_left = (growth_left + fresh_flour) * yeast.row.capacity_g_per_kg_flour;
        let void = set.constants.void_share / (1.0 - set.constants.void_share) * c.volume;
        s.nitrogen =
            NITROGEN * void * pressure_atm / (gas::GAS_CONSTANT * (temp.0 + 273.15).max(1.0));
        let mut dough = Self {
            composition: c,
            state: s,
            organisms: Organisms {
                yeast: yeast.row,
                lab: lab.row,
                yeast_vigour: yeast.vigour,
                lab_vigour: lab.vigour,
                mixed_yeasts: yeast.mixed,
            },
            constants: set.constants,
            reference_volume: 1.0,
            last_ph: c.ph0,
        };
        dough.last_ph = dough.ph().0;
        dough.mark(temp);
        Ok(dough)
    }

    /// Puts a composition, a state and its organisms together, for a starter known by its counts.
    pub fn known(
        composition: Composition,
        state: State,
        organisms: Organisms,
        set: &ParameterSet,
    ) -> Self {
        let mut dough = Self {
            composition,
            state,
            organisms,
            constants: set.constants,
            reference_volume: composition.volume,
            last_ph: composition.ph0,
        };
        dough.last_ph = dough.ph().0;
        dough
    }

    /// Acidity.
    pub fn ph(&self) -> Ph {
        Ph(self.composition.acidity(self.state.lactate, self.state.acetate, self.last_ph).ph)
    }

    /// Titratable acidity to an end point, usually 8.5 or 6.6; mL 0.1 mol/L for 10 g, not below 0.
    pub fn tta(&self, end: Ph) -> Tta {
        let s = &self.state;
        let dissociated = |p: f64| {
            let e = libm::exp(LN_10 * (PKA_ACETIC - p));
            s.lactate / (1.0 + LACTIC_OVER_ACETIC * e) + s.acetate / (1.0 + e)
        };
        let p = self.ph().0;
        let flour = self.constants.tta_buffer * self.composition.buffer * (end.0 - p);
        Tta(((dissociated(end.0) - dissociated(p) + flour) / 10.0).max(0.0))
    }

    /// Volume at a temperature, L/kg.
    pub fn volume_l_per_kg(&self, temp: Celsius) -> f64 {
        let c = &self.composition;
        let temp = Celsius(temp.0.clamp(RANGE_DEG_C.0, RANGE_DEG_C.1));
        let gas = self.bubbles(temp) + self.state.nitrogen.max(1e-9);
        c.volume + gas * gas::molar_volume(temp, c.pressure_atm)
    }

    /// Rise over the reference volume: that of the fresh dough, or of the last [`mark`](Self::mark).
    pub fn rise(&self, temp: Celsius) -> Percent {
        Percent(100.0 * (self.volume_l_per_kg(temp) / self.reference_volume - 1.0))
    }

    /// Makes the volume at this moment the reference of [`rise`](Self::rise).
    pub fn mark(&mut self, temp: Celsius) {
        self.reference_volume = self.volume_l_per_kg(temp);
    }

    /// Presses out a share of the bubbles; what is dissolved stays.
    ///
    /// Habits of the trade: fold 5 %, divide 15 %, preshape 25 %, shape 35 %, punch down 70 %.
    pub fn degas(&mut self, fraction: f64, temp: Celsius) {
        if !fraction.is_finite() {
            return;
        }
        let fraction = fraction.clamp(0.0, 1.0);
        let lost = fraction * self.bubbles(temp);
        self.state.co2 -= lost;
        self.state.co2_lost += lost;
        self.state.nitrogen *= 1.0 - fraction;
    }

    /// Carbon dioxide being made, mmol/(kg h).
    pub fn co2_rate(&self, temp: Celsius) -> f64 {
        self.rates_at(temp).co2_made
    }

    /// Gas lost per gas made at this moment; above 0.5 the dough no longer keeps what it makes.
    ///
    /// 0 when nothing is made.
    pub fn gas_loss_share(&self, temp: Celsius) -> f64 {
        let r = self.rates_at(temp);
        if r.co2_made > 0.0 { r.co2_lost / r.co2_made } else { 0.0 }
    }

    /// Yeast cells per g of dough.
    pub fn yeast_cells_per_g(&self) -> f64 {
        libm::exp(self.state.ln_yeast) * 1e9 / self.organisms.yeast.cell_pg
    }

    /// Lactic acid bacteria per g of dough.
    pub fn lab_cells_per_g(&self) -> f64 {
        libm::exp(self.state.ln_lab) * 1e9 / self.organisms.lab.cell_pg
    }

    /// Carbon in sugars, acids, alcohol, cells and the gas made since mixing, mmol/kg. Constant.
    pub fn carbon(&self) -> f64 {
        let s = &self.state;
        12.0 * (s.maltose + s.starch)
            + 6.0 * s.hexose
            + 3.0 * s.lactate
            + 2.0 * (s.acetate + s.ethanol)
            + s.co2_made
            + CELL_CARBON * (libm::exp(s.ln_yeast) + libm::exp(s.ln_lab))
    }

    /// Carbon dioxide in bubbles, mmol/kg.
    fn bubbles(&self, temp: Celsius) -> f64 {
        let c = &self.composition;
        let solvent = gas::solubility(temp) * c.total_water * c.pressure_atm;
        gas::in_bubbles(self.state.co2, self.state.nitrogen, solvent)
    }

    fn rates_at(&self, temp: Celsius) -> Rates {
        let kernel = Kernel::new(self);
        kernel.rates(&self.state, &kernel.warmth(temp), &mut self.last_ph.clone())
    }

    /// One step of time, by Runge-Kutta of order 4.
    ///
    /// Takes the temperature at start, middle and end. Where the leak of an overfull dough or
    /// the last of a sugar outruns the step, it is stepped finer inside. Steps of 0.25 h err by
    /// some 1e-6 over a bulk and a night's retard, 0.5 h by 2e-5. A step that is not positive, or a temperature that is no number, does nothing.
    pub fn step(&mut self, dt: Hours, t_start: Celsius, t_mid: Celsius, t_end: Celsius) {
        let usable = t_start.0.is_finite() && t_mid.0.is_finite() && t_end.0.is_finite();
        if !(usable && dt.0.is_finite() && dt.0 > 0.0) {
            return;
        }
        let mut state = self.state;
        let mut ph = self.last_ph;
        let kernel = Kernel::new(self);
        // the parabola through the three temperatures; its ends and middle are exact
        let at = |x: f64| {
            Celsius(
                t_start.0 * (1.0 - x) * (1.0 - 2.0 * x)
                    + t_mid.0 * 4.0 * x * (1.0 - x)
                    + t_end.0 * x * (2.0 * x - 1.0),
            )
        };
        let isothermal = t_start == t_mid && t_start == t_end;
        let mut start = kernel.warmth(t_start);
        let mut done = 0.0;
        while done < 1.0 {
            let first = kernel.rates(&state, &start, &mut ph);
            // stable below 2.8; 1 keeps the error small and the pools from running dry
            let left = 1.0 - done;
            let parts = (left * dt.0 * first.fastest_per_h).ceil().max(1.0);
            let h = (left / parts).max(1e-3).min(left);
            let upto = if h == left { 1.0 } else { done + h };
            let (mid, end) = if isothermal {
                (start, start)
            } else {
                (kernel.warmth(at(done + 0.5 * h)), kernel.warmth(at(upto)))
            };
            state = kernel.runge_kutta(&state, &first, dt.0 * h, [&mid, &end], &mut ph);
            start = end;
            done = upto;
        }
        self.state = state;
        self.last_ph = ph;
    }

    /// Ferments for some hours; `temp` gives the temperature at hours from now.
    ///
    /// Steps are at most `dt_max` long, 0.25 h when that is no positive number.
    pub fn ferment(&mut self, hours: Hours, temp: impl Fn(Hours) -> Celsius, dt_max: Hours) {
        self.watch(hours, temp, dt_max, |_, _| ControlFlow::Continue(()));
    }

    /// As [`ferment`](Self::ferment), showing the dough after every step until `see` breaks off.
    pub fn watch(
        &mut self,
        hours: Hours,
        temp: impl Fn(Hours) -> Celsius,
        dt_max: Hours,
        mut see: impl FnMut(Hours, &Self) -> ControlFlow<()>,
    ) {
        if !(hours.0.is_finite() && hours.0 > 0.0) {
            return;
        }
        let dt_max = if dt_max.0.is_finite() && dt_max.0 > 0.0 { dt_max.0 } else { 0.25 };
        let steps = (hours.0 / dt_max - 1e-9).ceil().clamp(1.0, 1e7);
        let dt = hours.0 / steps;
        for i in 0..steps as u32 {
            let t = f64::from(i) * dt;
            self.step(Hours(dt), temp(Hours(t)), temp(Hours(t + 0.5 * dt)), temp(Hours(t + dt)));
            if see(Hours(t + dt), self).is_break() {
                break;
            }
        }
    }
}

impl Kernel<'_> {
    fn runge_kutta(
        &self,
        s: &State,
        first: &Rates,
        h: f64,
        [mid, end]: [&Warmth; 2],
        ph: &mut f64,
    ) -> State {
        let a = &first.change;
        let b = self.rates(&s.plus(h / 2.0, a), mid, ph).change;
        let c = self.rates(&s.plus(h / 2.0, &b), mid, ph).change;
        let d = self.rates(&s.plus(h, &c), end, ph).change;
        let mut next = s.runge_kutta(h, [a, &b, &c, &d]);
        // sugars and gas end at nothing; what rounding takes beyond is some 1e-6 mmol
        next.nitrogen = next.nitrogen.max(0.0);
        if next.co2 < 0.0 {
            next.co2_lost += next.co2;
            next.co2 = 0.0;
        }
        next
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::culture::ripe_starter;

    const SETS: [&str; 2] = ParameterSet::NAMES;

    fn white() -> Flour {
        Flour::white("white")
    }

    fn starter(set: &ParameterSet) -> Dough {
        let sea = Kilopascal(101.325);
        ripe_starter(&[(white(), Percent(100.0))], Percent(100.0), sea, set).unwrap()
    }

    fn dough(set: &ParameterSet) -> Dough {
        let mix = Mix {
            flours: vec![(white(), Grams(1000.0))],
            water: Grams(700.0),
            salt: Grams(20.0),
            preferments: vec![(starter(set), Grams(200.0))],
            ..Mix::empty(Celsius(25.0))
        };
        Dough::mix(&mix, set).unwrap()
    }

    /// Printed by the reference implementation; the file names its columns.
    const GOLDEN: &str = include_str!("../../../data/checks/regression/ferment.txt");

    fn golden_row(t: f64, d: &Dough) -> [f64; 18] {
        let s = &d.state;
        [
            t,
            d.rise(Celsius(25.0)).0,
            d.ph().0,
            d.yeast_cells_per_g(),
            d.lab_cells_per_g(),
            s.yeast_readiness,
            s.maltose,
            s.hexose,
            s.starch,
            s.lactate,
            s.acetate,
            s.ethanol,
            s.co2_made,
            s.co2,
            s.co2_lost,
            s.nitrogen,
            s.weakening,
            s.growth_left,
        ]
    }

    #[test]
    fn golden_rows_of_the_reference() {
        let mut d = dough(ParameterSet::named("first").unwrap());
        let mut t = 0.0;
        for line in GOLDEN.lines().filter(|l| !l.starts_with('#')) {
            let row: Vec<f64> = line.split(' ').map(|x| x.parse().unwrap()).collect();
            d.ferment(Hours(row[0] - t), |_| Celsius(25.0), Hours(0.05));
            t = row[0];
            for (i, (ours, printed)) in golden_row(t, &d).iter().zip(row).enumerate() {
                // half the last printed digit, or 1e-4 of it
                let digit = if i == 3 || i == 4 {
                    0.0
                } else if i == 1 {
                    0.0051
                } else {
                    0.00051
                };
                assert!(
                    (ours - printed).abs() <= digit + 1e-4 * printed.abs(),
                    "{t} h, column {i}: {ours} against {printed}"
                );
            }
        }
    }

    #[test]
    fn cardinal_curves_are_one_at_the_optimum_and_nothing_at_the_ends() {
        let t = [4.0, 32.5, 41.0];
        assert!((cardinal_temperature(32.5, t) - 1.0).abs() < 1e-12);
        assert_eq!([4.0, 41.0, -3.0, 60.0].map(|x| cardinal_temperature(x, t)), [0.0; 4]);
        let p = [3.8, 5.2, 6.9];
        assert!((cardinal_ph(5.2, p) - 1.0).abs() < 1e-12);
        assert_eq!([3.8, 6.9, 0.0].map(|x| cardinal_ph(x, p)), [0.0; 3]);
    }

    /// Mixes flour and water only.
    fn lifeless(set: &ParameterSet) -> Dough {
        let mix = Mix {
            flours: vec![(white(), Grams(100.0))],
            water: Grams(70.0),
            ..Mix::empty(Celsius(25.0))
        };
        Dough::mix(&mix, set).unwrap()
    }

    /// With food and room enough the lag and growth have a closed form.
    #[test]
    fn growth_out_of_the_lag() {
        for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
            let mut d = lifeless(set);
            d.organisms.yeast.readiness_speed = 1.0;
            d.state.ln_yeast = libm::log(1e-9);
            d.state.yeast_readiness = 0.1;
            d.state.hexose = 1e9;
            d.state.growth_left = d.composition.flour * d.organisms.yeast.capacity_g_per_kg_flour;
            let start = d.state.ln_yeast;
            d.ferment(Hours(12.0), |_| Celsius(22.0), Hours(0.1));
            let mu = d.organisms.yeast.mu_opt_per_h * d.organisms.yeast.growth_at(Celsius(22.0));
            let exact = libm::log(0.9 + 0.1 * libm::exp(mu * 12.0));
            assert!((d.state.ln_yeast - start - exact).abs() < 1e-6);
        }
    }

    #[test]
    fn a_dough_without_organisms_only_makes_maltose() {
        for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
            let mut d = lifeless(set);
            let before = d.clone();
            assert!((d.ph().0 - d.composition.ph0).abs() < 1e-3);
            d.ferment(Hours(8.0), |_| Celsius(30.0), Hours(0.25));
            let k = set.constants.starch_attack_per_h
                * d.composition.amylase
                * libm::pow(set.constants.starch_attack_q10, 0.5);
            let left = before.state.starch * libm::exp(-k * 8.0);
            assert!((d.state.starch - left).abs() < 1e-3 * left);
            assert!(
                (d.state.maltose - before.state.maltose - before.state.starch + left).abs() < 0.05
            );
            assert_eq!((d.ph(), d.state.hexose), (before.ph(), before.state.hexose));
            assert!(d.co2_rate(Celsius(25.0)) < 1e-20 && d.gas_loss_share(Celsius(25.0)) < 1e20);
        }
    }

    #[test]
    fn carbon_and_gas_balance() {
        for set in SETS.map(|n| ParameterSet::named(n).unwrap()) {
            let mut d = dough(set);
            let (carbon, gas) = (d.carbon(), d.state.co2);
            d.ferment(Hours(12.0), |t| Celsius(28.0 - t.0), Hours(0.25));
            d.degas(0.35, Celsius(16.0));
            let s = &d.state;
            // the integrator keeps sums of states exactly, the logarithm of cells to its order
            assert!((d.carbon() / carbon - 1.0).abs() < 1e-6);
            assert!((s.co2 + s.co2_lost - gas - s.co2_made).abs() < 1e-9);
        }
    }

    #[test]
    fn gas_leaks_from_a_dead_dough() {
        let set = ParameterSet::named("first").unwrap();
        let mut d = lifeless(set);
        d.state.co2 = 12.0;
        let (temp, before) = (Celsius(15.0), d.clone());
        d.step(Hours(1e-3), temp, temp, temp);
        let leak = set.constants.leak_per_h * 0.5 * before.bubbles(temp);
        assert!(((before.state.co2 - d.state.co2) / 1e-3 / leak - 1.0).abs() < 1e-2);
        assert!((d.state.co2 + d.state.co2_lost - 12.0).abs() < 1e-12);
    }

    /// Halving the step divides the error by sixteen.
    #[test]
    fn the_integrator_is_of_order_four() {
        let run = |dt: f64| {
            let mut d = dough(ParameterSet::named("first").unwrap());
            d.ferment(Hours(4.0), |t| Celsius(24.0 - t.0), Hours(dt));
            d.state.lactate
        };
        let exact = run(0.02);
        let ratio = (run(1.0) - exact) / (run(0.5) - exact);
        assert!((11.0..24.0).contains(&ratio), "{ratio}");
    }

    #[test]
    fn mixing_two_equal_doughs_changes_no_cells_sugars_or_acids() {
        let set = ParameterSet::named("mended").unwrap();
        let mut d = dough(set);
        d.ferment(Hours(5.0), |_| Celsius(25.0), Hours(0.25));
        let mix = Mix {
            preferments: vec![(d.clone(), Grams(300.0)), (d.clone(), Grams(700.0))],
            ..Mix::empty(Celsius(25.0))
        };
        let e = Dough::mix(&mix, set).unwrap();
        let same = |s: &State| {
            [
                s.ln_yeast,
                s.ln_lab,
                s.yeast_readiness,
                s.lab_readiness,
                s.maltose,
                s.hexose,
                s.starch,
                s.growth_left,
                s.lactate,
                s.acetate,
                s.ethanol,
            ]
        };
        for (a, b) in same(&d.state).into_iter().zip(same(&e.state)) {
            assert!((a - b).abs() < 1e-12 * a.abs().max(1.0));
        }
        assert!((d.ph().0 - e.ph().0).abs() < 1e-12);
        assert!((d.composition.volume - e.composition.volume).abs() < 1e-12);
        assert!(!e.organisms.mixed_yeasts && e.organisms.yeast == d.organisms.yeast);
    }

    #[test]
    fn two_yeasts_become_one_pool_that_says_so() {
        let set = ParameterSet::named("mended").unwrap();
        let mix = Mix {
            flours: vec![(white(), Grams(1000.0))],
            water: Grams(650.0),
            fresh_yeast: Grams(2.0),
            preferments: vec![(starter(set), Grams(200.0))],
            ..Mix::empty(Celsius(24.0))
        };
        let d = Dough::mix(&mix, set).unwrap();
        assert!(d.organisms.mixed_yeasts);
        assert!(d.organisms.yeast.maltose > 0.0 && d.organisms.yeast.maltose < 1.0);
    }

    #[test]
    fn what_is_no_dough_is_refused() {
        let set = ParameterSet::named("mended").unwrap();
        let refused = |mix: &Mix| Dough::mix(mix, set).unwrap_err().to_string();
        let mut mix = Mix::empty(Celsius(24.0));
        assert_eq!(refused(&mix), "there is no flour in the mix");
        mix.water = Grams(100.0);
        assert_eq!(refused(&mix), "there is no flour in the mix");
        mix.water = Grams(f64::NAN);
        assert!(refused(&mix).starts_with("the water is NaN"));
        mix.water = Grams(0.0);
        mix.flours.push((Flour { moisture: Percent(0.0), ..white() }, Grams(1.0)));
        assert_eq!(refused(&mix), "there is no water in the mix");
        mix.flours[0].1 = Grams(-1.0);
        assert!(refused(&mix).starts_with("white is -1"));
    }

    #[test]
    fn the_search_for_the_ph_does_not_remember_where_it_started() {
        let c = dough(ParameterSet::default_set()).composition;
        for (lactate, acetate) in [(0.0, 0.0), (4.0, 1.0), (40.0, 9.0), (300.0, 80.0)] {
            let reference = c.acidity(lactate, acetate, 5.0).ph;
            for start in [2.0, 2.6, 3.3, 4.4, 6.0, 7.9, f64::NAN] {
                let again = c.acidity(lactate, acetate, start).ph;
                assert!((again - reference).abs() < 1e-12, "{lactate} {acetate} {start}");
            }
        }
    }

    use proptest::prelude::*;

    fn any_flour() -> impl Strategy<Value = Flour> {
        let grain = (0..5usize).prop_map(|i| crate::flour::Grain::NAMES[i].1);
        (grain, 0.0..4.0f64, 0.0..30.0f64, 0.0..600.0f64).prop_map(
            |(grain, ash, moisture, fn_s)| Flour {
                grain,
                ash: Percent(ash),
                moisture: Percent(moisture),
                falling_number_s: fn_s,
                ..Flour::white("any")
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Any dough at any temperature: numbers stay numbers, carbon stays, nothing goes below zero.
        #[test]
        fn any_dough_stays_a_dough(
            flour in any_flour(),
            water in 10.0..200.0f64,
            salt in 0.0..12.0f64,
            yeast in prop_oneof![Just(0.0), 0.0..10.0f64],
            seed in prop_oneof![Just(0.0), 0.0..400.0f64],
            sugar in prop_oneof![Just(0.0), 0.0..30.0f64],
            temps in proptest::array::uniform3(-30.0..90.0f64),
            pressure in 50.0..110.0f64,
            dt in 0.02..1.5f64,
            first in proptest::bool::ANY,
        ) {
            let set = ParameterSet::named(if first { "first" } else { "mended" }).unwrap();
            let mix = Mix {
                flours: vec![(flour, Grams(100.0))],
                water: Grams(water),
                salt: Grams(salt),
                fresh_yeast: Grams(yeast),
                others: vec![Other {
                    mass: Grams(sugar),
                    water: Percent(10.0),
                    fermentable_sugar: Percent(80.0),
                    density: None,
                }],
                preferments: vec![(starter(set), Grams(seed))],
                temperature: Celsius(temps[0]),
                pressure: Kilopascal(pressure),
            };
            let mut d = Dough::mix(&mix, set).unwrap();
            let carbon = d.carbon();
            for t in temps {
                d.ferment(Hours(9.0), |_| Celsius(t), Hours(dt));
                d.degas(0.3, Celsius(t));
                let s = &d.state;
                prop_assert!(s.is_finite() && d.ph().0.is_finite());
                prop_assert!(d.rise(Celsius(t)).0.is_finite() && d.gas_loss_share(Celsius(t)) >= 0.0);
                let amounts = [
                    s.maltose, s.hexose, s.starch, s.growth_left, s.lactate, s.acetate, s.ethanol,
                    s.co2_made, s.co2, s.nitrogen, s.weakening,
                ];
                prop_assert!(amounts.iter().all(|x| *x >= -1e-3), "{s:?}");
                prop_assert!((d.carbon() / carbon - 1.0).abs() < 1e-3);
                let balance = s.co2 + s.co2_lost - s.co2_made;
                prop_assert!(balance.is_finite() && balance.abs() < 60.0);
            }
        }

        #[test]
        fn nonsense_does_not_panic(
            x in proptest::num::f64::ANY,
            y in proptest::num::f64::ANY,
            z in proptest::num::f64::ANY,
        ) {
            let set = ParameterSet::default_set();
            let mix = Mix {
                flours: vec![(white(), Grams(x))],
                water: Grams(y),
                pressure: Kilopascal(z),
                ..Mix::empty(Celsius(20.0))
            };
            let _ = Dough::mix(&mix, set);
            let mut d = dough(set);
            d.step(Hours(x.abs().min(10.0)), Celsius(y), Celsius(z), Celsius(x));
            d.degas(x, Celsius(y));
            let _ = (d.ph(), d.tta(Ph(z)), d.rise(Celsius(x)), d.co2_rate(Celsius(z)));
        }
    }
}
