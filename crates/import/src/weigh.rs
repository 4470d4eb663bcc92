//! From an amount to grams: exact for units of mass, by the table of household weights for cups,
//! spoons and things that are counted.

use crate::line::{Amount, Line};
use crate::pantry::Meaning;
use crate::unit::{Spoons, Unit};
use quantity::Grams;

/// USDA SR28 measures; the file's head says how to read it.
const TABLE: &str = include_str!("../../../data/import/household-weights.csv");

/// Grams of an amount, and how they came about.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Weighed {
    pub(crate) grams: Grams,
    /// What it may be, when it was not weighed.
    pub(crate) range: Option<(Grams, Grams)>,
    /// What was taken for it, when it was not weighed: "a US cup of wholemeal flour as 120 g".
    pub(crate) how: Option<String>,
    /// 0 to 100: how sure, where it was not weighed.
    pub(crate) sure: f64,
    /// Whether cups or spoons decide.
    pub(crate) by_spoons: bool,
}

/// How far household measures scatter, as a fraction. Common practice, no source: a cup of flour
/// 15 to 20 %, a level spoon or a cup of grains 10 %, liquids 5 %.
fn scatter(meaning: &Meaning, unit: Unit) -> f64 {
    match meaning {
        Meaning::Flour { .. } | Meaning::Preferment(_) => 0.18,
        Meaning::Water => 0.03,
        Meaning::Known { key, .. } if liquid(key) => 0.05,
        _ if unit == Unit::Pinch => 0.5,
        _ => 0.1,
    }
}

fn liquid(key: &str) -> bool {
    [
        "milk-whole",
        "milk-skim",
        "buttermilk",
        "oil",
        "honey",
        "syrup",
        "vinegar",
        "cream",
        "molasses",
    ]
    .iter()
    .any(|w| key.contains(w))
        && !key.contains("powder")
}

struct Row {
    measure: &'static str,
    form: &'static str,
    grams: f64,
}

fn rows(key: &str) -> Vec<Row> {
    let row = |line: &'static str| {
        let mut cells = line.split(',').skip(1);
        (cells.next()? == key).then_some(())?;
        Some(Row {
            measure: cells.next()?,
            form: cells.next()?,
            grams: cells.next()?.parse().ok()?,
        })
    };
    TABLE.lines().filter(|l| !l.starts_with('#')).filter_map(row).collect()
}

/// The row whose form is said in the line; the one without a form, or the first, otherwise.
fn pick<'r>(rows: &'r [Row], measure: &str, said: &str) -> Option<&'r Row> {
    let of_it = || rows.iter().filter(|r| r.measure == measure);
    let mentioned = |r: &&Row| {
        let mut words = r.form.split(' ').filter(|w| w.len() > 3);
        !r.form.is_empty()
            && words.any(|w| said.split(|c: char| !c.is_alphanumeric()).any(|s| s == w))
    };
    of_it()
        .find(mentioned)
        .or_else(|| of_it().find(|r| r.form.is_empty()))
        .or_else(|| of_it().next())
}

/// The measures of the table that are volumes.
const VOLUMES: [(&str, Unit); 5] = [
    ("cup", Unit::Cup),
    ("tbsp", Unit::Tablespoon),
    ("tsp", Unit::Teaspoon),
    ("fl oz", Unit::FluidOunce),
    ("quart", Unit::Quart),
];

/// Grams in a millilitre, from the measure nearest to the one asked for; and which it was.
fn density(rows: &[Row], unit: Unit, said: &str) -> Option<(f64, String)> {
    let same = VOLUMES.iter().filter(|(_, u)| *u == unit);
    let small = matches!(unit, Unit::Pinch | Unit::Teaspoon | Unit::Tablespoon);
    let order: Vec<&str> = same
        .map(|v| v.0)
        .chain(if small { ["tsp", "tbsp", "cup"] } else { ["cup", "tbsp", "tsp"] })
        .chain(["fl oz", "quart"])
        .collect();
    order.into_iter().find_map(|name| {
        let row = pick(rows, name, said)?;
        let unit = VOLUMES.iter().find(|v| v.0 == name)?.1;
        let form = if row.form.is_empty() { String::new() } else { format!(", {}", row.form) };
        let told = format!("{} g a US {}{form}", row.grams, unit.name());
        Some((row.grams / unit.millilitres(Spoons::Us)?, told))
    })
}

/// Weighs an amount of something.
///
/// # Errors
/// Why it cannot be weighed.
pub(crate) fn weigh(
    line: &Line,
    amount: &Amount,
    meaning: &Meaning,
    spoons: Spoons,
) -> Result<Weighed, String> {
    let said = format!("{} {}", line.name, line.note).to_lowercase();
    let rows = meaning.key().map(rows).unwrap_or_default();
    let (mut grams, mut doubt, mut sure) = (0.0, 0.0, 100.0_f64);
    let (mut how, mut by_spoons) = (Vec::new(), false);
    for part in &amount.parts {
        let n = part.middle();
        if let Some(one) = part.unit.grams() {
            grams += n * one;
            continue;
        }
        by_spoons |= part.unit.depends_on_spoons();
        let (one, told, spread, trust) = one_of(part.unit, &rows, meaning, &said, spoons)?;
        grams += n * one;
        doubt += n * one * spread;
        sure = sure.min(trust);
        how.push(told);
    }
    if !grams.is_finite() || grams <= 0.0 {
        return Err("it weighs nothing".into());
    }
    let range = (doubt > 0.0).then(|| (Grams((grams - doubt).max(0.0)), Grams(grams + doubt)));
    how.dedup();
    let how = (!how.is_empty()).then(|| how.join("; "));
    Ok(Weighed { grams: Grams(grams), range, how, sure, by_spoons })
}

