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

pub use bowl::{Mix, MixError, Other};
pub use rates::{cardinal_ph, cardinal_temperature};

use crate::gas;
use crate::parameters::{Bacterium, Constants, ParameterSet, Yeast};
use quantity::{Celsius, Hours, Percent};
use rates::{Kernel, Rates};
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
        dough.last_ph = dough.ph().0;
        dough
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

#[cfg(test)]
mod tests;
