//! The culture between bakes: a ripe starter, its feeds, its days in the fridge, the hours in
//! which it is ready to use.
//!
//! A starter is a [`Dough`] like any other. Only its first state is special: nobody counts
//! cells at home, so it starts from the usual ripe starter and takes its age, ratio and warmth
//! from the feeds that are simulated after it.

use crate::ferment::{Dough, Mix, MixError};
use crate::flour::Flour;
use crate::parameters::ParameterSet;
use quantity::{Celsius, Grams, Hours, Kilopascal, Percent};
use std::ops::ControlFlow;

/// Steps of simulated starters, h.
const STEP: Hours = Hours(0.1);

/// A ripe starter at its peak.
///
/// White, 100 % hydration: 2·10⁷ yeast and 2·10⁹ bacteria per g, pH 3.8, the state the
/// model returns to when it is fed 1:2:2 twice a day at 24 °C; published counts are
/// 10⁶..5·10⁷ and 10⁸..3·10⁹. In another flour or hydration cells and sugars go with the
/// flour and acids with its buffer, so the pH is the same (ours).
///
/// # Errors
/// As [`Dough::mix`].
pub fn ripe_starter(
    flours: &[(Flour, Percent)],
    hydration: Percent,
    pressure: Kilopascal,
    set: &ParameterSet,
) -> Result<Dough, MixError> {
    let temp = Celsius(25.0);
    let all: f64 = flours.iter().map(|(_, share)| share.0).sum();
    let mix = Mix {
        flours: flours.iter().map(|(f, share)| (f.clone(), Grams(share.0))).collect(),
        water: Grams(all * hydration.fraction()),
        pressure,
        ..Mix::empty(temp)
    };
    let mut dough = Dough::mix(&mix, set)?;
    let (yeast, lab) = (&set.levain_yeast, &set.bacterium);
    let by_flour = dough.composition.flour / 0.5;
    let by_buffer = dough.composition.buffer / (0.5 * set.white.buffer_mmol_per_ph);
    let s = &mut dough.state;
    s.ln_yeast = libm::log(2e7 * yeast.cell_pg * 1e-9 * by_flour);
    s.ln_lab = libm::log(2e9 * lab.cell_pg * 1e-9 * by_flour);
    s.yeast_readiness = yeast.fresh_readiness;
    s.lab_readiness = lab.ripe_readiness;
    s.maltose = 20.0 * by_flour;
    s.hexose = 6.0 * by_flour;
    s.starch = 10.0 * by_flour;
    s.growth_left = 0.1 * yeast.capacity_g_per_kg_flour * dough.composition.flour;
    s.lactate = 45.0 * by_buffer;
    s.acetate = 10.0 * by_buffer;
    s.ethanol = 60.0 * by_flour;
    s.co2 = 25.0;
    s.nitrogen = 1.0;
    dough.mark(temp);
    Ok(dough)
}

/// A feed: parts of seed, flour and water by mass, and the time it then stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Feed {
    /// Parts of ripe starter.
    pub seed: f64,
    /// Parts of flour.
    pub flour: f64,
    /// Parts of water.
    pub water: f64,
    /// The flour, as shares of any sum.
    pub flours: Vec<(Flour, Percent)>,
    /// Where it stands.
    pub temperature: Celsius,
    /// How long.
    pub hours: Hours,
}

impl Feed {
    /// The feed just mixed, before its hours.
    ///
    /// # Errors
    /// As [`Dough::mix`].
    pub fn mixed(&self, seed: &Dough, set: &ParameterSet) -> Result<Dough, MixError> {
        let all: f64 = self.flours.iter().map(|(_, share)| share.0).sum();
        let mix = Mix {
            flours: self
                .flours
                .iter()
                .map(|(f, share)| (f.clone(), Grams(self.flour * share.0 / all)))
                .collect(),
            water: Grams(self.water),
            preferments: vec![(seed.clone(), Grams(self.seed))],
            pressure: Kilopascal(seed.composition.pressure_atm * 101.325),
            ..Mix::empty(self.temperature)
        };
        Dough::mix(&mix, set)
    }
}

