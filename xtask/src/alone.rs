//! Fermentation alone in a general integrator (`ode_solvers`, Dormand and Prince's method of order
//! 5), one dough at a time.
//!
//! It is spared what the engine does besides: mixing, and the warmth of the dough, which it is
//! given as a table.

use crate::integrators::Tolerance;
use crate::scene::{Errors, Line, Reading};
use engine::ferment::{Dough, Slopes, State};
use ode_solvers::dop_shared::OutputType;
use ode_solvers::dopri5::Dopri5;
use ode_solvers::{SVector, System};
use quantity::Celsius;
use std::cell::Cell;

const N: usize = State::<f64>::LEN;
type Y = SVector<f64, N>;

struct Leg<'a> {
    slopes: &'a Slopes<'a>,
    temps: &'a [f64],
    hours: f64,
    ph: &'a Cell<f64>,
    calls: &'a Cell<u64>,
}

/// The table, read along straight lines.
fn at(temps: &[f64], part: f64) -> f64 {
    let last = temps.len() - 1;
    let x = (part * last as f64).clamp(0.0, last as f64);
    let i = (x as usize).min(last.saturating_sub(1));
    temps[i] + (temps[(i + 1).min(last)] - temps[i]) * (x - i as f64)
}

impl System<f64, Y> for Leg<'_> {
    fn system(&self, t: f64, y: &Y, dy: &mut Y) {
        let temp = at(self.temps, if self.hours > 0.0 { t / self.hours } else { 0.0 });
        let mut ph = self.ph.get();
        let state = State::from_array(y.data.0[0]);
        dy.data.0[0] = self.slopes.at(&state, Celsius(temp), &mut ph).array();
        self.ph.set(ph);
        self.calls.set(self.calls.get() + 1);
    }
}

/// One dough from its levain on; its errors, and how often the rates were asked for.
pub(crate) fn integrate(
    lines: &[Line],
    (relative, absolute): Tolerance,
) -> Result<(Errors, u64), String> {
    let mut errors = Errors::default();
    let calls = Cell::new(0);
    for line in lines {
        let made = line.start.clone();
        let slopes = made.slopes();
        let mut dough: Dough = line.start.clone();
        let ph = Cell::new(dough.ph().0);
        for leg in &line.legs {
            let (Some(&first), Some(&last)) = (leg.temps.first(), leg.temps.last()) else {
                continue;
            };
            dough.degas(leg.lost, Celsius(first));
            if leg.hours > 0.0 {
                let temps = &leg.temps;
                let way = Leg { slopes: &slopes, temps, hours: leg.hours, ph: &ph, calls: &calls };
                let y = Y::from(dough.state.array());
                let mut solver = Dopri5::new(way, 0.0, leg.hours, leg.hours, y, relative, absolute);
                solver.set_output(OutputType::Sparse);
                solver.integrate().map_err(|e| e.to_string())?;
                let end = solver.y_out().last();
                let end = end.ok_or("the integrator gave nothing")?;
                dough.state = State::from_array(end.data.0[0]);
            }
            let temp = Celsius(last);
            let volume = dough.volume_l_per_kg(temp);
            let read = Reading { volume, rise: dough.rise(temp).0, ph: dough.ph().0 };
            errors.take(line, leg, read);
            if leg.marks {
                dough.mark(temp);
            }
        }
    }
    Ok((errors, calls.get()))
}
