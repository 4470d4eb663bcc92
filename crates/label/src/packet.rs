//! An ingredient as its packet prints it: a small TOML file, values per 100 g.

use crate::Decimal;
use crate::allergen;
use crate::food::{Content, Nutrient};
use engine::file::{Problem, Section, nearest, parse, shorten};

/// What a packet says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packet {
    /// The ingredient, as recipes call it.
    pub name: String,
    /// Words for a list of ingredients, allergens between asterisks.
    pub statement: String,
    /// Of Annex II of the EU.
    pub allergens: Vec<String>,
    /// What 100 g hold.
    pub content: Content,
    /// What was taken for what is not printed, sentences without their subject.
    pub taken: Vec<&'static str>,
}

/// Whose rules the packet follows: they count carbohydrate differently.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Printed {
    Eu,
    Us,
}
const PRINTED: [(&str, Printed); 2] = [("eu", Printed::Eu), ("us", Printed::Us)];

/// Reads packets.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_packets(text: &str) -> Result<Vec<Packet>, Vec<Problem>> {
    parse(text, |root| {
        if root.get("packet").is_none() {
            let hint =
                "add a [[packet]] with name, fat, carbohydrate, protein and the rest per 100 g";
            root.problem(0..0, "packet".into(), "there is no packet".into(), Some(hint.into()));
        }
        let mut out: Vec<Packet> = Vec::new();
        for s in root.sections("packet") {
            let packet = read(&s);
            s.finish();
            let Some(packet) = packet else { continue };
            if out.iter().any(|p| p.name == packet.name) {
                let twice = format!("\"{}\" stands twice", shorten(&packet.name));
                s.problem(s.span(), s.field("name"), twice, Some("keep one packet of each".into()));
            }
            out.push(packet);
        }
        Some(out)
    })
}

fn read(s: &Section<'_, '_>) -> Option<Packet> {
    let name = s.needed_words("name", "\"strong white\", as the recipe calls it");
    let printed = s.choice("values", &PRINTED).unwrap_or(Printed::Eu);
    let mut content = Content::default();
    for (key, n) in [
        ("water", Nutrient::Water),
        ("fat", Nutrient::Fat),
        ("saturates", Nutrient::Saturated),
        ("trans", Nutrient::Trans),
        ("mono", Nutrient::Mono),
        ("poly", Nutrient::Poly),
        ("cholesterol", Nutrient::Cholesterol),
        ("sugars", Nutrient::Sugars),
        ("added_sugars", Nutrient::AddedSugars),
        ("fibre", Nutrient::Fibre),
        ("protein", Nutrient::Protein),
        ("calcium", Nutrient::Calcium),
        ("iron", Nutrient::Iron),
        ("potassium", Nutrient::Potassium),
        ("vitamin_d", Nutrient::VitaminD),
        ("alcohol", Nutrient::Alcohol),
    ] {
        content.set(n, mass(s, key, n.unit()));
    }
    let kcal = s.get("kcal").and_then(|_| s.decimal("kcal", 0.0..=900.0)).and_then(Decimal::of);
    let kj = s.get("kj").and_then(|_| s.decimal("kj", 0.0..=3800.0)).and_then(Decimal::of);
    content.set(Nutrient::EnergyKcal, kcal);
    content.set(Nutrient::EnergyKj, kj);
    let carbohydrate = mass(s, "carbohydrate", "g");
    let (salt, sodium) = (mass(s, "salt", "g"), mass(s, "sodium", "mg"));
    if let (Some(_), Some(_), Some(value)) = (salt, sodium, s.get("sodium")) {
        let hint = "keep the one the packet prints";
        s.problem(
            value.span(),
            s.field("sodium"),
            "salt says it already".into(),
            Some(hint.into()),
        );
    }
    // salt is sodium times 2.5
    let from_salt = salt.and_then(|g| (g * Decimal::whole(1000)).over(Decimal::thousandths(2500)));
    content.set(Nutrient::Sodium, sodium.or(from_salt));
    let mut taken = derive(&mut content, carbohydrate, printed);
    whole(s, &content, carbohydrate);

    let allergens: Vec<String> = s
        .texts("allergens")
        .iter()
        .filter(|t| {
            let known = allergen::known(t.value);
            if !known {
                let groups = allergen::EU.iter().map(|(g, _)| *g);
                let near = nearest(t.value, groups.clone())
                    .map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
                let all: Vec<&str> = groups.collect();
                let hint = format!(
                    "{near}choose from {}; cereals and nuts are named, such as gluten:wheat, nuts:walnut",
                    all.join(", ")
                );
                let message = format!("\"{}\" is not an allergen known here", shorten(t.value));
                s.problem(t.span.clone(), t.field.clone(), message, Some(hint));
            }
            known
        })
        .map(|t| t.value.to_owned())
        .collect();
    if s.get("allergens").is_none() {
        s.missing("allergens", "[\"gluten:wheat\"], or [] for none");
    }
    let statement = s.words("statement");
    if let Some(t) = s.text("statement")
        && t.value.matches('*').count() % 2 == 1
    {
        let hint = "put each allergen between two asterisks, such as *wheat* flour";
        s.problem(t.span, t.field, "an asterisk stands alone".into(), Some(hint.into()));
    }
    let name = name?;
    if statement.is_empty() && !allergens.is_empty() {
        taken.push("its words in the list of ingredients are its name: write statement to emphasise its allergens");
    }
    let statement = if statement.is_empty() { name.clone() } else { statement };
    Some(Packet { name, statement, allergens, content, taken })
}

