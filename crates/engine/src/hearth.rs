//! Ovens, what stands in them, and steam: everything around the loaf.
//!
//! An [`Oven`] is a handful of numbers: how far the knob lies, how the air falls when cold
//! bread comes in, how much heat reaches a surface. The last is an oven's own; it ranges over
//! a factor of three between ovens of one kind, so each kind carries a [`Prior`] to learn
//! from. A [`Hearth`] is a slab that gives heat to the base of the loaf and takes it back
//! between loads. Steam is a pressure of vapour over time, from what is put in and what
//! leaks out.
//!
//! Left out: hot spots, the cycle of the thermostat (loaf and stone filter it), the power of
//! the heater (a small home oven needs 5 to 10 min more to preheat), heat spreading sideways
//! in the stone.

use crate::numerics::Tridiagonal;
use crate::numerics::lanes::{Lanes, exp};
use crate::properties::{STANDARD_PRESSURE, VAPOUR_GAS_CONSTANT, ZERO_CELSIUS_K, pressure_at};
use quantity::{Celsius, Grams, Kilopascal, Metres, Millimetres, Minutes, TempRise};

/// Stefan and Boltzmann's constant, W/(m² K⁴); exact since 2019.
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// What is believed of a positive number before it is measured: its middle, and the factor
/// above and below which it lies in a sixth of cases each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// The middle.
    pub middle: f64,
    /// The factor, above 1.
    pub factor: f64,
}

/// An oven.
///
/// Temperatures are what a probe shows in the empty oven when the knob says so, plus what the
/// fields tell. Rates are time constants: the time in which a difference falls to 37 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Oven {
    /// What the knob reaches.
    pub range: (Celsius, Celsius),
    /// True minus shown, empty oven. A consumer institute (2015) found one oven in six 20 K or
    /// more too hot; ±20 K is usual.
    pub knob_error: TempRise,
    /// How far a loaded oven runs under the knob, K. *Calibrated*.
    pub loaded_sag: TempRise,
    /// Heat by moving air, fan off, W/(m² K).
    pub convection: f64,
    /// The same with the fan on.
    pub convection_fan: f64,
    /// Emissivity between walls and loaf, 0 to 1: that of bread times what glass and rails
    /// take away.
    pub emissivity: f64,
    /// Heat transfer to the top of a loaf over the mean of the loaf: the roof radiates.
    pub roof: f64,
    /// How far the air falls at loading, K.
    pub air_drop: TempRise,
    /// How long that lasts, s.
    pub air_recovers_s: f64,
    /// How far the walls fall at loading, K.
    pub wall_drop: TempRise,
    /// How long that lasts, s.
    pub wall_recovers_s: f64,
    /// Time constant of a change of the knob, s.
    pub settles_s: f64,
    /// Time constant of the shut oven when switched off, s.
    pub off_settles_s: f64,
    /// Time constant of the switched-off oven with the door ajar, s.
    pub ajar_settles_s: f64,
    /// Volume, L.
    pub litres: f64,
    /// Air that leaks through it, L/s.
    pub leak_l_per_s: f64,
    /// Pressure of vapour without steam, kPa: room air and what the bread gives off.
    pub dry: Kilopascal,
    /// The room.
    pub room: Celsius,
    /// Pressure of the air: altitude.
    pub pressure: Kilopascal,
    /// What is believed of [`total_transfer`](Self::total_transfer) in ovens of this kind.
    pub prior: Prior,
}

impl Oven {
    /// The oven of the model as first specified: one for all breads.
    pub const FIRST: Self = Self {
        range: (Celsius(50.0), Celsius(300.0)),
        knob_error: TempRise(0.0),
        loaded_sag: TempRise(10.0),
        convection: 8.0,
        convection_fan: 20.0,
        emissivity: 0.8,
        roof: 1.0,
        air_drop: TempRise(60.0),
        air_recovers_s: 150.0,
        wall_drop: TempRise(15.0),
        wall_recovers_s: 300.0,
        settles_s: 400.0,
        off_settles_s: 400.0,
        ajar_settles_s: 400.0,
        litres: 60.0,
        leak_l_per_s: 0.5, // steam falls to 37 % in 120 s
        dry: Kilopascal(3.0),
        room: Celsius(20.0),
        pressure: STANDARD_PRESSURE,
        prior: Prior { middle: 24.9, factor: 1.4 },
    };

