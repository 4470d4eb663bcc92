//! Fermentation: ours beside printed tables, counts and bakers' habits.
//!
//! Where a source does not print its whole recipe, the assumption stands in the function
//! and in the row's `what`.

use crate::Values;
use engine::culture::{Culture, Feed, ripe_starter, use_window};
use engine::ferment::{Dough, Mix, MixError};
use engine::flour::{Flour, Grain};
use engine::parameters::{ParameterSet, Yeast};
use quantity::{Celsius, Grams, Hours, Kilopascal, Percent, Ph};
use std::cell::Cell;
use std::ops::ControlFlow;

/// Time step of all runs but the longest.
const DT: Hours = Hours(0.1);
/// End of the usual titration.
const PH_8_5: Ph = Ph(8.5);

/// Ours by id; NaN where a run gives no such moment.
///
/// # Errors
/// A recipe here that is no dough.
pub(crate) fn values(set: &ParameterSet) -> Result<Values, MixError> {
    let mut v = Values::new();
    organisms(set, &mut v);
    published_sourdough(set, &mut v)?;
    starters(set, &mut v)?;
    doughs(set, &mut v)?;
    bakers_yeast(set, &mut v)?;
    rye_and_heat(set, &mut v)?;
    retard(set, &mut v)?;
    san_francisco(set, &mut v)?;
    balances(set, &mut v)?;
    Ok(v)
}

fn white() -> Flour {
    Flour::white("white")
}
fn wholemeal() -> Flour {
    Flour { ash: Percent(1.7), ..Flour::white("wholemeal") }
}
fn rye() -> Flour {
    Flour { grain: Grain::Rye, ..wholemeal() }
}

/// A ripe starter of one flour.
fn ripe(set: &ParameterSet, flour: Flour, hydration: f64) -> Result<Dough, MixError> {
    ripe_starter(&[(flour, Percent(100.0))], Percent(hydration), Kilopascal(101.325), set)
}

/// One flour, water and salt in g, and one preferment.
fn mix(
    set: &ParameterSet,
    (flour, mass): (Flour, f64),
    water: f64,
    salt: f64,
    (seed, of_seed): (&Dough, f64),
    temp: f64,
) -> Result<Dough, MixError> {
    let mix = Mix {
        flours: vec![(flour, Grams(mass))],
        water: Grams(water),
        salt: Grams(salt),
        preferments: vec![(seed.clone(), Grams(of_seed))],
        ..Mix::empty(Celsius(temp))
    };
    Dough::mix(&mix, set)
}

/// Flour, water, salt and fresh yeast in g.
fn yeasted(
    set: &ParameterSet,
    water: f64,
    salt: f64,
    yeast: f64,
    temp: f64,
) -> Result<Dough, MixError> {
    let mix = Mix {
        flours: vec![(white(), Grams(1000.0))],
        water: Grams(water),
        salt: Grams(salt),
        fresh_yeast: Grams(yeast),
        ..Mix::empty(Celsius(temp))
    };
    Dough::mix(&mix, set)
}

fn after(dough: &Dough, hours: f64, temp: f64) -> Dough {
    let mut d = dough.clone();
    d.ferment(Hours(hours), |_| Celsius(temp), DT);
    d
}

/// Hours until `of` first reaches `level` from below; NaN if not within `limit`.
fn time_until(
    dough: &Dough,
    temp: impl Fn(f64) -> f64,
    limit: f64,
    level: f64,
    of: impl Fn(&Dough, Celsius) -> f64,
) -> f64 {
    let last = Cell::new((0.0, of(dough, Celsius(temp(0.0)))));
    let found = Cell::new(f64::NAN);
    dough.clone().watch(
        Hours(limit),
        |t| Celsius(temp(t.0)),
        DT,
        |t, d| {
            let now = of(d, Celsius(temp(t.0)));
            let (t0, before) = last.get();
            if now >= level {
                found.set(t0 + (level - before) / (now - before) * (t.0 - t0));
                return ControlFlow::Break(());
            }
            last.set((t.0, now));
            ControlFlow::Continue(())
        },
    );
    found.get()
}

fn time_to_rise(dough: &Dough, temp: f64, percent: f64) -> f64 {
    time_until(dough, |_| temp, 40.0, percent, |d, t| d.rise(t).0)
}

