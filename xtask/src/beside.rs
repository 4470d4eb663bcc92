//! Our doughs beside general integrators, one dough at a time, each with the tolerances that suit it
//! best.

use crate::alone;
use crate::coupled::{self, NODES};
use crate::figures::{Rate, TIMES, usual};
use crate::integrators::{Method, Tolerance};
use crate::scene::{Errors, KITCHENS, Leg, Line, STEP_MIN};
use crate::script::script;
use engine::ferment::State;
use engine::parameters::ParameterSet;
use engine::run::{Lump, Setting};
use engine::warmth::Surroundings;
use serde_json::{Value, json};
use std::path::Path;

/// Kitchens on which tolerances are tried, and which are given to the script.
const FEW: usize = 8;
/// What is allowed, %.
const ALLOWED: f64 = 0.1;
/// So fine that what is left is not the integrator's.
const TIGHT: Tolerance = (1e-8, 1e-8);
/// Most by which two versions of the same right-hand side may differ, relative.
const SAME: f64 = 1e-9;

/// What the others are held against.
pub(crate) struct Ours {
    /// The widest on all cores.
    pub(crate) best: Rate,
    /// One dough at a time on one thread.
    pub(crate) one: Rate,
    pub(crate) errors: Errors,
    pub(crate) cores: usize,
}

/// An integrator with the tolerances that suit it.
struct Found {
    tolerance: Tolerance,
    rate: Rate,
    errors: Errors,
    /// Sets of rates for a dough.
    calls: u64,
}

impl Found {
    fn how(&self) -> String {
        let ((relative, absolute), calls) = (self.tolerance, self.calls);
        format!("rtol {relative:.0e}, atol {absolute:.0e}, {calls} sets of rates, 1 thread")
    }
}

impl Ours {
    fn head(&self, what: &str) {
        println!("{what}:\n");
        println!(
            "| | how | doughs/s | doughs per processor second | greatest error, %: volume, rise, pH, readiness | by processor time: ours on all cores against it on one | on one core | ours one at a time |"
        );
        println!("|---|---|---|---|---|---|---|---|");
        let (step, cores) = (STEP_MIN, self.cores);
        self.row("grigne", &format!("{step} min, {cores} threads"), self.best, &self.errors);
        let how = format!("{step} min, 1 thread");
        self.row("grigne, one dough at a time", &how, self.one, &self.errors);
    }

    fn row(&self, what: &str, how: &str, rate: Rate, e: &Errors) {
        println!(
            "| {what} | {how} | {:.1} | {:.1} | {:.4}, {:.4}, {:.4}, {:.4} | {:.1} x | {:.1} x | {:.1} x |",
            rate.clock,
            rate.processor,
            e.volume,
            e.rise,
            e.ph,
            e.readiness,
            self.cores as f64 * self.best.processor / rate.processor,
            self.best.processor / rate.processor,
            self.one.processor / rate.processor
        );
    }
}

