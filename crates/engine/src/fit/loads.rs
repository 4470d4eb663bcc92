//! Load after load: what waiting does to the dough, and where it waits.
//!
//! While the first load bakes, the pieces of later loads stand on the bench or in the fridge.
//! Both are simulated; the place that leaves the dough nearer its window is taken: first not
//! past its best, then nearest the target of its window, then most like the first load. Every
//! load is then baked from its own dough, cold or warm as it comes.

use super::{Celsius, Minutes, Path, RunError, Schedule, Setting, Verb, usual};
use crate::bake::{BakeSample, Resolution};
use crate::hearth::{Hearth, recovery};
use crate::method::{End, Place, Step, Window};
use crate::plan::off_target;
use crate::run::{Loaded, Lump, MAX_STEP_MIN};
use quantity::{Percent, Ph, TempRise, Units};
use std::fmt::Write as _;

/// A hearth counts as ready again within this of the oven, K.
const READY_WITHIN: TempRise = TempRise(10.0);
/// Longest a bake is lengthened beyond twice its written time.
const LONGER: Minutes = Minutes(30.0);
/// Distances from a target nearer than this are alike; a window's edge is at 1. Ours.
const ALIKE: f64 = 0.05;
/// Rises nearer than this are alike, %. Ours.
const ALIKE_RISE: f64 = 1.0;
/// So many loads are told one by one.
const TOLD: usize = 5;
/// More loads than this are not followed: two days at the oven. Ours.
pub(super) const LOADS_MAX: u32 = 48;

/// How long the loads bake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lengths {
    /// As the recipe says.
    Written,
    /// Until the bread is done as the recipe asks; as long as written at least, unless colour or
    /// loss are asked for.
    UntilDone,
}

/// One load: its dough and its bake.
#[derive(Debug, Clone, PartialEq)]
pub struct OvenLoad {
    /// Counted from 1.
    pub load: u32,
    /// How long after the first load it goes in.
    pub waited: Minutes,
    /// Grown by then.
    pub rise: Percent,
    /// Acidity by then.
    pub ph: Ph,
    /// Inside, at loading.
    pub core: Celsius,
    /// Past its best.
    pub overproofed: bool,
    /// Distance from the target of the last window: 1 at its edge, more outside.
    pub off: f64,
    /// The piece and the oven it goes into.
    pub loaded: Loaded,
    /// How long it bakes.
    pub bake: Minutes,
    /// When it is done as the recipe asks; none when it is not.
    pub done: Option<Minutes>,
    /// The bread as it comes out.
    pub end: Option<BakeSample>,
    /// How long the hearth is reheated before it; 0 for the first.
    pub reheat: Minutes,
}

/// Why the later loads wait where they do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The recipe says so.
    Named,
    /// Elsewhere more of them would be past their best.
    Overproofed,
    /// Nearer the target of their window.
    Window,
    /// More like the first load.
    Alike,
    /// Both places are alike: nothing is moved.
    Stays,
}

/// All loads of a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct OvenLoads {
    /// First to last; one when everything fits.
    pub all: Vec<OvenLoad>,
    /// Where the later loads wait.
    pub place: Place,
    /// Why there.
    pub why: Why,
    /// The last load had it waited at the other place.
    pub elsewhere: Option<(Place, OvenLoad)>,
    /// Pieces are scored load by load: time this takes.
    pub scoring: Minutes,
    /// The window the dough was in before the oven.
    window: Option<Window>,
}

/// The dough as it stands before it is scored and loaded.
struct Waiting<'s, 'a> {
    setting: &'s Setting<'a>,
    path: Path,
    dough: Lump,
    from: f64,
    first: f64,
    scores: Vec<Step>,
    proof: Option<Step>,
    /// When each load goes in, where the schedule has them all.
    planned: Vec<f64>,
    lengths: Lengths,
    loads: u32,
}