    /// A home oven with heat from above and below, no fan.
    ///
    /// Total heat transfer 15.0 W/(m² K): measured ovens lie between 10 and 28 (the two in which
    /// measured loaves were baked, doi 10.14311/TPFM.2025.015 and 10.1002/aic.10518, at 12 to 13 as
    /// counted here), the middle of that range by ratio is 16.7; *calibrated* inside it on the loss
    /// of loaves of 650 to 1000 g. The prior reaches from 10 to 22. Its roof is the upper element,
    /// hotter than the air: 1.45 times the heat, *calibrated* on the colour that bakers get in 30
    /// to 38 min. Three quarters of the total are radiation (75 to 80 %, Baik 1999, *published*).
    pub const HOME: Self = Self {
        range: (Celsius(50.0), Celsius(250.0)),
        convection: 3.78,
        convection_fan: 12.0,
        emissivity: 0.5319,
        roof: 1.45,
        off_settles_s: 2400.0,
        prior: Prior { middle: 15.0, factor: 1.5 },
        ..Self::FIRST
    };

    /// A home oven with its fan on: the air is heated, walls follow it and no element glows above
    /// the loaf, so radiation and roof count less. Total 20 W/(m² K), a guess at the low end of
    /// measured ovens with moving air (20 to 48, Baik 1999, *published*); its split and its roof
    /// are ours.
    pub const HOME_FAN: Self = Self {
        convection: 12.0,
        emissivity: 0.385,
        roof: 1.2,
        prior: Prior { middle: 20.0, factor: 1.4 },
        ..Self::HOME
    };

    /// A deck oven with a stone sole and steam. Total 20.1 W/(m² K) and roof 1.15, *calibrated* on
    /// the weight loss and colour of the trade's hearth loaves; three quarters radiation.
    pub const DECK: Self = Self {
        range: (Celsius(150.0), Celsius(300.0)),
        convection: 5.07,
        convection_fan: 16.0,
        emissivity: 0.7125,
        roof: 1.15,
        air_drop: TempRise(20.0),
        off_settles_s: 7200.0,
        litres: 250.0,
        leak_l_per_s: 2.0,
        prior: Prior { middle: 20.1, factor: 1.3 },
        ..Self::FIRST
    };

    /// The same oven at an altitude.
    #[must_use]
    pub fn at_altitude(self, altitude: Metres) -> Self {
        Self { pressure: pressure_at(altitude), ..self }
    }

    /// Heat that reaches a surface of 120 °C from walls and air of 235 °C, W/(m² K).
    ///
    /// Convection and radiation together: the number an aluminium block measures.
    pub fn total_transfer(&self) -> f64 {
        self.convection + self.emissivity * radiation(235.0, 120.0)
    }

    /// The same oven with another total, both parts scaled alike; an emissivity above 1 stands
    /// for walls much hotter than the air.
    #[must_use]
    pub fn with_total_transfer(self, total: f64) -> Self {
        let factor = if total > 0.0 { total.min(200.0) / self.total_transfer() } else { 1.0 };
        Self {
            convection: self.convection * factor,
            convection_fan: self.convection_fan * factor,
            emissivity: self.emissivity * factor,
            ..self
        }
    }

    /// What the oven's probe would show for a knob setting, held to the range.
    pub fn truly(&self, knob: Celsius) -> Celsius {
        Celsius(self.held(knob)) + self.knob_error
    }

    /// A knob setting held to the range, °C.
    fn held(&self, knob: Celsius) -> f64 {
        let (lo, hi) = (self.range.0.0, self.range.1.0);
        knob.0.max(lo).min(hi.max(lo))
    }

