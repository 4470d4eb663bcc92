use super::*;
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use crate::hours::{Blocked, Calendar};
use crate::kitchen::Kitchen;
use crate::method::{Verb, Window};
use crate::parameters::ParameterSet;
use crate::recipe::Recipe;
use jiff::civil::{DateTime, datetime};

macro_rules! recipe {
    ($name:literal) => {
        read_recipe(include_str!(concat!(
            "../../../../examples/ferry-lane/recipes/",
            $name,
            ".toml"
        )))
        .unwrap()
    };
}
macro_rules! kitchen {
    ($name:literal) => {
        read_kitchen(include_str!(concat!(
            "../../../../examples/ferry-lane/kitchens/",
            $name,
            ".toml"
        )))
        .unwrap()
    };
}

fn recipes() -> Vec<Recipe> {
    vec![
        recipe!("tidewater-batard"),
        recipe!("lock-keepers-baguettes"),
        recipe!("slipway-rye"),
        recipe!("reedbed-seeded-boule"),
        recipe!("millpond-milk-loaf"),
    ]
}
fn kitchens() -> Vec<Kitchen> {
    vec![kitchen!("cold-flat"), kitchen!("warm-house"), kitchen!("mountain-village")]
}

fn set_in<'a>(r: &'a Recipe, k: &'a Kitchen, start: DateTime) -> Setting<'a> {
    let flour = Scale::Pieces(r.yields.pieces).total_flour(&r.formula, &r.yields).unwrap();
    Setting::new(r, k, ParameterSet::default_set(), flour, Calendar::plain(start)).unwrap()
}

const THURSDAY_EVENING: DateTime = datetime(2026, 11, 26, 18, 0, 0, 0);
/// Saturday 18:00 from Thursday 18:00.
const SATURDAY_SIX: f64 = 48.0 * 60.0;

fn saturday(r: &Recipe, k: &Kitchen) -> (Outcome, Vec<String>) {
    let s = set_in(r, k, THURSDAY_EVENING);
    let outcome = plan(&s, &Request::by(SATURDAY_SIX)).unwrap();
    let mut wrong = Vec::new();
    if let Outcome::Plans(plans) = &outcome {
        for p in plans {
            wrong.extend(broken_rules(&s, p, SATURDAY_SIX));
        }
    }
    (outcome, wrong)
}

/// Every rule a plan must keep, checked anew from the schedule alone.
fn broken_rules(s: &Setting<'_>, p: &Plan, ready: f64) -> Vec<String> {
    let method = &s.recipe.method;
    let mut wrong = Vec::new();
    let mut say =
        |what: String| wrong.push(format!("{} in {}: {what}", s.recipe.title, s.kitchen.name));
    if p.schedule.ready() > ready || p.schedule.begins() < 0.0 {
        say(format!("from {} to {}", p.schedule.begins(), p.schedule.ready()));
    }
    let lines: Vec<Vec<usize>> = s
        .recipe
        .formula
        .preferments
        .iter()
        .map(|x| method.side_line(&x.name))
        .chain(s.recipe.formula.soakers.iter().map(|x| method.side_line(&x.name)))
        .chain([method.main_line(p.schedule.path)])
        .collect();
    let mix = method.steps.iter().position(|x| x.verb == Verb::Mix).unwrap();
    let mixed_at = p.schedule.of(mix).unwrap().from;
    for (n, line) in lines.iter().enumerate() {
        let spans: Vec<Span> =
            line.iter().map(|&i| p.schedule.of(i).expect("every step is planned")).collect();
        for pair in spans.windows(2) {
            if pair[0].to != pair[1].from {
                say(format!("a gap between step {} and {}", pair[0].step, pair[1].step));
            }
        }
        if n + 1 < lines.len() && spans.last().unwrap().to != mixed_at {
            say("a preferment is not ready at mixing".into());
        }
    }
    for span in &p.schedule.spans {
        let step = &method.steps[span.step];
        let lasts = span.to - span.from;
        // the oven may be switched on sooner, when hands are taken at the latest moment
        let sooner = if step.verb == Verb::Preheat { grow::PREHEAT_SOONER } else { 0.0 };
        if lasts < step.end.least().0 - 1e-9 || lasts > step.end.most().0 + sooner + 1e-9 {
            say(format!("step {} lasts {lasts}", span.step));
        }
        for m in 0..step.hands_on.0 as i64 {
            let at = s.calendar.local(span.from as i64 + m);
            if let Some(why) = s.kitchen.hours.blocked(at) {
                say(format!("{} at {at}: {why}", step.verb.name()));
                break;
            }
        }
        let Some(result) = p.trace.result_of(span.step) else { continue };
        let (x, lo, hi) = match step.good {
            Some(Window::Rise(a, b)) => (result.rise.0, a.0, b.0),
            Some(Window::Acid(a, b)) => (result.ph.0, a.0, b.0),
            Some(Window::Core(a, b)) => (result.core.0, a.0, b.0),
            None => continue,
        };
        // the plan walks in quarter hours, the check in five minutes
        if x < lo - 0.3 || x > hi + 0.3 {
            say(format!("{} ends at {x}, outside {lo} to {hi}", step.verb.name()));
        }
    }
    wrong
}