impl Waiting<'_, '_> {
    fn scoring(&self) -> f64 {
        self.scores.iter().map(|s| usual(s).0).sum()
    }

    /// The dough of a load that goes in at an elapsed minute.
    fn at(&self, place: Place, loading: f64) -> Lump {
        let mut l = self.dough.clone();
        let mut t = self.from;
        let until = loading - self.scoring();
        if until > t + 1e-6 {
            let wait = Step { place, ..Step::of(Verb::Rest, End::After(Minutes(until - t))) };
            l.begin(self.setting, &wait, t);
            l.rest(self.setting, t, until, MAX_STEP_MIN, |_, _| {});
            t = until;
        }
        for s in &self.scores {
            l.begin(self.setting, s, t);
            l.rest(self.setting, t, t + usual(s).0, MAX_STEP_MIN, |_, _| {});
            t += usual(s).0;
        }
        l
    }

    /// All loads, the later ones waiting at one place.
    fn oven_loads(&self, place: Place, resolution: Resolution) -> Vec<OvenLoad> {
        let setting = self.setting;
        let mut out: Vec<OvenLoad> = Vec::new();
        let (mut loading, mut reheat) = (self.first, Minutes(0.0));
        for load in 1..=self.loads {
            if let Some(&t) = self.planned.get(load as usize - 1) {
                loading = t;
            }
            let lump = self.at(place, loading);
            let mut loaded = setting.loaded_as(&lump, self.path, load, loading);
            let oven = loaded.oven.truly(setting.loading_knob(self.path));
            if let (true, Hearth::Slab(slab, Some(t))) = (load > 1, loaded.programme.hearth)
                && setting.kitchen.hearth.is_some_and(|h| h.heated)
            {
                loaded.programme.hearth = Hearth::Slab(slab, Some(t - READY_WITHIN));
            }
            let written = loaded.programme.minutes();
            let longer = match self.lengths {
                Lengths::Written => written,
                Lengths::UntilDone => written * 2.0 + LONGER,
            };
            let trace = loaded.clone().for_minutes(longer).bake(resolution);
            let done = trace.done.all;
            let bake = match self.lengths {
                Lengths::Written => written,
                Lengths::UntilDone => {
                    let asked = loaded.programme.done_when;
                    // a core alone says nothing of the crust the written time was meant for
                    let least = match (asked.lightness, asked.loss) {
                        (None, None) => written,
                        _ => Minutes(1.0),
                    };
                    done.map_or(written, |t| Minutes(t.0.ceil()).max(least))
                }
            };
            let off = self.proof.as_ref().map_or(0.0, |s| off_target(s, &lump));
            out.push(OvenLoad {
                load,
                waited: Minutes(loading - self.first),
                rise: lump.rise(),
                ph: lump.dough.ph(),
                core: lump.body.core(),
                overproofed: lump.overproofed(),
                off,
                bake,
                done,
                end: trace.at(bake),
                reheat,
                loaded,
            });
            let slab = setting.kitchen.hearth.filter(|h| h.heated).map(|h| h.slab());
            let end = trace.at(bake).and_then(|s| s.hearth_top).unwrap_or(oven);
            let sag = TempRise((oven - end).0.max(0.0));
            reheat = slab
                .and_then(|s| recovery(&s, oven, sag, READY_WITHIN))
                .map_or(Minutes(5.0), |t| Minutes(5.0 * (t.0 / 5.0).ceil()));
            let steps = &setting.recipe.method.steps;
            let one = setting.oven_steps(self.path, 1);
            let busy: f64 = one
                .iter()
                .map(|&i| &steps[i])
                .filter(|s| s.verb != Verb::Cool)
                .map(|s| usual(s).0)
                .sum();
            loading += busy + (bake - written).0 + reheat.0;
        }
        out
    }
}

