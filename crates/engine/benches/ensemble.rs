//! Many doughs at once: whole doughs per second.

mod common;

use common::{bundled, settle};
use engine::ensemble::{Ensemble, Follow};
use engine::method::Path;
use engine::numerics::lanes::Width;
use engine::run::{Draw, Guide};

fn main() {
    divan::main();
}

const COLD: Path = Path { cold_bulk: false, cold_proof: true };

/// Kitchens spread a little, without the cost of drawing them.
fn draw(i: usize) -> Draw {
    let x = (i % 97) as f64 / 48.0 - 1.0;
    Draw {
        room: 2.0 * x,
        fridge: -x,
        yeast_vigour: 1.0 + 0.2 * x,
        longest_min: 30.0,
        ..Draw::as_written()
    }
}

#[divan::bench(sample_count = 10, args = [Width::One, Width::Four, Width::Eight])]
fn by_the_clock(bencher: divan::Bencher<'_, '_>, width: Width) {
    many(bencher, width, false);
}

#[divan::bench(sample_count = 10, args = [Width::One, Width::Four, Width::Eight])]
fn by_the_cues(bencher: divan::Bencher<'_, '_>, width: Width) {
    many(bencher, width, true);
}

fn many(bencher: divan::Bencher<'_, '_>, width: Width, cues: bool) {
    let (recipe, kitchen) = bundled();
    let s = settle(&recipe, &kitchen);
    let schedule = s.follow(COLD, 0.0).expect("bundled");
    let guide = Guide::cues(&recipe.method);
    let follow = if cues { Follow::Guide(COLD, &guide, 0.0) } else { Follow::Clock(&schedule) };
    let e = Ensemble { setting: &s, follow, oven: None, every: None, width };
    let n = 1024;
    bencher
        .counter(divan::counter::ItemsCount::new(n))
        .bench_local(|| e.run(n, draw).expect("bundled"));
}
