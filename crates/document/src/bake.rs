//! `bake`: the loaf in the oven, minute by minute.

use crate::{Problem, chosen, document, fits_the_oven};
use engine::bake::{BakeSample, BakeTrace, Programme, Resolution};
use engine::caution::{Caution, cautions};
use engine::crust::colour_in_words;
use engine::fit::{Lengths, OvenLoads, notes, oven_loads};
use engine::forecast::{Asked, LoafEnd, forecast, own_kitchen};
use engine::hearth::{Door, Steam};
use engine::method::Path;
use engine::run::{Loaded, Loads, Setting, Suggestion};
use quantity::Units;
use serde_json::{Value, json};

/// Lightness aimed at when the recipe names no colour: golden.
const GOLDEN: f64 = 60.0;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BakeAsked {
    /// The way through the method.
    pub path: Path,
    /// Elapsed minute of the first build.
    pub start: f64,
    /// Seek set points and a time for core and colour both.
    pub suggest: bool,
    /// Bands over time.
    pub over_time: bool,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Bake {
    /// The way through the method.
    pub path: Path,
    /// The dough as it goes in.
    pub loaded: Loaded,
    /// What the oven does.
    pub programme: Programme,
    /// The loaf.
    pub trace: BakeTrace,
    /// What was sought, when it was.
    pub suggestion: Option<Suggestion>,
    /// Pieces on the hearth; none without one.
    pub loads: Option<Loads>,
    /// Load after load.
    pub oven_loads: Option<OvenLoads>,
    /// What is unusual or cannot be vouched for, sentences.
    pub notes: Vec<String>,
    /// The usual cautions that apply, sentences.
    pub cautions: Vec<String>,
    /// Over the kitchens this one may be; none for what was sought.
    pub forecast: Option<LoafEnd>,
}

/// Bakes a recipe as written, or as suggested.
///
/// # Errors
/// [`Problem`] when there is no such way, or the oven cannot.
pub fn bake(setting: &Setting<'_>, asked: &BakeAsked, units: Units) -> Result<Bake, Problem> {
    let (recipe, kitchen) = (setting.recipe, setting.kitchen);
    let path = chosen(recipe, asked.path)?;
    fits_the_oven(setting, path)?;
    if asked.suggest && kitchen.oven.log.ends().is_some() {
        return Err(Problem::wish(
            format!("the oven of {} is logged: its set points cannot be moved", kitchen.name),
            "take the log out of [oven] in the kitchen file to have others suggested",
        ));
    }
    let loads = setting.loads();
    let schedule = setting.follow(path, asked.start).map_err(Problem::plain)?;
    let loaded = setting
        .loaded(&schedule)
        .map_err(Problem::plain)?
        .ok_or_else(|| Problem::plain("the recipe never loads the oven"))?;
    let (programme, trace, suggestion) = if asked.suggest {
        let wanted = recipe.done_when.lightness.map_or(GOLDEN, |begins| begins - 5.0);
        let s = loaded.suggest(wanted).ok_or_else(|| {
            Problem::wish(
                "the core is never done in this oven",
                "look at the core's curve in the bake as written, with nothing suggested",
            )
        })?;
        (s.programme.clone(), s.trace.clone(), Some(s))
    } else {
        (loaded.programme.clone(), loaded.bake(Resolution::Publish), None)
    };
    let oven_loads = oven_loads(setting, &schedule, Lengths::Written).map_err(Problem::plain)?;
    let mut remarks = notes(setting, path, programme.minutes(), units);
    remarks.extend(trace.notes.iter().map(ToString::to_string));
    let cautions = cautions_of(setting, path, &trace, units);
    let wanted = Asked { over_time: asked.over_time, loaf: !asked.suggest };
    let forecast =
        forecast(setting, &schedule, &own_kitchen(), wanted).map_err(Problem::plain)?.loaf;
    Ok(Bake {
        path,
        loaded,
        programme,
        trace,
        suggestion,
        loads,
        oven_loads,
        notes: remarks,
        cautions,
        forecast,
    })
}

impl Bake {
    /// The document.
    pub fn json(&self, setting: &Setting<'_>, units: Units) -> Value {
        let (loaf, done) = (&self.loaded.loaf, &self.trace.done);
        let samples: Vec<Value> = self.trace.minutes.iter().map(sample_json).collect();
        let stages: Vec<Value> = self
            .programme
            .stages
            .iter()
            .map(|s| {
                let door = match s.door {
                    Door::Shut => "shut",
                    Door::Opened => "opened",
                    Door::Ajar => "ajar",
                };
                json!({
                    "time": s.minutes, "set_point": s.set_point, "vent": s.vent, "fan": s.fan,
                    "steam": s.steam != Steam::None, "lid": s.lid, "door": door,
                })
            })
            .collect();
        let loads = self.loads.as_ref().map(|l| {
            let places = l.layout.places.iter();
            let places: Vec<Value> = places
                .map(|p| json!({ "x": p.x, "y": p.y, "across": p.across, "deep": p.deep }))
                .collect();
            json!({
                "pieces": l.pieces, "per_load": places.len(), "loads": l.loads,
                "width": l.width, "depth": l.depth, "places": places,
            })
        });
        document(
            "bake",
            json!({
                "title": setting.recipe.title, "kitchen": setting.kitchen.name,
                "path": self.path.words(),
                "loading": { "mass": loaf.mass, "core": loaf.profile.first().map(|p| p.0),
                    "water_per_solids": loaf.water_per_solids },
                "programme": stages,
                "moved": self.suggestion.as_ref().map(|s| s.moved),
                "samples": samples,
                "done": { "core_target": done.core_target, "core": done.core,
                    "colour": done.lightness, "loss": done.loss, "all": done.all },
                "cooling_loss": self.trace.cooling_loss,
                "loads": loads,
                "oven_loads": self.oven_loads.as_ref().map(|t| oven_loads_json(t, units)),
                "forecast": self.forecast,
                "notes": self.notes, "cautions": self.cautions,
            }),
        )
    }
}

/// What applies to this bake, as sentences; raw dough only when the bread is not done.
fn cautions_of(setting: &Setting<'_>, path: Path, trace: &BakeTrace, units: Units) -> Vec<String> {
    let lightness = trace.minutes.last().map(|s| s.lightness);
    let raw = trace.done.all.is_none();
    cautions(setting, path, lightness)
        .into_iter()
        .filter(|c| raw || *c != Caution::RawDough)
        .map(|c| c.words(units))
        .collect()
}

/// Load after load as data.
pub(crate) fn oven_loads_json(oven_loads: &OvenLoads, units: Units) -> Value {
    let all: Vec<_> = oven_loads
        .all
        .iter()
        .map(|t| {
            json!({
                "load": t.load, "waited": t.waited, "rise": t.rise, "ph": t.ph, "core": t.core,
                "overproofed": t.overproofed, "reheat": t.reheat, "bake": t.bake, "done": t.done,
            })
        })
        .collect();
    json!({ "wait": oven_loads.place.name(), "words": oven_loads.words(units), "all": all })
}

fn sample_json(s: &BakeSample) -> Value {
    json!({
        "minute": s.minute, "oven": s.oven_air, "wall": s.wall, "hearth": s.hearth_top,
        "core": s.core, "mean": s.mean, "top": s.top_surface, "base": s.base_surface,
        "loss": s.loss, "dry_zone_mm": s.dry_zone, "crust_mm": s.crust,
        "lightness": s.lightness, "base_lightness": s.base_lightness, "browning": s.browning,
        "gloss": s.gloss, "starch": s.starch, "colour": colour_in_words(s.lightness),
    })
}
