//! What decides, and what to write instead.

use super::judge::outcome;
use super::{Asked, Checkpoint, First, Outcome, Tally, as_printed};
use crate::bake::Baked;
use crate::belief::Uncertain;
use crate::ensemble::{Doughs, Ensemble, Oven, Reading, Try};
use crate::numerics::sensitivity::{Bootstrap, Design, Estimate, Matrix, indices};
use crate::numerics::weighted::Weighted;
use crate::run::{Draw, Guide, Rule, RunError, Setting};
use quantity::{Celsius, Grams, Minutes, Percent};
use rayon::prelude::*;
use std::ops::Range;

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

/// What decides, the most first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drivers {
    /// Of how far doughs are from their window at loading.
    pub load: Vec<Driver>,
    /// Of how far loaves are from well baked, raw or pale to burnt.
    pub loaf: Vec<Driver>,
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
    /// Good breads as written, of all readers.
    pub before: Percent,
    /// Good breads with it: as written and what those gained who tried both.
    pub after: Percent,
    /// Doughs in their window at loading, as written.
    pub load_before: Percent,
    /// With it.
    pub load_after: Percent,
    /// Standard error of the gain by the number of readers, in points.
    pub error: Percent,
    /// How many tried it.
    pub readers: usize,
}

impl Advice {
    /// Points of good bread gained.
    pub fn gain(&self) -> f64 {
        self.after.0 - self.before.0
    }
}

/// Readers asked for each piece of advice, at most: enough for a point or two.
pub const ASKED: usize = 2048;
/// Of them, those asked before it is known whether a change is worth more.
const SCREEN: usize = 512;
/// Points of good bread a change has to gain to be worth a word. Ours.
pub const WORTH: f64 = 1.0;
/// Dough temperatures of a table, °C.
const TABLE: [f64; 6] = [18.0, 20.0, 22.0, 24.0, 26.0, 28.0];
/// How much more levain per kelvin below the usual room is tried. Ours.
const LEVAIN_PER_K: [f64; 3] = [0.04, 0.08, 0.12];

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

/// How doughs and breads of some readers fared.
pub(super) struct Fare {
    /// In its window at loading.
    load: Vec<bool>,
    /// That, and well baked.
    pub(super) good: Vec<bool>,
}

impl Fare {
    /// Of some of them.
    fn part(&self, which: Range<usize>) -> Self {
        Self { load: self.load[which.clone()].to_vec(), good: self.good[which].to_vec() }
    }
}

/// The same readers by two texts.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Paired {
    readers: u64,
    /// Good breads gained, and lost.
    good: (u64, u64),
    /// Doughs in their window at loading.
    load: (u64, u64),
}

impl Paired {
    pub(super) fn add(&mut self, before: &Fare, after: &Fare) {
        let count = |to: &mut (u64, u64), before: &[bool], after: &[bool]| {
            for (was, is) in before.iter().zip(after) {
                to.0 += u64::from(!was && *is);
                to.1 += u64::from(*was && !is);
            }
        };
        count(&mut self.good, &before.good, &after.good);
        count(&mut self.load, &before.load, &after.load);
        self.readers += after.good.len() as u64;
    }

    fn points(&self, x: f64) -> f64 {
        100.0 * x / (self.readers as f64).max(1.0)
    }

    /// Points gained.
    fn gain(&self, of: (u64, u64)) -> f64 {
        self.points(of.0 as f64 - of.1 as f64)
    }

    /// Standard error of the good breads gained, in points, at most; one more of each kind keeps
    /// it off 0.
    fn error(&self) -> Percent {
        let (more, less) = (self.good.0 as f64, self.good.1 as f64);
        let n = (self.readers as f64).max(1.0);
        let square = more + less + 2.0 - (more - less) * (more - less) / n;
        Percent(self.points(libm::sqrt(square.max(0.0))))
    }
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

impl Asked<'_> {
    /// Tables of times for every step with a cue, from those who waited for it.
    pub(super) fn tables(&self, waited: &Doughs) -> Vec<(usize, Vec<(Celsius, Minutes)>)> {
        let all = self.cued().into_iter().map(|step| (step, table(waited, step)));
        all.filter(|(_, rows)| rows.len() > 1).collect()
    }

    /// The levain by room: a factor.
    fn levain(&self, room: f64, per_k: f64) -> f64 {
        libm::exp(per_k * (self.kitchens.room - room)).clamp(0.4, 2.5)
    }

