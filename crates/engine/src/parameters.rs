//! The numbers of the dough: organisms, flours, constants, each with its source in `data/`.
//!
//! A parameter set names the rows it uses. `first` is the model as first specified;
//! `mended` is the set in use, with the reason for each changed number beside it in
//! `data/organisms/mended.toml`, `data/flours/mended.toml` and
//! `data/parameters/mended.toml`. Every structural term that `mended` adds is switched by
//! a parameter that is neutral in `first`, so one kernel runs both.

use crate::flour::{Flour, Grain};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::OnceLock;

/// A yeast: how it grows in dough and what it makes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Yeast<L = f64> {
    /// Cardinal temperatures of growth: none below, optimum, none above, °C.
    pub growth_temp_deg_c: [L; 3],
    /// Power on the growth curve above its optimum; 1 is the plain cardinal curve.
    pub growth_hot_exponent: L,
    /// Cardinal temperatures of fermentation without growth, °C.
    pub metabolism_temp_deg_c: [L; 3],
    /// Specific growth rate with everything at its best, 1/h.
    pub mu_opt_per_h: L,
    /// Salt in the aqueous phase that stops growth, %.
    pub salt_max_percent: L,
    /// Shape of the salt effect: 1 − (N/Nmax)^exponent.
    pub salt_exponent: L,
    /// Undissociated acetic acid that stops it, mmol/L.
    pub acetic_stop_mmol_per_l: L,
    /// Hexose fermented per new cell mass, mmol/g.
    pub sugar_per_growth_mmol_per_g: L,
    /// Hexose fermented without growth, mmol/(g h).
    pub sugar_upkeep_mmol_per_g_h: L,
    /// Weight of maltose beside hexose; 0 for a maltose-negative yeast.
    pub maltose: L,
    /// Least readiness to ferment: gas comes before growth, 0..=1.
    pub gate: L,
    /// Hexose of half speed, mmol/kg dough.
    pub half_hexose_mmol_per_kg: L,
    /// Maltose of half speed, mmol/kg dough.
    pub half_maltose_mmol_per_kg: L,
    /// New dry cell mass a flour allows without air, g/kg flour.
    pub capacity_g_per_kg_flour: L,
    /// Readiness to grow when it comes into the dough (ripe starter, fresh block), 0..=1.
    pub fresh_readiness: L,
    /// How fast the lag ends, relative to growth; 1 is the plain lag.
    pub readiness_speed: L,
    /// Dry mass of a cell, pg.
    pub cell_pg: L,
}

/// A lactic acid bacterium of sourdough, heterofermentative.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bacterium<L = f64> {
    /// Cardinal temperatures of growth: none below, optimum, none above, °C.
    pub growth_temp_deg_c: [L; 3],
    /// Power on the growth curve above its optimum; 1 is the plain cardinal curve.
    pub growth_hot_exponent: L,
    /// Cardinal temperatures of acid without growth, °C.
    pub metabolism_temp_deg_c: [L; 3],
    /// Specific growth rate with everything at its best, 1/h.
    pub mu_opt_per_h: L,
    /// Salt in the aqueous phase that stops growth, %.
    pub salt_max_percent: L,
    /// Shape of the salt effect: 1 − (N/Nmax)^exponent.
    pub salt_exponent: L,
    /// Salt in the aqueous phase that stops acid without growth, %.
    pub metabolism_salt_max_percent: L,
    /// Cardinal pH of growth: none below, optimum, none above.
    pub growth_ph: [L; 3],
    /// pH at which acid without growth stops.
    pub metabolism_ph_stop: L,
    /// pH above the stop over which it comes to full speed.
    pub metabolism_ph_width: L,
    /// Lactate per new cell mass, mmol/g.
    pub lactate_per_growth_mmol_per_g: L,
    /// Lactate without growth, mmol/(g h).
    pub lactate_upkeep_mmol_per_g_h: L,
    /// Acetate per lactate at 30 °C and below in a dough of 65 %, mol/mol.
    pub acetate_per_lactate: L,
    /// Glucose left in the dough per maltose-born hexose used, mol/mol.
    pub glucose_excreted_per_maltose: L,
    /// Sugar (as hexose) of half speed, mmol/kg dough.
    pub half_sugar_mmol_per_kg: L,
    /// Dry cell mass a dough carries at most, g/kg flour.
    pub capacity_g_per_kg_flour: L,
    /// Readiness to grow at the peak of a ripe starter, 0..=1.
    pub ripe_readiness: L,
    /// How fast the lag ends, relative to growth; 1 is the plain lag.
    pub readiness_speed: L,
    /// Dry mass of a cell, pg.
    pub cell_pg: L,
}

