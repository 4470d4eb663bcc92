//! What is done: steps in the trade's verbs, each with its place, vessel, minutes
//! of hands-on work, and its end.

use crate::hearth::Door;
use crate::named::named;
use crate::warmth::Vessel;
use quantity::{Celsius, Minutes, Percent, Ph};
use std::fmt;

/// The steps of a recipe.
///
/// Steps that name a preferment or soaker (`what`) run beside the others and must be
/// done when the dough is mixed; all others follow one another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Method {
    /// In order.
    pub steps: Vec<Step>,
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What is done.
    pub verb: Verb,
    /// The preferment or soaker it concerns; the dough when none.
    pub what: Option<String>,
    /// Where it rests.
    pub place: Place,
    /// In what.
    pub vessel: Option<Vessel>,
    /// Work at its start; 0 when it needs nobody.
    pub hands_on: Minutes,
    /// When it is over, counted from its start.
    pub end: End,
    /// Where its result is good; judged at its end.
    pub good: Option<Window>,
    /// Temperature wanted for the dough (build, mix) or set at the oven (preheat, bake).
    pub temperature: Option<Celsius>,
    /// Steam wanted from the start of this step (bake).
    pub steam: bool,
    /// Under the lid of a pot (bake).
    pub lid: bool,
    /// Fan on or off (bake); the kitchen's habit when none.
    pub fan: Option<bool>,
    /// Door shut or ajar (bake); ajar in the switched-off oven, else shut, when none.
    pub door: Option<Door>,
    /// What lies below the bread in the oven (load).
    pub liner: Option<Liner>,
    /// Where pieces of later loads wait (load): room or fridge; simulated and chosen when none.
    pub wait: Option<Place>,
    /// Only when this choice was made; always when none.
    pub when: Option<Choice>,
    /// Words for the bench.
    pub note: String,
}

impl Step {
    /// A step as it is when nothing else is said of it.
    pub fn of(verb: Verb, end: End) -> Self {
        Self {
            verb,
            what: None,
            place: verb.usual_place(),
            vessel: None,
            hands_on: verb.usual_hands_on(),
            end,
            good: None,
            temperature: None,
            steam: false,
            lid: false,
            fan: None,
            door: None,
            liner: None,
            wait: None,
            when: None,
            note: String::new(),
        }
    }

    /// What is done, and to what: "build the levain", "bulk".
    pub fn words(&self) -> String {
        match &self.what {
            Some(what) => format!("{} the {what}", self.verb.name()),
            None => self.verb.name().to_owned(),
        }
    }
}

named! {
    /// What lies between bread and hearth.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum Liner {
        /// Baking paper.
        Paper = "paper",
        /// A baking mat.
        Mat = "mat",
    }
}

named! {
    /// The trade's verbs.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum Verb {
        /// Feed a levain, mix a poolish.
        Build = "build",
        /// Wet seeds or grains.
        Soak = "soak",
        /// Flour and water rest.
        Autolyse = "autolyse",
        /// Everything together.
        Mix = "mix",
        /// Leave it alone.
        Rest = "rest",
        /// Stretch and fold.
        Fold = "fold",
        /// Bulk fermentation.
        Bulk = "bulk",
        /// Hold cold.
        Retard = "retard",
        /// Back to the bench's temperature.
        WarmUp = "warm-up",
        /// Cut to weight.
        Divide = "divide",
        /// First loose shaping.
        Preshape = "preshape",
        /// Short rest before the final shape.
        BenchRest = "bench rest",
        /// Final shape.
        Shape = "shape",
        /// Final proof.
        Proof = "proof",
        /// Cut the top.
        Score = "score",
        /// Heat oven and hearth; runs beside the dough and ends at loading.
        Preheat = "preheat",
        /// Into the oven.
        Load = "load",
        /// In the oven.
        Bake = "bake",
        /// Let the steam out.
        Vent = "vent",
        /// Turn the loaves round; the door is opened for it.
        Turn = "turn",
        /// Heat the hearth up again between loads.
        Reheat = "reheat",
        /// Cool to eating temperature.
        Cool = "cool",
    }
}