    /// How doughs fare; where no loaf is baked yet, those only are that can be good breads.
    pub(super) fn fare(
        &self,
        ensemble: &Ensemble<'_>,
        doughs: &Doughs,
        draws: &[Draw],
        oven: &Oven,
    ) -> Fare {
        let load = self.judge.inside(Checkpoint::Load, doughs);
        let well = |b: &Baked| outcome(self.judge.loaf(b)) == Outcome::Good;
        let mut good = load.clone();
        if doughs.baked.is_empty() {
            let which: Vec<usize> = (0..doughs.n).filter(|i| load[*i]).collect();
            for (i, b) in which.iter().zip(ensemble.bake(oven, doughs, draws, &which)) {
                good[*i] = well(&b);
            }
        } else {
            for (good, b) in good.iter_mut().zip(&doughs.baked) {
                *good &= well(b);
            }
        }
        Fare { load, good }
    }
}

/// A change about to be tried.
struct Change {
    remedy: Remedy,
    guide: Guide,
    /// More levain for every kelvin below the usual room.
    levain_per_k: Option<f64>,
    found: Paired,
}

/// Changes to the text, each tried on the same readers, the most useful first. All are tried on
/// a few; on the rest those only that may be worth a word.
pub(super) fn advice(
    asked: &Asked<'_>,
    clock: &Guide,
    first: &First,
    (by_clock, both): (&Tally, &Paired),
    tick: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<Vec<Advice>>, RunError> {
    let mut changes = Vec::new();
    let mut add = |remedy: Remedy, rule: Option<(usize, Rule)>, levain_per_k| {
        let mut guide = clock.clone();
        if let Some((step, rule)) = rule {
            guide.0[step] = rule;
        }
        changes.push(Change { remedy, guide, levain_per_k, found: Paired::default() });
    };
    // more levain where it is cold, less where it is warm; these first: they ripen as written
    if asked.q.recipe.formula.preferments.iter().any(|p| p.seed.is_some()) {
        for per_k in LEVAIN_PER_K {
            let factor = |t| 0.05 * libm::round(asked.levain(t, per_k) / 0.05);
            // for the rooms inside the map
            let rooms = super::judge::rooms(asked.q.belief, asked.kitchens.room);
            let rows = rooms[1..6].iter().map(|t| (Celsius(*t), factor(*t)));
            add(Remedy::Levain(rows.collect()), None, Some(per_k));
        }
    }
    // the dough's own steps before those of its preferments, for the same reason
    for step in asked.cued().into_iter().rev() {
        add(Remedy::Cue(step), Some((step, Rule::Cue)), None);
        if let Some((_, rows)) = first.tables.iter().find(|(s, _)| *s == step) {
            add(Remedy::Table(step, rows.clone()), Some((step, Rule::Table(rows.clone()))), None);
        }
    }

    let oven = asked.oven(false);
    let mut promising: Vec<usize> = (0..changes.len()).collect();
    let all = first.draws.len();
    let mut from = 0;
    while from < all && !promising.is_empty() {
        let here = from..all.min(from + SCREEN);
        let draws = &first.draws[here.clone()];
        let before = first.fare.part(here.clone());
        let factors: Vec<_> = promising
            .iter()
            .map(|k| {
                let per_k = changes[*k].levain_per_k;
                per_k.map(|per_k| move |d: &Draw| asked.levain(asked.kitchens.room + d.room, per_k))
            })
            .collect();
        let tries: Vec<Try<'_>> = promising
            .iter()
            .zip(&factors)
            .map(|(k, factor)| Try {
                guide: &changes[*k].guide,
                levain: factor.as_ref().map(|f| f as &(dyn Fn(&Draw) -> f64 + Sync)),
            })
            .collect();
        let ensemble = asked.ensemble(&tries);
        let all_doughs = ensemble.doughs_of_each(draws)?;
        let after: Vec<Fare> =
            all_doughs.iter().map(|d| asked.fare(&ensemble, d, draws, &oven)).collect();
        for (k, after) in promising.iter().zip(&after) {
            changes[*k].found.add(&before, after);
        }
        if from == 0 {
            let levain = promising.iter().filter(|k| changes[**k].levain_per_k.is_some());
            let gain = |k: &usize| changes[*k].found.gain(changes[*k].found.good);
            let strongest = levain.copied().max_by(|a, b| gain(a).total_cmp(&gain(b)));
            promising.retain(|k| {
                let c = &changes[*k];
                let may = c.found.gain(c.found.good) + 2.0 * c.found.error().0 > WORTH;
                may && (c.levain_per_k.is_none() || strongest == Some(*k))
            });
        }
        from = here.end;
        if !tick(from as f64 / all as f64) {
            return Ok(None);
        }
    }

    let load = by_clock.count(Checkpoint::Load);
    let load_before = if load.all() > 0 { load.shares()[1] } else { Percent(100.0) };
    let before = by_clock.good_share();
    let told = |remedy: Remedy, found: &Paired| {
        let more = |from: Percent, of| Percent((from.0 + found.gain(of)).clamp(0.0, 100.0));
        Advice {
            remedy,
            before,
            after: more(before, found.good),
            load_before,
            load_after: more(load_before, found.load),
            error: found.error(),
            readers: found.readers as usize,
        }
    };
    let mut advice = vec![told(Remedy::Cues, both)];
    let mut levain: Option<Advice> = None;
    for c in changes {
        let one = told(c.remedy, &c.found);
        if c.levain_per_k.is_none() {
            advice.push(one);
        } else if levain.as_ref().is_none_or(|l| (one.readers, one.gain()) > (l.readers, l.gain()))
        {
            levain = Some(one);
        }
    }
    advice.extend(levain);
    advice.sort_by(|a, b| b.gain().total_cmp(&a.gain()));
    Ok(Some(advice))
}

/// What decides, for the dough and for the loaf; empty when no base points are asked for.
pub(super) fn drivers(
    asked: &Asked<'_>,
    clock: &Guide,
    tick: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<Drivers>, RunError> {
    let rows = asked.q.sensitivity;
    let inputs: Vec<Uncertain> = asked.q.belief.quantities.iter().map(|q| q.what).collect();
    if rows < 2 || inputs.is_empty() {
        return Ok(Some(Drivers::default()));
    }
    let design = Design::new(inputs.len(), rows, asked.q.seed);
    let tries = [Try { guide: clock, levain: None }];
    let (ensemble, oven) = (asked.ensemble(&tries), asked.oven(false));
    let draws = |matrix: Matrix| -> Vec<Draw> {
        let one = |row| {
            asked.kitchens.draw_with(|what| {
                let input = inputs.iter().position(|w| *w == what).unwrap_or(0);
                design.at(matrix, row, input)
            })
        };
        (0..rows).into_par_iter().map(one).collect()
    };
    let doughs = |draws: &[Draw]| {
        let mut doughs = ensemble.doughs(draws)?;
        doughs.baked = ensemble.bake(&oven, &doughs, draws, &super::all_of(doughs.n));
        Ok::<_, RunError>(doughs)
    };
    let misses = |doughs: &Doughs| {
        let [divide, load, loaf] = Checkpoint::ALL.map(|at| asked.judge.misses(at, doughs));
        let none = || vec![0.0; doughs.n];
        [load.or(divide).unwrap_or_else(none), loaf.unwrap_or_else(none)]
    };
    let mut a = doughs(&draws(Matrix::A))?;
    let b = misses(&doughs(&draws(Matrix::B))?);
    let of_a = misses(&a);
    let mut ab: [Vec<Vec<f64>>; 2] = Default::default();
    for (i, what) in inputs.iter().enumerate() {
        let found = match part_in(*what) {
            Part::Nothing => of_a.clone(),
            Part::Oven => {
                let draws = draws(Matrix::Ab(i));
                a.baked = ensemble.bake(&oven, &a, &draws, &super::all_of(a.n));
                misses(&a)
            }
            Part::All => misses(&doughs(&draws(Matrix::Ab(i)))?),
        };
        for (to, column) in ab.iter_mut().zip(found) {
            to.push(column);
        }
        if !tick((i + 1) as f64 / inputs.len() as f64) {
            return Ok(None);
        }
    }
    let bootstrap = Bootstrap { resamples: 200, level: 0.9, seed: asked.q.seed };
    let ranked = |k: usize| {
        // every reader alike: nothing decides
        let Ok(found) = indices(&of_a[k], &b[k], &ab[k], bootstrap) else { return Vec::new() };
        let mut drivers: Vec<Driver> = inputs
            .iter()
            .zip(found)
            .map(|(what, i)| Driver { what: *what, first: i.first, total: i.total })
            .collect();
        drivers.sort_by(|a, b| b.total.value.total_cmp(&a.total.value));
        drivers
    };
    Ok(Some(Drivers { load: ranked(0), loaf: ranked(1) }))
}

/// What has to be done again for another draw of a quantity, by the clock.
enum Part {
    Nothing,
    Oven,
    All,
}

fn part_in(what: Uncertain) -> Part {
    match what {
        // who goes by the clock does not judge
        Uncertain::Judgement => Part::Nothing,
        Uncertain::OvenKnob
        | Uncertain::OvenTransfer
        | Uncertain::CrumbConduction
        | Uncertain::Browning => Part::Oven,
        _ => Part::All,
    }
}
