//! `water`: temperature and ice for the wanted dough temperature.

use crate::{Problem, document};
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::method::Verb;
use engine::mix::{Pour, WaterPlan};
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use engine::run::Setting;
use quantity::{Celsius, Grams, JoulesPerKg, TempRise, Units};
use serde_json::{Value, json};

/// What was measured just now, which stands above what the kitchen file says, and what is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Asked {
    /// Dough temperature; the recipe's otherwise.
    pub wanted: Option<Celsius>,
    /// The room.
    pub room: Option<Celsius>,
    /// The flour; the room's otherwise.
    pub flour: Option<Celsius>,
    /// Ripe preferments; the room's otherwise.
    pub preferment: Option<Celsius>,
    /// Water and dough of a batch that was mixed.
    pub measured: Option<(Celsius, Celsius)>,
}

/// One mixing that has water to pour.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixing {
    /// The preferment, or `dough`.
    pub what: String,
    /// Dough temperature wanted.
    pub wanted: Celsius,
    /// Water to pour, ice included.
    pub water: Grams,
    /// How to get there.
    pub plan: WaterPlan,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Water {
    /// In the order of the method.
    pub mixings: Vec<Mixing>,
    /// Friction factor and mixing heat of the batch that was measured.
    pub measured: Option<(TempRise, JoulesPerKg)>,
    /// What to mind, sentences.
    pub notes: Vec<String>,
}

/// Water for every mixing of a recipe.
///
/// # Errors
/// [`Problem`] when something cannot be mixed here.
pub fn water(
    recipe: &Recipe,
    kitchen: &mut Kitchen,
    total_flour: Grams,
    asked: &Asked,
    units: Units,
) -> Result<Water, Problem> {
    if let Some(t) = asked.room {
        kitchen.room = vec![(0.0, t)];
    }
    if let Some(t) = asked.flour {
        kitchen.flour = Some(t);
    }
    // the day's mean is what a room without a clock has
    let calendar = Calendar::plain(jiff::civil::datetime(2000, 1, 1, 12, 0, 0, 0));
    let set = ParameterSet::default_set();
    let setting =
        Setting::new(recipe, kitchen, set, total_flour, calendar).map_err(Problem::plain)?;
    let mut out = Water::default();
    for (i, step) in recipe.method.steps.iter().enumerate() {
        if !matches!(step.verb, Verb::Build | Verb::Mix) {
            continue;
        }
        let Some(mixing) = setting.mixing(i, asked.preferment) else { continue };
        let wanted = asked.wanted.filter(|_| step.verb == Verb::Mix).or(step.temperature);
        let wanted = wanted.unwrap_or(Celsius(25.0));
        let what = step.what.clone().unwrap_or_else(|| "dough".into());
        if let (Some((water, dough)), Verb::Mix) = (asked.measured, step.verb) {
            let friction = mixing.factors().friction(dough, water);
            let heat = mixing.measured_mixing_heat(water, dough);
            out.notes.push(if heat.0 < 0.0 {
                "Your batch: the dough came out colder than its parts and the water together. Measure again, or say how cold flour, room and levain were.".to_owned()
            } else {
                format!(
                    "Your batch: friction factor {} for this mixer and dough; mixing heat {:.0} J per kg of dough. Put them into [mixer] of the kitchen file.",
                    friction.show(units),
                    heat.0
                )
            });
            out.measured = Some((friction, heat));
        }
        match setting.water_plan(&mixing, wanted) {
            Err(e) => out.notes.push(format!("{what}: {e}")),
            Ok(plan) => {
                out.notes.extend(plan.notes.iter().map(|n| format!("{what}: {}.", n.tell(units))));
                out.mixings.push(Mixing { what, wanted, water: mixing.water, plan });
            }
        }
    }
    Ok(out)
}

impl Water {
    /// The document.
    pub fn json(&self, recipe: &Recipe) -> Value {
        let mixings: Vec<Value> = self.mixings.iter().map(Mixing::json).collect();
        let measured = self
            .measured
            .map(|(friction, heat)| json!({ "friction": friction, "heat_j_per_kg": heat }));
        document(
            "water",
            json!({
                "title": recipe.title, "mixings": mixings, "measured": measured,
                "notes": self.notes,
            }),
        )
    }
}

impl Mixing {
    fn json(&self) -> Value {
        let plan = &self.plan;
        let pour = match plan.pour {
            Pour::Taps { cold, hot } => json!({ "cold": cold, "hot": hot }),
            Pour::Kettle { cold, boiling, at } => {
                json!({ "cold": cold, "boiling": boiling, "boils_at": at })
            }
            Pour::Ice { cold, ice, ice_trade } => {
                json!({ "cold": cold, "ice": ice, "ice_by_trade_rule": ice_trade })
            }
            Pour::Impossible => json!(null),
        };
        json!({
            "what": self.what, "dough": self.wanted, "water": self.water,
            "by_heat_balance": plan.balance, "by_trade_rule": plan.trade,
            "friction": plan.friction, "pour": pour,
        })
    }
}
