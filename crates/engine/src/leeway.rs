//! What a recipe leaves to the day: ranges the planner may choose in, and what it chose.

use crate::formula::{Build, PrefermentKind};
use crate::method::{End, Step, Verb};
use crate::recipe::Recipe;
use quantity::{Celsius, Minutes, Percent};
use serde::Serialize;

/// A range of something, least first.
pub type Range<T> = (T, T);

/// What a recipe leaves open. Nothing, when nothing is said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Leeway {
    /// Flour of the first levain, of total flour.
    pub prefermented_flour: Option<Range<Percent>>,
    /// Seed of the first levain, of the fresh flour of its first build.
    pub seed: Option<Range<Percent>>,
    /// Dough when mixed.
    pub dough: Option<Range<Celsius>>,
    /// Levain when mixed.
    pub levain: Option<Range<Celsius>>,
    /// How long the ripe levain may wait in the fridge, at most.
    pub hold: Option<Minutes>,
    /// Whether the levain may be built in two builds instead of one.
    pub two_builds: bool,
}

/// What was chosen: none is as written.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Pick {
    /// Flour of the first levain, of total flour.
    pub prefermented_flour: Option<Percent>,
    /// Seed of the first levain.
    pub seed: Option<Percent>,
    /// Dough when mixed.
    pub dough: Option<Celsius>,
    /// Levain when mixed.
    pub levain: Option<Celsius>,
    /// The ripe levain waits in the fridge.
    pub hold: bool,
    /// Two builds.
    pub two_builds: bool,
}

/// Flour of the first of two builds, of the levain's fresh flour. Ours.
const FIRST_BUILD: Percent = Percent(25.0);
/// Usual time in the fridge of a levain that may wait so long, as a part of it. Ours.
const USUAL_HOLD: f64 = 0.5;

impl Leeway {
    /// Every choice that differs from the written one in one thing: each range by its ends.
    pub fn single_picks(&self) -> Vec<Pick> {
        let none = Pick::default();
        let mut out = Vec::new();
        let ends = |r: Option<(f64, f64)>| r.map_or(vec![], |(a, b)| vec![a, b]);
        let percent = |r: Option<Range<Percent>>| ends(r.map(|(a, b)| (a.0, b.0)));
        let celsius = |r: Option<Range<Celsius>>| ends(r.map(|(a, b)| (a.0, b.0)));
        for x in percent(self.prefermented_flour) {
            out.push(Pick { prefermented_flour: Some(Percent(x)), ..none });
        }
        for x in percent(self.seed) {
            out.push(Pick { seed: Some(Percent(x)), ..none });
        }
        for x in celsius(self.dough) {
            out.push(Pick { dough: Some(Celsius(x)), ..none });
        }
        for x in celsius(self.levain) {
            out.push(Pick { levain: Some(Celsius(x)), ..none });
        }
        if self.hold.is_some() {
            out.push(Pick { hold: true, ..none });
        }
        if self.two_builds {
            out.push(Pick { two_builds: true, ..none });
        }
        out
    }
}

impl Pick {
    /// Both choices; what the other leaves open stays.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            prefermented_flour: other.prefermented_flour.or(self.prefermented_flour),
            seed: other.seed.or(self.seed),
            dough: other.dough.or(self.dough),
            levain: other.levain.or(self.levain),
            hold: self.hold || other.hold,
            two_builds: self.two_builds || other.two_builds,
        }
    }

    /// Writes the choice into a recipe. Steps that are put in stand last, so that the others keep
    /// their places.
    pub fn apply(&self, recipe: &mut Recipe) {
        let hold = recipe.leeway.hold;
        let Some(p) =
            recipe.formula.preferments.iter_mut().find(|p| p.kind == PrefermentKind::Levain)
        else {
            return;
        };
        if let Some(x) = self.prefermented_flour {
            p.prefermented_flour = x;
        }
        if let (Some(seed), Some(x)) = (p.seed.as_mut(), self.seed) {
            seed.inoculation = x;
        }
        let name = p.name.clone();
        let one_build = p.builds.len() < 2;
        let hydration = p.hydration;
        let steps = &mut recipe.method.steps;
        let mine = |s: &Step| s.what.as_deref() == Some(name.as_str());
        for s in steps.iter_mut().filter(|s| s.verb == Verb::Build && mine(s)) {
            s.temperature = self.levain.or(s.temperature);
        }
        for s in steps.iter_mut().filter(|s| s.verb == Verb::Mix) {
            s.temperature = self.dough.or(s.temperature);
        }
        let build = steps.iter().rfind(|s| s.verb == Verb::Build && mine(s)).cloned();
        if let (Some(build), true, true) = (build.clone(), self.two_builds, one_build) {
            p.builds = vec![
                Build { flour: FIRST_BUILD, hydration },
                Build { flour: Percent(100.0 - FIRST_BUILD.0), hydration },
            ];
            steps.push(Step { note: String::new(), ..build });
        }
        if let (Some(build), Some(most), true) = (build, hold, self.hold) {
            let end = End::Between { least: Minutes(30.0), usual: most * USUAL_HOLD, most };
            let vessel = build.vessel;
            steps.push(Step { what: Some(name.clone()), vessel, ..Step::of(Verb::Retard, end) });
        }
    }

    /// In words, against the recipe as written; nothing for the written choice.
    pub fn words(&self, written: &Recipe, units: quantity::Units) -> Vec<String> {
        let levain = written.formula.preferments.iter().find(|p| p.kind == PrefermentKind::Levain);
        let step =
            |verb| written.method.steps.iter().find(|s| s.verb == verb).and_then(|s| s.temperature);
        let mut out = Vec::new();
        if let (Some(x), Some(p)) = (self.prefermented_flour, levain) {
            let was = p.prefermented_flour.show();
            out.push(format!("{} of the flour in the levain (written {was})", x.show()));
        }
        if let (Some(x), Some(seed)) = (self.seed, levain.and_then(|p| p.seed)) {
            out.push(format!(
                "{} of ripe starter in the levain's first build (written {})",
                x.show(),
                seed.inoculation.show()
            ));
        }
        for (what, chosen, verb) in
            [("dough", self.dough, Verb::Mix), ("levain", self.levain, Verb::Build)]
        {
            if let Some(t) = chosen {
                let was =
                    step(verb).map_or(String::new(), |w| format!(" (written {})", w.show(units)));
                out.push(format!("the {what} mixed to {}{was}", t.show(units)));
            }
        }
        if self.two_builds {
            out.push("the levain in two builds".into());
        }
        if self.hold {
            out.push("the ripe levain waits in the fridge".into());
        }
        out
    }

    /// Whether nothing was chosen.
    pub fn is_written(&self) -> bool {
        *self == Self::default()
    }
}