/// Two tables: the whole model, and fermentation alone.
pub(crate) fn beside(
    root: &Path,
    setting: &Setting<'_>,
    fine: &[Vec<Line>],
    ours: &Ours,
) -> Result<(), String> {
    let heats = coupled::laid_out(&fine[0], NODES);
    let whole = |method: Method, i: usize, lines: &[Line], tolerance| {
        coupled::walk(setting, i, lines, &heats, |system, hours, state| {
            method.integrate(system, hours, state, tolerance)
        })
    };
    // what the system itself leads to: each is held to it, as ours are to their own finest step
    let mut exact = Vec::new();
    let mut tight = Errors::default();
    for (i, lines) in fine.iter().enumerate() {
        let walked = whole(Method::Bdf, i, lines, TIGHT)?;
        tight = tight.greater(walked.errors);
        exact.push(walked.instead(lines));
    }
    let mut all_tight = vec![("diffsol BDF, all kitchens", tight)];
    let scripted = scripted(root, setting, fine, &exact);

    ours.head("The whole model, as one coupled system");
    for method in Method::ALL {
        let one = |lines: &[Vec<Line>], i: usize, tolerance| {
            whole(method, i, &lines[i], tolerance).map(|w| (w.errors, w.calls))
        };
        let found = quickest(&|i, tolerance| one(&exact, i, tolerance))?;
        ours.row(method.name(), &found.how(), found.rate, &found.errors);
        let (tight, _) = over(FEW, &|i, tolerance| one(fine, i, tolerance), TIGHT)?;
        all_tight.push((method.name(), tight));
    }
    match &scripted {
        Ok(found) => {
            scripted_row(ours, "SciPy solve_ivp, LSODA", found, "without_jacobian");
            scripted_row(ours, "SciPy solve_ivp, LSODA, given the Jacobian", found, "solve_ivp");
            scripted_row(ours, "SciPy odeint (LSODA), given the Jacobian", found, "odeint");
            all_tight.push(("SciPy LSODA", errors_of(&found["tight"])));
        }
        Err(why) => println!("| SciPy solve_ivp, LSODA | not measured: {why} | | | | | | |"),
    }
    println!(
        "\nEach with tolerances so tight that its own error is gone, against our finest step:\n"
    );
    println!("| | volume, rise, pH, readiness, % |");
    println!("|---|---|");
    for (name, e) in all_tight {
        println!("| {name} | {:.4}, {:.4}, {:.4}, {:.4} |", e.volume, e.rise, e.ph, e.readiness);
        if e.greatest() > ALLOWED {
            return Err(format!("{name} integrates another model than ours"));
        }
    }
    println!();

    ours.head("Fermentation alone, which is less than ours do");
    let found = quickest(&|i, tolerance| alone::integrate(&fine[i], tolerance))?;
    ours.row(Method::Dopri5.name(), &found.how(), found.rate, &found.errors);
    if let Ok(found) = &scripted {
        scripted_row(ours, "SciPy solve_ivp, LSODA", found, "alone");
        let text = |name: &str| found[name].as_str().unwrap_or("?").to_owned();
        let of = |name: &str| found[name].as_f64().unwrap_or(f64::NAN);
        println!(
            "\nSciPy {}, NumPy {}, Python {}. The script's rates against ours: {:.1e} at most, relative; the coupled system's changes {:.1e}.",
            text("scipy"),
            text("numpy"),
            text("python"),
            of("slopes"),
            of("changes")
        );
        // NaN is no match either
        if !(of("slopes") <= SAME && of("changes") <= SAME) {
            return Err("the script integrates another model than ours".to_owned());
        }
    }
    Ok(())
}

/// One dough with a tolerance: its errors, and sets of rates.
type One<'a> = dyn Fn(usize, Tolerance) -> Result<(Errors, u64), String> + 'a;

/// The greatest errors over some kitchens, and the sets of rates in all.
fn over(kitchens: usize, one: &One<'_>, tolerance: Tolerance) -> Result<(Errors, u64), String> {
    let (mut errors, mut calls) = (Errors::default(), 0);
    for k in 0..kitchens {
        let (e, n) = one(k * (KITCHENS - 1) / (kitchens - 1), tolerance)?;
        errors = errors.greater(e);
        calls += n;
    }
    Ok((errors, calls))
}

/// The tolerances of a grid that need the fewest sets of rates with every error within what is
/// allowed, and how fast a dough is with them.
fn quickest(one: &One<'_>) -> Result<Found, String> {
    let mut good = Vec::new();
    for relative in [1e-1, 3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6] {
        for absolute in [10.0, 1.0, 0.1, 1e-2, 1e-3].map(|x| x * relative) {
            let tolerance = (relative, absolute);
            // some tolerances are too loose for it to arrive
            if let Ok((errors, calls)) = over(FEW, one, tolerance)
                && errors.greatest() <= ALLOWED
            {
                good.push((calls, tolerance));
            }
        }
    }
    good.sort_by_key(|g| g.0);
    for (few, tolerance) in good {
        let (errors, calls) = over(KITCHENS, one, tolerance)?;
        if errors.greatest() > ALLOWED {
            continue;
        }
        // those that need very many are slow, and as steady in fewer runs
        let times = if few > 100_000 { 3 } else { TIMES };
        let rate = usual(KITCHENS, times, || over(KITCHENS, one, tolerance).map(drop))?;
        return Ok(Found { tolerance, rate, errors, calls: calls / KITCHENS as u64 });
    }
    Err("no tolerance is fine enough".into())
}

fn errors_of(found: &Value) -> Errors {
    let of = |name: &str| found[name].as_f64().unwrap_or(f64::NAN);
    Errors { volume: of("volume"), rise: of("rise"), ph: of("ph"), readiness: of("readiness") }
}

