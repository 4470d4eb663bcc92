//! The rates of change: who eats what, how fast, at which acidity and warmth.

use super::{CELL_HEXOSE, Dough, Organisms, RANGE_DEG_C, State};
use crate::gas;
use crate::numerics::lanes::{Event, Lanes, Mask, exp, ln, pow};
use crate::parameters::{Bacterium, Constants, Yeast};
use quantity::Celsius;

/// Cardinal temperature curve with inflection: 1 at the optimum, 0 outside its ends.
///
/// `[a, o, x]`: minimum, optimum, maximum, °C. Rosso et al. 1993, J. Theor. Biol. 162:447.
#[inline(always)]
pub fn cardinal_temperature<L: Lanes>(t: L, [a, o, x]: [L; 3]) -> L {
    let inside = t.above(a) & t.below(x);
    let wide = o - a;
    let curve =
        (t - x) * (t - a) * (t - a) / (wide * (wide * (t - o) - (o - x) * (o + a - t * 2.0)));
    L::select(inside, curve, L::splat(0.0))
}

/// Cardinal pH curve: 1 at the optimum, 0 outside its ends.
///
/// `[a, o, x]`: minimum, optimum, maximum. Rosso et al. 1995, Appl. Environ. Microbiol. 61:610.
#[inline(always)]
pub fn cardinal_ph<L: Lanes>(p: L, [a, o, x]: [L; 3]) -> L {
    let inside = p.above(a) & p.below(x);
    let n = (p - a) * (p - x);
    L::select(inside, n / (n - (p - o) * (p - o)), L::splat(0.0))
}

/// 2 per 10 K from 25 °C.
#[inline(always)]
fn doubling<L: Lanes>(t: L) -> L {
    exp((t - 25.0) * (std::f64::consts::LN_2 / 10.0))
}

/// 1 − (N/Nmax)^n, not below 0.
#[inline(always)]
fn salt_factor<L: Lanes>(salt: L, max: L, exponent: L) -> L {
    let x = salt / max;
    let (square, cube) = (exponent.same(L::splat(2.0)), exponent.same(L::splat(3.0)));
    let mut power = L::select(square, x * x, x * x * x);
    if !(square | cube).all() {
        power = L::select(square | cube, power, pow(x, exponent));
    }
    (-power + 1.0).at_least(0.0)
}

/// The growth curve with its hot side bent by an exponent.
#[inline(always)]
fn growth_curve<L: Lanes>(t: L, cardinal: [L; 3], hot_exponent: L) -> L {
    let g = cardinal_temperature(t, cardinal);
    let bent = t.above(cardinal[1]) & g.above(L::splat(0.0)) & !hot_exponent.same(L::splat(1.0));
    if bent.any() { L::select(bent, pow(g, hot_exponent), g) } else { g }
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
pub(super) struct Kernel<'a, L> {
    pub(super) of: &'a Dough<L>,
    /// Yeast: speed by vigour, salt and stiffness.
    yeast: L,
    /// Bacteria growing: by vigour, salt and stiffness.
    lab_growth: L,
    /// Bacteria making acid without growth: by salt.
    lab_metabolism: L,
    /// mmol acetate per mmol lactate, at 30 °C and below.
    acetate: L,
    /// 1 / (yeast capacity of the flour in the dough).
    per_capacity: L,
    /// 1 / (bacteria the dough carries, g).
    per_lab_capacity: L,
    /// 1 / (acetate that stops the yeast, were all of it undissociated, mmol).
    per_acetic_stop: L,
    /// 1 / (width of the ramp at which acid stops the bacteria).
    per_ph_width: L,
    /// Gas the dough holds while young, L per L.
    gas_limit: L,
}

/// What the rates need of one temperature.
#[derive(Clone, Copy)]
pub(super) struct Warmth<L> {
    yeast_growth: L,
    yeast_metabolism: L,
    lab_growth: L,
    lab_metabolism: L,
    acetate: L,
    doubling: L,
    starch: L,
    /// Carbon dioxide dissolved under its own pressure of a room, mmol.
    solvent: L,
    /// Bubble gas per gas-free dough, L/mmol/L.
    gas: L,
}

/// Rates of change, and what callers ask of them.
pub(super) struct Rates<L> {
    pub(super) change: State<L>,
    pub(super) co2_made: L,
    pub(super) co2_lost: L,
    /// End of growth, lag, leak, 1/h; hexose and maltose eaten, mmol/h.
    growing: L,
    readies: L,
    leak_per_h: L,
    eaten: [L; 2],
}

