//! Mixing: from masses in a bowl to a dough per kg.

use super::{Composition, Dough, NO_CELLS, Organisms, State};
use crate::flour::Flour;
use crate::gas;
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

/// Weighted mean of two rows, field by field; exact when they are equal.
macro_rules! mean_of {
    ($t:ident: $($f:ident),*; $($v:ident),*) => {
        impl $t {
            fn mean(&self, own: f64, other: &Self, share: f64) -> Self {
                if self == other || share == 0.0 { return *self; }
                if own == 0.0 { return *other; }
                let m = |a: f64, b: f64| (own * a + share * b) / (own + share);
                let m3 = |a: [f64; 3], b: [f64; 3]| [m(a[0], b[0]), m(a[1], b[1]), m(a[2], b[2])];
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
struct Pool<R> {
    row: R,
    cells: f64,
    readiness: f64,
    vigour: f64,
    mixed: bool,
}

impl<R: Copy + PartialEq> Pool<R> {
    fn new(row: R) -> Self {
        Self { row, cells: 0.0, readiness: 0.0, vigour: 1.0, mixed: false }
    }
    fn add(&mut self, mean: fn(&R, f64, &R, f64) -> R, row: &R, cells: f64, a: f64, vigour: f64) {
        if cells <= NO_CELLS {
            return;
        }
        self.mixed |= self.cells > 0.0 && self.row != *row;
        self.row = mean(&self.row, self.cells, row, cells);
        let all = self.cells + cells;
        self.readiness = (self.readiness * self.cells + a * cells) / all;
        self.vigour = if self.cells == 0.0 || self.vigour == vigour {
            vigour
        } else {
            (self.vigour * self.cells + vigour * cells) / all
        };
        self.cells = all;
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
        let temp = mix.temperature;
        if !temp.0.is_finite() {
            return Err(MixError::BadAmount { what: "the temperature".to_owned(), value: temp.0 });
        }
        let pressure_atm = amount("the pressure of the room", mix.pressure.0)? / 101.325;
        let mut total = amount("the water", mix.water.0)?
            + amount("the salt", mix.salt.0)?
            + amount("the yeast", mix.fresh_yeast.0)?;
        for (flour, mass) in &mix.flours {
            total += amount(&flour.name, mass.0)?;
            amount(&format!("the ash of {}", flour.name), flour.ash.0)?;
            amount(&format!("the falling number of {}", flour.name), flour.falling_number_s)?;
            let moisture = amount(&format!("the moisture of {}", flour.name), flour.moisture.0)?;
            if moisture > 100.0 {
                let what = format!("the moisture of {}", flour.name);
                return Err(MixError::BadAmount { what, value: moisture });
            }
        }
        for other in &mix.others {
            total += amount("an addition", other.mass.0)?;
            amount("the water of an addition", other.water.0)?;
            amount("the sugar of an addition", other.fermentable_sugar.0)?;
            if let Some(density) = other.density
                && !(density.is_finite() && density > 0.0)
            {
                let what = "the density of an addition".to_owned();
                return Err(MixError::BadAmount { what, value: density });
            }
        }
        for (_, mass) in &mix.preferments {
            total += amount("a preferment", mass.0)?;
        }
        let per_kg = |mass: Grams| mass.0 / total;

        let mut c = Composition {
            flour: 0.0,
            water: 0.0,
            salt: 0.0,
            other: 0.0,
            total_water: 0.0,
            hydration: 0.0,
            salt_in_water: 0.0,
            volume: 0.0,
            buffer: 0.0,
            ph0: 0.0,
            amylase: 0.0,
            retention: 0.0,
            pressure_atm,
        };
        let mut s = State::default();
        let mut fresh_flour = 0.0;
        let mut growth_left = 0.0; // of capacity, as kg flour
        let mut yeast = Pool::new(set.levain_yeast);
        let mut lab = Pool::new(set.bacterium);

        for (dough, mass) in &mix.preferments {
            let x = per_kg(*mass);
            if x == 0.0 {
                continue;
            }
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
            s.maltose += x * from.maltose.max(0.0);
            s.hexose += x * from.hexose.max(0.0);
            s.starch += x * from.starch.max(0.0);
            s.lactate += x * from.lactate;
            s.acetate += x * from.acetate;
            s.ethanol += x * from.ethanol;
            growth_left += x * from.growth_left.max(0.0) / o.yeast.capacity_g_per_kg_flour;
            let solvent = gas::solubility(temp) * d.total_water * pressure_atm;
            let dissolved = (from.co2 - gas::in_bubbles(from.co2, from.nitrogen, solvent)).max(0.0);
            s.co2 += x * set.constants.dissolved_kept * dissolved;
            let (y, l) = (x * libm::exp(from.ln_yeast), x * libm::exp(from.ln_lab));
            yeast.add(Yeast::mean, &o.yeast, y, from.yeast_readiness, o.yeast_vigour);
            yeast.mixed |= o.mixed_yeasts && y > NO_CELLS;
            lab.add(Bacterium::mean, &o.lab, l, from.lab_readiness, o.lab_vigour);
        }
        for (flour, mass) in &mix.flours {
            let x = per_kg(*mass);
            if x == 0.0 || !x.is_finite() {
                continue;
            }
            let k: FlourKinetics = set.flour(flour);
            fresh_flour += x;
            c.flour += x;
            c.total_water += x * flour.moisture.fraction();
            c.volume += x * FLOUR_VOLUME;
            c.buffer += x * k.buffer;
            c.ph0 += x * k.ph;
            c.amylase += x * k.amylase;
            c.retention += x * k.retention;
            s.maltose += x * k.maltose;
            s.hexose += x * k.hexose;
            s.starch += x * k.starch;
        }
        if c.flour <= 0.0 {
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
            s.hexose += x * other.fermentable_sugar.fraction().min(1.0) * 1e6 / 180.16;
        }
        let block = per_kg(mix.fresh_yeast);
        let cells = block * FRESH_YEAST_DRY;
        c.other += cells;
        c.volume += cells / YEAST_DENSITY;
        let baker = &set.bakers_yeast;
        yeast.add(Yeast::mean, baker, cells * 1000.0, baker.fresh_readiness, 1.0);
        let water = per_kg(mix.water) + block - cells;
        let salt = per_kg(mix.salt);
        c.water += water;
        c.total_water += water;
        c.salt += salt;
        c.volume += water + salt * SALT_VOLUME;
        if c.total_water <= 0.0 {
            return Err(MixError::NoWater);
        }
        c.hydration = c.water / c.flour;
        c.salt_in_water = 100.0 * c.salt / (c.salt + c.total_water);
        c.ph0 /= c.flour;
        c.amylase /= c.flour;
        c.retention /= c.flour;

        s.ln_yeast = libm::log(yeast.cells.max(NO_CELLS));
        s.ln_lab = libm::log(lab.cells.max(NO_CELLS));
        s.yeast_readiness = yeast.readiness;
        s.lab_readiness = lab.readiness;
        s.growth_left = (growth_left + fresh_flour) * yeast.row.capacity_g_per_kg_flour;
        let void = set.constants.void_share / (1.0 - set.constants.void_share) * c.volume;
        s.nitrogen =
            NITROGEN * void * pressure_atm / (gas::GAS_CONSTANT * (temp.0 + 273.15).max(1.0));
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
            reference_volume: 1.0,
            last_ph: c.ph0,
        };
        dough.last_ph = dough.ph().0;
        dough.mark(temp);
        Ok(dough)
    }
}
