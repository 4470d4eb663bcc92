use super::*;
use crate::numerics::weighted::Weighted;
use proptest::prelude::*;

const EMBEDDED: [&str; 2] = Belief::NAMES;

fn all(draws: &Draws, what: Uncertain) -> Weighted {
    draws.weighted(&draws.column(what).unwrap()).unwrap()
}

#[test]
fn every_embedded_belief_reads_and_holds_every_quantity() {
    for (name, text) in BELIEFS {
        let belief = Belief::from_toml(text).unwrap();
        assert_eq!(belief.name, name);
        for (known, what) in Uncertain::NAMES {
            assert!(belief.find(known).unwrap().is_some(), "{name} {known}");
            assert_eq!(belief.find(known), Ok(belief.get(*what)));
        }
        assert_eq!(Belief::named(name), Some(&belief));
    }
    assert_eq!(BELIEFS.map(|(name, _)| name), EMBEDDED);
    assert_eq!(Belief::named("mine"), None);
    let room = |b: &Belief| b.get(Uncertain::Room).unwrap().unit;
    assert_eq!(room(Belief::readers()), Unit::Celsius);
    assert_eq!(room(Belief::own_kitchen()), Unit::Kelvin);
}

#[test]
fn dimensions_follow_the_list() {
    for (i, (_, what)) in Uncertain::NAMES.iter().enumerate() {
        assert_eq!(what.dimension(), i);
    }
}

#[test]
fn files_and_json_read_back_the_same() {
    for name in EMBEDDED {
        let belief = Belief::named(name).unwrap();
        assert_eq!(Belief::from_toml(&belief.to_toml()).as_ref(), Ok(belief));
        let json = serde_json::to_string(belief).unwrap();
        assert_eq!(&serde_json::from_str::<Belief>(&json).unwrap(), belief);
        let bad = json.replace("\"factor\"", "\"K\"");
        let e = serde_json::from_str::<Belief>(&bad).unwrap_err().to_string();
        assert!(e.contains("quantity 1 (yeast_vigour), unit"), "{e}");
    }
    let odd = Belief { about: "a \"b\" \\ \n \u{7} ü".into(), ..Belief::readers().clone() };
    assert_eq!(Belief::from_toml(&odd.to_toml()), Ok(odd));
}

#[test]
fn unknown_names_come_with_a_suggestion() {
    let e = Belief::readers().find("yeast_vigor").unwrap_err();
    assert_eq!(e.near, Some("yeast_vigour"));
    assert_eq!(
        e.to_string(),
        "\"yeast_vigor\" is no uncertain quantity; did you mean \"yeast_vigour\"?"
    );
    let e = Uncertain::of_name("weather").unwrap_err().to_string();
    assert!(e.contains("known are yeast_vigour"), "{e}");
}

const ROW: &str = r#"name = "mine"
[[quantity]]
name = "room"
unit = "K"
distribution = "normal"
mean = 0
sd = 0.7
mark = "ours"
says = "air"
"#;

#[test]
fn problems_say_where_and_what() {
    assert!(Belief::from_toml(ROW).is_ok());
    for (from, to, field, message, hint) in [
        ("\"room\"", "\"rom\"", "quantity 1 (rom), name", "\"rom\" is not known here", "\"room\"?"),
        (
            "\"K\"",
            "\"factor\"",
            "quantity 1 (room), unit",
            "room is not given in factor",
            "\"°C\" or \"K\"",
        ),
        (
            "\"normal\"",
            "\"lognormal\"",
            "quantity 1 (room), mean",
            "does not belong to a lognormal",
            "median, sd_log",
        ),
        (
            "\"normal\"",
            "\"norml\"",
            "quantity 1 (room), distribution",
            "is not known",
            "\"normal\"?",
        ),
        ("sd = 0.7", "", "quantity 1 (room), sd", "is missing", "mean, sd"),
        (
            "sd = 0.7",
            "sd = 0",
            "quantity 1 (room), sd",
            "0 is not above 0",
            "leave the quantity out",
        ),
        ("sd = 0.7", "sd = inf", "quantity 1 (room), sd", "inf is no finite number", ""),
        (
            "sd = 0.7",
            "sd = 100",
            "quantity 1 (room), distribution",
            "are outside -250 to 250",
            "cut it",
        ),
        ("sd = 0.7", "sdd = 0.7", "the file", "unknown field `sdd`", "sd?"),
        ("\"ours\"", "\"published\"", "quantity 1 (room), source", "is empty", "has a source"),
        ("\"ours\"", "\"our\"", "quantity 1 (room), mark", "is not known", "\"ours\"?"),
        ("\"air\"", "\"\"", "quantity 1 (room), says", "is empty", "plain words"),
        ("\"mine\"", "\"\"", "name", "is empty", ""),
        ("name = \"mine\"", "", "the file", "missing field `name`", ""),
        ("= \"K\"", "= K", "the file", "", ""),
    ] {
        let text = ROW.replacen(from, to, 1);
        let problems = Belief::from_toml(&text).unwrap_err();
        let p = problems.iter().find(|p| p.field == field && p.message.contains(message));
        let p = p.unwrap_or_else(|| panic!("{to}: {problems:?}"));
        assert!(p.hint.clone().unwrap_or_default().contains(hint), "{to}: {p:?}");
        assert!(p.span.end <= text.len());
    }
    let twice = format!("{ROW}{}", &ROW[ROW.find("[[").unwrap()..]);
    let problems = Belief::from_toml(&twice).unwrap_err();
    assert_eq!((problems.len(), problems[0].message.as_str()), (1, "stands here twice"));
    assert_eq!(problems[0].line(&twice), 10);
    let cut =
        ROW.replace("\"normal\"", "\"truncated normal\"").replace("mark", "from = 3\nto = 2\nmark");
    assert!(Belief::from_toml(&cut).unwrap_err()[0].message.contains("nothing is left"));
    assert!(Belief::from_toml(&"#".repeat(2_000_000)).is_err());
}

