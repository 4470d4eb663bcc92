//! What decides, and what to write instead.

use super::{Asked, Checkpoint, as_printed, share};
use crate::belief::Uncertain;
use crate::ensemble::{Doughs, Reading};
use crate::numerics::sensitivity::{Bootstrap, Design, Estimate, Matrix, indices};
use crate::numerics::weighted::Weighted;
use crate::run::{Guide, Rule, RunError, Setting};
use quantity::{Celsius, Grams, Minutes, Percent};

/// Something that decides how the dough comes out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Driver {
    /// What.
    pub what: Uncertain,
    /// Share of the variance that would vanish were it alone known.
    pub first: Estimate,
    /// Share of the variance it has a part in.
    pub total: Estimate,
}

/// What to write instead.
#[derive(Debug, Clone, PartialEq)]
pub enum Remedy {
    /// A cue in place of the time, at this step.
    Cue(usize),
    /// A table of times by dough temperature, at this step.
    Table(usize, Vec<(Celsius, Minutes)>),
    /// The levain in the dough by room temperature: factors on the one written.
    Levain(Vec<(Celsius, f64)>),
    /// All cues.
    Cues,
}

/// A change to the text and what it does for readers who go by the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// What to write.
    pub remedy: Remedy,
    /// Good breads as written.
    pub before: Percent,
    /// Good breads with it.
    pub after: Percent,
    /// Doughs in their window at loading, as written.
    pub load_before: Percent,
    /// With it.
    pub load_after: Percent,
}

impl Advice {
    /// Points of good bread gained.
    pub fn gain(&self) -> f64 {
        self.after.0 - self.before.0
    }
}

/// Readers asked for each piece of advice, at most: enough for a point or two.
pub const ASKED: usize = 2048;
/// Dough temperatures of a table, °C.
const TABLE: [f64; 6] = [18.0, 20.0, 22.0, 24.0, 26.0, 28.0];
/// How much more levain per kelvin below the usual room is tried. Ours.
const LEVAIN_PER_K: [f64; 3] = [0.04, 0.08, 0.12];
/// Rooms for which the levain is printed, °C.
const LEVAIN_ROOMS: [f64; 5] = [16.0, 18.0, 20.0, 22.0, 24.0];

/// The levain by room as weights of a batch: the levain that goes into the dough, to the kitchen's
/// scale. What is built follows in proportion; flour and water of the dough stay as written.
pub fn levain_weights(
    setting: &Setting<'_>,
    rows: &[(Celsius, f64)],
) -> Vec<(Celsius, Vec<(String, Grams)>)> {
    let step = setting.kitchen.scale.step.0;
    let rounded = |g: f64| Grams(if step > 0.0 { step * libm::round(g / step) } else { g });
    let kinds = setting.recipe.formula.preferments.iter().zip(&setting.sheet.preferments);
    let levains: Vec<_> = kinds.filter(|(kind, _)| kind.seed.is_some()).map(|(_, p)| p).collect();
    rows.iter()
        .map(|&(room, factor)| {
            let weighed = |g: Grams| rounded(factor * g.0);
            (room, levains.iter().map(|p| (p.name.clone(), weighed(p.contents.total()))).collect())
        })
        .collect()
}

struct Fare {
    good: Percent,
    load: Percent,
}

fn fare(asked: &Asked<'_>, doughs: &Doughs) -> Fare {
    let of = |yes: usize| share(yes as u64, doughs.n as u64);
    let load = asked.judge.misses(Checkpoint::Load, doughs);
    let inside = load.map_or(doughs.n, |m| m.iter().filter(|m| m.abs() <= 1.0).count());
    Fare { good: of(asked.judge.good(doughs).iter().filter(|g| **g).count()), load: of(inside) }
}

/// Times by dough temperature at a step: the median of those who waited for its cue, near each
/// temperature; without gaps and falling as it gets warmer.
fn table(doughs: &Doughs, step: usize) -> Vec<(Celsius, Minutes)> {
    let Some(m) = doughs.moment_of(step) else { return Vec::new() };
    let [began, ended, read] =
        [Reading::Began, Reading::Minute, Reading::AsRead].map(|r| doughs.at(m, r));
    let mut rows: Vec<(Celsius, Minutes)> = Vec::new();
    for t in TABLE {
        let near: Vec<f64> = (0..doughs.n)
            .filter(|&i| (read[i] - t).abs() <= 1.0)
            .map(|i| ended[i] - began[i])
            .collect();
        // a few readers say little about a temperature
        let Some(near) = Weighted::equal(&near).ok().filter(|_| near.len() >= 30) else {
            continue;
        };
        let median = near.quantile(0.5);
        let median = rows.last().map_or(median, |(_, before)| median.min(before.0));
        rows.push((Celsius(t), as_printed(Minutes(median))));
    }
    rows
}

