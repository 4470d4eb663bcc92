//! What somebody wrote down as a recipe (ingredient lines, a schema.org Recipe), into one of ours.
//!
//! Pure like the engine: text in; out come a recipe, where every number of it stands in the text,
//! and everything that had to be assumed, with how sure that is. Nothing is guessed silently, and
//! of the instructions nothing goes into the method by itself.

mod assemble;
mod file;
mod heading;
mod item;
pub mod line;
mod number;
mod pantry;
mod preferment;
mod source;
mod suggest;
mod told;
mod unit;
mod usual;
mod weigh;
mod yields;

pub use number::Doubt;
pub use source::Place;
pub use suggest::Suggestion;
pub use told::{Assumption, Read, Unread};
pub use unit::{Spoons, Unit};

use engine::file::{Problem, read_recipe, write_recipe};
use engine::recipe::Recipe;
use told::{Field, Notes};

/// Longest text read, bytes: saved pages are large.
pub const MAX_BYTES: usize = 8 << 20;
/// Most ingredient lines taken.
const MAX_LINES: usize = 2000;

/// An imported recipe, with all that is to be told of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The recipe; its file reads back the same.
    pub recipe: Recipe,
    /// Whose cups and spoons were taken.
    pub spoons: Spoons,
    /// Lines that went in.
    pub read: Vec<Read>,
    /// What does not stand in the source.
    pub assumptions: Vec<Assumption>,
    /// What did not go in.
    pub not_understood: Vec<Unread>,
    /// Times and temperatures of the instructions.
    pub suggestions: Vec<Suggestion>,
}

/// Reads a text: ingredient lines, JSON-LD, or a saved page. Without `spoons`, US customary cups
/// and spoons are taken and told as an assumption.
///
/// # Errors
/// All problems that leave no recipe: no flour, nothing readable, amounts no recipe can have.
pub fn import(text: &str, spoons: Option<Spoons>) -> Result<Imported, Vec<Problem>> {
    if text.len() > MAX_BYTES {
        let message = format!("it has {} bytes; at most {MAX_BYTES} are read", text.len());
        return Err(source::problem(
            message,
            "save the page without its pictures, or copy the lines",
        ));
    }
    let source = source::sort(text)?;
    let measure = spoons.unwrap_or_default();
    let mut notes = Notes::default();
    for (place, why) in &source.passed_over {
        notes.unread(place, why.clone());
    }
    if source.lines.len() > MAX_LINES {
        let message =
            format!("it has {} ingredient lines; at most {MAX_LINES} are read", source.lines.len());
        return Err(source::problem(message, "check that this is the file you meant"));
    }
    let (groups, by_spoons) = item::groups(&source.lines, measure, &mut notes);
    if by_spoons && spoons.is_none() {
        let said = "cups and spoons are taken as US customary (cup 237 mL, tablespoon 14.8, teaspoon 4.9); a metric cup holds 6 % more, an Australian tablespoon 35 %";
        notes.assume(None, Field::Spoons, 65.0, said);
    }
    let Some(recipe) = assemble::recipe(&source, &groups, &mut notes) else {
        return Err(no_flour(text, &source, &notes));
    };
    let read_back =
        read_recipe(&write_recipe(&recipe)).map_err(|p| impossible(text, &p, &recipe, &notes))?;
    Ok(told(read_back, measure, &source, notes))
}

fn told(recipe: Recipe, spoons: Spoons, source: &source::Source, notes: Notes) -> Imported {
    let assumptions = notes.assumed.into_iter();
    let assumptions =
        assumptions.map(|(f, a)| Assumption { field: f.path(&recipe), ..a }).collect();
    let read = notes.read.into_iter().map(|(f, r)| Read { field: f.path(&recipe), ..r }).collect();
    let mut suggestions = suggest::suggestions(&source.instructions);
    suggestions.extend(source.times.iter().map(|(place, time)| suggest::stated(place, *time)));
    Imported { recipe, spoons, read, assumptions, not_understood: notes.unread, suggestions }
}

/// Why there is no recipe: every line that was left out, or that there were none.
fn no_flour(text: &str, source: &source::Source, notes: &Notes) -> Vec<Problem> {
    let mut problems = source::problem(
        if source.lines.is_empty() {
            "no ingredient lines were found"
        } else {
            "no flour was found among the ingredients"
        },
        "give lines such as \"500 g bread flour\", one ingredient each",
    );
    problems.extend(notes.unread.iter().take(10).map(|u| Problem {
        span: u.place.span(text),
        field: u.place.at.clone(),
        message: u.why.clone(),
        hint: None,
    }));
    problems
}

/// Amounts a recipe file refuses, at the line they come from.
fn impossible(text: &str, refused: &[Problem], recipe: &Recipe, notes: &Notes) -> Vec<Problem> {
    refused
        .iter()
        .map(|p| {
            let mut lines = notes.read.iter();
            let line = lines.find(|(f, _)| f.path(recipe) == p.field).map(|(_, r)| &r.place);
            Problem {
                span: line.map_or(0..0, |l| l.span(text)),
                field: p.field.clone(),
                message: format!("{}, as the lines add up", p.message),
                hint: Some("check the amounts against each other, flour first".into()),
            }
        })
        .collect()
}
