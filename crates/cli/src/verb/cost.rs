//! `cost`: what a batch costs.

use crate::args::CostArgs;
use crate::fail::Failure;
use crate::{input, out, table};
use document::cost::{costs, oven_time};
use document::label::loss;
use quantity::{Grams, Units};
use std::fmt::Write as _;

pub(crate) fn run(args: &CostArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let (named, kitchen) = input::named_kitchen(&args.recipe.batch)?;
    let prices = input::prices(&args.prices)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let (sheet, _) = document::formula::sheets(&recipe, &kitchen, flour)?;
    let share = loss(input::loss(&args.loss), &recipe, named.as_ref(), flour)?.share(&recipe);
    let oven = oven_time(&recipe, named.as_ref(), flour)?;
    let bill = costs(&recipe, &sheet, &prices, share, args.discard, oven);
    let to = args.out.out.as_deref();
    if args.out.json {
        return out::json(&document::cost::json(&recipe, &bill, &prices), to);
    }
    let units: Units = args.out.units.into();
    let currency = &prices.currency;
    let mut text = format!("{}\n", table::bold(&recipe.title));
    let bread = Grams(bill.bread.to_f64());
    let head = format!("{}, {} baked", recipe.yields.shape.counted(bill.pieces), bread.show(units));
    let _ = writeln!(text, "{}\n", table::dim(&head));
    let mut rows: Vec<Vec<String>> = bill
        .charges
        .iter()
        .map(|c| {
            let price = if c.price.is_empty() { "no price" } else { &c.price };
            let cost = c.cost.map_or("unknown".to_owned(), |x| x.show(2));
            vec![c.name.clone(), c.quantity.clone(), price.to_owned(), cost]
        })
        .collect();
    let whole = if bill.missing.is_empty() { "together" } else { "what is known" };
    rows.push(vec![whole.into(), String::new(), String::new(), bill.known.show(2)]);
    text += &table::table(&["", "", "at", currency], &[0, 1, 2], &rows);
    let told = if let (Some(piece), Some(hundred)) = (bill.per_piece(), bill.per_100g()) {
        format!("{} {currency} a piece, {} {currency} for 100 g.", piece.show(2), hundred.show(2))
    } else {
        format!(
            "What a piece costs is unknown: no price for {}. Add it to the prices file.",
            bill.missing.join(", ")
        )
    };
    let _ = writeln!(text, "\n{}", table::wrapped(&told, 0, 0));
    for n in &bill.notes {
        let _ = writeln!(text, "note: {}.", table::wrapped(n, 6, 6));
    }
    out::text(&text, to)
}
