//! Ours for the kitchens of strangers: what the readers' belief says of rooms, fridges, ovens.

use crate::Values;
use engine::belief::{Belief, Draws, Uncertain};
use engine::numerics::weighted::Weighted;

const LANES: u32 = 1 << 14;

/// Share of values below a bound, %.
fn below(values: &[f64], bound: f64) -> f64 {
    100.0 * values.iter().filter(|x| **x < bound).count() as f64 / values.len() as f64
}

/// What the lowest and the highest of n homes are on average, as quantiles.
fn extremes(values: &Weighted, n: f64) -> [f64; 2] {
    [values.quantile(1.0 / (n + 1.0)), values.quantile(n / (n + 1.0))]
}

pub(crate) fn values(out: &mut Values) {
    let draws = Draws::new(Belief::readers().clone(), LANES, 1);
    let drawn = |what| draws.column(what).unwrap_or_default();
    let (rooms, fridges) = (drawn(Uncertain::Room), drawn(Uncertain::Fridge));
    // no lane is missing, so there is no error
    let (Ok(room), Ok(fridge)) = (draws.weighted(&rooms), draws.weighted(&fridges)) else { return };

    out.insert("belief-room-mean", room.mean());
    let [coldest, warmest] = extremes(&room, 821.0);
    out.insert("belief-room-coldest", coldest);
    out.insert("belief-room-warmest", warmest);

    out.insert("belief-fridge-mean", fridge.mean());
    out.insert("belief-fridge-sd", fridge.sd());
    let [coldest, warmest] = extremes(&fridge, 119.0);
    out.insert("belief-fridge-coldest-france", coldest);
    out.insert("belief-fridge-warmest-france", warmest);
    let [coldest, warmest] = extremes(&fridge, 112.0);
    out.insert("belief-fridge-coldest-uk", coldest);
    out.insert("belief-fridge-warmest-uk", warmest);
    out.insert("belief-fridge-below-5", below(&fridges, 5.0));
    out.insert("belief-fridge-above-9", 100.0 - below(&fridges, 9.0));

    let knobs = drawn(Uncertain::OvenKnob);
    out.insert("belief-oven-hot", 100.0 - below(&knobs, 20.0));
}
