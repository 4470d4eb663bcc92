//! Rows: what an entry is when it is stored, compared, undone or written to a folder.
//!
//! Each kind of entry is declared once, in [`crate::entry`]: its fields are its columns. From
//! that come the SQL, the images of changes, the export and the import.

use crate::error::{Result, given};
use crate::key::{Hash, Id, Moment};
use serde_json::{Map, Value as Json};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Text; keys and words.
    Text,
    /// A whole number.
    Whole,
    /// Yes or no; 1 or 0 when stored.
    Flag,
    /// A moment.
    Moment,
    /// A number.
    Real,
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    None(Kind),
    Text(String),
    Whole(i64),
    Real(f64),
}

/// How a row leans on another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leans {
    /// It is a part of it, and goes when that goes.
    PartOf(&'static str),
    /// It names it.
    Needs(&'static str),
}

/// A column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    pub(crate) name: &'static str,
    pub(crate) kind: Kind,
    pub(crate) optional: bool,
    pub(crate) leans: Option<Leans>,
}

/// A table: its first column is the key `id`, its last the flag `demo`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Table {
    pub(crate) name: &'static str,
    pub(crate) columns: &'static [Column],
    /// Whether a row can be read as an entry.
    pub(crate) reads: fn(&Row) -> bool,
}

impl Table {
    /// Its columns, quoted and with commas.
    pub(crate) fn listed(&self) -> String {
        self.listed_as("")
    }

    /// As [`Self::listed`], each with the name the table has in a query.
    pub(crate) fn listed_as(&self, alias: &str) -> String {
        let names = self.columns.iter().map(|c| format!("{alias}\"{}\"", c.name));
        names.collect::<Vec<_>>().join(", ")
    }

    /// Place of a column.
    pub(crate) fn place(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|c| c.name == name)
    }

    /// A row of what a query for [`Self::listed`] gave.
    pub(crate) fn row(&'static self, cells: Vec<Value>) -> Row {
        let columns = self.columns.iter();
        let typed = cells.into_iter().zip(columns).map(|(value, column)| match value {
            Value::None(_) => Value::None(column.kind),
            value => value,
        });
        Row { table: self, values: typed.collect() }
    }

    /// A row from its image. Columns that are younger than the image are empty.
    pub(crate) fn row_of(&'static self, image: &str) -> Result<Row> {
        let wrong = |why: String| given(format!("image of a {}", self.name), why);
        let image: Map<String, Json> =
            serde_json::from_str(image).map_err(|e| wrong(e.to_string()))?;
        let values = self.columns.iter().map(|c| match (image.get(c.name), c.kind) {
            (None | Some(Json::Null), kind) => Ok(Value::None(kind)),
            (Some(Json::String(t)), Kind::Text) => Ok(Value::Text(t.clone())),
            (Some(n), Kind::Whole | Kind::Flag | Kind::Moment) if n.is_i64() => {
                Ok(Value::Whole(n.as_i64().unwrap_or_default()))
            }
            (Some(Json::Number(n)), Kind::Real) => Ok(Value::Real(n.as_f64().unwrap_or_default())),
            (Some(other), _) => Err(wrong(format!("{} is {other}", c.name))),
        });
        Ok(Row { table: self, values: values.collect::<Result<_>>()? })
    }
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    pub(crate) table: &'static Table,
    pub(crate) values: Vec<Value>,
}

impl PartialEq for Table {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Row {
    pub(crate) fn id(&self) -> &str {
        self.text("id")
    }

    /// A column; none when there is no such.
    pub(crate) fn get(&self, column: &str) -> Option<&Value> {
        self.table.place(column).and_then(|i| self.values.get(i))
    }

    /// A text, or nothing.
    pub(crate) fn text(&self, column: &str) -> &str {
        match self.get(column) {
            Some(Value::Text(t)) => t,
            _ => "",
        }
    }

    pub(crate) fn is_demo(&self) -> bool {
        matches!(self.values.last(), Some(Value::Whole(1)))
    }

    pub(crate) fn mark(&mut self, demo: bool) {
        if let Some(last) = self.values.last_mut() {
            *last = Value::Whole(i64::from(demo));
        }
    }

    /// Its image: a JSON object by column.
    pub(crate) fn image(&self) -> String {
        let fields = self.table.columns.iter().zip(&self.values).map(|(c, v)| {
            let value = match v {
                Value::None(_) => Json::Null,
                Value::Text(t) => t.clone().into(),
                Value::Whole(n) => (*n).into(),
                Value::Real(x) => (*x).into(),
            };
            (c.name.to_owned(), value)
        });
        Json::Object(fields.collect()).to_string()
    }

