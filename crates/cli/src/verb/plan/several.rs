//! `plan` of several breads: one timeline for all that share hands, oven, fridge and starter.

use super::{
    Here, InOven, Ways, as_json, changes_words, conflict_words, day, days, in_order, moment, noted,
    refused, request, said, told, watched, way_out,
};
use crate::args::PlanArgs;
use crate::fail::Failure;
use crate::plot::several;
use crate::verb::document;
use crate::verb::ferment::closing;
use crate::when::{Clock, time};
use crate::{ics, input, out, table};
use engine::caution::MANUALS;
use engine::fit::{Baking, Bread, Order, plan_several};
use engine::kitchen::Kitchen;
use engine::method::Verb;
use engine::parameters::ParameterSet;
use engine::plan::together::{Clash, Overlap, Resource};
use engine::plan::{Joint, Nothing, Plan, Request, Several, WayOut, needs, why, why_joint};
use engine::recipe::Recipe;
use engine::run::Span;
use quantity::{Minutes, Units};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Breads in one kitchen at most: six share one oven in a day, hardly more.
const MOST: usize = 6;

/// An oven that is needed again so soon is left on, minutes. Ours.
const STAYS_ON: f64 = 60.0;

/// How much sooner than asked a bread may be ready. Breads that share an oven cannot all be ready
/// at one time.
pub(super) fn early(args: &PlanArgs, breads: usize) -> Minutes {
    let usual = Request::by(0.0).early;
    let together = if args.ready.len() == 1 { breads.saturating_sub(1) } else { 0 };
    args.early.unwrap_or(usual + Minutes(120.0 * together as f64))
}

/// Which bread a pinned step is of, and the step.
pub(super) fn pinned(step: &str, of: usize) -> Result<(usize, &str), Failure> {
    let split = step.split_once(':').and_then(|(b, s)| Some((b.trim().parse::<usize>().ok()?, s)));
    match split {
        Some((bread, step)) if (1..=of).contains(&bread) => Ok((bread - 1, step.trim())),
        _ => Err(Failure::wish(
            format!("--pin: \"{step}\" does not say of which bread"),
            format!("put the place of the bread before it, from 1 to {of}: \"2:divide=Sat 9:00\""),
        )),
    }
}

/// Several breads, all of which can be kept.
struct Table<'a> {
    titles: Vec<String>,
    ready: Vec<f64>,
    ways: Vec<Ways<'a>>,
    clock: &'a Clock,
    units: Units,
}

