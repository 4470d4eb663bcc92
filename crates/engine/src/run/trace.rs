//! What a run records.

use super::{Draw, Lump, RunError, Schedule, Setting, Walker};
use crate::method::Place;
use crate::mix::WaterPlan;
use quantity::{Celsius, Percent, Ph, Tta, Units};
use serde::{Serialize, Serializer};
use std::fmt;

/// Simulated doughs through time: each preferment, then the dough.
#[derive(Debug, Clone, Serialize)]
pub struct Trace {
    /// Preferments in the formula's order; the dough last.
    pub lines: Vec<Line>,
    /// What to know before trusting it.
    pub notes: Vec<Note>,
}

/// One dough through time.
#[derive(Debug, Clone, Serialize)]
pub struct Line {
    /// Name of the preferment, or `dough`.
    pub name: String,
    /// Its steps, elapsed minutes.
    pub spans: Vec<Span>,
    /// Samples, ascending in time; two at a moment when the dough is handled.
    pub samples: Vec<Sample>,
    /// Water for each mixing, in order.
    #[serde(skip)]
    pub water: Vec<WaterUse>,
}

/// A step in time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Span {
    /// Index of the step in the method; counted from 1 where it is written out.
    #[serde(serialize_with = "from_one")]
    pub step: usize,
    /// Elapsed minute it begins.
    pub from: f64,
    /// Elapsed minute it ends.
    pub to: f64,
}

/// Water for a mixing: what was wanted, what exists, what comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterUse {
    /// Index of the step that mixes.
    pub step: usize,
    /// Dough temperature wanted.
    pub wanted: Celsius,
    /// Water temperature to use; none when no water is poured.
    pub water: Option<Celsius>,
    /// Dough temperature it gives.
    pub dough: Celsius,
    /// Trade rule, heat balance, taps and ice.
    pub plan: Option<WaterPlan>,
}

/// The dough at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// Elapsed minute.
    pub minute: f64,
    /// Index of the step in the method; counted from 1 where it is written out.
    #[serde(serialize_with = "from_one")]
    pub step: usize,
    /// Where it stands.
    #[serde(serialize_with = "place_name")]
    pub place: Place,
    /// Air around it.
    pub air: Celsius,
    /// Core temperature.
    pub core: Celsius,
    /// Mean temperature, at which it ferments.
    pub mean: Celsius,
    /// Growth since mixing, or since shaping.
    pub rise: Percent,
    /// Volume against the volume at mixing, per mass.
    pub volume: f64,
    /// Acidity.
    pub ph: Ph,
    /// Titratable acidity to pH 8.5.
    pub tta: Tta,
    /// Yeast cells per g.
    pub yeast: f64,
    /// Lactic acid bacteria per g.
    pub lab: f64,
    /// Maltose, mmol/kg.
    pub maltose: f64,
    /// Glucose, fructose and what yields them, as hexose, mmol/kg.
    pub hexose: f64,
    /// Lactate, mmol/kg.
    pub lactate: f64,
    /// Acetate, mmol/kg.
    pub acetate: f64,
    /// CO2 made since mixing, mmol/kg.
    pub co2_made: f64,
    /// CO2 held, dissolved and in bubbles, mmol/kg.
    pub co2_held: f64,
    /// CO2 lost since mixing, mmol/kg.
    pub co2_lost: f64,
    /// Gluten weakening, dimensionless proxy; above [`TIRED`] the dough is tired.
    pub weakening: f64,
    /// Gas lost per gas made; above 0.5 the dough no longer holds what it makes.
    pub gas_loss: f64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
