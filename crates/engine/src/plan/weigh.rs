//! What makes one schedule worse than another: a burden, and how heavily each aim weighs it.

use crate::named::named;
use serde::Serialize;

/// pH from which a loaded dough counts as mild; breads of rye and long cold proofs come near it.
/// *Common practice, no source.*
pub(super) const SOUREST: f64 = 3.6;

macro_rules! burdens {
    ($($(#[$doc:meta])* $field:ident = $usual:literal),* $(,)?) => {
        /// What a schedule asks of dough and baker, each in a unit of its own.
        #[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
        pub struct Burden { $($(#[$doc])* pub $field: f64),* }

        /// What one unit of each burden costs. Ours; explained in the docs of planning.
        #[derive(Debug, Clone, Copy, PartialEq, Serialize)]
        pub struct Weights { $($(#[$doc])* pub $field: f64),* }

        impl Weights {
            /// Names that may be set, in order.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($field)),*];

            /// The usual weight of each burden.
            pub const USUAL: Self = Self { $($field: $usual),* };

            /// A weight by its name; none for an unknown name.
            pub fn named(&mut self, name: &str) -> Option<&mut f64> {
                match name {
                    $(stringify!($field) => Some(&mut self.$field),)*
                    _ => None,
                }
            }

            /// What a burden costs.
            pub fn cost(&self, b: &Burden) -> f64 {
                0.0 $(+ self.$field * b.$field)*
            }
        }

        impl std::ops::AddAssign for Burden {
            fn add_assign(&mut self, more: Self) {
                $(self.$field += more.$field;)*
            }
        }
    };
}

burdens! {
    /// Results away from their targets, squared: 1 at the edge of the window; mean over kitchens.
    off_target = 1.0,
    /// Windows missed, by the share of kitchens that miss each.
    missed = 3.0,
    /// Ends of steps at which the dough is past its best, by the share of kitchens.
    past_best = 1.5,
    /// Free durations away from their usual, squared: 1 at the edge of the range.
    off_usual = 0.3,
    /// Hours the bread is ready before it is asked for, squared.
    early = 0.05,
    /// Times the baker is called to the bench, anything within three quarters of an hour together.
    calls = 0.15,
    /// Hours bound to the bench between moments of work that belong together.
    bound = 0.05,
    /// Moments of work before seven in the morning or after ten at night.
    uncivil = 0.3,
    /// Moments of work while the baker is at home but busy.
    busy = 0.3,
    /// Mildness: how far the loaded dough's pH lies above 3.6; mean over kitchens.
    mild = 0.0,
    /// Softened constraints only: breaches.
    breaches = 10.0,
    /// Softened constraints only: minutes, or half widths of windows, of breach.
    breach_size = 0.1,
}

impl Default for Weights {
    fn default() -> Self {
        Self::USUAL
    }
}

named! {
    /// What a plan is best at.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum Aim {
        /// Inside every window in most kitchens.
        Safest = "safest",
        /// Fewest calls to the bench, at civil hours, least time bound.
        LeastAttention = "least attention",
        /// Most acid.
        BestFlavour = "best flavour",
    }
}

/// How many aims.
pub const AIMS: usize = 3;

impl Aim {
    /// All of them, in the order plans are given.
    pub const EACH: [Self; AIMS] = [Self::Safest, Self::LeastAttention, Self::BestFlavour];

    /// The weights of this aim, made of the common ones.
    pub fn weights(self, common: &Weights) -> Weights {
        let w = *common;
        match self {
            Self::Safest => Weights { missed: 3.0 * w.missed, past_best: 2.0 * w.past_best, ..w },
            Self::LeastAttention => Weights {
                calls: 5.0 * w.calls,
                bound: 5.0 * w.bound,
                uncivil: 3.0 * w.uncivil,
                busy: 3.0 * w.busy,
                ..w
            },
            Self::BestFlavour => Weights { mild: w.mild + 12.0, off_usual: w.off_usual / 3.0, ..w },
        }
    }

    /// Whether one burden is noticeably lighter than another in what this aim is about.
    pub(super) fn gains(self, one: &Burden, other: &Burden) -> bool {
        let (weigh, least): (fn(&Burden) -> f64, f64) = match self {
            Self::Safest => (|b| b.missed + b.past_best, 0.05),
            Self::LeastAttention => (|b| b.calls + b.uncivil + 0.2 * b.bound, 0.5),
            Self::BestFlavour => (|b| b.mild, 0.03),
        };
        weigh(one) <= weigh(other) - least
    }
}

/// A number for each aim.
pub(super) type ByAim = [f64; AIMS];

/// The weights of every aim.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scales([Weights; AIMS]);

impl Scales {
    pub(super) fn new(common: &Weights) -> Self {
        Self(Aim::EACH.map(|a| a.weights(common)))
    }
    pub(super) fn costs(&self, b: &Burden) -> ByAim {
        self.0.map(|w| w.cost(b))
    }
}
