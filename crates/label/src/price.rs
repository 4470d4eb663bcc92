//! What things cost and what is in the cupboard: a TOML file.

use crate::Decimal;
use engine::file::{Problem, Section, parse, shorten};
use jiff::civil::Date;
use quantity::{Grams, Percent};

/// What can be bought, and what is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// What it is called.
    pub name: String,
    /// Ingredients of recipes it serves, besides that of its own name.
    pub serves: Vec<String>,
    /// What is bought at once, and for how much; none when it has no price.
    pub offer: Option<Offer>,
    /// Lost on the way into the bowl: spilled, sieved out, left in the bag; of what is weighed.
    pub waste: Decimal,
    /// There already, g.
    pub stock: Decimal,
}

/// A package and its price.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// In it, g.
    pub package: Decimal,
    /// For it, in the currency of the file.
    pub price: Decimal,
    /// When that was seen.
    pub date: Date,
}

/// What an oven draws, and what that costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Energy {
    /// For a kWh.
    pub tariff: Decimal,
    /// While it heats up, kW.
    pub power: Decimal,
    /// Share of that once it is hot.
    pub holding: Decimal,
}

/// A file of prices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prices {
    /// ISO 4217, such as `EUR`.
    pub currency: String,
    /// What can be bought.
    pub items: Vec<Item>,
    /// What the oven costs; none when it is not said.
    pub energy: Option<Energy>,
    /// For an hour of work; none when work is not counted.
    pub labour: Option<Decimal>,
    /// Ripe starter thrown away for each batch, g.
    pub discard: Decimal,
}

/// Power of a household oven, kW. *Common practice*, no source: 2 to 3.5.
pub const POWER: Decimal = Decimal::thousandths(2500);
/// Share of it a hot oven draws, empty, at baking heat. *Common practice*, no source: 0.2 to 0.4.
pub const HOLDING: Decimal = Decimal::thousandths(300);

impl Item {
    /// Whether an ingredient is this.
    pub fn is(&self, name: &str) -> bool {
        let mut names = std::iter::once(&self.name).chain(&self.serves);
        names.any(|n| n.to_lowercase() == name.to_lowercase())
    }

    /// So much weighed in, with what is lost on the way.
    pub fn with_waste(&self, mass: Decimal) -> Decimal {
        mass + mass * self.waste
    }
}

impl Prices {
    /// What serves an ingredient.
    pub fn item(&self, name: &str) -> Option<&Item> {
        self.items.iter().find(|i| i.is(name))
    }

    /// The stock of another file in place of this one's.
    pub fn with_stock(&mut self, stock: &[Item]) {
        for item in &mut self.items {
            item.stock = Decimal::ZERO;
        }
        for there in stock {
            match self.items.iter_mut().find(|i| i.is(&there.name)) {
                Some(item) => item.stock += there.stock,
                None => self.items.push(there.clone()),
            }
        }
    }
}

/// Reads prices.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_prices(text: &str) -> Result<Prices, Vec<Problem>> {
    parse(text, |root| {
        let currency = root.needed_words("currency", "\"EUR\"").inspect(|c| {
            if c.len() != 3 || !c.bytes().all(|b| b.is_ascii_uppercase()) {
                problem(
                    root,
                    "currency",
                    format!("\"{}\" is not a currency", shorten(c)),
                    "write its three letters, such as \"EUR\", \"GBP\" or \"USD\"",
                );
            }
        });
        let date = date(root, "date");
        let items = items(root, date);
        let energy = root.section("oven").and_then(|s| {
            let tariff = money(&s, "tariff");
            if s.get("tariff").is_none() {
                s.missing("tariff", "\"0.30\", the price of a kWh");
            }
            let power = s.get("power_kw").and_then(|_| s.decimal("power_kw", 0.1..=50.0));
            let holding = s.quantity::<Percent>("holding", 1.0..=100.0);
            s.finish();
            Some(Energy {
                tariff: tariff?,
                power: power.and_then(Decimal::of).unwrap_or(POWER),
                holding: holding.and_then(|p| Decimal::of(p.fraction())).unwrap_or(HOLDING),
            })
        });
        let labour = money(root, "labour_per_hour");
        let discard = mass(root, "discard", 0.0).unwrap_or_default();
        Some(Prices { currency: currency?, items, energy, labour, discard })
    })
}

/// Reads what is in the cupboard: items of which only the stock counts.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_stock(text: &str) -> Result<Vec<Item>, Vec<Problem>> {
    parse(text, |root| {
        root.knows(&["currency", "date", "oven", "labour_per_hour", "discard"]);
        let date = date(root, "date");
        let items = items(root, date);
        if items.is_empty() && root.problems_so_far() == 0 {
            problem(root, "item", "there is no item".into(), "add an [[item]] with name and stock");
        }
        Some(items)
    })
}

fn problem(s: &Section<'_, '_>, key: &'static str, message: String, hint: &str) {
    let span = s.get(key).map_or_else(|| s.span(), toml::Spanned::span);
    s.problem(span, s.field(key), message, Some(hint.into()));
}

