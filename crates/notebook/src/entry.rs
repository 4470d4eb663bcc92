//! What stands in a notebook: each kind of entry, declared once. Fields are columns.

use crate::key::{Hash, Id, Moment};
use crate::row::{Column, Field, Leans, Row, Table, text_field};
use engine::plan::Measured;
use quantity::{Celsius, Percent, Ph};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

/// A kind of entry.
pub(crate) trait Entry: Sized {
    const TABLE: &'static Table;
    fn row(&self) -> Row;
    /// None when a value is of another kind than its column: a damaged or foreign row.
    fn read(row: &Row) -> Option<Self>;
}

macro_rules! entries {
    ($(
        $(#[$meta:meta])*
        $name:ident($key:ty) in $table:literal {
            $($(#[$field_meta:meta])* $field:ident: $ty:ty $(=> $lean:ident $target:literal)?),* $(,)?
        }
    )*) => {
        $(
            $(#[$meta])*
            #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
            pub struct $name {
                /// Its key.
                pub id: $key,
                $($(#[$field_meta])* pub $field: $ty,)*
                /// Whether it came with the demo and nobody has touched it. The notebook sees to
                /// that: what is given here counts for nothing.
                #[serde(default)]
                pub demo: bool,
            }

            impl Entry for $name {
                const TABLE: &'static Table = &Table {
                    name: $table,
                    columns: &[
                        column::<$key>("id", None),
                        $(column::<$ty>(stringify!($field), lean!($($lean $target)?)),)*
                        column::<bool>("demo", None),
                    ],
                    reads: |row| Self::read(row).is_some(),
                };

                fn row(&self) -> Row {
                    let values =
                        vec![self.id.put(), $(self.$field.put(),)* self.demo.put()];
                    Row { table: Self::TABLE, values }
                }

                fn read(row: &Row) -> Option<Self> {
                    let mut values = row.values.iter();
                    Some(Self {
                        id: Field::get(values.next()?)?,
                        $($field: Field::get(values.next()?)?,)*
                        demo: Field::get(values.next()?)?,
                    })
                }
            }
        )*

        /// Every table, what is leaned on before what leans on it.
        pub(crate) const TABLES: &[&Table] = &[$($name::TABLE),*];
    };
}

macro_rules! lean {
    () => {
        None
    };
    (part $target:literal) => {
        Some(Leans::PartOf($target))
    };
    (needs $target:literal) => {
        Some(Leans::Needs($target))
    };
}

const fn column<T: Field>(name: &'static str, leans: Option<Leans>) -> Column {
    Column { name, kind: T::KIND, optional: T::OPTIONAL, leans }
}

entries! {
    /// A photo; its bytes lie in the folder of photos.
    Photo(Hash) in "photo" {
        /// Media type, such as `image/jpeg`.
        media: String,
        /// Length, bytes.
        bytes: i64,
        /// When it was kept.
        at: Moment,
    }

    /// A recipe: a tree of versions, one of them the current one.
    Recipe(Id) in "recipe" {
        /// The version in use.
        current: Id => needs "recipe_version",
        /// Put away: kept, not shown in lists.
        put_away: bool,
    }

    /// One version of a recipe. It never changes.
    RecipeVersion(Id) in "recipe_version" {
        /// The recipe.
        recipe: Id => part "recipe",
        /// The version it came from.
        parent: Option<Id> => needs "recipe_version",
        /// When it was kept.
        at: Moment,
        /// Title, as in the text.
        title: String,
        /// What was changed, and why.
        note: String,
        /// The recipe file.
        text: String,
    }

    /// A kitchen: a tree of versions, as a recipe.
    Kitchen(Id) in "kitchen" {
        /// The version in use.
        current: Id => needs "kitchen_version",
        /// Put away: kept, not shown in lists.
        put_away: bool,
    }

    /// One version of a kitchen. It never changes.
    KitchenVersion(Id) in "kitchen_version" {
        /// The kitchen.
        kitchen: Id => part "kitchen",
        /// The version it came from.
        parent: Option<Id> => needs "kitchen_version",
        /// When it was kept.
        at: Moment,
        /// Name, as in the text.
        title: String,
        /// What was changed, and why.
        note: String,
        /// The kitchen file.
        text: String,
    }

    /// A starter as it is kept.
    Culture(Id) in "culture" {
        /// What you call it.
        name: String,
        /// Its flour, in words.
        flour: String,
        /// Water, % of its flour, 30 to 400.
        hydration: f64,
        /// How it is kept, and anything else.
        note: String,
        /// Put away: kept, not shown in lists.
        put_away: bool,
    }

    /// A feed of a culture.
    Feed(Id) in "feed" {
        /// The culture.
        culture: Id => part "culture",
        /// When.
        at: Moment,
        /// Zone of the clock on the wall, such as `Europe/London`.
        zone: String,
        /// Ripe starter, g.
        seed: f64,
        /// Fresh flour, g.
        flour: f64,
        /// Water, g.
        water: f64,
        /// Where it then stood, °C.
        temperature: Option<f64>,
        /// Room, fridge or proofer.
        place: String,
        /// Anything else.
        note: String,
    }

    /// A plan that was accepted.
    Plan(Id) in "plan" {
        /// What it is for.
        recipe_version: Id => needs "recipe_version",
        /// Where.
        kitchen_version: Id => needs "kitchen_version",
        /// The starter it uses.
        culture: Option<Id> => needs "culture",
        /// When it was accepted.
        at: Moment,
        /// When the bread is ready.
        ready: Moment,
        /// Zone of its clock times.
        zone: String,
        /// The plan as JSON, as it was accepted.
        document: String,
    }

    /// A bake: what really happened. Once finished it is annotated, never edited.
    Bake(Id) in "bake" {
        /// What was baked.
        recipe_version: Id => needs "recipe_version",
        /// Where.
        kitchen_version: Id => needs "kitchen_version",
        /// The plan it followed.
        plan: Option<Id> => needs "plan",
        /// The starter.
        culture: Option<Id> => needs "culture",
        /// When it was begun.
        began: Moment,
        /// When it was finished; none while it is underway.
        finished: Option<Moment>,
        /// Zone of the clock on the wall.
        zone: String,
        /// Verdict on the crumb.
        crumb: Option<Crumb>,
        /// Verdict on the crust.
        crust: Option<Crust>,
        /// Verdict on the oven spring.
        oven_spring: Option<OvenSpring>,
        /// Verdict on the taste.
        taste: Option<Taste>,
        /// The baker's words.
        note: String,
    }

    /// A step that was begun in a bake.
    Did(Id) in "did" {
        /// The bake.
        bake: Id => part "bake",
        /// Number of the step in the recipe, from 1.
        step: u32,
        /// When.
        at: Moment,
    }

    /// What was measured, seen or photographed: in a bake, or of a culture.
    Measurement(Id) in "measurement" {
        /// The bake it belongs to.
        bake: Option<Id> => part "bake",
        /// The culture it belongs to, outside a bake.
        culture: Option<Id> => part "culture",
        /// When.
        at: Moment,
        /// Kind.
        kind: Kind,
        /// Of what: `dough`, the name of a preferment, `loaf 1`, `bowl`.
        of: String,
        /// The value, in the unit of its kind; none for photos and notes.
        value: Option<f64>,
        /// Error of the instrument: one standard deviation, in the same unit. None when unknown.
        error: Option<f64>,
        /// The photo.
        photo: Option<Hash> => needs "photo",
        /// Words to it.
        words: String,
        /// What it was noted with.
        device: String,
    }

    /// A note to a bake, made at any time after it.
    Annotation(Id) in "annotation" {
        /// The bake.
        bake: Id => part "bake",
        /// When.
        at: Moment,
        /// The words.
        words: String,
        /// A photo.
        photo: Option<Hash> => needs "photo",
    }
}

/// An enum whose variants have names: in columns, files and JSON.
macro_rules! named {
    ($(
        $(#[$meta:meta])*
        $name:ident { $($(#[$variant_meta:meta])* $variant:ident = $text:literal),* $(,)? }
    )*) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$variant_meta])* #[serde(rename = $text)] $variant),*
        }

        impl $name {
            /// All, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// Its name.
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $text),*
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.name())
            }
        }

        impl FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                let found = Self::ALL.iter().find(|x| x.name() == text).copied();
                found.ok_or_else(|| {
                    let names: Vec<&str> = Self::ALL.iter().map(|x| x.name()).collect();
                    format!("\"{text}\" is not one of {}", names.join(", "))
                })
            }
        }

        text_field!($name);
    )*};
}

