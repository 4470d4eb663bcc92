//! The ingredient table: foods with what USDA knows of each, blanks kept blank.

use crate::Decimal;
use std::sync::LazyLock;

/// USDA SR28 rows; the file's head says how to read it.
const TABLE: &str = include_str!("../../../data/label/foods.csv");
/// Nitrogen times this is protein on a label of the EU: Regulation (EU) 1169/2011, Annex I (10).
pub const EU_NITROGEN_FACTOR: Decimal = Decimal::thousandths(6250);

/// Names a nutrient, its column in the table (none for what is derived) and its unit per 100 g.
macro_rules! nutrients {
    ($($(#[$doc:meta])* $name:ident $words:literal $column:literal $unit:literal),* $(,)?) => {
        /// Something a food holds, or gives.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Nutrient { $($(#[$doc])* $name),* }
        impl Nutrient {
            /// All.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];
            /// In words.
            pub fn words(self) -> &'static str { match self { $(Self::$name => $words),* } }
            /// Its unit.
            pub fn unit(self) -> &'static str { match self { $(Self::$name => $unit),* } }
            fn column(self) -> &'static str { match self { $(Self::$name => $column),* } }
        }
    };
}
nutrients! {
    /// Energy by the specific factors of USDA, kcal.
    EnergyKcal "energy" "energy_kcal" "kcal",
    /// The same, kJ.
    EnergyKj "energy in kJ" "energy_kj" "kJ",
    /// Water.
    Water "water" "water_g" "g",
    /// Protein, nitrogen times the factor of the food.
    Protein "protein" "protein_g" "g",
    /// All fat.
    Fat "fat" "fat_g" "g",
    /// Saturated fatty acids.
    Saturated "saturated fat" "saturated_g" "g",
    /// *Trans* fatty acids.
    Trans "trans fat" "trans_g" "g",
    /// Monounsaturated fatty acids.
    Mono "monounsaturated fat" "mono_g" "g",
    /// Polyunsaturated fatty acids.
    Poly "polyunsaturated fat" "poly_g" "g",
    /// Cholesterol.
    Cholesterol "cholesterol" "cholesterol_mg" "mg",
    /// Carbohydrate by difference, fibre included, as labels of the United States count it.
    Carbohydrate "total carbohydrate" "carbohydrate_g" "g",
    /// Dietary fibre.
    Fibre "fibre" "fibre_g" "g",
    /// All sugars.
    Sugars "sugars" "sugars_g" "g",
    /// Starch.
    Starch "starch" "starch_g" "g",
    /// Ash.
    Ash "ash" "ash_g" "g",
    /// Sodium.
    Sodium "sodium" "sodium_mg" "mg",
    /// Calcium.
    Calcium "calcium" "calcium_mg" "mg",
    /// Iron.
    Iron "iron" "iron_mg" "mg",
    /// Potassium.
    Potassium "potassium" "potassium_mg" "mg",
    /// Vitamin D.
    VitaminD "vitamin D" "vitamin_d_ug" "µg",
    /// Alcohol.
    Alcohol "alcohol" "alcohol_g" "g",
    /// Sugars added in making, 21 CFR 101.9(c)(6)(iii).
    AddedSugars "added sugars" "" "g",
    /// Protein, nitrogen times 6.25, as labels of the EU count it.
    ProteinEu "protein (N × 6.25)" "" "g",
    /// Carbohydrate without fibre, as labels of the EU count it.
    CarbohydrateEu "carbohydrate without fibre" "" "g",
}

/// What 100 g hold; none where it is not known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Content(Vec<Option<Decimal>>);

impl Default for Content {
    fn default() -> Self {
        Self(vec![None; Nutrient::ALL.len()])
    }
}

impl Content {
    /// Of a nutrient, in its unit per 100 g.
    pub fn of(&self, n: Nutrient) -> Option<Decimal> {
        self.0.get(n as usize).copied().flatten()
    }
    /// Writes one down.
    pub fn set(&mut self, n: Nutrient, x: Option<Decimal>) {
        if let Some(place) = self.0.get_mut(n as usize) {
            *place = x;
        }
    }
}

/// A food of the table.
#[derive(Debug, Clone)]
pub struct Food {
    /// USDA's food number.
    pub ndb: u32,
    /// Our name for it.
    pub key: &'static str,
    /// USDA's words.
    pub description: String,
    /// What a baker uses it as.
    pub role: &'static str,
    /// Words for a list of ingredients, allergens between asterisks.
    pub statement: String,
    /// Major allergens of the United States: `wheat`, `tree nuts:walnut`.
    pub us_allergens: Vec<String>,
    /// Of Annex II of the EU: `gluten:wheat`, `nuts:walnut`, `milk`.
    pub eu_allergens: Vec<String>,
    /// Nitrogen factor of its protein.
    pub n_factor: Option<Decimal>,
    /// Its kcal per g of protein, fat and carbohydrate.
    pub kcal_factors: [Option<Decimal>; 3],
    /// What it holds; blanks the table has are filled only where `taken` says so.
    pub content: Content,
    /// What was taken for a blank, sentences without their subject.
    pub taken: Vec<&'static str>,
    /// What to know of it.
    pub note: String,
}

/// All foods, in the order of the file.
pub fn all() -> &'static [Food] {
    static ALL: LazyLock<Vec<Food>> = LazyLock::new(read);
    &ALL
}

/// By USDA's number.
pub fn by_number(ndb: u32) -> Option<&'static Food> {
    all().iter().find(|f| f.ndb == ndb)
}