#[test]
fn plans_keep_every_rule() {
    let mut wrong = Vec::new();
    let mut planned = 0;
    for k in kitchens() {
        for r in recipes() {
            let (outcome, w) = saturday(&r, &k);
            wrong.extend(w);
            planned += usize::from(matches!(outcome, Outcome::Plans(_)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(planned >= 12, "only {planned} of 15 could be planned");
}

#[test]
fn slack_is_real() {
    let (r, k) = (recipe!("tidewater-batard"), kitchen!("cold-flat"));
    let s = set_in(&r, &k, THURSDAY_EVENING);
    let Outcome::Plans(plans) = plan(&s, &Request::by(SATURDAY_SIX)).unwrap() else {
        panic!("no plan")
    };
    let p = &plans[0];
    assert!(!p.slack.is_empty());
    for &(step, early, late) in &p.slack {
        let at = p.schedule.of(step).unwrap().from;
        assert!(early <= at && at <= late, "step {step}: {early} {at} {late}");
        for t in [early, late] {
            let work = r.method.steps[step].hands_on.0 as i64;
            for m in 0..work {
                let local = s.calendar.local(t as i64 + m);
                assert_eq!(k.hours.blocked(local), None, "step {step} at {local}");
            }
        }
    }
}

#[test]
fn too_soon_says_how_much_later() {
    let (r, k) = (recipe!("tidewater-batard"), kitchen!("warm-house"));
    let s = set_in(&r, &k, THURSDAY_EVENING);
    let Outcome::Nothing(Nothing { remedies, .. }) = plan(&s, &Request::by(6.0 * 60.0)).unwrap()
    else {
        panic!("bread in six hours from a cold start")
    };
    let later = remedies.iter().find_map(|x| match x.breaches.as_slice() {
        [Breach::Late { ready, .. }] => Some(*ready),
        _ => None,
    });
    let later = later.expect("later is always a way out");
    assert!(matches!(plan(&s, &Request::by(later)).unwrap(), Outcome::Plans(_)), "{later}");
}

#[test]
fn a_cue_nothing_reaches_is_named() {
    let (mut r, k) = (recipe!("tidewater-batard"), kitchen!("cold-flat"));
    for s in &mut r.method.steps {
        if s.verb == Verb::Bulk {
            s.good = Some(Window::Rise(quantity::Percent(350.0), quantity::Percent(380.0)));
            let cue = Cue::Rise(quantity::Percent(365.0));
            s.end = End::Cue { cue, least: Minutes(30.0), most: Minutes(540.0) };
        }
    }
    let s = set_in(&r, &k, THURSDAY_EVENING);
    let Outcome::Nothing(Nothing { remedies, .. }) = plan(&s, &Request::by(SATURDAY_SIX)).unwrap()
    else {
        panic!("a rise of 350 % was planned")
    };
    let named = remedies.iter().flat_map(|x| &x.breaches).any(|b| {
        matches!(b, Breach::Window { step, reached, .. }
            if r.method.steps[*step].verb == Verb::Bulk && *reached < 350.0)
    });
    assert!(named, "{:?}", remedies.iter().map(|x| &x.breaches).collect::<Vec<_>>());
}

#[test]
fn hours_that_never_come_are_named() {
    let (r, mut k) = (recipe!("tidewater-batard"), kitchen!("cold-flat"));
    k.hours.never = vec!["daily 00:00-24:00".parse().unwrap()];
    let never = set_in(&r, &k, THURSDAY_EVENING);
    assert_eq!(plan(&never, &Request::by(SATURDAY_SIX)).unwrap_err(), PlanError::NoHours);
    k.hours.never = vec!["daily 00:00-22:30".parse().unwrap()];
    let s = set_in(&r, &k, THURSDAY_EVENING);
    let Outcome::Nothing(Nothing { remedies, .. }) = plan(&s, &Request::by(SATURDAY_SIX)).unwrap()
    else {
        panic!("planned without hands")
    };
    let why = remedies.iter().flat_map(|x| &x.breaches).find_map(|b| match b {
        Breach::Hours { why, .. } => Some(*why),
        _ => None,
    });
    assert_eq!(why, Some(Blocked::Never));
}

#[test]
fn the_past_and_the_far_future_are_refused() {
    let (r, k) = (recipe!("tidewater-batard"), kitchen!("cold-flat"));
    let s = set_in(&r, &k, THURSDAY_EVENING);
    assert_eq!(plan(&s, &Request::by(-5.0)).unwrap_err(), PlanError::Past);
    assert_eq!(plan(&s, &Request::by(f64::NAN)).unwrap_err(), PlanError::Past);
    assert_eq!(plan(&s, &Request::by(1e6)).unwrap_err(), PlanError::TooFar);
}

#[test]
fn a_night_that_crosses_a_clock_change_is_planned_by_elapsed_time() {
    // 25 October 2026, London: 02:00 BST becomes 01:00 GMT, 485 minutes after 18:00 less an hour
    let (r, k) = (recipe!("tidewater-batard"), kitchen!("cold-flat"));
    let start = datetime(2026, 10, 23, 18, 0, 0, 0); // Friday
    let change = 32 * 60; // Sunday 02:00
    let flour = Scale::Pieces(2).total_flour(&r.formula, &r.yields).unwrap();
    let calendar = Calendar { start, shifts: vec![(change, -60)] };
    let s = Setting::new(&r, &k, ParameterSet::default_set(), flour, calendar).unwrap();
    // Sunday 18:00 GMT is 49 hours on
    let ready = 49.0 * 60.0;
    let Outcome::Plans(plans) = plan(&s, &Request::by(ready)).unwrap() else { panic!("no plan") };
    for p in &plans {
        assert_eq!(broken_rules(&s, p, ready), Vec::<String>::new());
        assert!(s.calendar.local(p.schedule.ready() as i64) <= datetime(2026, 10, 25, 18, 0, 0, 0));
        for span in &p.schedule.spans {
            // moments that need hands and were chosen on the grid stay on the grid
            let local = s.calendar.local(span.from as i64);
            if matches!(r.method.steps[span.step].verb, Verb::Divide | Verb::Build) {
                assert_eq!(local.minute() % 10, 0, "{local}");
            }
        }
    }
}

#[test]
fn the_same_question_has_the_same_answer() {
    let (r, k) = (recipe!("reedbed-seeded-boule"), kitchen!("mountain-village"));
    let ask = || {
        let s = set_in(&r, &k, THURSDAY_EVENING);
        match plan(&s, &Request::by(SATURDAY_SIX)).unwrap() {
            Outcome::Plans(p) => p.iter().map(|p| (p.cost.to_bits(), p.schedule.clone())).collect(),
            Outcome::Nothing(_) => Vec::new(),
        }
    };
    assert_eq!(ask(), ask());
}

/// What a schedule asks of the baker, counted anew from the schedule alone; and of the doughs,
/// from the forecast.
#[test]
fn a_plan_costs_what_another_count_of_it_costs() {
    for (r, k) in [
        (recipe!("tidewater-batard"), kitchen!("cold-flat")),
        (recipe!("reedbed-seeded-boule"), kitchen!("warm-house")),
        (recipe!("lock-keepers-baguettes"), kitchen!("mountain-village")),
    ] {
        let s = set_in(&r, &k, THURSDAY_EVENING);
        let Outcome::Plans(plans) = plan(&s, &Request::by(SATURDAY_SIX)).unwrap() else {
            panic!("no plan for {}", r.title)
        };
        for p in &plans {
            let method = &r.method;
            let of = |i: &usize| p.schedule.of(*i).unwrap();
            let mut lines: Vec<Vec<usize>> = Vec::new();
            lines.extend(r.formula.preferments.iter().map(|x| method.side_line(&x.name)));
            lines.extend(r.formula.soakers.iter().map(|x| method.side_line(&x.name)));
            lines.push(method.main_line(p.schedule.path));
            lines.extend(method.preheat(p.schedule.path).map(|i| vec![i]));
            let (mut calls, mut bound, mut uncivil) = (0.0, 0.0, 0.0);
            for line in &lines {
                let mut worked = f64::NEG_INFINITY;
                let preheat = method.steps[line[0]].verb == Verb::Preheat;
                if preheat {
                    // begun from the line of the dough
                    let main = method.main_line(p.schedule.path);
                    let done = main.iter().map(of).filter(|x| x.from < of(&line[0]).to);
                    let ends = done
                        .filter(|x| method.steps[x.step].hands_on.0 > 0.0)
                        .map(|x| x.from + method.steps[x.step].hands_on.0);
                    worked = ends.fold(worked, f64::max);
                }
                for span in line.iter().map(of) {
                    let work = method.steps[span.step].hands_on.0;
                    if work <= 0.0 {
                        continue;
                    }
                    let gap = span.from - worked;
                    if gap > 45.0 {
                        calls += 1.0;
                    } else {
                        bound += gap.max(0.0) / 60.0;
                    }
                    let hour = s.calendar.hour_of_day(span.from);
                    uncivil += f64::from(u8::from(!(7.0..22.0).contains(&hour)));
                    worked = worked.max(span.from + work);
                }
            }
            let b = &p.burden;
            // the oven is switched on between other work: one call more or less
            assert!((b.calls - calls).abs() <= 1.0, "{}: {} {calls}", r.title, b.calls);
            assert!((b.bound - bound).abs() <= 0.8, "{}: {} {bound}", r.title, b.bound);
            assert_eq!(b.uncivil, uncivil, "{}", r.title);
            let early = (SATURDAY_SIX - p.schedule.ready()) / 60.0;
            assert!((b.early - early * early).abs() < 1e-9, "{}", r.title);
            let missed: f64 =
                p.forecast.steps.iter().filter_map(|x| Some(1.0 - x.in_window?.0 / 100.0)).sum();
            // a levain's peak is a window to the plan, and none in the forecast
            let peaks =
                p.schedule.spans.iter().filter(|x| waits_for_peak(method.steps[x.step].end));
            let peaks = peaks.count() as f64;
            let more = b.missed - missed;
            assert!((-0.1..peaks + 0.1).contains(&more), "{}: {} {missed}", r.title, b.missed);
            let weights = p.aims[0].weights(&Weights::USUAL);
            assert!((p.cost - weights.cost(b)).abs() < 1e-9);
        }
    }
}

mod in_any_kitchen {
    use super::*;
    use proptest::prelude::*;
    use quantity::{Celsius, Millilitres};

    fn span() -> impl Strategy<Value = String> {
        (0..7_usize, 0..20_u16, 4..14_u16).prop_map(|(day, from, long)| {
            let name = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"][day];
            format!("{name} {from:02}:00-{:02}:30", (from + long) % 24)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Whatever the hours, room, fridge and question: a plan breaks no hard limit.
        #[test]
        fn no_plan_breaks_a_hard_limit(
            which in 0..5_usize,
            wake in 4..10_u16,
            sleep in 20..24_u16,
            never in prop::collection::vec(span(), 0..3),
            busy in prop::collection::vec(span(), 0..2),
            room in 15.0..30.0_f64,
            fridge in 2.0..9.0_f64,
            litres in prop::option::of(0.5..12.0_f64),
            bannetons in prop::option::of(1..5_u32),
            hours in 14.0..70.0_f64,
        ) {
            let r = &recipes()[which];
            let mut k = kitchen!("cold-flat");
            k.room = vec![(0.0, Celsius(room))];
            k.fridge.air = Celsius(fridge);
            k.fridge.space = litres.map(|l| Millilitres(1000.0 * l));
            k.bannetons = bannetons;
            k.hours.awake = vec![format!("daily {wake:02}:30-{sleep:02}:00").parse().unwrap()];
            k.hours.never = never.iter().map(|t| t.parse().unwrap()).collect();
            k.hours.busy = busy.iter().map(|t| t.parse().unwrap()).collect();
            let s = set_in(r, &k, THURSDAY_EVENING);
            let ready = (hours * 60.0).round();
            // few kitchens: limits do not depend on how many
            let request = Request { kitchens: 16, ..Request::by(ready) };
            let ways: Vec<(Path, &Setting<'_>)> =
                r.method.paths().into_iter().map(|p| (p, &s)).collect();
            let quest = Quest::new(&ways, &request, None);
            let Ok(quest) = quest else {
                prop_assert!(plan(&s, &request).is_err());
                return Ok(());
            };
            // without asking why when there is none: that is tested elsewhere, and slow
            let hands = Hands::new(&s, quest.horizon(), &[]);
            let found = quest.found(&hands, Part::UNTOLD).unwrap();
            for (aims, way, found) in answers(&found) {
                let moves = Moves::FREE;
                let p = finish(&quest, &hands, way, found, aims, moves).unwrap();
                let wrong = broken_rules(&s, &p, ready);
                prop_assert!(wrong.is_empty(), "{}", wrong.join("\n"));
                prop_assert_eq!(limits(&s, p.schedule.path), Ok(()));
                prop_assert_eq!(&p.schedule, &found.schedule);
            }
        }
    }
}

/// What is kept of a search depends on nothing but what was found, whichever core finds it first.
#[test]
fn any_number_of_cores_finds_the_same() {
    let rye = include_str!("../../../../examples/ferry-lane/recipes/slipway-rye.toml");
    let house = include_str!("../../../../examples/ferry-lane/kitchens/warm-house.toml");
    let (r, k) = (read_recipe(rye).unwrap(), read_kitchen(house).unwrap());
    let s = set_in(&r, &k, datetime(2026, 11, 26, 18, 0, 0, 0));
    let request = Request { kitchens: 16, ..Request::by(2880.0) };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let Outcome::Plans(plans) = pool.install(|| super::plan(&s, &request)).unwrap() else {
            panic!("nothing fits")
        };
        plans.into_iter().map(|p| (p.schedule, p.costs.map(f64::to_bits))).collect::<Vec<_>>()
    };
    let one = on(1);
    for threads in [2, 4, 8] {
        assert_eq!(on(threads), one, "{threads}");
    }
}
