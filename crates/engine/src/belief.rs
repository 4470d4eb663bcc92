//! What is believed of a kitchen before the next bake: uncertain quantities, each with its
//! distribution, its source and a mark of whose number it is.
//!
//! A [`Belief`] is a list of [`Quantity`]s, read from a file. [`Draws`] turn it into lanes: lane
//! i is one possible kitchen, and the value of a quantity in it is a pure function of seed,
//! quantity and lane. Lanes carry weights, and a bake that was logged shifts them. Priors are
//! independent of each other; what belongs together shows in the weights.
//!
//! A quantity that a belief leaves out is certain.

mod draws;
mod read;

pub use draws::{BadEvidence, Draws, Points};

use crate::file::{Problem, nearest};
use crate::named::named;
use crate::numerics::normal;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::OnceLock;

named! {
    /// What may be uncertain. A factor multiplies what the model or the kitchen says; an offset
    /// is added to it.
    ///
    /// The order is part of every forecast (it is the dimension of a quantity's draws): new ones
    /// go to the end.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Uncertain {
        /// Factor on the speed of the levain's yeast.
        YeastVigour = "yeast_vigour",
        /// Factor on the speed of its bacteria.
        LabVigour = "lab_vigour",
        /// Factor on the living cells of the starter when it is used.
        StarterRipeness = "starter_ripeness",
        /// Extra lag x of the starter: its readiness is multiplied by exp(−x).
        StarterLag = "starter_lag",
        /// Room air: its temperature, or the offset to the written day.
        Room = "room",
        /// Mean air of the fridge: its temperature, or the offset to the written one.
        Fridge = "fridge",
        /// Offset of the place in the fridge to the mean of its air.
        FridgeSpot = "fridge_spot",
        /// Offset of the mixed dough to the temperature wanted.
        DoughAtMix = "dough_at_mix",
        /// Shown minus true of the thermometer.
        Thermometer = "thermometer",
        /// Factor on the grams of starter that go in.
        Scale = "scale",
        /// Factor on the dough's time constant of warming and cooling.
        Vessel = "vessel",
        /// True minus shown of the empty oven, beyond the error that is known.
        OvenKnob = "oven_knob",
        /// Factor on the oven's total heat transfer.
        OvenTransfer = "oven_transfer",
        /// Factor on the conductivity of the crumb.
        CrumbConduction = "crumb_conduction",
        /// Factor on the speed of browning.
        Browning = "browning",
        /// Factor on the flour's amylase activity.
        FlourAmylase = "flour_amylase",
        /// Factor on the flour's buffer.
        FlourBuffer = "flour_buffer",
        /// Factor on the gas the flour holds.
        FlourRetention = "flour_retention",
        /// Offset of water on flour, in points.
        HydrationError = "hydration_error",
        /// Factor on the rise, in points, at which a baker calls a cue met.
        Judgement = "judgement",
    }
}

named! {
    /// What a value is measured in, and how it is applied.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Unit {
        /// Multiplied; 1 changes nothing.
        Factor = "factor",
        /// A temperature, °C; takes the place of the kitchen's.
        Celsius = "°C",
        /// A difference of temperatures, added; 0 changes nothing.
        Kelvin = "K",
        /// Percentage points, added; 0 changes nothing.
        Points = "points",
        /// A natural logarithm, from 0 up; 0 changes nothing.
        Log = "log",
    }
}

named! {
    /// Whose number a spread is.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Mark {
        /// Printed in the source.
        Published = "published",
        /// Worked out here from what the source prints.
        Derived = "derived",
        /// Learned from logged bakes.
        Learned = "learned",
        /// A habit of the trade without one source.
        CommonPractice = "common practice, no source",
        /// A published number not read again.
        FromMemory = "from memory",
        /// Our judgement.
        Ours = "ours",
    }
}

named! {
    /// When strangers bake: how warm their rooms are.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Season {
        /// Rooms are heated.
        Cold = "cold",
        /// Rooms are warm by themselves.
        Warm = "warm",
        /// Half of each.
        Any = "any",
    }
}

impl Unit {
    /// The value that changes nothing; `None` for a temperature.
    pub fn neutral(self) -> Option<f64> {
        match self {
            Self::Factor => Some(1.0),
            Self::Celsius => None,
            Self::Kelvin | Self::Points | Self::Log => Some(0.0),
        }
    }

