//! Recipe and kitchen files: TOML a person can write, read with errors a person can
//! use, written back without loss.
//!
//! Every quantity is a text with its unit (`"24 °C"`, `"2 h 30 min"`, `"75 %"`), so US
//! units work anywhere. A reader gathers *all* problems before it gives up; each has a
//! place in the text, the field's path, what is wrong and how to mend it.

mod half_done;
mod kitchen;
mod oven_log;
mod recipe;

pub use half_done::read_half_done;
pub use kitchen::{read_kitchen, write_kitchen};
pub use oven_log::read_oven_log;
pub use recipe::{read_recipe, write_recipe};

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest file read, bytes: a recipe is some kilobytes; more is a mistake.
pub const MAX_BYTES: usize = 1 << 20;
/// Most problems reported at once.
const MAX_PROBLEMS: usize = 20;

/// Something wrong in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Bytes of the text it concerns.
    pub span: Range<usize>,
    /// Path of the field, such as `step 3, place`.
    pub field: String,
    /// What is wrong, with the value as given.
    pub message: String,
    /// How to mend it.
    pub hint: Option<String>,
}

impl Problem {
    /// Line, from 1, in the text it was read from.
    pub fn line(&self, text: &str) -> usize {
        let upto = self.span.start.min(text.len());
        String::from_utf8_lossy(&text.as_bytes()[..upto]).matches('\n').count() + 1
    }
}

type Problems = RefCell<Vec<Problem>>;

/// A table of the file while it is read: remembers what was asked for, so that what nobody
/// asked for can be named.
pub struct Section<'a, 'i> {
    table: &'a DeTable<'i>,
    span: Range<usize>,
    path: String,
    asked: RefCell<BTreeSet<&'static str>>,
    problems: &'a Problems,
}

/// A text value with its place.
pub struct Text<'a> {
    /// As written.
    pub value: &'a str,
    /// Bytes of the file.
    pub span: Range<usize>,
    /// Path of the field.
    pub field: String,
}

/// Reads a file: `read` takes what it knows from the top table, and the rest is named.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn parse<T>(
    text: &str,
    read: impl for<'a, 'i> FnOnce(&Section<'a, 'i>) -> Option<T>,
) -> Result<T, Vec<Problem>> {
    if text.len() > MAX_BYTES {
        return Err(vec![Problem {
            span: 0..0,
            field: "the file".into(),
            message: format!(
                "it has {} bytes; a recipe or kitchen has at most {MAX_BYTES}",
                text.len()
            ),
            hint: Some("check that this is the file you meant".into()),
        }]);
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(errors
            .iter()
            .take(3)
            .map(|e| Problem {
                span: e.span().unwrap_or(0..0),
                field: "the file".into(),
                message: format!("this is not TOML: {}", e.message()),
                hint: Some("see the bundled examples for the form".into()),
            })
            .collect());
    }
    let problems = Problems::default();
    let out = {
        let section = Section {
            span: root.span(),
            table: root.get_ref(),
            path: String::new(),
            asked: RefCell::default(),
            problems: &problems,
        };
        let out = read(&section);
        section.finish();
        out
    };
    let mut problems = problems.into_inner();
    match out {
        Some(value) if problems.is_empty() => Ok(value),
        _ => {
            problems.sort_by_key(|p| p.span.start);
            problems.truncate(MAX_PROBLEMS);
            Err(problems)
        }
    }
}

