//! What a bread costs: ingredients with what is lost of them, starter thrown away, the oven, work.
//!
//! The oven: full power while it climbs, then a share of it, and the heat the bread itself takes.
//! Ovens differ by more than breads: take it as ± 40 % (ours).

use crate::Decimal;
use crate::ingredient::{Ingredient, Which};
use crate::price::{Energy, Item, Offer, Prices};
use engine::formula::{PrefermentKind, Sheet};
use engine::method::{End, Path, Verb};
use engine::recipe::Recipe;
use quantity::{Celsius, Grams, Minutes, Percent, TempRise};

const HUNDRED: Decimal = Decimal::whole(100);
/// Heat to evaporate a kg of water and bring it to the boil, kWh: 2.26 + 0.33 MJ (steam tables).
const EVAPORATES_KWH_PER_KG: f64 = 0.72;
/// Heat of a kg of dough from room to crumb, kWh: 2.8 kJ/(kg K) (the oven model's) times 75 K.
const HEATS_KWH_PER_KG: f64 = 0.058;

/// How long the oven is on for a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct OvenTime {
    /// Before the first load.
    pub preheat: Minutes,
    /// From the first load to the end of the last, reheating included.
    pub bakes: Minutes,
    /// Loads.
    pub loads: u32,
    /// What it is set to.
    pub knob: Celsius,
    /// How fast it climbs, per minute.
    pub climbs: TempRise,
    /// How that is known.
    pub words: String,
}

impl OvenTime {
    /// Of a method, one way through it: written, or fitted to a kitchen.
    pub fn of(recipe: &Recipe, climbs: TempRise, loads: u32, words: &str) -> Self {
        let path = first_path(recipe);
        let mut out = Self {
            preheat: Minutes(0.0),
            bakes: Minutes(0.0),
            loads,
            knob: Celsius(0.0),
            climbs,
            words: words.to_owned(),
        };
        for step in recipe.method.steps.iter().filter(|s| path.takes(s)) {
            let time = usual(step.end);
            match step.verb {
                Verb::Preheat => out.preheat += time,
                Verb::Cool => {}
                verb if verb.in_oven() => out.bakes += time,
                _ => {}
            }
            if matches!(step.verb, Verb::Preheat | Verb::Bake)
                && let Some(t) = step.temperature
            {
                out.knob = out.knob.max(t);
            }
        }
        out
    }

    /// Energy of a batch of so much dough that loses so much, kWh.
    pub fn kwh(&self, energy: Energy, dough: Grams, loss: Percent) -> Decimal {
        let on = (self.preheat + self.bakes).0 / 60.0;
        let climb = (self.knob.0 - 20.0).max(0.0) / self.climbs.0.max(0.1) / 60.0;
        let climb = climb.min(self.preheat.0 / 60.0);
        let power = energy.power.to_f64();
        let oven = power * (climb + energy.holding.to_f64() * (on - climb).max(0.0));
        let dough_kg = dough.0 / 1000.0;
        let bread = dough_kg * (HEATS_KWH_PER_KG + EVAPORATES_KWH_PER_KG * loss.fraction());
        Decimal::of(oven + bread).unwrap_or_default()
    }
}

/// The first way through a method; every method has one.
fn first_path(recipe: &Recipe) -> Path {
    let plain = Path { cold_bulk: false, cold_proof: false };
    recipe.method.paths().first().copied().unwrap_or(plain)
}

/// How long a step usually takes; of a cue half-way between its least and its most.
fn usual(end: End) -> Minutes {
    match end {
        End::After(t) => t,
        End::Between { usual, .. } => usual,
        End::Cue { least, most, .. } => Minutes(f64::midpoint(least.0, most.0)),
    }
}

/// One line of a bill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Charge {
    /// What for.
    pub name: String,
    /// How much of it, in words.
    pub quantity: String,
    /// At which price, in words; empty when nobody knows.
    pub price: String,
    /// What it comes to; none when nobody knows.
    pub cost: Option<Decimal>,
}

