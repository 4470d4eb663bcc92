//! A notebook of ten years, the same for the same seed: 5,000 bakes with 100,000 measurements;
//! and how long it takes to open and to ask.

use engine::numerics::random::Stream;
use notebook::{
    Bake, By, Crumb, Crust, Culture, Did, Error, Feed, Id, Kind, Measurement, Moment, NewVersion,
    Notebook, OvenSpring, Page, Place, Plan, Taste, Which,
};
use std::path::{Path, PathBuf};
use std::time::Instant;

const BAKES: u64 = 5000;
const MEASURED: u64 = 20;
const RECIPES: usize = 40;
const VERSIONS: usize = 5;
/// Ten years before the last moment of the notebook, 2026-11-25.
const DAY_MS: i64 = 86_400_000;
const BEGIN: Moment = Moment(1_795_564_800_000 - 3650 * DAY_MS);
const ZONE: &str = "Europe/London";
/// Opening and the first page, ms.
const START_MS: f64 = 300.0;
/// Any question, ms.
const ASK_MS: f64 = 20.0;

/// Fills the notebook at a place and times it; refuses when it is slower than promised.
pub(crate) fn notebook_fill(root: &Path, place: Option<String>, seed: u64) -> Result<(), String> {
    let runtime = tokio::runtime::Runtime::new().map_err(|e| e.to_string())?;
    let scratch = root.join("target/ten-years");
    let place = match place {
        Some(url) if url.contains("://") => Place::Server { url, folder: scratch },
        Some(path) => Place::File(PathBuf::from(path)),
        None => {
            let _ = std::fs::remove_dir_all(&scratch);
            Place::File(scratch.join("notebook.grigne"))
        }
    };
    runtime.block_on(async {
        let clock = now();
        fill(root, &place, seed).await?;
        println!("filled in {:.1} s", clock.elapsed().as_secs_f64());
        ask(&place).await
    })
}

#[expect(clippy::disallowed_methods, reason = "this is what measures")]
fn now() -> Instant {
    Instant::now()
}

fn ms(clock: Instant) -> f64 {
    clock.elapsed().as_secs_f64() * 1000.0
}

fn told(e: &Error) -> String {
    e.to_string()
}

/// Draws in their order, and keys by a count.
struct Draws {
    stream: Stream,
    count: u64,
}

impl Draws {
    fn below(&mut self, n: u64) -> u64 {
        self.count += 1;
        self.stream.below(self.count, n)
    }

    fn between(&mut self, from: f64, to: f64) -> f64 {
        self.count += 1;
        // as an instrument shows it
        ((from + (to - from) * self.stream.uniform(self.count)) * 10.0).round() / 10.0
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }

    fn key(&mut self, at: Moment) -> Id {
        self.count += 1;
        let bits = |i| u128::from(self.stream.bits(i));
        Id::new(at, bits(self.count) << 64 | bits(self.count + (1 << 40)))
    }
}

