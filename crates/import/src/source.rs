//! What the text is: ingredient lines as typed, or a schema.org Recipe in JSON-LD, alone or in a
//! saved page.

mod json_ld;
mod page;
mod typed;

use engine::file::Problem;
use quantity::Minutes;
use serde::Serialize;
use std::fmt;
use std::ops::Range;

/// Where something stands in what was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Place {
    /// "line 4", "ingredient 4", "instruction 2".
    pub at: String,
    /// The text itself.
    pub text: String,
}

impl Place {
    pub(crate) fn new(what: &str, number: usize, text: &str) -> Self {
        let text: String = text.chars().take(300).collect();
        Self { at: format!("{what} {number}"), text: text.trim().to_owned() }
    }

    /// Bytes of the source where its text stands, as near as can be found.
    pub(crate) fn span(&self, source: &str) -> Range<usize> {
        let from = match self.at.strip_prefix("line ").and_then(|n| n.parse::<usize>().ok()) {
            Some(n) => source.split_inclusive('\n').take(n.saturating_sub(1)).map(str::len).sum(),
            None => 0,
        };
        let found = source.get(from..).and_then(|s| s.find(&self.text)).map(|i| from + i);
        found.map_or(from..from, |i| i..i + self.text.len())
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, \"{}\"", self.at, self.text)
    }
}

/// A recipe as somebody else wrote it down, sorted.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Source {
    pub(crate) title: Option<Place>,
    pub(crate) words: Option<Place>,
    /// Ingredient lines and the headings between them.
    pub(crate) lines: Vec<Place>,
    pub(crate) instructions: Vec<Place>,
    pub(crate) yields: Vec<Place>,
    /// Times the source states for the whole: which, how long.
    pub(crate) times: Vec<(Place, Minutes)>,
    /// What was passed over.
    pub(crate) passed_over: Vec<(Place, String)>,
}

/// Sorts a text.
///
/// # Errors
/// When it holds no recipe, or one of our own.
pub(crate) fn sort(text: &str) -> Result<Source, Vec<Problem>> {
    let bare = text.trim_start_matches('\u{feff}').trim_start();
    if bare.is_empty() {
        return Err(problem(
            "the file is empty",
            "give ingredient lines, such as \"500 g bread flour\", or a saved page",
        ));
    }
    match bare.chars().next() {
        Some('<') => page::sort(bare),
        Some('{' | '[') if serde_json::from_str::<serde::de::IgnoredAny>(bare).is_ok() => {
            json_ld::sort(&[bare.to_owned()])
        }
        Some('{') => Err(problem(
            json_ld::unreadable(bare),
            "a schema.org Recipe is one JSON object; ingredient lines need no brackets",
        )),
        _ if ours(bare) => Err(problem(
            "this is a recipe file of our own already",
            "use it as it is: grigne formula FILE",
        )),
        _ => Ok(typed::sort(text)),
    }
}

/// Whether a text is one of our recipe files, or means to be.
fn ours(text: &str) -> bool {
    text.contains("[yield]") && text.contains("[formula]")
}

pub(crate) fn problem(message: impl Into<String>, hint: &str) -> Vec<Problem> {
    vec![Problem {
        span: 0..0,
        field: "the file".into(),
        message: message.into(),
        hint: Some(hint.into()),
    }]
}
