//! `plan` of several breads: one timeline for all that share hands, oven, fridge and starter.

use super::{days, moment, noted, request, said, told, watched};
use crate::args::PlanArgs;
use crate::fail::Failure;
use crate::plot::several;
use crate::verb::ferment::closing;
use crate::when::Clock;
use crate::{ics, input, out, table};
use document::clock::{day, time};
use document::plan::{
    Here, InOven, Table, Telling, Together, changes_words, in_order, none_found, plan_together,
    together,
};
use engine::caution::MANUALS;
use engine::fit::{Bread, Order};
use engine::kitchen::Kitchen;
use engine::method::Verb;
use engine::parameters::ParameterSet;
use engine::plan::{Joint, Plan, Several, why, why_joint};
use engine::recipe::Recipe;
use engine::run::Span;
use quantity::{Minutes, Units};
use std::fmt::Write as _;
use std::ops::Deref;

/// An oven that is needed again so soon is left on, minutes. Ours.
const STAYS_ON: f64 = 60.0;

/// How much sooner than asked a bread may be ready.
pub(super) fn early(args: &PlanArgs, breads: usize) -> Minutes {
    args.early.unwrap_or(document::plan::early(breads, args.ready.len() == 1))
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

/// Several breads on their way to paper.
struct Paper<'a> {
    table: Table<'a>,
    clock: &'a Clock,
}

impl<'a> Deref for Paper<'a> {
    type Target = Table<'a>;
    fn deref(&self) -> &Table<'a> {
        &self.table
    }
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
        let request = request(args, recipe, clock, ready, Some((b, n)))?;
        breads.push(Bread { order, request });
    }
    let baking = watched(|part| plan_together(&breads, part))?;
    let units: Units = args.out.units.into();
    let table = Table::new(&breads, &baking, early(args, n), units)?;
    let table = Paper { table, clock };
    let to = args.out.out.as_deref();
    let told = || {
        let telling = Telling { zone: clock.zone().iana_name(), units, recipes: false };
        let told = Together { kitchen, parameters: &set.name, outcome: &baking.outcome };
        table.json(told, telling)
    };
    let joints = match &baking.outcome {
        Several::Plans(joints) => joints,
        Several::Alone(b, none) => return Err(table.alone(*b, none).into()),
        Several::Apart(clash, outs) => {
            if args.out.json {
                out::json(&told()?, to)?;
            }
            return Err(table.apart(clash, outs).into());
        }
    };
    let Some(best) = joints.first() else { return Err(none_found().into()) };
    if args.ics {
        return out::bytes(table.calendar(best)?.as_bytes(), to);
    }
    if args.svg {
        return out::bytes(table.picture(best)?.as_bytes(), to);
    }
    if args.out.json {
        return out::json(&told()?, to);
    }
    let mut text = String::new();
    let shown = if args.all { joints.len() } else { 1 };
    for (k, joint) in joints[..shown].iter().enumerate() {
        if k > 0 {
            text.push('\n');
        }
        text += &table.text(joint, joints, kitchen)?;
    }
    for joint in &joints[shown..] {
        let line =
            format!("Or {} Show it with --all.", lower(&why_joint(joint, joints, &table.names())));
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
    together(n)?;
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

/// With a small first letter.
fn lower(s: &str) -> String {
    let mut c = s.chars();
    c.next().map_or(String::new(), |f| f.to_lowercase().chain(c).collect())
}

impl Paper<'_> {
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
                    let words = format!("{of}{}", self.left_on(here, plan, u.0));
                    out.push((u.2, said(setting, u.2, &words)));
                }
                None => out.push((span.from, told(setting, plan, oven, &span, &of, self.units))),
            }
        }
        let ready = plan.schedule.ready();
        out.push((ready, said(setting, ready, &format!("{of}bread."))));
        out
    }

    /// What is done instead of heating an oven that is hot from another bread.
    fn left_on(&self, here: &Here<'_>, plan: &Plan, before: usize) -> String {
        let knob = here.setting.loading_knob(plan.schedule.path);
        format!(
            "the oven is hot from {}: leave it on at {} until loading",
            self.titles[before],
            knob.show(self.units)
        )
    }

    fn calendar(&self, joint: &Joint) -> Result<String, Failure> {
        let uses = self.in_oven(joint)?;
        let mut ovens = Vec::new();
        for one in self.each(joint) {
            let (b, here, plan) = one?;
            let steps = &here.setting.recipe.method.steps;
            let mut spans = in_order(plan).into_iter();
            let preheat = spans.find(|s| steps[s.step].verb == Verb::Preheat);
            let hot = preheat.and_then(|s| Some((s.step, *hot_from(&uses, b, &s)?)));
            ovens.push((b, here, plan, here.oven(plan, self.units)?, hot));
        }
        let texts: Vec<Words<'_>> = ovens
            .iter()
            .map(|(b, here, plan, oven, hot)| {
                let text = move |i: usize| {
                    if let Some((_, u)) = hot.filter(|h| h.0 == i) {
                        let words = self.left_on(here, plan, u.0);
                        return (format!("{}: {words}", self.titles[*b]), String::new());
                    }
                    let (title, more) = noted(&here.setting, plan, oven, i, self.units);
                    (format!("{}: {title}", self.titles[*b]), more)
                };
                Box::new(text) as Words<'_>
            })
            .collect();
        let entries: Vec<ics::Entry<'_, '_>> = ovens
            .iter()
            .zip(&texts)
            .map(|((_, here, plan, _, hot), text)| {
                let moved = hot.map(|(step, u)| (step, u.2));
                ics::Entry { setting: &here.setting, plan, text, moved }
            })
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
