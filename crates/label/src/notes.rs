//! What the law of a place says of such bread, for information. None of it blocks anything, and
//! none of it is advice: the local authority decides.

use crate::Decimal;
use crate::food::Nutrient;
use crate::ingredient::{Ingredient, Source};
use crate::nutrition::Nutrition;
use engine::flour::Grain;
use engine::formula::{PrefermentKind, Sheet};
use engine::recipe::Recipe;

/// A bread to speak of.
pub(crate) struct Bread<'a> {
    /// Its recipe.
    pub(crate) recipe: &'a Recipe,
    /// Its weights.
    pub(crate) sheet: &'a Sheet,
    /// What is in it, g.
    pub(crate) used: &'a [(&'a Ingredient, Decimal)],
    /// 100 g of it.
    pub(crate) per_100g: &'a Nutrition,
    /// One piece, g.
    pub(crate) piece: Decimal,
}

/// Words of caution that stand under every label.
pub(crate) fn cautions(gluten: bool) -> Vec<&'static str> {
    let mut out = vec![
        "Nutrition values are estimated from the formula and USDA data or packets, not from analysis.",
        "Rules for selling home-baked food, its label and its allergens differ by country, state and town. Ask your local food authority before you sell, and use its exact wording.",
        "Flour, peel, bench and mill may carry other allergens over: a list names what was put in, not what came along.",
    ];
    if gluten {
        out.push("Not for people with coeliac disease: sourdough of wheat, spelt, khorasan, rye or barley is not gluten-free, however long it fermented (21 CFR 101.91; Regulation (EU) 828/2014).");
    }
    out
}

/// Notes on a bread, sentences.
pub(crate) fn notes(b: &Bread<'_>) -> Vec<String> {
    let mut out = Vec::new();
    solids(b, &mut out);
    names(b, &mut out);
    for (i, _) in b.used {
        let key = match &i.source {
            Source::Table(food) => food.key,
            _ => continue,
        };
        match key {
            "honey" => out.push("Honey is not for infants below twelve months.".into()),
            "apricots-dried-sulfured" | "molasses" => out.push(format!(
                "{}: may hold sulphites; they are to be declared above 10 mg per kg of the bread in the EU, at 10 ppm or more in the United States.",
                i.name
            )),
            "soybean-oil" => out.push(format!(
                "{}: fully refined soya oil is exempt from allergen labelling in both systems; other soya oil is not.",
                i.name
            )),
            _ => {}
        }
    }
    out
}

/// United States, 21 CFR 136.110 and 136.3 (from memory, the 62 % read).
fn solids(b: &Bread<'_>, out: &mut Vec<String>) {
    if let Some(water) = b.per_100g.of(Nutrient::Water).value() {
        let solids = Decimal::whole(100) - water;
        let below = if solids < Decimal::whole(62) { "below" } else { "not below" };
        out.push(format!(
            "Solids of the bread {} %: {below} the 62 % by which 21 CFR 136.110 defines \"bread\", \"rolls\" and \"buns\" of the United States.",
            solids.show(1)
        ));
    }
    // half a pound, exact: 226.796185 g
    if b.piece < Decimal::of(226.796_185).unwrap_or_default() {
        out.push(
            "A piece below half a pound (226.8 g) is a roll or bun by 21 CFR 136.3, not a bread."
                .into(),
        );
    }
    if b.piece > Decimal::whole(300) {
        out.push(
            "United Kingdom: an unwrapped loaf above 300 g shows its weight unless it is 400 g or a multiple of it."
                .into(),
        );
    }
}

/// Names that promise sourdough (texts of France, Germany and Spain read in part; limits marked in
/// `docs/label.md`).
fn names(b: &Bread<'_>, out: &mut Vec<String>) {
    let f = &b.recipe.formula;
    let flour = b.sheet.total.flour();
    let yeast = f.yeast_form.as_fresh(b.sheet.total.yeast);
    let yeast_share = if flour.0 > 0.0 { 100.0 * (yeast / flour) } else { 0.0 };
    let levain: f64 = f
        .preferments
        .iter()
        .filter(|p| p.kind == PrefermentKind::Levain)
        .map(|p| p.prefermented_flour.0)
        .sum();
    if levain > 0.0 {
        out.push(format!(
            "France: \"pain au levain\" has a crumb of pH 4.3 at most and 900 ppm of acetic acid at least, and at most 0.2 % baker's yeast on the flour of the last mixing (décret 93-1074, articles 3 and 4); here {yeast_share:.2} % of all flour, as fresh yeast. The pH of the dough is told by grigne ferment."
        ));
        let half = b.sheet.preferments.iter().zip(&f.preferments);
        let yeast_in_levain = half
            .filter(|(_, p)| p.kind == PrefermentKind::Levain)
            .any(|(s, _)| s.contents.yeast.0 > 0.0);
        out.push(format!(
            "Spain: \"masa madre\" holds no added yeast (Real Decreto 308/2019); {}. At least 5 % of the flour, pH below 4.2 and at most 0.2 % yeast in the dough are from memory; here {levain:.0} % of the flour.",
            if yeast_in_levain { "this levain does" } else { "this levain holds none" }
        ));
        out.push("United Kingdom and United States: \"sourdough\" has no legal definition (from memory).".into());
    }
    let of = |grain: Grain| -> f64 {
        // from plain 0: an empty sum of floats is -0
        f.flours.iter().filter(|x| x.flour.grain == grain).fold(0.0, |a, x| a + x.share.0)
    };
    let (wheat, rye) = (of(Grain::Wheat), of(Grain::Rye));
    let name = if wheat >= 90.0 {
        Some("Weizenbrot")
    } else if rye >= 90.0 {
        Some("Roggenbrot")
    } else if wheat > 50.0 && rye > 0.0 {
        Some("Weizenmischbrot")
    } else if rye > 50.0 {
        Some("Roggenmischbrot")
    } else {
        None
    };
    if let Some(name) = name {
        out.push(format!(
            "Germany: by its grain ({wheat:.0} % wheat, {rye:.0} % rye) it would be \"{name}\" (Leitsätze für Brot und Kleingebäck, 2021; shares from memory); a piece of 250 g or less is Kleingebäck."
        ));
    }
}
