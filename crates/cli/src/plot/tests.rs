use super::*;
use engine::file::{read_kitchen, read_recipe};
use engine::forecast::{Asked, forecast, own_kitchen};
use engine::formula::Scale;
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::method::Path;
use engine::parameters::ParameterSet;
use engine::recipe::Recipe;
use jiff::civil::datetime;
use quantity::{Minutes, Percent};

fn recipe() -> Recipe {
    read_recipe(include_str!("../../../../examples/ferry-lane/recipes/lock-keepers-baguettes.toml"))
        .unwrap()
}
fn kitchen() -> Kitchen {
    read_kitchen(include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml")).unwrap()
}

fn set_in<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Setting<'a> {
    let flour = Scale::Pieces(5).total_flour(&recipe.formula, &recipe.yields).unwrap();
    let calendar =
        Calendar { start: datetime(2026, 10, 24, 6, 0, 0, 0), shifts: vec![(20 * 60, -60)] };
    Setting::new(recipe, kitchen, ParameterSet::default_set(), flour, calendar).unwrap()
}

fn run(setting: &Setting<'_>) -> (Schedule, Trace) {
    let schedule = setting.follow(setting.recipe.method.paths()[0], 0.0).unwrap();
    let trace = setting.run(&schedule, Minutes(15.0)).unwrap();
    (schedule, trace)
}

/// Every tag that opens closes, every attribute is quoted, no number is none.
pub(super) fn is_well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        assert!(!rest[..at].contains('>'), "stray > in {}", &rest[..at]);
        let end = rest[at..].find('>').unwrap() + at;
        let tag = &rest[at + 1..end];
        assert!(!tag.contains('<'));
        assert!(tag.matches('"').count().is_multiple_of(2), "{tag}");
        let name = tag.split([' ', '/']).find(|s| !s.is_empty()).unwrap();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(name);
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "{open:?}");
    assert!(!svg.contains("NaN") && !svg.contains("inf\"") && !svg.contains("<script"));
    let ids: Vec<&str> =
        svg.split(" id=\"").skip(1).map(|s| s.split('"').next().unwrap()).collect();
    let mut once = ids.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "{ids:?}");
    for used in svg.split("url(#").skip(1) {
        let id = used.split(')').next().unwrap();
        assert!(ids.contains(&id), "{id}");
    }
}

#[test]
fn a_run_becomes_the_same_picture_every_time() {
    let (recipe, kitchen) = (recipe(), kitchen());
    let setting = set_in(&recipe, &kitchen);
    let (schedule, t) = run(&setting);
    let slack = [(2, schedule.begins(), schedule.begins() + 90.0)];
    let svg = trace(&setting, &schedule, &t, &slack, None, Units::Metric);
    is_well_formed(&svg);
    assert_eq!(svg, trace(&setting, &schedule, &t, &slack, None, Units::Metric));
    let warm = |units| format!("levain, {}", Celsius(25.0).show(units));
    for word in [&warm(Units::Metric), "poolish", "mix", "Temperature, °C", "asleep", "ready"] {
        assert!(svg.contains(word), "{word}");
    }
    let us = trace(&setting, &schedule, &t, &slack, None, Units::Us);
    assert!(us.contains(&warm(Units::Us)) && us.contains("Temperature, °F"));
}

#[test]
fn names_cannot_break_out() {
    let (mut recipe, mut kitchen) = (recipe(), kitchen());
    recipe.title = "<script>alert(\"1\")</script> & 'co' ".repeat(9);
    kitchen.name = "]]>\u{0}\u{1b}<!-- ".to_owned() + &"x".repeat(4000);
    let setting = set_in(&recipe, &kitchen);
    let (schedule, mut t) = run(&setting);
    t.lines[0].name = "\"/><image href='x'/>".repeat(20);
    is_well_formed(&trace(&setting, &schedule, &t, &[], None, Units::Metric));
}