/// A mass per 100 g as it is printed, exact; in the unit asked for.
fn mass(s: &Section<'_, '_>, key: &'static str, unit: &str) -> Option<Decimal> {
    let t = s.text(key)?;
    let text = t.value.trim();
    let at = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let (number, written) = (Decimal::read(&text[..at]), text[at..].trim());
    let micrograms = match written {
        "g" => Some(1_000_000),
        "mg" => Some(1000),
        "µg" | "ug" | "mcg" | "μg" => Some(1),
        _ => None,
    };
    let asked = match unit {
        "g" => 1_000_000,
        "mg" => 1000,
        _ => 1,
    };
    let read = number.zip(micrograms).and_then(|(x, k)| {
        let all = x * Decimal::whole(k);
        (all <= Decimal::whole(100_000_000)).then(|| all.over(Decimal::whole(asked)))?
    });
    if read.is_none() {
        let message = format!("\"{}\" is not a mass in 100 g", shorten(t.value));
        let hint = "write \"1.4 g\", \"12 mg\" or \"0.5 µg\", at most 100 g; leave out what the packet does not print, it stays unknown";
        s.problem(t.span, t.field, message, Some(hint.into()));
    }
    read
}

/// What both systems count, from what one of them prints.
fn derive(
    content: &mut Content,
    carbohydrate: Option<Decimal>,
    printed: Printed,
) -> Vec<&'static str> {
    let mut taken = Vec::new();
    let fibre = content.of(Nutrient::Fibre);
    let (all, without) = match printed {
        Printed::Eu => (carbohydrate.zip(fibre).map(|(c, f)| c + f), carbohydrate),
        Printed::Us => {
            (carbohydrate, carbohydrate.zip(fibre).map(|(c, f)| (c - f).max(Decimal::ZERO)))
        }
    };
    content.set(Nutrient::Carbohydrate, all);
    content.set(Nutrient::CarbohydrateEu, without);
    content.set(Nutrient::ProteinEu, content.of(Nutrient::Protein));
    if content.of(Nutrient::Protein).is_some_and(|p| !p.is_zero()) {
        taken.push(match printed {
            Printed::Eu => "protein counted as printed (N × 6.25) in both systems",
            Printed::Us => "protein counted as printed in both systems; the EU's would be N × 6.25",
        });
    }
    let none = |n: Nutrient, c: &Content| c.of(n) == Some(Decimal::ZERO);
    for n in [Nutrient::Saturated, Nutrient::Trans, Nutrient::Mono, Nutrient::Poly] {
        if content.of(n).is_none() && none(Nutrient::Fat, content) {
            content.set(n, Some(Decimal::ZERO));
        }
    }
    if content.of(Nutrient::AddedSugars).is_none() && none(Nutrient::Sugars, content) {
        content.set(Nutrient::AddedSugars, Some(Decimal::ZERO));
    }
    if content.of(Nutrient::Alcohol).is_none() {
        content.set(Nutrient::Alcohol, Some(Decimal::ZERO));
        taken.push("alcohol taken as 0, the packet prints none");
    }
    taken
}

