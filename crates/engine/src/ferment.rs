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

mod acid;
mod bowl;
mod rates;
mod slopes;

pub(crate) use bowl::Sack;
pub use bowl::{Mix, MixError, Other};
pub use rates::{cardinal_ph, cardinal_temperature};
pub use slopes::Slopes;

use crate::gas;
use crate::numerics::lanes::{Lanes, Mask, exp};
use crate::parameters::{Bacterium, Constants, ParameterSet, Yeast};
use quantity::{Celsius, Hours, Percent};
use rates::{Kernel, Rates, Warmth};
use serde::Serialize;
use std::ops::ControlFlow;

/// Carbon in dry cells, mmol/g: 38.46 mmol, of the usual cell formula. From memory.
const CELL_CARBON: f64 = 38.46;
/// Hexose built into new dry cells, mmol/g.
const CELL_HEXOSE: f64 = CELL_CARBON / 6.0;
/// Cells in a dough without any, g/kg: keeps the logarithm finite and never grows to be seen.
const NO_CELLS: f64 = 1e-30;
/// Temperatures the kernel is asked for outside this range are taken at its ends, °C.
const RANGE_DEG_C: (f64, f64) = (-10.0, 60.0);

/// What the dough is made of, per kg: constant between mixes.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Composition<L = f64> {
    /// Flour as it comes, kg.
    pub flour: L,
    /// Added water, kg, with the water of liquids and yeast.
    pub water: L,
    /// Salt, kg.
    pub salt: L,
    /// Dry matter of everything else, kg.
    pub other: L,
    /// Added water and the moisture of the flour, kg.
    pub total_water: L,
    /// Added water per flour, starters counted: 0.7 is 70 %.
    pub hydration: L,
    /// Salt in the aqueous phase, %.
    pub salt_in_water: L,
    /// Volume without gas, L.
    pub volume: L,
    /// Buffer capacity, mmol per pH.
    pub buffer: L,
    /// pH of the flour without acids.
    pub ph0: L,
    /// Amylase activity relative to the white row.
    pub amylase: L,
    /// Gas holding relative to the white row.
    pub retention: L,
    /// Pressure of the room, atm.
    pub pressure_atm: L,
}

/// Rows of numbers that differ from lane to lane: spread out, picked, taken apart.
macro_rules! per_lane {
    ($t:ident: $($f:ident),*; $($v:ident),*) => {
        impl<L: Lanes> $t<L> {
            /// The same in every lane.
            pub fn splat(of: &$t) -> Self {
                Self { $($f: L::splat(of.$f),)* $($v: of.$v.map(L::splat),)* }
            }
            /// One lane's.
            pub fn lane(&self, i: usize) -> $t {
                $t { $($f: self.$f.lane(i),)* $($v: self.$v.map(|x| x.lane(i)),)* }
            }
            /// `yes` in the lanes of the mask, `no` in the others.
            #[inline(always)]
            #[must_use]
            pub fn select(mask: L::Mask, yes: &Self, no: &Self) -> Self {
                Self {
                    $($f: L::select(mask, yes.$f, no.$f),)*
                    $($v: std::array::from_fn(|i| L::select(mask, yes.$v[i], no.$v[i])),)*
                }
            }
        }
    };
}
per_lane!(Composition: flour, water, salt, other, total_water, hydration, salt_in_water, volume,
    buffer, ph0, amylase, retention, pressure_atm;);
per_lane!(Yeast: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    acetic_stop_mmol_per_l, sugar_per_growth_mmol_per_g, sugar_upkeep_mmol_per_g_h, maltose, gate,
    half_hexose_mmol_per_kg, half_maltose_mmol_per_kg, capacity_g_per_kg_flour, fresh_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c);
per_lane!(Bacterium: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    metabolism_salt_max_percent, metabolism_ph_stop, metabolism_ph_width,
    lactate_per_growth_mmol_per_g, lactate_upkeep_mmol_per_g_h, acetate_per_lactate,
    glucose_excreted_per_maltose, half_sugar_mmol_per_kg, capacity_g_per_kg_flour, ripe_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c, growth_ph);