named! {
    /// Kind of a measurement.
    Kind {
        /// Growth since mixing or shaping, %.
        Rise = "rise",
        /// Acidity, pH.
        Ph = "ph",
        /// Temperature inside a dough or a starter, °C.
        Temperature = "temperature",
        /// How the dent of a finger fills: 0 springs back at once, 1 slowly and not wholly, 2 stays.
        Poke = "poke",
        /// Temperature in the middle of a loaf, °C.
        Core = "core",
        /// Temperature of the oven, °C.
        Oven = "oven",
        /// Weight, g; of what stands beside it.
        Weight = "weight",
        /// A photo.
        Photo = "photo",
        /// Words only.
        Note = "note",
    }

    /// Verdict on the crumb: its holes.
    Crumb {
        /// Close and heavy.
        Dense = "dense",
        /// Small holes.
        Tight = "tight",
        /// Even holes.
        Even = "even",
        /// Large holes, well spread.
        Open = "open",
        /// A few caverns in a close crumb, or a hollow under the crust.
        Uneven = "uneven",
    }

    /// Verdict on the crust: its colour, in the words of the oven model.
    Crust {
        /// Pale.
        Pale = "pale",
        /// Light gold.
        LightGold = "light gold",
        /// Golden.
        Golden = "golden",
        /// Deep golden brown.
        DeepGoldenBrown = "deep golden brown",
        /// Dark.
        Dark = "dark",
        /// Very dark, or burnt.
        VeryDark = "very dark",
    }

    /// Verdict on the oven spring.
    OvenSpring {
        /// Flat: it spread.
        Flat = "flat",
        /// Little.
        Little = "little",
        /// Good.
        Good = "good",
        /// High, with an ear.
        High = "high",
        /// Torn open beside the cut.
        Torn = "torn",
    }

    /// Verdict on the taste: its sourness.
    Taste {
        /// Flat.
        Bland = "bland",
        /// Mild.
        Mild = "mild",
        /// Balanced.
        Balanced = "balanced",
        /// Sour.
        Sour = "sour",
        /// Too sour.
        Sharp = "sharp",
    }
}

