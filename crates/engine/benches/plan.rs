//! What the baker waits for: a dough with its warmth, and a plan.

mod common;

use common::{bundled, settle};
use engine::method::Path;
use engine::plan::{Request, plan};
use engine::run::MAX_STEP_MIN;

fn main() {
    divan::main();
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

/// Reading a recipe file and computing its sheet.
#[divan::bench]
fn read_and_weigh() {
    let (recipe, _) = bundled();
    divan::black_box(recipe.formula.sheet(quantity::Grams(1000.0)).expect("bundled"));
}
