//! How a kitchen differs from the one written down: one draw from the belief, by lane.

use crate::ferment::Sack;
use crate::numerics::lanes::Lanes;

/// What was drawn for each lane. Factors are 1 and differences 0 in the kitchen as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw<L = f64> {
    /// Factor on the speed of the yeast.
    pub yeast_vigour: L,
    /// Factor on the growth of the bacteria.
    pub lab_vigour: L,
    /// Factor on the cells of the starter at use.
    pub starter_ripeness: L,
    /// Lag of the starter beyond the usual, −ln of its readiness.
    pub starter_lag: L,
    /// Room warmer than written, K.
    pub room: L,
    /// Fridge warmer than written, K.
    pub fridge: L,
    /// Mixed dough warmer than intended, K.
    pub dough_at_mix: L,
    /// Factor on the starter weighed out.
    pub scale: L,
    /// Factor on the time a vessel takes to warm or cool.
    pub vessel: L,
    /// Factor on the amylases of the flour.
    pub flour_amylase: L,
    /// Factor on the buffer of the flour.
    pub flour_buffer: L,
    /// Factor on the gas its dough holds.
    pub flour_retention: L,
    /// Factor on the rise a baker takes for the one asked.
    pub judgement: L,
    /// Oven warmer than its knob says, beyond what is written, K.
    pub oven_knob: L,
    /// Factor on the heat transfer of the oven.
    pub oven_transfer: L,
    /// Factor on the conductivity of the crumb.
    pub crumb_conduction: L,
    /// Factor on the speed of browning.
    pub browning: L,
    /// Probe reads this much too warm, K.
    pub thermometer: L,
}

impl<L: Lanes> Draw<L> {
    /// The kitchen as written, in every lane.
    pub fn as_written() -> Self {
        let (one, zero) = (L::splat(1.0), L::splat(0.0));
        Self {
            yeast_vigour: one,
            lab_vigour: one,
            starter_ripeness: one,
            starter_lag: zero,
            room: zero,
            fridge: zero,
            dough_at_mix: zero,
            scale: one,
            vessel: one,
            flour_amylase: one,
            flour_buffer: one,
            flour_retention: one,
            judgement: one,
            oven_knob: zero,
            oven_transfer: one,
            crumb_conduction: one,
            browning: one,
            thermometer: zero,
        }
    }

    pub(super) fn sack(&self) -> Sack<L> {
        Sack {
            amylase: self.flour_amylase,
            buffer: self.flour_buffer,
            retention: self.flour_retention,
        }
    }
}
