//! `label`: what a bread holds, both panels, both lists.

use crate::{Problem, chosen, document, fits_the_oven};
use engine::bake::Resolution;
use engine::formula::Sheet;
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::method::Path;
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use engine::run::Setting;
use label::food::Nutrient;
use label::panel::Line;
use label::panel::eu::Protein;
use label::serving::{REFERENCES, Reference};
use label::statement::Entry;
use label::{Asked, Label, Loss, allergen};
use quantity::{Grams, Percent};
use serde_json::{Value, json};

/// How the loss is known, as it may be asked for; the first that is there counts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LossAsked {
    /// So much.
    pub loss: Option<Percent>,
    /// Dough of a bake that was weighed.
    pub dough_weight: Option<Grams>,
    /// Its bread.
    pub baked_weight: Option<Grams>,
}

/// The loss that counts: given, weighed, from the oven of a kitchen if there is one, as written.
///
/// # Errors
/// [`Problem`] when weights make no loss, or the oven cannot bake it.
pub fn loss(
    asked: LossAsked,
    recipe: &Recipe,
    kitchen: Option<&Kitchen>,
    total_flour: Grams,
) -> Result<Loss, Problem> {
    match (asked.loss, asked.dough_weight, asked.baked_weight) {
        (Some(loss), None, None) => Ok(Loss::Given(loss)),
        (None, Some(dough), Some(bread)) => {
            if dough.0 > 0.0 && bread.0 > 0.0 && bread <= dough {
                return Ok(Loss::Weighed(dough, bread));
            }
            Err(Problem::wish(
                format!("{} of dough cannot bake to {}", dough.write(), bread.write()),
                "weigh the same pieces before loading and when they are cool",
            ))
        }
        (None, None, None) => match kitchen {
            Some(kitchen) => oven_loss(recipe, kitchen, total_flour),
            None => Ok(Loss::Written),
        },
        (Some(_), ..) => {
            Err(Problem::wish("the loss is said twice", "give the loss, or two weights"))
        }
        _ => Err(Problem::wish(
            "one weight alone makes no loss",
            "give the weight of the dough and that of the bread",
        )),
    }
}

/// What the first way through the method loses in this kitchen's oven, cooling included.
fn oven_loss(recipe: &Recipe, kitchen: &Kitchen, total_flour: Grams) -> Result<Loss, Problem> {
    let path = first_path(recipe)?;
    let setting = setting(recipe, kitchen, total_flour)?;
    fits_the_oven(&setting, path)?;
    let schedule = setting.follow(path, 0.0).map_err(Problem::plain)?;
    let loaded = setting.loaded(&schedule).map_err(Problem::plain)?;
    let loaded = loaded.ok_or_else(|| Problem::plain("the recipe never loads the oven"))?;
    let trace = loaded.bake(Resolution::Publish);
    let oven = trace.minutes.last().map_or(Percent(0.0), |s| s.loss);
    Ok(Loss::Oven(oven + trace.cooling_loss, kitchen.name.clone()))
}

/// The first way through a method.
pub(crate) fn first_path(recipe: &Recipe) -> Result<Path, Problem> {
    let plain = Path { cold_bulk: false, cold_proof: false };
    chosen(recipe, recipe.method.paths().first().copied().unwrap_or(plain))
}

/// A batch in a kitchen on a day without a clock.
pub(crate) fn setting<'a>(
    recipe: &'a Recipe,
    kitchen: &'a Kitchen,
    total_flour: Grams,
) -> Result<Setting<'a>, Problem> {
    let calendar = Calendar::plain(jiff::civil::datetime(2000, 1, 1, 12, 0, 0, 0));
    Setting::new(recipe, kitchen, ParameterSet::default_set(), total_flour, calendar)
        .map_err(Problem::plain)
}

/// A reference amount by the name of its food.
///
/// # Errors
/// [`Problem`] with the names there are.
pub fn reference(food: &str) -> Result<Reference, Problem> {
    REFERENCES.into_iter().find(|r| r.food == food).ok_or_else(|| {
        let names: Vec<&str> = REFERENCES.iter().map(|r| r.food).collect();
        Problem::wish(
            format!("there is no reference amount for \"{food}\""),
            format!("choose from {}", names.join(", ")),
        )
    })
}

/// The label of a batch.
///
/// # Errors
/// [`Problem`] when the loss leaves no bread, or a slice is no part of it.
pub fn label(recipe: &Recipe, sheet: &Sheet, asked: &Asked<'_>) -> Result<Label, Problem> {
    label::label(recipe, sheet, asked).map_err(|e| Problem::wish(e.to_string(), e.hint()))
}

fn line(l: &Line) -> Value {
    json!({
        "name": l.name, "inset": l.inset, "amount": l.amount, "percent": l.percent,
        "exact": l.exact.map(label::Decimal::to_f64), "unit": l.unit, "missing": l.missing,
    })
}

fn lines(all: &[Line]) -> Vec<Value> {
    all.iter().map(line).collect()
}

fn entries(all: &[Entry]) -> Vec<Value> {
    let one = |e: &Entry| json!({ "words": e.words, "weight": e.weight.to_f64(), "share": e.share.to_f64() });
    all.iter().map(one).collect()
}

/// The document.
pub fn json(recipe: &Recipe, l: &Label) -> Value {
    let per_100g: serde_json::Map<String, Value> = Nutrient::ALL
        .iter()
        .map(|n| {
            let a = l.per_100g.of(*n);
            let value = a.value().map(label::Decimal::to_f64);
            let one = json!({
                "value": value, "unit": n.unit(), "known": a.known.to_f64(), "missing": a.missing,
            });
            (n.words().to_owned(), one)
        })
        .collect();
    let counted: Vec<Value> = l
        .counted
        .iter()
        .map(|c| json!({ "name": c.name, "mass": c.mass.to_f64(), "source": c.source }))
        .collect();
    let s = &l.statement;
    let words = |all: &[String]| all.iter().map(|a| allergen::words(a)).collect::<Vec<_>>();
    document(
        "label",
        json!({
            "title": recipe.title, "counted": counted,
            "loss": l.loss, "loss_words": l.loss_words,
            "dough": l.dough.to_f64(), "piece": l.piece.to_f64(),
            "per_100g": per_100g,
            "us": {
                "serving": l.serving.words, "serving_g": l.serving.grams.to_f64(),
                "per_container": l.per_container, "lines": lines(&l.us),
                "footnote": label::panel::us::FOOTNOTE,
                "ingredients": s.us_words(), "entries": entries(&s.us),
                "allergens": words(&s.us_allergens), "serving_notes": l.serving.notes,
            },
            "eu": {
                "lines": lines(&l.eu), "portion": lines(&l.eu_portion),
                "protein": if l.protein == Protein::ByLaw { "nitrogen × 6.25" } else { "usda" },
                "ingredients": s.eu_words(), "entries": entries(&s.eu),
                "allergens": words(&s.eu_allergens),
                "water": s.eu_water.to_f64(), "water_left_out": s.eu_water_left_out,
                "quantities": s.quid,
            },
            "allergens_unknown": s.unknown,
            "assumptions": l.assumptions, "notes": l.notes, "cautions": l.cautions,
        }),
    )
}
