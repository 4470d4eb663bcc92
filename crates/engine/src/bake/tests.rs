use super::*;
use crate::hearth::{Slab, Steam};
use crate::properties::{STANDARD_PRESSURE, pressure_at};
use proptest::prelude::*;
use quantity::{Metres, TempRise};

fn near(ours: f64, reference: f64, slack: f64) {
    assert!((ours - reference).abs() <= slack, "{ours} is not {reference} ± {slack}");
}

fn baguette() -> Loaf {
    let shape = Shape::Log { length: Millimetres(550.0) };
    Loaf::even(Grams(350.0), shape, 270.0, 0.9, Celsius(22.0))
}

fn exactly(r_mm: f64, m: f64) -> Loaf {
    let shape = Shape::Exactly { r: Millimetres(r_mm), m };
    Loaf::even(Grams(350.0), shape, 270.0, 0.9, Celsius(22.0))
}

fn steamed(minutes: f64) -> Programme {
    let mut stage = Stage::at(Celsius(245.0), Minutes(minutes));
    let (pressure, minutes) = (Kilopascal(40.0), Minutes(6.0));
    stage.steam = Steam::Held { pressure, minutes };
    Programme::of(vec![stage])
}

fn first(loaf: &Loaf, programme: &Programme, cells: usize, dt_s: f64) -> BakeTrace {
    let resolution = Resolution::Exactly { cells, dt_s };
    bake_with(loaf, &Oven::FIRST, programme, resolution, &BakeParameters::FIRST)
}

/// Source: our reference implementation; regression. Slack: half the last printed digit.
#[test]
fn baguette_of_the_reference() {
    let trace = first(&baguette(), &steamed(22.0), 30, 2.0);
    near(trace.core_reaches(Celsius(96.0)).unwrap().0, 8.98, 0.005);
    let end = trace.at(Minutes(22.0)).unwrap();
    near(end.loss.0, 25.04, 0.005);
    near(end.top_surface.0, 182.8, 0.05);
    near(end.lightness, 56.6, 0.05);
    near(end.browning, 28.7, 0.05);
    for (minute, core, surface, loss, dry) in [
        (5.0, 47.1, 108.6, 2.4, 0.5),
        (10.0, 98.2, 139.0, 10.2, 2.8),
        (15.0, 100.4, 162.9, 17.4, 5.6),
        (20.0, 100.4, 178.3, 23.1, 7.5),
    ] {
        let s = trace.at(Minutes(minute)).unwrap();
        near(s.core.0, core, 0.05);
        near(s.top_surface.0, surface, 0.06);
        near(s.loss.0, loss, 0.05);
        near(s.dry_zone.0, dry, 0.05);
    }
}