    /// Where the outermost draws of a distribution must lie.
    fn range(self) -> (f64, f64) {
        match self {
            Self::Factor => (1e-3, 1e3),
            Self::Celsius => (-40.0, 80.0),
            Self::Kelvin => (-250.0, 250.0),
            Self::Points => (-100.0, 100.0),
            Self::Log => (0.0, 20.0),
        }
    }
}

impl Uncertain {
    /// The quantity of this name.
    ///
    /// # Errors
    /// [`UnknownQuantity`], with the nearest known name.
    pub fn of_name(name: &str) -> Result<Self, UnknownQuantity> {
        Self::NAMES.iter().find(|(n, _)| *n == name).map(|(_, q)| *q).ok_or_else(|| {
            UnknownQuantity {
                name: name.chars().take(40).collect(),
                near: nearest(name, Self::NAMES.iter().map(|(n, _)| *n)),
            }
        })
    }

    /// The dimension of its Sobol' points and the number of its random stream.
    pub fn dimension(self) -> usize {
        self as usize
    }

    /// The units it may be given in.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Self::Room | Self::Fridge => &[Unit::Celsius, Unit::Kelvin],
            Self::FridgeSpot | Self::DoughAtMix | Self::Thermometer | Self::OvenKnob => {
                &[Unit::Kelvin]
            }
            Self::HydrationError => &[Unit::Points],
            Self::StarterLag => &[Unit::Log],
            Self::YeastVigour
            | Self::LabVigour
            | Self::StarterRipeness
            | Self::Scale
            | Self::Vessel
            | Self::OvenTransfer
            | Self::CrumbConduction
            | Self::Browning
            | Self::FlourAmylase
            | Self::FlourBuffer
            | Self::FlourRetention
            | Self::Judgement => &[Unit::Factor],
        }
    }
}

/// A name that is no uncertain quantity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownQuantity {
    /// The name as given, shortened to 40 characters.
    pub name: String,
    /// The nearest known name, if near enough to be a slip.
    pub near: Option<&'static str>,
}

impl fmt::Display for UnknownQuantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" is no uncertain quantity", self.name)?;
        if let Some(near) = self.near {
            return write!(f, "; did you mean \"{near}\"?");
        }
        let known: Vec<&str> = Uncertain::NAMES.iter().map(|(n, _)| *n).collect();
        write!(f, "; known are {}", known.join(", "))
    }
}
impl std::error::Error for UnknownQuantity {}

/// How the values of a quantity are spread, in its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        sd: f64,
    },
    /// Normal, cut to a range and scaled up again.
    TruncatedNormal {
        /// Mean before the cut.
        mean: f64,
        /// Standard deviation before the cut, above 0.
        sd: f64,
        /// Least value.
        from: f64,
        /// Greatest value.
        to: f64,
    },
    /// Lognormal.
    Lognormal {
        /// Median, above 0.
        median: f64,
        /// Standard deviation of the natural logarithm, above 0.
        sd_log: f64,
    },
    /// Absolute value of a normal draw around 0.
    HalfNormal {
        /// Standard deviation of that normal, above 0.
        scale: f64,
    },
    /// Uniform.
    Uniform {
        /// Least value.
        from: f64,
        /// Greatest value.
        to: f64,
    },
}

impl Distribution {
    /// Its quantile: the value below which a draw lies with probability u.
    ///
    /// Never infinite: u is held to 2⁻⁵³ from 0 and 1. NaN is taken as one half. Never
    /// decreasing in u.
    pub fn at(&self, u: f64) -> f64 {
        const END: f64 = 0.5 * f64::EPSILON;
        let u = if u.is_nan() { 0.5 } else { u.clamp(END, 1.0 - END) };
        match *self {
            Self::Normal { mean, sd } => mean + sd * normal::quantile(u),
            Self::TruncatedNormal { mean, sd, from, to } => {
                normal::truncated(u, mean, sd, from, to)
            }
            Self::Lognormal { median, sd_log } => normal::lognormal(u, median, sd_log),
            Self::HalfNormal { scale } => normal::half_normal(u, scale),
            Self::Uniform { from, to } => normal::uniform(u, from, to),
        }
    }
}

