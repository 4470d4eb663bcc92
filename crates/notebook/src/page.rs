//! Lists come in pages: so many, from where the last page ended.

use crate::key::Id;
use crate::row::Value;
use serde::{Deserialize, Serialize};

/// Which part of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Page {
    /// [`Listed::next`] of the page before; none for the first.
    #[serde(default)]
    pub after: Option<String>,
    /// How many at most, 1 to 500.
    pub most: u32,
}

/// Fifty, from the first.
impl Default for Page {
    fn default() -> Self {
        Self { after: None, most: 50 }
    }
}

/// A part of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Listed<T> {
    /// The entries.
    pub items: Vec<T>,
    /// Where the next page begins; none at the end.
    pub next: Option<String>,
}

/// Sorts after every key.
const LAST: &str = "g";

impl Page {
    fn most(&self) -> u32 {
        self.most.clamp(1, 500)
    }

    /// One more than asked, to see whether there is a next page.
    pub(crate) fn one_more(&self) -> Value {
        Value::Whole(i64::from(self.most()) + 1)
    }

    fn split(&self) -> Option<(&str, &str)> {
        let (place, id) = self.after.as_deref()?.rsplit_once(' ')?;
        id.parse::<Id>().ok().map(|_| (place, id))
    }

    /// The text and key it begins after, counting up.
    pub(crate) fn after_text(&self) -> (Value, Value) {
        let (text, id) = self.split().unwrap_or_default();
        (Value::Text(text.into()), Value::Text(id.into()))
    }

    /// The moment and key it begins after, counting down.
    pub(crate) fn after_moment(&self) -> (Value, Value) {
        let found = self.split().and_then(|(at, id)| Some((at.parse().ok()?, id)));
        let (at, id) = found.unwrap_or((i64::MAX, LAST));
        (Value::Whole(at), Value::Text(id.into()))
    }

    /// What was found, cut to what was asked.
    pub(crate) fn listed<T>(&self, mut items: Vec<T>, place: impl Fn(&T) -> String) -> Listed<T> {
        let most = self.most() as usize;
        let more = items.len() > most;
        items.truncate(most);
        let next = if more { items.last().map(place) } else { None };
        Listed { items, next }
    }
}