async fn fill(root: &Path, place: &Place, seed: u64) -> Result<(), String> {
    let text = |name: &str| {
        let path = root.join("examples/ferry-lane").join(name);
        std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))
    };
    let recipe_text = text("recipes/tidewater-batard.toml")?;
    let kitchen_text = text("kitchens/cold-flat.toml")?;
    let n = Notebook::open(place, BEGIN).await.map_err(|e| told(&e))?;
    if !n.is_new().await.map_err(|e| told(&e))? {
        return Err("there is something in it already: name a new place".into());
    }
    let mut d = Draws { stream: Stream::new(seed, 10), count: 0 };
    let by = |at| By { at, who: "ten years" };
    let kitchen = NewVersion {
        id: d.key(BEGIN),
        of: d.key(BEGIN),
        parent: None,
        text: kitchen_text,
        note: String::new(),
    };
    n.keep_kitchen(&kitchen, by(BEGIN)).await.map_err(|e| told(&e))?;
    let mut versions = Vec::new();
    for r in 0..RECIPES {
        let of = d.key(BEGIN);
        let mut parent = None;
        for v in 0..VERSIONS {
            let id = d.key(BEGIN);
            let title = format!("title = \"Loaf {} of the year\"", r + 1);
            let new = NewVersion {
                id,
                of,
                parent,
                text: recipe_text.replace("title = \"Tidewater batard\"", &title),
                note: format!("version {}", v + 1),
            };
            n.keep_recipe(&new, by(BEGIN)).await.map_err(|e| told(&e))?;
            versions.push(id);
            parent = Some(id);
        }
    }
    let culture = Culture {
        id: d.key(BEGIN),
        name: "Bargeman".into(),
        flour: "strong white".into(),
        hydration: 100.0,
        note: String::new(),
        put_away: false,
        demo: false,
    };
    n.keep_culture(&culture, by(BEGIN)).await.map_err(|e| told(&e))?;
    // a plan as JSON is some kilobytes
    let document = format!("{{\"trace\": [{}0]}}", "21.5, ".repeat(700));
    let step = 3650 * DAY_MS / BAKES as i64;
    for i in 0..BAKES {
        let began = Moment(BEGIN.0 + i as i64 * step);
        let feed = Feed {
            id: d.key(began),
            culture: culture.id,
            at: began,
            zone: ZONE.into(),
            seed: 20.0,
            flour: 40.0,
            water: 40.0,
            temperature: Some(d.between(17.0, 26.0)),
            place: "room".into(),
            note: String::new(),
            demo: false,
        };
        n.feed(&feed, by(began)).await.map_err(|e| told(&e))?;
        let recipe_version = d.one(&versions);
        let plan = Plan {
            id: d.key(began),
            recipe_version,
            kitchen_version: kitchen.id,
            culture: Some(culture.id),
            at: began,
            ready: Moment(began.0 + DAY_MS),
            zone: ZONE.into(),
            document: document.clone(),
            demo: false,
        };
        n.accept(&plan, by(began)).await.map_err(|e| told(&e))?;
        let photo = if i % 25 == 0 {
            let bytes = format!("a photo of loaf {i}");
            let kept = n.keep_photo(bytes.as_bytes(), "image/jpeg", by(began)).await;
            Some(kept.map_err(|e| told(&e))?)
        } else {
            None
        };
        let bake = Bake {
            id: d.key(began),
            recipe_version,
            kitchen_version: kitchen.id,
            plan: Some(plan.id),
            culture: Some(culture.id),
            began,
            finished: (i + 2 < BAKES).then_some(Moment(began.0 + DAY_MS)),
            zone: ZONE.into(),
            crumb: Some(d.one(Crumb::ALL)),
            crust: Some(d.one(Crust::ALL)),
            oven_spring: Some(d.one(OvenSpring::ALL)),
            taste: Some(d.one(Taste::ALL)),
            note: "A word or two about the day.".into(),
            demo: false,
        };
        let minute = |m: u64| Moment(began.0 + m as i64 * 60_000);
        let did: Vec<Did> = (0..8_u32)
            .map(|s| Did {
                id: d.key(began),
                bake: bake.id,
                step: s + 1,
                at: minute(u64::from(s) * 60),
                demo: false,
            })
            .collect();
        let measured: Vec<Measurement> = (0..MEASURED)
            .map(|m| {
                let (kind, value) = match m % 6 {
                    0 => (Kind::Temperature, d.between(20.0, 28.0)),
                    1 => (Kind::Rise, d.between(0.0, 120.0)),
                    2 => (Kind::Ph, d.between(3.8, 5.8)),
                    3 => (Kind::Core, d.between(90.0, 99.0)),
                    4 => (Kind::Oven, d.between(200.0, 260.0)),
                    _ => (Kind::Weight, d.between(500.0, 900.0)),
                };
                let photo = photo.filter(|_| m == 19);
                Measurement {
                    id: d.key(began),
                    bake: Some(bake.id),
                    culture: None,
                    at: minute(m * 30),
                    kind: if photo.is_some() { Kind::Photo } else { kind },
                    of: "dough".into(),
                    value: photo.is_none().then_some(value),
                    error: Some(0.5),
                    photo,
                    words: String::new(),
                    device: "phone".into(),
                    demo: false,
                }
            })
            .collect();
        n.log(&bake, &did, &measured, by(began)).await.map_err(|e| told(&e))?;
    }
    n.close().await;
    Ok(())
}