/// What a batch costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cost {
    /// Line by line.
    pub charges: Vec<Charge>,
    /// What is known of the whole.
    pub known: Decimal,
    /// What has no price.
    pub missing: Vec<String>,
    /// Pieces.
    pub pieces: u32,
    /// Bread, g.
    pub bread: Decimal,
    /// What was counted how, sentences.
    pub notes: Vec<String>,
}

impl Cost {
    /// The whole; none when something has no price.
    pub fn total(&self) -> Option<Decimal> {
        self.missing.is_empty().then_some(self.known)
    }
    /// One piece.
    pub fn per_piece(&self) -> Option<Decimal> {
        self.total()?.over(Decimal::whole(i64::from(self.pieces)))
    }
    /// 100 g of bread.
    pub fn per_100g(&self) -> Option<Decimal> {
        (self.total()? * HUNDRED).over(self.bread)
    }
}

/// An amount of an ingredient to be bought.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// As the recipe calls it.
    pub name: String,
    /// Weighed in, g.
    pub mass: Decimal,
}

/// What a batch takes of each ingredient, starter thrown away included.
pub fn needs(
    recipe: &Recipe,
    sheet: &Sheet,
    ingredients: &[Ingredient],
    discard: Decimal,
) -> Vec<Need> {
    let mut out: Vec<Need> = ingredients
        .iter()
        .map(|i| Need { name: i.name.clone(), mass: i.mass(&sheet.total) })
        .collect();
    if let Some((flour, flour_part)) = discarded(recipe, discard) {
        for (ingredient, need) in ingredients.iter().zip(&mut out) {
            match ingredient.which {
                Which::Flour(i) if i == flour => need.mass += flour_part,
                Which::Water => need.mass += discard - flour_part,
                _ => {}
            }
        }
    }
    out.retain(|n| !n.mass.is_zero());
    out
}

/// Which flour starter thrown away is of, and how much of it: the levain's first flour, at the
/// hydration of its seed.
fn discarded(recipe: &Recipe, discard: Decimal) -> Option<(usize, Decimal)> {
    let p = recipe.formula.preferments.iter().find(|p| p.kind == PrefermentKind::Levain)?;
    let hydration = p.seed.map_or(100.0, |s| s.hydration.0);
    let flour = recipe.formula.flour_index(&p.flours.first()?.0)?;
    let parts = HUNDRED + Decimal::of(hydration)?;
    Some((flour, (discard * HUNDRED).over(parts)?))
}

fn grams(mass: Decimal) -> String {
    if mass < Decimal::whole(10) {
        format!("{} g", mass.show(1))
    } else {
        format!("{} g", mass.show(0))
    }
}

fn offered(offer: &Offer, currency: &str) -> String {
    let cents = offer.price.to_step(Decimal::thousandths(10)) == offer.price;
    let price = if cents { offer.price.show(2) } else { offer.price.to_string() };
    format!("{price} {currency} for {} g, {}", offer.package, offer.date)
}

/// What so much costs at an offer.
fn at(offer: &Offer, mass: Decimal) -> Option<Decimal> {
    (offer.price * mass).over(offer.package)
}

/// A batch to be counted.
pub struct Batch<'a> {
    /// Its recipe.
    pub recipe: &'a Recipe,
    /// Its weights.
    pub sheet: &'a Sheet,
    /// What is in it.
    pub ingredients: &'a [Ingredient],
    /// Weight lost, of the dough.
    pub loss: Percent,
    /// Starter thrown away, g.
    pub discard: Decimal,
    /// How long the oven is on.
    pub oven: OvenTime,
}