/// Generations of something that counts cells.
fn generations(start: f64, end: f64) -> f64 {
    libm::log2(end / start)
}

fn organisms(set: &ParameterSet, v: &mut Values) {
    let lab = |t: f64| set.bacterium.growth_at(Celsius(t));
    let yeast = |t: f64| set.levain_yeast.growth_at(Celsius(t));
    let at = [("15", 15.0), ("20", 20.0), ("37", 37.0), ("39", 39.0)];
    for ((_, t), id) in at.into_iter().zip([
        "ferment-1-lab-15",
        "ferment-1-lab-20",
        "ferment-1-lab-37",
        "ferment-1-lab-39",
    ]) {
        v.insert(id, lab(t));
    }
    for (t, id) in [
        (14.0, "ferment-2-yeast-14"),
        (20.0, "ferment-2-yeast-20"),
        (32.0, "ferment-2-yeast-32"),
        (34.0, "ferment-2-yeast-34"),
    ] {
        v.insert(id, yeast(t));
    }
    for (t, id, id_yeast) in [
        (10.0, "ferment-3-lab-10", "ferment-4-yeast-10"),
        (16.0, "ferment-3-lab-16", "ferment-4-yeast-16"),
        (20.0, "ferment-3-lab-20", "ferment-4-yeast-20"),
        (24.0, "ferment-3-lab-24", "ferment-4-yeast-24"),
        (28.0, "ferment-3-lab-28", "ferment-4-yeast-28"),
    ] {
        v.insert(id, set.bacterium.mu_opt_per_h * lab(t));
        v.insert(id_yeast, set.levain_yeast.mu_opt_per_h * yeast(t));
    }
    v.insert("data-8-lab-4", set.bacterium.mu_opt_per_h * lab(4.0));
    v.insert("data-8-lab-10-over-16", lab(10.0) / lab(16.0));
    let max_slope = |row: &Yeast, t: f64| row.mu_opt_per_h * row.growth_at(Celsius(t));
    v.insert("data-16-lab", set.bacterium.mu_opt_per_h * lab(25.0));
    v.insert("data-16-bakers-yeast", max_slope(&set.bakers_yeast, 25.0));
}

/// A mature white sourdough of dough yield 160 and its refreshment: pH, acids, cells.
fn published_sourdough(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    let mut s = ripe(set, white(), 60.0)?;
    s.state.lactate = 43.3;
    s.state.acetate = 10.2;
    s.state.ln_yeast += libm::log(libm::exp10(7.33) / s.yeast_cells_per_g());
    s.state.ln_lab += libm::log(libm::exp10(9.53) / s.lab_cells_per_g());
    v.insert("ferment-5-ph", s.ph().0);
    v.insert("ferment-5-tta", s.tta(PH_8_5).0);
    // 20 % inoculum is assumed
    let fresh = mix(set, (white(), 500.0), 300.0, 0.0, (&s, 200.0), 30.0)?;
    for (hours, ids) in [
        (
            4.0,
            [
                "ferment-6-ph",
                "ferment-6-tta",
                "ferment-6-lab",
                "ferment-6-yeast",
                "ferment-6-lactate",
                "ferment-6-acetate",
            ],
        ),
        (
            24.0,
            [
                "ferment-7-ph",
                "ferment-7-tta",
                "ferment-7-lab",
                "ferment-7-yeast",
                "ferment-7-lactate",
                "ferment-7-acetate",
            ],
        ),
    ] {
        let d = after(&fresh, hours, 30.0);
        let ours = [
            d.ph().0,
            d.tta(PH_8_5).0,
            libm::log10(d.lab_cells_per_g()),
            libm::log10(d.yeast_cells_per_g()),
            d.state.lactate,
            d.state.acetate,
        ];
        for (id, x) in ids.into_iter().zip(ours) {
            v.insert(id, x);
        }
        if hours == 24.0 {
            let all = fresh.state.maltose + fresh.state.starch;
            v.insert("ferment-8-maltose", 100.0 * (d.state.maltose + d.state.starch) / all);
            let hexose = d.state.hexose / d.composition.flour;
            v.insert("ferment-8-hexose", hexose);
        }
    }
    Ok(())
}

