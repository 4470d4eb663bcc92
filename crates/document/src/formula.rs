//! `formula`: weights in the trade's layout.

use crate::{Problem, document};
use engine::diff::Change;
use engine::flour::pearson_square;
use engine::formula::Sheet;
use engine::kitchen::Kitchen;
use engine::recipe::Recipe;
use quantity::{Grams, Percent};
use serde_json::{Value, json};

/// Weights of a batch: as designed, and as the kitchen's scale weighs them.
///
/// # Errors
/// [`Problem`] when the formula does not fit together.
pub fn sheets(
    recipe: &Recipe,
    kitchen: &Kitchen,
    total_flour: Grams,
) -> Result<(Sheet, Sheet), Problem> {
    let exact = recipe.formula.sheet(total_flour).map_err(Problem::plain)?;
    let rounded = exact.clone().rounded(kitchen.scale.step, kitchen.scale.fine);
    Ok((exact, rounded))
}

/// The document.
pub fn json(recipe: &Recipe, sheet: &Sheet, changes: Option<&[Change]>) -> Value {
    let warnings: Vec<String> = sheet.warnings.iter().map(ToString::to_string).collect();
    let f = &recipe.formula;
    document(
        "formula",
        json!({
            "title": recipe.title,
            "flours": f.flours.iter().map(|x| x.flour.name.as_str()).collect::<Vec<_>>(),
            "others": f.others.iter().map(|o| o.name.as_str()).collect::<Vec<_>>(),
            "sheet": sheet,
            "warnings": warnings,
            "changes": changes,
        }),
    )
}

/// The first two flours reshared to reach a protein; the rest stay.
///
/// # Errors
/// [`Problem`] when they cannot reach it.
pub fn blend(recipe: &mut Recipe, target: Percent) -> Result<(), Problem> {
    let hint = "the first two flours are reshared; give them proteins on both sides of the target";
    let [a, b, rest @ ..] = recipe.formula.flours.as_mut_slice() else {
        return Err(Problem::wish("blending takes two flours", hint));
    };
    let share = a.share + b.share;
    let others: f64 = rest.iter().map(|f| f.share.0 * f.flour.protein.0).sum();
    // what the two together must have so that the whole has the target
    let needed = Percent((100.0 * target.0 - others) / share.0.max(f64::MIN_POSITIVE));
    let of_a = pearson_square(a.flour.protein, b.flour.protein, needed)
        .map_err(|e| Problem::wish(e.to_string(), hint))?;
    a.share = share * of_a.fraction();
    b.share = share - a.share;
    recipe.formula.sheet(Grams(1000.0)).map_err(|e| Problem::wish(e.to_string(), e.hint()))?;
    Ok(())
}