/// The loads of a batch along a schedule; none when it never loads, not one piece fits, or they
/// are more than are followed.
///
/// # Errors
/// [`RunError`] when something cannot be mixed.
pub fn oven_loads(
    setting: &Setting<'_>,
    schedule: &Schedule,
    lengths: Lengths,
) -> Result<Option<OvenLoads>, RunError> {
    oven_loads_at(setting, schedule, lengths, false)
}

/// As [`oven_loads`]; where they wait was `chosen` before and written into the recipe.
pub(super) fn oven_loads_at(
    setting: &Setting<'_>,
    schedule: &Schedule,
    lengths: Lengths,
    chosen: bool,
) -> Result<Option<OvenLoads>, RunError> {
    let steps = &setting.recipe.method.steps;
    let path = schedule.path;
    let line = setting.recipe.method.main_line(path);
    let Some(at) = line.iter().position(|&i| steps[i].verb == Verb::Load) else { return Ok(None) };
    let Some(first) = schedule.of(line[at]) else { return Ok(None) };
    let loads = match setting.loads() {
        Some(l) => l.loads,
        None => Some(1),
    };
    let Some(loads) = loads.filter(|n| *n <= LOADS_MAX) else { return Ok(None) };
    let before = &line[..at];
    let scored = before.iter().rev().take_while(|&&i| steps[i].verb == Verb::Score).count();
    let scores: Vec<Step> = before[at - scored..].iter().map(|&i| steps[i].clone()).collect();
    let from =
        before[at - scored..].first().and_then(|&i| schedule.of(i)).map_or(first.from, |s| s.from);
    let Some(dough) = setting.dough_at(schedule, from - 1e-6)? else { return Ok(None) };
    // a window of temperature says nothing about being past its best
    let judged = |s: &&Step| matches!(s.good, Some(Window::Rise(..) | Window::Acid(..)));
    let shaped = before.iter().rposition(|&i| steps[i].verb == Verb::Shape).unwrap_or(0);
    let proof = before[shaped..].iter().rev().map(|&i| &steps[i]).find(judged).cloned();
    let mut w = Waiting {
        setting,
        path,
        dough,
        from,
        first: first.from,
        scores,
        proof,
        planned: Vec::new(),
        lengths,
        loads,
    };
    let scoring = w.scoring();
    let loadings: Vec<f64> = line
        .iter()
        .filter(|&&i| steps[i].verb == Verb::Load)
        .filter_map(|&i| schedule.of(i))
        .enumerate()
        .map(|(k, s)| if k == 0 { s.from } else { s.from + scoring })
        .collect();
    if loadings.len() as u32 == loads {
        w.planned = loadings;
    }
    let stands = if w.dough.place == Place::Fridge { Place::Fridge } else { Place::Room };
    let other = |p| if p == Place::Fridge { Place::Room } else { Place::Fridge };
    let window = w.proof.as_ref().and_then(|s| s.good);
    let done = |all: Vec<OvenLoad>, place, why, elsewhere: Option<Vec<OvenLoad>>| {
        let last = elsewhere.and_then(|mut e| e.pop()).map(|t| (other(place), t));
        let scoring = Minutes(scoring);
        OvenLoads { all, place, why, elsewhere: last, scoring, window }
    };
    if loads == 1 {
        return Ok(Some(done(w.oven_loads(stands, Resolution::Publish), stands, Why::Stays, None)));
    }
    let named = steps[line[at]].wait;
    let asked = named.unwrap_or(stands);
    // the coarse bake sets the times well enough to choose by
    let at = |place| w.oven_loads(place, Resolution::Preview);
    let (here, there) = (at(asked), at(other(asked)));
    let fine = |place| w.oven_loads(place, Resolution::Publish);
    Ok(Some(match (named, better(&there, &here)) {
        (Some(_), _) if !chosen => done(fine(asked), asked, Why::Named, Some(there)),
        (None, Some(why)) => done(fine(other(asked)), other(asked), why, Some(here)),
        // chosen for a dough that was very nearly this one, or nothing to choose
        _ => {
            let why = better(&here, &there).unwrap_or(Why::Stays);
            done(fine(asked), asked, why, Some(there))
        }
    }))
}