/// A seed after any number of feeds.
///
/// # Errors
/// As [`Dough::mix`].
pub fn build(seed: &Dough, feeds: &[Feed], set: &ParameterSet) -> Result<Dough, MixError> {
    let mut dough = seed.clone();
    for feed in feeds {
        dough = feed.mixed(&dough, set)?;
        dough.ferment(feed.hours, |_| feed.temperature, STEP);
    }
    Ok(dough)
}

/// A culture as its keeper describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Culture {
    /// Its flour, as shares of any sum.
    pub flours: Vec<(Flour, Percent)>,
    /// Its hydration.
    pub hydration: Percent,
    /// Days in the fridge since it was last ripe; 0 for a culture kept warm.
    pub fridge_days: f64,
    /// The fridge.
    pub fridge: Celsius,
    /// Feeds since it came out.
    pub feeds: Vec<Feed>,
    /// How much faster its yeast is than the row; 1 is the row. Learned from bakes.
    pub yeast_vigour: f64,
    /// How much faster its bacteria grow than the row.
    pub lab_vigour: f64,
    /// Pressure of the room.
    pub pressure: Kilopascal,
}

impl Culture {
    /// The usual culture: white, 100 %, ripe, warm, at sea level.
    pub fn white() -> Self {
        Self {
            flours: vec![(Flour::white("white"), Percent(100.0))],
            hydration: Percent(100.0),
            fridge_days: 0.0,
            fridge: Celsius(4.0),
            feeds: Vec::new(),
            yeast_vigour: 1.0,
            lab_vigour: 1.0,
            pressure: Kilopascal(101.325),
        }
    }

    /// The starter as it is now: ripe, then in the fridge, then fed.
    ///
    /// Days beyond 60 change nothing any more and are taken as 60.
    ///
    /// # Errors
    /// As [`Dough::mix`], and on a vigour that is no positive number.
    pub fn dough(&self, set: &ParameterSet) -> Result<Dough, MixError> {
        for (what, value) in [
            ("the vigour of the yeast", self.yeast_vigour),
            ("the vigour of the bacteria", self.lab_vigour),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(MixError::BadAmount { what: what.to_owned(), value });
            }
        }
        let mut dough = ripe_starter(&self.flours, self.hydration, self.pressure, set)?;
        dough.organisms.yeast_vigour = self.yeast_vigour;
        dough.organisms.lab_vigour = self.lab_vigour;
        dough.ferment(Hours(24.0 * self.fridge_days.min(60.0)), |_| self.fridge, Hours(0.25));
        build(&dough, &self.feeds, set)
    }
}

/// When a levain can be used, hours from its mixing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UseWindow {
    /// It reaches 95 % of its greatest volume.
    pub from: Hours,
    /// It stops rising.
    pub peak: Hours,
    /// It falls below 95 % again.
    pub until: Hours,
}

