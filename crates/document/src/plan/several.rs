//! `plan` of several breads: one timeline for all that share hands, oven, fridge and starter.

use super::{Here, Telling, Ways, as_json, can_bake, conflict_words, none_found, refused, way_out};
use crate::clock::moment;
use crate::{Problem, document};
use engine::fit::{Baking, Bread, plan_several};
use engine::kitchen::Kitchen;
use engine::plan::together::{Clash, Overlap, Resource};
use engine::plan::{Joint, Nothing, Plan, Request, Several, WayOut, needs, why_joint};
use engine::progress::Part;
use engine::recipe::Recipe;
use quantity::{Minutes, Units};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Breads in one kitchen at most: six share one oven in a day, hardly more.
const MOST: usize = 6;

/// How much sooner than asked a bread may be ready, when nothing is said. Breads that share an
/// oven cannot all be ready at `one_time`.
pub fn early(breads: usize, one_time: bool) -> Minutes {
    let usual = Request::by(0.0).early;
    let together = if one_time { breads.saturating_sub(1) } else { 0 };
    usual + Minutes(120.0 * together as f64)
}

/// Refuses more breads than are planned together.
///
/// # Errors
/// [`Problem`] with how many there may be.
pub fn together(breads: usize) -> Result<(), Problem> {
    if breads <= MOST {
        return Ok(());
    }
    Err(Problem::wish(
        format!("{breads} breads are more than are planned together"),
        format!("plan {MOST} at most: make more pieces of one, or use two days"),
    ))
}

/// Plans for several breads in one kitchen.
///
/// # Errors
/// [`Problem`] naming the bread for which no plan can even be sought.
pub fn plan_together(breads: &[Bread<'_>], part: Part<'_>) -> Result<Baking, Problem> {
    let titles = titles(breads.iter().map(|b| b.order.recipe));
    for Bread { order, .. } in breads {
        let written = order.setting(order.recipe).map_err(Problem::plain)?;
        can_bake(&written).map_err(|e| e.of(&order.recipe.title))?;
    }
    plan_several(breads, part)
        .map_err(|(b, e)| refused(&e, &breads[b].order.calendar).of(&titles[b]))
}

/// Several breads, all of which can be kept.
#[derive(Debug, Clone)]
pub struct Table<'a> {
    /// Titles; batches of one recipe are counted.
    pub titles: Vec<String>,
    /// When each is asked, elapsed minutes.
    pub ready: Vec<f64>,
    /// Ways through each method.
    pub ways: Vec<Ways<'a>>,
    /// Units of sentences.
    pub units: Units,
    /// How much sooner than asked they may be ready.
    pub early: Minutes,
}

/// What came of planning several breads.
#[derive(Debug, Clone, Copy)]
pub struct Together<'t> {
    /// Where they are made.
    pub kitchen: &'t Kitchen,
    /// With which numbers.
    pub parameters: &'t str,
    /// What was found.
    pub outcome: &'t Several,
}

/// Titles; batches of one recipe are counted.
fn titles<'r>(recipes: impl Iterator<Item = &'r Recipe>) -> Vec<String> {
    let recipes: Vec<&Recipe> = recipes.collect();
    let same = |t: &str| recipes.iter().filter(|r| r.title == t).count();
    let before = |k: usize| recipes[..k].iter().filter(|r| r.title == recipes[k].title).count();
    let title = |k: usize, r: &Recipe| match same(&r.title) {
        1 => r.title.clone(),
        _ => format!("{}, batch {}", r.title, before(k) + 1),
    };
    recipes.iter().enumerate().map(|(k, r)| title(k, r)).collect()
}

