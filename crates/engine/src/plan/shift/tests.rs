use super::*;
use crate::file::{read_kitchen, read_recipe};
use crate::fit::{Fitted, Order, plan_in_oven};
use crate::formula::Scale;
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
use crate::parameters::ParameterSet;
use crate::plan::{Outcome, Plan, Request};
use crate::progress::Part;
use crate::recipe::Recipe;
use jiff::civil::datetime;
use proptest::prelude::*;
use std::sync::OnceLock;

const RECIPES: [&str; 4] = [
    include_str!("../../../../../examples/ferry-lane/recipes/tidewater-batard.toml"),
    include_str!("../../../../../examples/ferry-lane/recipes/slipway-rye.toml"),
    include_str!("../../../../../examples/ferry-lane/recipes/reedbed-seeded-boule.toml"),
    include_str!("../../../../../examples/ferry-lane/recipes/millpond-milk-loaf.toml"),
];
const FLAT: &str = include_str!("../../../../../examples/ferry-lane/kitchens/cold-flat.toml");
/// Saturday 18:00 from Thursday 18:00.
const READY: f64 = 48.0 * 60.0;

/// Plans of every recipe, with what they were planned from.
struct Scene {
    kitchen: Kitchen,
    planned: Vec<(Recipe, Fitted, Vec<Plan>)>,
}

fn order<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Order<'a> {
    let scale = Scale::Pieces(recipe.yields.pieces);
    let total_flour = scale.total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
    Order { recipe, kitchen, set: ParameterSet::default_set(), total_flour, calendar }
}

fn scene() -> &'static Scene {
    static SCENE: OnceLock<Scene> = OnceLock::new();
    SCENE.get_or_init(|| {
        let kitchen = read_kitchen(FLAT).unwrap();
        let planned = RECIPES.map(|text| {
            let recipe = read_recipe(text).unwrap();
            let request = Request { kitchens: 8, ..Request::by(READY) };
            let order = order(&recipe, &kitchen);
            let (fitted, outcome) = plan_in_oven(&order, &request, None, Part::UNTOLD).unwrap();
            let plans = match outcome {
                Outcome::Plans(plans) => plans,
                Outcome::Nothing(_) => Vec::new(),
            };
            (recipe, fitted, plans)
        });
        Scene { kitchen, planned: planned.into_iter().collect() }
    })
}

/// Every plan with its setting.
fn each(mut ask: impl FnMut(&Setting<'_>, &Plan)) {
    let scene = scene();
    let mut asked = 0;
    for (recipe, fitted, plans) in &scene.planned {
        for plan in plans {
            let order = order(recipe, &scene.kitchen);
            ask(&order.setting(&fitted.ways[plan.way].recipe).unwrap(), plan);
            asked += 1;
        }
    }
    assert!(asked > 4, "{asked}");
}

/// What breaks a hard limit, where a schedule is another than before.
fn broken(setting: &Setting<'_>, was: &Schedule, is: &Schedule, ready: f64) -> Vec<String> {
    let mut out = Vec::new();
    let steps = &setting.recipe.method.steps;
    let hands = hands_until(setting, was, ready);
    let table = Table::of(setting, is, ready);
    let Ok(table) = table else { return vec!["no schedule".into()] };
    if is.ready() > ready + 1e-6 {
        out.push(format!("late: {}", is.ready()));
    }
    for s in &is.spans {
        let (step, before) = (&steps[s.step], was.of(s.step).unwrap());
        let (lasts, lasted) = (s.to - s.from, before.to - before.from);
        if step.verb != Verb::Preheat {
            let fixed = matches!(step.end, End::After(_));
            let (lo, hi) =
                if fixed { (lasted, lasted) } else { (step.end.least().0, step.end.most().0) };
            if lasts < lo - 1e-5 || lasts > hi + 1e-5 {
                out.push(format!("{} lasts {lasts}, not {lo} to {hi}", step.words()));
            }
        } else if lasts < usual(step).0 - 1e-5 {
            out.push(format!("preheat lasts {lasts}"));
        }
        if s.from != before.from && (s.from < 0.0 || hands.blocked_in(s.from, step.hands_on) > 0) {
            out.push(format!("{} at {}: no hands", step.words(), s.from));
        }
    }
    for (l, line) in table.lines.iter().enumerate() {
        for (k, &i) in line.steps.iter().enumerate() {
            let to = is.of(i).unwrap().to;
            if (to - line.at[k + 1]).abs() > 1e-6 {
                out.push(format!(
                    "line {l}: {} ends at {to}, not {}",
                    steps[i].words(),
                    line.at[k + 1]
                ));
            }
        }
    }
    if let Some(p) = table.preheat {
        let load = is.spans.iter().filter(|s| steps[s.step].verb == Verb::Load);
        let load = load.map(|s| s.from).fold(f64::INFINITY, f64::min);
        if (p.to - load).abs() > 1e-6 {
            out.push(format!("hot at {}, loaded at {load}", p.to));
        }
    }
    out
}

#[test]
fn moving_nothing_changes_nothing() {
    each(|setting, plan| {
        for s in &plan.schedule.spans {
            let step = &setting.recipe.method.steps[s.step];
            if step.verb == Verb::Preheat {
                continue;
            }
            for (edge, at) in [(Edge::Begin, s.from), (Edge::End, s.to)] {
                let change = Change { step: s.step, edge, at };
                let again = shifted(setting, &plan.schedule, change, READY).unwrap();
                assert_eq!(again, plan.schedule, "{}", step.words());
            }
        }
    });
}

/// Within its slack a step can be moved: what it waits for stays good, and all that was good after
/// it, but for a few moves after which hours leave a later step no good end.
#[test]
fn moving_within_slack_keeps_all_windows() {
    let misses = |setting: &Setting<'_>, schedule: &Schedule| -> Vec<usize> {
        let trace = setting.run(schedule, Minutes(15.0)).unwrap();
        let missed = |s: &&Span| {
            let step = &setting.recipe.method.steps[s.step];
            let Some((w, r)) = step.good.zip(trace.result_of(s.step)) else { return false };
            let x = match w {
                crate::method::Window::Rise(..) => r.rise.0,
                crate::method::Window::Acid(..) => r.ph.0,
                crate::method::Window::Core(..) => r.core.0,
            };
            w.miss(x).abs() > 1.0 + 1e-6
        };
        schedule.spans.iter().filter(missed).map(|s| s.step).collect()
    };
    let (mut tried, mut refused, mut lost) = (0, 0, 0);
    each(|setting, plan| {
        let table = Table::of(setting, &plan.schedule, READY).unwrap();
        let before = misses(setting, &plan.schedule);
        for &(step, from, to) in &plan.slack {
            for at in [from, f64::midpoint(from, to).round(), to] {
                let change = Change { step, edge: Edge::Begin, at };
                tried += 1;
                match shifted(setting, &plan.schedule, change, READY) {
                    Ok(moved) => {
                        let after = misses(setting, &moved);
                        let new: Vec<_> = after.iter().filter(|s| !before.contains(s)).collect();
                        lost += usize::from(!new.is_empty());
                        let (l, k) = table.place(step).unwrap();
                        let waited = table.lines[l].steps[k.saturating_sub(1)];
                        assert!(!new.contains(&&waited), "{step} to {at}: {new:?}");
                        assert_eq!(
                            broken(setting, &plan.schedule, &moved, READY),
                            Vec::<String>::new()
                        );
                    }
                    // slack knows the result and the hands of this step, not of those after it
                    Err(NotMoved::Refused { .. }) => refused += 1,
                    Err(e) => panic!("{e:?}"),
                }
            }
        }
    });
    assert!(tried > 20 && refused * 4 < tried, "{refused} of {tried} refused");
    assert!(lost * 10 < tried, "{lost} of {tried} lost a window");
}