/// Mean and sd of the embedded priors in closed form against the lanes.
#[test]
fn lanes_have_the_moments_of_their_distribution() {
    let draws = Draws::new(Belief::readers().clone(), 4096, 5);
    for q in &Belief::readers().quantities {
        let (mean, sd) = match q.distribution {
            Distribution::Normal { mean, sd } => (mean, sd),
            Distribution::Lognormal { median, sd_log: s } => {
                let mean = median * libm::exp(0.5 * s * s);
                (mean, mean * libm::expm1(s * s).sqrt())
            }
            Distribution::HalfNormal { scale } => {
                let pi = std::f64::consts::PI;
                (scale * (2.0 / pi).sqrt(), scale * (1.0 - 2.0 / pi).sqrt())
            }
            // SciPy 1.17 `stats.truncnorm`
            Distribution::TruncatedNormal { mean: 19.5, .. } => {
                (19.527_613_969_001_17, 2.133_624_834_505_675_4)
            }
            Distribution::TruncatedNormal { .. } => (5.351_965_713_851_192, 2.202_661_711_398_719),
            Distribution::Uniform { from, to } => {
                (0.5 * (from + to), (to - from) / 12.0_f64.sqrt())
            }
        };
        let ours = all(&draws, q.what);
        assert!((ours.mean() - mean).abs() < 2e-3 * sd, "{:?} {} {mean}", q.what, ours.mean());
        assert!((ours.sd() / sd - 1.0).abs() < 5e-3, "{:?} {} {sd}", q.what, ours.sd());
    }
}

#[test]
fn quantities_are_independent() {
    for points in [Points::Sobol, Points::Random] {
        let n = 4096;
        let draws = Draws::with_points(Belief::readers().clone(), n, 12, points);
        let z = |what, lane| crate::numerics::normal::quantile(draws.probability(what, lane));
        for (i, (_, a)) in Uncertain::NAMES.iter().enumerate() {
            for (_, b) in &Uncertain::NAMES[i + 1..] {
                let r: f64 =
                    (0..n).map(|lane| z(*a, lane) * z(*b, lane)).sum::<f64>() / f64::from(n);
                // 1/√n is one standard error of independent draws
                assert!(r.abs() < 5.0 / f64::from(n).sqrt(), "{points:?} {a:?} {b:?} {r}");
            }
        }
    }
}

#[test]
fn a_draw_depends_on_seed_quantity_and_lane_only() {
    let readers = Belief::readers();
    let one = Belief {
        quantities: vec![readers.get(Uncertain::Fridge).unwrap().clone()],
        ..readers.clone()
    };
    for points in [Points::Sobol, Points::Random] {
        let many = Draws::with_points(readers.clone(), 1000, 3, points);
        let few = Draws::with_points(one.clone(), 10, 3, points);
        for lane in [0, 9, 500] {
            let fridge = many.value(Uncertain::Fridge, lane);
            assert!(fridge.is_some() && fridge == few.value(Uncertain::Fridge, lane));
            assert!(
                many.lane(lane).any(|(what, x)| what == Uncertain::Fridge && Some(x) == fridge)
            );
        }
        assert_eq!(few.value(Uncertain::Room, 0), None);
        let other = Draws::with_points(one.clone(), 10, 4, points);
        assert_ne!(few.value(Uncertain::Fridge, 0), other.value(Uncertain::Fridge, 0));
    }
}