pub(crate) fn from_one<S: Serializer>(step: &usize, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_u64(*step as u64 + 1)
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
fn place_name<S: Serializer>(p: &Place, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str(p.name())
}

/// Weakening at which a dough is tired: it then holds e⁻¹, about a third, of the gas a fresh
/// dough holds. Ours; the set as first specified weakened by time alone and called 0.6 tired.
pub const TIRED: f64 = 1.0;

/// Whether a dough that loses this share of its gas, has grown so much, is so warm and so weak
/// is past its best.
pub(crate) fn past_best(gas_loss: f64, rise: Percent, mean: Celsius, weakening: f64) -> bool {
    (gas_loss > 0.5 && rise.0 > 20.0 && mean.0 > 10.0) || weakening > TIRED
}

impl Lump {
    /// As [`Sample::overproofed`].
    pub fn overproofed(&self) -> bool {
        let mean = self.body.mean();
        let d = &self.dough;
        past_best(d.gas_loss_share(mean), self.rise(), mean, d.state.weakening)
    }
}

impl Trace {
    /// The water simulated for a build or a mix.
    pub fn water_of(&self, step: usize) -> Option<&WaterUse> {
        self.lines.iter().flat_map(|l| &l.water).find(|w| w.step == step)
    }

    /// The dough's own line.
    pub fn dough(&self) -> Option<&Line> {
        self.lines.last()
    }

    /// The last sample of a step, as its result.
    pub fn result_of(&self, step: usize) -> Option<&Sample> {
        self.lines.iter().flat_map(|l| &l.samples).rfind(|s| s.step == step)
    }
}

impl Sample {
    fn of(setting: &Setting<'_>, l: &Lump, minute: f64, step: usize) -> Self {
        let s = &l.dough.state;
        let mean = l.body.mean();
        Self {
            minute,
            step,
            place: l.place,
            air: setting.surroundings(l.place, l.body.mass(), l.since_min).at(
                setting.calendar.hour_of_day(minute),
                quantity::Hours((minute - l.since_min) / 60.0),
            ),
            core: l.body.core(),
            mean,
            rise: l.rise(),
            volume: l.volume() / l.mixed_volume,
            ph: l.dough.ph(),
            tta: l.dough.tta(Ph(8.5)),
            yeast: l.dough.yeast_cells_per_g(),
            lab: l.dough.lab_cells_per_g(),
            maltose: s.maltose.max(0.0),
            hexose: s.hexose.max(0.0),
            lactate: s.lactate,
            acetate: s.acetate,
            co2_made: s.co2_made,
            co2_held: s.co2,
            co2_lost: s.co2_lost,
            weakening: s.weakening,
            gas_loss: l.dough.gas_loss_share(mean),
        }
    }

    /// Past its best: it loses more gas than it keeps while it has grown, or its gluten is tired.
    /// In the cold, where next to no gas is made, the loss says nothing.
    pub fn overproofed(&self) -> bool {
        past_best(self.gas_loss, self.rise, self.mean, self.weakening)
    }
}

/// Where the simulation leaves what it was fitted to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "note", rename_all = "kebab-case")]
pub enum Note {
    /// Dough outside 4 to 35 °C.
    Temperature {
        /// Furthest out.
        reached: Celsius,
    },
    /// Two yeasts simulated as one.
    TwoYeasts,
    /// More sugar than the model knows.
    Sugar {
        /// Of flour.
        added: Percent,
    },
    /// Hydration outside 50 to 130 %.
    Hydration {
        /// True hydration.
        hydration: Percent,
    },
    /// Whole or rye flours: holding of gas is the least known part.
    Wholemeal,
    /// The wanted dough temperature cannot be reached with the water there is.
    Water {
        /// Wanted.
        wanted: Celsius,
        /// Reached.
        reached: Celsius,
    },
    /// The dough is past its best before the oven.
    Overproofed {
        /// Elapsed minute from which.
        from: f64,
    },
}

impl Note {
    /// In words, in the units asked for.
    pub fn tell(&self, units: Units) -> String {
        let c = |t: &Celsius| t.show(units);
        match self {
            Self::Temperature { reached } => format!(
                "the dough reaches {}; the model was fitted between 4 and 35 °C",
                c(reached)
            ),
            Self::TwoYeasts => "levain and baker's yeast share this dough and are simulated as one yeast of mean habits".to_owned(),
            Self::Sugar { added } => format!(
                "added sugar is {} of flour; above 5 % it slows yeast more than simulated",
                added.show()
            ),
            Self::Hydration { hydration } => format!(
                "hydration {} lies outside 50 to 130 %, where the model was fitted",
                hydration.show()
            ),
            Self::Wholemeal => "much whole grain or rye: how this dough holds gas is the least known part of the model".to_owned(),
            Self::Water { wanted, reached } => {
                format!("no water here makes a dough of {}; it comes to {}", c(wanted), c(reached))
            }
            Self::Overproofed { .. } => {
                "the dough is past its best before it reaches the oven".to_owned()
            }
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.tell(Units::Metric))
    }
}

/// Records a schedule: every step, a sample at its start and at least every so often.
struct Recorder<'s> {
    schedule: &'s Schedule,
    every: f64,
    line: Line,
}