impl<'a> Table<'a> {
    /// Of breads fitted to their oven.
    ///
    /// # Errors
    /// [`Problem`] when something cannot be mixed.
    pub fn new(
        breads: &'a [Bread<'a>],
        baking: &'a Baking,
        early: Minutes,
        units: Units,
    ) -> Result<Self, Problem> {
        let ways = breads.iter().zip(&baking.fitted).map(|(b, f)| Ways::new(&b.order, f));
        Ok(Self {
            titles: titles(breads.iter().map(|b| b.order.recipe)),
            ready: breads.iter().map(|b| b.request.ready).collect(),
            ways: ways.collect::<Result<_, Problem>>()?,
            units,
            early,
        })
    }

    /// Titles.
    pub fn names(&self) -> Vec<&str> {
        self.titles.iter().map(String::as_str).collect()
    }

    /// Each bread of a joint plan, with where and how it is made.
    ///
    /// # Errors
    /// [`Problem`] for plans of other breads.
    pub fn each<'t>(
        &'t self,
        joint: &'t Joint,
    ) -> impl Iterator<Item = Result<(usize, &'t Here<'t>, &'t Plan), Problem>> {
        joint.plans.iter().enumerate().map(|(b, plan)| Ok((b, self.ways[b].of(plan)?, plan)))
    }

    /// When each bread has the oven, in order: which, from loading, until it is free.
    ///
    /// # Errors
    /// [`Problem`] for plans of other breads.
    pub fn in_oven(&self, joint: &Joint) -> Result<Vec<(usize, f64, f64)>, Problem> {
        let mut uses = Vec::new();
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            let oven = needs(&here.setting, &plan.schedule, Minutes(0.0)).oven;
            uses.extend(oven.iter().map(|o| (b, f64::from(o.load), f64::from(o.until))));
        }
        uses.sort_by(|a, b| a.1.total_cmp(&b.1));
        Ok(uses)
    }

    /// Any way of any bread: kitchen and calendar are the same for all.
    ///
    /// # Errors
    /// [`Problem`] when there is none.
    pub fn any(&self) -> Result<&Here<'_>, Problem> {
        let first = self.ways.first().and_then(|w| w.0.first());
        first.ok_or_else(|| Problem::plain("no way through the method"))
    }

    /// The document.
    ///
    /// # Errors
    /// [`Problem`] when something cannot be mixed, or one bread cannot be had even by itself.
    pub fn json(&self, told: Together<'_>, telling: Telling<'_>) -> Result<Value, Problem> {
        let joints = match told.outcome {
            Several::Plans(joints) if joints.is_empty() => return Err(none_found()),
            Several::Plans(joints) => joints,
            Several::Alone(b, none) => return Err(self.alone(*b, none)),
            Several::Apart(clash, outs) => {
                let body = self.apart_json(clash, outs, told.kitchen, telling)?;
                return Ok(document("plan", body));
            }
        };
        let all = joints.iter().map(|j| self.joint_json(j, joints, telling));
        let all: Vec<Value> = all.collect::<Result<_, _>>()?;
        let body = json!({
            "kitchen": told.kitchen.name, "parameters": told.parameters,
            "now": self.any()?.setting.calendar.start.to_string(), "zone": telling.zone,
            "breads": self.breads_json(), "joint_plans": all,
        });
        Ok(document("plan", body))
    }

    fn breads_json(&self) -> Value {
        let one = self.titles.iter().zip(&self.ready);
        one.map(|(title, ready)| json!({ "title": title, "ready_by": ready })).collect()
    }

    fn joint_json(
        &self,
        joint: &Joint,
        all: &[Joint],
        telling: Telling<'_>,
    ) -> Result<Value, Problem> {
        let mut plans = Vec::new();
        for one in self.each(joint) {
            let (b, _, plan) = one?;
            plans.push(as_json(&self.ways[b], plan, &[], telling)?);
        }
        let uses: Vec<Value> = self
            .in_oven(joint)?
            .iter()
            .map(|(b, from, to)| json!({ "bread": b + 1, "from": from, "to": to }))
            .collect();
        Ok(json!({
            "aims": joint.aims.iter().map(|a| a.name()).collect::<Vec<_>>(),
            "why": why_joint(joint, all, &self.names()),
            "cost": joint.cost, "cost_alone": joint.alone, "cheaper_by_at_most": joint.gap,
            "in_oven": uses, "plans": plans,
        }))
    }

    /// One bread that cannot be had even by itself.
    pub fn alone(&self, b: usize, none: &Nothing) -> Problem {
        let mut message = format!(
            "no plan has {} ready by {} even by itself",
            self.titles[b],
            self.any().map_or(String::new(), |h| moment(&h.setting.calendar, self.ready[b]))
        );
        if !none.conflict.is_empty() {
            let _ = write!(message, ": {} cannot all be kept", conflict_words(none));
        }
        let told: Vec<String> = none
            .remedies
            .iter()
            .filter_map(|r| Some(way_out(&self.ways[b].of(&r.plan).ok()?.setting, r, self.units)))
            .collect();
        let hint = match told.as_slice() {
            [] => "ask for a later time, or widen the steps of the recipe".to_owned(),
            [one] => one.clone(),
            many => format!("one of these would do:\n  {}", many.join("\n  ")),
        };
        Problem::wish(message, hint)
    }

    /// They cannot be had together: over what, and what would do.
    pub fn apart(&self, clash: &Clash, outs: &[WayOut]) -> Problem {
        let names: Vec<&str> = clash.breads.iter().map(|&b| self.titles[b].as_str()).collect();
        let mut message = format!("{} cannot be had together", list(&names));
        for r in clash.reliefs.iter().take(1) {
            let told: Vec<String> = r.overlaps.iter().map(|o| self.overlap(o)).collect();
            let _ = write!(message, ": {}", told.join("; "));
        }
        let mut hints: Vec<String> = outs.iter().map(|o| self.way_out(o)).collect();
        if hints.is_empty() {
            hints.push("ask for them at times further apart, or leave one out".to_owned());
        }
        let hint = match hints.as_slice() {
            [one] => one.clone(),
            many => format!("one of these would do:\n  {}", many.join("\n  ")),
        };
        Problem::wish(message, hint)
    }

    fn overlap(&self, o: &Overlap) -> String {
        let names: Vec<&str> = o.breads.iter().map(|&b| self.titles[b].as_str()).collect();
        let all = if names.len() == 2 { "both want" } else { "all want" };
        let what = match o.resource {
            Resource::Hands => "your hands",
            Resource::Oven => "the oven",
            Resource::Fridge => "more of the fridge than there is",
            Resource::Bannetons => "more bannetons than there are",
            Resource::Starter => "more starter than you keep",
        };
        let at = |m: i32| {
            self.any().map_or(String::new(), |h| moment(&h.setting.calendar, f64::from(m)))
        };
        let when = match o.resource {
            Resource::Starter => String::new(),
            _ => format!(" from {} to {}", at(o.at.0), at(o.at.1)),
        };
        format!("{} {all} {what}{when} at their best", list(&names))
    }

    fn way_out(&self, out: &WayOut) -> String {
        match out {
            WayOut::Sooner(by) => {
                format!("let bread be up to {} early", (self.early + *by).show())
            }
            WayOut::Later(b, by) => {
                let at = self
                    .any()
                    .map_or(String::new(), |h| moment(&h.setting.calendar, self.ready[*b] + by.0));
                format!("ask {} for {at}", self.titles[*b])
            }
        }
    }

    fn apart_json(
        &self,
        clash: &Clash,
        outs: &[WayOut],
        kitchen: &Kitchen,
        telling: Telling<'_>,
    ) -> Result<Value, Problem> {
        let overlaps = clash.reliefs.first().map(|r| {
            let one = r.overlaps.iter().map(|o| {
                json!({
                    "of": o.resource, "breads": o.breads.iter().map(|b| b + 1).collect::<Vec<_>>(),
                    "from": o.at.0, "to": o.at.1, "words": self.overlap(o),
                })
            });
            one.collect::<Vec<_>>()
        });
        let outs: Vec<Value> = outs
            .iter()
            .map(|o| match o {
                WayOut::Sooner(by) => json!({ "sooner": by }),
                WayOut::Later(b, by) => json!({ "bread": b + 1, "later": by }),
            })
            .collect();
        Ok(json!({
            "kitchen": kitchen.name, "now": self.any()?.setting.calendar.start.to_string(),
            "zone": telling.zone, "breads": self.breads_json(),
            "joint_plans": [], "clash": {
                "breads": clash.breads.iter().map(|b| b + 1).collect::<Vec<_>>(),
                "overlaps": overlaps, "ways_out": outs,
            },
        }))
    }
}

fn list(names: &[&str]) -> String {
    match names {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.concat(),
    }
}