    /// Held to what an oven can be: no input makes the kernel fail.
    pub(crate) fn sound(&self) -> Self {
        let within =
            |x: f64, lo: f64, hi: f64, or: f64| if x.is_nan() { or } else { x.clamp(lo, hi) };
        let rise = |x: TempRise, hi: f64| TempRise(within(x.0, -hi, hi, 0.0));
        let first = &Self::FIRST;
        Self {
            range: (
                Celsius(within(self.range.0.0, 0.0, 500.0, 50.0)),
                Celsius(within(self.range.1.0, 0.0, 500.0, 300.0)),
            ),
            knob_error: rise(self.knob_error, 100.0),
            loaded_sag: rise(self.loaded_sag, 100.0),
            convection: within(self.convection, 0.1, 200.0, first.convection),
            convection_fan: within(self.convection_fan, 0.1, 200.0, first.convection_fan),
            emissivity: within(self.emissivity, 0.0, 3.0, first.emissivity),
            roof: within(self.roof, 0.0, 5.0, first.roof),
            air_drop: rise(self.air_drop, 200.0),
            air_recovers_s: within(self.air_recovers_s, 1.0, 1e5, first.air_recovers_s),
            wall_drop: rise(self.wall_drop, 200.0),
            wall_recovers_s: within(self.wall_recovers_s, 1.0, 1e5, first.wall_recovers_s),
            settles_s: within(self.settles_s, 1.0, 1e6, first.settles_s),
            off_settles_s: within(self.off_settles_s, 1.0, 1e6, first.off_settles_s),
            ajar_settles_s: within(self.ajar_settles_s, 1.0, 1e6, first.ajar_settles_s),
            litres: within(self.litres, 1.0, 1e5, first.litres),
            leak_l_per_s: within(self.leak_l_per_s, 1e-3, 1e3, first.leak_l_per_s),
            dry: Kilopascal(within(self.dry.0, 0.0, 100.0, 3.0)),
            room: Celsius(within(self.room.0, -20.0, 60.0, 20.0)),
            pressure: Kilopascal(within(self.pressure.0, 40.0, 120.0, STANDARD_PRESSURE.0)),
            prior: self.prior,
        }
    }
}

/// How the ovens of a batch differ; the rest they share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OvenLanes<L> {
    /// True minus shown, K.
    pub(crate) knob_error: L,
    /// Heat transfer over that of the shared oven, convection and radiation alike.
    pub(crate) transfer: L,
    /// The room, °C.
    pub(crate) room: L,
}

impl<L: Lanes> OvenLanes<L> {
    /// All as the shared oven is.
    pub(crate) fn as_is(oven: &Oven) -> Self {
        Self {
            knob_error: L::splat(oven.knob_error.0),
            transfer: L::splat(1.0),
            room: L::splat(oven.room.0),
        }
    }

    /// Held to what an oven can be.
    pub(crate) fn sound(&self, oven: &Oven) -> Self {
        let within = |x: L, lo: f64, hi: f64, or: f64| {
            x.map(|x| if x.is_nan() { or } else { x.clamp(lo, hi) })
        };
        Self {
            knob_error: within(self.knob_error, -100.0, 100.0, 0.0),
            transfer: within(self.transfer, 0.05, 20.0, 1.0),
            room: within(self.room, -20.0, 60.0, oven.room.0),
        }
    }

    /// What the oven's probe would show for a knob setting, °C.
    #[inline(always)]
    pub(crate) fn truly(&self, oven: &Oven, knob: Celsius) -> L {
        self.knob_error + oven.held(knob)
    }
}

/// Radiation between black surfaces as a coefficient, W/(m² K).
pub fn radiation(a_deg_c: f64, b_deg_c: f64) -> f64 {
    radiates(a_deg_c, b_deg_c)
}

/// [`radiation`] in lanes.
#[inline(always)]
fn radiates<L: Lanes>(a_deg_c: L, b_deg_c: L) -> L {
    let (a, b) = (a_deg_c + ZERO_CELSIUS_K, b_deg_c + ZERO_CELSIUS_K);
    (a * a + b * b) * STEFAN_BOLTZMANN * (a + b)
}

/// How the steam comes into the oven.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Steam {
    /// None.
    #[default]
    None,
    /// A deck oven's own: kept at this pressure for so long.
    Held {
        /// Pressure of vapour, kPa; 80 and more is a chamber full of steam.
        pressure: Kilopascal,
        /// How long.
        minutes: Minutes,
    },
    /// Boiling water poured into a hot tray.
    Tray(Grams),
    /// Ice thrown into a hot tray.
    Ice(Grams),
    /// Wet rolled towels in a hot tray.
    Towels(Grams),
    /// Water sprayed on walls and loaf.
    Spray(Grams),
}

