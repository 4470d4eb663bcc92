//! Where the bread is made: temperatures, water, mixer, scale, hearth, hours, culture.

use crate::hearth::{Hearth, Oven, Pot, Slab, Steam, Tin};
use crate::hours::BakerHours;
use crate::method::Liner;
use crate::named::named;
use quantity::{
    Celsius, Grams, Hours, JoulesPerKg, Kilopascal, Metres, Millilitres, Millimetres, Minutes,
    Percent, TempRise,
};

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
    /// Oven.
    pub oven: OvenKept,
    /// A lidded pot, if there is one.
    pub pot: Option<PotKept>,
    /// What pan loaves bake in.
    pub tin: TinKept,
    /// Highest temperature the maker gives for the baking paper.
    pub paper: Option<Celsius>,
    /// Highest temperature the maker gives for the baking mat.
    pub mat: Option<Celsius>,
    /// What the bread stands on in the oven; a grid when none.
    pub hearth: Option<HearthKept>,
    /// Proofing baskets there are; enough when none.
    pub bannetons: Option<u32>,
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
    /// Space there is for dough in its vessels; enough when none.
    pub space: Option<Millilitres>,
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
pub struct HearthKept {
    /// Left to right.
    pub width: Millimetres,
    /// Front to back.
    pub depth: Millimetres,
    /// What it is made of.
    pub material: Material,
    /// How thick.
    pub thickness: Millimetres,
    /// Heated with the oven; else put in cold with the bread.
    pub heated: bool,
}

named! {
    /// What a hearth is made of.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Material {
        /// The usual baking stone.
        Cordierite = "cordierite",
        /// Soft firebrick.
        Firebrick = "firebrick",
        /// Steel plate.
        Steel = "steel",
        /// Cast iron plate.
        CastIron = "cast iron",
        /// Thin baking sheet.
        Sheet = "sheet",
    }
}

impl Material {
    /// Thickness when nothing is said. *Common practice*.
    pub fn usual_thickness(self) -> Millimetres {
        Millimetres(match self {
            Self::Cordierite | Self::Firebrick => 15.0,
            Self::Steel | Self::CastIron => 8.0,
            Self::Sheet => 1.0,
        })
    }
    /// Whether it is heated with the oven when nothing is said: a sheet goes in with the bread.
    pub fn usually_heated(self) -> bool {
        self != Self::Sheet
    }
}

impl HearthKept {
    /// What the loaf stands on, heated with the oven to a temperature or as warm as the room.
    pub fn hearth(&self, oven: Celsius, room: Celsius) -> Hearth {
        Hearth::Slab(self.slab(), Some(if self.heated { oven } else { room }))
    }

    /// The slab the oven model sees.
    pub fn slab(&self) -> Slab {
        match self.material {
            Material::Cordierite => Slab::cordierite(self.thickness),
            Material::Firebrick => Slab::firebrick(self.thickness),
            Material::Steel => Slab::steel(self.thickness),
            Material::CastIron => Slab::cast_iron(self.thickness),
            Material::Sheet => Slab { thickness: self.thickness, ..Slab::sheet() },
        }
    }
}

named! {
    /// What sort of oven.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum OvenKind {
        /// A household oven.
        Home = "home",
        /// A deck oven with a sole and steam of its own.
        Deck = "deck",
    }
}

named! {
    /// By which means steam comes into the oven.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum SteamMeans {
        /// None.
        None = "none",
        /// Boiling water into a hot tray.
        Tray = "tray",
        /// Ice into a hot tray.
        Ice = "ice",
        /// Wet towels in a hot tray.
        Towels = "towels",
        /// A spray on walls and loaf.
        Spray = "spray",
        /// The deck oven's own.
        Own = "own",
    }
}

named! {
    /// What a lidded pot is made of.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum PotMaterial {
        /// Cast iron, bare or enamelled.
        CastIron = "cast iron",
        /// Earthenware, clay.
        Earthenware = "earthenware",
        /// Steel.
        Steel = "steel",
    }
}

/// A lidded pot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotKept {
    /// Weight with the lid.
    pub mass: Grams,
    /// What it is made of.
    pub material: PotMaterial,
    /// Heated with the oven; else put in cold with the bread.
    pub heated: bool,
}

impl PotKept {
    /// The pot the oven model sees, heated with the oven to a temperature or as warm as the room.
    /// Heat capacities *from memory*: iron and steel 460, earthenware 900 J/(kg K).
    pub fn pot(&self, oven: Celsius, room: Celsius) -> Pot {
        let cp = match self.material {
            PotMaterial::CastIron | PotMaterial::Steel => 460.0,
            PotMaterial::Earthenware => 900.0,
        };
        let start = Some(if self.heated { oven } else { room });
        Pot { mass: self.mass, cp, start, ..Pot::CAST_IRON }
    }
}

named! {
    /// What sort of bread tin.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum TinKind {
        /// Dark steel.
        Dark = "dark",
        /// Bright aluminium or steel.
        Bright = "bright",
        /// Glass.
        Glass = "glass",
    }
}

