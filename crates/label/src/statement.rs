//! The list of ingredients, by weight, for both systems.
//!
//! United States, 21 CFR 101.4 (from memory; that water is listed unless all of it bakes out was
//! read in FDA's Food Labeling Guide): weights as they go into the dough. European Union,
//! Regulation (EU) 1169/2011, Articles 18, 21 and 22 (from memory) and Annex VII, part A (1) (read):
//! weights at the time of use, but water by what is left of it in the bread; at 5 % or less of the
//! bread it may be left out, and is.

use crate::Decimal;
use crate::allergen;
use crate::ingredient::{Ingredient, Which};
use engine::formula::{PrefermentKind, Sheet};
use engine::recipe::Recipe;

/// What becomes of the levain in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Levain {
    /// Its flour and water are added to the others.
    #[default]
    Opened,
    /// One ingredient, with what it is made of behind it.
    Compound,
}

/// One entry of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Words, allergens between asterisks.
    pub words: String,
    /// By which weight it stands where it does, g per batch.
    pub weight: Decimal,
    /// Share of it: of the dough (United States), of the bread (European Union), %.
    pub share: Decimal,
}

/// Both lists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// United States, in order.
    pub us: Vec<Entry>,
    /// European Union, in order.
    pub eu: Vec<Entry>,
    /// Major allergens of the United States: `wheat`, `tree nuts:walnut`.
    pub us_allergens: Vec<String>,
    /// Of Annex II of the EU.
    pub eu_allergens: Vec<String>,
    /// Ingredients whose allergens nobody knows.
    pub unknown: Vec<String>,
    /// Water left in the bread as the EU counts it, share of the bread, %.
    pub eu_water: Decimal,
    /// It was left out.
    pub eu_water_left_out: bool,
    /// Ingredients the title names: quantities to declare.
    pub quid: Vec<String>,
}

/// American words where the table has those of both.
const AMERICAN: [(&str, &str); 5] = [
    ("soya", "soy"),
    ("rapeseed oil", "canola oil"),
    ("skimmed", "skim"),
    ("sulphur", "sulfur"),
    ("linseed (flaxseed)", "flaxseed"),
];

fn american(words: &str) -> String {
    AMERICAN.iter().fold(words.to_owned(), |text, (from, to)| text.replace(from, to))
}

fn plain(words: &str) -> String {
    words.replace('*', "")
}

/// What stands between asterisks in capitals.
fn emphasised(words: &str) -> String {
    let parts = words.split('*').enumerate();
    parts.map(|(i, p)| if i % 2 == 1 { p.to_uppercase() } else { p.to_owned() }).collect()
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}

/// Adds weight to an entry of the same words.
fn put(list: &mut Vec<(String, Decimal, bool)>, words: &str, weight: Decimal, water: bool) {
    if weight <= Decimal::ZERO {
        return;
    }
    match list.iter_mut().find(|(w, ..)| w == words) {
        Some((_, sum, _)) => *sum += weight,
        None => list.push((words.to_owned(), weight, water)),
    }
}

/// Entries before they are set in order: words, weight, whether it is the water poured.
fn entries(
    recipe: &Recipe,
    sheet: &Sheet,
    ingredients: &[Ingredient],
    levain: Levain,
) -> Vec<(String, Decimal, bool)> {
    let mut list = Vec::new();
    let mut compound: Vec<(String, Decimal)> = Vec::new();
    let mut inside = vec![Decimal::ZERO; ingredients.len()];
    if levain == Levain::Compound {
        for (p, column) in recipe.formula.preferments.iter().zip(&sheet.preferments) {
            if p.kind != PrefermentKind::Levain {
                continue;
            }
            let mut parts = Vec::new();
            for (ingredient, sum) in ingredients.iter().zip(&mut inside) {
                let mass = ingredient.mass(&column.contents);
                *sum += mass;
                put(&mut parts, &ingredient.statement, mass, false);
            }
            parts.sort_by_key(|p| std::cmp::Reverse(p.1));
            let all = parts.iter().map(|p| p.1).sum();
            let words: Vec<&str> = parts.iter().map(|p| p.0.as_str()).collect();
            compound.push((format!("sourdough ({})", words.join(", ")), all));
        }
    }
    for (ingredient, inside) in ingredients.iter().zip(inside) {
        let water = ingredient.which == Which::Water;
        put(&mut list, &ingredient.statement, ingredient.mass(&sheet.total) - inside, water);
    }
    for (words, weight) in compound {
        put(&mut list, &words, weight, false);
    }
    list
}

/// In descending order of weight, with shares of a whole.
fn ordered(list: Vec<(String, Decimal, bool)>, whole: Decimal) -> Vec<Entry> {
    let mut all: Vec<Entry> = list
        .into_iter()
        .map(|(words, weight, _)| Entry {
            words,
            weight,
            share: (weight * Decimal::whole(100)).over(whole).unwrap_or_default(),
        })
        .collect();
    all.sort_by_key(|e| std::cmp::Reverse(e.weight));
    all
}