/// The use window of a levain that stands at `temp` (hours from now), looked for up to `horizon`.
///
/// None when it has not stopped rising by then, or never rose by 2 %. A levain that has not
/// fallen below 95 % by the horizon is usable until the horizon.
pub fn use_window(
    levain: &Dough,
    temp: impl Fn(Hours) -> Celsius,
    horizon: Hours,
) -> Option<UseWindow> {
    let mut curve = vec![(0.0, levain.volume_l_per_kg(temp(Hours(0.0))))];
    let start = curve[0].1;
    let mut top: Option<(f64, f64)> = None;
    levain.clone().watch(horizon, &temp, STEP, |t, dough| {
        curve.push((t.0, dough.volume_l_per_kg(temp(t))));
        if let [.., (_, a), (t1, b), (t2, c)] = curve[..]
            && top.is_none()
            && b > 1.02 * start
            && b >= a
            && b > c
        {
            // the parabola through the three
            let x = 0.5 * (a - c) / (a - 2.0 * b + c);
            top = Some((t1 + x * (t2 - t1), b - 0.25 * (a - c) * x));
        }
        match (top, curve.last()) {
            (Some((_, v)), Some((_, now))) if *now < 0.95 * v => ControlFlow::Break(()),
            _ => ControlFlow::Continue(()),
        }
    });
    let (peak, volume) = top?;
    let level = 0.95 * volume;
    let crossing = |up: bool| {
        curve.windows(2).find_map(|pair| {
            let ((t0, v0), (t1, v1)) = (pair[0], pair[1]);
            let crosses = if up { v0 < level && v1 >= level } else { t1 > peak && v1 < level };
            crosses.then(|| t0 + (level - v0) / (v1 - v0) * (t1 - t0))
        })
    };
    Some(UseWindow {
        from: Hours(crossing(true).unwrap_or(0.0)),
        peak: Hours(peak),
        until: Hours(crossing(false).unwrap_or(horizon.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::Ph;

    fn feed(parts: f64, temp: f64, hours: f64) -> Feed {
        Feed {
            seed: 1.0,
            flour: parts,
            water: parts,
            flours: vec![(Flour::white("white"), Percent(100.0))],
            temperature: Celsius(temp),
            hours: Hours(hours),
        }
    }

    #[test]
    fn a_ripe_starter_is_as_sour_in_any_flour_and_hydration() {
        for set in ParameterSet::NAMES.map(|n| ParameterSet::named(n).unwrap()) {
            let sea = Kilopascal(101.325);
            let mut rye = Flour::white("rye");
            rye.grain = crate::flour::Grain::Rye;
            rye.ash = Percent(1.7);
            for (flour, hydration) in [(Flour::white("white"), 50.0), (rye, 100.0)] {
                let shares = [(flour, Percent(100.0))];
                let d = ripe_starter(&shares, Percent(hydration), sea, set).unwrap();
                assert!((d.ph().0 - 3.8).abs() < 0.1, "{:?}", d.ph());
            }
        }
    }

    #[test]
    fn a_greater_feed_peaks_later_and_cold_days_delay() {
        let set = ParameterSet::default_set();
        let peak = |seed: &Dough, parts: f64| {
            let levain = feed(parts, 25.0, 0.0).mixed(seed, set).unwrap();
            let w = use_window(&levain, |_| Celsius(25.0), Hours(40.0)).unwrap();
            assert!(w.from < w.peak && w.peak < w.until);
            w.peak
        };
        let seed = Culture::white().dough(set).unwrap();
        assert!(peak(&seed, 1.0) < peak(&seed, 2.0) && peak(&seed, 2.0) < peak(&seed, 5.0));
        let old = Culture { fridge_days: 7.0, ..Culture::white() }.dough(set).unwrap();
        assert!(peak(&old, 2.0) > peak(&seed, 2.0));
        assert!(old.ph() < seed.ph() && old.ph() > Ph(3.3));
    }

    #[test]
    fn no_window_without_a_rise() {
        let set = ParameterSet::default_set();
        let seed = Culture::white().dough(set).unwrap();
        let levain = feed(5.0, 3.0, 0.0).mixed(&seed, set).unwrap();
        assert_eq!(use_window(&levain, |_| Celsius(3.0), Hours(24.0)), None);
    }

    #[test]
    fn vigour_travels_through_feeds() {
        let set = ParameterSet::default_set();
        let culture = Culture {
            yeast_vigour: 1.2,
            lab_vigour: 0.9,
            feeds: vec![feed(2.0, 24.0, 12.0), feed(5.0, 24.0, 10.0)],
            ..Culture::white()
        };
        let d = culture.dough(set).unwrap();
        assert_eq!((d.organisms.yeast_vigour, d.organisms.lab_vigour), (1.2, 0.9));
        let dead = Culture { lab_vigour: 0.0, ..Culture::white() };
        assert!(dead.dough(set).is_err());
        let lost = Culture { fridge_days: f64::NAN, ..Culture::white() };
        assert!(lost.dough(set).is_ok());
    }
}
