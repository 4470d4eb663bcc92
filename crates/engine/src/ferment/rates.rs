//! The rates of change: who eats what, how fast, at which acidity and warmth.

use super::{CELL_HEXOSE, Dough, Organisms, RANGE_DEG_C, State};
use crate::gas;
use crate::parameters::{Bacterium, Constants, Yeast};
use quantity::Celsius;

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
    let power = match exponent {
        2.0 => x * x,
        3.0 => x * x * x,
        _ => libm::pow(x, exponent),
    };
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
pub(super) struct Kernel<'a> {
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
pub(super) struct Warmth {
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
pub(super) struct Rates {
    pub(super) change: State,
    pub(super) co2_made: f64,
    pub(super) co2_lost: f64,
    /// The fastest of leak, sugar turnover, lag and end of growth, 1/h: steps must be shorter.
    pub(super) fastest_per_h: f64,
}

impl<'a> Kernel<'a> {
    pub(super) fn new(of: &'a Dough) -> Self {
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

    pub(super) fn warmth(&self, temp: Celsius) -> Warmth {
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
    pub(super) fn rates(&self, s: &State, w: &Warmth, ph: &mut f64) -> Rates {
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

        let hexose_out = yeast_takes_hexose + lab_takes - lab_takes_maltose;
        let maltose_out = 0.5 * (lab_takes_maltose + excreted + yeast_takes - yeast_takes_hexose);

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
            maltose: attack - maltose_out,
            hexose: excreted - hexose_out,
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
        let fastest_per_h = leak_per_h
            .max(w.starch)
            .max(yeast_could * s.yeast_readiness * y * self.per_capacity)
            .max(yeast.readiness_speed * yeast_could)
            .max(lab.readiness_speed * lab_could)
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

impl Kernel<'_> {
    pub(super) fn runge_kutta(
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
        // a pool ends at nothing; what a step overshoots is taken from where it comes from
        if next.hexose < 0.0 {
            next.maltose += 0.5 * next.hexose;
            next.hexose = 0.0;
        }
        if next.maltose < 0.0 {
            next.starch += next.maltose;
            next.maltose = 0.0;
        }
        if next.co2 < 0.0 {
            next.co2_lost += next.co2;
            next.co2 = 0.0;
        }
        next.yeast_readiness = next.yeast_readiness.clamp(0.0, 1.0);
        next.lab_readiness = next.lab_readiness.clamp(0.0, 1.0);
        next.starch = next.starch.max(0.0);
        next.growth_left = next.growth_left.max(0.0);
        next.nitrogen = next.nitrogen.max(0.0);
        next
    }
}