/// By our name.
pub fn by_key(key: &str) -> Option<&'static Food> {
    all().iter().find(|f| f.key == key)
}

/// Cells of a line: commas apart, quotes around a cell that has some.
fn cells(line: &'static str) -> Vec<&'static str> {
    let mut out = Vec::new();
    let mut rest = line;
    loop {
        if let Some(quoted) = rest.strip_prefix('"') {
            let Some((cell, after)) = quoted.split_once('"') else { return out };
            out.push(cell);
            match after.strip_prefix(',') {
                Some(after) => rest = after,
                None => return out,
            }
        } else if let Some((cell, after)) = rest.split_once(',') {
            out.push(cell);
            rest = after;
        } else {
            out.push(rest);
            return out;
        }
    }
}

fn read() -> Vec<Food> {
    let mut lines = TABLE.lines().filter(|l| !l.starts_with('#'));
    let head = cells(lines.next().unwrap_or_default());
    lines.filter_map(|line| food(&head, &cells(line))).collect()
}

fn food(head: &[&'static str], row: &[&'static str]) -> Option<Food> {
    let cell = |name: &str| {
        let at = head.iter().position(|h| *h == name);
        at.and_then(|i| row.get(i).copied()).unwrap_or_default()
    };
    let list = |name: &str| -> Vec<String> {
        cell(name).split("; ").filter(|a| !a.is_empty()).map(str::to_owned).collect()
    };
    let number = |name: &str| Decimal::read(cell(name));
    let mut content = Content::default();
    for n in Nutrient::ALL.iter().filter(|n| !n.column().is_empty()) {
        content.set(*n, number(n.column()));
    }
    let (role, n_factor) = (cell("role"), number("n_factor"));
    let taken = fill(&mut content, role, n_factor);
    let added = match cell("added_sugars") {
        "none" => Some(Decimal::ZERO),
        "all" => content.of(Nutrient::Sugars),
        _ => None,
    };
    content.set(Nutrient::AddedSugars, added);
    Some(Food {
        ndb: cell("ndb").parse().ok()?,
        key: cell("key"),
        description: cell("usda_description").to_owned(),
        role,
        statement: cell("statement").to_owned(),
        us_allergens: list("us_allergens"),
        eu_allergens: list("eu_allergens"),
        n_factor,
        kcal_factors: ["protein", "fat", "carbohydrate"]
            .map(|n| number(&format!("{n}_kcal_factor"))),
        content,
        taken,
        note: cell("note").to_owned(),
    })
}

/// Roles that bring no *trans* fat: plants as they grew, salt, yeast. *Common practice*. Refined
/// oils, milk and eggs are not among them.
const NO_TRANS: [&str; 11] = [
    "flour",
    "grain",
    "improver",
    "leavening",
    "seed",
    "nut",
    "fruit",
    "spice",
    "liquid",
    "sweetener",
    "salt",
];

/// Derives what labels count their own way, and fills the blanks that are none.
fn fill(content: &mut Content, role: &str, n_factor: Option<Decimal>) -> Vec<&'static str> {
    let mut taken = Vec::new();
    let fat_free = content.of(Nutrient::Fat) == Some(Decimal::ZERO);
    if content.of(Nutrient::Trans).is_none() && fat_free {
        // part of the fat, of which there is none
        content.set(Nutrient::Trans, Some(Decimal::ZERO));
    } else if content.of(Nutrient::Trans).is_none() && NO_TRANS.contains(&role) {
        content.set(Nutrient::Trans, Some(Decimal::ZERO));
        taken
            .push("trans fat taken as 0, USDA has no value (common practice for plants and yeast)");
    }
    if content.of(Nutrient::Alcohol).is_none() {
        content.set(Nutrient::Alcohol, Some(Decimal::ZERO));
        taken.push("alcohol taken as 0, USDA has no value (it is no drink)");
    }
    let protein = content.of(Nutrient::Protein);
    let eu = match (protein, n_factor) {
        (Some(p), Some(f)) if !f.is_zero() => (p * EU_NITROGEN_FACTOR).over(f),
        (Some(p), _) => {
            if !p.is_zero() {
                taken.push("protein taken as it stands for N × 6.25, USDA names no factor");
            }
            Some(p)
        }
        (None, _) => None,
    };
    content.set(Nutrient::ProteinEu, eu);
    let all = content.of(Nutrient::Carbohydrate);
    let without = all.zip(content.of(Nutrient::Fibre)).map(|(c, f)| (c - f).max(Decimal::ZERO));
    content.set(Nutrient::CarbohydrateEu, without);
    taken
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::allergen;

    fn d(text: &str) -> Decimal {
        Decimal::read(text).unwrap()
    }

    #[test]
    fn the_table_is_whole_and_blank_is_not_nought() {
        assert_eq!(all().len(), 114);
        let spelt = by_key("spelt-grain").unwrap();
        assert_eq!(spelt.content.of(Nutrient::VitaminD), None);
        assert_eq!(by_key("butter-unsalted").unwrap().content.of(Nutrient::Trans), None);
        assert_eq!(by_number(20083).unwrap().content.of(Nutrient::Iron), Some(d("4.41")));
        assert_eq!(by_number(1145).unwrap().key, "butter-unsalted");
    }

    /// Water, sugars and fat stand in the engine's table too.
    #[test]
    fn both_tables_agree() {
        for (number, key) in engine::ingredients::numbers() {
            let food = by_number(number).unwrap();
            assert_eq!(food.key, key);
            let inside = engine::ingredients::inside(key).unwrap();
            assert_eq!(food.content.of(Nutrient::Water).unwrap().to_f64(), inside.water.0, "{key}");
            assert_eq!(food.content.of(Nutrient::Fat).unwrap().to_f64(), inside.fat.0, "{key}");
        }
    }

    /// Basis: computed by hand from row 20083. USDA prints 361 kcal.
    #[test]
    fn energy_of_bread_flour() {
        let f = by_number(20083).unwrap();
        let of = |n| f.content.of(n).unwrap();
        let parts = [Nutrient::Protein, Nutrient::Fat, Nutrient::Carbohydrate];
        let kcal: Decimal =
            parts.iter().zip(f.kcal_factors).map(|(n, k)| of(*n) * k.unwrap()).sum();
        assert_eq!(kcal, d("361.2368"));
        assert_eq!(of(Nutrient::EnergyKcal), d("361"));
        assert_eq!(of(Nutrient::ProteinEu).show(6), "13.135965");
        assert_eq!(
            by_number(20080).unwrap().content.of(Nutrient::ProteinEu).unwrap().show(6),
            "14.161664"
        );
    }

    /// USDA's energy follows from its factors within 3 kcal: a slip of a digit would show.
    #[test]
    fn energies_follow_from_their_factors() {
        let mut seen = 0;
        for f in all() {
            let parts = [Nutrient::Protein, Nutrient::Fat, Nutrient::Carbohydrate];
            let all: Option<Decimal> =
                parts.iter().zip(f.kcal_factors).map(|(n, k)| Some(f.content.of(*n)? * k?)).sum();
            if let Some(kcal) = all {
                let gap = (kcal - f.content.of(Nutrient::EnergyKcal).unwrap()).to_f64().abs();
                assert!(gap < 3.0, "{} {gap}", f.key);
                seen += 1;
            }
        }
        assert!(seen > 80, "{seen}");
    }

    /// The major allergens of the United States follow from the EU's.
    #[test]
    fn allergens_of_both_systems_agree() {
        for f in all() {
            let mut us: Vec<String> =
                f.eu_allergens.iter().filter_map(|a| allergen::us_of(a)).collect();
            us.dedup();
            assert_eq!(us, f.us_allergens, "{}", f.key);
            assert!(f.eu_allergens.iter().all(|a| allergen::known(a)), "{}", f.key);
            assert_eq!(f.statement.matches('*').count() % 2, 0);
            // what must be emphasised is there to be emphasised
            assert_eq!(f.eu_allergens.is_empty(), !f.statement.contains('*'), "{}", f.key);
        }
    }
}
