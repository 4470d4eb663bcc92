//! Mixing: from masses in a bowl to a dough per kg.

use super::{Composition, Dough, NO_CELLS, Organisms, State};
use crate::flour::Flour;
use crate::gas;
use crate::numerics::lanes::{Lanes, Mask, exp, ln};
use crate::parameters::{Bacterium, FlourKinetics, ParameterSet, Yeast};
use quantity::{Celsius, Grams, Kilopascal, Percent};
use std::fmt;

/// Volume of flour in dough, L/kg: density 1.45 kg/L.
const FLOUR_VOLUME: f64 = 1.0 / 1.45;
/// Volume of salt, L/kg.
const SALT_VOLUME: f64 = 1.0 / 2.16;
/// Density of the dry matter of additions when the recipe does not say, kg/L.
const OTHER_DENSITY: f64 = 1.4;
/// Dry matter of compressed yeast.
const FRESH_YEAST_DRY: f64 = 0.30;
/// Density of yeast cells, kg/L.
const YEAST_DENSITY: f64 = 1.1;
/// Share of nitrogen in air.
const NITROGEN: f64 = 0.79;

/// Something in the mix that is neither flour, water, salt nor yeast: milk, seeds, sugar, butter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Other {
    /// Its mass.
    pub mass: Grams,
    /// Its water; joins the water of the dough.
    pub water: Percent,
    /// Sugar that yeast and bacteria can use, counted as hexose.
    pub fermentable_sugar: Percent,
    /// Density of its dry matter, kg/L; 1.4 when unknown.
    pub density: Option<f64>,
}

/// What goes into the bowl.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// Flours with their masses.
    pub flours: Vec<(Flour, Grams)>,
    /// Water.
    pub water: Grams,
    /// Salt.
    pub salt: Grams,
    /// Compressed baker's yeast, 30 % dry matter.
    pub fresh_yeast: Grams,
    /// Everything else.
    pub others: Vec<Other>,
    /// Starters, levains, autolysed or old dough, with the masses used.
    pub preferments: Vec<(Dough, Grams)>,
    /// Temperature of the mixed dough.
    pub temperature: Celsius,
    /// Pressure of the room.
    pub pressure: Kilopascal,
}

impl Mix {
    /// Nothing but a temperature, at sea level.
    pub fn empty(temperature: Celsius) -> Self {
        Self {
            flours: Vec::new(),
            water: Grams(0.0),
            salt: Grams(0.0),
            fresh_yeast: Grams(0.0),
            others: Vec::new(),
            preferments: Vec::new(),
            temperature,
            pressure: Kilopascal(101.325),
        }
    }
}

/// Why a mix is no dough.
#[derive(Debug, Clone, PartialEq)]
pub enum MixError {
    /// A mass or a property that is negative, not a number or infinite.
    BadAmount {
        /// What it belongs to.
        what: String,
        /// As given.
        value: f64,
    },
    /// No flour, neither fresh nor in a preferment.
    NoFlour,
    /// No water at all, not even in the flour.
    NoWater,
}

impl fmt::Display for MixError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadAmount { what, value } => {
                write!(f, "{what} is {value}: it must be a finite number, not below zero")
            }
            Self::NoFlour => f.write_str("there is no flour in the mix"),
            Self::NoWater => f.write_str("there is no water in the mix"),
        }
    }
}
impl std::error::Error for MixError {}

fn amount(what: &str, value: f64) -> Result<f64, MixError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(MixError::BadAmount { what: what.to_owned(), value })
    }
}

