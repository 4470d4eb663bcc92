//! `shop`: what to buy.

use crate::args::ShopArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use label::Decimal;
use label::shop::{Buy, shop};
use quantity::{Grams, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &ShopArgs) -> Result<(), Failure> {
    let kitchen = input::kitchen(&args.batch)?;
    let mut prices = input::prices(&args.prices)?;
    if let Some(path) = &args.stock {
        prices.with_stock(&input::stock(path)?);
    }
    let mut titles: Vec<String> = Vec::new();
    let mut needs = Vec::new();
    let read: Result<Vec<_>, Failure> = args.recipes.iter().map(|p| input::recipe(p)).collect();
    for recipe in read? {
        let flour = input::total_flour(&args.batch, &recipe, &kitchen)?;
        let (sheet, _) = document::formula::sheets(&recipe, &kitchen, flour)?;
        needs.extend(document::cost::needed(&recipe, &sheet, prices.discard));
        titles.push(recipe.title);
    }
    let list = shop(&needs, &prices);
    let to = args.out.out.as_deref();
    let currency = &prices.currency;
    if args.out.json {
        let titles: Vec<&str> = titles.iter().map(String::as_str).collect();
        return out::json(&document::cost::shop_json(&titles, &list, currency), to);
    }
    let units: Units = args.out.units.into();
    let mut text = format!("{}\n", table::bold("To buy"));
    let _ = writeln!(text, "{}\n", table::dim(&table::wrapped(&titles.join(", "), 0, 0)));
    let mut rows: Vec<Vec<String>> = list.buys.iter().map(|b| row(b, units)).collect();
    let whole = if list.missing.is_empty() { "together" } else { "what is known" };
    let mut last = vec![String::new(); 6];
    last[0] = whole.into();
    last[5] = list.known.show(2);
    rows.push(last);
    text += &table::table(&["", "needed", "there", "buy", "left over", currency], &[0, 3], &rows);
    let _ = writeln!(text, "\nWater is taken from the tap.");
    if !list.missing.is_empty() {
        let told = format!("The bill is not whole: no price for {}.", list.missing.join(", "));
        let _ = writeln!(text, "{}", table::wrapped(&told, 0, 0));
    }
    out::text(&text, to)
}

fn row(b: &Buy, units: Units) -> Vec<String> {
    let mass = |x: Decimal| Grams(x.to_f64()).show_fine(units);
    let buy = match (b.packages, b.package) {
        (Some(0), _) => "nothing".to_owned(),
        (Some(n), Some(package)) => format!("{n} × {}", Grams(package.to_f64()).show(units)),
        _ => format!("{}, no price known", mass(b.short)),
    };
    let there = if b.stock.is_zero() { String::new() } else { mass(b.stock) };
    let cost = match (b.cost, b.packages) {
        (_, Some(0)) => String::new(),
        (Some(x), _) => x.show(2),
        (None, _) => "unknown".into(),
    };
    vec![b.name.clone(), mass(b.need), there, buy, b.left.map_or(String::new(), mass), cost]
}
