//! Reading quantities as people write them: a number and its unit.

use crate::{
    Celsius, Grams, Hours, Kilopascal, Metres, Millilitres, Millimetres, Minutes, Percent, Ph,
    TempRise,
};
use std::fmt;
use std::str::FromStr;

/// Why a text is not the quantity asked for, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParseError {
    /// What was wrong, with the text as given.
    pub message: String,
    /// What to write instead.
    pub hint: String,
}

impl fmt::Display for ParseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.message, self.hint)
    }
}
impl std::error::Error for ParseError {}

/// One accepted unit: its spellings, and value in the base unit = factor × number + offset.
struct Unit {
    names: &'static [&'static str],
    factor: f64,
    offset: f64,
}
const fn unit(names: &'static [&'static str], factor: f64) -> Unit {
    Unit { names, factor, offset: 0.0 }
}

/// What a type reads: its noun, an example, its units, and whether "2 h 30 min" adds up.
struct Reading {
    noun: &'static str,
    example: &'static str,
    units: &'static [Unit],
    compound: bool,
}

const MASS: Reading = Reading {
    noun: "a mass",
    example: "\"780 g\", \"1.2 kg\" or \"1 lb 11 oz\"",
    units: &[
        unit(&["g", "gram", "grams"], 1.0),
        unit(&["kg", "kilogram", "kilograms"], 1000.0),
        unit(&["mg"], 0.001),
        unit(&["oz", "ounce", "ounces"], 28.349_523_125), // exact, NIST SP 811
        unit(&["lb", "lbs", "pound", "pounds"], 453.592_37), // exact, NIST SP 811
    ],
    compound: true,
};
const TEMPERATURE: Reading = Reading {
    noun: "a temperature",
    example: "\"24 °C\" or \"75 °F\"",
    units: &[
        unit(&["°C", "C", "degC"], 1.0),
        Unit { names: &["°F", "F", "degF"], factor: 5.0 / 9.0, offset: -160.0 / 9.0 },
    ],
    compound: false,
};
const RISE: Reading = Reading {
    noun: "a temperature difference",
    example: "\"6 °C\" or \"11 °F\"",
    units: &[unit(&["°C", "C", "K", "degC"], 1.0), unit(&["°F", "F", "degF"], 5.0 / 9.0)],
    compound: false,
};
const DURATION: Reading = Reading {
    noun: "a duration",
    example: "\"45 min\" or \"2 h 30 min\"",
    units: &[
        unit(&["min", "mins", "minutes", "minute"], 1.0),
        unit(&["h", "hr", "hours", "hour"], 60.0),
        unit(&["d", "days", "day"], 1440.0),
    ],
    compound: true,
};
const PERCENT: Reading = Reading {
    noun: "a percentage",
    example: "\"75 %\"",
    units: &[unit(&["%"], 1.0)],
    compound: false,
};
const ACIDITY: Reading =
    Reading { noun: "a pH", example: "\"pH 4.2\"", units: &[unit(&[""], 1.0)], compound: false };
const LENGTH: Reading = Reading {
    noun: "a length",
    example: "\"28 cm\" or \"11 in\"",
    units: &[
        unit(&["mm"], 1.0),
        unit(&["cm"], 10.0),
        unit(&["m"], 1000.0),
        unit(&["in", "inch", "inches"], 25.4), // exact, NIST SP 811
    ],
    compound: false,
};
const ALTITUDE: Reading = Reading {
    noun: "an altitude",
    example: "\"1800 m\" or \"5900 ft\"",
    units: &[unit(&["m"], 1.0), unit(&["km"], 1000.0), unit(&["ft"], 0.3048)],
    compound: false,
};
const PRESSURE: Reading = Reading {
    noun: "a pressure",
    example: "\"101.3 kPa\"",
    units: &[unit(&["kPa"], 1.0), unit(&["hPa"], 0.1), unit(&["Pa"], 0.001)],
    compound: false,
};
const VOLUME: Reading = Reading {
    noun: "a volume",
    example: "\"750 mL\"",
    units: &[unit(&["mL", "ml"], 1.0), unit(&["L", "l"], 1000.0), unit(&["dL", "dl"], 100.0)],
    compound: false,
};

impl Reading {
    fn error(&self, text: &str, why: &str) -> ParseError {
        let shown: String = text.chars().take(40).collect();
        ParseError {
            message: format!("\"{shown}\" is not {}: {why}", self.noun),
            hint: format!("write {}", self.example),
        }
    }