/// Times a question: the slowest of some, the first, in which all is cold, left out.
macro_rules! timed {
    ($slow:ident, $what:literal, $most:expr, $question:expr) => {{
        let mut slowest = 0.0_f64;
        for i in 0..8 {
            let clock = now();
            $question.map_err(|e| told(&e))?;
            if i > 0 {
                slowest = slowest.max(ms(clock));
            }
        }
        println!("{:<40} {slowest:>8.2} ms", $what);
        if slowest > $most {
            $slow.push($what);
        }
    }};
}

async fn ask(place: &Place) -> Result<(), String> {
    let mut slow = Vec::new();
    let at = Moment(BEGIN.0 + 3650 * DAY_MS);
    let clock = now();
    let n = Notebook::open(place, at).await.map_err(|e| told(&e))?;
    let first = n.bakes(Which::default(), &Page::default()).await.map_err(|e| told(&e))?;
    let start = ms(clock);
    println!("{:<40} {start:>8.2} ms", "open, and the first page of bakes");
    if start > START_MS {
        slow.push("opening");
    }
    let page = Page::default();
    let bake = first.items[0].bake.clone();
    let recipes = n.recipes(false, &page).await.map_err(|e| told(&e))?;
    let recipe = recipes.items[0].id;
    let middle = Moment(BEGIN.0 + 1825 * DAY_MS);
    let half = Page { after: Some(format!("{} {}", middle.0, bake.id)), most: 50 };
    let culture = n.cultures(false).await.map_err(|e| told(&e))?[0].id;
    let which = Which::default();
    let of = Which { recipe: Some(recipe), ..which };
    let with = Which { culture: Some(culture), ..which };
    let underway = Which { underway: Some(true), ..which };
    let (revision, most) = (n.revision().await.map_err(|e| told(&e))?, 50);
    timed!(slow, "recipes", ASK_MS, n.recipes(false, &page).await);
    timed!(slow, "kitchens", ASK_MS, n.kitchens(false, &page).await);
    timed!(slow, "versions of a recipe", ASK_MS, n.recipe_versions(recipe).await);
    timed!(slow, "a version", ASK_MS, n.recipe_version(bake.recipe_version).await);
    timed!(slow, "bakes", ASK_MS, n.bakes(which, &page).await);
    timed!(slow, "bakes of five years ago", ASK_MS, n.bakes(which, &half).await);
    timed!(slow, "bakes of a recipe", ASK_MS, n.bakes(of, &page).await);
    timed!(slow, "bakes with a culture", ASK_MS, n.bakes(with, &page).await);
    timed!(slow, "bakes underway", ASK_MS, n.bakes(underway, &page).await);
    timed!(slow, "a bake", ASK_MS, n.bake(bake.id).await);
    timed!(slow, "feeds", ASK_MS, n.feeds(culture, &page).await);
    timed!(slow, "measured of a culture", ASK_MS, n.measured_of(culture, &page).await);
    timed!(slow, "plans to come", ASK_MS, n.plans(at, most).await);
    timed!(slow, "changes", ASK_MS, n.changes(None, most).await);
    timed!(slow, "what changed since", ASK_MS, n.since(revision - 20).await);
    timed!(slow, "whether the demo is there", ASK_MS, n.has_demo().await);
    let mut d = Draws { stream: Stream::new(0, 11), count: 0 };
    let by = By { at, who: "phone" };
    timed!(slow, "write a measurement", ASK_MS, {
        let m = Measurement {
            id: d.key(at),
            bake: Some(bake.id),
            culture: None,
            at,
            kind: Kind::Rise,
            of: "dough".into(),
            value: Some(50.0),
            error: None,
            photo: None,
            words: String::new(),
            device: "phone".into(),
            demo: false,
        };
        n.measure(&m, by).await
    });
    timed!(slow, "undo", ASK_MS, n.undo_latest(by).await);
    n.close().await;
    if let Place::File(path) = place {
        let size = std::fs::metadata(path).map_err(|e| e.to_string())?.len();
        println!("{:<40} {:>8.1} MB", "the file", size as f64 / 1e6);
    }
    if slow.is_empty() { Ok(()) } else { Err(format!("slower than promised: {}", slow.join(", "))) }
}