impl Verb {
    /// Minutes of work when the recipe does not say. Common practice, no source.
    pub fn usual_hands_on(self) -> Minutes {
        Minutes(match self {
            Self::Build | Self::Soak | Self::Autolyse | Self::Divide | Self::Preshape => 5.0,
            Self::Mix => 15.0,
            Self::Shape => 10.0,
            Self::Fold | Self::Score => 3.0,
            Self::Retard | Self::WarmUp | Self::Load | Self::Reheat => 2.0,
            Self::Preheat | Self::Vent | Self::Turn | Self::Cool => 1.0,
            Self::Rest | Self::Bulk | Self::BenchRest | Self::Proof | Self::Bake => 0.0,
        })
    }
    /// Where it happens when the recipe does not say.
    pub fn usual_place(self) -> Place {
        match self {
            Self::Retard => Place::Fridge,
            Self::Preheat | Self::Load | Self::Bake | Self::Vent | Self::Turn | Self::Reheat => {
                Place::Oven
            }
            _ => Place::Room,
        }
    }
    /// Gas pressed out, as a fraction. Common practice, no source.
    pub fn gas_lost(self) -> f64 {
        match self {
            Self::Fold => 0.05,
            Self::Divide => 0.15,
            Self::Preshape => 0.25,
            Self::Shape => 0.35,
            _ => 0.0,
        }
    }
    /// Belongs to the oven: from here on the dough is no longer simulated.
    pub fn in_oven(self) -> bool {
        matches!(
            self,
            Self::Load | Self::Bake | Self::Vent | Self::Turn | Self::Reheat | Self::Cool
        )
    }
}

named! {
    /// Where a step happens.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum Place {
        /// On the bench, at room temperature.
        Room = "room",
        /// In the refrigerator.
        Fridge = "fridge",
        /// In the proofing box.
        Proofer = "proofer",
        /// In the switched-off oven.
        OvenOff = "oven off",
        /// In the hot oven.
        Oven = "oven",
    }
}

impl Place {}

/// When a step is over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// After a fixed time.
    After(Minutes),
    /// Anywhere in a range; `usual` when nothing speaks against it.
    Between {
        /// At least.
        least: Minutes,
        /// As a rule.
        usual: Minutes,
        /// At most.
        most: Minutes,
    },
    /// When the dough shows it.
    Cue {
        /// What to wait for.
        cue: Cue,
        /// Not before.
        least: Minutes,
        /// Not after.
        most: Minutes,
    },
}

impl End {
    /// Shortest.
    pub fn least(self) -> Minutes {
        match self {
            Self::After(t) => t,
            Self::Between { least, .. } | Self::Cue { least, .. } => least,
        }
    }
    /// Longest.
    pub fn most(self) -> Minutes {
        match self {
            Self::After(t) => t,
            Self::Between { most, .. } | Self::Cue { most, .. } => most,
        }
    }
}

/// What the baker sees, feels or measures at a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cue {
    /// Grown by this much since mixing, or since shaping.
    Rise(Percent),
    /// Acid enough.
    Acid(Ph),
    /// Core this warm (warm-up) or this cold.
    Core(Celsius),
    /// At its peak (a levain, a poolish).
    Ripe,
    /// A floured finger's dent fills slowly and not wholly.
    Poke,
}

/// Rise over the shaped volume at which a poked dent fills slowly: common practice, no
/// source, 50 to 80 %.
pub const POKE_RISE: (Percent, Percent, Percent) = (Percent(50.0), Percent(65.0), Percent(80.0));

/// The span in which a step's result is good.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Window {
    /// Grown by.
    Rise(Percent, Percent),
    /// pH.
    Acid(Ph, Ph),
    /// Core temperature.
    Core(Celsius, Celsius),
}

