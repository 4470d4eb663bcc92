//! `cost`: what a batch costs. `shop`: what to buy for some.

use crate::label::{first_path, setting};
use crate::{Problem, document};
use engine::fit::{Order, to_oven};
use engine::formula::Sheet;
use engine::kitchen::Kitchen;
use engine::recipe::Recipe;
use label::Decimal;
use label::cost::{Batch, Cost, Need, OvenTime, cost, needs};
use label::ingredient::{Which, ingredients};
use label::price::Prices;
use label::shop::Shopping;
use quantity::{Grams, Percent, TempRise};
use serde_json::{Value, json};

/// How fast an oven nobody described climbs: that of an ordinary kitchen.
fn usual_climb() -> TempRise {
    Kitchen::unknown().oven.climbs
}

/// How long the oven is on: as written and in one load, or as a kitchen needs it, load after load.
///
/// # Errors
/// [`Problem`] when something cannot be mixed or baked there.
pub fn oven_time(
    recipe: &Recipe,
    kitchen: Option<&Kitchen>,
    total_flour: Grams,
) -> Result<OvenTime, Problem> {
    let Some(kitchen) = kitchen else {
        return Ok(OvenTime::of(recipe, usual_climb(), 1, "as the recipe says, in one load"));
    };
    let path = first_path(recipe)?;
    let setting = setting(recipe, kitchen, total_flour)?;
    crate::fits_the_oven(&setting, path)?;
    let order = Order {
        recipe,
        kitchen,
        set: setting.set,
        total_flour,
        calendar: setting.calendar.clone(),
    };
    let fitted = to_oven(&order, &[]).map_err(Problem::plain)?;
    let here = fitted.ways.iter().find(|w| w.path == path).map_or(recipe, |w| &w.recipe);
    let loads = setting.loads().and_then(|l| l.loads).unwrap_or(1);
    let words = format!("from the oven model in {}", kitchen.name);
    Ok(OvenTime::of(here, kitchen.oven.climbs, loads, &words))
}

/// What a batch costs.
pub fn costs(
    recipe: &Recipe,
    sheet: &Sheet,
    prices: &Prices,
    loss: Percent,
    discard: Option<Grams>,
    oven: OvenTime,
) -> Cost {
    let (ingredients, _) = ingredients(recipe, &[]);
    let discard = discard.and_then(|g| Decimal::of(g.0)).unwrap_or(prices.discard);
    cost(&Batch { recipe, sheet, ingredients: &ingredients, loss, discard, oven }, prices)
}

fn money(x: Option<Decimal>) -> Option<String> {
    x.map(|x| x.show(2))
}

/// The document of a cost.
pub fn json(recipe: &Recipe, cost: &Cost, prices: &Prices) -> Value {
    let charges: Vec<Value> = cost
        .charges
        .iter()
        .map(|c| {
            json!({ "name": c.name, "quantity": c.quantity, "price": c.price, "cost": money(c.cost) })
        })
        .collect();
    document(
        "cost",
        json!({
            "title": recipe.title, "currency": prices.currency, "charges": charges,
            "pieces": cost.pieces, "bread": cost.bread.to_f64(),
            "total": money(cost.total()), "per_piece": money(cost.per_piece()),
            "per_100g": money(cost.per_100g()), "known": cost.known.show(2),
            "missing": cost.missing, "notes": cost.notes,
        }),
    )
}

/// What a batch takes, for a shopping list; water comes from the tap.
pub fn needed(recipe: &Recipe, sheet: &Sheet, discard: Decimal) -> Vec<Need> {
    let (ingredients, _) = ingredients(recipe, &[]);
    let water = ingredients.iter().find(|i| i.which == Which::Water).map(|i| i.name.clone());
    let mut all = needs(recipe, sheet, &ingredients, discard);
    all.retain(|n| Some(&n.name) != water.as_ref());
    all
}

/// The document of a shopping list.
pub fn shop_json(titles: &[&str], list: &Shopping, currency: &str) -> Value {
    let buys: Vec<Value> = list
        .buys
        .iter()
        .map(|b| {
            json!({
                "name": b.name, "need": b.need.to_f64(), "stock": b.stock.to_f64(),
                "short": b.short.to_f64(), "packages": b.packages,
                "package": b.package.map(Decimal::to_f64), "left": b.left.map(Decimal::to_f64),
                "cost": money(b.cost), "date": b.date,
            })
        })
        .collect();
    document(
        "shop",
        json!({
            "titles": titles, "currency": currency, "buys": buys,
            "total": money(list.total()), "known": list.known.show(2), "missing": list.missing,
        }),
    )
}