/// Something uncertain, with what is believed of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    /// What.
    pub what: Uncertain,
    /// In which unit.
    pub unit: Unit,
    /// How it is spread.
    pub distribution: Distribution,
    /// Whose number that is.
    pub mark: Mark,
    /// Where it comes from; may be empty when it is ours.
    pub source: String,
    /// What it means, in plain words.
    pub says: String,
}

impl Quantity {
    /// The value below which a draw lies with probability u, in the quantity's unit.
    ///
    /// As [`Distribution::at`]: finite for any u, never decreasing.
    pub fn at(&self, u: f64) -> f64 {
        self.distribution.at(u)
    }
}

/// What is believed of a kitchen, a starter and a flour.
///
/// With serde it is what the file is: a name, a sentence and a list of quantities, checked as
/// it is read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "read::Plain", into = "read::Plain")]
pub struct Belief {
    /// Its name.
    pub name: String,
    /// Of whom it speaks.
    pub about: String,
    /// Every quantity at most once.
    pub quantities: Vec<Quantity>,
}

/// Embedded beliefs by name.
const BELIEFS: [(&str, &str); 2] = [
    ("readers", include_str!("../../../data/belief/readers.toml")),
    ("own-kitchen", include_str!("../../../data/belief/own-kitchen.toml")),
];

impl Belief {
    /// The names of the embedded beliefs.
    pub const NAMES: [&'static str; 2] = ["readers", "own-kitchen"];

    /// An embedded belief by name.
    pub fn named(name: &str) -> Option<&'static Self> {
        static LOADED: OnceLock<Vec<Belief>> = OnceLock::new();
        let beliefs = LOADED.get_or_init(|| {
            BELIEFS
                .iter()
                .map(|(name, text)| {
                    Self::from_toml(text)
                        // a unit test reads every embedded file, so this cannot fail in a build that passed
                        .unwrap_or_else(|e| unreachable!("embedded belief {name}: {e:?}"))
                })
                .collect()
        });
        beliefs.iter().find(|b| b.name == name)
    }

    /// Strangers' kitchens in the heating season: temperatures of room and fridge are absolute.
    pub fn readers() -> &'static Self {
        // the name stands in BELIEFS
        Self::named("readers").unwrap_or_else(|| unreachable!("readers are embedded"))
    }

    /// Strangers' kitchens in a season. Warm rooms are our guess, 24 ± 2.5 °C; any is one
    /// distribution with the mean and the spread of half of each.
    pub fn readers_in(season: Season) -> Self {
        let mut belief = Self::readers().clone();
        let (name, words, mean, sd, from) = match season {
            Season::Cold => return belief,
            Season::Warm => ("readers-warm", "in the warm season", 24.0, 2.5, 17.0),
            Season::Any => ("readers-any", "in any season", 21.8, 3.3, 14.0),
        };
        name.clone_into(&mut belief.name);
        belief.about = belief.about.replace("in the heating season", words);
        for q in belief.quantities.iter_mut().filter(|q| q.what == Uncertain::Room) {
            q.distribution = Distribution::TruncatedNormal { mean, sd, from, to: 33.0 };
            q.mark = Mark::Ours;
            q.source.clear();
            q.says = format!("Air of the kitchen {words}.");
        }
        belief
    }

    /// One's own kitchen before any bake is logged: offsets to the kitchen file.
    pub fn own_kitchen() -> &'static Self {
        // the name stands in BELIEFS
        Self::named("own-kitchen").unwrap_or_else(|| unreachable!("the own kitchen is embedded"))
    }

    /// Reads a belief file.
    ///
    /// # Errors
    /// Every problem found, with its place in the text.
    pub fn from_toml(text: &str) -> Result<Self, Vec<Problem>> {
        read::read(text)
    }

    /// The belief as a file that reads back the same.
    pub fn to_toml(&self) -> String {
        read::write(self)
    }

    /// A quantity; `None` when it is certain here.
    pub fn get(&self, what: Uncertain) -> Option<&Quantity> {
        self.quantities.iter().find(|q| q.what == what)
    }

    /// A quantity by name; `None` when it is certain here.
    ///
    /// # Errors
    /// [`UnknownQuantity`].
    pub fn find(&self, name: &str) -> Result<Option<&Quantity>, UnknownQuantity> {
        Uncertain::of_name(name).map(|what| self.get(what))
    }
}

#[cfg(test)]
mod tests;