pub(super) fn run(
    args: &PlanArgs,
    kitchen: &Kitchen,
    clock: &Clock,
    set: &'static ParameterSet,
) -> Result<(), Failure> {
    suits(args)?;
    let recipes: Vec<Recipe> =
        args.recipes.iter().map(|file| input::recipe(file)).collect::<Result<_, _>>()?;
    let n = recipes.len();
    let mut breads: Vec<Bread<'_>> = Vec::new();
    for (b, recipe) in recipes.iter().enumerate() {
        let ready = clock.parse(&args.ready[if args.ready.len() == 1 { 0 } else { b }])?;
        let total_flour = input::total_flour(&args.batch, recipe, kitchen)?;
        let order = Order { recipe, kitchen, set, total_flour, calendar: clock.calendar() };
        let written = order.setting(recipe).map_err(Failure::plain)?;
        for path in recipe.method.paths() {
            super::fits_the_oven(&written, path).map_err(|e| e.of(&recipe.title))?;
        }
        let request = request(args, recipe, clock, ready, Some((b, n)))?;
        breads.push(Bread { order, request });
    }
    let titles = titles(&recipes);
    let baking = watched(|part| plan_several(&breads, part))
        .map_err(|(b, e)| refused(&e, clock).of(&titles[b]))?;
    let Baking { fitted, outcome } = baking;
    let mut ways: Vec<Ways<'_>> = Vec::new();
    for (bread, fitted) in breads.iter().zip(&fitted) {
        let here = fitted.ways.iter().map(|way| {
            let setting = bread.order.setting(&way.recipe).map_err(Failure::plain)?;
            Ok(Here { way, setting })
        });
        ways.push(Ways(here.collect::<Result<_, Failure>>()?));
    }
    let ready: Vec<f64> = breads.iter().map(|b| b.request.ready).collect();
    let table = Table { titles, ready, ways, clock, units: args.out.units.into() };
    let to = args.out.out.as_deref();
    let joints = match outcome {
        Several::Plans(joints) => joints,
        Several::Alone(b, none) => return Err(table.alone(b, &none)),
        Several::Apart(clash, outs) => {
            if args.out.json {
                let body = table.apart_json(&clash, &outs, kitchen);
                out::json(&document("plan", body), to)?;
            }
            return Err(table.apart(&clash, &outs, args));
        }
    };
    let Some(best) = joints.first() else { return Err(Failure::plain("no plan was found")) };
    if args.ics {
        return out::bytes(table.calendar(best)?.as_bytes(), to);
    }
    if args.svg {
        return out::bytes(table.picture(best)?.as_bytes(), to);
    }
    if args.out.json {
        let all: Vec<Value> =
            joints.iter().map(|j| table.json(j, &joints)).collect::<Result<_, _>>()?;
        let body = json!({
            "kitchen": kitchen.name, "parameters": set.name,
            "now": clock.now.datetime().to_string(), "zone": clock.zone().iana_name(),
            "breads": table.breads_json(), "joint_plans": all,
        });
        return out::json(&document("plan", body), to);
    }
    let mut text = String::new();
    let shown = if args.all { joints.len() } else { 1 };
    for (k, joint) in joints[..shown].iter().enumerate() {
        if k > 0 {
            text.push('\n');
        }
        text += &table.text(joint, &joints, kitchen)?;
    }
    for joint in &joints[shown..] {
        let line =
            format!("Or {} Show it with --all.", lower(&why_joint(joint, &joints, &table.names())));
        let _ = writeln!(text, "\n{}", table::wrapped(&line, 0, 0));
    }
    if let Some(last) = best.plans.last() {
        text += &closing(&last.trace, table.units);
    }
    let _ = writeln!(text, "{}", table::dim(&table::wrapped(MANUALS, 0, 0)));
    out::text(&text, to)
}

/// Whether what is asked can be asked of several breads.
fn suits(args: &PlanArgs) -> Result<(), Failure> {
    let n = args.recipes.len();
    if args.ready.len() != 1 && args.ready.len() != n {
        let breads = if n == 1 { "1 bread".to_owned() } else { format!("{n} breads") };
        return Err(Failure::wish(
            format!("--ready is given {} times for {breads}", args.ready.len()),
            "give it once for all breads, or once for each, in the order of the recipes",
        ));
    }
    if n > MOST {
        return Err(Failure::wish(
            format!("{n} breads are more than are planned together"),
            format!("plan {MOST} at most: make more pieces of one, or use two days"),
        ));
    }
    if args.recipes.iter().filter(|r| r.as_os_str() == "-").count() > 1 {
        return Err(Failure::wish(
            "standard input is asked for twice",
            "save the recipe to a file",
        ));
    }
    let one =
        [(args.csv, "--csv"), (args.as_written, "--as-written"), (args.from.is_some(), "--from")];
    match one.iter().find(|o| o.0) {
        Some((_, name)) => Err(Failure::wish(
            format!("{name} is for one bread"),
            "plan each bread by itself for that",
        )),
        None => Ok(()),
    }
}

/// Titles; batches of one recipe are counted.
fn titles(recipes: &[Recipe]) -> Vec<String> {
    let same = |t: &str| recipes.iter().filter(|r| r.title == t).count();
    let before = |k: usize| recipes[..k].iter().filter(|r| r.title == recipes[k].title).count();
    let title = |k: usize, r: &Recipe| match same(&r.title) {
        1 => r.title.clone(),
        _ => format!("{}, batch {}", r.title, before(k) + 1),
    };
    recipes.iter().enumerate().map(|(k, r)| title(k, r)).collect()
}