fn scripted_row(ours: &Ours, what: &str, found: &Value, way: &str) {
    let found = &found[way];
    let of = |name: &str| found[name].as_f64().unwrap_or(f64::NAN);
    let how = format!(
        "rtol {:.0e}, atol {:.0e}, {} sets of rates, 1 thread",
        of("rtol"),
        of("atol"),
        of("calls")
    );
    let rate = Rate { clock: of("clock"), processor: of("processor") };
    ours.row(what, &how, rate, &errors_of(found));
}

/// What the script's solver finds, and how long it takes.
fn scripted(
    root: &Path,
    setting: &Setting<'_>,
    fine: &[Vec<Line>],
    exact: &[Vec<Line>],
) -> Result<Value, String> {
    let doughs: Vec<Value> = (0..FEW)
        .map(|k| k * (KITCHENS - 1) / (FEW - 1))
        .map(|i| dough_json(setting, i, &fine[i], &exact[i]))
        .collect::<Result<_, _>>()?;
    let all = json!({ "constants": ParameterSet::default_set().constants, "doughs": doughs });
    script(root, "lsoda.py", "figures/doughs.json", &all)
}

fn dough_json(
    setting: &Setting<'_>,
    i: usize,
    lines: &[Line],
    exact: &[Line],
) -> Result<Value, String> {
    let heats = coupled::laid_out(lines, NODES);
    // how each leg begins, and the changes then
    let mut begins = Vec::new();
    coupled::walk(setting, i, lines, &heats, |system, hours, state| {
        let mut changes = vec![0.0; state.len()];
        system.change(0.0, state, &mut changes);
        begins.push(json!({ "state": state, "changes": changes, "leg": system.told() }));
        Method::Bdf.integrate(system, hours, state, TIGHT)
    })?;
    let mut begins = begins.into_iter();
    let mut ripe: Option<&Lump> = None;
    let ends = |leg: &Leg| {
        let e = &leg.ends;
        json!({ "volume": e.volume, "rise": e.rise, "ph": e.ph })
    };
    let lines = lines.iter().zip(exact).map(|(line, exact)| {
        let legs: Vec<Value> = line
            .legs
            .iter()
            .zip(&exact.legs)
            .map(|(leg, exact)| {
                let begin = begins.next();
                let air = match &leg.air {
                    Surroundings::Fridge { mean, warms_by, settles } => {
                        json!({ "fridge": [mean.0, warms_by.0, settles.0] })
                    }
                    _ => json!({ "room": setting.kitchen.room.iter().map(|(h, t)| (h, t.0)).collect::<Vec<_>>() }),
                };
                json!({
                    "hours": leg.hours,
                    "lost": leg.lost,
                    "temps": leg.temps,
                    "levelled": leg.levelled,
                    "air": air,
                    "begins": begin,
                    "marks": leg.marks,
                    "is_cue": leg.is_cue,
                    "ends": ends(leg),
                    "exact": ends(exact),
                    "volume_per_min": leg.volume_per_min,
                    "minutes": leg.to_min - line.from_min,
                })
            })
            .collect();
        let mut ph = line.start.ph().0;
        let temp = quantity::Celsius(24.0);
        let mix = ripe.map(|levain| mix_json(&levain.dough.state, &line.start.state));
        ripe = Some(&line.ripe);
        json!({
            "composition": line.start.composition,
            "organisms": line.start.organisms,
            "state": line.start.state,
            "temp": line.mixed.body.mean().0,
            "mix": mix,
            "slopes_at_24": line.start.slopes().at(&line.start.state, temp, &mut ph),
            "legs": legs,
        })
    });
    Ok(lines.collect())
}

/// How the levain goes into the dough: its share by mass, and what comes from elsewhere.
fn mix_json(levain: &State, dough: &State) -> Value {
    // all alcohol comes with the levain
    let share = dough.ethanol / levain.ethanol;
    let besides = |of: fn(&State) -> f64| of(dough) - share * of(levain);
    json!({
        "share": share,
        "besides": {
            "maltose": besides(|s| s.maltose),
            "hexose": besides(|s| s.hexose),
            "starch": besides(|s| s.starch),
            "growth_left": besides(|s| s.growth_left),
            "lactate": besides(|s| s.lactate),
            "acetate": besides(|s| s.acetate),
            "ethanol": besides(|s| s.ethanol),
        }
    })
}
