//! The dough that is measured: the tidewater batard in the cold flat, 36 h from the levain's build
//! to the oven, in kitchens that differ a little.

use engine::ensemble::{Doughs, Ensemble, Moment};
use engine::ferment::Dough;
use engine::file::{read_kitchen, read_recipe};
use engine::formula::Scale;
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::method::{Cue, End, Path, Place, Verb};
use engine::numerics::lanes::Width;
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use engine::run::{Draw, Lump, Schedule, Setting};
use engine::warmth::{Body, Profile, Surroundings};
use jiff::civil::datetime;
use std::fmt::Display;
use std::process::Command;

/// How many kitchens differ; after them they repeat.
pub(crate) const KITCHENS: usize = 97;
/// From the levain's build to loading, min.
pub(crate) const WHOLE_MIN: f64 = 36.0 * 60.0;
/// Step of the doughs that are counted, min.
pub(crate) const STEP_MIN: f64 = 20.0;
/// Steps whose errors are told, min.
pub(crate) const STEPS_MIN: [f64; 4] = [30.0, 24.0, STEP_MIN, 15.0];
/// Step of the doughs they are held against, min.
const FINE_MIN: f64 = 1.0;
const COLD: Path = Path { cold_bulk: false, cold_proof: true };

/// In words, for a person.
pub(crate) fn say(e: impl Display) -> String {
    e.to_string()
}

/// Recipe and kitchen.
pub(crate) struct Scene {
    recipe: Recipe,
    kitchen: Kitchen,
}

impl Scene {
    pub(crate) fn new() -> Result<Self, String> {
        let recipe = include_str!("../../examples/ferry-lane/recipes/tidewater-batard.toml");
        let kitchen = include_str!("../../examples/ferry-lane/kitchens/cold-flat.toml");
        let recipe = read_recipe(recipe).map_err(|_| "the bundled recipe does not read")?;
        let kitchen = read_kitchen(kitchen).map_err(|_| "the bundled kitchen does not read")?;
        Ok(Self { recipe, kitchen })
    }