/// What belongs to no organism and no flour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Constants {
    /// Hydration (added water per flour) below which fermentation slows.
    pub stiff_from_hydration: f64,
    /// Slowing per unit of hydration below that.
    pub stiff_slowing: f64,
    /// Temperature above which less acetate is made, °C.
    pub acetate_hot_from_deg_c: f64,
    /// Its fall, 1/K.
    pub acetate_hot_per_k: f64,
    /// More acetate per unit of hydration below the stiff bound.
    pub acetate_stiff: f64,
    /// pH below which a yeast loses readiness.
    pub acid_switch_ph: f64,
    /// Width of that switch; 0 is a step.
    pub acid_switch_width: f64,
    /// Loss of readiness of starved or soured cells at 25 °C, 1/h (doubles per 10 K).
    pub readiness_loss_per_h: f64,
    /// Readiness that is never lost.
    pub readiness_floor: f64,
    /// Attack of amylases on damaged starch at 25 °C, 1/h.
    pub starch_attack_per_h: f64,
    /// Its factor per 10 K.
    pub starch_attack_q10: f64,
    /// Leak of bubble gas from a young dough at 25 °C, 1/h (doubles per 10 K).
    pub leak_per_h: f64,
    /// Upper bound of the growth of the leak in an overfull dough, times.
    pub leak_cap: f64,
    /// Gas a strong dough of 70 % hydration holds before the leak doubles, per gas-free volume.
    pub gas_limit: f64,
    /// Fall of its logarithm per unit of hydration above 0.7.
    pub gas_limit_wet: f64,
    /// Weakening of gluten at 25 °C, 1/h (doubles per 10 K).
    pub weakening_per_h: f64,
    /// How many times more in a dough of pH 3.9 and below.
    pub weakening_acid: f64,
    /// Air beaten in by mixing, share of the dough volume.
    pub void_share: f64,
    /// Buffer of flour above its own pH, relative to below.
    pub tta_buffer: f64,
    /// Dissolved carbon dioxide of a preferment that survives mixing, share.
    pub dissolved_kept: f64,
}

/// What a flour brings to the dough, per kg as it comes from the sack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlourKinetics {
    /// Buffer capacity, mmol per pH.
    pub buffer: f64,
    /// pH of flour and water alone.
    pub ph: f64,
    /// Glucose, fructose, sucrose and glucofructans as hexose, mmol.
    pub hexose: f64,
    /// Maltose, mmol.
    pub maltose: f64,
    /// Starch that amylases can attack, as maltose, mmol.
    pub starch: f64,
    /// Amylase activity relative to the white row of the set.
    pub amylase: f64,
    /// Gas holding relative to the white row of the set.
    pub retention: f64,
}

/// A row of a flour file.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlourRow {
    /// Ash the row stands for, % of dry matter.
    pub ash_percent: f64,
    /// As [`FlourKinetics::buffer`].
    pub buffer_mmol_per_ph: f64,
    /// As [`FlourKinetics::ph`].
    pub ph: f64,
    /// As [`FlourKinetics::hexose`].
    pub hexose_mmol: f64,
    /// As [`FlourKinetics::maltose`].
    pub maltose_mmol: f64,
    /// As [`FlourKinetics::starch`].
    pub starch_mmol: f64,
    /// As [`FlourKinetics::amylase`].
    pub amylase: f64,
    /// As [`FlourKinetics::retention`].
    pub retention: f64,
}

impl FlourRow {
    /// The row moved to another ash along the line through `self` and `to`.
    fn toward(&self, to: &Self, ash: f64) -> Self {
        let x = (ash - self.ash_percent) / (to.ash_percent - self.ash_percent);
        let line = |a: f64, b: f64| a + x * (b - a);
        Self {
            ash_percent: ash,
            buffer_mmol_per_ph: line(self.buffer_mmol_per_ph, to.buffer_mmol_per_ph),
            ph: line(self.ph, to.ph),
            hexose_mmol: line(self.hexose_mmol, to.hexose_mmol),
            maltose_mmol: line(self.maltose_mmol, to.maltose_mmol),
            starch_mmol: line(self.starch_mmol, to.starch_mmol),
            amylase: line(self.amylase, to.amylase),
            retention: line(self.retention, to.retention),
        }
    }
}