fn levain(set: &ParameterSet, seed: &Dough, parts: f64, temp: f64) -> Result<Dough, MixError> {
    let feed = Feed {
        seed: 1.0,
        flour: parts,
        water: parts,
        flours: vec![(white(), Percent(100.0))],
        temperature: Celsius(temp),
        hours: Hours(0.0),
    };
    feed.mixed(seed, set)
}

fn peak(dough: &Dough, temp: f64) -> f64 {
    use_window(dough, |_| Celsius(temp), Hours(40.0)).map_or(f64::NAN, |w| w.peak.0)
}

fn starters(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    let seed = ripe(set, white(), 100.0)?;
    let one = levain(set, &seed, 1.0, 25.0)?;
    v.insert("ferment-10", peak(&one, 25.0));
    v.insert("ferment-10-two", peak(&levain(set, &seed, 2.0, 25.0)?, 25.0));
    v.insert("ferment-11", peak(&levain(set, &seed, 5.0, 25.0)?, 25.0));
    v.insert("ferment-12", peak(&levain(set, &seed, 10.0, 25.0)?, 25.0));
    let two = Feed {
        seed: 1.0,
        flour: 2.0,
        water: 2.0,
        flours: vec![(white(), Percent(100.0))],
        temperature: Celsius(24.0),
        hours: Hours(12.0),
    };
    let kept = engine::culture::build(&seed, &vec![two; 8], set)?;
    v.insert("ferment-9-yeast", libm::log10(kept.yeast_cells_per_g()));
    v.insert("ferment-9-lab", libm::log10(kept.lab_cells_per_g()));
    v.insert("ferment-9-ratio", kept.lab_cells_per_g() / kept.yeast_cells_per_g());
    v.insert("ferment-9-ph", kept.ph().0);
    let mut warm = f64::NAN;
    for (days, id) in
        [(0.0, ""), (3.0, "ferment-29-3"), (7.0, "ferment-29-7"), (14.0, "ferment-29-14")]
    {
        let cold = Culture { fridge_days: days, ..Culture::white() }.dough(set)?;
        let hours = peak(&levain(set, &cold, 2.0, 25.0)?, 25.0);
        if days == 0.0 {
            warm = hours;
        } else {
            v.insert(id, hours - warm);
        }
    }
    v.insert("ferment-30", seed.tta(Ph(6.6)).0);
    Ok(())
}

/// White dough of 70 % with 2 % salt and so much ripe starter, g for 1000 g of flour.
fn plain(set: &ParameterSet, starter: f64, temp: f64) -> Result<Dough, MixError> {
    let seed = ripe(set, white(), 100.0)?;
    mix(set, (white(), 1000.0), 700.0, 20.0, (&seed, starter), temp)
}

fn doughs(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    let d = plain(set, 200.0, 24.5)?;
    v.insert("ferment-13-50", time_to_rise(&d, 24.5, 50.0));
    v.insert("ferment-13-75", time_to_rise(&d, 24.5, 75.0));
    v.insert("ferment-14", time_to_rise(&plain(set, 100.0, 24.5)?, 24.5, 50.0));
    v.insert("ferment-15", time_to_rise(&plain(set, 400.0, 24.5)?, 24.5, 50.0));
    for (t, id) in [
        (18.0, "ferment-16-18"),
        (21.0, "ferment-16-21"),
        (24.5, "ferment-16-24"),
        (28.0, "ferment-16-28"),
        (31.0, "ferment-16-31"),
    ] {
        v.insert(id, time_to_rise(&plain(set, 200.0, t)?, t, 50.0));
    }
    let seed = ripe(set, white(), 100.0)?;
    let slow = mix(set, (white(), 1000.0), 700.0, 0.0, (&seed, 100.0), 25.0)?;
    v.insert("ferment-17-0", slow.ph().0);
    v.insert("ferment-17-12", after(&slow, 12.0, 25.0).ph().0);
    v.insert("ferment-17-24", after(&slow, 24.0, 25.0).ph().0);

    let hours_to_4 = |t: f64| time_until(&slow, |_| t, 60.0, -4.0, |d, _| -d.ph().0);
    v.insert("data-6", after(&slow, hours_to_4(25.0), 25.0).tta(PH_8_5).0);
    let (warm, hot) = (hours_to_4(25.0), hours_to_4(35.0));
    v.insert("ferment-20-ratio", warm / hot);
    v.insert("ferment-21", after(&slow, 72.0, 25.0).ph().0 - after(&slow, 72.0, 35.0).ph().0);
    let tta = |flour: Flour| -> Result<f64, MixError> {
        let d = mix(set, (flour, 1000.0), 1000.0, 0.0, (&seed, 200.0), 30.0)?;
        Ok(after(&d, 16.0, 30.0).tta(PH_8_5).0)
    };
    v.insert("ferment-25", tta(wholemeal())? / tta(white())?);
    Ok(())
}

