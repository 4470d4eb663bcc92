//! `import`: a recipe out of what somebody else wrote down, and all that had to be assumed.

use crate::{Problem, document};
use ::import::{Assumption, Imported, Spoons, Suggestion};
use serde_json::{Value, json};

/// Reads ingredient lines, JSON-LD or a saved page.
///
/// # Errors
/// [`Problem`] with everything that leaves no recipe.
pub fn read(text: &str, spoons: Option<Spoons>) -> Result<Imported, Problem> {
    ::import::import(text, spoons).map_err(|p| Problem::file("text", text, &p))
}

/// The document.
pub fn json(imported: &Imported) -> Value {
    document(
        "import",
        json!({
            "title": imported.recipe.title,
            "recipe": imported.file(),
            "spoons": imported.spoons.name(),
            "read": imported.read,
            "assumptions": imported.assumptions.iter().map(assumption).collect::<Vec<_>>(),
            "not_understood": imported.not_understood,
            "suggestions": imported.suggestions.iter().map(suggestion).collect::<Vec<_>>(),
        }),
    )
}

fn assumption(a: &Assumption) -> Value {
    json!({
        "place": a.place,
        "field": a.field,
        "assumed": a.assumed,
        "sure": a.sure,
        "sure_words": a.sure_words(),
        "least": a.range.map(|r| r.0),
        "most": a.range.map(|r| r.1),
    })
}

fn suggestion(s: &Suggestion) -> Value {
    json!({
        "place": s.place,
        "sentence": s.sentence,
        "do": s.verb,
        "least": s.time.map(|t| t.0),
        "most": s.time.map(|t| t.1),
        "temperature": s.temperature.map(|t| [t.0, t.1]),
        "written": s.written(),
    })
}