/// The lists for a batch of so much dough (g) that bakes to so much bread (g).
pub fn statement(
    recipe: &Recipe,
    sheet: &Sheet,
    ingredients: &[Ingredient],
    levain: Levain,
    dough: Decimal,
    bread: Decimal,
) -> Statement {
    let list = entries(recipe, sheet, ingredients, levain);
    let others: Decimal = list.iter().filter(|e| !e.2).map(|e| e.1).sum();
    let left = (bread - others).max(Decimal::ZERO);
    let eu_water = (left * Decimal::whole(100)).over(bread).unwrap_or_default();
    let poured = list.iter().any(|e| e.2);
    let leave_out = poured && eu_water <= Decimal::whole(5);
    let in_bread: Vec<_> = list
        .iter()
        .filter(|e| !(e.2 && leave_out))
        .map(|(words, weight, water)| (words.clone(), if *water { left } else { *weight }, *water))
        .collect();
    let mut eu_allergens = Vec::new();
    let mut us_allergens = Vec::new();
    let mut unknown = Vec::new();
    let used = |i: &&Ingredient| !i.mass(&sheet.total).is_zero();
    for ingredient in ingredients.iter().filter(used) {
        let Some(allergens) = &ingredient.allergens else {
            unknown.push(ingredient.name.clone());
            continue;
        };
        for a in allergens {
            if !eu_allergens.contains(a) {
                eu_allergens.push(a.clone());
            }
            if let Some(us) = allergen::us_of(a).filter(|us| !us_allergens.contains(us)) {
                us_allergens.push(us);
            }
        }
    }
    let quid = quid(recipe, sheet, ingredients, bread);
    Statement {
        us: ordered(list, dough),
        eu: ordered(in_bread, bread),
        us_allergens,
        eu_allergens,
        unknown,
        eu_water,
        eu_water_left_out: leave_out,
        quid,
    }
}

/// Words of a title that name no ingredient one would have to quantify.
const COMMON: [&str; 16] = [
    "bread", "loaf", "flour", "white", "whole", "strong", "water", "salt", "seed", "seeds",
    "fresh", "dried", "medium", "light", "dark", "plain",
];

/// Ingredients the title names: Article 22 and Annex VIII (from memory). Of bread, which loses
/// water, the share is of the finished bread; above 100 % it is g in 100 g.
fn quid(recipe: &Recipe, sheet: &Sheet, ingredients: &[Ingredient], bread: Decimal) -> Vec<String> {
    let words = |text: &str| -> Vec<String> {
        let split = text.split(|c: char| !c.is_alphabetic());
        split.map(str::to_lowercase).filter(|w| w.chars().count() > 2).collect()
    };
    let title = words(&recipe.title);
    let mut out = Vec::new();
    for i in ingredients {
        let mass = i.mass(&sheet.total);
        if mass.is_zero() {
            continue;
        }
        let mut names = words(&i.name);
        // what stands in brackets is what it is made of
        names.extend(words(&plain(i.statement.split('(').next().unwrap_or_default())));
        if names.iter().any(|n| title.contains(n) && !COMMON.contains(&n.as_str())) {
            let share = (mass * Decimal::whole(100)).over(bread).unwrap_or_default();
            let unit = if share > Decimal::whole(100) { " g per 100 g" } else { " %" };
            out.push(format!("{}: {}{unit}", i.name, share.show(0)));
        }
    }
    out
}

impl Statement {
    /// The list of the United States, with the line of allergens.
    pub fn us_words(&self) -> String {
        let all: Vec<String> = self.us.iter().map(|e| american(&plain(&e.words))).collect();
        let mut text = format!("Ingredients: {}.", all.join(", "));
        if !self.us_allergens.is_empty() {
            let names: Vec<String> =
                self.us_allergens.iter().map(|a| capital(&allergen::words(a))).collect();
            text.push_str("\nContains: ");
            text.push_str(&names.join(", "));
            text.push('.');
        }
        text
    }

    /// The list of the European Union, allergens in capitals.
    pub fn eu_words(&self) -> String {
        let all: Vec<String> = self.eu.iter().map(|e| emphasised(&e.words)).collect();
        format!("Ingredients: {}.", all.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn allergens_are_emphasised() {
        assert_eq!(emphasised("butter*milk*"), "butterMILK");
        assert_eq!(emphasised("whole *spelt* (*wheat*) flour"), "whole SPELT (WHEAT) flour");
        assert_eq!(american("*soya* flour"), "*soy* flour");
        assert_eq!(capital(&allergen::words("tree nuts:walnut")), "Tree nuts (walnut)");
    }
}
