//! Bands instead of lines: what a schedule leads to over the kitchens it may meet.
//!
//! The same schedule runs in many kitchens drawn from a belief; what they read is told by its
//! 10, 50 and 90 % and by the chance of each window. Every lane has the same seed wherever the
//! same belief is asked, so two schedules are compared on the same doughs.

use crate::bake::{Baked, Resolution};
use crate::belief::{Belief, Draws};
use crate::ensemble::{
    Baking, Doughs, Ensemble, Follow, Kitchens, LoafReading, Moment, Oven, Reading, STEP_MIN,
};
use crate::method::{End, Window};
use crate::numerics::lanes::Width;
use crate::numerics::weighted::Weighted;
use crate::run::{Guide, RunError, Schedule, Setting, from_one};
use quantity::Percent;
use rayon::prelude::*;
use serde::Serialize;

/// The 10, 50 and 90 % of something.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Band {
    /// One in ten lies below.
    pub low: f64,
    /// The middle one.
    pub mid: f64,
    /// One in ten lies above.
    pub high: f64,
}

impl Band {
    /// Of weighted values; none without a finite value.
    fn of(values: &[f64], weights: &[f64]) -> Option<Self> {
        let w = Weighted::new(values, weights).ok()?;
        let at = |p| w.quantile(p);
        let band = Self { low: at(0.1), mid: at(0.5), high: at(0.9) };
        [band.low, band.mid, band.high].iter().all(|x| x.is_finite()).then_some(band)
    }

    /// A part `x` of the way to another.
    fn mix(&self, to: &Self, x: f64) -> Self {
        let mix = |a: f64, b: f64| if a == b { a } else { a * (1.0 - x) + b * x };
        Self {
            low: mix(self.low, to.low),
            mid: mix(self.mid, to.mid),
            high: mix(self.high, to.high),
        }
    }
}

/// A dough at a minute of the schedule, which is kept by the clock in every kitchen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Line: a preferment's place in the formula, then the dough.
    pub line: usize,
    /// Index of the step in the method; counted from 1 where it is written out.
    #[serde(serialize_with = "from_one")]
    pub step: usize,
    /// Elapsed minute.
    pub minute: f64,
    /// Core, °C.
    pub core: Band,
    /// Mean temperature, °C.
    pub mean: Band,
    /// Growth since mixing or shaping, %.
    pub rise: Band,
    /// Volume per mass against that at mixing.
    pub volume: Band,
    /// Acidity.
    pub ph: Band,
}

/// A loaf in the oven at a minute, by the clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LoafPoint {
    /// Since loading.
    pub minute: f64,
    /// Core, °C.
    pub core: Band,
    /// Weight lost, %.
    pub loss: Band,
    /// Crust, mm.
    pub crust_mm: Band,
    /// Lightness L* of the top.
    pub lightness: Band,
    /// Lightness L* of the base.
    pub base_lightness: Band,
}

/// The end of a step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StepEnd {
    /// Index of the step in the method; counted from 1 where it is written out.
    #[serde(serialize_with = "from_one")]
    pub step: usize,
    /// Core, °C, when it ends as planned.
    pub core: Band,
    /// Growth, %.
    pub rise: Band,
    /// Acidity.
    pub ph: Band,
    /// Chance that its window is hit by the clock; none without a window.
    pub in_window: Option<Percent>,
    /// Chance that the dough is past its best.
    pub past_best: Percent,
    /// When it ends if the baker goes by the cue, elapsed minute; only where a cue decides.
    pub by_cue: Option<Band>,
}

/// The loaf as it comes out by the clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoafEnd {
    /// Core, °C.
    pub core: Band,
    /// Minute the core is done; none where fewer than nine in ten get there.
    pub core_done: Option<Band>,
    /// Chance that the core is done when it comes out.
    pub done: Percent,
    /// Weight lost, %.
    pub loss: Band,
    /// Lightness L* of the top.
    pub lightness: Band,
    /// Crust, mm.
    pub crust_mm: Band,
    /// Over time, from loading; empty when not asked for.
    pub curve: Vec<LoafPoint>,
}

impl LoafEnd {
    /// The loaf at a minute, on straight lines between points; none outside them.
    pub fn at(&self, minute: f64) -> Option<LoafPoint> {
        let (a, b, x) = around(self.curve.iter(), |p| p.minute, minute)?;
        Some(LoafPoint {
            minute,
            core: a.core.mix(&b.core, x),
            loss: a.loss.mix(&b.loss, x),
            crust_mm: a.crust_mm.mix(&b.crust_mm, x),
            lightness: a.lightness.mix(&b.lightness, x),
            base_lightness: a.base_lightness.mix(&b.base_lightness, x),
        })
    }
}