impl<L: Lanes> Warmth<L> {
    #[inline(always)]
    pub(super) fn select(mask: L::Mask, yes: &Self, no: &Self) -> Self {
        Self {
            yeast_growth: L::select(mask, yes.yeast_growth, no.yeast_growth),
            yeast_metabolism: L::select(mask, yes.yeast_metabolism, no.yeast_metabolism),
            lab_growth: L::select(mask, yes.lab_growth, no.lab_growth),
            lab_metabolism: L::select(mask, yes.lab_metabolism, no.lab_metabolism),
            acetate: L::select(mask, yes.acetate, no.acetate),
            doubling: L::select(mask, yes.doubling, no.doubling),
            starch: L::select(mask, yes.starch, no.starch),
            solvent: L::select(mask, yes.solvent, no.solvent),
            gas: L::select(mask, yes.gas, no.gas),
        }
    }
}

impl<'a, L: Lanes> Kernel<'a, L> {
    #[inline(always)]
    pub(super) fn new(of: &'a Dough<L>) -> Self {
        let (c, o, k) = (&of.composition, &of.organisms, &of.constants);
        let drier = -c.hydration + k.stiff_from_hydration;
        let slow = (-(drier.at_least(0.0) * k.stiff_slowing) + 1.0).at_least(0.0);
        let (salt, lab_exponent) = (c.salt_in_water, o.lab.salt_exponent);
        let yeast = salt_factor(salt, o.yeast.salt_max_percent, o.yeast.salt_exponent);
        let lab_growth = salt_factor(salt, o.lab.salt_max_percent, lab_exponent);
        Self {
            of,
            yeast: o.yeast_vigour * yeast * slow,
            lab_growth: o.lab_vigour * lab_growth * slow,
            lab_metabolism: salt_factor(salt, o.lab.metabolism_salt_max_percent, lab_exponent),
            acetate: o.lab.acetate_per_lactate * (drier.within(-0.5, 0.6) * k.acetate_stiff + 1.0),
            per_capacity: L::splat(1.0) / (o.yeast.capacity_g_per_kg_flour * c.flour),
            per_lab_capacity: L::splat(1.0) / (o.lab.capacity_g_per_kg_flour * c.flour),
            per_acetic_stop: L::splat(1.0) / (c.total_water * o.yeast.acetic_stop_mmol_per_l),
            per_ph_width: L::splat(1.0) / o.lab.metabolism_ph_width,
            gas_limit: c.retention
                * exp((c.hydration - 0.7).at_least(0.0) * -k.gas_limit_wet)
                * k.gas_limit,
        }
    }

    #[inline(always)]
    pub(super) fn warmth(&self, t: L) -> Warmth<L> {
        let t = t.within(RANGE_DEG_C.0, RANGE_DEG_C.1);
        let (c, k) = (&self.of.composition, &self.of.constants);
        let Organisms { yeast, lab, .. } = &self.of.organisms;
        let hot = (t - k.acetate_hot_from_deg_c).at_least(0.0);
        let by_q10 = ln(k.starch_attack_q10) / 10.0;
        Warmth {
            yeast_growth: growth_curve(t, yeast.growth_temp_deg_c, yeast.growth_hot_exponent),
            yeast_metabolism: cardinal_temperature(t, yeast.metabolism_temp_deg_c),
            lab_growth: growth_curve(t, lab.growth_temp_deg_c, lab.growth_hot_exponent),
            lab_metabolism: cardinal_temperature(t, lab.metabolism_temp_deg_c),
            acetate: (-(hot * k.acetate_hot_per_k) + 1.0).at_least(0.3),
            doubling: doubling(t),
            starch: exp((t - 25.0) * by_q10) * k.starch_attack_per_h * c.amylase,
            solvent: gas::solubility_at(t) * c.total_water * c.pressure_atm,
            gas: gas::molar_volume_at(t, c.pressure_atm) / c.volume,
        }
    }