    fn read(&self, text: &str) -> Result<f64, ParseError> {
        let mut rest = text.trim();
        if rest.is_empty() {
            return Err(self.error(text, "it is empty"));
        }
        let mut total = 0.0;
        let mut last_factor = f64::INFINITY;
        let mut parts = 0;
        while !rest.is_empty() {
            let end = rest
                .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '−')))
                .unwrap_or(rest.len());
            let number = rest[..end].replace('−', "-");
            if rest[end..].starts_with(',') {
                return Err(self.error(text, "write decimals with a point, not a comma"));
            }
            let value: f64 = match number.parse() {
                Ok(v) if f64::is_finite(v) => v,
                _ => return Err(self.error(text, "no number where one was expected")),
            };
            rest = rest[end..].trim_start();
            let end = rest
                .find(|c: char| {
                    c.is_ascii_digit() || c.is_whitespace() || matches!(c, '-' | '+' | '.')
                })
                .unwrap_or(rest.len());
            let name = &rest[..end];
            rest = rest[end..].trim_start();
            let Some(unit) = self.units.iter().find(|u| u.names.contains(&name)) else {
                let why = if name.is_empty() {
                    "the unit is missing".to_owned()
                } else {
                    let known: Vec<&str> =
                        self.units.iter().filter_map(|u| u.names.first().copied()).collect();
                    format!("unknown unit \"{name}\", known are {}", known.join(", "))
                };
                return Err(self.error(text, &why));
            };
            parts += 1;
            if parts > 1 && (!self.compound || unit.factor >= last_factor || value < 0.0) {
                return Err(self.error(text, "too many parts"));
            }
            last_factor = unit.factor;
            total += value * unit.factor + unit.offset;
        }
        Ok(total)
    }
}

macro_rules! from_str {
    ($($name:ident $reading:expr, $scale:expr;)*) => {$(
        impl FromStr for $name {
            type Err = ParseError;
            /// Reads a number with its unit; never NaN or infinite.
            fn from_str(text: &str) -> Result<Self, ParseError> {
                Ok(Self($reading.read(text)? / $scale))
            }
        }
    )*};
}
from_str! {
    Grams MASS, 1.0;
    Celsius TEMPERATURE, 1.0;
    TempRise RISE, 1.0;
    Minutes DURATION, 1.0;
    Hours DURATION, 60.0;
    Percent PERCENT, 1.0;
    Millimetres LENGTH, 1.0;
    Metres ALTITUDE, 1.0;
    Kilopascal PRESSURE, 1.0;
    Millilitres VOLUME, 1.0;
}

impl FromStr for Ph {
    type Err = ParseError;
    fn from_str(text: &str) -> Result<Self, ParseError> {
        Ok(Self(ACIDITY.read(text.trim().strip_prefix("pH").unwrap_or(text))?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn compound_durations_and_masses_add_up() {
        assert_eq!("2 h 30 min".parse::<Minutes>().unwrap(), Minutes(150.0));
        assert_eq!("1.5h".parse::<Minutes>().unwrap(), Minutes(90.0));
        assert_eq!("1 d 2 h".parse::<Hours>().unwrap(), Hours(26.0));
        assert_eq!("2 kg 250 g".parse::<Grams>().unwrap(), Grams(2250.0));
    }

    #[test]
    fn refusals_say_what_and_how() {
        let e = "24".parse::<Celsius>().unwrap_err();
        assert_eq!(e.message, "\"24\" is not a temperature: the unit is missing");
        assert_eq!(e.hint, "write \"24 °C\" or \"75 °F\"");
        assert!("1,5 kg".parse::<Grams>().unwrap_err().message.contains("comma"));
        assert!("30 min 2 h".parse::<Minutes>().is_err());
        assert!("NaN g".parse::<Grams>().is_err());
        assert!("inf %".parse::<Percent>().is_err());
        assert!("24 °C 3 °C".parse::<Celsius>().is_err());
        assert!("780 ml".parse::<Grams>().unwrap_err().message.contains("unknown unit \"ml\""));
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "\\PC{0,24}") {
            let _ = text.parse::<Grams>();
            let _ = text.parse::<Celsius>();
            let _ = text.parse::<Minutes>();
            let _ = text.parse::<Ph>();
        }

        #[test]
        fn what_is_written_reads_back_the_same(x in -1e6f64..1e6) {
            prop_assert_eq!(Grams(x).write().parse::<Grams>().unwrap(), Grams(x));
            prop_assert_eq!(Celsius(x).write().parse::<Celsius>().unwrap(), Celsius(x));
            prop_assert_eq!(Percent(x).write().parse::<Percent>().unwrap(), Percent(x));
        }
    }
}