    pub(crate) fn setting(&self) -> Result<Setting<'_>, String> {
        let (recipe, kitchen) = (&self.recipe, &self.kitchen);
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).map_err(say)?;
        let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
        Setting::new(recipe, kitchen, ParameterSet::default_set(), flour, calendar).map_err(say)
    }

    /// By the cues of the kitchen as written, with a retard that makes it 36 h.
    pub(crate) fn schedule(&self, setting: &Setting<'_>) -> Result<Schedule, String> {
        let mut schedule = setting.follow(COLD, 0.0).map_err(say)?;
        let verb = |step: usize| self.recipe.method.steps[step].verb;
        let of = |s: &Schedule, v: Verb| s.spans.iter().copied().find(|x| verb(x.step) == v);
        let load = of(&schedule, Verb::Load).ok_or("no load step")?;
        let retard = of(&schedule, Verb::Retard).ok_or("no retard")?;
        let longer = WHOLE_MIN - (load.from - schedule.begins());
        for span in &mut schedule.spans {
            if span.step == retard.step {
                span.to += longer;
            } else if span.from >= retard.to || verb(span.step) == Verb::Preheat {
                span.from += longer;
                span.to += longer;
            }
        }
        Ok(schedule)
    }

    /// Many doughs, by the clock.
    pub(crate) fn many(
        setting: &Setting<'_>,
        schedule: &Schedule,
        n: usize,
        width: Width,
        step_min: f64,
    ) -> Result<Doughs, String> {
        let clock = Ensemble { width, ..Ensemble::by_clock(setting, schedule) };
        clock.run(n, |i| kitchen(i, step_min)).map_err(say)
    }

    /// One dough in steps of a minute, as those who integrate in another way need it.
    pub(crate) fn fine(
        &self,
        setting: &Setting<'_>,
        schedule: &Schedule,
        i: usize,
    ) -> Result<Vec<Line>, String> {
        let draw = kitchen(i, FINE_MIN);
        let method = &self.recipe.method;
        let mut lines = Vec::new();
        let mut ripe: Vec<Lump> = Vec::new();
        let levain = method.side_line(&self.recipe.formula.preferments[0].name);
        for (line, steps) in [levain, method.main_line(COLD)].into_iter().enumerate() {
            let mut lump: Option<Lump> = None;
            let mut told: Option<Line> = None;
            for step in steps {
                let (Some(span), s) = (schedule.of(step), &method.steps[step]) else { continue };
                if s.verb.in_oven() {
                    continue;
                }
                let mut lost = 0.0;
                match (s.verb, &mut lump) {
                    (Verb::Build | Verb::Mix, _) => {
                        let made = if s.verb == Verb::Build {
                            setting.mix_build(0, 0, step, None, span.from, &draw)
                        } else {
                            setting.mix_dough(step, &ripe, span.from, &draw)
                        }
                        .map_err(say)?;
                        let (start, mixed) = (made.dough.clone(), made.clone());
                        let from_min = span.from;
                        let (ripe, legs) = (made.clone(), Vec::new());
                        told = Some(Line { start, mixed, ripe, step, from_min, legs });
                        lump = Some(made);
                    }
                    (_, Some(l)) => {
                        l.begin(setting, s, span.from);
                        lost = s.verb.gas_lost();
                    }
                    (_, None) => continue,
                }
                let (Some(l), Some(told)) = (&mut lump, &mut told) else { continue };
                let body = l.body;
                let (air, warmer) = self.air(l, &draw)?;
                let mut path = vec![(span.from, l.body.mean().0)];
                let mut before = f64::NAN;
                let mut now = l.volume();
                l.rest(setting, span.from, span.to, FINE_MIN, |t, l| {
                    path.push((t, l.body.mean().0));
                    (before, now) = (now, l.volume());
                });
                told.legs.push(Leg {
                    moment: Moment { line, step, within: None },
                    hours: (span.to - span.from) / 60.0,
                    lost,
                    body,
                    levelled: body.core() == body.surface(),
                    place: l.place,
                    air,
                    warmer,
                    temps: even(&path),
                    ends: Reading { volume: now, rise: l.rise().0, ph: l.dough.ph().0 },
                    volume_per_min: now - before,
                    is_cue: matches!(s.end, End::Cue { cue: Cue::Rise(_), .. }),
                    marks: s.verb == Verb::Shape,
                    to_min: span.to,
                });
                l.finish(s);
            }
            if let (Some(lump), Some(told)) = (lump, told) {
                lines.push(Line { ripe: lump.clone(), ..told });
                ripe.push(lump);
            }
        }
        Ok(lines)
    }

    /// The air around a dough where it stands, and how much warmer it is there than written, K.
    fn air(&self, lump: &Lump, draw: &Draw) -> Result<(Surroundings, f64), String> {
        let fridge = &self.kitchen.fridge;
        match lump.place {
            Place::Room => {
                let room = Profile::new(&self.kitchen.room).map_err(say)?;
                Ok((Surroundings::Room(room), draw.room))
            }
            Place::Fridge => {
                let air = Surroundings::Fridge {
                    mean: fridge.air,
                    warms_by: fridge.warms_by * (lump.body.mass().0 / 1000.0).min(3.0),
                    settles: fridge.settles_in,
                };
                Ok((air, draw.fridge))
            }
            place => Err(format!("nobody integrates a dough in this place: {place:?}")),
        }
    }
}

/// Kitchens spread a little, without the cost of drawing them.
pub(crate) fn kitchen(i: usize, longest_min: f64) -> Draw {
    let x = (i % KITCHENS) as f64 / 48.0 - 1.0;
    Draw {
        room: 2.0 * x,
        fridge: -x,
        yeast_vigour: 1.0 + 0.2 * x,
        longest_min,
        ..Draw::as_written()
    }
}

/// A levain or a dough from its mixing on.
#[derive(Clone)]
pub(crate) struct Line {
    /// As mixed.
    pub(crate) start: Dough,
    /// The same, with its temperature.
    pub(crate) mixed: Lump,
    /// As it is at the end.
    pub(crate) ripe: Lump,
    /// The step that mixes it.
    pub(crate) step: usize,
    /// When, elapsed minutes.
    pub(crate) from_min: f64,
    pub(crate) legs: Vec<Leg>,
}