/// Why one way to wait is better than another, if it is.
fn better(one: &[OvenLoad], other: &[OvenLoad]) -> Option<Why> {
    let tired = |x: &[OvenLoad]| x.iter().filter(|t| t.overproofed).count();
    let worst = |x: &[OvenLoad]| x.iter().map(|t| t.off).fold(0.0, f64::max);
    let strayed = |x: &[OvenLoad]| {
        let first = x.first().map_or(0.0, |t| t.rise.0);
        x.iter().map(|t| (t.rise.0 - first).abs()).fold(0.0, f64::max)
    };
    if tired(one) != tired(other) {
        return (tired(one) < tired(other)).then_some(Why::Overproofed);
    }
    let (a, b) = (worst(one), worst(other));
    // both infinite: nothing to tell them apart
    if (a - b).abs() > ALIKE {
        return (a < b).then_some(Why::Window);
    }
    (strayed(one) + ALIKE_RISE < strayed(other)).then_some(Why::Alike)
}

fn place_words(place: Place) -> &'static str {
    if place == Place::Fridge { "in the fridge" } else { "on the bench" }
}

impl OvenLoads {
    /// What the waiting does and why it is there, a few sentences; empty with one load.
    pub fn words(&self, units: Units) -> Vec<String> {
        let (Some(first), Some(last)) = (self.all.first(), self.all.last()) else {
            return Vec::new();
        };
        if self.all.len() < 2 {
            return Vec::new();
        }
        let state = |t: &OvenLoad| {
            let tired = if t.overproofed { ", past its best" } else { "" };
            format!("risen {:.0} %, pH {}{tired}", t.rise.0, t.ph.show())
        };
        let mut out = vec![format!(
            "{} loads. The first goes in {}, {} inside; the later ones wait {}.",
            self.all.len(),
            state(first),
            first.core.show(units),
            place_words(self.place)
        )];
        let baked = |t: &OvenLoad| match t.done {
            Some(at) => format!("done after {:.0} min", at.0),
            None => format!("not done after {:.0} min", t.bake.0),
        };
        // of many loads the next and the last
        let told = |t: &&OvenLoad| self.all.len() <= TOLD || t.load == 2 || t.load == last.load;
        for t in self.all[1..].iter().filter(told) {
            let (is, was) = (baked(t), baked(first));
            let beside =
                if is == was { "as the first".to_owned() } else { format!("the first {was}") };
            out.push(format!(
                "Load {} goes in {} after the first: {}, {} inside; {is}, {beside}.",
                t.load,
                t.waited.show(),
                state(t),
                t.core.show(units),
            ));
        }
        let tired = self.all.iter().find(|t| t.overproofed);
        let target = self.window.map_or(String::new(), |w| format!(" ({w})"));
        let mut why = match self.why {
            Why::Named => "The recipe says where they wait".to_owned(),
            Why::Overproofed if tired.is_some() => {
                format!("There fewer of them get past their best{target}")
            }
            Why::Overproofed => format!("They wait there so as not to get past their best{target}"),
            Why::Window => format!("That is nearer to where the proof should end{target}"),
            Why::Alike => "That keeps them more like the first".to_owned(),
            Why::Stays => "It makes no difference, so nothing is moved".to_owned(),
        };
        if let Some((place, t)) = &self.elsewhere {
            // infallible: writing to a String
            let _ =
                write!(why, "; {} load {} would have {}", place_words(*place), t.load, state(t));
        }
        out.push(format!("{why}."));
        if let Some(t) = tired.filter(|t| t.load > 1) {
            out.push(format!(
                "note: from load {} on they are past their best: make fewer pieces, or shape the later ones later.",
                t.load
            ));
        }
        out
    }
}