impl Steam {
    /// Steam made in g/s at a time since it was brought in.
    ///
    /// All rates are ours, derived from the heat that a full oven tray takes:
    ///
    /// ```text
    /// 16 W/(m² K) × 2 faces × 0.17 m² × (235 − 100) K = 730 W     over 2257 J/g: 0.33 g/s
    /// 1.2 kg of steel × 470 J/(kg K) × 135 K = 76 kJ stored       over 2257 J/g: 34 g at once
    /// ```
    ///
    /// A small pan in a slow oven makes 0.06 g/s, a full tray in a fast one 0.6: a factor of three
    /// either way, found by weighing what is left. *Tray*: boiling water, what is stored flashes
    /// in 20 s, the rest boils steadily. *Ice*: lumps touch three quarters of the tray; 753 J/g
    /// go into melting and heating before it boils. *Towels*: soaked hot, 7 % of the heat still
    /// warms their water. *Spray*: the walls have the heat (30 g take 23 K off 6 kg of steel), it
    /// is gone in 30 s.
    fn grams_per_s(self, t_s: f64) -> f64 {
        let steady = |water: f64, start_s: f64, rate: f64| {
            let end = start_s + water.max(0.0) / rate;
            if t_s >= start_s && t_s < end { rate } else { 0.0 }
        };
        let boils = TRAY_WATTS / BOILING_J_PER_G;
        match self {
            Self::Tray(Grams(water)) => {
                let flash = (TRAY_STORED_J / BOILING_J_PER_G).min(water.max(0.0));
                if t_s < TRAY_FLASH_S {
                    flash / TRAY_FLASH_S
                } else {
                    steady(water - flash, TRAY_FLASH_S, boils)
                }
            }
            Self::Ice(Grams(ice)) => {
                let watts = ICE_TOUCHES * TRAY_WATTS;
                let late = (ICE_TO_BOILING_J_PER_G * ice - TRAY_STORED_J) / watts;
                steady(ice, late.max(TRAY_FLASH_S), watts / BOILING_J_PER_G)
            }
            Self::Towels(Grams(water)) => steady(water, 0.0, TOWELS_BOIL * boils),
            Self::Spray(Grams(water)) if t_s < 30.0 => water.clamp(0.0, 200.0) / 30.0,
            Self::None | Self::Held { .. } | Self::Spray(_) => 0.0,
        }
    }
}

/// Heat a full tray takes from the oven on both faces while its water boils, W. Ours.
const TRAY_WATTS: f64 = 16.0 * 2.0 * 0.17 * 135.0;
/// Heat above boiling that a tray of 1.2 kg has stored, J. Ours.
const TRAY_STORED_J: f64 = 1.2 * 470.0 * 135.0;
/// Time in which that flashes water, s. Ours.
const TRAY_FLASH_S: f64 = 20.0;
/// Latent heat at 100 °C, J/g. *Exact* to the digit.
const BOILING_J_PER_G: f64 = 2257.0;
/// Share of the tray that lumps of ice touch. Ours.
const ICE_TOUCHES: f64 = 0.75;
/// Melting and warming from 0 to 100 °C, J/g.
const ICE_TO_BOILING_J_PER_G: f64 = 334.0 + 419.0;
/// Share of the tray's heat that boils the water of towels; the rest warms it from 60 °C. Ours.
const TOWELS_BOIL: f64 = 0.93;

/// The oven's door.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Door {
    /// Shut.
    #[default]
    Shut,
    /// Opened once at the start of the stage: to turn the loaves, lift a lid, load.
    Opened,
    /// Left ajar.
    Ajar,
}

/// A part of the bake with its own settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// How long.
    pub minutes: Minutes,
    /// Knob; none is off.
    pub set_point: Option<Celsius>,
    /// Steam brought in at the start of the stage.
    pub steam: Steam,
    /// Vent open.
    pub vent: bool,
    /// Door.
    pub door: Door,
    /// Pot covered.
    pub lid: bool,
    /// Fan on.
    pub fan: bool,
}

impl Stage {
    /// At a knob setting, everything shut, no steam.
    pub fn at(knob: Celsius, minutes: Minutes) -> Self {
        Self {
            minutes,
            set_point: Some(knob),
            steam: Steam::None,
            vent: false,
            door: Door::Shut,
            lid: false,
            fan: false,
        }
    }

