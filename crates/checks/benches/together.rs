//! What the joint choice of six breads costs: made-up weekends, so many candidates of each bread.

use checks::weekend::{Weekend, of_size};
use engine::plan::together::{Patience, Together, choose};

fn main() {
    divan::main();
}

fn ask(w: &Weekend) -> Together {
    choose(divan::black_box(&w.breads), &w.shared, Patience::default())
}

/// One that fits, at a roomy and at a tight weekend.
#[divan::bench(args = [0, 1])]
fn six_breads_of_60(bencher: divan::Bencher<'_, '_>, tight: u32) {
    let w = of_size(2001, 6, 60, tight);
    assert!(matches!(ask(&w), Together::Chosen(c) if c.proven));
    bencher.bench_local(|| ask(&w));
}

/// One that cannot be had until it has been said which breads clash, and what would have to give.
#[divan::bench]
fn six_breads_of_60_that_clash(bencher: divan::Bencher<'_, '_>) {
    let w = of_size(2009, 6, 60, 0);
    assert!(matches!(ask(&w), Together::Nothing(_)));
    bencher.bench_local(|| ask(&w));
}

/// More than a plan would ever hand over.
#[divan::bench(sample_count = 10)]
fn six_breads_of_1000(bencher: divan::Bencher<'_, '_>) {
    let w = of_size(1009, 6, 1000, 0);
    assert!(matches!(ask(&w), Together::Chosen(c) if c.proven));
    bencher.bench_local(|| ask(&w));
}