/// What a schedule leads to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forecast {
    /// Kitchens asked.
    pub kitchens: usize,
    /// Over time; empty when not asked for.
    pub curve: Vec<Point>,
    /// At the end of each step.
    pub steps: Vec<StepEnd>,
    /// Chance that every window is hit by the clock.
    pub all_windows: Percent,
    /// The loaf; none when it was not asked for.
    pub loaf: Option<LoafEnd>,
}

impl Forecast {
    /// The end of a step.
    pub fn of(&self, step: usize) -> Option<&StepEnd> {
        self.steps.iter().find(|s| s.step == step)
    }

    /// A dough at a minute of a step, on straight lines between points; none outside them.
    pub fn at(&self, line: usize, step: usize, minute: f64) -> Option<Point> {
        let here = self.curve.iter().filter(|p| p.line == line && p.step == step);
        let (a, b, x) = around(here, |p| p.minute, minute)?;
        Some(Point {
            line,
            step,
            minute,
            core: a.core.mix(&b.core, x),
            mean: a.mean.mix(&b.mean, x),
            rise: a.rise.mix(&b.rise, x),
            volume: a.volume.mix(&b.volume, x),
            ph: a.ph.mix(&b.ph, x),
        })
    }
}

/// The points before and after a minute and the part of the way between them; none outside.
fn around<'p, P>(
    points: impl Iterator<Item = &'p P>,
    minute: impl Fn(&P) -> f64,
    at: f64,
) -> Option<(&'p P, &'p P, f64)> {
    // sums of steps of time need not meet to the last bit
    const NEAR: f64 = 1e-6;
    let mut before: Option<&P> = None;
    for p in points {
        let t = minute(p);
        if (t - at).abs() <= NEAR {
            return Some((p, p, 0.0));
        }
        if t > at {
            let a = before?;
            return Some((a, p, (at - minute(a)) / (t - minute(a))));
        }
        before = Some(p);
    }
    None
}

/// Kitchens asked when nothing else is said: the ends of a band within a twentieth of its width.
pub const KITCHENS: u32 = 512;
/// Seed when nothing else is said.
pub const SEED: u64 = 1;
/// Points of the curves, min apart at most: as far as the doughs' longest step.
const EVERY: f64 = STEP_MIN;

/// One's own kitchen, drawn as often as usual.
pub fn own_kitchen() -> Draws {
    Draws::new(Belief::own_kitchen().clone(), KITCHENS, SEED)
}

/// What a forecast holds besides the ends of steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Doughs, and the loaf, over time.
    pub over_time: bool,
    /// The loaf.
    pub loaf: bool,
}

/// Runs a schedule in the kitchens drawn, around the one that is written down.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn forecast(
    setting: &Setting<'_>,
    schedule: &Schedule,
    draws: &Draws,
    asked: Asked,
) -> Result<Forecast, RunError> {
    let path = schedule.path;
    let kitchens = Kitchens::around(setting.kitchen, draws);
    let oven = asked.loaf.then(|| Oven::of(setting, path, false, Resolution::Ensemble));
    let mut ensemble = Ensemble {
        setting,
        follow: Follow::Clock(schedule),
        oven: oven.as_ref(),
        every: asked.over_time.then_some(EVERY),
        width: Width::Widest,
    };
    let n = draws.lanes();
    let clock = ensemble.run(n, |i| kitchens.draw(i))?;
    let guide = Guide::cues(&setting.recipe.method);
    (ensemble.follow, ensemble.oven, ensemble.every) =
        (Follow::Guide(path, &guide, schedule.begins()), None, None);
    let cue = ensemble.run(n, |i| kitchens.draw(i))?;

    let weights = draws.weights();
    let band = |doughs: &Doughs, m: usize, r: Reading| Band::of(doughs.at(m, r), weights);
    let points: Vec<Option<Point>> = (0..clock.moments.len())
        .into_par_iter()
        .map(|m| {
            let Moment { line, step, within } = clock.moments[m];
            let minute = within?;
            let band = |r| band(&clock, m, r);
            Some(Point {
                line,
                step,
                minute,
                core: band(Reading::Core)?,
                mean: band(Reading::Mean)?,
                rise: band(Reading::Rise)?,
                volume: band(Reading::Volume)?,
                ph: band(Reading::Ph)?,
            })
        })
        .collect();
    let curve = points.into_iter().flatten().collect();
    let mut steps = Vec::new();
    let mut all = vec![true; n];
    for (m, at) in clock.moments.iter().enumerate().filter(|(_, at)| at.within.is_none()) {
        let (Some(core), Some(rise), Some(ph)) = (
            band(&clock, m, Reading::Core),
            band(&clock, m, Reading::Rise),
            band(&clock, m, Reading::Ph),
        ) else {
            continue;
        };
        let step = at.step;
        let s = &setting.recipe.method.steps[step];
        let hits = s.good.map(|window| inside(&clock, m, window));
        for (all, hit) in all.iter_mut().zip(hits.iter().flatten()) {
            *all &= *hit;
        }
        let decided = matches!(s.end, End::Cue { .. });
        let waited = cue.moment_of(step).filter(|_| decided);
        steps.push(StepEnd {
            step,
            core,
            rise,
            ph,
            in_window: hits.map(|h| chance(&h, weights)),
            past_best: chance(&clock.past_best(m), weights),
            by_cue: waited.and_then(|m| band(&cue, m, Reading::Minute)),
        });
    }
    let loaf = oven.and_then(|oven| loaf_end(&clock, weights, &oven));
    Ok(Forecast { kitchens: n, curve, steps, all_windows: chance(&all, weights), loaf })
}