#[test]
fn a_refused_move_says_why_and_what_would_do() {
    let mut refused = 0;
    each(|setting, plan| {
        for s in &plan.schedule.spans {
            for by in [-2000.0, -400.0, -95.0, 95.0, 400.0, 2000.0] {
                let change = Change { step: s.step, edge: Edge::Begin, at: s.from + by };
                let Err(NotMoved::Refused { limit, nearest }) =
                    shifted(setting, &plan.schedule, change, READY)
                else {
                    continue;
                };
                refused += 1;
                assert!(!limit.words(setting).is_empty());
                let asked = Change { at: nearest, ..change };
                let done = shifted(setting, &plan.schedule, asked, READY);
                assert!(done.is_ok(), "{} {by}: {limit:?} {nearest} {done:?}", s.step);
            }
        }
    });
    assert!(refused > 50, "{refused}");
}

#[test]
fn odd_questions_are_refused() {
    each(|setting, plan| {
        let ask = |schedule: &Schedule, step, at| {
            shifted(setting, schedule, Change { step, edge: Edge::Begin, at }, READY)
        };
        assert_eq!(ask(&plan.schedule, 999, 0.0), Err(NotMoved::Odd));
        assert_eq!(ask(&plan.schedule, 0, f64::NAN), Err(NotMoved::Odd));
        let mut less = plan.schedule.clone();
        less.spans.remove(0);
        assert_eq!(ask(&less, plan.schedule.spans[1].step, 100.0), Err(NotMoved::Odd));
    });
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn a_moved_schedule_breaks_no_hard_limit(
        recipe in 0usize..4, plan in 0usize..3, step in 0usize..30, by in -700.0..700.0f64,
        end: bool, whole: bool, twice in -90.0..90.0f64,
    ) {
        let scene = scene();
        let (recipe, fitted, plans) = &scene.planned[recipe];
        let Some(plan) = plans.get(plan) else { return Ok(()) };
        let order = order(recipe, &scene.kitchen);
        let setting = order.setting(&fitted.ways[plan.way].recipe).unwrap();
        let mut schedule = plan.schedule.clone();
        for by in [by, twice] {
            let Some(span) = schedule.spans.get(step % schedule.spans.len()).copied() else {
                return Ok(());
            };
            let by = if whole { by.round() } else { by };
            let (edge, at) = if end { (Edge::End, span.to + by) } else { (Edge::Begin, span.from + by) };
            let change = Change { step: span.step, edge, at };
            let mut done = shifted(&setting, &schedule, change, READY);
            if let Err(NotMoved::Refused { nearest, .. }) = done {
                done = shifted(&setting, &schedule, Change { at: nearest, ..change }, READY);
                prop_assert!(done.is_ok(), "{change:?} to {nearest}: {done:?}");
            }
            if let Ok(moved) = done {
                let wrong = broken(&setting, &schedule, &moved, READY);
                prop_assert!(wrong.is_empty(), "{change:?}: {wrong:?}");
                schedule = moved;
            }
        }
    }
}
