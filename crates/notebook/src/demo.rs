//! The demo: our own scenario, marked so that one call takes away exactly it.

use crate::change::{By, Writing};
use crate::entry::{
    Annotation, Bake, Crumb, Crust, Culture, Did, Feed, Kind, KitchenVersion, Measurement,
    OvenSpring, RecipeVersion, TABLES, Taste,
};
use crate::error::{Result, given};
use crate::key::{Hash, Id, Moment};
use crate::notebook::{NewVersion, Notebook, keep_version};
use crate::row::{Leans, Row, Value};
use std::collections::{BTreeMap, BTreeSet};

macro_rules! example {
    ($name:literal) => {
        include_str!(concat!("../../../examples/ferry-lane/", $name, ".toml"))
    };
}

const KITCHENS: [&str; 3] = [
    example!("kitchens/cold-flat"),
    example!("kitchens/mountain-village"),
    example!("kitchens/warm-house"),
];
const RECIPES: [&str; 5] = [
    example!("recipes/tidewater-batard"),
    example!("recipes/lock-keepers-baguettes"),
    example!("recipes/millpond-milk-loaf"),
    example!("recipes/reedbed-seeded-boule"),
    example!("recipes/slipway-rye"),
];
/// Zone of the first kitchen.
const ZONE: &str = "Europe/London";

/// Keys of the demo: by the moment it is seeded and a count.
struct Keys {
    at: Moment,
    count: u32,
}

impl Keys {
    fn next(&mut self) -> Id {
        self.count += 1;
        let digits = Hash::of(format!("demo {} {}", self.at.0, self.count).as_bytes()).to_string();
        let random = u128::from_str_radix(&digits[..32], 16).unwrap_or_default();
        Id::new(self.at, random)
    }
}

fn before(at: Moment, minutes: i64) -> Moment {
    Moment(at.0 - minutes * 60_000)
}

impl Notebook {
    /// Whether nothing was ever written here: a first start.
    pub async fn is_new(&self) -> Result<bool> {
        Ok(self.revision().await? == 0)
    }

    /// Whether something of the demo is here, untouched.
    pub async fn has_demo(&self) -> Result<bool> {
        let asked: Vec<String> = TABLES
            .iter()
            .map(|t| format!("EXISTS (SELECT 1 FROM {} WHERE demo = 1)", t.name))
            .collect();
        let sql = format!("SELECT 1 WHERE {}", asked.join(" OR "));
        Ok(!self.base.rows(&sql, &[]).await?.is_empty())
    }

    /// Seeds the demo: kitchens, recipes, a starter with its feeds, two finished bakes in the days
    /// before `by.at`.
    ///
    /// # Errors
    /// [`crate::Error::Given`] when it is here already.
    pub async fn seed_demo(&self, by: By<'_>) -> Result<i64> {
        if self.has_demo().await? {
            return Err(given("demo", "it is here already"));
        }
        let mut w = Writing::begin(&self.base).await?.seeding();
        let mut keys = Keys { at: by.at, count: 0 };
        let mut kitchens = Vec::new();
        for text in KITCHENS {
            let new = first(&mut keys, text);
            keep_version::<KitchenVersion>(&mut w, &new, before(by.at, 30 * 1440)).await?;
            kitchens.push(new.id);
        }
        let mut recipes = Vec::new();
        for text in RECIPES {
            let new = first(&mut keys, text);
            keep_version::<RecipeVersion>(&mut w, &new, before(by.at, 30 * 1440)).await?;
            recipes.push(new.id);
        }
        let culture = Culture {
            id: keys.next(),
            name: "Bargeman".into(),
            flour: "strong white".into(),
            hydration: 100.0,
            note: "In a jar on the window sill; in the fridge when there is no baking.".into(),
            put_away: false,
            demo: true,
        };
        w.put(&culture).await?;
        for (hours, seed, fresh, words) in [
            (214_i64, 20.0, 60.0, "Out of the fridge."),
            (202, 20.0, 40.0, ""),
            (70, 15.0, 60.0, "Out of the fridge, slow."),
            (58, 20.0, 40.0, "Doubled in six hours."),
            (10, 20.0, 40.0, ""),
        ] {
            w.put(&Feed {
                id: keys.next(),
                culture: culture.id,
                at: before(by.at, hours * 60),
                zone: ZONE.into(),
                seed,
                flour: fresh,
                water: fresh,
                temperature: Some(21.0),
                place: "room".into(),
                note: words.into(),
                demo: true,
            })
            .await?;
        }
        let of = (recipes[0], kitchens[0], culture.id);
        for (days, bake) in [(8, &FIRST), (2, &SECOND)] {
            log_bake(&mut w, &mut keys, of, before(by.at, days * 1440), bake).await?;
        }
        w.keep("brought the demo", by).await
    }