impl<'a, 'i> Section<'a, 'i> {
    /// Path of a field of this table.
    pub fn field(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}, {key}", self.path) }
    }

    /// The whole table's place.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// How many problems there are by now, in the whole file.
    pub fn problems_so_far(&self) -> usize {
        self.problems.borrow().len()
    }

    /// Something is wrong at a place.
    pub fn problem(
        &self,
        span: Range<usize>,
        field: String,
        message: String,
        hint: Option<String>,
    ) {
        self.problems.borrow_mut().push(Problem { span, field, message, hint });
    }

    /// A value with its place.
    pub fn get(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'i>>> {
        self.asked.borrow_mut().insert(key);
        self.table.iter().find(|(k, _)| k.get_ref() == key).map(|(_, v)| v)
    }

    /// Fields that are known here even when reading stops before it asks for them.
    pub fn knows(&self, keys: &[&'static str]) {
        self.asked.borrow_mut().extend(keys);
    }

    /// Names every key nobody asked for.
    pub fn finish(&self) {
        let asked = self.asked.borrow();
        for (key, _) in self.table {
            let name: &str = key.get_ref();
            if !asked.contains(name) {
                let hint = nearest(name, asked.iter().copied()).map_or_else(
                    || {
                        let known: Vec<&str> = asked.iter().copied().collect();
                        format!("known here: {}", known.join(", "))
                    },
                    |near| format!("did you mean \"{near}\"?"),
                );
                self.problem(key.span(), self.field(name), "unknown field".into(), Some(hint));
            }
        }
    }

    /// A field that is needed is not there.
    pub fn missing(&self, key: &'static str, example: &str) {
        self.problem(
            self.span.clone(),
            self.field(key),
            "is missing".into(),
            Some(format!("add {key} = {example}")),
        );
    }

    /// A text; none when it is not there.
    pub fn text(&self, key: &'static str) -> Option<Text<'a>> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(s) => {
                Some(Text { value: s, span: value.span(), field: self.field(key) })
            }
            other => {
                self.problem(
                    value.span(),
                    self.field(key),
                    format!("is {}, a text was expected", kind(other)),
                    Some(format!(
                        "write {key} = \"…\", a quantity with its unit inside the quotes"
                    )),
                );
                None
            }
        }
    }

    /// A text; empty when it is not there.
    pub fn words(&self, key: &'static str) -> String {
        self.text(key).map(|t| t.value.to_owned()).unwrap_or_default()
    }

    /// A text that must be there and hold something.
    pub fn needed_words(&self, key: &'static str, example: &str) -> Option<String> {
        if self.get(key).is_none() {
            self.missing(key, example);
        }
        let text = self.text(key)?;
        if text.value.trim().is_empty() {
            self.problem(text.span, text.field, "is empty".into(), None);
            return None;
        }
        Some(text.value.to_owned())
    }

    /// A quantity, within a range of its base unit.
    pub fn quantity<T: Base>(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<T> {
        self.text(key).and_then(|t| self.read(&t, range))
    }

    /// A quantity that must be there.
    pub fn needed<T: Base>(
        &self,
        key: &'static str,
        range: RangeInclusive<f64>,
        example: &str,
    ) -> Option<T> {
        if self.get(key).is_none() {
            self.missing(key, &format!("\"{example}\""));
        }
        self.quantity(key, range)
    }

    pub(crate) fn read<T: Base>(&self, t: &Text<'_>, range: RangeInclusive<f64>) -> Option<T> {
        match t.value.parse::<T>() {
            Err(e) => {
                self.problem(t.span.clone(), t.field.clone(), e.message, Some(e.hint));
                None
            }
            Ok(q) if !range.contains(&q.base()) => {
                self.problem(
                    t.span.clone(),
                    t.field.clone(),
                    format!(
                        "{} is outside {} to {}",
                        q.written(),
                        T::from_base(*range.start()).written(),
                        T::from_base(*range.end()).written()
                    ),
                    None,
                );
                None
            }
            Ok(q) => Some(q),
        }
    }

    /// One of a list of names.
    pub fn choice<T: Copy>(&self, key: &'static str, names: &[(&'static str, T)]) -> Option<T> {
        let t = self.text(key)?;
        let found = names.iter().find(|(n, _)| *n == t.value.trim()).map(|(_, v)| *v);
        if found.is_none() {
            let known: Vec<&str> = names.iter().map(|(n, _)| *n).collect();
            let near = nearest(t.value, known.iter().copied())
                .map(|n| format!("did you mean \"{n}\"? "))
                .unwrap_or_default();
            self.problem(
                t.span,
                t.field,
                format!("\"{}\" is not known here", shorten(t.value)),
                Some(format!("{near}choose from {}", known.join(", "))),
            );
        }
        found
    }

    /// One of a list of names that must be there.
    pub fn needed_choice<T: Copy>(
        &self,
        key: &'static str,
        names: &[(&'static str, T)],
    ) -> Option<T> {
        if self.get(key).is_none() {
            let known: Vec<&str> = names.iter().map(|(n, _)| *n).collect();
            self.missing(key, &format!("\"…\", one of {}", known.join(", ")));
        }
        self.choice(key, names)
    }

    /// A whole number within a range.
    pub fn whole(&self, key: &'static str, range: RangeInclusive<i64>) -> Option<i64> {
        let value = self.get(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(i) => {
                i64::from_str_radix(&i.as_str().replace('_', ""), i.radix()).ok()
            }
            _ => None,
        };
        match number {
            Some(n) if range.contains(&n) => Some(n),
            _ => {
                self.problem(
                    value.span(),
                    self.field(key),
                    format!("is not a whole number from {} to {}", range.start(), range.end()),
                    Some(format!("write {key} = {}", range.start())),
                );
                None
            }
        }
    }

    /// A number within a range.
    pub fn decimal(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let value = self.get(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(i) => i.as_str().replace('_', "").parse::<f64>().ok(),
            DeValue::Float(f) => f.as_str().replace('_', "").parse::<f64>().ok(),
            _ => None,
        };
        match number {
            Some(n) if range.contains(&n) => Some(n),
            _ => {
                self.problem(
                    value.span(),
                    self.field(key),
                    format!("is not a number from {} to {}", range.start(), range.end()),
                    Some(format!("write {key} = 1.0")),
                );
                None
            }
        }
    }

    /// True or false.
    pub fn flag(&self, key: &'static str, otherwise: bool) -> bool {
        let Some(value) = self.get(key) else { return otherwise };
        if let DeValue::Boolean(b) = value.get_ref() {
            return *b;
        }
        self.problem(
            value.span(),
            self.field(key),
            format!("is {}, true or false was expected", kind(value.get_ref())),
            Some(format!("write {key} = true")),
        );
        otherwise
    }

    /// A list of texts, or one.
    pub fn texts(&self, key: &'static str) -> Vec<Text<'a>> {
        let Some(value) = self.get(key) else { return Vec::new() };
        let one = |v: &'a Spanned<DeValue<'i>>, field: String| -> Option<Text<'a>> {
            if let DeValue::String(s) = v.get_ref() {
                return Some(Text { value: s, span: v.span(), field });
            }
            self.problem(
                v.span(),
                field,
                format!("is {}, a text was expected", kind(v.get_ref())),
                Some("put it in quotes, a quantity with its unit".into()),
            );
            None
        };
        match value.get_ref() {
            DeValue::Array(list) => list
                .iter()
                .enumerate()
                .filter_map(|(i, v)| one(v, format!("{} {}", self.field(key), i + 1)))
                .collect(),
            _ => one(value, self.field(key)).into_iter().collect(),
        }
    }

    fn child(&self, value: &'a Spanned<DeValue<'i>>, path: String) -> Option<Section<'a, 'i>> {
        if let DeValue::Table(table) = value.get_ref() {
            return Some(Section {
                table,
                span: value.span(),
                path,
                asked: RefCell::default(),
                problems: self.problems,
            });
        }
        self.problem(
            value.span(),
            path,
            format!("is {}, a table was expected", kind(value.get_ref())),
            None,
        );
        None
    }

    /// A table.
    pub fn section(&self, key: &'static str) -> Option<Section<'a, 'i>> {
        let value = self.get(key)?;
        self.child(value, self.field(key))
    }

    /// A table that must be there.
    pub fn needed_section(&self, key: &'static str) -> Option<Section<'a, 'i>> {
        if self.get(key).is_none() {
            self.problem(
                0..0,
                self.field(key),
                "is missing".into(),
                Some(format!("add a [{key}] table")),
            );
        }
        self.section(key)
    }

    /// A list of tables; `singular` names its members in paths.
    pub fn sections(&self, key: &'static str) -> Vec<Section<'a, 'i>> {
        let Some(value) = self.get(key) else { return Vec::new() };
        if let DeValue::Array(list) = value.get_ref() {
            let path = |i: usize| format!("{} {}", self.field(key), i + 1);
            return list.iter().enumerate().filter_map(|(i, v)| self.child(v, path(i))).collect();
        }
        self.problem(
            value.span(),
            self.field(key),
            "is one table, a list was expected".into(),
            Some(format!("write [[{}]] with double brackets", self.field(key).replace(", ", "."))),
        );
        Vec::new()
    }
}

fn kind(v: &DeValue<'_>) -> &'static str {
    match v {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a bare number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A text a problem can quote: at most 40 characters.
pub fn shorten(text: &str) -> String {
    let mut s: String = text.chars().take(40).collect();
    if s.len() < text.len() {
        s.push('…');
    }
    s
}

/// The nearest known name, if near enough to be a slip.
pub fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let name: String = name.chars().take(40).collect();
    known
        .map(|k| (strsim::damerau_levenshtein(&name, k), k))
        .filter(|(d, k)| *d <= 1 + k.chars().count() / 4)
        .min()
        .map(|(_, k)| k)
}

/// A quantity as the reader needs it: its base number and how it is written.
pub trait Base: Sized + Copy + FromStr<Err = quantity::ParseError> {
    /// Its number in the base unit.
    fn base(self) -> f64;
    /// Of such a number.
    fn from_base(x: f64) -> Self;
    /// As a file has it.
    fn written(self) -> String;
}
macro_rules! base {
    ($($t:ident),*) => {$(
        impl Base for quantity::$t {
            fn base(self) -> f64 { self.0 }
            fn from_base(x: f64) -> Self { Self(x) }
            fn written(self) -> String { self.write() }
        }
    )*};
}
base!(Grams, Celsius, TempRise, Minutes, Percent, Millilitres, Millimetres, Metres, Ph);

/// A TOML basic string.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => {
                // infallible: writing to a String
                let _ = write!(out, "\\u{:04X}", c as u32);
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// `key = "text"` and a line end.
fn put(out: &mut String, key: &str, text: &str) {
    // infallible: writing to a String
    let _ = writeln!(out, "{key} = {}", quoted(text));
}