impl Kind {
    /// Unit of its value; empty for a poke, none without a value.
    pub fn unit(self) -> Option<&'static str> {
        match self {
            Self::Rise => Some("%"),
            Self::Ph => Some("pH"),
            Self::Temperature | Self::Core | Self::Oven => Some("°C"),
            Self::Weight => Some("g"),
            Self::Poke => Some(""),
            Self::Photo | Self::Note => None,
        }
    }

    /// Values that are kept. Rise, pH and temperature as in a half-done bake's file.
    pub fn range(self) -> Option<RangeInclusive<f64>> {
        match self {
            Self::Rise => Some(-50.0..=500.0),
            Self::Ph => Some(2.5..=8.0),
            Self::Temperature => Some(-10.0..=60.0),
            Self::Poke => Some(0.0..=2.0),
            Self::Core => Some(-10.0..=120.0),
            Self::Oven => Some(0.0..=550.0),
            Self::Weight => Some(0.0..=1_000_000.0),
            Self::Photo | Self::Note => None,
        }
    }
}

impl Measurement {
    /// What the planner can use of it; none for what it does not read.
    pub fn read_off(&self) -> Option<Measured> {
        let value = self.value?;
        match self.kind {
            Kind::Rise => Some(Measured::Rise(Percent(value))),
            Kind::Ph => Some(Measured::Acid(Ph(value))),
            Kind::Temperature => Some(Measured::Temperature(Celsius(value))),
            _ => None,
        }
    }
}