/// Weighted mean of two rows, field by field; exact when they are equal or one has no weight.
macro_rules! mean_of {
    ($t:ident: $($f:ident),*; $($v:ident),*) => {
        impl<L: Lanes> $t<L> {
            fn mean(&self, own: L, other: &Self, share: L) -> Self {
                if self == other { return *self; }
                let zero = L::splat(0.0);
                let m = |a: L, b: L| {
                    let mean = (own * a + share * b) / (own + share);
                    let mean = L::select(own.same(zero), b, mean);
                    L::select(a.same(b) | share.same(zero), a, mean)
                };
                let m3 = |a: [L; 3], b: [L; 3]| [m(a[0], b[0]), m(a[1], b[1]), m(a[2], b[2])];
                Self { $($f: m(self.$f, other.$f),)* $($v: m3(self.$v, other.$v),)* }
            }
        }
    };
}
mean_of!(Yeast: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    acetic_stop_mmol_per_l, sugar_per_growth_mmol_per_g, sugar_upkeep_mmol_per_g_h, maltose, gate,
    half_hexose_mmol_per_kg, half_maltose_mmol_per_kg, capacity_g_per_kg_flour, fresh_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c);
mean_of!(Bacterium: growth_hot_exponent, mu_opt_per_h, salt_max_percent, salt_exponent,
    metabolism_salt_max_percent, metabolism_ph_stop, metabolism_ph_width,
    lactate_per_growth_mmol_per_g, lactate_upkeep_mmol_per_g_h, acetate_per_lactate,
    glucose_excreted_per_maltose, half_sugar_mmol_per_kg, capacity_g_per_kg_flour, ripe_readiness,
    readiness_speed, cell_pg; growth_temp_deg_c, metabolism_temp_deg_c, growth_ph);

/// Cells as they are put together from several sources.
struct Pool<R, L> {
    row: R,
    cells: L,
    readiness: L,
    vigour: L,
    mixed: bool,
}

impl<R: Copy + PartialEq, L: Lanes> Pool<R, L> {
    fn new(row: R) -> Self {
        let zero = L::splat(0.0);
        Self { row, cells: zero, readiness: zero, vigour: L::splat(1.0), mixed: false }
    }
    fn add(&mut self, mean: fn(&R, L, &R, L) -> R, row: &R, cells: L, a: L, vigour: L) {
        let zero = L::splat(0.0);
        let some = cells.above(L::splat(NO_CELLS));
        if !some.any() {
            return;
        }
        let cells = L::select(some, cells, zero);
        self.mixed |= self.cells.above(zero).any() && self.row != *row;
        self.row = mean(&self.row, self.cells, row, cells);
        let all = self.cells + cells;
        let pooled = |own: L, added: L| {
            let mean = (own * self.cells + added * cells) / all;
            let mean = L::select(self.cells.same(zero) | own.same(added), added, mean);
            L::select(some, mean, own)
        };
        self.readiness = pooled(self.readiness, a);
        self.vigour = pooled(self.vigour, vigour);
        self.cells = all;
    }
}

/// How the flour of a lane differs from its row: two sacks of one type do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sack<L> {
    /// Factor on the amylases.
    pub(crate) amylase: L,
    /// Factor on the buffer.
    pub(crate) buffer: L,
    /// Factor on the holding of gas.
    pub(crate) retention: L,
    /// Water that comes with fresh flour beyond what is written, over its mass.
    pub(crate) water: L,
}

impl<L: Lanes> Sack<L> {
    /// As its row.
    pub(crate) fn usual() -> Self {
        let one = L::splat(1.0);
        Self { amylase: one, buffer: one, retention: one, water: L::splat(0.0) }
    }
}

impl Dough {
    /// Mixes a dough from its ingredients; amounts come out per kg.
    ///
    /// Cells, sugars, acids and composition add up by mass. A preferment loses its bubbles
    /// and a tenth of its dissolved gas; air is beaten in. Two yeasts become one pool with the
    /// mean of their parameters by cell mass, an approximation that
    /// [`Organisms::mixed_yeasts`] marks. A mix without any organisms is legal and stays dead.
    ///
    /// The reference volume of [`rise`](Self::rise) is that of the fresh dough.
    ///
    /// # Errors
    /// [`MixError`] on amounts that are no amounts, and without flour or water.
    pub fn mix(mix: &Mix, set: &ParameterSet) -> Result<Self, MixError> {
        let ripe: Vec<(&Self, f64)> = mix.preferments.iter().map(|(d, m)| (d, m.0)).collect();
        Self::mix_with(mix, &ripe, mix.temperature.0, &Sack::usual(), set)
    }
}

