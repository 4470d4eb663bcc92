//! Questions of labels, cost and shopping.

use super::fields::{Fields, unknown};
use super::{kitchen, much, recipe_text, units};
use crate::label::{LossAsked, label, loss, reference};
use crate::{Problem, cost, formula, label as labels, total_flour};
use engine::kitchen::Kitchen;
use engine::recipe::Recipe;
use label::panel::eu::Protein;
use label::price::{Prices, read_prices, read_stock};
use label::shop::shop;
use label::statement::Levain;
use label::{Asked, Packet, read_packets};
use quantity::{Grams, Percent};
use serde_json::Value;

/// A kitchen only where one is sent: without, the recipe's own loss and times count.
fn sent_kitchen(q: &Fields<'_>) -> Result<(Option<Kitchen>, Kitchen), Problem> {
    let there = q.get("kitchen").is_some();
    let kitchen = kitchen(q)?;
    Ok((there.then(|| kitchen.clone()), kitchen))
}

fn loss_asked(q: &Fields<'_>) -> Result<LossAsked, Problem> {
    Ok(LossAsked {
        loss: q.quantity::<Percent>("loss")?,
        dough_weight: q.quantity::<Grams>("dough_weight")?,
        baked_weight: q.quantity::<Grams>("baked_weight")?,
    })
}

fn packets(q: &Fields<'_>) -> Result<Vec<Packet>, Problem> {
    let Some(text) = q.text("packets")? else { return Ok(Vec::new()) };
    read_packets(text).map_err(|p| Problem::file("packets", text, &p))
}

fn prices(q: &Fields<'_>) -> Result<Prices, Problem> {
    let text = q.needed_text("prices", "\"currency = …\", a prices file")?;
    read_prices(text).map_err(|p| Problem::file("prices", text, &p))
}

pub(super) fn asked(q: &Fields<'_>) -> Result<Value, Problem> {
    let recipe = recipe_text(q, "recipe")?;
    let (sent, kitchen) = sent_kitchen(q)?;
    units(q)?;
    let (much, loss_asked, packets) = (much(q)?, loss_asked(q)?, packets(q)?);
    let levain = match q.text("levain")? {
        None | Some("opened") => Levain::Opened,
        Some("compound") => Levain::Compound,
        Some(other) => return Err(unknown(other, "levain", &["opened", "compound"])),
    };
    let protein = if q.flag("usda_protein")? { Protein::Usda } else { Protein::ByLaw };
    let reference = reference(q.text("food")?.unwrap_or("bread")).map_err(|p| p.at("food"))?;
    let slice = q.quantity::<Grams>("slice")?;
    let pack = q.whole("pack", 1, 1000)?.unwrap_or(1) as u32;
    q.finish()?;
    let flour = total_flour(much, &recipe, &kitchen).map_err(|p| p.at("scale"))?;
    let (sheet, _) = formula::sheets(&recipe, &kitchen, flour)?;
    let loss = loss(loss_asked, &recipe, sent.as_ref(), flour).map_err(|p| p.at("loss"))?;
    let asked = Asked { packets: &packets, loss, protein, levain, reference, slice, pack };
    Ok(labels::json(&recipe, &label(&recipe, &sheet, &asked)?))
}

pub(super) fn asked_cost(q: &Fields<'_>) -> Result<Value, Problem> {
    let recipe = recipe_text(q, "recipe")?;
    let (sent, kitchen) = sent_kitchen(q)?;
    units(q)?;
    let (much, loss_asked, prices) = (much(q)?, loss_asked(q)?, prices(q)?);
    let discard = q.quantity::<Grams>("discard")?;
    q.finish()?;
    let flour = total_flour(much, &recipe, &kitchen).map_err(|p| p.at("scale"))?;
    let (sheet, _) = formula::sheets(&recipe, &kitchen, flour)?;
    let loss = loss(loss_asked, &recipe, sent.as_ref(), flour).map_err(|p| p.at("loss"))?;
    let oven = cost::oven_time(&recipe, sent.as_ref(), flour)?;
    let share = loss.share(&recipe);
    let bill = cost::costs(&recipe, &sheet, &prices, share, discard, oven);
    Ok(cost::json(&recipe, &bill, &prices))
}

pub(super) fn asked_shop(q: &Fields<'_>) -> Result<Value, Problem> {
    let kitchen = kitchen(q)?;
    units(q)?;
    let mut prices = prices(q)?;
    if let Some(text) = q.text("stock")? {
        let stock = read_stock(text).map_err(|p| Problem::file("stock", text, &p))?;
        prices.with_stock(&stock);
    }
    let mut recipes: Vec<Recipe> = Vec::new();
    let mut needs = Vec::new();
    let mut one = |b: &Fields<'_>| -> Result<(), Problem> {
        let recipe = recipe_text(b, "recipe")?;
        let much = if b.get("scale").is_some() { much(b)? } else { much(q)? };
        let flour = total_flour(much, &recipe, &kitchen).map_err(|p| p.at("scale"))?;
        let (sheet, _) = formula::sheets(&recipe, &kitchen, flour)?;
        needs.extend(cost::needed(&recipe, &sheet, prices.discard));
        recipes.push(recipe);
        Ok(())
    };
    let several = q.objects("recipes")?;
    if several.is_empty() {
        one(q)?;
    }
    for b in &several {
        one(b)?;
        b.finish()?;
    }
    q.knows(&["scale"]);
    q.finish()?;
    let list = shop(&needs, &prices);
    let titles: Vec<&str> = recipes.iter().map(|r| r.title.as_str()).collect();
    Ok(cost::shop_json(&titles, &list, &prices.currency))
}
