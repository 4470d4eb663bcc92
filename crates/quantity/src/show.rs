//! Printing quantities: rounded for people ([`show`](Grams::show)), with a no-break space
//! before the unit, or exactly for files ([`write`](Grams::write)).

use crate::{
    Celsius, Grams, Hours, Kilopascal, Metres, Millilitres, Millimetres, Minutes, Percent, Ph,
    TempRise, Tta,
};

/// Which units a reader wants to see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Grams, °C, cm, m.
    #[default]
    Metric,
    /// Ounces and pounds, °F, inches, feet.
    Us,
}

/// `x` with at most `decimals` places, trailing zeros dropped, a true minus sign, no "−0".
fn number(x: f64, decimals: usize) -> String {
    let mut s = format!("{x:.decimals$}");
    if s.contains('.') {
        s.truncate(s.trim_end_matches('0').trim_end_matches('.').len());
    }
    if s == "-0" { "0".to_owned() } else { s.replace('-', "−") }
}

impl Grams {
    /// For people: whole grams from 10 g up, tenths below; ounces or pounds and ounces in US units.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric if self.0.abs() < 9.95 => format!("{} g", number(self.0, 1)),
            Units::Metric => format!("{} g", number(self.0, 0)),
            Units::Us => {
                let oz = self.0 / 28.349_523_125;
                if oz.abs() < 0.995 {
                    format!("{} oz", number(oz, 2))
                } else if oz.abs() < 31.95 {
                    format!("{} oz", number(oz, 1))
                } else {
                    let tenths = (oz * 10.0).round();
                    let lb = (tenths / 160.0).trunc();
                    format!("{} lb {} oz", number(lb, 0), number((tenths - lb * 160.0) / 10.0, 1))
                }
            }
        }
    }
}

impl Grams {
    /// For salt and yeast: a digit more than [`show`](Self::show).
    pub fn show_fine(self, units: Units) -> String {
        match units {
            Units::Metric if self.0.abs() < 0.995 => format!("{} g", number(self.0, 2)),
            Units::Metric => format!("{} g", number(self.0, 1)),
            Units::Us => {
                let oz = self.0 / 28.349_523_125;
                format!("{} oz", number(oz, if oz.abs() < 0.1 { 3 } else { 2 }))
            }
        }
    }
}

impl Celsius {
    /// For people: tenths of °C below 50 °C, whole above; whole °F in US units.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => {
                format!("{} °C", number(self.0, usize::from(self.0.abs() < 50.0)))
            }
            Units::Us => format!("{} °F", number(self.fahrenheit(), 0)),
        }
    }
    /// The same point in °F.
    pub fn fahrenheit(self) -> f64 {
        self.0 * 9.0 / 5.0 + 32.0
    }
}

impl TempRise {
    /// For people: tenths; a difference, so ×9/5 only in US units.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => format!("{} °C", number(self.0, 1)),
            Units::Us => format!("{} °F", number(self.0 * 9.0 / 5.0, 0)),
        }
    }
}

impl Minutes {
    /// For people: "45 min", "2 h", "2 h 30 min".
    pub fn show(self) -> String {
        let total = self.0.round();
        let sign = if total < 0.0 { "−" } else { "" };
        let total = total.abs();
        let (h, m) = ((total / 60.0).floor(), total % 60.0);
        match (h > 0.0, m > 0.0) {
            (false, _) => format!("{sign}{m:.0} min"),
            (true, false) => format!("{sign}{h:.0} h"),
            (true, true) => format!("{sign}{h:.0} h {m:.0} min"),
        }
    }
}

impl Hours {
    /// For people, as [`Minutes::show`].
    pub fn show(self) -> String {
        Minutes::from(self).show()
    }
}

impl Percent {
    /// For people: at most one decimal.
    pub fn show(self) -> String {
        format!("{} %", number(self.0, 1))
    }
    /// For a formula sheet: at most two decimals.
    pub fn show_fine(self) -> String {
        format!("{} %", number(self.0, 2))
    }
}

impl Ph {
    /// For people: two decimals.
    pub fn show(self) -> String {
        format!("{:.2}", self.0)
    }
}

impl Tta {
    /// For people: one decimal, mL 0.1 mol/L NaOH per 10 g.
    pub fn show(self) -> String {
        format!("{} mL", number(self.0, 1))
    }
}

impl Millimetres {
    /// For people: cm with a decimal, or inches.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => format!("{} cm", number(self.0 / 10.0, 1)),
            Units::Us => format!("{} in", number(self.0 / 25.4, 1)),
        }
    }
}

impl Metres {
    /// For people: whole metres or feet.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => format!("{} m", number(self.0, 0)),
            Units::Us => format!("{} ft", number(self.0 / 0.3048, 0)),
        }
    }
}

macro_rules! write_exact {
    ($($name:ident $unit:literal),* $(,)?) => {$(
        impl $name {
            /// Exactly, for files: reads back to the same bits.
            pub fn write(self) -> String {
                format!(concat!("{} ", $unit), self.0)
            }
        }
    )*};
}
write_exact!(
    Grams "g", Celsius "°C", TempRise "°C", Minutes "min", Percent "%", Millimetres "mm",
    Metres "m", Kilopascal "kPa", Millilitres "mL",
);

impl Ph {
    /// Exactly, for files: reads back to the same bits.
    pub fn write(self) -> String {
        format!("pH {}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shown_as_a_baker_writes_them() {
        assert_eq!(Grams(1234.4).show(Units::Metric), "1234 g");
        assert_eq!(Grams(8.25).show(Units::Metric), "8.2 g");
        assert_eq!(Grams(907.184_74).show(Units::Us), "2 lb 0 oz");
        assert_eq!(Grams(20.0).show(Units::Us), "0.71 oz");
        assert_eq!(Minutes(150.0).show(), "2 h 30 min");
        assert_eq!(Minutes(-20.0).show(), "−20 min");
        assert_eq!(Celsius(-0.01).show(Units::Metric), "0 °C");
        assert_eq!(TempRise(10.0).show(Units::Us), "18 °F");
    }
}