macro_rules! state {
    ($($(#[$doc:meta])* $field:ident),* $(,)?) => {
        /// Where the dough stands, per kg.
        #[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
        pub struct State<L = f64> { $($(#[$doc])* pub $field: L),* }

        impl<L: Lanes> State<L> {
            /// Number of state variables.
            pub const LEN: usize = [$(stringify!($field)),*].len();
            /// Field by field, in the order they are written down.
            pub fn array(&self) -> [L; { State::<f64>::LEN }] {
                [$(self.$field),*]
            }
            /// As [`array`](Self::array), the other way.
            pub fn from_array([$($field),*]: [L; { State::<f64>::LEN }]) -> Self {
                Self { $($field),* }
            }
            /// `self + h · k`, field by field.
            #[inline(always)]
            fn plus(&self, h: L, k: &Self) -> Self {
                Self { $($field: self.$field + h * k.$field),* }
            }
            /// The Runge-Kutta sum, field by field.
            #[inline(always)]
            fn runge_kutta(&self, h: L, [a, b, c, d]: [&Self; 4]) -> Self {
                let sixth = h * (1.0 / 6.0);
                Self { $($field: self.$field
                    + sixth * (a.$field + (b.$field + c.$field) * 2.0 + d.$field)),* }
            }
            /// Whether no field is NaN or infinite.
            pub fn is_finite(&self) -> bool {
                true $(&& self.$field.all_finite())*
            }
        }
        per_lane!(State: $($field),*;);
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Organisms<L = f64> {
    /// The yeast, or the mean of several by cell mass.
    pub yeast: Yeast<L>,
    /// The bacteria, or the mean of several by cell mass.
    pub lab: Bacterium<L>,
    /// How much faster this yeast is than its row; 1 is the row.
    pub yeast_vigour: L,
    /// How much faster these bacteria grow than their row; 1 is the row.
    pub lab_vigour: L,
    /// Whether two different yeasts were pooled: their mean is an approximation worth a note.
    pub mixed_yeasts: bool,
}

/// A dough or a starter, or several of them side by side: what it is made of, who lives in it,
/// where it stands.
///
/// Small, on the stack, cheap to clone: to find when a cue is reached, step a clone.
#[derive(Debug, Clone, PartialEq)]
pub struct Dough<L = f64> {
    /// What it is made of.
    pub composition: Composition<L>,
    /// Where it stands.
    pub state: State<L>,
    /// Who lives in it.
    pub organisms: Organisms<L>,
    constants: Constants,
    /// Volume that [`Dough::rise`] is relative to, L/kg.
    reference_volume: L,
    /// pH of the last step, where the next search for it starts.
    last_ph: L,
}

impl Dough {
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
        dough.last_ph = dough.acidity_now();
        dough
    }

    /// Volume at a temperature, L/kg.
    pub fn volume_l_per_kg(&self, temp: Celsius) -> f64 {
        self.volume_at(temp.0)
    }

    /// Rise over the reference volume: that of the fresh dough, or of the last [`mark`](Self::mark).
    pub fn rise(&self, temp: Celsius) -> Percent {
        Percent(self.rise_at(temp.0))
    }

    /// Makes the volume at this moment the reference of [`rise`](Self::rise).
    pub fn mark(&mut self, temp: Celsius) {
        self.mark_at(temp.0);
    }

    /// Presses out a share of the bubbles; what is dissolved stays.
    ///
    /// Habits of the trade: fold 5 %, divide 15 %, preshape 25 %, shape 35 %, punch down 70 %.
    pub fn degas(&mut self, fraction: f64, temp: Celsius) {
        self.degas_at(fraction, temp.0);
    }

    /// Carbon dioxide being made, mmol/(kg h).
    pub fn co2_rate(&self, temp: Celsius) -> f64 {
        self.co2_rate_at(temp.0)
    }

    /// Gas lost per gas made at this moment; above 0.5 the dough no longer keeps what it makes.
    ///
    /// 0 when nothing is made.
    pub fn gas_loss_share(&self, temp: Celsius) -> f64 {
        self.gas_loss_share_at(temp.0)
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
        self.carbon_now()
    }

    /// One step of time, by Runge-Kutta of order 4.
    ///
    /// Takes the temperature at start, middle and end. Where the leak of an overfull dough or
    /// the last of a sugar outruns the step, it is stepped finer inside. Steps of 0.25 h err by
    /// some 1e-6 over a bulk and a night's retard, 0.5 h by 2e-5. A step that is not positive, or a temperature that is no number, does nothing.
    pub fn step(&mut self, dt: Hours, t_start: Celsius, t_mid: Celsius, t_end: Celsius) {
        let usable = t_start.0.is_finite() && t_mid.0.is_finite() && t_end.0.is_finite();
        if usable && dt.0.is_finite() {
            self.advance(dt.0, [t_start.0, t_mid.0, t_end.0]);
        }
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

impl<L: Lanes> Dough<L> {
    /// The same dough in every lane.
    pub fn splat(of: &Dough) -> Self {
        Self {
            composition: Composition::splat(&of.composition),
            state: State::splat(&of.state),
            organisms: Organisms {
                yeast: Yeast::splat(&of.organisms.yeast),
                lab: Bacterium::splat(&of.organisms.lab),
                yeast_vigour: L::splat(of.organisms.yeast_vigour),
                lab_vigour: L::splat(of.organisms.lab_vigour),
                mixed_yeasts: of.organisms.mixed_yeasts,
            },
            constants: of.constants,
            reference_volume: L::splat(of.reference_volume),
            last_ph: L::splat(of.last_ph),
        }
    }

    /// One lane's dough.
    pub fn lane(&self, i: usize) -> Dough {
        Dough {
            composition: self.composition.lane(i),
            state: self.state.lane(i),
            organisms: Organisms {
                yeast: self.organisms.yeast.lane(i),
                lab: self.organisms.lab.lane(i),
                yeast_vigour: self.organisms.yeast_vigour.lane(i),
                lab_vigour: self.organisms.lab_vigour.lane(i),
                mixed_yeasts: self.organisms.mixed_yeasts,
            },
            constants: self.constants,
            reference_volume: self.reference_volume.lane(i),
            last_ph: self.last_ph.lane(i),
        }
    }

    /// Goes back to where `before` stood in the lanes of the mask; both are of one mix.
    #[inline(always)]
    pub(crate) fn keep(&mut self, mask: L::Mask, before: &Self) {
        self.state = State::select(mask, &before.state, &self.state);
        self.reference_volume = L::select(mask, before.reference_volume, self.reference_volume);
        self.last_ph = L::select(mask, before.last_ph, self.last_ph);
    }

    /// As [`volume_l_per_kg`](Dough::volume_l_per_kg), °C.
    #[inline(always)]
    pub(crate) fn volume_at(&self, t: L) -> L {
        let c = &self.composition;
        let t = t.within(RANGE_DEG_C.0, RANGE_DEG_C.1);
        let gas = self.bubbles(t) + self.state.nitrogen.at_least(1e-9);
        c.volume + gas * gas::molar_volume_at(t, c.pressure_atm)
    }

    /// As [`rise`](Dough::rise), °C and %.
    #[inline(always)]
    pub(crate) fn rise_at(&self, t: L) -> L {
        (self.volume_at(t) / self.reference_volume - 1.0) * 100.0
    }

    /// As [`mark`](Dough::mark), °C.
    #[inline(always)]
    pub(crate) fn mark_at(&mut self, t: L) {
        self.reference_volume = self.volume_at(t);
    }

    /// As [`degas`](Dough::degas), °C.
    #[inline(always)]
    pub(crate) fn degas_at(&mut self, fraction: f64, t: L) {
        if !fraction.is_finite() {
            return;
        }
        let fraction = fraction.clamp(0.0, 1.0);
        let lost = self.bubbles(t) * fraction;
        self.state.co2 -= lost;
        self.state.co2_lost += lost;
        self.state.nitrogen *= L::splat(1.0 - fraction);
    }

    /// As [`co2_rate`](Dough::co2_rate), °C.
    #[inline(always)]
    pub(crate) fn co2_rate_at(&self, t: L) -> L {
        self.rates_at(t).co2_made
    }

    /// As [`gas_loss_share`](Dough::gas_loss_share), °C.
    #[inline(always)]
    pub(crate) fn gas_loss_share_at(&self, t: L) -> L {
        let r = self.rates_at(t);
        let makes = r.co2_made.above(L::splat(0.0));
        L::select(makes, r.co2_lost / r.co2_made, L::splat(0.0))
    }

    /// As [`carbon`](Dough::carbon).
    pub(crate) fn carbon_now(&self) -> L {
        let s = &self.state;
        (s.maltose + s.starch) * 12.0
            + s.hexose * 6.0
            + s.lactate * 3.0
            + (s.acetate + s.ethanol) * 2.0
            + s.co2_made
            + (exp(s.ln_yeast) + exp(s.ln_lab)) * CELL_CARBON
    }

    /// Carbon dioxide in bubbles, mmol/kg.
    #[inline(always)]
    fn bubbles(&self, t: L) -> L {
        let c = &self.composition;
        let solvent = gas::solubility_at(t) * c.total_water * c.pressure_atm;
        gas::in_bubbles(self.state.co2, self.state.nitrogen, solvent)
    }

    #[inline(always)]
    fn rates_at(&self, t: L) -> Rates<L> {
        let kernel = Kernel::new(self);
        kernel.rates(&self.state, &kernel.warmth(t), &mut self.last_ph.clone())
    }

    /// As [`step`](Dough::step), h and °C; lanes whose step is not positive stand still.
    #[inline(always)]
    pub(crate) fn advance(&mut self, hours: L, temps: [L; 3]) {
        let (state, ph) = self.underway(temps[0]).after(hours, temps);
        self.state = state;
        self.last_ph = ph;
    }

    /// The dough about to take a step, at its first temperature, °C.
    #[inline(always)]
    pub(crate) fn underway(&self, t: L) -> Underway<'_, L> {
        let kernel = Kernel::new(self);
        let warmth = kernel.warmth(t);
        let mut ph = self.last_ph;
        let first = kernel.rates(&self.state, &warmth, &mut ph);
        Underway { kernel, warmth, first, ph }
    }

    /// Takes over where [`Underway::after`] came to.
    #[inline(always)]
    pub(crate) fn arrive(&mut self, (state, ph): (State<L>, L)) {
        self.state = state;
        self.last_ph = ph;
    }
}

/// A dough about to take a step: what it is doing now is known.
pub(crate) struct Underway<'d, L> {
    kernel: Kernel<'d, L>,
    warmth: Warmth<L>,
    first: Rates<L>,
    ph: L,
}

impl<L: Lanes> Underway<'_, L> {
    /// Carbon dioxide being made, mmol/(kg h).
    #[inline(always)]
    pub(crate) fn co2_rate(&self) -> L {
        self.first.co2_made
    }

    /// State and pH after some hours along three temperatures; lanes whose hours are not positive
    /// stand still.
    #[inline(always)]
    pub(crate) fn after(self, hours: L, temps: [L; 3]) -> (State<L>, L) {
        let Self { kernel, warmth: mut start, mut first, ph: mut sour } = self;
        let mut state = kernel.of.state;
        let mut ph = kernel.of.last_ph;
        let mut going = hours.above(L::splat(0.0));
        let [t_start, t_mid, t_end] = temps;
        let isothermal = (t_start.same(t_mid) & t_start.same(t_end)).all();
        let mut done = L::splat(0.0);
        while going.any() {
            // stable below 2.8; 1 keeps the error small and the pools from running dry
            let left = -done + 1.0;
            let parts = left * hours * first.fastest_per_h(&state, &start);
            let parts = parts.at_most(1e6).ceiling().at_least(1.0);
            let h = (left / parts).at_least(1e-3).smaller(left);
            let upto = L::select(h.same(left), L::splat(1.0), done + h);
            let (mid, end) = if isothermal {
                (start, start)
            } else {
                let (mid, end) = (along(&temps, done + h * 0.5), along(&temps, upto));
                (kernel.warmth(mid), kernel.warmth(end))
            };
            let next = kernel.runge_kutta(&state, &first, hours * h, [&mid, &end], &mut sour);
            if going.all() {
                (state, ph, start, done) = (next, sour, end, upto);
            } else {
                state = State::select(going, &next, &state);
                ph = L::select(going, sour, ph);
                start = Warmth::select(going, &end, &start);
                done = L::select(going, upto, done);
            }
            going = going & done.below(L::splat(1.0));
            if going.any() {
                sour = ph;
                first = kernel.rates(&state, &start, &mut sour);
            }
        }
        (state, ph)
    }
}

/// The parabola through the temperatures at start, middle and end, at a part of the step; its
/// ends and middle are exact, and what is constant stays so.
#[inline(always)]
fn along<L: Lanes>([start, mid, end]: &[L; 3], x: L) -> L {
    let (s, d) = (-x + 1.0, -(x * 2.0) + 1.0);
    let t = *start * s * d + *mid * x * s * 4.0 - *end * x * d;
    L::select(start.same(*mid) & start.same(*end), *start, t)
}

#[cfg(test)]
mod tests;
