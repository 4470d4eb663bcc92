//! What the baker waits for: a dough with its warmth, and a plan.

mod common;

use common::{bundled, settle};
use engine::fit::{Order, plan_in_oven};
use engine::kitchen::Kitchen;
use engine::method::Path;
use engine::parameters::ParameterSet;
use engine::plan::{Did, Happened, Measured, ReadOff, Request, plan};
use engine::progress::Part;
use engine::recipe::Recipe;
use engine::run::MAX_STEP_MIN;

fn main() {
    divan::main();
}

/// Two batards, from now on.
fn order<'a>(recipe: &'a Recipe, kitchen: &'a Kitchen) -> Order<'a> {
    let s = settle(recipe, kitchen);
    let total_flour = s.sheet.total.flour();
    let set = ParameterSet::default_set();
    Order { recipe, kitchen, set, total_flour, calendar: s.calendar.clone() }
}

/// 36 h of one dough with its warmth: room, then fridge; the planner's step.
#[divan::bench]
fn dough_36_h_with_warmth(bencher: divan::Bencher<'_, '_>) {
    let (recipe, kitchen) = bundled();
    let s = settle(&recipe, &kitchen);
    let cold = Path { cold_bulk: false, cold_proof: true };
    let schedule = s.follow(cold, 0.0).expect("bundled");
    let bulk = schedule.spans.iter().find(|x| x.step == 7).expect("bulk").from;
    let dough = s.dough_at(&schedule, bulk).expect("bundled").expect("mixed");
    bencher.bench_local(|| {
        let mut d = dough.clone();
        d.rest(&s, bulk, bulk + 36.0 * 60.0, MAX_STEP_MIN, |_, _| {});
        divan::black_box(d.rise())
    });
}

/// One recipe, one kitchen, 48 h ahead.
#[divan::bench]
fn plan_one_recipe(bencher: divan::Bencher<'_, '_>) {
    let (recipe, kitchen) = bundled();
    let s = settle(&recipe, &kitchen);
    bencher.bench_local(|| plan(&s, &Request::by(48.0 * 60.0)).expect("bundled"));
}

/// The same with what the recipe leaves open, in its oven.
#[divan::bench]
fn plan_with_leeway(bencher: divan::Bencher<'_, '_>) {
    let (recipe, kitchen) = bundled();
    let order = order(&recipe, &kitchen);
    bencher.bench_local(|| {
        plan_in_oven(&order, &Request::by(48.0 * 60.0), None, Part::UNTOLD).expect("bundled")
    });
}

/// The rest of a bake, from the bulk on, with a reading.
#[divan::bench]
fn plan_again(bencher: divan::Bencher<'_, '_>) {
    let (recipe, kitchen) = bundled();
    let order = order(&recipe, &kitchen);
    // levain 19 h ago, flour wetted 170 min ago
    let did = vec![Did { step: 0, at: -1140.0 }, Did { step: 1, at: -170.0 }];
    let rise = Measured::Rise(quantity::Percent(30.0));
    let read = vec![ReadOff { line: 1, at: -10.0, what: rise }];
    let happened = Happened { did, read };
    let request = Request::by(25.0 * 60.0);
    bencher.bench_local(|| {
        plan_in_oven(&order, &request, Some(&happened), Part::UNTOLD).expect("bundled")
    });
}

/// Reading a recipe file and computing its sheet.
#[divan::bench]
fn read_and_weigh() {
    let (recipe, _) = bundled();
    divan::black_box(recipe.formula.sheet(quantity::Grams(1000.0)).expect("bundled"));
}
