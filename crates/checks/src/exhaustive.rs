//! The planner's search against every schedule on the same grid: recipes, kitchens and hours in
//! which both are asked, and what looking at all schedules found.

use crate::Values;
use engine::file::{read_kitchen, read_recipe};
use engine::formula::Scale;
use engine::hours::{BakerHours, Calendar};
use engine::kitchen::Kitchen;
use engine::parameters::ParameterSet;
use engine::plan::{Least, Request, least_found};
use engine::recipe::Recipe;
use engine::run::Setting;
use jiff::civil::datetime;
use quantity::Minutes;
use std::sync::OnceLock;

/// What all schedules gave when they were last looked at: case, whether the search comes within a
/// hundredth of it, least cost for each aim, or none.
const KEPT: &str = include_str!("../../../data/checks/exhaustive.csv");

macro_rules! bundled {
    ($read:ident, $folder:literal, $($name:literal),*) => {
        [$(($name, $read(include_str!(concat!(
            "../../../examples/ferry-lane/", $folder, "/", $name, ".toml"
        ))))),*]
    };
}

/// A question that is asked both ways.
#[derive(Debug, Clone)]
pub struct Case {
    /// Recipe, kitchen, hours.
    pub name: String,
    recipe: Recipe,
    kitchen: Kitchen,
}

impl Case {
    /// The recipe set into its kitchen on a Thursday at 18:00.
    ///
    /// # Errors
    /// What the engine refuses, in words.
    pub fn setting(&self) -> Result<Setting<'_>, String> {
        let r = &self.recipe;
        let flour =
            Scale::Pieces(r.yields.pieces).total_flour(&r.formula, &r.yields).map_err(said)?;
        let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
        Setting::new(r, &self.kitchen, ParameterSet::default_set(), flour, calendar).map_err(said)
    }

    /// Bread on Saturday at 18:00, on a grid of half an hour, in 8 kitchens.
    pub fn request() -> Request {
        Request { grid: Minutes(30.0), kitchens: 8, ..Request::by(48.0 * 60.0) }
    }
}

fn said(e: impl std::fmt::Display) -> String {
    e.to_string()
}

/// Every bundled recipe in every bundled kitchen, with hours as written, of someone at work all
/// day, and of someone who is always there.
///
/// # Errors
/// A bundled file that does not read.
pub fn cases() -> Result<Vec<Case>, String> {
    let recipes = bundled!(
        read_recipe,
        "recipes",
        "lock-keepers-baguettes",
        "millpond-milk-loaf",
        "reedbed-seeded-boule",
        "slipway-rye",
        "tidewater-batard"
    );
    let kitchens =
        bundled!(read_kitchen, "kitchens", "cold-flat", "mountain-village", "warm-house");
    let spans = |texts: &[&str]| -> Result<Vec<_>, String> {
        texts.iter().map(|t| t.parse().map_err(said)).collect()
    };
    let at_work = BakerHours {
        awake: spans(&["daily 06:00-22:30"])?,
        home: spans(&["mon-fri 18:00-24:00", "mon-fri 00:00-08:00", "sat,sun 00:00-24:00"])?,
        ..BakerHours::any_time()
    };
    let mut out = Vec::new();
    for (r, recipe) in recipes {
        for (k, kitchen) in &kitchens {
            for hours in ["as written", "at work", "always"] {
                let recipe = recipe.clone().map_err(|p| format!("{r}: {p:?}"))?;
                let mut kitchen = kitchen.clone().map_err(|p| format!("{k}: {p:?}"))?;
                match hours {
                    "at work" => kitchen.hours = at_work.clone(),
                    "always" => kitchen.hours = BakerHours::any_time(),
                    _ => {}
                }
                out.push(Case { name: format!("{r} / {k} / {hours}"), recipe, kitchen });
            }
        }
    }
    Ok(out)
}

/// How much worse than all schedules the search may be, as a part.
pub const NEAR: f64 = 0.01;

