//! The notebook: recipes and kitchens with their versions, cultures with their feeds, plans,
//! bakes, measurements and photos; in one file, or on a server. The only crate that knows SQL.
//!
//! Read [`entry`](crate::Bake) for what stands in it, `notebook` for what can be asked and
//! written, `change` for how anything is undone, `upgrade` for how versions follow each other.
//! The time and all keys are the caller's: see [`By`] and [`Id::new`].

mod base;
mod change;
mod demo;
mod entry;
mod error;
mod folder;
mod key;
mod notebook;
mod page;
mod row;
mod upgrade;

pub use change::{By, Change, Since, Touched};
pub use entry::{
    Annotation, Bake, Crumb, Crust, Culture, Did, Feed, Kind, Kitchen, KitchenVersion, Measurement,
    OvenSpring, Photo, Plan, Recipe, RecipeVersion, Taste,
};
pub use error::{Error, Result};
pub use folder::Moved;
pub use key::{Hash, Id, Moment, NoKey};
pub use notebook::{
    BakeLine, InTree, LARGEST_PHOTO, NewVersion, Notebook, Place, Titled, Verdict, Which, WholeBake,
};
pub use page::{Listed, Page};
pub use upgrade::VERSION;
