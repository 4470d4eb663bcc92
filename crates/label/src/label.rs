//! A label: what a bread holds, both panels, both lists, and what to mind.

use crate::Decimal;
use crate::food::Nutrient;
use crate::ingredient::{Ingredient, Source, ingredients};
use crate::nutrition::Nutrition;
use crate::packet::Packet;
use crate::panel::{Line, eu, us};
use crate::serving::{
    Portion, REFERENCES, Reference, Serving, package_note, per_container, serving,
};
use crate::statement::{Levain, Statement, statement};
use crate::{allergen, notes};
use engine::formula::Sheet;
use engine::recipe::{PieceShape, Recipe};
use quantity::{Grams, Percent};
use std::fmt;

const HUNDRED: Decimal = Decimal::whole(100);

/// How much weight the dough loses until it is cool bread, and how that is known.
#[derive(Debug, Clone, PartialEq)]
pub enum Loss {
    /// As the recipe says.
    Written,
    /// As asked for.
    Given(Percent),
    /// From weights of a bake: dough, bread.
    Weighed(Grams, Grams),
    /// From the oven of a kitchen, cooling included; its name.
    Oven(Percent, String),
}

impl Loss {
    /// Of the dough.
    pub fn share(&self, recipe: &Recipe) -> Percent {
        match self {
            Self::Written => recipe.yields.bake_loss,
            Self::Given(loss) | Self::Oven(loss, _) => *loss,
            Self::Weighed(dough, bread) => Percent::share(*dough - *bread, *dough),
        }
    }

    fn words(&self) -> String {
        match self {
            Self::Written => "as the recipe says".into(),
            Self::Given(_) => "as given".into(),
            Self::Weighed(dough, bread) => {
                format!("weighed: {} of dough, {} of bread", dough.write(), bread.write())
            }
            Self::Oven(_, kitchen) => {
                format!("from the oven model in {kitchen}, cooling included, say ± 2 points")
            }
        }
    }
}

/// What is asked of a label.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    /// Ingredients known from their packets.
    pub packets: &'a [Packet],
    /// Weight lost.
    pub loss: Loss,
    /// Which protein the European panel counts.
    pub protein: eu::Protein,
    /// What becomes of the levain in the lists.
    pub levain: Levain,
    /// Reference amount of the United States.
    pub reference: Reference,
    /// A slice, if the bread is sold sliced.
    pub slice: Option<Grams>,
    /// Pieces in a package.
    pub pack: u32,
}

impl Default for Asked<'_> {
    fn default() -> Self {
        Self {
            packets: &[],
            loss: Loss::Written,
            protein: eu::Protein::default(),
            levain: Levain::default(),
            reference: REFERENCES[0],
            slice: None,
            pack: 1,
        }
    }
}

/// One ingredient as it was counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// As the recipe calls it.
    pub name: String,
    /// In the batch, g.
    pub mass: Decimal,
    /// Where what is known of it comes from.
    pub source: String,
}

/// The label of a bread.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// What was counted.
    pub counted: Vec<Counted>,
    /// Weight lost, of the dough.
    pub loss: Percent,
    /// How that is known.
    pub loss_words: String,
    /// Dough of the batch, g.
    pub dough: Decimal,
    /// One piece baked and cool, g.
    pub piece: Decimal,
    /// 100 g of bread.
    pub per_100g: Nutrition,
    /// The serving of the United States.
    pub serving: Serving,
    /// Servings in a package.
    pub per_container: String,
    /// Panel of the United States, one serving.
    pub us: Vec<Line>,
    /// Declaration of the European Union, 100 g.
    pub eu: Vec<Line>,
    /// The same, one portion of the serving's weight.
    pub eu_portion: Vec<Line>,
    /// Which protein that counts.
    pub protein: eu::Protein,
    /// Lists of ingredients and allergens.
    pub statement: Statement,
    /// What was taken for granted, sentences.
    pub assumptions: Vec<String>,
    /// What the law of a place says of such bread, for information; it blocks nothing.
    pub notes: Vec<String>,
    /// Words of caution, always to be shown.
    pub cautions: Vec<&'static str>,
}

/// Why there is no label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LabelError {
    /// More is lost than the dough has water: lost and water there is, %.
    TooMuchLost(String, String),
    /// A measure that makes no bread.
    NoBread(String),
    /// A slice heavier than its loaf: slice and piece, g.
    Slice(String, String),
}

impl fmt::Display for LabelError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMuchLost(lost, water) => {
                write!(f, "a loss of {lost} % is more than the water in the dough, {water} %")
            }
            Self::NoBread(loss) => write!(f, "a loss of {loss} % leaves no bread"),
            Self::Slice(slice, piece) => {
                write!(f, "a slice of {slice} g is more than the whole piece, {piece} g")
            }
        }
    }
}
impl std::error::Error for LabelError {}

impl LabelError {
    /// How to mend it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Slice(..) => "give the weight of one slice",
            _ => {
                "bread loses 8 to 25 % of its dough's weight: weigh dough and bread, or say --loss \"14 %\""
            }
        }
    }
}