    /// Takes the demo away. What the user's own entries need of it stays, and is theirs from then
    /// on.
    pub async fn remove_demo(&self, by: By<'_>) -> Result<i64> {
        let mut w = Writing::begin(&self.base).await?.keeping_marks();
        let mut demo: BTreeMap<(&str, String), Row> = BTreeMap::new();
        for table in TABLES {
            let sql = format!("SELECT {} FROM {} WHERE demo = 1", table.listed(), table.name);
            for cells in w.tx.rows(&sql, &[]).await? {
                let row = table.row(cells);
                demo.insert((table.name, row.id().to_owned()), row);
            }
        }
        // what entries of the user's name
        let mut stays: BTreeSet<(&str, String)> = BTreeSet::new();
        for table in TABLES {
            for column in table.columns {
                let Some(Leans::PartOf(whole) | Leans::Needs(whole)) = column.leans else {
                    continue;
                };
                let sql = format!(
                    "SELECT DISTINCT \"{0}\" FROM {1} WHERE demo = 0 AND \"{0}\" IN \
                     (SELECT id FROM {whole} WHERE demo = 1)",
                    column.name, table.name
                );
                for cells in w.tx.rows(&sql, &[]).await? {
                    if let Some(Value::Text(id)) = cells.into_iter().next() {
                        stays.insert((whole, id));
                    }
                }
            }
        }
        // what that names in turn, and the parts of what stays, until there is no more
        loop {
            let mut more = Vec::new();
            for (key, row) in &demo {
                for column in row.table.columns {
                    let (whole, is_part) = match column.leans {
                        Some(Leans::PartOf(whole)) => (whole, true),
                        Some(Leans::Needs(whole)) => (whole, false),
                        None => continue,
                    };
                    let id = row.text(column.name);
                    if id.is_empty() {
                        continue;
                    }
                    let named = (whole, id.to_owned());
                    let named_stays = stays.contains(&named) || !demo.contains_key(&named);
                    if is_part && named_stays {
                        more.push(key.clone());
                    }
                    if stays.contains(key) {
                        more.push(named);
                    }
                }
            }
            let known = stays.len();
            stays.extend(more);
            if stays.len() == known {
                break;
            }
        }
        for (key, mut row) in demo {
            if stays.contains(&key) {
                row.mark(false);
                w.put_row(row).await?;
            } else {
                w.remove(row.table, &key.1).await?;
            }
        }
        w.keep("took the demo away", by).await
    }
}

fn first(keys: &mut Keys, text: &str) -> NewVersion {
    let (id, of) = (keys.next(), keys.next());
    NewVersion { id, of, parent: None, text: text.into(), note: "As it came.".into() }
}

/// A bake of the demo: minutes count from its beginning.
struct Told {
    did: &'static [(i64, u32)],
    /// Minute, kind, of, value, error.
    measured: &'static [(i64, Kind, &'static str, f64, f64)],
    finished: i64,
    verdict: (Crumb, Crust, OvenSpring, Taste),
    note: &'static str,
    later: &'static str,
}