/// Changes to the text, each tried on the same readers, the most useful first.
pub(super) fn advice(
    asked: &Asked<'_>,
    clock: &Guide,
    tick: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<Vec<Advice>>, RunError> {
    let n = ASKED.min(asked.q.readers.max(1));
    let (by_clock, by_cue) = (asked.oven(false), asked.oven(true));
    let cues = Guide::cues(&asked.q.recipe.method);
    let run = |guide: &Guide| asked.run(guide, Some(&by_clock), 0, n);
    let before = fare(asked, &run(clock)?);
    let cued = asked.cued();
    let trials = (2 * cued.len() + 1 + LEVAIN_PER_K.len()) as f64;
    let mut tried = 0.0;
    let mut all = Vec::new();
    let mut add = |remedy: Remedy, after: &Fare| {
        all.push(Advice {
            remedy,
            before: before.good,
            after: after.good,
            load_before: before.load,
            load_after: after.load,
        });
    };
    let mut going = || {
        tried += 1.0;
        tick((tried / trials).min(1.0))
    };

    let waited = asked.run(&cues, Some(&by_cue), 0, n)?;
    add(Remedy::Cues, &fare(asked, &waited));
    if !going() {
        return Ok(None);
    }
    for &step in &cued {
        let mut guide = clock.clone();
        guide.0[step] = Rule::Cue;
        add(Remedy::Cue(step), &fare(asked, &run(&guide)?));
        let times = table(&waited, step);
        if times.len() > 1 {
            guide.0[step] = Rule::Table(times.clone());
            add(Remedy::Table(step, times), &fare(asked, &run(&guide)?));
        }
        if !(going() && going()) {
            return Ok(None);
        }
    }
    // more levain where it is cold, less where it is warm
    let levain = asked.q.recipe.formula.preferments.iter().any(|p| p.seed.is_some());
    let usual = asked.kitchens.room;
    let factor = |room: f64, per_k: f64| libm::exp(per_k * (usual - room)).clamp(0.4, 2.5);
    let ensemble = asked.ensemble(clock, Some(&by_clock));
    let mut best: Option<(f64, Fare)> = None;
    for per_k in LEVAIN_PER_K.into_iter().filter(|_| levain) {
        let doughs = ensemble.run(n, |i| {
            let mut draw = asked.kitchens.draw(i);
            draw.inoculation = factor(usual + draw.room, per_k);
            draw
        })?;
        let fare = fare(asked, &doughs);
        if best.as_ref().is_none_or(|(_, b)| fare.good.0 > b.good.0) {
            best = Some((per_k, fare));
        }
        if !going() {
            return Ok(None);
        }
    }
    if let Some((per_k, fare)) = best {
        let rows = LEVAIN_ROOMS.map(|t| (Celsius(t), 0.05 * libm::round(factor(t, per_k) / 0.05)));
        add(Remedy::Levain(rows.to_vec()), &fare);
    }
    all.sort_by(|a, b| b.gain().total_cmp(&a.gain()));
    Ok(Some(all))
}

/// What decides, the most first; empty when no base points are asked for.
pub(super) fn drivers(
    asked: &Asked<'_>,
    clock: &Guide,
    tick: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<Vec<Driver>>, RunError> {
    let rows = asked.q.sensitivity;
    let inputs: Vec<Uncertain> = asked.q.belief.quantities.iter().map(|q| q.what).collect();
    if rows < 2 || inputs.is_empty() {
        return Ok(Some(Vec::new()));
    }
    let design = Design::new(inputs.len(), rows, asked.q.seed);
    let ensemble = asked.ensemble(clock, None);
    let values = |matrix: Matrix| -> Result<Vec<f64>, RunError> {
        let doughs = ensemble.run(rows as usize, |row| {
            asked.kitchens.draw_with(|what| {
                let input = inputs.iter().position(|w| *w == what).unwrap_or(0);
                design.at(matrix, row as u32, input)
            })
        })?;
        Ok(asked
            .judge
            .misses(Checkpoint::Load, &doughs)
            .or_else(|| asked.judge.misses(Checkpoint::Divide, &doughs))
            .unwrap_or_else(|| vec![0.0; rows as usize]))
    };
    let (a, b) = (values(Matrix::A)?, values(Matrix::B)?);
    let mut ab = Vec::with_capacity(inputs.len());
    for i in 0..inputs.len() {
        ab.push(values(Matrix::Ab(i))?);
        if !tick((i + 1) as f64 / inputs.len() as f64) {
            return Ok(None);
        }
    }
    let bootstrap = Bootstrap { resamples: 200, level: 0.9, seed: asked.q.seed };
    // every reader alike: nothing decides
    let Ok(found) = indices(&a, &b, &ab, bootstrap) else { return Ok(Some(Vec::new())) };
    let mut drivers: Vec<Driver> = inputs
        .iter()
        .zip(found)
        .map(|(what, i)| Driver { what: *what, first: i.first, total: i.total })
        .collect();
    drivers.sort_by(|a, b| b.total.value.total_cmp(&a.total.value));
    Ok(Some(drivers))
}