/// What is believed of a normal offset after one reading with a normal error: closed form.
#[test]
fn reweighting_is_bayes() {
    let mut draws = Draws::new(Belief::own_kitchen().clone(), 1 << 14, 8);
    let (prior, error, seen) = (0.7, 0.5, 0.9);
    let likelihoods: Vec<f64> = (0..draws.lanes() as u32)
        .map(|lane| {
            let off = (seen - draws.value(Uncertain::Room, lane).unwrap()) / error;
            -0.5 * off * off + 1234.5 // a constant does not matter
        })
        .collect();
    draws.reweight(&likelihoods).unwrap();
    let share = prior * prior / (prior * prior + error * error);
    let room = all(&draws, Uncertain::Room);
    assert!((room.mean() - share * seen).abs() < 1e-3, "{}", room.mean());
    assert!((room.sd() - prior * (1.0 - share).sqrt()).abs() < 2e-3, "{}", room.sd());
    assert!((draws.weights().iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(draws.effective_size() < 0.9 * draws.lanes() as f64);
    // what the room does not tell of stays
    assert!((all(&draws, Uncertain::LabVigour).quantile(0.5) - 1.0).abs() < 0.01);
    // the same lanes again, now by number
    let places = draws.resampled(4096);
    let mean =
        places.iter().map(|lane| draws.value(Uncertain::Room, *lane as u32).unwrap()).sum::<f64>()
            / 4096.0;
    assert!((mean - share * seen).abs() < 0.02, "{mean}"); // three standard errors
}

#[test]
fn evidence_that_cannot_be_used_changes_nothing() {
    let mut draws = Draws::new(Belief::readers().clone(), 3, 0);
    let before = draws.clone();
    assert_eq!(draws.reweight(&[0.0]), Err(BadEvidence::Length { lanes: 3, given: 1 }));
    assert_eq!(draws.reweight(&[0.0, f64::INFINITY, 0.0]), Err(BadEvidence::Infinite { at: 1 }));
    let never = [f64::NEG_INFINITY, f64::NAN, f64::NEG_INFINITY];
    assert_eq!(draws.reweight(&never), Err(BadEvidence::Impossible));
    assert_eq!(draws, before);
    draws.reweight(&[f64::NEG_INFINITY, -1e6, f64::NAN]).unwrap();
    assert_eq!((draws.weights(), draws.effective_size()), ([0.0, 1.0, 0.0].as_slice(), 1.0));
    assert_eq!(draws.resampled(2), [1, 1]);
    assert_eq!(Draws::new(Belief::readers().clone(), 0, 0).lanes(), 1);
}

proptest! {
    #[test]
    fn quantiles_are_finite_and_ascend(u: f64, v in 0.0..=1.0f64, w in 0.0..=1.0f64) {
        for belief in EMBEDDED.map(|n| Belief::named(n).unwrap()) {
            for q in &belief.quantities {
                prop_assert!(q.at(u).is_finite());
                let (low, high) = (q.at(v.min(w)), q.at(v.max(w)));
                prop_assert!(low <= high, "{:?} {} {}", q.what, low, high);
                let (from, to) = q.unit.range();
                prop_assert!(from <= low && high <= to);
            }
        }
    }

    #[test]
    fn weights_sum_to_one(
        seed: u64,
        likelihoods in prop::collection::vec(prop_oneof![9 => -1e3..1e3f64, 1 => any::<f64>()], 1..50),
        again in -1e3..1e3f64,
    ) {
        let n = likelihoods.len();
        let mut draws = Draws::new(Belief::readers().clone(), n as u32, seed);
        for l in [likelihoods, vec![again; n]] {
            let _ = draws.reweight(&l);
            let sum: f64 = draws.weights().iter().sum();
            prop_assert!((sum - 1.0).abs() < 1e-12);
            let by_log: f64 = draws.log_weights().iter().map(|w| libm::exp(*w)).sum();
            prop_assert!((by_log - 1.0).abs() < 1e-9, "{}", by_log);
            prop_assert!((1.0..=n as f64).contains(&draws.effective_size()));
        }
        for lane in [0, u32::MAX] {
            prop_assert_eq!(draws.lane(lane).filter(|(_, x)| x.is_finite()).count(), Uncertain::NAMES.len());
        }
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,200}", at in 0..5000usize, byte in "[ -~]") {
        let _ = Belief::from_toml(&text);
        let mut near = BELIEFS[0].1.to_owned();
        let at = (0..=at.min(near.len())).rev().find(|i| near.is_char_boundary(*i)).unwrap_or(0);
        near.insert_str(at, &byte);
        if let Err(problems) = Belief::from_toml(&near) {
            prop_assert!(!problems.is_empty() && problems.iter().all(|p| p.span.end <= near.len()));
        }
    }
}

/// Rooms are the only thing a season changes; any season is as wide as half of each.
#[test]
fn seasons_change_the_rooms() {
    let [cold, warm, any] = [Season::Cold, Season::Warm, Season::Any].map(Belief::readers_in);
    assert_eq!(cold, *Belief::readers());
    let room = |b: &Belief, u| b.get(Uncertain::Room).unwrap().at(u);
    assert!(room(&cold, 0.5) < room(&any, 0.5) && room(&any, 0.5) < room(&warm, 0.5));
    let wide = |b: &Belief| room(b, 0.9) - room(b, 0.1);
    assert!(wide(&any) > wide(&cold) && wide(&any) > wide(&warm));
    for b in [&warm, &any] {
        assert!(!b.about.contains("heating") && b.name != cold.name);
        let alike = b.quantities.iter().zip(&cold.quantities).filter(|(a, b)| a == b).count();
        assert_eq!(alike, cold.quantities.len() - 1);
        assert_eq!(Belief::from_toml(&b.to_toml()).unwrap(), *b);
    }
}