/// Too cold a flat: cut short.
const FIRST: Told = Told {
    did: &[
        (0, 1),
        (520, 2),
        (565, 3),
        (620, 5),
        (665, 7),
        (670, 8),
        (970, 9),
        (1000, 12),
        (1010, 14),
        (1810, 15),
        (1875, 18),
    ],
    measured: &[
        (480, Kind::Rise, "levain", 110.0, 10.0),
        (500, Kind::Ph, "levain", 3.9, 0.1),
        (580, Kind::Temperature, "dough", 22.5, 0.5),
        (780, Kind::Temperature, "dough", 20.5, 0.5),
        (960, Kind::Rise, "dough", 35.0, 5.0),
        (1000, Kind::Poke, "dough", 0.0, 0.3),
        (1870, Kind::Oven, "stone", 238.0, 5.0),
        (1910, Kind::Core, "loaf 1", 97.5, 0.5),
        (1915, Kind::Weight, "loaf 1", 655.0, 1.0),
        (1915, Kind::Weight, "loaf 2", 651.0, 1.0),
    ],
    finished: 2010,
    verdict: (Crumb::Tight, Crust::Golden, OvenSpring::Torn, Taste::Mild),
    note: "The flat was cold and I went to bed: shaped at 35 %, too early.",
    later: "Next time the tub goes beside the boiler.",
};

/// Warmer, and on time.
const SECOND: Told = Told {
    did: &[
        (0, 1),
        (400, 2),
        (445, 3),
        (500, 5),
        (545, 7),
        (550, 8),
        (850, 9),
        (885, 12),
        (895, 14),
        (1675, 15),
        (1740, 18),
    ],
    measured: &[
        (380, Kind::Rise, "levain", 140.0, 10.0),
        (395, Kind::Ph, "levain", 3.8, 0.1),
        (460, Kind::Temperature, "dough", 25.0, 0.5),
        (660, Kind::Temperature, "dough", 24.0, 0.5),
        (840, Kind::Rise, "dough", 62.0, 5.0),
        (845, Kind::Ph, "dough", 4.5, 0.1),
        (885, Kind::Poke, "dough", 1.0, 0.3),
        (1735, Kind::Oven, "stone", 240.0, 5.0),
        (1776, Kind::Core, "loaf 1", 97.0, 0.5),
        (1780, Kind::Weight, "loaf 1", 648.0, 1.0),
        (1780, Kind::Weight, "loaf 2", 650.0, 1.0),
    ],
    finished: 1875,
    verdict: (Crumb::Open, Crust::DeepGoldenBrown, OvenSpring::High, Taste::Balanced),
    note: "Tub beside the boiler. This is the loaf.",
    later: "Still good toast on the third day.",
};

async fn log_bake(
    w: &mut Writing,
    keys: &mut Keys,
    (recipe_version, kitchen_version, culture): (Id, Id, Id),
    began: Moment,
    told: &Told,
) -> Result<()> {
    let minute = |m: i64| before(began, -m);
    let (crumb, crust, oven_spring, taste) = told.verdict;
    let bake = Bake {
        id: keys.next(),
        recipe_version,
        kitchen_version,
        plan: None,
        culture: Some(culture),
        began,
        finished: Some(minute(told.finished)),
        zone: ZONE.into(),
        crumb: Some(crumb),
        crust: Some(crust),
        oven_spring: Some(oven_spring),
        taste: Some(taste),
        note: told.note.into(),
        demo: true,
    };
    w.put(&bake).await?;
    for &(at, step) in told.did {
        w.put(&Did { id: keys.next(), bake: bake.id, step, at: minute(at), demo: true }).await?;
    }
    for &(at, kind, of, value, error) in told.measured {
        w.put(&Measurement {
            id: keys.next(),
            bake: Some(bake.id),
            culture: None,
            at: minute(at),
            kind,
            of: of.into(),
            value: Some(value),
            error: Some(error),
            photo: None,
            words: String::new(),
            device: "demo".into(),
            demo: true,
        })
        .await?;
    }
    let id = keys.next();
    let (at, words) = (minute(told.finished + 1440), told.later.into());
    w.put(&Annotation { id, bake: bake.id, at, words, photo: None, demo: true }).await
}
