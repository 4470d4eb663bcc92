//! What is told of an import: what was read, what was assumed and how sure that is, what was not
//! understood.

use crate::source::Place;
use engine::recipe::Recipe;
use quantity::Grams;
use serde::Serialize;

/// A number or a choice that does not stand in the source.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assumption {
    /// The line it comes from; none when it concerns the whole.
    pub place: Option<Place>,
    /// The field of the recipe file it decides, such as `formula, salt`.
    pub field: String,
    /// What was assumed, and why.
    pub assumed: String,
    /// How sure that is, 0 to 100. Ours, a judgement: nothing was counted.
    pub sure: f64,
    /// What an amount may be instead, g.
    pub range: Option<(Grams, Grams)>,
}

impl Assumption {
    /// How sure it is, in words.
    pub fn sure_words(&self) -> &'static str {
        match self.sure {
            s if s >= 95.0 => "almost certain",
            s if s >= 80.0 => "likely",
            s if s >= 60.0 => "rather likely",
            s if s >= 40.0 => "about even",
            _ => "a guess",
        }
    }
}

/// A line that went into the recipe.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Read {
    /// The line.
    pub place: Place,
    /// The field of the recipe file it went into.
    pub field: String,
    /// What it was read as.
    pub what: String,
    /// How much of it; none for a name or a count.
    pub grams: Option<Grams>,
}

/// Something that did not go into the recipe.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unread {
    /// Where it stands.
    pub place: Place,
    /// Why not, and what would help.
    pub why: String,
}

/// A field of the recipe, by what it belongs to; its number is known once all is read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Field {
    Title,
    Words,
    Yield(&'static str),
    Done,
    Formula(&'static str),
    Flour(String, &'static str),
    Other(String, &'static str),
    Preferment(String, &'static str),
    Soaker(String, &'static str),
    Steps,
    /// Whose cups and spoons are meant: no field of the file, but a choice.
    Spoons,
}

impl Field {
    /// Its path, as error messages of recipe files give it.
    pub(crate) fn path(&self, recipe: &Recipe) -> String {
        let f = &recipe.formula;
        let row = |list: &str, at: Option<usize>, key: &str| match at {
            Some(i) => format!("{list} {}, {key}", i + 1),
            None => list.to_owned(),
        };
        match self {
            Self::Title => "title".into(),
            Self::Words => "words".into(),
            Self::Yield(key) => format!("yield, {key}"),
            Self::Done => "done".into(),
            Self::Formula(key) => format!("formula, {key}"),
            Self::Flour(name, key) => row("formula, flour", f.flour_index(name), key),
            Self::Other(name, key) => {
                row("formula, other", f.others.iter().position(|o| o.name == *name), key)
            }
            Self::Preferment(name, key) => {
                row("preferment", f.preferments.iter().position(|p| p.name == *name), key)
            }
            Self::Soaker(name, key) => {
                row("soaker", f.soakers.iter().position(|k| k.name == *name), key)
            }
            Self::Steps => "step".into(),
            Self::Spoons => "cups and spoons".into(),
        }
    }
}

/// What is collected while reading.
#[derive(Debug, Default)]
pub(crate) struct Notes {
    pub(crate) assumed: Vec<(Field, Assumption)>,
    pub(crate) read: Vec<(Field, Read)>,
    pub(crate) unread: Vec<Unread>,
}

impl Notes {
    pub(crate) fn assume(
        &mut self,
        place: Option<&Place>,
        field: Field,
        sure: f64,
        assumed: impl Into<String>,
    ) -> &mut Assumption {
        let assumption = Assumption {
            place: place.cloned(),
            field: String::new(),
            assumed: assumed.into(),
            sure,
            range: None,
        };
        self.assumed.push((field, assumption));
        let last = self.assumed.len() - 1;
        &mut self.assumed[last].1
    }

    pub(crate) fn read(
        &mut self,
        place: &Place,
        field: Field,
        what: impl Into<String>,
        grams: Option<Grams>,
    ) {
        let read = Read { place: place.clone(), field: String::new(), what: what.into(), grams };
        self.read.push((field, read));
    }

    pub(crate) fn unread(&mut self, place: &Place, why: impl Into<String>) {
        self.unread.push(Unread { place: place.clone(), why: why.into() });
    }
}
