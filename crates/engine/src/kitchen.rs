//! Where the bread is made: temperatures, water, mixer, scale, hearth, hours, culture.

use crate::hours::BakerHours;
use quantity::{Celsius, Grams, Hours, JoulesPerKg, Metres, Millimetres, Percent, TempRise};

/// A kitchen.
#[derive(Debug, Clone, PartialEq)]
pub struct Kitchen {
    /// Its name.
    pub name: String,
    /// IANA time zone, such as `Europe/Lisbon`; the caller's business.
    pub zone: String,
    /// Above sea level.
    pub altitude: Metres,
    /// Room air by hour of the day (0..24), ascending; one entry when constant.
    pub room: Vec<(f64, Celsius)>,
    /// Refrigerator.
    pub fridge: Fridge,
    /// Proofing box, if there is one.
    pub proofer: Option<Celsius>,
    /// Flour in its bin; the room's when none.
    pub flour: Option<Celsius>,
    /// Water.
    pub water: Water,
    /// Mixing.
    pub mixer: Mixer,
    /// Scale.
    pub scale: Scales,
    /// Hearth, for "fill the hearth".
    pub hearth: Option<Hearth>,
    /// Hands.
    pub hours: BakerHours,
    /// The starter.
    pub culture: CultureKept,
}

/// A refrigerator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fridge {
    /// Air, on average.
    pub air: Celsius,
    /// How much a kilo of warm dough warms it at first.
    pub warms_by: TempRise,
    /// How long that takes to fade (to a third).
    pub settles_in: Hours,
}

/// Water that exists.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Water {
    /// Cold tap.
    pub cold: Celsius,
    /// Hot tap.
    pub hot: Celsius,
    /// Ice from the freezer at this temperature, if there is any.
    pub ice: Option<Celsius>,
}

/// How dough is mixed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixer {
    /// Mixing work and hydration heat less losses, per mass of dough.
    pub heat: JoulesPerKg,
    /// The trade's friction factor, fitted for this mixer and batch.
    pub friction: TempRise,
}

/// What the scale resolves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scales {
    /// Kitchen scale.
    pub step: Grams,
    /// For salt and yeast.
    pub fine: Grams,
}

/// A baking surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hearth {
    /// Left to right.
    pub width: Millimetres,
    /// Front to back.
    pub depth: Millimetres,
}

/// The starter as it is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CultureKept {
    /// Water, of its flour.
    pub hydration: Percent,
    /// Days in the fridge since it was last ripe.
    pub fridge_days: f64,
    /// Ash of its flour, on dry matter.
    pub ash: Percent,
    /// Rye instead of wheat.
    pub rye: bool,
    /// Yeast activity against the model's default, 1 when unknown.
    pub yeast_vigour: f64,
    /// Lactobacilli against the model's default, 1 when unknown.
    pub lab_vigour: f64,
}

impl Default for CultureKept {
    /// Plain-words default: an even-handed white starter, fed yesterday, of average vigour.
    fn default() -> Self {
        Self {
            hydration: Percent(100.0),
            fridge_days: 0.0,
            ash: Percent(0.55),
            rye: false,
            yeast_vigour: 1.0,
            lab_vigour: 1.0,
        }
    }
}

impl Kitchen {
    /// A plain kitchen where nothing is known: 21 °C, fridge 5 °C, sea level.
    pub fn unknown() -> Self {
        Self {
            name: "an ordinary kitchen".into(),
            zone: "UTC".into(),
            altitude: Metres(0.0),
            room: vec![(0.0, Celsius(21.0))],
            fridge: Fridge { air: Celsius(5.0), warms_by: TempRise(1.5), settles_in: Hours(2.0) },
            proofer: None,
            flour: None,
            water: Water { cold: Celsius(14.0), hot: Celsius(50.0), ice: None },
            mixer: Mixer { heat: JoulesPerKg(2000.0), friction: TempRise(3.0) },
            scale: Scales { step: Grams(1.0), fine: Grams(0.1) },
            hearth: None,
            hours: BakerHours::any_time(),
            culture: CultureKept::default(),
        }
    }
}
