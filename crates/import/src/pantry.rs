//! What a name on an ingredient line means in bread: a flour, water, salt, yeast, a starter, or
//! something else.

use engine::flour::{Flour, Grain};
use engine::formula::{PrefermentKind, YeastForm};
use engine::ingredients::{self, Inside};
use quantity::Percent;
use std::sync::LazyLock;

/// Words for flours; the file's head says how to read it.
const FLOURS: &str = include_str!("../../../data/import/flours.csv");
/// Words for everything else.
const NAMES: &str = include_str!("../../../data/import/names.csv");

/// What a name means.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Meaning {
    /// A flour: its kind, the key that gives the weight of a cup, and how sure the kind is.
    Flour {
        kind: FlourKind,
        sure: f64,
    },
    Water,
    Salt,
    /// Baker's yeast and how sure its form is.
    Yeast {
        form: YeastForm,
        sure: f64,
    },
    /// A ripe starter or another preferment.
    Preferment(PrefermentKind),
    /// In the ingredient table under a key.
    Known {
        key: &'static str,
        inside: Inside,
        late: bool,
        sure: f64,
    },
    /// Nothing is known of it.
    Unknown,
}

/// A flour without the baker's name for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FlourKind {
    pub(crate) grain: Grain,
    pub(crate) protein: f64,
    pub(crate) ash: f64,
    pub(crate) moisture: f64,
    pub(crate) like: &'static str,
    /// The words it was found by.
    pub(crate) words: &'static str,
}

impl FlourKind {
    pub(crate) fn named(&self, name: &str) -> Flour {
        Flour {
            name: name.to_owned(),
            grain: self.grain,
            protein: Percent(self.protein),
            ash: Percent(self.ash),
            moisture: Percent(self.moisture),
            ..Flour::white("")
        }
    }
}

impl Meaning {
    /// The key that gives the weight of a measure.
    pub(crate) fn key(&self) -> Option<&'static str> {
        match self {
            Self::Flour { kind, .. } => Some(kind.like),
            Self::Salt => Some("salt"),
            Self::Yeast { form: YeastForm::Fresh, .. } => Some("yeast-compressed"),
            Self::Yeast { .. } => Some("yeast-active-dry"),
            Self::Known { key, .. } => Some(key),
            Self::Water | Self::Preferment(_) | Self::Unknown => None,
        }
    }
}

/// Words of a name, lower case; a hyphen parts words.
fn words(name: &str) -> Vec<String> {
    name.to_lowercase()
        .split(|c: char| !(c.is_alphanumeric() || c == '\''))
        .filter(|w| !w.is_empty())
        .map(str::to_owned)
        .collect()
}

/// A row of a table: its words, and its cells, those first.
struct Row {
    words: Vec<&'static str>,
    cells: Vec<&'static str>,
}

/// Rows of a table, comments and head left out.
fn rows(table: &'static str) -> Vec<Row> {
    let lines = table.lines().filter(|l| !l.starts_with('#')).skip(1);
    let row = |line: &'static str| {
        let cells: Vec<&str> = line.split(',').collect();
        Row { words: cells[0].split(' ').collect(), cells }
    };
    lines.map(row).collect()
}

static FLOUR_ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| rows(FLOURS));
static NAME_ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| rows(NAMES));

/// The row most of whose words stand in a name, all of them; "flour" counts for none.
fn best<'r>(rows: &'r [Row], said: &[String]) -> Option<&'r [&'static str]> {
    let mut found: Option<(usize, &Row)> = None;
    for row in rows {
        if row.words.iter().all(|w| said.iter().any(|s| s == w)) {
            let n = row.words.iter().filter(|w| **w != "flour").count();
            if found.is_none_or(|(most, _)| n > most) {
                found = Some((n, row));
            }
        }
    }
    found.map(|(_, row)| row.cells.as_slice())
}

fn flour(said: &[String]) -> Option<FlourKind> {
    let [words, grain, protein, ash, like, _] = best(&FLOUR_ROWS, said)? else { return None };
    let grain = Grain::NAMES.iter().find(|(n, _)| n == grain)?.1;
    let cells = ingredients::protein_and_moisture(like)?;
    Some(FlourKind {
        grain,
        protein: protein.parse().unwrap_or(cells.0.0),
        ash: ash.parse().ok()?,
        moisture: cells.1.0,
        like,
        words,
    })
}

/// The flour a few words name.
pub(crate) fn named_flour(text: &str) -> Option<FlourKind> {
    flour(&words(text))
}

