//! Units as ingredient lines write them, and which measure a cup or a spoon is.

/// Whose cups and spoons are meant. They differ by a third, so they are never mixed silently.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spoons {
    /// US customary: cup 236.588 mL, tablespoon 14.787, teaspoon 4.929 (NIST Handbook 44).
    #[default]
    Us,
    /// Metric: cup 250 mL, tablespoon 15, teaspoon 5; pint and fluid ounce imperial (convention).
    Metric,
    /// Australian: as metric, but a tablespoon of 20 mL (convention).
    Au,
}

impl Spoons {
    /// All, with their names on the command line and in questions.
    pub const NAMES: [(&'static str, Self); 3] =
        [("us", Self::Us), ("metric", Self::Metric), ("au", Self::Au)];

    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, s)| *s == self).map_or("us", |(n, _)| n)
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Us => "US customary",
            Self::Metric => "metric",
            Self::Au => "Australian",
        }
    }
}

/// A unit of an ingredient line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// g.
    Gram,
    /// kg.
    Kilogram,
    /// mg.
    Milligram,
    /// Avoirdupois ounce.
    Ounce,
    /// Avoirdupois pound.
    Pound,
    /// Cup, of some measure.
    Cup,
    /// Tablespoon, of some measure.
    Tablespoon,
    /// Teaspoon, of some measure.
    Teaspoon,
    /// Fluid ounce, US or imperial.
    FluidOunce,
    /// Pint, US or imperial.
    Pint,
    /// Quart, US or imperial.
    Quart,
    /// mL.
    Millilitre,
    /// cL.
    Centilitre,
    /// dL.
    Decilitre,
    /// L.
    Litre,
    /// A sixteenth of a teaspoon: common practice, no source.
    Pinch,
    /// Counted things that have a usual weight: `packet`, `stick`, `clove`, `large`.
    Each(&'static str),
    /// A number of the thing itself.
    Number,
}

/// Spellings, lower case.
const SPELLINGS: &[(&str, Unit)] = &[
    ("g", Unit::Gram),
    ("gr", Unit::Gram),
    ("gm", Unit::Gram),
    ("gms", Unit::Gram),
    ("gram", Unit::Gram),
    ("grams", Unit::Gram),
    ("gramme", Unit::Gram),
    ("grammes", Unit::Gram),
    ("kg", Unit::Kilogram),
    ("kgs", Unit::Kilogram),
    ("kilo", Unit::Kilogram),
    ("kilos", Unit::Kilogram),
    ("kilogram", Unit::Kilogram),
    ("kilograms", Unit::Kilogram),
    ("mg", Unit::Milligram),
    ("oz", Unit::Ounce),
    ("ozs", Unit::Ounce),
    ("ounce", Unit::Ounce),
    ("ounces", Unit::Ounce),
    ("lb", Unit::Pound),
    ("lbs", Unit::Pound),
    ("pound", Unit::Pound),
    ("pounds", Unit::Pound),
    ("c", Unit::Cup),
    ("cup", Unit::Cup),
    ("cups", Unit::Cup),
    ("tbsp", Unit::Tablespoon),
    ("tbsps", Unit::Tablespoon),
    ("tbs", Unit::Tablespoon),
    ("tbl", Unit::Tablespoon),
    ("tblsp", Unit::Tablespoon),
    ("tablespoon", Unit::Tablespoon),
    ("tablespoons", Unit::Tablespoon),
    ("tsp", Unit::Teaspoon),
    ("tsps", Unit::Teaspoon),
    ("teaspoon", Unit::Teaspoon),
    ("teaspoons", Unit::Teaspoon),
    ("floz", Unit::FluidOunce),
    ("pt", Unit::Pint),
    ("pint", Unit::Pint),
    ("pints", Unit::Pint),
    ("qt", Unit::Quart),
    ("quart", Unit::Quart),
    ("quarts", Unit::Quart),
    ("ml", Unit::Millilitre),
    ("mls", Unit::Millilitre),
    ("cc", Unit::Millilitre),
    ("millilitre", Unit::Millilitre),
    ("millilitres", Unit::Millilitre),
    ("milliliter", Unit::Millilitre),
    ("milliliters", Unit::Millilitre),
    ("cl", Unit::Centilitre),
    ("dl", Unit::Decilitre),
    ("l", Unit::Litre),
    ("litre", Unit::Litre),
    ("litres", Unit::Litre),
    ("liter", Unit::Litre),
    ("liters", Unit::Litre),
    ("pinch", Unit::Pinch),
    ("pinches", Unit::Pinch),
    ("dash", Unit::Each("dash")),
    ("dashes", Unit::Each("dash")),
    ("packet", Unit::Each("packet")),
    ("packets", Unit::Each("packet")),
    ("sachet", Unit::Each("packet")),
    ("sachets", Unit::Each("packet")),
    ("envelope", Unit::Each("packet")),
    ("envelopes", Unit::Each("packet")),
    ("pkg", Unit::Each("packet")),
    ("stick", Unit::Each("stick")),
    ("sticks", Unit::Each("stick")),
    ("clove", Unit::Each("clove")),
    ("cloves", Unit::Each("clove")),
    ("cake", Unit::Each("cake")),
    ("cakes", Unit::Each("cake")),
    ("large", Unit::Each("large")),
    ("medium", Unit::Each("medium")),
    ("small", Unit::Each("small")),
    ("jumbo", Unit::Each("jumbo")),
];