/// What pan loaves bake in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TinKept {
    /// What sort.
    pub kind: TinKind,
    /// Emissivity of its outside, relative to bread; the kind's own when none.
    pub emissivity: Option<f64>,
}

impl TinKept {
    /// The tin the oven model sees.
    pub fn tin(&self) -> Tin {
        let usual = match self.kind {
            TinKind::Dark => Tin::DARK,
            TinKind::Bright => Tin::BRIGHT,
            // *From memory*: glass takes up nearly all the heat an oven radiates
            TinKind::Glass => Tin { emissivity: 0.9 },
        };
        self.emissivity.map_or(usual, |emissivity| Tin { emissivity })
    }
}

/// What a probe showed in the loaded oven.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OvenLog {
    /// File beside the kitchen file that holds the points; none when they stand in the kitchen.
    pub file: Option<String>,
    /// Minutes since loading, ascending, and temperature; empty when nothing was logged.
    pub points: Vec<(Minutes, Celsius)>,
    /// What the knob was set to at loading, if that was written down.
    pub knob: Option<Celsius>,
}

impl OvenLog {
    /// Last minute logged; none without a log.
    pub fn ends(&self) -> Option<Minutes> {
        self.points.last().map(|p| p.0)
    }
}

/// The oven as its keeper describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct OvenKept {
    /// What sort.
    pub kind: OvenKind,
    /// Baking with the fan on.
    pub fan: bool,
    /// Highest setting.
    pub most: Celsius,
    /// True minus shown.
    pub knob_error: TempRise,
    /// How fast it climbs when empty, per minute.
    pub climbs: TempRise,
    /// Steam.
    pub steam: SteamMeans,
    /// Water or ice for it.
    pub steam_water: Grams,
    /// A bake logged with a probe: stands above knob, sag and fall at loading.
    pub log: OvenLog,
}

impl Default for OvenKept {
    /// A household oven of which nothing is known: 250 °C, no fan, a tray of water.
    fn default() -> Self {
        Self {
            kind: OvenKind::Home,
            fan: false,
            most: Celsius(250.0),
            knob_error: TempRise(0.0),
            climbs: TempRise(10.0),
            steam: SteamMeans::Tray,
            steam_water: Grams(250.0),
            log: OvenLog::default(),
        }
    }
}

impl OvenKept {
    /// What the knob can be set to.
    pub fn range(&self) -> (Celsius, Celsius) {
        let kind = if self.kind == OvenKind::Deck { Oven::DECK } else { Oven::HOME };
        (kind.range.0, self.most)
    }

    /// The oven the model sees, in a room at an altitude; `fan` when it runs all through the bake.
    pub fn oven(&self, room: Celsius, altitude: Metres, fan: bool) -> Oven {
        let kind = match (self.kind, fan) {
            (OvenKind::Home, false) => Oven::HOME,
            (OvenKind::Home, true) => Oven::HOME_FAN,
            (OvenKind::Deck, _) => Oven::DECK,
        };
        Oven {
            range: self.range(),
            knob_error: self.knob_error,
            room,
            ..kind.at_altitude(altitude)
        }
    }

    /// The steam it makes when a step asks for some.
    pub fn steam(&self) -> Steam {
        let water = self.steam_water;
        match self.steam {
            SteamMeans::None => Steam::None,
            SteamMeans::Tray => Steam::Tray(water),
            SteamMeans::Ice => Steam::Ice(water),
            SteamMeans::Towels => Steam::Towels(water),
            SteamMeans::Spray => Steam::Spray(water),
            SteamMeans::Own => Steam::Held { pressure: Kilopascal(40.0), minutes: Minutes(6.0) },
        }
    }
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
    /// Ripe starter there is to build from; enough when none.
    pub stock: Option<Grams>,
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
            stock: None,
        }
    }
}

impl Kitchen {
    /// Highest temperature the maker gives for a liner, if it was looked up.
    pub fn rated(&self, liner: Liner) -> Option<Celsius> {
        match liner {
            Liner::Paper => self.paper,
            Liner::Mat => self.mat,
        }
    }

    /// A plain kitchen where nothing is known: 21 °C, fridge 5 °C, sea level.
    pub fn unknown() -> Self {
        Self {
            name: "an ordinary kitchen".into(),
            zone: "UTC".into(),
            altitude: Metres(0.0),
            room: vec![(0.0, Celsius(21.0))],
            fridge: Fridge {
                air: Celsius(5.0),
                warms_by: TempRise(1.5),
                settles_in: Hours(2.0),
                space: None,
            },
            bannetons: None,
            proofer: None,
            flour: None,
            water: Water { cold: Celsius(14.0), hot: Celsius(50.0), ice: None },
            mixer: Mixer { heat: JoulesPerKg(2000.0), friction: TempRise(3.0) },
            scale: Scales { step: Grams(1.0), fine: Grams(0.1) },
            oven: OvenKept::default(),
            pot: None,
            tin: TinKept { kind: TinKind::Dark, emissivity: None },
            paper: None,
            mat: None,
            hearth: None,
            hours: BakerHours::any_time(),
            culture: CultureKept::default(),
        }
    }
}