fn bakers_yeast(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    // mL/h for 100 g of flour, at 30 °C
    let d = yeasted(set, 600.0, 20.0, 20.0, 30.0)?;
    let made = |t: f64| after(&d, t, 30.0).state.co2_made;
    let ml = engine::gas::GAS_CONSTANT * 1e3 * 303.15 / d.composition.flour / 10.0;
    v.insert("ferment-18-first", made(1.0) * ml);
    v.insert("ferment-18-later", (made(3.0) - made(1.0)) / 2.0 * ml);
    let gain = |yeast: f64, from: f64, to: f64| -> Result<f64, MixError> {
        let d = yeasted(set, 600.0, 20.0, yeast, 27.0)?;
        let cells = |t: f64| after(&d, t, 27.0).yeast_cells_per_g();
        Ok(100.0 * (cells(to) / cells(from) - 1.0))
    };
    v.insert("ferment-19-half", gain(5.0, 0.0, 6.0)?);
    v.insert("ferment-19-two", gain(20.0, 0.0, 6.0)?);
    v.insert("data-10-0", gain(16.7, 0.0, 2.0)?);
    v.insert("data-10-2", gain(16.7, 2.0, 4.0)?);
    v.insert("data-10-4", gain(16.7, 4.0, 6.0)?);
    // 2 % yeast and twice the volume are assumed
    let double = |t: f64| -> Result<f64, MixError> {
        Ok(60.0 * time_to_rise(&yeasted(set, 600.0, 20.0, 20.0, t)?, t, 100.0))
    };
    v.insert("data-9-13", double(13.0)?);
    // a sour of 10 % starter with and without 1 % baker's yeast
    let seed = ripe(set, white(), 100.0)?;
    let sour = |yeast: f64| -> Result<Dough, MixError> {
        let mix = Mix {
            flours: vec![(white(), Grams(1000.0))],
            water: Grams(1000.0),
            fresh_yeast: Grams(yeast),
            preferments: vec![(seed.clone(), Grams(100.0))],
            ..Mix::empty(Celsius(30.0))
        };
        Ok(after(&Dough::mix(&mix, set)?, 20.0, 30.0))
    };
    let (alone, both) = (sour(0.0)?, sour(10.0)?);
    v.insert("data-15-acetate", both.state.acetate / alone.state.acetate);
    v.insert("data-15-lactate", both.state.lactate / alone.state.lactate);
    // 0.6 g fresh yeast for 1 L of water and 1.7 kg of flour, 50 g of salt: a pizza dough
    let mix = Mix {
        flours: vec![(white(), Grams(1700.0))],
        water: Grams(1000.0),
        salt: Grams(50.0),
        fresh_yeast: Grams(0.6),
        ..Mix::empty(Celsius(22.0))
    };
    let pizza = Dough::mix(&mix, set)?;
    v.insert("data-11", 1.0 + after(&pizza, 30.0, 22.0).rise(Celsius(22.0)).0 / 100.0);
    Ok(())
}

fn rye_and_heat(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    // dough yield 200, 10 % of it ripe sour; 4 % salt on flour
    let sour = ripe(set, rye(), 100.0)?;
    let fresh = |salt: f64, t: f64| mix(set, (rye(), 450.0), 450.0, salt, (&sour, 100.0), t);
    let growth = |d: &Dough, hours: f64, t: f64| {
        let e = after(d, hours, t);
        [
            generations(d.lab_cells_per_g(), e.lab_cells_per_g()),
            generations(d.yeast_cells_per_g(), e.yeast_cells_per_g()),
        ]
    };
    let salted = growth(&fresh(20.0, 28.0)?, 6.0, 28.0);
    let free = growth(&fresh(0.0, 28.0)?, 6.0, 28.0);
    v.insert("ferment-22-lab", salted[0] / free[0]);
    v.insert("ferment-22-yeast", salted[1] / free[1]);
    v.insert("ferment-23-hot", growth(&fresh(0.0, 35.0)?, 12.0, 35.0)[1]);
    let quotient = |t: f64| -> Result<f64, MixError> {
        let d = after(&fresh(0.0, t)?, 24.0, t);
        Ok(d.state.lactate / d.state.acetate)
    };
    v.insert("ferment-24", quotient(35.0)? / quotient(28.0)?);
    let end = after(&fresh(0.0, 30.0)?, 24.0, 30.0);
    v.insert("data-7-ph", end.ph().0);
    v.insert("data-7-tta", end.tta(PH_8_5).0);
    Ok(())
}