    /// Switched off.
    pub fn off(minutes: Minutes) -> Self {
        Self { set_point: None, ..Self::at(Celsius(0.0), minutes) }
    }
}

/// A slab that gives heat to the base of the loaf.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slab {
    /// Thickness.
    pub thickness: Millimetres,
    /// Conductivity, W/(m K).
    pub k: f64,
    /// Density times heat capacity, J/(m³ K).
    pub heat_per_volume: f64,
    /// Emissivity of its faces.
    pub emissivity: f64,
}

impl Slab {
    /// Cordierite baking stone. Properties *from memory*, ±20 %.
    pub fn cordierite(thickness: Millimetres) -> Self {
        Self { thickness, k: 2.0, heat_per_volume: 1.8e6, emissivity: 0.9 }
    }
    /// Firebrick. Properties *from memory*, ±20 %.
    pub fn firebrick(thickness: Millimetres) -> Self {
        Self { thickness, k: 1.0, heat_per_volume: 1.7e6, emissivity: 0.9 }
    }
    /// Seasoned steel plate. Properties *from memory*, ±10 %; emissivity ±0.1.
    pub fn steel(thickness: Millimetres) -> Self {
        Self { thickness, k: 45.0, heat_per_volume: 3.8e6, emissivity: 0.8 }
    }
    /// Cast iron. Properties *from memory*, ±10 %.
    pub fn cast_iron(thickness: Millimetres) -> Self {
        Self { thickness, k: 50.0, heat_per_volume: 3.4e6, emissivity: 0.9 }
    }
    /// Baking sheet of a millimetre, dark.
    pub fn sheet() -> Self {
        Self { emissivity: 0.6, ..Self::steel(Millimetres(1.0)) }
    }

    /// How eagerly it gives heat at first touch, √(k ρ c), W s^½/(m² K).
    pub fn effusivity(&self) -> f64 {
        (self.k * self.heat_per_volume).max(0.0).sqrt()
    }

    /// Time to come within `within` of an oven of `oven` from an even `start`, both faces free.
    ///
    /// Air and walls are as hot as `oven` from the start: the time the oven itself takes to
    /// heat comes on top. None when 24 h are not enough.
    pub fn time_to_heat(&self, oven: Celsius, start: Celsius, within: TempRise) -> Option<Minutes> {
        const STEP_S: f64 = 2.0;
        let mut plate = Plate::new(self, start.0);
        let face = Face { convection: UNDERSIDE_CONVECTION, air: oven.0, wall: oven.0 };
        let target = oven.0 - within.0;
        let mut before = plate.mean();
        if before >= target {
            return Some(Minutes(0.0));
        }
        for step in 0..43_200 {
            plate.step(STEP_S, Top::Free(face), face);
            let now = plate.mean();
            if now >= target {
                let part = (target - before) / (now - before).max(1e-12);
                return Some(Minutes((f64::from(step) + part) * STEP_S / 60.0));
            }
            before = now;
        }
        None
    }
}

/// Convection to a slab's free faces, W/(m² K). *From memory*, still air.
const UNDERSIDE_CONVECTION: f64 = 8.0;

/// Where two bodies meet when they touch: weighted by their effusivities, °C.
///
/// Lasts seconds: water boiling away pins the base soon after. Exact for half-spaces.
pub fn touch_temperature(a: (Celsius, f64), b: (Celsius, f64)) -> Celsius {
    let sum = a.1 + b.1;
    if sum > 0.0 { Celsius((a.0.0 * a.1 + b.0.0 * b.1) / sum) } else { a.0 }
}

/// What the loaf stands on.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Hearth {
    /// A slab heated with the oven, or as warm as given.
    Slab(Slab, Option<Celsius>),
    /// A grid: the base sees air like the rest, and gives off vapour like the rest.
    #[default]
    Grid,
}

impl Hearth {
    /// A stone of 20 mm, heated with the oven.
    pub fn stone() -> Self {
        Self::Slab(Slab::cordierite(Millimetres(20.0)), None)
    }
    /// A thin sheet put in cold.
    pub fn cold_sheet() -> Self {
        Self::Slab(Slab::sheet(), Some(Celsius(20.0)))
    }
}