/// A step of the method.
#[derive(Clone)]
pub(crate) struct Leg {
    pub(crate) moment: Moment,
    pub(crate) hours: f64,
    /// Share of the bubbles lost as it begins.
    pub(crate) lost: f64,
    /// Mass, vessel and shape from its beginning on.
    pub(crate) body: Body,
    /// Whether it begins at one temperature all through.
    pub(crate) levelled: bool,
    pub(crate) place: Place,
    /// How warm it is there, and how much warmer than that in this kitchen, K.
    pub(crate) air: Surroundings,
    pub(crate) warmer: f64,
    /// Mean temperatures at even times, °C.
    pub(crate) temps: Vec<f64>,
    /// What is read at its end.
    pub(crate) ends: Reading,
    /// L/(kg min) then.
    pub(crate) volume_per_min: f64,
    /// Whether it ends at a rise: its end is the readiness.
    pub(crate) is_cue: bool,
    /// Whether its end is what the rise is measured from.
    pub(crate) marks: bool,
    pub(crate) to_min: f64,
}

/// What is read off a dough.
#[derive(Clone, Copy)]
pub(crate) struct Reading {
    /// L/kg.
    pub(crate) volume: f64,
    /// %.
    pub(crate) rise: f64,
    pub(crate) ph: f64,
}

/// The greatest differences, %.
#[derive(Clone, Copy, Default)]
pub(crate) struct Errors {
    /// Of the volume.
    pub(crate) volume: f64,
    /// Of the rise itself, where it is above 10 %.
    pub(crate) rise: f64,
    pub(crate) ph: f64,
    /// Of the time from mixing to the rise asked for.
    pub(crate) readiness: f64,
}

impl Errors {
    /// Takes in a reading that should be what the leg ends with.
    pub(crate) fn take(&mut self, line: &Line, leg: &Leg, read: Reading) {
        let ends = &leg.ends;
        let most = |into: &mut f64, x: f64| *into = into.max(100.0 * x.abs());
        most(&mut self.volume, read.volume / ends.volume - 1.0);
        most(&mut self.ph, read.ph / ends.ph - 1.0);
        if ends.rise > 10.0 {
            most(&mut self.rise, read.rise / ends.rise - 1.0);
        }
        if leg.is_cue {
            let minutes = (read.volume - ends.volume) / leg.volume_per_min;
            most(&mut self.readiness, minutes / (leg.to_min - line.from_min));
        }
    }

    /// The greater of each.
    pub(crate) fn greater(self, other: Self) -> Self {
        // NaN is no match either: it counts as infinite
        let most = |a: f64, b: f64| if b.is_nan() { f64::INFINITY } else { a.max(b) };
        Self {
            volume: most(self.volume, other.volume),
            rise: most(self.rise, other.rise),
            ph: most(self.ph, other.ph),
            readiness: most(self.readiness, other.readiness),
        }
    }

    pub(crate) fn greatest(&self) -> f64 {
        self.volume.max(self.rise).max(self.ph).max(self.readiness)
    }
}

/// The errors of many doughs against the fine ones of the same kitchens.
pub(crate) fn errors(doughs: &Doughs, fine: &[Vec<Line>]) -> Errors {
    use engine::ensemble::Reading as Of;
    let mut errors = Errors::default();
    for (i, lines) in fine.iter().enumerate() {
        for (line, leg) in lines.iter().flat_map(|l| l.legs.iter().map(move |leg| (l, leg))) {
            let Some(m) = doughs.moments.iter().position(|m| *m == leg.moment) else { continue };
            let at = |of: Of| doughs.at(m, of)[i];
            let volume = at(Of::Volume) * line.mixed.volume();
            let read = Reading { volume, rise: at(Of::Rise), ph: at(Of::Ph) };
            errors.take(line, leg, read);
        }
    }
    errors
}

/// A path of temperatures at even times, about five minutes apart.
fn even(path: &[(f64, f64)]) -> Vec<f64> {
    let (Some(first), Some(last)) = (path.first(), path.last()) else { return Vec::new() };
    let parts = ((last.0 - first.0) / 5.0).ceil().max(1.0);
    (0..=parts as usize)
        .map(|i| {
            let t = first.0 + (last.0 - first.0) * i as f64 / parts;
            let after = path.iter().position(|p| p.0 >= t).unwrap_or(path.len() - 1).max(1);
            let (a, b) = (path[after - 1], path[after.min(path.len() - 1)]);
            if b.0 > a.0 { a.1 + (b.1 - a.1) * (t - a.0) / (b.0 - a.0) } else { a.1 }
        })
        .collect()
}

/// What compiles here.
pub(crate) fn rustc() -> String {
    Command::new("rustc")
        .arg("--version")
        .output()
        .ok()
        .and_then(|o| String::from_utf8(o.stdout).ok())
        .map_or_else(|| "rustc unknown".to_owned(), |v| v.trim().to_owned())
}