/// Makes the label of a batch.
///
/// # Errors
/// [`LabelError`] when the loss leaves no bread, or a slice is no part of it.
pub fn label(recipe: &Recipe, sheet: &Sheet, asked: &Asked<'_>) -> Result<Label, LabelError> {
    let (all, mut assumptions) = ingredients(recipe, asked.packets);
    let masses: Vec<Decimal> = all.iter().map(|i| i.mass(&sheet.total)).collect();
    let dough: Decimal = masses.iter().copied().sum();
    let parts: Vec<_> = all
        .iter()
        .zip(&masses)
        .map(|(i, mass)| (i.name.clone(), *mass, i.content().cloned()))
        .collect();
    let whole = Nutrition::of_dough(&parts);
    let loss = asked.loss.share(recipe);
    let no_bread = || LabelError::NoBread(format!("{:.1}", loss.0));
    let share = Decimal::of(loss.0).filter(|l| *l >= Decimal::ZERO && *l < HUNDRED);
    let share = share.ok_or_else(no_bread)?;
    let lost = (dough * share).over(HUNDRED).unwrap_or_default();
    let bread = dough - lost;
    if bread <= Decimal::ZERO {
        return Err(no_bread());
    }
    let baked = whole.baked(lost).ok_or_else(|| {
        let water = whole.of(Nutrient::Water).known;
        let of_dough = (water * HUNDRED).over(dough).unwrap_or_default();
        LabelError::TooMuchLost(share.show(1), of_dough.show(1))
    })?;
    let per_100g = baked.share(HUNDRED, bread);
    let left = HUNDRED - share;
    let scaled = Decimal::of(recipe.yields.piece.0).unwrap_or_default();
    let piece = (scaled * left).over(HUNDRED).unwrap_or_default();

    let serving = served(recipe, asked, piece)?;
    let package = piece * Decimal::whole(i64::from(asked.pack.max(1)));
    let one = per_100g.share(serving.grams, HUNDRED);
    let statement = statement(recipe, sheet, &all, asked.levain, dough, bread);

    let yeasted = all.iter().zip(&masses).filter(|(_, m)| !m.is_zero());
    let used: Vec<(&Ingredient, Decimal)> = yeasted.map(|(i, m)| (i, *m)).collect();
    assumptions.extend(taken_always(asked.protein));
    let mut notes =
        notes::notes(&notes::Bread { recipe, sheet, used: &used, per_100g: &per_100g, piece });
    notes.extend(package_note(package, asked.reference.grams));
    let gluten = statement.eu_allergens.iter().any(|a| allergen::is_gluten(a));
    Ok(Label {
        counted: used
            .iter()
            .map(|(i, mass)| Counted {
                name: i.name.clone(),
                mass: *mass,
                source: i.source_words(),
            })
            .collect(),
        loss,
        loss_words: asked.loss.words(),
        dough,
        piece,
        us: us::panel(&one),
        eu: eu::panel(&per_100g, &per_100g, asked.protein),
        eu_portion: eu::panel(&one, &per_100g, asked.protein),
        per_100g,
        per_container: per_container(package, serving.grams),
        serving,
        protein: asked.protein,
        statement,
        assumptions,
        notes,
        cautions: notes::cautions(
            gluten || used.iter().any(|u| matches!(u.0.source, Source::Nobody)),
        ),
    })
}

fn served(recipe: &Recipe, asked: &Asked<'_>, piece: Decimal) -> Result<Serving, LabelError> {
    let y = &recipe.yields;
    let portion = match asked.slice {
        Some(slice) => {
            let grams = Decimal::of(slice.0).unwrap_or_default();
            if grams <= Decimal::ZERO || grams > piece {
                return Err(LabelError::Slice(grams.show(1), piece.show(1)));
            }
            return Ok(serving(Portion::Units(grams), asked.reference, "slice"));
        }
        None if y.shape == PieceShape::Roll => {
            return Ok(serving(Portion::Units(piece), asked.reference, "roll"));
        }
        None if asked.reference != REFERENCES[0] => {
            if piece >= asked.reference.grams * Decimal::whole(2) {
                Portion::Divided(piece)
            } else {
                Portion::Units(piece)
            }
        }
        None => {
            let inches = Decimal::of(y.footprint().0.0 / 25.4).filter(|l| *l > Decimal::ZERO);
            Portion::Loaf(piece, inches)
        }
    };
    Ok(serving(portion, asked.reference, "piece"))
}

/// What is taken for granted of every bread.
fn taken_always(protein: eu::Protein) -> Vec<String> {
    vec![
        "a levain is counted as its flour and water; what fermentation eats, 1 to 2 % of the flour (common practice, no source), is left out".into(),
        "all weight lost is water; what baking does to vitamins is left out".into(),
        "United States: calories by USDA's specific factors, 21 CFR 101.9(c)(1)(i); percents of the amounts before rounding".into(),
        format!(
            "European Union: energy by the factors of Annex XIV; salt is sodium × 2.5; protein is {}",
            match protein {
                eu::Protein::ByLaw => "nitrogen × 6.25, Annex I (10)",
                eu::Protein::Usda => "nitrogen × the factor of each food, as USDA prints it",
            }
        ),
    ]
}