/// A lidded pot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pot {
    /// Its mass with the lid.
    pub mass: Grams,
    /// Heat capacity, J/(kg K): iron 460, earthenware 900.
    pub cp: f64,
    /// Its outer surface, m².
    pub surface_m2: f64,
    /// Its temperature at loading; none is as hot as the oven.
    pub start: Option<Celsius>,
}

impl Pot {
    /// A cast iron pot of 5 kg, heated with the oven.
    pub const CAST_IRON: Self =
        Self { mass: Grams(5000.0), cp: 460.0, surface_m2: 0.28, start: None };
}

/// A bread tin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tin {
    /// Emissivity of its outside relative to bread: dark 0.85, bright 0.35, glass 0.9.
    pub emissivity: f64,
}

impl Tin {
    /// Dark steel.
    pub const DARK: Self = Self { emissivity: 0.85 };
    /// Bright aluminium.
    pub const BRIGHT: Self = Self { emissivity: 0.35 };
}

/// What surrounds a face of a slab.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Face<L> {
    pub(crate) convection: L,
    pub(crate) air: L,
    pub(crate) wall: L,
}

/// What is on top of a slab.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Top<L> {
    /// A loaf: conductance W/(m² K) and the temperature of its base.
    Loaf(L, L),
    /// Nothing.
    Free(Face<L>),
}

/// Cells of a slab.
const CELLS: usize = 8;

/// A slab in the oven, or one in each lane: temperatures from the top down.
#[derive(Debug, Clone)]
pub(crate) struct Plate<L = f64> {
    t: [L; CELLS],
    /// Heat capacity of a cell, J/(m² K).
    heat: f64,
    /// Conductance between cells, W/(m² K).
    between: f64,
    emissivity: f64,
}

impl<L: Lanes> Plate<L> {
    pub(crate) fn new(slab: &Slab, start: L) -> Self {
        let sound = |x: f64, lo: f64, hi: f64| if x >= lo { x.min(hi) } else { lo };
        let cell = sound(slab.thickness.0, 0.1, 500.0) / 1000.0 / CELLS as f64;
        Self {
            t: [start.map(|t| if t.is_nan() { 20.0 } else { t.clamp(-50.0, 600.0) }); CELLS],
            heat: sound(slab.heat_per_volume, 1e4, 2e7) * cell,
            between: sound(slab.k, 0.01, 500.0) / cell,
            emissivity: sound(slab.emissivity, 0.0, 1.0),
        }
    }

    /// Mean, °C.
    pub(crate) fn mean(&self) -> L {
        self.t.iter().fold(L::splat(0.0), |sum, t| sum + *t) / CELLS as f64
    }

    /// Top face as the loaf meets it, °C.
    #[inline(always)]
    pub(crate) fn top(&self) -> L {
        self.t[0]
    }

    /// Moves on by `dt` seconds: implicit, never unstable.
    #[inline(always)]
    pub(crate) fn step(&mut self, dt: f64, top: Top<L>, under: Face<L>) {
        let rate = self.heat / dt;
        let (top_h, top_heat) = match top {
            Top::Loaf(h, base) => (h, h * base),
            Top::Free(face) => self.free(face, self.t[0]),
        };
        let (under_h, under_heat) = self.free(under, self.t[CELLS - 1]);
        let lower = [L::splat(-self.between); CELLS];
        let mut diagonal = [L::splat(rate + 2.0 * self.between); CELLS];
        diagonal[0] += top_h - self.between;
        diagonal[CELLS - 1] += under_h - self.between;
        let mut x = self.t;
        for x in &mut x {
            *x = *x * rate;
        }
        x[0] += top_heat;
        x[CELLS - 1] += under_heat;
        Tridiagonal::factor(&lower, &diagonal, &lower).solve(&mut x);
        self.t = x;
    }

    /// Conductance to a free face at `t`, W/(m² K), and what it brings at 0 °C, W/m².
    #[inline(always)]
    fn free(&self, face: Face<L>, t: L) -> (L, L) {
        let radiant = radiates(face.wall, t) * self.emissivity;
        let h = face.convection + radiant;
        // air and wall as one temperature with the sum of both coefficients
        let heat = face.convection * face.air + radiant * face.wall;
        // half a cell to the middle of the outer one
        let h_in = L::splat(1.0) / (L::splat(1.0) / h + 0.5 / self.between);
        (h_in, h_in * heat / h)
    }
}