/// Counts what a batch costs.
pub fn cost(batch: &Batch<'_>, prices: &Prices) -> Cost {
    let Batch { recipe, sheet, .. } = batch;
    let mut out = Cost {
        charges: Vec::new(),
        known: Decimal::ZERO,
        missing: Vec::new(),
        pieces: pieces(recipe, sheet),
        bread: Decimal::ZERO,
        notes: Vec::new(),
    };
    let dough: Grams = sheet.dough();
    let scaled = Grams(dough.0 * (1.0 - recipe.yields.process_loss.fraction()));
    out.bread = Decimal::of(scaled.0 * (1.0 - batch.loss.fraction())).unwrap_or_default();
    for need in needs(recipe, sheet, batch.ingredients, batch.discard) {
        let item: Option<&Item> = prices.item(&need.name);
        let mass = item.map_or(need.mass, |i| i.with_waste(need.mass));
        let offer = item.and_then(|i| i.offer.as_ref());
        let lost = mass - need.mass;
        let quantity = if lost.is_zero() {
            grams(mass)
        } else {
            format!("{}, {} of it lost on the way", grams(mass), grams(lost))
        };
        let price = offer.map_or(String::new(), |o| offered(o, &prices.currency));
        charge(&mut out, need.name, quantity, price, offer.and_then(|o| at(o, mass)));
    }
    if let Some(energy) = prices.energy {
        let kwh = batch.oven.kwh(energy, dough, batch.loss);
        let price = format!("{} {} per kWh", energy.tariff.show(2), prices.currency);
        let quantity = format!("{} kWh", kwh.show(2));
        charge(&mut out, "oven".into(), quantity, price, Some(kwh * energy.tariff));
        out.notes.push(format!(
            "oven: {} of heating up and {} with {} ({}); {} kW until it is hot, {} % of that afterwards, and the heat the bread takes; take it as ± 40 %",
            batch.oven.preheat.show(),
            batch.oven.bakes.show(),
            if batch.oven.loads == 1 { "1 load".to_owned() } else { format!("{} loads", batch.oven.loads) },
            batch.oven.words,
            energy.power,
            (energy.holding * HUNDRED).show(0),
        ));
    } else {
        charge(&mut out, "oven".into(), String::new(), String::new(), None);
        out.notes.push("oven: no tariff in the prices file, add [oven] with tariff".into());
    }
    if let Some(rate) = prices.labour {
        let minutes = hands_on(recipe);
        let hours = Decimal::of(minutes.0 / 60.0).unwrap_or_default();
        let price = format!("{} {} per h", rate.show(2), prices.currency);
        charge(&mut out, "work".into(), minutes.show(), price, Some(hours * rate));
        out.notes.push("work: the hands-on minutes of the method, once a batch".into());
    } else {
        out.notes.push("work is not counted: no labour_per_hour in the prices file".into());
    }
    out.notes.push(if batch.discard.is_zero() {
        "no starter is counted as thrown away: say discard in the prices file, or --discard".into()
    } else {
        format!(
            "{} of ripe starter thrown away for each batch, as flour and water",
            grams(batch.discard)
        )
    });
    out
}

fn charge(out: &mut Cost, name: String, quantity: String, price: String, cost: Option<Decimal>) {
    match cost {
        Some(cost) => out.known += cost,
        None => out.missing.push(name.clone()),
    }
    out.charges.push(Charge { name, quantity, price, cost });
}

/// Pieces a batch divides into, at least one.
fn pieces(recipe: &Recipe, sheet: &Sheet) -> u32 {
    let y = &recipe.yields;
    let n = sheet.dough() * (1.0 - y.process_loss.fraction()) / y.piece;
    if n.is_finite() && n >= 1.0 { n.round().min(1e6) as u32 } else { 1 }
}

/// Work along the first way through a method, preferments and soakers included.
fn hands_on(recipe: &Recipe) -> Minutes {
    let path = first_path(recipe);
    recipe.method.steps.iter().filter(|s| path.takes(s)).map(|s| s.hands_on).sum()
}