fn loaf_end(doughs: &Doughs, weights: &[f64], oven: &Oven) -> Option<LoafEnd> {
    let baked = &doughs.baked;
    let column = |f: fn(&Baked) -> f64| baked.iter().map(f).collect::<Vec<f64>>();
    let band = |f: fn(&Baked) -> f64| Band::of(&column(f), weights);
    // by the clock the kernel names no target of its own: the core at the end decides
    let target = oven.core_target()?;
    let done: Vec<bool> = baked.iter().map(|b| b.highest_core >= target.0).collect();
    let reached = column(|b| b.core_reached);
    let enough = reached.iter().filter(|m| m.is_finite()).count() * 10 >= reached.len() * 9;
    Some(LoafEnd {
        core: band(|b| b.core)?,
        core_done: enough.then(|| Band::of(&reached, weights)).flatten(),
        done: chance(&done, weights),
        loss: band(|b| b.loss)?,
        lightness: band(|b| b.lightness)?,
        crust_mm: band(|b| b.crust_mm)?,
        curve: loaf_curve(&doughs.baking, weights),
    })
}

fn loaf_curve(baking: &Baking, weights: &[f64]) -> Vec<LoafPoint> {
    let points: Vec<Option<LoafPoint>> = (0..baking.minutes.len())
        .into_par_iter()
        .map(|m| {
            let band = |r| Band::of(baking.at(m, r), weights);
            Some(LoafPoint {
                minute: baking.minutes[m],
                core: band(LoafReading::Core)?,
                loss: band(LoafReading::Loss)?,
                crust_mm: band(LoafReading::Crust)?,
                lightness: band(LoafReading::Lightness)?,
                base_lightness: band(LoafReading::BaseLightness)?,
            })
        })
        .collect();
    points.into_iter().flatten().collect()
}

/// Which doughs lie in a window at a moment.
fn inside(doughs: &Doughs, m: usize, window: Window) -> Vec<bool> {
    doughs.at(m, Reading::of(window)).iter().map(|x| window.miss(*x).abs() <= 1.0).collect()
}