/// A part cannot be more than its whole.
fn whole(s: &Section<'_, '_>, content: &Content, carbohydrate: Option<Decimal>) {
    let check = |key: &'static str,
                 part: Option<Decimal>,
                 whole_key: &str,
                 whole: Option<Decimal>| {
        if let (Some(part), Some(whole), Some(value)) = (part, whole, s.get(key))
            && part > whole
        {
            let message = format!("{part} g is more than the {whole_key}, {whole} g");
            s.problem(value.span(), s.field(key), message, Some("look at the packet again".into()));
        }
    };
    let of = |n| content.of(n);
    check("saturates", of(Nutrient::Saturated), "fat", of(Nutrient::Fat));
    check("trans", of(Nutrient::Trans), "fat", of(Nutrient::Fat));
    check("sugars", of(Nutrient::Sugars), "carbohydrate", carbohydrate);
    check("added_sugars", of(Nutrient::AddedSugars), "sugars", of(Nutrient::Sugars));
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(text: &str) -> Decimal {
        Decimal::read(text).unwrap()
    }

    #[test]
    fn a_packet_of_the_eu() {
        let text = "[[packet]]\nname = \"strong white\"\nstatement = \"*wheat* flour\"\nallergens = [\"gluten:wheat\"]\nkcal = 348\nfat = \"1.4 g\"\nsaturates = \"0.2 g\"\ncarbohydrate = \"69.3 g\"\nsugars = \"0.7 g\"\nfibre = \"3.1 g\"\nprotein = \"12.6 g\"\nsalt = \"0.01 g\"\n";
        let p = &read_packets(text).unwrap()[0];
        assert_eq!(p.content.of(Nutrient::Carbohydrate), Some(d("72.4")));
        assert_eq!(p.content.of(Nutrient::CarbohydrateEu), Some(d("69.3")));
        assert_eq!(p.content.of(Nutrient::Sodium), Some(d("4")));
        assert_eq!(p.content.of(Nutrient::Iron), None);
        assert_eq!(p.content.of(Nutrient::AddedSugars), None);
        let us = text.replace("kcal", "values = \"us\"\nkcal");
        let p = &read_packets(&us).unwrap()[0];
        assert_eq!(p.content.of(Nutrient::CarbohydrateEu), Some(d("66.2")));
    }

    #[test]
    fn slips_are_named() {
        for (line, part) in [
            ("fat = \"1.4\"", "is not a mass in 100 g"),
            ("fat = \"<0.5 g\"", "is not a mass in 100 g"),
            ("fat = \"140 g\"", "is not a mass in 100 g"),
            ("fat = \"1 g\"\nsaturates = \"2 g\"", "more than the fat"),
            ("salt = \"1 g\"\nsodium = \"400 mg\"", "salt says it already"),
            ("fats = \"1 g\"", "unknown field"),
            ("statement = \"*wheat flour\"", "stands alone"),
            ("kcal = 1000", "is not a number from 0 to 900"),
        ] {
            let text = format!("[[packet]]\nname = \"x\"\nallergens = []\n{line}\n");
            let told = read_packets(&text).unwrap_err();
            assert!(told[0].message.contains(part), "{line}: {told:?}");
            assert!(told[0].line(&text) >= 4);
        }
        let told = read_packets("[[packet]]\nname = \"x\"\nallergens = [\"mlik\"]").unwrap_err();
        assert!(told[0].hint.as_ref().unwrap().contains("did you mean \"milk\""));
        assert!(read_packets("").unwrap_err()[0].message.contains("no packet"));
    }

    proptest! {
        #[test]
        fn nothing_panics(text in "(\\[\\[packet\\]\\]\n)?(name = \"x\"\n)?(fat|salt|kcal|allergens|statement)( = )[\"\\[]?[ -~µ]{0,20}\"?") {
            let _ = read_packets(&text);
        }
    }
}