    /// Refuses what not every back end keeps as it is: texts with a zero character, numbers that
    /// are none, moments no calendar has.
    pub(crate) fn check(&self) -> Result<()> {
        for (c, v) in self.table.columns.iter().zip(&self.values) {
            let what = match v {
                Value::None(_) if !c.optional => "is missing".into(),
                Value::Text(t) if t.contains('\0') => "a text cannot hold the character 0".into(),
                Value::Text(t) if t.len() > LONGEST => {
                    format!("a text of {} bytes; at most {LONGEST} are kept", t.len())
                }
                Value::Real(x) if !x.is_finite() => format!("{x} is not a number to keep"),
                Value::Whole(n) if c.kind == Kind::Moment && !Moment(*n).is_sound() => {
                    format!("{n} ms is not in the years 0 to 9999")
                }
                _ => continue,
            };
            return Err(given(format!("{}, {}", self.table.name.replace('_', " "), c.name), what));
        }
        Ok(())
    }
}

/// Longest text kept, bytes: a plan with its traces is the longest there is.
const LONGEST: usize = 16 << 20;

/// A type that is a column.
pub(crate) trait Field: Sized {
    const KIND: Kind;
    const OPTIONAL: bool = false;
    fn put(&self) -> Value;
    /// None when the value is of another kind.
    fn get(value: &Value) -> Option<Self>;
}

impl Field for String {
    const KIND: Kind = Kind::Text;
    fn put(&self) -> Value {
        Value::Text(self.clone())
    }
    fn get(value: &Value) -> Option<Self> {
        match value {
            Value::Text(t) => Some(t.clone()),
            _ => None,
        }
    }
}

/// Types that are a text in a column.
macro_rules! text_field {
    ($($name:ident),*) => {$(
        impl $crate::row::Field for $name {
            const KIND: $crate::row::Kind = $crate::row::Kind::Text;
            fn put(&self) -> $crate::row::Value {
                $crate::row::Value::Text(self.to_string())
            }
            fn get(value: &$crate::row::Value) -> Option<Self> {
                match value {
                    $crate::row::Value::Text(t) => t.parse().ok(),
                    _ => None,
                }
            }
        }
    )*};
}
pub(crate) use text_field;
text_field!(Id, Hash);

impl Field for Moment {
    const KIND: Kind = Kind::Moment;
    fn put(&self) -> Value {
        Value::Whole(self.0)
    }
    fn get(value: &Value) -> Option<Self> {
        i64::get(value).map(Self)
    }
}

impl Field for i64 {
    const KIND: Kind = Kind::Whole;
    fn put(&self) -> Value {
        Value::Whole(*self)
    }
    fn get(value: &Value) -> Option<Self> {
        match value {
            Value::Whole(n) => Some(*n),
            _ => None,
        }
    }
}

impl Field for bool {
    const KIND: Kind = Kind::Flag;
    fn put(&self) -> Value {
        Value::Whole(i64::from(*self))
    }
    fn get(value: &Value) -> Option<Self> {
        i64::get(value).map(|n| n != 0)
    }
}

impl Field for u32 {
    const KIND: Kind = Kind::Whole;
    fn put(&self) -> Value {
        Value::Whole(i64::from(*self))
    }
    fn get(value: &Value) -> Option<Self> {
        i64::get(value)?.try_into().ok()
    }
}

impl Field for f64 {
    const KIND: Kind = Kind::Real;
    fn put(&self) -> Value {
        // one zero: PostgreSQL, SQLite and texts would not agree about the sign of the other
        Value::Real(if *self == 0.0 { 0.0 } else { *self })
    }
    fn get(value: &Value) -> Option<Self> {
        match value {
            Value::Real(x) => Some(*x),
            Value::Whole(n) => Some(*n as Self),
            _ => None,
        }
    }
}

impl<T: Field> Field for Option<T> {
    const KIND: Kind = T::KIND;
    const OPTIONAL: bool = true;
    fn put(&self) -> Value {
        self.as_ref().map_or(Value::None(T::KIND), T::put)
    }
    fn get(value: &Value) -> Option<Self> {
        match value {
            Value::None(_) => Some(None),
            value => T::get(value).map(Some),
        }
    }
}