/// A line that was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The case's name.
    pub name: String,
    /// Whether the search comes within [`NEAR`]; a miss is said so until it is mended.
    pub hit: bool,
    /// The least costs of all schedules.
    pub all: Option<Least>,
}

/// What was kept, in the cases' order.
///
/// # Errors
/// A line that does not read.
pub fn kept() -> Result<Vec<Kept>, String> {
    let line = |l: &str| -> Option<Kept> {
        let parts: Vec<&str> = l.split(',').collect();
        let [name, verdict, costs @ ..] = parts.as_slice() else { return None };
        let (name, hit) = ((*name).to_owned(), *verdict == "hit");
        if costs == ["none"] {
            return Some(Kept { name, hit, all: None });
        }
        let costs: Vec<f64> = costs.iter().map(|c| c.parse().ok()).collect::<Option<_>>()?;
        Some(Kept { name, hit, all: Some(costs.try_into().ok()?) })
    };
    KEPT.lines()
        .skip(1)
        .map(|l| line(l).ok_or_else(|| format!("data/checks/exhaustive.csv: {l}")))
        .collect()
}

/// A line as it is kept.
pub fn line(kept: &Kept) -> String {
    let verdict = if kept.hit { "hit" } else { "miss" };
    let costs = match kept.all {
        None => "none".to_owned(),
        Some(c) => c.map(|x| format!("{x:.6}")).join(","),
    };
    format!("{},{verdict},{costs}", kept.name)
}

/// How much worse the search is than all schedules, as a part, at its worst aim; infinite where
/// only one of them finds any. Below zero never, but for a grid that was not the same.
pub fn worse(found: Option<Least>, all: Option<Least>) -> f64 {
    match (found, all) {
        (None, None) => 0.0,
        (Some(f), Some(a)) => {
            f.iter().zip(a).map(|(f, a)| (f - a) / a.abs().max(1e-9)).fold(0.0, f64::max)
        }
        _ => f64::INFINITY,
    }
}

/// A case with what was kept and how much worse the search is today.
#[derive(Debug)]
struct Held {
    kept: Kept,
    worse: f64,
}

impl Held {
    /// Hits stay hits, and a miss that is mended has to be said so.
    fn as_kept(&self) -> bool {
        (self.worse <= NEAR) == self.kept.hit
    }
}

/// All cases, sought once; one that cannot be asked is left out: how many there are is a row of
/// its own.
fn held() -> &'static [Held] {
    static HELD: OnceLock<Vec<Held>> = OnceLock::new();
    HELD.get_or_init(|| {
        let (Ok(cases), Ok(kept)) = (cases(), kept()) else { return Vec::new() };
        let hold = |(case, kept): (Case, Kept)| {
            let setting = case.setting().ok()?;
            let ways: Vec<_> =
                setting.recipe.method.paths().into_iter().map(|p| (p, &setting)).collect();
            let found = least_found(&ways, &Case::request()).ok()?;
            let worse = worse(found, kept.all);
            (case.name == kept.name).then_some(Held { kept, worse })
        };
        cases.into_iter().zip(kept).filter_map(hold).collect()
    })
}

/// Ours, for the page.
pub(crate) fn values(v: &mut Values) {
    let held = held();
    let count = |is: &dyn Fn(&Held) -> bool| held.iter().filter(|h| is(h)).count() as f64;
    v.insert("search-cases", held.len() as f64);
    v.insert("search-as-kept", count(&Held::as_kept));
    v.insert("search-near", count(&|h| h.worse <= NEAR));
    v.insert("search-none", count(&|h| h.worse.is_infinite()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_search_comes_as_near_all_schedules_as_is_said() {
        let cases = cases().unwrap();
        assert!(cases.len() >= 30 && held().len() == cases.len());
        let wrong: Vec<&Held> = held().iter().filter(|h| (h.worse <= NEAR) != h.kept.hit).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