/// Weight of those who say yes, %.
fn chance(yes: &[bool], weights: &[f64]) -> Percent {
    Percent(100.0 * yes.iter().zip(weights).filter(|(y, _)| **y).map(|(_, w)| w).sum::<f64>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{read_kitchen, read_recipe};
    use crate::formula::Scale;
    use crate::hours::Calendar;
    use crate::method::Path;
    use crate::parameters::ParameterSet;
    use jiff::civil::datetime;

    const BATARD: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    const HOUSE: &str = include_str!("../../../examples/ferry-lane/kitchens/warm-house.toml");

    fn ask(draws: &Draws) -> (Forecast, crate::run::Trace) {
        let (recipe, kitchen) = (read_recipe(BATARD).unwrap(), read_kitchen(HOUSE).unwrap());
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
        let set = ParameterSet::default_set();
        let s = Setting::new(&recipe, &kitchen, set, flour, calendar).unwrap();
        let path = Path { cold_bulk: false, cold_proof: true };
        let schedule = s.follow(path, 60.0).unwrap();
        let trace = s.run(&schedule, quantity::Minutes(5.0)).unwrap();
        let asked = Asked { over_time: true, loaf: true };
        (forecast(&s, &schedule, draws, asked).unwrap(), trace)
    }

    /// The line of the kitchen as written lies in the band, and the band is as wide as the belief
    /// is unsure.
    #[test]
    fn the_line_lies_in_its_band() {
        let (own, trace) = ask(&own_kitchen());
        for s in &own.steps {
            let line = trace.result_of(s.step).unwrap();
            assert!(s.rise.low <= s.rise.mid && s.rise.mid <= s.rise.high);
            assert!(s.rise.low - 1.0 <= line.rise.0 && line.rise.0 <= s.rise.high + 1.0, "{s:?}");
            assert!(s.ph.low - 0.05 <= line.ph.0 && line.ph.0 <= s.ph.high + 0.05, "{s:?}");
        }
        let bulk = own.of(7).unwrap();
        let hit = bulk.in_window.unwrap().0;
        assert!((5.0..95.0).contains(&hit), "{hit}");
        assert!(own.all_windows.0 <= hit + 1e-9);
        let waits = bulk.by_cue.unwrap();
        assert!(waits.low < waits.mid && waits.mid < waits.high);
        let loaf = own.loaf.as_ref().unwrap();
        assert!(loaf.core.mid > 90.0 && loaf.loss.low < loaf.loss.high, "{loaf:?}");
        let (readers, _) = ask(&Draws::new(Belief::readers().clone(), 256, SEED));
        let width = |f: &Forecast| f.of(7).and_then(|s| s.by_cue).map(|b| b.high - b.low).unwrap();
        assert!(width(&readers) > width(&own));
    }

    /// A belief without anything uncertain gives a band of no width.
    #[test]
    fn certainty_has_no_width() {
        let mut belief = Belief::own_kitchen().clone();
        belief.quantities.clear();
        let (f, _) = ask(&Draws::new(belief, 8, 1));
        for s in &f.steps {
            assert!(s.rise.high - s.rise.low < 1e-12);
            assert!(s.in_window.is_none_or(|c| c.0 == 0.0 || (c.0 - 100.0).abs() < 1e-9));
        }
        assert!(f.curve.iter().all(|p| p.volume.high - p.volume.low < 1e-12));
        let loaf = f.loaf.unwrap();
        assert!(!loaf.curve.is_empty());
        assert!(loaf.curve.iter().all(|p| p.core.high - p.core.low < 1e-9));
    }

    /// The curves meet the ends of steps and of the bake bit by bit; what was not asked for
    /// changes nothing else.
    #[test]
    fn curves_end_where_steps_end() {
        let (f, trace) = ask(&own_kitchen());
        let mut met = 0;
        for s in &f.steps {
            let last = f.curve.iter().rfind(|p| p.step == s.step).unwrap();
            assert_eq!((last.core, last.rise, last.ph), (s.core, s.rise, s.ph));
        }
        for (line, l) in trace.lines.iter().enumerate() {
            for s in &l.samples {
                let p = f.at(line, s.step, s.minute).unwrap();
                for b in [p.core, p.mean, p.rise, p.volume, p.ph] {
                    assert!(b.low <= b.mid && b.mid <= b.high, "{p:?}");
                }
                met += 1;
            }
        }
        assert!(met > 100 && f.at(0, 0, -1e4).is_none() && f.at(9, 0, 0.0).is_none());
        let loaf = f.loaf.unwrap();
        let (first, last) = (loaf.curve[0], loaf.curve[loaf.curve.len() - 1]);
        assert_eq!(first.minute, 0.0);
        let end = (loaf.core, loaf.loss, loaf.lightness, loaf.crust_mm);
        assert_eq!((last.core, last.loss, last.lightness, last.crust_mm), end);
        assert!(first.loss.high < 0.01 && last.loss.high - last.loss.low > 0.5);
        // straight lines between points
        let half = f64::midpoint(loaf.curve[3].minute, loaf.curve[4].minute);
        let between = f64::midpoint(loaf.curve[3].core.mid, loaf.curve[4].core.mid);
        assert!((loaf.at(half).unwrap().core.mid - between).abs() < 1e-9);
    }
}
