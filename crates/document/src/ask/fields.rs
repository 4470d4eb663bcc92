//! The fields of a question: read by name, and what nobody asked for is named.

use crate::Problem;
use engine::file::nearest;
use quantity::{Minutes, ParseError};
use serde_json::{Map, Value};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::str::FromStr;

/// An object of a question.
pub(super) struct Fields<'v> {
    map: &'v Map<String, Value>,
    path: String,
    asked: RefCell<BTreeSet<&'static str>>,
}

/// A name that is none of those known.
pub(super) fn unknown(name: &str, field: &str, known: &[&str]) -> Problem {
    let near = nearest(name, known.iter().copied())
        .map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
    let hint = format!("{near}choose from {}", known.join(", "));
    Problem::unread(format!("\"{}\" is not known here", shorten(name)), Some(hint)).at(field)
}

pub(super) fn shorten(text: &str) -> String {
    let mut s: String = text.chars().take(40).collect();
    if s.len() < text.len() {
        s.push('…');
    }
    s
}

fn kind(v: &Value) -> &'static str {
    match v {
        Value::Null => "nothing",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "a text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

impl<'v> Fields<'v> {
    pub(super) fn of(value: &'v Value, path: String) -> Result<Self, Problem> {
        if let Some(map) = value.as_object() {
            return Ok(Self { map, path, asked: RefCell::default() });
        }
        let what = if path.is_empty() { "the question" } else { path.as_str() };
        let detail = format!("{what} is {}, an object was expected", kind(value));
        let field = (!path.is_empty()).then_some(path);
        Err(Problem { field, ..Problem::unread(detail, None) })
    }

    pub(super) fn path(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}, {key}", self.path) }
    }

    pub(super) fn knows(&self, keys: &[&'static str]) {
        self.asked.borrow_mut().extend(keys);
    }

    /// A field; `null` is none.
    pub(super) fn get(&self, key: &'static str) -> Option<&'v Value> {
        self.asked.borrow_mut().insert(key);
        self.map.get(key).filter(|v| !v.is_null())
    }

    pub(super) fn missing(&self, key: &'static str, example: &str) -> Problem {
        Problem::unread("is missing", Some(format!("add \"{key}\": {example}"))).at(&self.path(key))
    }

    fn wrong(&self, key: &'static str, value: &Value, wanted: &str) -> Problem {
        let detail = format!("is {}, {wanted} was expected", kind(value));
        Problem::unread(detail, None).at(&self.path(key))
    }

    pub(super) fn text(&self, key: &'static str) -> Result<Option<&'v str>, Problem> {
        match self.get(key) {
            None => Ok(None),
            Some(Value::String(s)) => Ok(Some(s)),
            Some(other) => Err(self.wrong(key, other, "a text")),
        }
    }

    pub(super) fn needed_text(&self, key: &'static str, example: &str) -> Result<&'v str, Problem> {
        self.text(key)?.ok_or_else(|| self.missing(key, example))
    }

    pub(super) fn flag(&self, key: &'static str) -> Result<bool, Problem> {
        match self.get(key) {
            None => Ok(false),
            Some(Value::Bool(yes)) => Ok(*yes),
            Some(other) => Err(self.wrong(key, other, "true or false")),
        }
    }

    pub(super) fn number(
        &self,
        key: &'static str,
        from: f64,
        to: f64,
    ) -> Result<Option<f64>, Problem> {
        let Some(value) = self.get(key) else { return Ok(None) };
        let number = value.as_f64().ok_or_else(|| self.wrong(key, value, "a number"))?;
        if (from..=to).contains(&number) {
            return Ok(Some(number));
        }
        Err(Problem::unread(format!("{number} is outside {from} to {to}"), None)
            .at(&self.path(key)))
    }

    pub(super) fn whole(
        &self,
        key: &'static str,
        from: i64,
        to: i64,
    ) -> Result<Option<i64>, Problem> {
        let Some(value) = self.get(key) else { return Ok(None) };
        match value.as_i64().filter(|n| (from..=to).contains(n)) {
            Some(n) => Ok(Some(n)),
            None => Err(Problem::unread(
                format!("is not a whole number from {from} to {to}"),
                Some(format!("write \"{key}\": {from}")),
            )
            .at(&self.path(key))),
        }
    }

    /// A quantity: a number in the unit of the documents, or a text with its unit.
    pub(super) fn quantity<T: FromStr<Err = ParseError> + Plain>(
        &self,
        key: &'static str,
    ) -> Result<Option<T>, Problem> {
        match self.get(key) {
            None => Ok(None),
            Some(Value::String(text)) => match text.parse::<T>() {
                Ok(q) => Ok(Some(q)),
                Err(e) => Err(Problem::unread(e.message, Some(e.hint)).at(&self.path(key))),
            },
            Some(_) => Ok(self.number(key, T::LEAST, T::MOST)?.map(T::of)),
        }
    }

    /// A duration that is not below nothing.
    pub(super) fn duration(&self, key: &'static str) -> Result<Option<Minutes>, Problem> {
        self.quantity::<Minutes>(key)
    }

    pub(super) fn object(&self, key: &'static str) -> Result<Option<Self>, Problem> {
        self.get(key).map(|v| Self::of(v, self.path(key))).transpose()
    }

    pub(super) fn list(&self, key: &'static str) -> Result<&'v [Value], Problem> {
        match self.get(key) {
            None => Ok(&[]),
            Some(Value::Array(all)) => Ok(all),
            Some(other) => Err(self.wrong(key, other, "a list")),
        }
    }

    pub(super) fn objects(&self, key: &'static str) -> Result<Vec<Self>, Problem> {
        let all = self.list(key)?.iter().enumerate();
        all.map(|(k, v)| Self::of(v, format!("{} {}", self.path(key), k + 1))).collect()
    }

    pub(super) fn entries(&self) -> impl Iterator<Item = (&'v str, &'v Value)> + use<'v> {
        self.map.iter().map(|(k, v)| (k.as_str(), v))
    }

    /// Names a field nobody asked for.
    pub(super) fn finish(&self) -> Result<(), Problem> {
        let asked = self.asked.borrow();
        let stray = self.map.keys().find(|k| !asked.contains(k.as_str()));
        match stray {
            None => Ok(()),
            Some(name) => {
                let known: Vec<&str> = asked.iter().copied().collect();
                Err(Problem {
                    detail: "unknown field".into(),
                    ..unknown(name, &self.path(name), &known)
                })
            }
        }
    }
}

/// A quantity that may come as a bare number.
pub(super) trait Plain {
    /// Least number that is one.
    const LEAST: f64;
    /// Most.
    const MOST: f64;
    /// Of a number in its unit.
    fn of(x: f64) -> Self;
}
macro_rules! plain {
    ($($t:ident $least:literal $most:literal),*) => {$(
        impl Plain for quantity::$t {
            const LEAST: f64 = $least;
            const MOST: f64 = $most;
            fn of(x: f64) -> Self { Self(x) }
        }
    )*};
}
plain!(Grams 0.0 1e9, Celsius -50.0 400.0, Minutes 0.0 40_320.0, Percent 0.0 100.0);