/// Everything the fermentation kernel takes from outside.
#[derive(Debug, Clone, PartialEq)]
pub struct ParameterSet {
    /// `first` or `mended`; free for sets made by learning.
    pub name: String,
    /// The levain's bacterium.
    pub bacterium: Bacterium,
    /// The levain's yeast.
    pub levain_yeast: Yeast,
    /// Baker's yeast.
    pub bakers_yeast: Yeast,
    /// White wheat.
    pub white: FlourRow,
    /// Whole wheat.
    pub wholemeal: FlourRow,
    /// Wholemeal rye.
    pub rye: FlourRow,
    /// Everything else.
    pub other: FlourRow,
    /// The rest.
    pub constants: Constants,
}

/// Organism files by name.
const ORGANISMS: [(&str, &str); 3] = [
    ("ganzle1998", include_str!("../../../data/organisms/ganzle1998.toml")),
    ("salvado2011", include_str!("../../../data/organisms/salvado2011.toml")),
    ("mended", include_str!("../../../data/organisms/mended.toml")),
];
/// Flour files by name.
const FLOURS: [(&str, &str); 3] = [
    ("saunders1972", include_str!("../../../data/flours/saunders1972.toml")),
    ("estimated", include_str!("../../../data/flours/estimated.toml")),
    ("mended", include_str!("../../../data/flours/mended.toml")),
];
/// Parameter sets by name.
const SETS: [(&str, &str); 2] = [
    ("first", include_str!("../../../data/parameters/first.toml")),
    ("mended", include_str!("../../../data/parameters/mended.toml")),
];

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct OrganismFile {
    yeast: BTreeMap<String, Yeast>,
    bacterium: BTreeMap<String, Bacterium>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SetFile {
    bacterium: String,
    levain_yeast: String,
    bakers_yeast: String,
    white: String,
    wholemeal: String,
    rye: String,
    other: String,
    constants: Constants,
}

/// A parameter file that does not read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadParameters(pub String);

impl fmt::Display for BadParameters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}
impl std::error::Error for BadParameters {}

/// Splits `file/row` and finds the text of the file.
fn find<'a>(files: &[(&str, &'a str)], key: &'a str) -> Result<(&'a str, &'a str), BadParameters> {
    let (file, row) = key
        .split_once('/')
        .ok_or_else(|| BadParameters(format!("\"{key}\" is not of the form file/row")))?;
    let text = files.iter().find(|(name, _)| *name == file);
    text.map(|(_, text)| (*text, row))
        .ok_or_else(|| BadParameters(format!("no file \"{file}\" for \"{key}\"")))
}

fn read<T: serde::de::DeserializeOwned>(text: &str, key: &str) -> Result<T, BadParameters> {
    toml::from_str(text).map_err(|e| BadParameters(format!("{key}: {e}")))
}

fn take<T>(mut rows: BTreeMap<String, T>, row: &str) -> Result<T, BadParameters> {
    rows.remove(row).ok_or_else(|| BadParameters(format!("no row \"{row}\"")))
}

impl ParameterSet {
    /// The names of the embedded sets, oldest first.
    pub const NAMES: [&'static str; 2] = ["first", "mended"];

    /// An embedded set by name.
    pub fn named(name: &str) -> Option<&'static Self> {
        static LOADED: OnceLock<Vec<ParameterSet>> = OnceLock::new();
        let sets = LOADED.get_or_init(|| {
            SETS.iter()
                .map(|(name, text)| {
                    Self::from_toml(name, text)
                        // a unit test reads every embedded file, so this cannot fail in a build that passed
                        .unwrap_or_else(|e| unreachable!("embedded set {name}: {e}"))
                })
                .collect()
        });
        sets.iter().find(|set| set.name == name)
    }

