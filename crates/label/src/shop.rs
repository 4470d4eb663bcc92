//! What to buy for one bread or several, in whole packages, less what is there.

use crate::Decimal;
use crate::cost::Need;
use crate::price::Prices;

/// One thing to buy, or that is there in plenty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Buy {
    /// What.
    pub name: String,
    /// Needed, what is lost on the way included, g.
    pub need: Decimal,
    /// There already, g.
    pub stock: Decimal,
    /// Still to get, g.
    pub short: Decimal,
    /// Packages; none when their size is not known.
    pub packages: Option<i64>,
    /// In one package, g.
    pub package: Option<Decimal>,
    /// Over when all is baked, g; none when it is not known.
    pub left: Option<Decimal>,
    /// What the packages come to; none when nobody knows.
    pub cost: Option<Decimal>,
    /// When its price was seen.
    pub date: Option<String>,
}

/// A shopping list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shopping {
    /// In the order of the recipes.
    pub buys: Vec<Buy>,
    /// What is known of the bill.
    pub known: Decimal,
    /// What is to be bought and has no price.
    pub missing: Vec<String>,
}

/// The list for some needs. Ingredients of several recipes are one where one item serves them, or
/// where they have one name.
pub fn shop(needs: &[Need], prices: &Prices) -> Shopping {
    let mut buys: Vec<Buy> = Vec::new();
    for need in needs {
        let item = prices.item(&need.name);
        let name = item.map_or(&need.name, |i| &i.name);
        let mass = item.map_or(need.mass, |i| i.with_waste(need.mass));
        if let Some(buy) = buys.iter_mut().find(|b| b.name.to_lowercase() == name.to_lowercase()) {
            buy.need += mass;
        } else {
            buys.push(Buy {
                name: name.clone(),
                need: mass,
                stock: item.map_or(Decimal::ZERO, |i| i.stock),
                short: Decimal::ZERO,
                packages: None,
                package: None,
                left: None,
                cost: None,
                date: None,
            });
        }
    }
    let mut out = Shopping { buys, known: Decimal::ZERO, missing: Vec::new() };
    for buy in &mut out.buys {
        buy.short = (buy.need - buy.stock).max(Decimal::ZERO);
        let offer = prices.item(&buy.name).and_then(|i| i.offer.as_ref());
        if let Some(offer) = offer {
            let packages = buy.short.over(offer.package).map_or(0, Decimal::up_to_whole);
            buy.packages = Some(packages);
            buy.package = Some(offer.package);
            let bought = offer.package * Decimal::whole(packages);
            buy.left = Some(buy.stock + bought - buy.need);
            buy.cost = Some(offer.price * Decimal::whole(packages));
            buy.date = Some(offer.date.to_string());
        } else if buy.short.is_zero() {
            buy.left = Some(buy.stock - buy.need);
            buy.cost = Some(Decimal::ZERO);
            buy.packages = Some(0);
        }
        match buy.cost {
            Some(cost) => out.known += cost,
            None => out.missing.push(buy.name.clone()),
        }
    }
    out
}

impl Shopping {
    /// The bill; none when something to be bought has no price.
    pub fn total(&self) -> Option<Decimal> {
        self.missing.is_empty().then_some(self.known)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::price::read_prices;

    fn d(text: &str) -> Decimal {
        Decimal::read(text).unwrap()
    }

    const PRICES: &str = "currency = \"EUR\"\ndate = \"2026-11-01\"\n[[item]]\nname = \"strong white\"\nfor = [\"white\"]\npackage = \"1.5 kg\"\nprice = \"2.15\"\nwaste = \"2 %\"\nstock = \"500 g\"\n[[item]]\nname = \"salt\"\nstock = \"1 kg\"\n";

    #[test]
    fn whole_packages_less_what_is_there() {
        let prices = read_prices(PRICES).unwrap();
        let need = |name: &str, g: &str| Need { name: name.into(), mass: d(g) };
        let needs = [
            need("strong white", "1500"),
            need("White", "460"),
            need("salt", "36"),
            need("honey", "20"),
        ];
        let list = shop(&needs, &prices);
        let flour = &list.buys[0];
        // 1960 g and 2 % are 1999.2; 1499.2 short: one bag of 1500
        assert_eq!((flour.need, flour.short), (d("1999.2"), d("1499.2")));
        assert_eq!((flour.packages, flour.left), (Some(1), Some(d("0.8"))));
        assert_eq!(list.buys[1].cost, Some(Decimal::ZERO));
        assert_eq!(list.buys[2].cost, None);
        assert_eq!((list.known, list.total()), (d("2.15"), None));
        assert_eq!(list.missing, ["honey"]);
        // a gram more, and there are two
        let more = shop(&[need("white", "1961")], &prices);
        assert_eq!(more.buys[0].packages, Some(2));
    }
}