impl<L: Lanes> Dough<L> {
    /// As [`mix`](Dough::mix), with preferments (and their masses, g), temperature and flour by lane
    /// instead of the mix's own.
    pub(crate) fn mix_with(
        mix: &Mix,
        preferments: &[(&Self, L)],
        temperature: L,
        sack: &Sack<L>,
        set: &ParameterSet,
    ) -> Result<Self, MixError> {
        if let Some(value) = (0..L::N).map(|i| temperature.lane(i)).find(|t| !t.is_finite()) {
            return Err(MixError::BadAmount { what: "the temperature".to_owned(), value });
        }
        let pressure = amount("the pressure of the room", mix.pressure.0)? / 101.325;
        let mut known = amount("the water", mix.water.0)?
            + amount("the salt", mix.salt.0)?
            + amount("the yeast", mix.fresh_yeast.0)?;
        for (flour, mass) in &mix.flours {
            let of = |what: &str| format!("the {what} of {}", flour.name);
            known += amount(&flour.name, mass.0)?;
            amount(&of("ash"), flour.ash.0)?;
            amount(&of("falling number"), flour.falling_number_s)?;
            let moisture = amount(&of("moisture"), flour.moisture.0)?;
            if moisture > 100.0 {
                return Err(MixError::BadAmount { what: of("moisture"), value: moisture });
            }
        }
        for other in &mix.others {
            known += amount("an addition", other.mass.0)?;
            amount("the water of an addition", other.water.0)?;
            amount("the sugar of an addition", other.fermentable_sugar.0)?;
            if let Some(density) = other.density
                && !(density.is_finite() && density > 0.0)
            {
                let what = "the density of an addition".to_owned();
                return Err(MixError::BadAmount { what, value: density });
            }
        }
        let flour: f64 = mix.flours.iter().map(|(_, mass)| mass.0).sum();
        // never more taken away than is poured
        let more_water = (sack.water * flour).at_least(-mix.water.0);
        let mut total = more_water + known;
        for (_, mass) in preferments {
            for i in 0..L::N {
                amount("a preferment", mass.lane(i))?;
            }
            total += *mass;
        }
        let weighs = total.above(L::splat(0.0));
        let share = |mass: L| L::select(weighs, mass / total, L::splat(0.0));
        let per_kg = |mass: Grams| share(L::splat(mass.0));

        let mut c = Composition { pressure_atm: L::splat(pressure), ..Composition::default() };
        let mut s = State::default();
        let mut fresh_flour = L::splat(0.0);
        let mut growth_left = L::splat(0.0); // of capacity, as kg flour
        let mut yeast = Pool::new(Yeast::splat(&set.levain_yeast));
        let mut lab = Pool::new(Bacterium::splat(&set.bacterium));

        for (dough, mass) in preferments {
            let x = share(*mass);
            let (d, from, o) = (&dough.composition, &dough.state, &dough.organisms);
            c.flour += x * d.flour;
            c.water += x * d.water;
            c.salt += x * d.salt;
            c.other += x * d.other;
            c.total_water += x * d.total_water;
            c.volume += x * d.volume;
            c.buffer += x * d.buffer;
            c.ph0 += x * d.flour * d.ph0;
            c.amylase += x * d.flour * d.amylase;
            c.retention += x * d.flour * d.retention;
            s.maltose += x * from.maltose.at_least(0.0);
            s.hexose += x * from.hexose.at_least(0.0);
            s.starch += x * from.starch.at_least(0.0);
            s.lactate += x * from.lactate;
            s.acetate += x * from.acetate;
            s.ethanol += x * from.ethanol;
            growth_left += x * from.growth_left.at_least(0.0) / o.yeast.capacity_g_per_kg_flour;
            let solvent = gas::solubility_at(temperature) * d.total_water * pressure;
            let bubbles = gas::in_bubbles(from.co2, from.nitrogen, solvent);
            let dissolved = (from.co2 - bubbles).at_least(0.0);
            s.co2 += x * dissolved * set.constants.dissolved_kept;
            let (y, l) = (x * exp(from.ln_yeast), x * exp(from.ln_lab));
            yeast.add(Yeast::mean, &o.yeast, y, from.yeast_readiness, o.yeast_vigour);
            yeast.mixed |= o.mixed_yeasts && y.above(L::splat(NO_CELLS)).any();
            lab.add(Bacterium::mean, &o.lab, l, from.lab_readiness, o.lab_vigour);
        }
        for (flour, mass) in mix.flours.iter().filter(|(_, mass)| mass.0 > 0.0) {
            let x = per_kg(*mass);
            let k: FlourKinetics = set.flour(flour);
            fresh_flour += x;
            c.flour += x;
            c.total_water += x * flour.moisture.fraction();
            c.volume += x * FLOUR_VOLUME;
            c.buffer += x * k.buffer * sack.buffer;
            c.ph0 += x * k.ph;
            c.amylase += x * k.amylase * sack.amylase;
            c.retention += x * k.retention * sack.retention;
            s.maltose += x * k.maltose;
            s.hexose += x * k.hexose;
            s.starch += x * k.starch;
        }
        if !c.flour.above(L::splat(0.0)).all() {
            return Err(MixError::NoFlour);
        }
        for other in &mix.others {
            let x = per_kg(other.mass);
            let water = x * other.water.fraction().min(1.0);
            let dry = x - water;
            c.water += water;
            c.total_water += water;
            c.other += dry;
            c.volume += water + dry / other.density.unwrap_or(OTHER_DENSITY);
            s.hexose += x * (other.fermentable_sugar.fraction().min(1.0) * 1e6 / 180.16);
        }
        let block = per_kg(mix.fresh_yeast);
        let cells = block * FRESH_YEAST_DRY;
        c.other += cells;
        c.volume += cells / YEAST_DENSITY;
        let baker = Yeast::splat(&set.bakers_yeast);
        let fresh = baker.fresh_readiness;
        yeast.add(Yeast::mean, &baker, cells * 1000.0, fresh, L::splat(1.0));
        let water = share(more_water + mix.water.0) + block - cells;
        let salt = per_kg(mix.salt);
        c.water += water;
        c.total_water += water;
        c.salt += salt;
        c.volume += water + salt * SALT_VOLUME;
        if !c.total_water.above(L::splat(0.0)).all() {
            return Err(MixError::NoWater);
        }
        c.hydration = c.water / c.flour;
        c.salt_in_water = c.salt * 100.0 / (c.salt + c.total_water);
        c.ph0 = c.ph0 / c.flour;
        c.amylase = c.amylase / c.flour;
        c.retention = c.retention / c.flour;

        s.ln_yeast = ln(yeast.cells.at_least(NO_CELLS));
        s.ln_lab = ln(lab.cells.at_least(NO_CELLS));
        s.yeast_readiness = yeast.readiness;
        s.lab_readiness = lab.readiness;
        s.growth_left = (growth_left + fresh_flour) * yeast.row.capacity_g_per_kg_flour;
        let void = c.volume * (set.constants.void_share / (1.0 - set.constants.void_share));
        s.nitrogen = void * (NITROGEN * pressure)
            / ((temperature + 273.15).at_least(1.0) * gas::GAS_CONSTANT);
        let mut dough = Self {
            composition: c,
            state: s,
            organisms: Organisms {
                yeast: yeast.row,
                lab: lab.row,
                yeast_vigour: yeast.vigour,
                lab_vigour: lab.vigour,
                mixed_yeasts: yeast.mixed,
            },
            constants: set.constants,
            reference_volume: L::splat(1.0),
            last_ph: c.ph0,
        };
        dough.last_ph = dough.acidity_now();
        dough.mark_at(temperature);
        Ok(dough)
    }
}