impl Cue {
    /// The window that goes with a cue when the recipe gives none: ±25–30 % of a rise, ±0.15
    /// pH, ±2 °C. Our choice.
    pub fn usual_window(self) -> Option<Window> {
        match self {
            Self::Rise(r) => Some(Window::Rise(r * 0.75, r * 1.3)),
            Self::Acid(p) => Some(Window::Acid(Ph(p.0 - 0.15), Ph(p.0 + 0.15))),
            Self::Core(c) => Some(Window::Core(Celsius(c.0 - 2.0), Celsius(c.0 + 2.0))),
            Self::Poke => Some(Window::Rise(POKE_RISE.0, POKE_RISE.2)),
            Self::Ripe => None,
        }
    }
}

impl Window {
    /// How far a measured value lies from the middle, in half-widths: −1 to 1 inside, below −1 too
    /// little, above 1 too much. Acid grows as pH falls. Measured in %, pH or °C as the window is.
    pub fn miss(self, x: f64) -> f64 {
        let (a, b, sense) = match self {
            Self::Rise(a, b) => (a.0, b.0, 1.0),
            Self::Acid(a, b) => (a.0.min(b.0), a.0.max(b.0), -1.0),
            Self::Core(a, b) => (a.0, b.0, 1.0),
        };
        let miss = (2.0 * x - a - b) / (b - a).max(1e-9);
        // an edge belongs to the window, whatever the rounding
        let edge = x == a || x == b;
        sense * if edge { miss.clamp(-1.0, 1.0) } else { miss }
    }

    /// Whether a cue, once reached, lies inside.
    pub fn holds(self, cue: Cue) -> bool {
        match (self, cue) {
            (Self::Rise(a, b), Cue::Rise(x)) => a <= x && x <= b,
            (Self::Rise(a, b), Cue::Poke) => a <= POKE_RISE.1 && POKE_RISE.1 <= b,
            (Self::Acid(a, b), Cue::Acid(x)) => a <= x && x <= b,
            (Self::Core(a, b), Cue::Core(x)) => a <= x && x <= b,
            _ => false,
        }
    }
}

impl fmt::Display for Cue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rise(r) => write!(f, "rise {}", r.write()),
            Self::Acid(p) => write!(f, "{}", p.write()),
            Self::Core(c) => write!(f, "core {}", c.write()),
            Self::Ripe => write!(f, "ripe"),
            Self::Poke => write!(f, "poke"),
        }
    }
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rise(a, b) => write!(f, "rise {} to {}", a.write(), b.write()),
            Self::Acid(a, b) => write!(f, "{} to {}", a.write(), b.write()),
            Self::Core(a, b) => write!(f, "core {} to {}", a.write(), b.write()),
        }
    }
}

named! {
    /// A choice the planner makes: where bulk and proof happen.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum Choice {
        /// Bulk at room temperature.
        BulkRoom = "room bulk",
        /// Bulk ends in the fridge.
        BulkCold = "cold bulk",
        /// Proof at room temperature.
        ProofRoom = "room proof",
        /// Proof in the fridge.
        ProofCold = "cold proof",
    }
}

impl Choice {}

/// One way through the method: which choices were made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Path {
    /// Bulk ends in the fridge.
    pub cold_bulk: bool,
    /// Proof in the fridge.
    pub cold_proof: bool,
}

impl Path {
    /// Whether a step belongs to this path.
    pub fn takes(self, step: &Step) -> bool {
        match step.when {
            None => true,
            Some(Choice::BulkRoom) => !self.cold_bulk,
            Some(Choice::BulkCold) => self.cold_bulk,
            Some(Choice::ProofRoom) => !self.cold_proof,
            Some(Choice::ProofCold) => self.cold_proof,
        }
    }
    /// In words.
    pub fn words(self) -> &'static str {
        match (self.cold_bulk, self.cold_proof) {
            (false, false) => "bulk and proof at room temperature",
            (true, false) => "bulk through the fridge, proof at room temperature",
            (false, true) => "bulk at room temperature, proof in the fridge",
            (true, true) => "bulk and proof through the fridge",
        }
    }
}