    /// The rates at a state and a temperature; `ph` is the start of the search and its result.
    #[inline(always)]
    pub(super) fn rates(&self, s: &State<L>, w: &Warmth<L>, ph: &mut L) -> Rates<L> {
        L::happens(Event::Rates);
        let zero = L::splat(0.0);
        let one = L::splat(1.0);
        let c = &self.of.composition;
        let k = &self.of.constants;
        let Organisms { yeast, lab, .. } = &self.of.organisms;
        let y = exp(s.ln_yeast);
        let l = exp(s.ln_lab);
        let maltose = s.maltose.at_least(0.0);
        let hexose = s.hexose.at_least(0.0);

        let acidity = c.acidity(s.lactate, s.acetate, *ph);
        *ph = acidity.ph;
        let p = acidity.ph;
        let acetic = s.acetate * acidity.acetic_undissociated;
        let spared = (one - acetic * self.per_acetic_stop).at_least(0.0);

        // what the cells find to eat
        let sugar = maltose * 2.0 + hexose;
        // quotients in pairs, a division for two
        let (for_lab, some) = (lab.half_sugar_mmol_per_kg + sugar, sugar + 1e-9);
        let both = one / (for_lab * some);
        let lab_fed = sugar * both * some;
        let from_maltose = maltose * 2.0 * both * for_lab;
        let half_hexose = yeast.half_hexose_mmol_per_kg;
        let for_hexose = half_hexose + hexose;
        let for_maltose = yeast.half_maltose_mmol_per_kg + maltose;
        let both = one / (for_hexose * for_maltose);
        let on_hexose = hexose * both * for_maltose;
        let eats = yeast.maltose * maltose * half_hexose * both;
        let on_maltose = L::select(yeast.maltose.above(zero), eats, zero);
        let both = on_hexose + on_maltose;
        let yeast_fed = both.at_most(1.0);

        // growth
        let yeast_works = self.yeast * spared * yeast_fed;
        let yeast_could = yeast.mu_opt_per_h * w.yeast_growth * yeast_works;
        let left = s.growth_left.at_least(0.0) * self.per_capacity;
        let yeast_mu = yeast_could * s.yeast_readiness * left;
        let lab_could = lab.mu_opt_per_h
            * self.lab_growth
            * w.lab_growth
            * cardinal_ph(p, lab.growth_ph)
            * lab_fed;
        let lab_mu = lab_could * s.lab_readiness * (one - l * self.per_lab_capacity).at_least(0.0);

        // sugar through the cells, mmol hexose/h
        let yeast_burns = y
            * (yeast.sugar_per_growth_mmol_per_g * yeast_mu
                + yeast.sugar_upkeep_mmol_per_g_h
                    * w.yeast_metabolism
                    * yeast_works
                    * s.yeast_readiness.larger(yeast.gate));
        let not_too_sour = ((p - lab.metabolism_ph_stop) * self.per_ph_width).within(0.0, 1.0);
        let lactate = l
            * (lab.lactate_per_growth_mmol_per_g * lab_mu
                + lab.lactate_upkeep_mmol_per_g_h
                    * w.lab_metabolism
                    * self.lab_metabolism
                    * not_too_sour
                    * lab_fed
                    * s.lab_readiness);
        let yeast_takes = yeast_burns + yeast_mu * y * CELL_HEXOSE;
        let yeast_takes_hexose = yeast_takes * on_hexose / (both + 1e-12);
        let lab_takes = lactate + lab_mu * l * CELL_HEXOSE;
        let lab_takes_maltose = lab_takes * from_maltose;
        let excreted = lab.glucose_excreted_per_maltose * lab_takes_maltose;
        // full above pH 4.5, a fifth at 3.5
        let attack = w.starch * s.starch.at_least(0.0) * ((p - 3.2) * (1.0 / 1.3)).within(0.2, 1.0);

        let hexose_out = yeast_takes_hexose + lab_takes - lab_takes_maltose;
        let maltose_out = (lab_takes_maltose + excreted + yeast_takes - yeast_takes_hexose) * 0.5;

        // acid, alcohol, gas
        let acetate_share = self.acetate * w.acetate;
        let co2_made = yeast_burns * 2.0 + lactate;
        let bubbles = gas::in_bubbles(s.co2, s.nitrogen, w.solvent);
        let fullness = (bubbles + s.nitrogen.at_least(1e-9)) * w.gas
            / (self.gas_limit * exp(-s.weakening)).at_least(1e-6);
        let square = fullness * fullness;
        let over = square * square;
        let leak_per_h = w.doubling * (over.at_most(k.leak_cap) + 1.0) * k.leak_per_h;
        let co2_lost = leak_per_h * bubbles;

        // readiness: gained by growing, lost when starved or soured
        let sour = k.sourness(p);
        let yeast_at_ease = yeast_fed * spared * (-(sour * 0.5) + 1.0);
        let lab_at_ease = lab_fed * ((p - 3.4) * (1.0 / 0.4)).within(0.0, 1.0);
        let yeast_readies = yeast.readiness_speed * yeast_could;
        let lab_readies = lab.readiness_speed * lab_could;
        let change = State {
            ln_yeast: yeast_mu,
            ln_lab: lab_mu,
            yeast_readiness: k.readies(s.yeast_readiness, yeast_readies, yeast_at_ease, w.doubling),
            lab_readiness: k.readies(s.lab_readiness, lab_readies, lab_at_ease, w.doubling),
            maltose: attack - maltose_out,
            hexose: excreted - hexose_out,
            starch: -attack,
            growth_left: -(yeast_mu * y),
            lactate,
            acetate: lactate * acetate_share,
            ethanol: yeast_burns * 2.0 + lactate * (one - acetate_share),
            co2_made,
            co2: co2_made - co2_lost,
            co2_lost,
            nitrogen: -(leak_per_h * s.nitrogen),
            weakening: w.doubling
                * (((-p + 4.5) * (1.0 / 0.6)).within(0.0, 1.0) * k.weakening_acid + 1.0)
                * k.weakening_per_h,
        };
        Rates {
            change,
            co2_made,
            co2_lost,
            growing: yeast_could * s.yeast_readiness * y * self.per_capacity,
            readies: yeast_readies.larger(lab_readies),
            leak_per_h,
            eaten: [hexose_out, maltose_out],
        }
    }
}

