//! What the ingredients of a recipe are: rows of the table, packets, or nobody knows.

use crate::Decimal;
use crate::food::{self, Content, Food};
use crate::packet::Packet;
use engine::flour::{Flour, Grain};
use engine::formula::{Amounts, YeastForm};
use engine::recipe::Recipe;

/// Which ingredient of a formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// A flour by its place.
    Flour(usize),
    /// Water poured.
    Water,
    /// Salt.
    Salt,
    /// Baker's yeast.
    Yeast,
    /// Any other by its place.
    Other(usize),
}

/// Where what is known of it comes from.
#[derive(Debug, Clone)]
pub enum Source {
    /// The table.
    Table(&'static Food),
    /// Its packet.
    Packet(Box<Packet>),
    /// Nowhere.
    Nobody,
}

/// An ingredient of a recipe.
#[derive(Debug, Clone)]
pub struct Ingredient {
    /// Which.
    pub which: Which,
    /// As the recipe calls it.
    pub name: String,
    /// Where what is known of it comes from.
    pub source: Source,
    /// Words for a list of ingredients, allergens between asterisks.
    pub statement: String,
    /// Of Annex II of the EU; none where nobody knows.
    pub allergens: Option<Vec<String>>,
}

impl Ingredient {
    /// What 100 g hold; none where nobody knows.
    pub fn content(&self) -> Option<&Content> {
        match &self.source {
            Source::Table(food) => Some(&food.content),
            Source::Packet(packet) => Some(&packet.content),
            Source::Nobody => None,
        }
    }

    /// Where what is known of it comes from, in words.
    pub fn source_words(&self) -> String {
        match &self.source {
            Source::Table(f) => format!("USDA SR28 {:05}: {}", f.ndb, f.description),
            Source::Packet(_) => "its packet".into(),
            Source::Nobody => "nobody knows".into(),
        }
    }