/// With a small first letter.
fn lower(s: &str) -> String {
    let mut c = s.chars();
    c.next().map_or(String::new(), |f| f.to_lowercase().chain(c).collect())
}

impl Table<'_> {
    fn names(&self) -> Vec<&str> {
        self.titles.iter().map(String::as_str).collect()
    }

    /// Each bread of a joint plan, with where and how it is made.
    fn each<'t>(
        &'t self,
        joint: &'t Joint,
    ) -> impl Iterator<Item = Result<(usize, &'t Here<'t>, &'t Plan), Failure>> {
        joint.plans.iter().enumerate().map(|(b, plan)| Ok((b, self.ways[b].of(plan)?, plan)))
    }

    /// When each bread has the oven, in order: which, from loading, until it is free.
    fn in_oven(&self, joint: &Joint) -> Result<Vec<(usize, f64, f64)>, Failure> {
        let mut uses = Vec::new();
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            let oven = needs(&here.setting, &plan.schedule, Minutes(0.0)).oven;
            uses.extend(oven.iter().map(|o| (b, f64::from(o.load), f64::from(o.until))));
        }
        uses.sort_by(|a, b| a.1.total_cmp(&b.1));
        Ok(uses)
    }

    fn text(&self, joint: &Joint, all: &[Joint], kitchen: &Kitchen) -> Result<String, Failure> {
        let units = self.units;
        let any = &self.any()?.setting;
        let uses = self.in_oven(joint)?;
        let mut text = format!(
            "{}\n",
            table::bold(&format!("{} breads in {}", self.titles.len(), kitchen.name))
        );
        let mut moments: Vec<(f64, String)> = Vec::new();
        let mut notes = String::new();
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            let (setting, title) = (&here.setting, &self.titles[b]);
            let what = format!("{title}: {}", self.what(b, here, plan));
            let _ = writeln!(text, "{}", table::dim(&table::wrapped(&what, 0, 2)));
            let oven = here.oven(plan, units)?;
            moments.extend(self.moments(here, plan, b, &oven, &uses));
            let _ = writeln!(notes, "\n{}", table::bold(title));
            let risk = why(plan, std::slice::from_ref(plan), setting);
            let _ = writeln!(notes, "{}", table::wrapped(&risk, 0, 0));
            let picked = here.way.pick.words(setting.recipe, units);
            if !picked.is_empty() {
                let line = format!("Chosen of what the recipe leaves open: {}.", picked.join("; "));
                let _ = writeln!(notes, "{}", table::wrapped(&line, 0, 0));
            }
            let words = oven.words.iter().filter(|w| !changes_words(here.way).contains(w));
            for line in changes_words(here.way).iter().chain(words) {
                let _ = writeln!(notes, "{}", table::wrapped(line, 0, 0));
            }
        }
        moments.sort_by(|a, b| a.0.total_cmp(&b.0));
        text += &days(any, moments.into_iter());
        let _ = writeln!(text, "\n{}", table::bold(&joint_aims(joint)));
        let _ = writeln!(text, "{}", table::wrapped(&why_joint(joint, all, &self.names()), 0, 0));
        let clock = |m: f64| time(any.calendar.local(m as i64));
        let turns: Vec<String> = uses
            .iter()
            .map(|(b, from, to)| {
                let when = day(any.calendar.local(*from as i64));
                format!("{} {when} {} to {}", self.titles[*b], clock(*from), clock(*to))
            })
            .collect();
        let line = format!("In the oven: {}.", turns.join("; "));
        let _ = writeln!(text, "{}", table::wrapped(&line, 0, 0));
        Ok(text + &notes)
    }

    /// What is told of one bread, each with its moment.
    fn moments(
        &self,
        here: &Here<'_>,
        plan: &Plan,
        bread: usize,
        oven: &InOven,
        uses: &[(usize, f64, f64)],
    ) -> Vec<(f64, String)> {
        let setting = &here.setting;
        let of = format!("{}: ", self.titles[bread]);
        let mut out = Vec::new();
        for span in in_order(plan) {
            let step = &setting.recipe.method.steps[span.step];
            match hot_from(uses, bread, &span).filter(|_| step.verb == Verb::Preheat) {
                Some(u) => {
                    let knob = setting.loading_knob(plan.schedule.path);
                    let words = format!(
                        "{of}the oven is hot from {}: leave it on at {} until loading",
                        self.titles[u.0],
                        knob.show(self.units)
                    );
                    out.push((u.2, said(setting, u.2, &words)));
                }
                None => out.push((span.from, told(setting, plan, oven, &span, &of, self.units))),
            }
        }
        let ready = plan.schedule.ready();
        out.push((ready, said(setting, ready, &format!("{of}bread."))));
        out
    }

    fn any(&self) -> Result<&Here<'_>, Failure> {
        let first = self.ways.first().and_then(|w| w.0.first());
        first.ok_or_else(|| Failure::plain("no way through the method"))
    }

    fn calendar(&self, joint: &Joint) -> Result<String, Failure> {
        let mut ovens = Vec::new();
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            ovens.push((b, here, plan, here.oven(plan, self.units)?));
        }
        let texts: Vec<Words<'_>> = ovens
            .iter()
            .map(|(b, here, plan, oven)| {
                let text = move |i: usize| {
                    let (title, more) = noted(&here.setting, plan, oven, i, self.units);
                    (format!("{}: {title}", self.titles[*b]), more)
                };
                Box::new(text) as Words<'_>
            })
            .collect();
        let entries: Vec<ics::Entry<'_, '_>> = ovens
            .iter()
            .zip(&texts)
            .map(|((_, here, plan, _), text)| ics::Entry { setting: &here.setting, plan, text })
            .collect();
        Ok(ics::calendar(&entries, self.clock.zone(), self.clock.timestamp()))
    }

    fn picture(&self, joint: &Joint) -> Result<String, Failure> {
        let uses = self.in_oven(joint)?;
        let (mut breads, mut turns) = (Vec::new(), Vec::new());
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            breads.push(several::Bread {
                title: &self.titles[b],
                what: self.what(b, here, plan),
                setting: &here.setting,
                plan,
            });
            turns.extend(turn(b, here, plan, &uses));
        }
        let begins = |t: &several::Turn| t.loads.first().map_or(f64::INFINITY, |l| l.0);
        turns.sort_by(|a, b| begins(a).total_cmp(&begins(b)));
        Ok(several::draw(&breads, &turns, self.units))
    }

    /// What comes of a bread, and when.
    fn what(&self, b: usize, here: &Here<'_>, plan: &Plan) -> String {
        let setting = &here.setting;
        let y = &setting.recipe.yields;
        format!(
            "{} of {}, ready {} (asked by {}) · {}",
            y.shape.counted(setting.pieces()),
            y.piece.show(self.units),
            moment(setting, plan.schedule.ready()),
            moment(setting, self.ready[b]),
            engine::plan::path_words(plan.schedule.path, setting)
        )
    }

    fn breads_json(&self) -> Value {
        let one = self.titles.iter().zip(&self.ready);
        one.map(|(title, ready)| json!({ "title": title, "ready_by": ready })).collect()
    }

    fn json(&self, joint: &Joint, all: &[Joint]) -> Result<Value, Failure> {
        let mut plans = Vec::new();
        for one in self.each(joint) {
            let (b, _, plan) = one?;
            plans.push(as_json(&self.ways[b], plan, &[], self.units)?);
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
    fn alone(&self, b: usize, none: &Nothing) -> Failure {
        let mut message = format!(
            "no plan has {} ready by {} even by itself",
            self.titles[b],
            self.any().map_or(String::new(), |h| moment(&h.setting, self.ready[b]))
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
        Failure::wish(message, hint)
    }

    fn apart(&self, clash: &Clash, outs: &[WayOut], args: &PlanArgs) -> Failure {
        let names: Vec<&str> = clash.breads.iter().map(|&b| self.titles[b].as_str()).collect();
        let mut message = format!("{} cannot be had together", list(&names));
        for r in clash.reliefs.iter().take(1) {
            let told: Vec<String> = r.overlaps.iter().map(|o| self.overlap(o)).collect();
            let _ = write!(message, ": {}", told.join("; "));
        }
        let mut hints: Vec<String> = outs.iter().map(|o| self.way_out(o, args)).collect();
        if hints.is_empty() {
            hints.push("ask for them at times further apart, or leave one out".to_owned());
        }
        let hint = match hints.as_slice() {
            [one] => one.clone(),
            many => format!("one of these would do:\n  {}", many.join("\n  ")),
        };
        Failure::wish(message, hint)
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
        let at = |m: i32| self.any().map_or(String::new(), |h| moment(&h.setting, f64::from(m)));
        let when = match o.resource {
            Resource::Starter => String::new(),
            _ => format!(" from {} to {}", at(o.at.0), at(o.at.1)),
        };
        format!("{} {all} {what}{when} at their best", list(&names))
    }

    fn way_out(&self, out: &WayOut, args: &PlanArgs) -> String {
        match out {
            WayOut::Sooner(by) => {
                let early = early(args, self.titles.len()) + *by;
                format!(
                    "let bread be ready up to {} before it is asked: --early \"{}\"",
                    early.show(),
                    early.write()
                )
            }
            WayOut::Later(b, by) => {
                let at =
                    self.any().map_or(String::new(), |h| moment(&h.setting, self.ready[*b] + by.0));
                format!("ask {} for {at}", self.titles[*b])
            }
        }
    }

    fn apart_json(&self, clash: &Clash, outs: &[WayOut], kitchen: &Kitchen) -> Value {
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
        json!({
            "kitchen": kitchen.name, "now": self.clock.now.datetime().to_string(),
            "zone": self.clock.zone().iana_name(), "breads": self.breads_json(),
            "joint_plans": [], "clash": {
                "breads": clash.breads.iter().map(|b| b + 1).collect::<Vec<_>>(),
                "overlaps": overlaps, "ways_out": outs,
            },
        })
    }
}

/// The bread before, when the oven is still hot from it where another one's preheat would begin:
/// which, from loading, until it is free.
fn hot_from<'u>(
    uses: &'u [(usize, f64, f64)],
    bread: usize,
    preheat: &Span,
) -> Option<&'u (usize, f64, f64)> {
    uses.iter()
        .filter(|u| u.0 != bread && u.1 <= preheat.to && u.2 + STAYS_ON > preheat.from)
        .max_by(|a, b| a.2.total_cmp(&b.2))
}