/// A dough of 24.5 °C some hours in the fridge, time constant 2.5 h.
fn cooled(fridge: f64, hours: f64) -> Celsius {
    Celsius(fridge + (24.5 - fridge) * libm::exp(-hours / 2.5))
}

/// Bulk at 24.5 °C to +47 %, shaped, then cooled with a time constant of 2.5 h.
fn retarded(set: &ParameterSet, fridge: f64) -> Result<[Dough; 3], MixError> {
    let mut d = plain(set, 200.0, 24.5)?;
    let bulk = time_to_rise(&d, 24.5, 47.0);
    d.ferment(Hours(bulk), |_| Celsius(24.5), DT);
    d.degas(0.35, Celsius(24.5));
    d.mark(Celsius(24.5));
    let cool = |t: Hours| cooled(fridge, t.0);
    let mut six = d.clone();
    six.ferment(Hours(6.0), cool, DT);
    let mut night = d.clone();
    night.ferment(Hours(14.0), cool, DT);
    Ok([d, six, night])
}

fn retard(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    let [shaped, six, night] = retarded(set, 4.0)?;
    v.insert("ferment-26-bulk", shaped.ph().0);
    v.insert("ferment-26-late", night.rise(cooled(4.0, 14.0)).0 - six.rise(cooled(4.0, 6.0)).0);
    v.insert("ferment-26-drop", shaped.ph().0 - night.ph().0);
    v.insert("ferment-26-ph", night.ph().0);
    let [_, _, warm] = retarded(set, 7.0)?;
    v.insert("ferment-27", warm.rise(cooled(7.0, 14.0)).0 - night.rise(cooled(4.0, 14.0)).0);
    // a dough that is already cold
    let mut cold = shaped;
    cold.mark(Celsius(4.0));
    v.insert("ferment-28", after(&cold, 12.0, 4.0).rise(Celsius(4.0)).0);
    Ok(())
}

fn san_francisco(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    // sponge: 100 flour, 50 water, 67 ripe sponge (40 % of the flour weight is in it)
    let ripe_sponge = after(
        &mix(set, (white(), 100.0), 50.0, 0.0, (&ripe(set, white(), 50.0)?, 100.0), 26.7)?,
        8.0,
        26.7,
    );
    let sponge = mix(set, (white(), 100.0), 50.0, 0.0, (&ripe_sponge, 100.0), 26.7)?;
    v.insert("data-1-start", sponge.ph().0);
    v.insert("data-1-end", after(&sponge, 7.5, 26.7).ph().0);
    v.insert("data-4-sponge", after(&sponge, 7.5, 26.7).yeast_cells_per_g());
    // 9.2 % of the dough is sour, 44.2 % water as printed; temperature assumed
    let slack = mix(set, (white(), 456.0), 442.0, 9.0, (&ripe_sponge, 92.0), 30.0)?;
    v.insert("data-3-start", slack.ph().0);
    v.insert("data-3-end", after(&slack, 7.0, 30.0).ph().0);
    v.insert("data-4-dough", slack.yeast_cells_per_g());
    Ok(())
}

fn balances(set: &ParameterSet, v: &mut Values) -> Result<(), MixError> {
    let d = plain(set, 200.0, 25.0)?;
    let e = after(&d, 12.0, 25.0);
    v.insert("ferment-31-carbon", e.carbon() / d.carbon() - 1.0);
    let s = &e.state;
    v.insert("ferment-31-gas", (s.co2 + s.co2_lost - d.state.co2 - s.co2_made) / s.co2_made);
    Ok(())
}