#[test]
fn nothing_and_nonsense_are_drawn_too() {
    let (recipe, kitchen) = (recipe(), kitchen());
    let setting = set_in(&recipe, &kitchen);
    let none = Trace { lines: Vec::new(), notes: Vec::new() };
    let path = Path { cold_bulk: false, cold_proof: false };
    let empty = Schedule { path, spans: Vec::new() };
    is_well_formed(&trace(&setting, &empty, &none, &[], None, Units::Metric));
    let (schedule, good) = run(&setting);
    is_well_formed(&trace(&setting, &schedule, &none, &[], None, Units::Us));
    is_well_formed(&trace(&setting, &empty, &good, &[], None, Units::Us));
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e300, 1e300, 0.0, 1e9];
    for bad in odd {
        let mut t = good.clone();
        let mut s = schedule.clone();
        for (i, x) in t.lines.iter_mut().flat_map(|l| &mut l.samples).enumerate() {
            match i % 7 {
                0 => x.minute = bad,
                1 => x.volume = bad,
                2 => x.mean = Celsius(bad),
                3 => x.core = Celsius(bad),
                4 => x.rise = Percent(bad),
                5 => x.ph.0 = bad,
                _ => x.step = usize::MAX,
            }
        }
        for (i, x) in s.spans.iter_mut().enumerate() {
            match i % 4 {
                0 => x.from = bad,
                1 => x.to = bad,
                2 => x.step = usize::MAX - 1,
                _ => {}
            }
        }
        let slack = [(0, bad, 3.0), (1, 0.0, bad), (usize::MAX, bad, bad)];
        is_well_formed(&trace(&setting, &s, &t, &slack, None, Units::Metric));
        is_well_formed(&trace(&setting, &schedule, &t, &slack, None, Units::Metric));
        is_well_formed(&trace(&setting, &s, &good, &slack, None, Units::Metric));
        let all = vec![Span { step: 0, from: bad, to: bad }; 300];
        is_well_formed(&trace(
            &setting,
            &Schedule { path, spans: all },
            &t,
            &slack,
            None,
            Units::Us,
        ));
    }
}

#[test]
fn bands_lie_behind_their_lines_whatever_they_are() {
    let (recipe, kitchen) = (recipe(), kitchen());
    let setting = set_in(&recipe, &kitchen);
    let (schedule, t) = run(&setting);
    let asked = Asked { over_time: true, loaf: false };
    let sure = forecast(&setting, &schedule, &own_kitchen(), asked).unwrap();
    let draw = |f: &Forecast| trace(&setting, &schedule, &t, &[], Some(f), Units::Metric);
    let svg = draw(&sure);
    is_well_formed(&svg);
    for part in ["class=\"fringe\"", "8 in 10 kitchens", "eight in ten of 512 kitchens"] {
        assert!(svg.contains(part), "{part}");
    }
    let at = |part: &str| svg.find(part).unwrap();
    assert!(at("class=\"fringe\"") < at("class=\"edge\" fill=\"none\""));
    assert!(at("class=\"fdough\"") < at("curve dough"));
    for odd in [f64::NAN, f64::INFINITY, -1e300, 1e300, 0.0] {
        let mut bad = sure.clone();
        for (i, p) in bad.curve.iter_mut().enumerate() {
            match i % 6 {
                0 => p.minute = odd,
                1 => p.volume.high = odd,
                2 => p.rise.low = odd,
                3 => p.core.mid = odd,
                4 => p.ph.high = odd,
                _ => p.step = usize::MAX,
            }
        }
        bad.steps[0].rise.low = odd;
        is_well_formed(&draw(&bad));
    }
}

#[test]
fn names_of_steps_never_share_a_place() {
    let (recipe, kitchen) = (recipe(), kitchen());
    let setting = set_in(&recipe, &kitchen);
    let (schedule, t) = run(&setting);
    let svg = trace(&setting, &schedule, &t, &[], None, Units::Metric);
    let at: Vec<f64> = svg
        .split("rotate(-48 ")
        .skip(1)
        .map(|s| s.split(' ').next().unwrap().parse().unwrap())
        .collect();
    assert!(at.len() > 8);
    assert!(at.windows(2).all(|w| w[1] - w[0] > 16.8), "{at:?}");
}

#[test]
fn rows_are_broken_where_they_must() {
    assert_eq!(wrap("a b", 10.0, 1000.0), ["a b"]);
    assert!(wrap(&"word ".repeat(80), 14.0, 400.0).iter().all(|r| wide(r, 14.0) < 400.0));
    assert!(wrap(&"m".repeat(500), 14.0, 400.0).len() > 10);
    assert!(wrap("", 14.0, 400.0).is_empty());
}