    /// Its mass among amounts, g.
    pub fn mass(&self, amounts: &Amounts) -> Decimal {
        let g = match self.which {
            Which::Flour(i) => amounts.flours.get(i).copied(),
            Which::Water => Some(amounts.water),
            Which::Salt => Some(amounts.salt),
            Which::Yeast => Some(amounts.yeast),
            Which::Other(i) => amounts.others.get(i).copied(),
        };
        g.and_then(|g| Decimal::of(g.0)).unwrap_or_default()
    }
}

/// A row taken because nothing else was said.
struct Usual {
    ndb: u32,
    statement: Option<&'static str>,
    allergen: Option<&'static str>,
    why: &'static str,
}

/// The row for a flour of which only grain, ash and protein are said. The row nearest by ash; whites
/// nearest by protein. Unenriched: enrichment is a national habit.
fn usual(flour: &Flour) -> Option<Usual> {
    let row = |ndb, why| Usual { ndb, statement: None, allergen: None, why };
    let (ash, protein) = (flour.ash.0, flour.protein.0);
    // ash of the rows on dry matter, %: white wheat 0.54, whole 1.77; semolina 0.88, durum 2.00;
    // rye 0.88, 1.35, 2.80; the borders lie half-way
    Some(match flour.grain {
        Grain::Wheat if ash >= 1.16 => row(20080, "wheat of this ash is nearest to whole wheat"),
        Grain::Wheat if protein >= 11.15 => row(20129, "white wheat of this protein, unenriched"),
        Grain::Wheat => row(20481, "white wheat of this protein, unenriched"),
        Grain::Spelt if ash >= 1.16 => Usual {
            statement: Some("whole *spelt* (*wheat*) flour"),
            ..row(20140, "the grain, there is no row of spelt flour")
        },
        Grain::Spelt => Usual {
            statement: Some("*spelt* (*wheat*) flour"),
            allergen: Some("gluten:spelt"),
            ..row(20129, "as white wheat, there is no row of white spelt")
        },
        Grain::Durum if ash >= 1.44 => Usual {
            statement: Some("whole durum *wheat* flour"),
            ..row(20076, "the grain, by its ash")
        },
        Grain::Durum => row(20466, "by its ash, unenriched"),
        Grain::Rye if ash >= 2.08 => row(20063, "rye of this ash"),
        Grain::Rye if ash >= 1.11 => row(20064, "rye of this ash"),
        Grain::Rye => row(20065, "rye of this ash"),
        Grain::Other => return None,
    })
}

/// The ingredients of a recipe, in the order of its formula, and what was taken for granted.
pub fn ingredients(recipe: &Recipe, packets: &[Packet]) -> (Vec<Ingredient>, Vec<String>) {
    let mut out = Vec::new();
    let mut taken = Vec::new();
    let f = &recipe.formula;
    let mut add = |which, name: &str, named: Option<u32>, usual: Option<Usual>| {
        let packet = packets.iter().find(|p| p.name.eq_ignore_ascii_case(name));
        let ingredient = if let Some(p) = packet {
            taken.extend(p.taken.iter().map(|t| format!("{name}: {t}")));
            Ingredient {
                which,
                name: name.to_owned(),
                source: Source::Packet(Box::new(p.clone())),
                statement: p.statement.clone(),
                allergens: Some(p.allergens.clone()),
            }
        } else if let Some(row) = named.or(usual.as_ref().map(|u| u.ndb)).and_then(food::by_number)
        {
            let usual = usual.filter(|_| named.is_none());
            if let Some(u) = &usual {
                taken.push(format!(
                    "{name}: taken for USDA food {:05}, {} ({})",
                    row.ndb, row.description, u.why
                ));
            }
            taken.extend(row.taken.iter().map(|t| format!("{name}: {t}")));
            // a caution is said where cautions are
            if named.is_some() && !row.note.is_empty() && !row.note.contains("caution") {
                taken.push(format!("{name}: {}", row.note));
            }
            let statement = usual.as_ref().and_then(|u| u.statement);
            let own = usual.as_ref().and_then(|u| u.allergen);
            Ingredient {
                which,
                name: name.to_owned(),
                source: Source::Table(row),
                statement: statement.map_or_else(|| row.statement.clone(), str::to_owned),
                allergens: Some(
                    own.map_or_else(|| row.eu_allergens.clone(), |a| vec![a.to_owned()]),
                ),
            }
        } else {
            taken.push(format!(
                "{name}: nothing is known of it; write usda = \"…\" (a number of data/label/foods.csv) beside it in the recipe, or give its packet"
            ));
            Ingredient {
                which,
                name: name.to_owned(),
                source: Source::Nobody,
                statement: name.to_owned(),
                allergens: None,
            }
        };
        out.push(ingredient);
    };
    let row = |ndb, why| Some(Usual { ndb, statement: None, allergen: None, why });
    for (i, x) in f.flours.iter().enumerate() {
        add(Which::Flour(i), &x.flour.name, x.flour.usda, usual(&x.flour));
    }
    add(Which::Water, "water", None, row(14411, "its minerals are a mean of tap waters"));
    add(Which::Salt, "salt", None, row(2047, "plain table salt"));
    let yeasted = f.yeast.0 > 0.0 || f.preferments.iter().any(|p| p.yeast.0 > 0.0);
    if yeasted {
        let name = format!("{} yeast", f.yeast_form.name());
        let usual = match f.yeast_form {
            YeastForm::Fresh => row(18374, "baker's, compressed"),
            YeastForm::Instant => row(18375, "active dry, there is no row of instant yeast"),
            YeastForm::ActiveDry => row(18375, "baker's, active dry"),
        };
        add(Which::Yeast, &name, None, usual);
    }
    for (i, o) in f.others.iter().enumerate() {
        add(Which::Other(i), &o.name, o.usda, None);
    }
    (out, taken)
}
