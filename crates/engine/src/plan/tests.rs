use super::*;
use crate::file::{read_kitchen, read_recipe};
use crate::formula::Scale;
use crate::hours::Calendar;
use crate::kitchen::Kitchen;
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

#[test]
fn look() {
    for k in kitchens() {
        for r in recipes() {
            let s = set_in(&r, &k, THURSDAY_EVENING);
            let t = std::time::Instant::now();
            let outcome = plan(&s, &Request::by(SATURDAY_SIX)).unwrap();
            println!("== {} / {}: {:?}", r.title, k.name, t.elapsed());
            match outcome {
                Outcome::Plans(plans) => {
                    for p in plans {
                        println!("  {} cost {:.2}", p.schedule.path.words(), p.cost);
                        let dough = p.trace.lines.last().unwrap();
                        for sp in &p.schedule.spans {
                            let l = p.trace.lines.iter().find(|l| l.spans.contains(sp));
                            let e =
                                l.and_then(|l| l.samples.iter().rev().find(|x| x.step == sp.step));
                            println!(
                                "    {} {:10} {:4.0} min slack {:?} {}",
                                s.calendar.local(sp.from as i64),
                                s.recipe.method.steps[sp.step].verb.name(),
                                sp.to - sp.from,
                                p.slack_of(sp.step).map(|(a, b)| (a - sp.from, b - sp.from)),
                                e.map(|e| format!(
                                    "T {:.1} rise {:.0} pH {:.2} tta {:.1}",
                                    e.mean.0, e.rise.0, e.ph.0, e.tta.0
                                ))
                                .unwrap_or_default()
                            );
                        }
                        let _ = dough;
                        println!("    {:?}", p.trace.notes);
                    }
                }
                Outcome::Nothing(r) => {
                    for r in r {
                        println!("  remedy {:?} cost {:.2}", r.breaches, r.plan.cost);
                    }
                }
            }
        }
    }
}