/// The oven over time, or one in each lane: air, walls, vapour.
#[derive(Debug, Clone)]
pub(crate) struct Chamber<L = f64> {
    oven: Oven,
    lanes: OvenLanes<L>,
    /// What air and walls settle to, °C.
    base: L,
    /// Fall of air and walls from loading that is left, K.
    air_drop: f64,
    wall_drop: f64,
    /// Vapour, Pa.
    vapour: L,
    /// Since the stage began, s.
    t: f64,
}

/// A moment in the oven.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moment<L = f64> {
    pub(crate) air: L,
    pub(crate) wall: L,
    pub(crate) vapour_pa: L,
}

impl<L: Lanes> Chamber<L> {
    /// At loading, with the knob at `first` (none: off, as warm as the room).
    pub(crate) fn new(oven: &Oven, lanes: OvenLanes<L>, first: Option<Celsius>) -> Self {
        let base = match first {
            Some(knob) => lanes.truly(oven, knob) - oven.loaded_sag.0,
            None => lanes.room,
        };
        Self {
            oven: *oven,
            lanes,
            base,
            air_drop: oven.air_drop.0,
            wall_drop: oven.wall_drop.0,
            vapour: L::splat(1000.0 * oven.dry.0),
            t: 0.0,
        }
    }

    /// A new stage begins.
    #[inline(always)]
    pub(crate) fn begin(&mut self, stage: &Stage) {
        self.t = 0.0;
        if stage.door == Door::Opened {
            // air goes at once, walls hardly, steam with the air
            self.air_drop = self.air_drop.max(self.oven.air_drop.0);
            self.wall_drop += 0.3 * self.oven.wall_drop.0;
            let room = 1000.0 * self.oven.dry.0;
            self.vapour = (self.vapour - room) * 0.2 + room;
        }
    }

    /// Moves on by `dt` seconds of a stage and gives the moment half-way.
    #[inline(always)]
    pub(crate) fn step(&mut self, dt: f64, stage: &Stage) -> Moment<L> {
        let (oven, room) = (&self.oven, self.lanes.room);
        let hot = stage.set_point.map(|knob| self.lanes.truly(oven, knob) - oven.loaded_sag.0);
        let (target, settles) = match (hot, stage.door) {
            // the heater works against the open door: half-way down is our guess
            (Some(hot), Door::Ajar) => ((hot + room) * 0.5, oven.ajar_settles_s),
            (Some(hot), _) => (hot, oven.settles_s),
            (None, Door::Ajar) => (room, oven.ajar_settles_s),
            (None, _) => (room, oven.off_settles_s),
        };
        let half = 0.5 * dt;
        // what is left of a difference half a step on, and squared at its end
        let left = |tau: f64| exp(-half / tau);
        let (base_left, air_left, wall_left) =
            (left(settles), left(oven.air_recovers_s), left(oven.wall_recovers_s));
        let middle = target + (self.base - target) * base_left;
        let air_drop = self.air_drop * air_left;
        let wall_drop = self.wall_drop * wall_left;
        let vapour = self.vapour_after(half, stage);
        let moment = Moment {
            air: middle - air_drop,
            wall: middle - wall_drop,
            vapour_pa: vapour.at_most(1000.0 * oven.pressure.0),
        };
        self.vapour = self.vapour_after(dt, stage);
        self.base = target + (self.base - target) * (base_left * base_left);
        self.air_drop *= air_left * air_left;
        self.wall_drop *= wall_left * wall_left;
        self.t += dt;
        moment
    }

    /// Vapour a part of a step on: steam pushes air out, leaks let it in.
    ///
    /// ```text
    /// V dy/dt = S (1 − y) − L (y − y_dry)     y = p_v/p
    /// ```
    #[inline(always)]
    fn vapour_after(&self, dt: f64, stage: &Stage) -> L {
        let oven = &self.oven;
        let p = 1000.0 * oven.pressure.0;
        let dry = 1000.0 * oven.dry.0;
        let mut leak = oven.leak_l_per_s;
        if stage.vent {
            leak *= 2.0;
        }
        if stage.door == Door::Ajar {
            leak *= 5.0;
        }
        let mut from = self.vapour;
        let mut left = dt;
        if let Steam::Held { pressure, minutes } = stage.steam {
            let held = 1000.0 * pressure.0.clamp(0.0, oven.pressure.0);
            let end = 60.0 * minutes.0;
            if self.t + dt < end {
                return L::splat(held.max(dry));
            }
            if self.t < end {
                from = L::splat(held.max(dry));
                left = self.t + dt - end;
            }
        }
        let kelvin = self.base + ZERO_CELSIUS_K;
        let litres_per_gram = kelvin * (VAPOUR_GAS_CONSTANT / p); // J/(kg Pa) is m³/kg, L/g
        let steam = litres_per_gram * stage.steam.grams_per_s(self.t + 0.5 * dt);
        let end = (steam * p + leak * dry) / (steam + leak);
        end + (from - end) * exp((steam + leak) * (-left / oven.litres))
    }
}