fn date(s: &Section<'_, '_>, key: &'static str) -> Option<Date> {
    let t = s.text(key)?;
    let read = t.value.parse().ok().filter(|_| t.value.len() == 10);
    if read.is_none() {
        let message = format!("\"{}\" is not a date", shorten(t.value));
        s.problem(t.span, t.field, message, Some("write it as \"2026-11-01\"".into()));
    }
    read
}

/// An amount of money, exact.
fn money(s: &Section<'_, '_>, key: &'static str) -> Option<Decimal> {
    let t = s.text(key)?;
    let read = Decimal::read(t.value.trim())
        .filter(|x| *x >= Decimal::ZERO && *x <= Decimal::whole(1_000_000));
    if read.is_none() {
        let message = format!("\"{}\" is not a price", shorten(t.value));
        let hint = format!("write {key} = \"2.45\", digits and a point, without the currency");
        s.problem(t.span, t.field, message, Some(hint));
    }
    read
}

fn mass(s: &Section<'_, '_>, key: &'static str, least: f64) -> Option<Decimal> {
    s.quantity::<Grams>(key, least..=1e6).and_then(|g| Decimal::of(g.0))
}

fn items(root: &Section<'_, '_>, usual: Option<Date>) -> Vec<Item> {
    let mut out: Vec<Item> = Vec::new();
    for s in root.sections("item") {
        let name = s.needed_words("name", "\"strong white\", as recipes call it");
        let serves: Vec<String> = s.texts("for").iter().map(|t| t.value.to_owned()).collect();
        let (package, price) = (mass(&s, "package", 0.1), money(&s, "price"));
        let seen = date(&s, "date").or(usual);
        match (s.get("package"), s.get("price")) {
            (Some(_), None) => s.missing("price", "\"2.45\", for the package"),
            (None, Some(_)) => s.missing("package", "\"1.5 kg\", what the price is for"),
            _ => {}
        }
        if price.is_some() && seen.is_none() && s.get("date").is_none() {
            s.missing("date", "\"2026-11-01\", when the price was seen; or once at the top");
        }
        let waste = s.quantity::<Percent>("waste", 0.0..=50.0);
        let stock = mass(&s, "stock", 0.0).unwrap_or_default();
        s.finish();
        let offer = package.zip(price).zip(seen);
        let offer = offer.map(|((package, price), date)| Offer { package, price, date });
        let Some(name) = name else { continue };
        for n in std::iter::once(&name).chain(&serves) {
            if let Some(other) = out.iter().find(|i| i.is(n)) {
                let message = format!("\"{}\" is already \"{}\"", shorten(n), shorten(&other.name));
                problem(&s, "name", message, "let one item serve each ingredient");
            }
        }
        let waste = waste.and_then(|w| Decimal::of(w.fraction())).unwrap_or_default();
        out.push(Item { name, serves, offer, waste, stock });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FILE: &str = "currency = \"GBP\"\ndate = \"2026-11-01\"\nlabour_per_hour = \"12\"\ndiscard = \"40 g\"\n[oven]\ntariff = \"0.27\"\n[[item]]\nname = \"strong white\"\nfor = [\"white\"]\npackage = \"1.5 kg\"\nprice = \"2.10\"\nwaste = \"2 %\"\nstock = \"400 g\"\n[[item]]\nname = \"water\"\n";

    #[test]
    fn prices_are_read_exactly() {
        let p = read_prices(FILE).unwrap();
        let flour = p.item("White").unwrap();
        assert_eq!(flour.offer.as_ref().unwrap().price, Decimal::thousandths(2100));
        assert_eq!(flour.with_waste(Decimal::whole(1000)), Decimal::whole(1020));
        assert!(p.item("water").unwrap().offer.is_none() && p.item("honey").is_none());
        assert_eq!(p.energy.unwrap().holding, HOLDING);
        assert_eq!(read_stock(FILE).unwrap()[0].stock, Decimal::whole(400));
    }

    #[test]
    fn slips_are_named() {
        for (from, to, part) in [
            ("\"GBP\"", "\"pounds\"", "is not a currency"),
            ("\"2.10\"", "\"£2.10\"", "is not a price"),
            ("\"2.10\"", "\"-2.10\"", "is not a price"),
            ("price = \"2.10\"\n", "", "is missing"),
            ("date = \"2026-11-01\"\n", "", "is missing"),
            ("\"2026-11-01\"", "\"1 Nov\"", "is not a date"),
            ("name = \"water\"", "name = \"white\"", "is already"),
            ("tariff = \"0.27\"", "", "is missing"),
            ("stock", "stok", "unknown field"),
        ] {
            let told = read_prices(&FILE.replacen(from, to, 1)).unwrap_err();
            assert!(told[0].message.contains(part), "{to}: {told:?}");
        }
        assert!(read_stock("").unwrap_err()[0].message.contains("no item"));
    }

    proptest! {
        #[test]
        fn nothing_panics(text in "(currency = \"EUR\"\n)?(\\[\\[item\\]\\]\n)?(name|price|package|stock|date)( = )[\"\\[]?[ -~]{0,20}\"?") {
            let _ = (read_prices(&text), read_stock(&text));
        }
    }
}