    /// The set in use: `mended`.
    pub fn default_set() -> &'static Self {
        // both names stand in SETS
        Self::named("mended").unwrap_or_else(|| unreachable!("the set in use is embedded"))
    }

    /// Reads a set file; the rows it names come from the embedded organism and flour files.
    ///
    /// # Errors
    /// [`BadParameters`] with the file and what is wrong in it.
    pub fn from_toml(name: &str, text: &str) -> Result<Self, BadParameters> {
        let set: SetFile = read(text, name)?;
        let yeast = |key: &str| {
            let (text, row) = find(&ORGANISMS, key)?;
            take(read::<OrganismFile>(text, key)?.yeast, row)
        };
        let flour = |key: &str| {
            let (text, row) = find(&FLOURS, key)?;
            take(read::<BTreeMap<String, FlourRow>>(text, key)?, row)
        };
        let (text, row) = find(&ORGANISMS, &set.bacterium)?;
        Ok(Self {
            name: name.to_owned(),
            bacterium: take(read::<OrganismFile>(text, &set.bacterium)?.bacterium, row)?,
            levain_yeast: yeast(&set.levain_yeast)?,
            bakers_yeast: yeast(&set.bakers_yeast)?,
            white: flour(&set.white)?,
            wholemeal: flour(&set.wholemeal)?,
            rye: flour(&set.rye)?,
            other: flour(&set.other)?,
            constants: set.constants,
        })
    }

    /// What the kernel makes of a flour, per kg as it comes from the sack.
    ///
    /// Wheat, and spelt and durum for want of rows of their own, is read off the line
    /// through the white and the wholemeal row by its ash. Rye keeps the sugars of the
    /// wholemeal row; its buffer and amylases follow its ash with the slope of wheat. Other
    /// grains take their row as it stands. Ash is taken between 0.3 and 2.4 %, the
    /// falling number between 60 and 450 s: amylase goes with 250/falling number (ours).
    /// Sugars and buffer are scaled to the flour's moisture from the 14 % of the rows.
    /// Protein is not used: no measured link to gas holding was found that holds across flours.
    pub fn flour(&self, flour: &Flour) -> FlourKinetics {
        let ash = flour.ash.0.clamp(0.3, 2.4);
        let wheat = self.white.toward(&self.wholemeal, ash);
        let row = match flour.grain {
            Grain::Wheat | Grain::Spelt | Grain::Durum => wheat,
            Grain::Rye => {
                let like = self.white.toward(&self.wholemeal, self.rye.ash_percent);
                FlourRow {
                    buffer_mmol_per_ph: self.rye.buffer_mmol_per_ph + wheat.buffer_mmol_per_ph
                        - like.buffer_mmol_per_ph,
                    amylase: self.rye.amylase + wheat.amylase - like.amylase,
                    ..self.rye
                }
            }
            Grain::Other => self.other,
        };
        let dry = (1.0 - flour.moisture.fraction()).clamp(0.0, 1.0) / 0.86;
        FlourKinetics {
            buffer: row.buffer_mmol_per_ph * dry,
            ph: row.ph,
            hexose: row.hexose_mmol * dry,
            maltose: row.maltose_mmol * dry,
            starch: row.starch_mmol * dry,
            amylase: row.amylase * 250.0 / flour.falling_number_s.clamp(60.0, 450.0),
            retention: row.retention,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::Percent;

    #[test]
    fn every_embedded_file_reads() {
        for (name, text) in SETS {
            ParameterSet::from_toml(name, text).unwrap();
        }
        for (name, text) in ORGANISMS {
            read::<OrganismFile>(text, name).unwrap();
        }
        for (name, text) in FLOURS {
            read::<BTreeMap<String, FlourRow>>(text, name).unwrap();
        }
        assert_eq!(SETS.map(|(name, _)| name), ParameterSet::NAMES);
        assert_eq!(ParameterSet::default_set().name, "mended");
        assert!(ParameterSet::named("third").is_none());
    }

    #[test]
    fn refusals_name_file_and_row() {
        let (_, first) = SETS[0];
        let broken = first.replace("ganzle1998/kaz", "nowhere/kaz");
        let e = ParameterSet::from_toml("x", &broken).unwrap_err();
        assert_eq!(e.0, "no file \"nowhere\" for \"nowhere/kazachstania-humilis\"");
        assert!(ParameterSet::from_toml("x", "").is_err());
    }

    #[test]
    fn wheat_lies_on_the_line_between_white_and_wholemeal() {
        let set = ParameterSet::named("first").unwrap();
        let mut flour = Flour::white("T55");
        let white = set.flour(&flour);
        assert!((white.buffer - 20.0).abs() < 1e-12 && white.amylase == 1.0);
        flour.ash = Percent(1.7);
        let whole = set.flour(&flour);
        assert!((whole.buffer - 45.0).abs() < 1e-12 && (whole.retention - 0.7).abs() < 1e-12);
        flour.grain = Grain::Rye;
        assert!((set.flour(&flour).buffer - 42.0).abs() < 1e-12);
        flour.falling_number_s = 125.0;
        assert!((set.flour(&flour).amylase - 4.0).abs() < 1e-12);
    }
}
