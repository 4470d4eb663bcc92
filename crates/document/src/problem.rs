//! What is wrong with a question, in the shape of RFC 9457: a title for the kind, the detail, the
//! field, how to mend it.

use engine::file;
use serde::Serialize;
use std::fmt;

/// Why there is no document.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Problem {
    /// Of which kind it is.
    pub title: &'static str,
    /// What is wrong, with the value as given.
    pub detail: String,
    /// The field of the question it concerns; `null` for the whole.
    pub field: Option<String>,
    /// How to mend it.
    pub hint: Option<String>,
    /// Everything that is wrong in a file.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub problems: Vec<Place>,
}

/// Something wrong at a place of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Place {
    /// From 1.
    pub line: usize,
    /// From 1, in characters.
    pub column: usize,
    /// Path of the field in the file, such as `step 3, place`.
    pub field: String,
    /// What is wrong, with the value as given.
    pub message: String,
    /// How to mend it.
    pub hint: Option<String>,
}

/// Kind of a question that cannot be read.
const UNREAD: &str = "the question cannot be read";
/// Kind of a file that does not read.
const FILE: &str = "the file has problems";
/// Kind of what is well asked and cannot be had.
const NOT_HAD: &str = "this cannot be had";

impl Problem {
    fn of_kind(title: &'static str, detail: impl fmt::Display, hint: Option<String>) -> Self {
        Self { title, detail: detail.to_string(), field: None, hint, problems: Vec::new() }
    }

    /// A wish that cannot be had, with a way to mend it.
    pub fn wish(detail: impl fmt::Display, hint: impl Into<String>) -> Self {
        Self::of_kind(NOT_HAD, detail, Some(hint.into()))
    }

    /// A wish that cannot be had.
    pub fn plain(detail: impl fmt::Display) -> Self {
        Self::of_kind(NOT_HAD, detail, None)
    }

    /// A question that is none.
    pub(crate) fn unread(detail: impl fmt::Display, hint: Option<String>) -> Self {
        Self::of_kind(UNREAD, detail, hint)
    }

    /// A file that does not read.
    pub(crate) fn file(name: &str, text: &str, problems: &[file::Problem]) -> Self {
        let places: Vec<Place> = problems.iter().map(|p| Place::of(text, p)).collect();
        let detail = match places.as_slice() {
            [one] => format!("line {}: {}: {}", one.line, one.field, one.message),
            many => format!("{} things are wrong in the {name}", many.len()),
        };
        let hint = match places.as_slice() {
            [one] => one.hint.clone(),
            _ => None,
        };
        Self { problems: places, ..Self::of_kind(FILE, detail, hint) }.at(name)
    }

    /// The same, of a field of the question.
    #[must_use]
    pub fn at(self, field: &str) -> Self {
        Self { field: Some(field.to_owned()), ..self }
    }

    /// The same, said of one of several things.
    #[must_use]
    pub fn of(self, name: &str) -> Self {
        Self { detail: format!("{name}: {}", self.detail), ..self }
    }
}

impl Place {
    /// Where something wrong stands in the text it was read from.
    pub fn of(text: &str, p: &file::Problem) -> Self {
        let upto = p.span.start.min(text.len());
        let before = String::from_utf8_lossy(&text.as_bytes()[..upto]);
        let line = before.rsplit('\n').next().unwrap_or_default();
        Self {
            line: p.line(text),
            column: line.chars().count() + 1,
            field: p.field.clone(),
            message: p.message.clone(),
            hint: p.hint.clone(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.detail)
    }
}
impl std::error::Error for Problem {}