impl Walker for Recorder<'_> {
    fn begins(&mut self, step: usize) -> Option<f64> {
        self.schedule.of(step).map(|s| s.from)
    }
    fn mixes(&mut self, setting: &Setting<'_>, step: usize, of: &[&Lump], made: &Lump) {
        self.line.water.extend(setting.water_use(step, of, made.since_min, made.body.mean()));
    }
    fn pass(&mut self, setting: &Setting<'_>, step: usize, from: f64, lump: Option<&mut Lump>) {
        let Some(span) = self.schedule.of(step) else { return };
        self.line.spans.push(span);
        if let Some(l) = lump {
            let samples = &mut self.line.samples;
            samples.push(Sample::of(setting, l, from, step));
            l.rest(setting, from, span.to, self.every, |t, l| {
                samples.push(Sample::of(setting, l, t, step));
            });
        }
    }
}

pub(super) fn run(
    setting: &Setting<'_>,
    schedule: &Schedule,
    every: f64,
    draw: &Draw,
) -> Result<Trace, RunError> {
    let preferments = &setting.recipe.formula.preferments;
    let recorder = |line: usize| {
        let name = preferments.get(line).map_or("dough", |p| p.name.as_str());
        let line = Line { name: name.into(), spans: vec![], samples: vec![], water: vec![] };
        Recorder { schedule, every, line }
    };
    let (recorders, _) = setting.walk_all(schedule.path, draw, recorder)?;
    let lines: Vec<Line> = recorders.into_iter().map(|r| r.line).collect();
    let notes = notes(setting, &lines);
    Ok(Trace { lines, notes })
}

fn notes(setting: &Setting<'_>, lines: &[Line]) -> Vec<Note> {
    let mut out = Vec::new();
    let all = || lines.iter().flat_map(|l| &l.samples);
    let hottest = all().map(|s| s.core.0).fold(f64::MIN, f64::max);
    let coldest = all().map(|s| s.mean.0).fold(f64::MAX, f64::min);
    if hottest > 35.0 {
        out.push(Note::Temperature { reached: Celsius(hottest) });
    }
    if coldest < 3.5 {
        out.push(Note::Temperature { reached: Celsius(coldest) });
    }
    let yeasts = |f: &crate::formula::Formula| {
        f.preferments.iter().any(|p| p.seed.is_some())
            && (f.yeast.0 > 0.0 || f.preferments.iter().any(|p| p.yeast.0 > 0.0))
    };
    if yeasts(&setting.recipe.formula) {
        out.push(Note::TwoYeasts);
    }
    let fig = &setting.sheet.figures;
    if fig.added_sugar.0 > 5.0 {
        out.push(Note::Sugar { added: fig.added_sugar });
    }
    if !(50.0..=130.0).contains(&fig.effective_hydration.0) {
        out.push(Note::Hydration { hydration: fig.effective_hydration });
    }
    if fig.ash.0 > 1.1 {
        out.push(Note::Wholemeal);
    }
    for w in lines.iter().flat_map(|l| &l.water) {
        if (w.dough - w.wanted).0.abs() > 0.75 {
            out.push(Note::Water { wanted: w.wanted, reached: w.dough });
        }
    }
    if let Some(first) =
        lines.last().and_then(|dough| dough.samples.iter().find(|s| s.overproofed()))
    {
        out.push(Note::Overproofed { from: first.minute });
    }
    out
}