/// Grams of one of a unit that is none of mass: what was taken, how far it scatters, how sure.
fn one_of(
    unit: Unit,
    rows: &[Row],
    meaning: &Meaning,
    said: &str,
    spoons: Spoons,
) -> Result<(f64, String, f64, f64), String> {
    let spread = scatter(meaning, unit);
    if let Some(ml) = unit.millilitres(spoons) {
        if *meaning == Meaning::Water {
            return Ok((ml, "1 mL of water as 1 g".into(), spread.min(ml / 400.0), 98.0));
        }
        if let Meaning::Preferment(_) = meaning {
            let told = "1 mL of stirred starter as 1 g; risen it weighs half as much, common practice, no source";
            return Ok((ml, told.into(), 0.4, 40.0));
        }
        let coarse = *meaning == Meaning::Salt
            && ["kosher", "flak", "coarse", "crystal"].iter().any(|w| said.contains(w));
        let Some((per_ml, row)) = density(rows, unit, said) else {
            return Err(format!("what a {} of it weighs is not known", unit.name()));
        };
        if coarse {
            let told =
                format!("table salt, {row}; coarse and flaked salt weighs down to half as much");
            return Ok((per_ml * ml, told, 0.5, 35.0));
        }
        let trust = match meaning {
            _ if unit == Unit::Pinch => 40.0,
            Meaning::Flour { .. } => 65.0,
            _ => 80.0,
        };
        return Ok((per_ml * ml, format!("{row}, USDA SR28"), spread, trust));
    }
    let name = match unit {
        Unit::Number if matches!(meaning, Meaning::Known { key, .. } if key.starts_with("egg")) => {
            "large"
        }
        Unit::Each(name) => name,
        _ => return Err("a number of it says nothing of its weight".into()),
    };
    let row = pick(rows, name, said).ok_or_else(|| {
        format!(
            "what a {} of it weighs is not known",
            if name == "large" { "large piece" } else { name }
        )
    })?;
    let trust = if unit == Unit::Number { 70.0 } else { 80.0 };
    Ok((row.grams, format!("{} g each ({name}), USDA SR28", row.grams), 0.12, trust))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{line, pantry};

    fn grams(text: &str, spoons: Spoons) -> Result<f64, String> {
        let line = line::read(text);
        let meaning = pantry::meaning(&line.name, &line.note);
        weigh(&line, line.best().unwrap(), &meaning, spoons).map(|w| w.grams.0)
    }

    #[track_caller]
    fn weighs(text: &str, spoons: Spoons, expected: f64) {
        let g = grams(text, spoons).unwrap();
        assert!((g - expected).abs() < 0.01 * expected.max(0.1), "{text}: {g}");
    }

    /// Basis: USDA SR28 WEIGHT; units NIST SP 811 and Handbook 44.
    #[test]
    fn cups_and_spoons_by_the_table() {
        weighs("1 cup wholemeal flour", Spoons::Us, 120.0);
        weighs("1 cup wholemeal flour", Spoons::Metric, 120.0 * 250.0 / 236.588);
        weighs("2 tsp salt", Spoons::Us, 12.0);
        weighs("1 tbsp honey", Spoons::Us, 21.0);
        weighs("1 tbsp honey", Spoons::Au, 21.0 * 20.0 / 14.7868);
        weighs("1/2 cup water", Spoons::Us, 118.29);
        weighs("12 oz bread flour", Spoons::Metric, 340.194);
        weighs("1 lb 2 oz rye flour", Spoons::Us, 510.291);
        weighs("2 large eggs", Spoons::Us, 100.0);
        weighs("2 eggs", Spoons::Us, 100.0);
        weighs("1 packet active dry yeast", Spoons::Us, 7.2);
        weighs("1 cup brown sugar, unpacked", Spoons::Us, 145.0);
        weighs("1 cup sliced almonds", Spoons::Us, 92.0);
        weighs("1 cup cream", Spoons::Us, 238.0);
        weighs("500 ml milk", Spoons::Us, 515.7);
    }

    #[test]
    fn what_cannot_be_weighed_says_why() {
        assert!(grams("1 cup fairy dust", Spoons::Us).unwrap_err().contains("not known"));
        assert!(grams("3 carrots", Spoons::Us).unwrap_err().contains("a number of it"));
        assert!(grams("0 g flour", Spoons::Us).is_err());
    }

    #[test]
    fn a_cup_of_flour_scatters_a_weighed_one_does_not() {
        let line = line::read("2 cups rye flour");
        let meaning = pantry::meaning(&line.name, "");
        let w = weigh(&line, &line.amounts[0], &meaning, Spoons::Us).unwrap();
        let (low, high) = w.range.unwrap();
        assert!(low.0 < 0.86 * w.grams.0 && high.0 > 1.14 * w.grams.0 && w.by_spoons);
        let line = line::read("200 g rye flour");
        let w = weigh(&line, &line.amounts[0], &meaning, Spoons::Us).unwrap();
        assert_eq!((w.range, w.how, w.by_spoons), (None, None, false));
    }
}