impl<L: Lanes> Rates<L> {
    /// The fastest of leak, sugar turnover, lag and end of growth, 1/h: steps must be shorter, or a
    /// pool could be emptied within one.
    #[inline(always)]
    pub(super) fn fastest_per_h(&self, s: &State<L>, w: &Warmth<L>) -> L {
        self.leak_per_h
            .larger(w.starch)
            .larger(self.growing)
            .larger(self.readies)
            .larger(self.eaten[0] / s.hexose.at_least(1e-6))
            .larger(self.eaten[1] / s.maltose.at_least(1e-6))
    }
}

impl Constants {
    /// Change of a readiness `a`, 1/h: gained with the speed of growth, lost when not at ease.
    #[inline(always)]
    fn readies<L: Lanes>(&self, a: L, speed: L, at_ease: L, doubling: L) -> L {
        let lost = doubling * (-at_ease + 1.0) * (a - self.readiness_floor);
        speed * a * (-a + 1.0) - lost * self.readiness_loss_per_h
    }

    /// 0 above the acid switch, 1 below; a ramp between.
    #[inline(always)]
    fn sourness<L: Lanes>(&self, ph: L) -> L {
        if self.acid_switch_width > 0.0 {
            let ramp = (ph - self.acid_switch_ph) * (1.0 / self.acid_switch_width);
            (-ramp + 0.5).within(0.0, 1.0)
        } else {
            let switch = L::splat(self.acid_switch_ph);
            L::select(ph.above(switch), L::splat(0.0), L::splat(1.0))
        }
    }
}

impl<L: Lanes> Kernel<'_, L> {
    #[inline(always)]
    pub(super) fn runge_kutta(
        &self,
        s: &State<L>,
        first: &Rates<L>,
        h: L,
        [mid, end]: [&Warmth<L>; 2],
        ph: &mut L,
    ) -> State<L> {
        L::happens(Event::RungeKutta);
        let (zero, half) = (L::splat(0.0), h * 0.5);
        let a = &first.change;
        let b = self.rates(&s.plus(half, a), mid, ph).change;
        let c = self.rates(&s.plus(half, &b), mid, ph).change;
        let d = self.rates(&s.plus(h, &c), end, ph).change;
        let mut next = s.runge_kutta(h, [a, &b, &c, &d]);
        // a pool ends at nothing; what a step overshoots is taken from where it comes from
        next.maltose += next.hexose.smaller(zero) * 0.5;
        next.hexose = next.hexose.at_least(0.0);
        next.starch += next.maltose.smaller(zero);
        next.maltose = next.maltose.at_least(0.0);
        next.co2_lost += next.co2.smaller(zero);
        next.co2 = next.co2.at_least(0.0);
        next.yeast_readiness = next.yeast_readiness.within(0.0, 1.0);
        next.lab_readiness = next.lab_readiness.within(0.0, 1.0);
        next.starch = next.starch.at_least(0.0);
        next.growth_left = next.growth_left.at_least(0.0);
        next.nitrogen = next.nitrogen.at_least(0.0);
        next
    }
}