/// A step that is not in a method by that name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoStep {
    /// As it was asked for.
    asked: String,
    /// Steps it may mean: number and words. Those of the whole method when it means none.
    may_be: Vec<(usize, String)>,
    /// Whether it may mean more than one.
    several: bool,
}

impl fmt::Display for NoStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.several {
            write!(f, "\"{}\" may be more than one step", self.asked)
        } else {
            write!(f, "there is no step \"{}\" in this method", self.asked)
        }
    }
}
impl std::error::Error for NoStep {}

impl NoStep {
    /// How to mend it.
    pub fn hint(&self) -> String {
        let all: Vec<String> =
            self.may_be.iter().map(|(n, words)| format!("{n} ({words})")).collect();
        format!("write its number: {}", all.join(", "))
    }
}

impl Method {
    /// The step meant by its number, counted from 1, or its words: "4", "bulk", "build the levain".
    ///
    /// # Errors
    /// [`NoStep`] with what it may mean.
    pub fn step_named(&self, asked: &str) -> Result<usize, NoStep> {
        let asked = asked.trim();
        let words = |i: usize| self.steps[i].words();
        if let Ok(n) = asked.parse::<usize>()
            && (1..=self.steps.len()).contains(&n)
        {
            return Ok(n - 1);
        }
        let mine: Vec<usize> = (0..self.steps.len())
            .filter(|&i| words(i) == asked || self.steps[i].verb.name() == asked)
            .collect();
        if let [one] = mine[..] {
            return Ok(one);
        }
        let several = !mine.is_empty();
        let may_be = if several { mine } else { (0..self.steps.len()).collect() };
        let may_be = may_be.into_iter().map(|i| (i + 1, words(i))).collect();
        Err(NoStep { asked: asked.chars().take(40).collect(), may_be, several })
    }

    /// Every way through, room first. A choice exists when a step is tagged with it; where
    /// only cold steps are tagged, leaving them out is the room choice.
    pub fn paths(&self) -> Vec<Path> {
        let has = |c: Choice| self.steps.iter().any(|s| s.when == Some(c));
        let mut out = Vec::new();
        for cold_bulk in [false, true] {
            for cold_proof in [false, true] {
                if (!cold_bulk || has(Choice::BulkCold)) && (!cold_proof || has(Choice::ProofCold))
                {
                    out.push(Path { cold_bulk, cold_proof });
                }
            }
        }
        out
    }

    /// Indices of the steps that follow one another (the dough and the oven), for a path.
    pub fn main_line(&self, path: Path) -> Vec<usize> {
        (0..self.steps.len())
            .filter(|&i| {
                let s = &self.steps[i];
                path.takes(s) && s.what.is_none() && s.verb != Verb::Preheat
            })
            .collect()
    }

    /// Indices of the steps of one preferment or soaker.
    pub fn side_line(&self, what: &str) -> Vec<usize> {
        (0..self.steps.len()).filter(|&i| self.steps[i].what.as_deref() == Some(what)).collect()
    }

    /// Index of the step that heats the oven.
    pub fn preheat(&self, path: Path) -> Option<usize> {
        self.steps.iter().position(|s| s.verb == Verb::Preheat && path.takes(s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Edges belong to the window; acid is missed the other way round.
    #[test]
    fn a_window_says_which_way_it_is_missed() {
        let rise = Window::Rise(Percent(45.0), Percent(80.0));
        for (x, miss) in [(45.0, -1.0), (62.5, 0.0), (80.0, 1.0), (97.5, 2.0), (10.0, -3.0)] {
            assert!((rise.miss(x) - miss).abs() < 1e-12, "{x}");
        }
        let sour = Window::Acid(Ph(3.9), Ph(4.1));
        assert!(sour.miss(4.3) < -1.0 && sour.miss(3.8) > 1.0);
        for edge in [3.9, 4.1] {
            assert!(sour.miss(edge).abs() <= 1.0);
        }
        // a window of no width holds its one value
        assert!(Window::Rise(Percent(50.0), Percent(50.0)).miss(50.0).abs() <= 1.0);
    }
}
