//! Bands instead of lines: what a schedule leads to over the kitchens it may meet.
//!
//! The same schedule runs in many kitchens drawn from a belief; what they read is told by its
//! 10, 50 and 90 % and by the chance of each window. Every lane has the same seed wherever the
//! same belief is asked, so two schedules are compared on the same doughs.

use crate::bake::{Baked, Resolution};
use crate::belief::{Belief, Draws};
use crate::ensemble::{Doughs, Ensemble, Follow, Kitchens, Moment, Oven, Reading};
use crate::method::{End, Window};
use crate::numerics::lanes::Width;
use crate::numerics::weighted::Weighted;
use crate::run::{Guide, RunError, Schedule, Setting, from_one};
use quantity::Percent;
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
}

/// A dough at a minute.
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
    /// Growth since mixing or shaping, %.
    pub rise: Band,
    /// Acidity.
    pub ph: Band,
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
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
}

/// What a schedule leads to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forecast {
    /// Kitchens asked.
    pub kitchens: usize,
    /// Over time.
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
}

/// Kitchens asked when nothing else is said: the ends of a band within a twentieth of its width.
pub const KITCHENS: u32 = 512;
/// Seed when nothing else is said.
pub const SEED: u64 = 1;
/// Points of the curves, min apart.
const EVERY: f64 = 30.0;

/// One's own kitchen, drawn as often as usual.
pub fn own_kitchen() -> Draws {
    Draws::new(Belief::own_kitchen().clone(), KITCHENS, SEED)
}

/// Runs a schedule in the kitchens drawn, around the one that is written down.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn forecast(
    setting: &Setting<'_>,
    schedule: &Schedule,
    draws: &Draws,
    with_loaf: bool,
) -> Result<Forecast, RunError> {
    let path = schedule.path;
    let kitchens = Kitchens::around(setting.kitchen, draws);
    let oven = with_loaf.then(|| Oven::of(setting, path, false, Resolution::Ensemble));
    let mut ensemble = Ensemble {
        setting,
        follow: Follow::Clock(schedule),
        oven: oven.as_ref(),
        every: Some(EVERY),
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
    let mut curve = Vec::new();
    let mut steps = Vec::new();
    let mut all = vec![true; n];
    for (m, at) in clock.moments.iter().enumerate() {
        let (Some(core), Some(rise), Some(ph)) = (
            band(&clock, m, Reading::Core),
            band(&clock, m, Reading::Rise),
            band(&clock, m, Reading::Ph),
        ) else {
            continue;
        };
        let Moment { line, step, within } = *at;
        if let Some(minute) = within {
            curve.push(Point { line, step, minute, core, rise, ph });
            continue;
        }
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
    let loaf = oven.and_then(|oven| loaf_end(&clock.baked, weights, &oven));
    Ok(Forecast { kitchens: n, curve, steps, all_windows: chance(&all, weights), loaf })
}

fn loaf_end(baked: &[Baked], weights: &[f64], oven: &Oven) -> Option<LoafEnd> {
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
    })
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
        (forecast(&s, &schedule, draws, true).unwrap(), trace)
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
        let loaf = own.loaf.unwrap();
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
    }
}