/// The inside of a pot under its lid, or one in each lane.
#[derive(Debug, Clone)]
pub(crate) struct Covered<L = f64> {
    /// Pot, °C.
    pub(crate) t: L,
    /// Vapour, Pa.
    pub(crate) vapour: L,
    heat: f64,
    outside: L,
}

/// Convection under a lid, W/(m² K): still, small, no draught. *Calibrated*.
pub(crate) const LID_CONVECTION: f64 = 3.0;
/// Emissivity under a lid: the pot is near and all around. *From memory*.
pub(crate) const LID_EMISSIVITY: f64 = 0.9;
/// Emissivity with the lid off: the rim shades the sides. *Calibrated*.
pub(crate) const RIM_EMISSIVITY: f64 = 0.7;
/// Vapour under a lid, Pa: the bread's own steam, with some air that stays. Ours.
const LID_VAPOUR_PA: f64 = 80e3;
/// Time in which it fills, s. Ours: 5 L at that pressure hold 2.3 g, and a loaf of 900 g gives
/// off some 0.04 g/s in its first minutes.
const LID_FILLS_S: f64 = 60.0;

impl<L: Lanes> Covered<L> {
    pub(crate) fn new(pot: &Pot, oven: L, oven_transfer: L) -> Self {
        let sound = |x: f64, lo: f64, hi: f64| if x >= lo { x.min(hi) } else { lo };
        Self {
            t: pot.start.map_or(oven, |t| L::splat(sound(t.0, -20.0, 400.0))),
            vapour: L::splat(1000.0),
            heat: sound(pot.mass.0, 100.0, 1e5) / 1000.0 * sound(pot.cp, 100.0, 2000.0),
            outside: oven_transfer * sound(pot.surface_m2, 0.01, 2.0),
        }
    }

    /// Moves on by `dt` seconds with the oven at `oven`, giving `watts` to the loaf.
    #[inline(always)]
    pub(crate) fn step(&mut self, dt: f64, oven: L, watts: L, pressure_pa: f64) {
        let settle = exp(self.outside * (-dt / self.heat));
        let end = oven - watts / self.outside;
        self.t = (end + (self.t - end) * settle).within(-20.0, 600.0);
        let full = LID_VAPOUR_PA.min(0.8 * pressure_pa);
        self.vapour = (self.vapour - full) * exp(-dt / LID_FILLS_S) + full;
    }
}

/// Wait between loads until the stone is within `within` of the oven, after a load that
/// cooled it by `sag` on average; both faces free, door shut.
pub fn recovery(slab: &Slab, oven: Celsius, sag: TempRise, within: TempRise) -> Option<Minutes> {
    slab.time_to_heat(oven, oven - sag, within)
}

/// How long an oven and its hearth heat before the first load: the oven's own climb at
/// `kelvin_per_minute` (home ovens 8 to 15), then the slab to within 10 K.
///
/// The slab begins to warm while the oven climbs; two thirds of the climb are counted as lost
/// to it (ours).
pub fn preheat(
    slab: Option<&Slab>,
    oven: Celsius,
    room: Celsius,
    kelvin_per_minute: f64,
) -> Option<Minutes> {
    let rate = if kelvin_per_minute > 0.1 { kelvin_per_minute } else { 0.1 };
    let climb = (oven - room).0.max(0.0) / rate;
    match slab {
        None => Some(Minutes(climb)),
        Some(slab) => {
            let soak = slab.time_to_heat(oven, room, TempRise(10.0))?;
            Some(Minutes((2.0 / 3.0) * climb + soak.0))
        }
    }
}
