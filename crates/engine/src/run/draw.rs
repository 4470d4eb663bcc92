//! How a kitchen differs from the one written down: one draw from the belief, by lane.

use super::MAX_STEP_MIN;
use crate::ferment::Sack;
use crate::numerics::lanes::Lanes;

macro_rules! draws {
    ($($(#[$doc:meta])* $field:ident = $usual:literal),* $(,)?) => {
        /// What was drawn for each lane. Factors are 1 and differences 0 in the kitchen as written.
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct Draw<L = f64> {
            $($(#[$doc])* pub $field: L,)*
            /// Longest step of time of its doughs, min.
            pub longest_min: f64,
        }

        impl<L: Lanes> Draw<L> {
            /// The kitchen as written, in every lane.
            pub fn as_written() -> Self {
                Self { $($field: L::splat($usual),)* longest_min: MAX_STEP_MIN }
            }

            /// One lane's.
            pub(crate) fn lane(&self, i: usize) -> Draw {
                Draw { $($field: self.$field.lane(i),)* longest_min: self.longest_min }
            }

            /// One draw a lane.
            pub fn gather(of: impl Fn(usize) -> Draw) -> Self {
                let mut all = Self::as_written();
                let draws: Vec<Draw> = (0..L::N).map(of).collect();
                all.longest_min = draws[0].longest_min;
                $(all.$field = L::from_fn(|i| draws[i].$field);)*
                all
            }
        }

        impl Draw {
            /// Moved as the means of some draws move from one weighting to another.
            #[must_use]
            pub(crate) fn moved(&self, draws: &[Draw], from: &[f64], to: &[f64]) -> Self {
                let mut out = *self;
                for (i, d) in draws.iter().enumerate() {
                    let by = to[i] - from[i];
                    $(out.$field += by * d.$field;)*
                }
                out
            }
        }
    };
}

draws! {
    /// Factor on the speed of the yeast.
    yeast_vigour = 1.0,
    /// Factor on the growth of the bacteria.
    lab_vigour = 1.0,
    /// Factor on the cells of the starter at use.
    starter_ripeness = 1.0,
    /// Lag of the starter beyond the usual, −ln of its readiness.
    starter_lag = 0.0,
    /// Room warmer than written, K.
    room = 0.0,
    /// Fridge warmer than written, K.
    fridge = 0.0,
    /// Mixed dough warmer than intended, K.
    dough_at_mix = 0.0,
    /// Factor on the starter weighed out.
    scale = 1.0,
    /// Factor on the levain that goes into the dough, meant: another recipe, not an error.
    inoculation = 1.0,
    /// Factor on the time a vessel takes to warm or cool.
    vessel = 1.0,
    /// Factor on the amylases of the flour.
    flour_amylase = 1.0,
    /// Factor on the buffer of the flour.
    flour_buffer = 1.0,
    /// Factor on the gas its dough holds.
    flour_retention = 1.0,
    /// Water on flour beyond the recipe, points: damp or dry flour, and weighing.
    water = 0.0,
    /// Factor on the rise a baker takes for the one asked.
    judgement = 1.0,
    /// Oven warmer than its knob says, beyond what is written, K.
    oven_knob = 0.0,
    /// Factor on the heat transfer of the oven.
    oven_transfer = 1.0,
    /// Factor on the conductivity of the crumb.
    crumb_conduction = 1.0,
    /// Factor on the speed of browning.
    browning = 1.0,
    /// Probe reads this much too warm, K.
    thermometer = 0.0,
}

impl<L: Lanes> Draw<L> {
    pub(super) fn sack(&self) -> Sack<L> {
        Sack {
            amylase: self.flour_amylase,
            buffer: self.flour_buffer,
            retention: self.flour_retention,
            water: self.water * 0.01,
        }
    }
}
