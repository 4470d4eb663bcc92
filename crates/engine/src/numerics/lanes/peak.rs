//! What the machine could do: nothing but multiplications and additions.

use super::{Job, Lanes, Width};
use std::hint::black_box;

/// Chains that do not wait for each other: more than the arithmetic's delay times its throughput,
/// no more than there are registers.
const CHAINS: usize = 14;
/// Floating-point operations of a round in each lane.
pub const FLOPS_PER_ROUND: usize = CHAINS * 2;

/// Keeps the multipliers and adders of one core as busy as they get, without fusing the two: the
/// engine does not either. Gives a number, so that nothing is left out.
///
/// The measure of "share of the machine's floating-point peak" in `docs/performance.md`.
pub fn multiply_and_add(width: Width, rounds: u64) -> f64 {
    width.run(Busy { rounds })
}

struct Busy {
    rounds: u64,
}

impl Job for Busy {
    type Out = f64;
    fn run<L: Lanes>(self) -> f64 {
        L::with(
            #[inline(always)]
            || {
                // towards 1, never small enough to be slow
                let (by, add) = (L::splat(black_box(0.999)), L::splat(black_box(0.001)));
                let mut x: [L; CHAINS] = std::array::from_fn(|i| L::splat(i as f64));
                for _ in 0..self.rounds {
                    for chain in &mut x {
                        *chain = *chain * by + add;
                    }
                }
                let all = x.into_iter().fold(L::splat(0.0), |a, b| a + b);
                (0..L::N).map(|i| all.lane(i)).sum()
            },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lane_works() {
        for width in [Width::One, Width::Four, Width::Eight] {
            let sum = multiply_and_add(width, 40_000);
            assert!((sum / (CHAINS * width.lanes()) as f64 - 1.0).abs() < 1e-9, "{sum}");
        }
    }
}