/// What a name means; what was said besides (`note`) decides where the name alone does not.
pub(crate) fn meaning(name: &str, note: &str) -> Meaning {
    let said = words(name);
    let has = |w: &str| said.iter().any(|s| s == w);
    let any = |list: &[&str]| list.iter().any(|w| has(w));
    if any(&["starter", "levain", "leaven", "sourdough", "sour"]) && !has("cream") {
        return Meaning::Preferment(PrefermentKind::Levain);
    }
    if has("poolish") {
        return Meaning::Preferment(PrefermentKind::Poolish);
    }
    if has("biga") {
        return Meaning::Preferment(PrefermentKind::Biga);
    }
    if any(&["fermentée", "fermentee"]) || (has("old") && has("dough")) {
        return Meaning::Preferment(PrefermentKind::OldDough);
    }
    if has("yeast") && !any(&["nutritional", "extract"]) {
        return yeast(&said, &words(note));
    }
    if has("water") && !any(&["rose", "blossom", "coconut", "potato", "soda", "pasta"]) {
        return Meaning::Water;
    }
    if has("salt") && !any(&["butter", "celery", "garlic", "onion", "seeds"]) {
        return Meaning::Salt;
    }
    let grown = any(&["seeds", "seed", "bran", "germ", "berries", "grain", "grains", "flakes"])
        || any(&["chopped", "cracked", "malt", "oil", "gluten"])
        || (has("milk") && !has("flour"));
    if !grown && let Some(kind) = flour(&said) {
        // "flour, strong white": the note says which
        let fuller = || flour(&[said.clone(), words(note)].concat());
        let kind = if kind.words == "flour" { fuller().unwrap_or(kind) } else { kind };
        let plain = matches!(kind.words, "flour" | "spelt" | "rye");
        return Meaning::Flour { kind, sure: if plain { 60.0 } else { 85.0 } };
    }
    known(&said)
}

fn known(said: &[String]) -> Meaning {
    let Some([_, key, late, sure]) = best(&NAME_ROWS, said) else { return Meaning::Unknown };
    let Some(inside) = ingredients::inside(key) else { return Meaning::Unknown };
    Meaning::Known { key, inside, late: *late == "late", sure: sure.parse().unwrap_or(50.0) }
}

fn yeast(said: &[String], note: &[String]) -> Meaning {
    let any = |list: &[&str]| said.iter().chain(note).any(|w| list.contains(&w.as_str()));
    let (form, sure) = if any(&["instant", "fast", "quick", "rapid", "easy"]) {
        (YeastForm::Instant, 95.0)
    } else if any(&["active"]) {
        (YeastForm::ActiveDry, 97.0)
    } else if any(&["fresh", "compressed", "cake"]) {
        (YeastForm::Fresh, 97.0)
    } else if any(&["dry", "dried"]) {
        (YeastForm::ActiveDry, 60.0)
    } else {
        (YeastForm::Instant, 50.0)
    };
    Meaning::Yeast { form, sure }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flour_of(name: &str) -> (Grain, f64) {
        match meaning(name, "") {
            Meaning::Flour { kind, .. } => (kind.grain, kind.ash),
            other => panic!("{name}: {other:?}"),
        }
    }

    fn key(name: &str) -> Option<&'static str> {
        match meaning(name, "") {
            Meaning::Known { key, .. } => Some(key),
            _ => None,
        }
    }

    #[test]
    fn flours_by_their_words() {
        assert_eq!(flour_of("strong white bread flour"), (Grain::Wheat, 0.58));
        assert_eq!(flour_of("wholemeal flour"), (Grain::Wheat, 1.7));
        assert_eq!(flour_of("Whole-wheat flour"), (Grain::Wheat, 1.7));
        assert_eq!(flour_of("whole rye flour"), (Grain::Rye, 1.7));
        assert_eq!(flour_of("light rye"), (Grain::Rye, 0.9));
        assert_eq!(flour_of("strong wholemeal bread flour"), (Grain::Wheat, 1.7));
        assert_eq!(flour_of("T65 flour"), (Grain::Wheat, 0.68));
        assert_eq!(flour_of("wholegrain spelt flour"), (Grain::Spelt, 1.7));
        assert_eq!(flour_of("buckwheat flour"), (Grain::Other, 2.0));
        let Meaning::Flour { kind, .. } = meaning("flour", "strong white") else { panic!() };
        assert_eq!(kind.like, "bread-flour-enriched");
    }

    #[test]
    fn the_rest_by_theirs() {
        assert_eq!(meaning("lukewarm water", ""), Meaning::Water);
        assert_eq!(meaning("fine sea salt", ""), Meaning::Salt);
        assert_eq!(key("salted butter"), Some("butter-salted"));
        assert_eq!(key("toasted sunflower seeds"), Some("sunflower-seed"));
        assert_eq!(key("sunflower oil"), Some("sunflower-oil-high-oleic"));
        assert_eq!(key("diastatic malt powder"), Some("barley-malt-flour"));
        assert_eq!(key("milk"), Some("milk-whole-unfortified"));
        assert_eq!(key("vital wheat gluten"), Some("vital-wheat-gluten"));
        assert_eq!(meaning("fairy dust", ""), Meaning::Unknown);
        assert_eq!(meaning("rose water", ""), Meaning::Unknown);
        assert_eq!(meaning("sourdough starter", ""), Meaning::Preferment(PrefermentKind::Levain));
        let Meaning::Yeast { form, .. } = meaning("instant yeast", "") else { panic!() };
        assert_eq!(form, YeastForm::Instant);
    }

    #[test]
    fn every_row_of_the_tables_can_be_used() {
        for row in FLOUR_ROWS.iter() {
            let said: Vec<String> = row.words.iter().map(|w| (*w).to_owned()).collect();
            assert_eq!(flour(&said).map(|f| f.words), Some(row.cells[0]));
        }
        for row in NAME_ROWS.iter().map(|r| &r.cells) {
            assert!(ingredients::inside(row[1]).is_some(), "{row:?}");
            assert!(matches!(row[2], "" | "late") && row[3].parse::<f64>().is_ok(), "{row:?}");
        }
    }
}