/// A bread's turn in the oven; none for one that is never loaded.
fn turn(
    bread: usize,
    here: &Here<'_>,
    plan: &Plan,
    uses: &[(usize, f64, f64)],
) -> Option<several::Turn> {
    let (mut loads, mut reheats, mut heats, mut hot) = (Vec::new(), Vec::new(), None, false);
    for span in in_order(plan) {
        let moment = (span.from, span.to);
        match here.setting.recipe.method.steps[span.step].verb {
            Verb::Preheat => {
                let before = hot_from(uses, bread, &span);
                hot = before.is_some();
                heats = Some((before.map_or(span.from, |u| u.2), span.to));
            }
            Verb::Load => loads.push(moment),
            Verb::Reheat => reheats.push(moment),
            Verb::Cool => {}
            verb if verb.in_oven() => {
                if let Some(load) = loads.last_mut() {
                    load.1 = load.1.max(span.to);
                }
            }
            _ => {}
        }
    }
    (!loads.is_empty()).then_some(several::Turn { bread, heats, hot, loads, reheats })
}

/// Summary and description of a step.
type Words<'w> = Box<dyn Fn(usize) -> (String, String) + 'w>;

fn joint_aims(joint: &Joint) -> String {
    joint.aims.iter().map(|a| a.name()).collect::<Vec<_>>().join(" and ")
}

fn list(names: &[&str]) -> String {
    match names {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.concat(),
    }
}