impl Unit {
    /// The unit at the beginning of a text, and how many bytes of it that takes. A capital T is a
    /// tablespoon, a small t a teaspoon.
    pub(crate) fn at(text: &str) -> Option<(Self, usize)> {
        let word_end = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
        let word = &text[..word_end];
        if word.is_empty() || word.len() > 12 {
            return None;
        }
        // an abbreviation's own full stop belongs to it
        let dotted = |end: usize| end + usize::from(text[end..].starts_with('.'));
        let end = dotted(word_end);
        match word {
            "T" => return Some((Self::Tablespoon, end)),
            "t" => return Some((Self::Teaspoon, end)),
            _ => {}
        }
        let lower = word.to_lowercase();
        if lower == "fl" || lower == "fluid" {
            let rest = text[end..].trim_start();
            return match Self::at(rest) {
                Some((Self::Ounce, used)) => {
                    Some((Self::FluidOunce, text.len() - rest.len() + used))
                }
                _ => None,
            };
        }
        if lower == "extra" {
            let rest = text[end..].trim_start();
            return match Self::at(rest) {
                Some((Self::Each("large"), used)) => {
                    Some((Self::Each("extra large"), text.len() - rest.len() + used))
                }
                _ => None,
            };
        }
        let unit = SPELLINGS.iter().find(|(name, _)| *name == lower)?.1;
        // "oz." keeps its stop, "2 cloves." ends a sentence: either way it says nothing
        Some((unit, end))
    }

    /// Grams of one, for units of mass; exact (NIST SP 811).
    pub fn grams(self) -> Option<f64> {
        match self {
            Self::Gram => Some(1.0),
            Self::Kilogram => Some(1000.0),
            Self::Milligram => Some(0.001),
            Self::Ounce => Some(28.349_523_125),
            Self::Pound => Some(453.592_37),
            _ => None,
        }
    }

    /// Millilitres of one, for units of volume. US measures: NIST Handbook 44; imperial: UK
    /// Weights and Measures; metric and Australian cups and spoons: convention.
    pub fn millilitres(self, spoons: Spoons) -> Option<f64> {
        let us = spoons == Spoons::Us;
        match self {
            Self::Cup => Some(if us { 236.588_236_5 } else { 250.0 }),
            Self::Tablespoon => Some(match spoons {
                Spoons::Us => 14.786_764_781_25,
                Spoons::Metric => 15.0,
                Spoons::Au => 20.0,
            }),
            Self::Teaspoon => Some(if us { 4.928_921_593_75 } else { 5.0 }),
            Self::Pinch => Some(if us { 4.928_921_593_75 } else { 5.0 } / 16.0),
            Self::FluidOunce => Some(if us { 29.573_529_562_5 } else { 28.413_062_5 }),
            Self::Pint => Some(if us { 473.176_473 } else { 568.261_25 }),
            Self::Quart => Some(if us { 946.352_946 } else { 1_136.522_5 }),
            Self::Millilitre => Some(1.0),
            Self::Centilitre => Some(10.0),
            Self::Decilitre => Some(100.0),
            Self::Litre => Some(1000.0),
            _ => None,
        }
    }

    /// Whether its size depends on whose measures are meant.
    pub fn depends_on_spoons(self) -> bool {
        self.millilitres(Spoons::Us) != self.millilitres(Spoons::Au)
    }

    /// How good a measure it is of what is weighed: mass, then fixed volumes, then cups and
    /// spoons, then counting. Small is better.
    pub(crate) fn rank(self) -> u8 {
        match self {
            u if u.grams().is_some() => 0,
            u if u.depends_on_spoons() => 2,
            u if u.millilitres(Spoons::Us).is_some() => 1,
            _ => 3,
        }
    }

    /// Its name in sentences.
    pub fn name(self) -> &'static str {
        match self {
            Self::Gram => "g",
            Self::Kilogram => "kg",
            Self::Milligram => "mg",
            Self::Ounce => "oz",
            Self::Pound => "lb",
            Self::Cup => "cup",
            Self::Tablespoon => "tablespoon",
            Self::Teaspoon => "teaspoon",
            Self::FluidOunce => "fluid ounce",
            Self::Pint => "pint",
            Self::Quart => "quart",
            Self::Millilitre => "mL",
            Self::Centilitre => "cL",
            Self::Decilitre => "dL",
            Self::Litre => "L",
            Self::Pinch => "pinch",
            Self::Each(word) => word,
            Self::Number => "piece",
        }
    }
}
