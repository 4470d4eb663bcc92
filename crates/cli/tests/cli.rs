//! The binary as a person types it: what it prints, what it refuses, with which exit code.

#![allow(clippy::unwrap_used, reason = "a test file")]

use serde_json::{Value, json};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const RECIPE: &str = "examples/ferry-lane/recipes/tidewater-batard.toml";
const KITCHEN: &str = "examples/ferry-lane/kitchens/cold-flat.toml";
const NOW: [&str; 2] = ["--now", "2026-11-26 18:00"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn grigne(args: &[&str]) -> Output {
    fed(args, "")
}

fn fed(args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_grigne"))
        .args(args)
        .current_dir(root())
        .env("COLUMNS", "100")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // a child that refuses early closes its end
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

#[track_caller]
fn good(args: &[&str]) -> String {
    let out = grigne(args);
    let told = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{args:?}\n{told}");
    String::from_utf8(out.stdout).unwrap().replace('\u{a0}', " ")
}

#[track_caller]
fn refused(args: &[&str]) -> String {
    told(&grigne(args))
}

#[track_caller]
fn told(out: &Output) -> String {
    assert_eq!(out.status.code(), Some(2), "{}", String::from_utf8_lossy(&out.stdout));
    assert!(out.stdout.is_empty());
    String::from_utf8_lossy(&out.stderr).replace('\u{a0}', " ")
}

fn scratch(name: &str) -> PathBuf {
    let dir = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let path = dir.join(format!("{}-{name}", std::process::id()));
    let _ = std::fs::remove_file(&path);
    path
}

#[test]
fn the_formula_is_laid_out_and_adds_up() {
    let text = good(&["formula", RECIPE]);
    for part in ["strong white", "levain on final flour", "75 %", "Building the levain"] {
        let part = part.replace("75 %", "73 %");
        assert!(text.contains(&part), "{part}\n{text}");
    }
    assert!(!text.contains('\u{1b}'), "no escapes where nobody watches");
    let json: Value = serde_json::from_str(&good(&["formula", RECIPE, "--json"])).unwrap();
    let sheet = &json["sheet"];
    let sum = |a: &Value| -> f64 {
        let list =
            |k: &str| -> f64 { a[k].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).sum() };
        let one = |k: &str| a[k].as_f64().unwrap();
        list("flours") + list("others") + one("water") + one("salt") + one("yeast")
    };
    let columns = sum(&sheet["final_dough"]) + sum(&sheet["preferments"][0]["contents"]);
    assert!((sum(&sheet["total"]) - columns).abs() < 1e-9);
    assert_eq!(json["units"]["mass"], "g");
}

#[test]
fn every_way_to_scale() {
    let dough = |args: &[&str]| -> f64 {
        let mut all = vec!["formula", RECIPE, "--json", "--exact"];
        all.extend(args);
        let json: Value = serde_json::from_str(&good(&all)).unwrap();
        let t = &json["sheet"]["total"];
        t["flours"].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).sum()
    };
    let base = dough(&[]);
    assert!((dough(&["--pieces", "4"]) / base - 2.0).abs() < 1e-9);
    assert!((dough(&["--flour", "1 kg"]) - 1000.0).abs() < 1e-9);
    assert!((dough(&["--dough", "1750 g"]) - 1000.0).abs() < 1e-6);
    assert!(dough(&["--starter", "80 g"]) > base);
    assert!(dough(&["--fill-hearth", "-k", KITCHEN]) >= base);
    let two = grigne(&["formula", RECIPE, "--pieces", "4", "--flour", "1 kg"]);
    assert_eq!(two.status.code(), Some(2));
}

#[test]
fn a_blend_reaches_its_protein() {
    let json: Value = serde_json::from_str(&good(&[
        "formula",
        RECIPE,
        "--blend-protein",
        "12.4 %",
        "--json",
        "--exact",
    ]))
    .unwrap();
    assert!((json["sheet"]["figures"]["protein"].as_f64().unwrap() - 12.4).abs() < 1e-9);
    let far = refused(&["formula", RECIPE, "--blend-protein", "15 %"]);
    assert!(far.contains("cannot be blended"), "{far}");
}

#[test]
fn a_version_is_compared() {
    let path = scratch("version.toml");
    let text = std::fs::read_to_string(root().join(RECIPE)).unwrap();
    std::fs::write(&path, text.replace("water = \"73 %\"", "water = \"76 %\"")).unwrap();
    let text = good(&["formula", path.to_str().unwrap(), "--diff", RECIPE]);
    assert!(text.contains("What changed"), "{text}");
    assert!(
        text.lines().any(|l| l.starts_with("water") && l.contains("73 %") && l.contains("76 %"))
    );
    assert!(good(&["formula", RECIPE, "--diff", RECIPE]).contains("nothing"));
}

#[test]
fn written_recipes_read_back() {
    let text = good(&["formula", RECIPE, "--write"]);
    let out = fed(&["formula", "-", "--diff", RECIPE], &text);
    assert!(out.status.success());
    assert!(String::from_utf8_lossy(&out.stdout).contains("nothing"));
}

#[test]
fn water_in_both_units_and_a_measured_batch() {
    let text = good(&["water", RECIPE, "-k", KITCHEN]);
    assert!(text.contains("by heat balance") && text.contains("by trade rule"), "{text}");
    let us = good(&["water", RECIPE, "-k", KITCHEN, "--units", "us"]);
    assert!(us.contains("°F") && us.contains("oz") && !us.contains("°C"), "{us}");
    let measured = good(&[
        "water",
        RECIPE,
        "--room",
        "22 °C",
        "--flour-temp",
        "21 °C",
        "--preferment-temp",
        "23 °C",
        "--measured-water",
        "24 °C",
        "--measured-dough",
        "26 °C",
    ]);
    // Basis: computed by hand; 4 × 26 − (21 + 22 + 23 + 24) = 14
    assert!(measured.contains("friction factor 14 °C"), "{measured}");
}

#[test]
fn a_dough_in_every_form() {
    let base = ["ferment", RECIPE, "-k", KITCHEN, NOW[0], NOW[1], "--cold-proof"];
    let with = |extra: &'static str| good(&[&base[..], &[extra]].concat());
    let text = good(&base);
    for part in ["levain", "bulk", "retard", "TTA", "how sure", "in window", "Eight in ten of 512"]
    {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let json: Value = serde_json::from_str(&with("--json")).unwrap();
    let samples = json["trace"]["lines"][1]["samples"].as_array().unwrap();
    assert!(samples.len() > 100);
    assert!(samples.iter().all(|s| s["ph"].as_f64().is_some_and(|p| (3.0..7.0).contains(&p))));
    let csv = with("--csv");
    let cells: Vec<usize> = csv.lines().map(|l| l.split(',').count()).collect();
    assert!(cells.len() > 100 && cells.iter().all(|n| *n == cells[0]));
    assert!(csv.starts_with("line,clock,minute"), "{}", &csv[..80]);
    doughs_have_bands(&csv, &json["forecast"]);
    let svg = with("--svg");
    assert!(svg.starts_with("<svg") || svg.starts_with("<?xml"));
    for part in ["8 in 10 kitchens", "eight in ten of 512 kitchens", "class=\"fringe\""] {
        assert!(svg.contains(part), "{part}");
    }
    assert!(svg.contains("prefers-color-scheme:dark") && !svg.contains("NaN"));
    let first = good(&[&base[..], &["--parameters", "first"]].concat());
    assert_ne!(first, text, "the set as first specified is another");
}

/// A table by column; an empty field is a number that is none.
struct Columns<'t> {
    head: Vec<&'t str>,
    rows: Vec<Vec<&'t str>>,
}

impl<'t> Columns<'t> {
    fn of(csv: &'t str) -> Self {
        let mut lines = csv.lines().map(|l| l.split(',').collect::<Vec<_>>());
        Self { head: lines.next().unwrap(), rows: lines.collect() }
    }
    #[track_caller]
    fn texts(&self, name: &str) -> Vec<&'t str> {
        let at = self.head.iter().position(|h| *h == name).unwrap();
        self.rows.iter().map(|r| r[at]).collect()
    }
    #[track_caller]
    fn numbers(&self, name: &str) -> Vec<f64> {
        self.texts(name).iter().map(|x| x.parse().unwrap_or(f64::NAN)).collect()
    }
    /// Low, mid and high of a column, in order everywhere.
    #[track_caller]
    fn band(&self, name: &str) -> Vec<[f64; 3]> {
        let [low, mid, high] = ["low", "mid", "high"].map(|p| self.numbers(&format!("{name}_{p}")));
        let all: Vec<_> = (0..low.len()).map(|i| [low[i], mid[i], high[i]]).collect();
        for (i, b) in all.iter().enumerate() {
            assert!(b[0] <= b[1] && b[1] <= b[2], "{name} {i}: {b:?}");
        }
        all
    }
}

/// The bands of a table of doughs: in order, around the run, without width where nothing is
/// uncertain, wider as time goes by, and those of the JSON.
#[track_caller]
fn doughs_have_bands(csv: &str, forecast: &Value) {
    let table = Columns::of(csv);
    let (lines, steps) = (table.texts("line"), table.texts("step"));
    let minutes = table.numbers("minute");
    let dough = lines.iter().position(|l| *l == "dough").unwrap();
    let last = lines.len() - 1;
    let curve = forecast["curve"].as_array().unwrap();
    for (column, field, slack) in [
        ("core_deg_c", "core", 1.0),
        ("mean_deg_c", "mean", 1.0),
        ("rise_percent", "rise", 1.0),
        ("volume_ratio", "volume", 0.02),
        ("ph", "ph", 0.05),
    ] {
        let band = table.band(column);
        for (i, (x, b)) in table.numbers(column).iter().zip(&band).enumerate() {
            assert!(b[0] - slack <= *x && *x <= b[2] + slack, "{column} {i}: {x} {b:?}");
        }
        let mut met = 0;
        for p in curve {
            let line = usize::from(p["line"].as_u64() != Some(0));
            let row = (0..lines.len()).find(|i| {
                (lines[*i] == "dough") == (line == 1)
                    && p["step"].as_u64().unwrap().to_string() == steps[*i]
                    && (minutes[*i] - p["minute"].as_f64().unwrap()).abs() < 1e-6
            });
            let Some(row) = row else { continue };
            for (k, part) in ["low", "mid", "high"].into_iter().enumerate() {
                let there = p[field][part].as_f64().unwrap();
                assert!((band[row][k] - there).abs() < 1e-3, "{column}, row {row}: {there}");
            }
            met += 1;
        }
        assert!(met > 20, "{column}: {met}");
    }
    let width = |name: &str, i: usize| table.band(name)[i][2] - table.band(name)[i][0];
    // a dough just mixed has not risen in any kitchen, and weighs what it weighs
    assert!(width("rise_percent", 0) < 1e-3 && width("volume_ratio", 0) < 1e-4);
    assert!(width("volume_ratio", dough) < 1e-4);
    assert!(width("mean_deg_c", dough) > 0.5, "no baker meets the wanted temperature each time");
    assert!(width("rise_percent", dough - 1) > 10.0 && width("rise_percent", last) > 5.0);
    assert!(width("ph", last) > 2.0 * width("ph", 0));
}

#[test]
fn a_plan_for_saturday() {
    let base = ["plan", RECIPE, "--kitchen", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]];
    let text = good(&base);
    for part in [
        "ready by Sat 28 Nov 18:00",
        "Build the levain:",
        "Divide into 2 pieces of 760 g",
        "any time from",
        "expect",
        "Steam burns",
        "Bread.",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert_eq!(text, good(&base), "the same question has the same answer");
    let json: Value = serde_json::from_str(&good(&[&base[..], &["--json"]].concat())).unwrap();
    let plan = &json["plans"][0];
    assert!(plan["ready"].as_f64().unwrap() <= json["ready_by"].as_f64().unwrap());
    doughs_have_bands(&good(&[&base[..], &["--csv"]].concat()), &plan["forecast"]);
    let svg = good(&[&base[..], &["--svg"]].concat());
    assert!(svg.contains("8 in 10 kitchens") && svg.contains("eight in ten of 256 kitchens"));
    let ics = good(&[&base[..], &["--ics"]].concat());
    assert!(ics.starts_with("BEGIN:VCALENDAR\r\n") && ics.contains("BEGIN:VALARM"), "{ics}");
    assert!(ics.lines().all(|l| l.len() <= 75));
}

#[test]
fn a_loaf_in_the_oven() {
    let base = ["bake", RECIPE, "-k", KITCHEN, "--cold-proof", NOW[0], NOW[1]];
    let text = good(&base);
    for part in
        ["core", "hearth", "L*", "uncalibrated", "fit the hearth", "Steam burns", "the door below"]
    {
        assert!(text.contains(part), "{part}\n{text}");
    }
    for part in ["rated maximum", "acrylamide", "Cast iron", "glass tin", "loads"] {
        assert!(!text.contains(part), "{part}\n{text}");
    }
    let json: Value = serde_json::from_str(&good(&[&base[..], &["--json"]].concat())).unwrap();
    let samples = json["samples"].as_array().unwrap();
    let value = |s: &Value, k: &str| s[k].as_f64().unwrap();
    assert!(samples.windows(2).all(|w| value(&w[1], "core") >= value(&w[0], "core") - 0.5));
    assert!(value(samples.last().unwrap(), "core") > 90.0);
    let csv = good(&[&base[..], &["--csv"]].concat());
    assert_eq!(csv.lines().count(), samples.len() + 1);
    let table = Columns::of(&csv);
    let forecast = &json["forecast"];
    for (column, field, first, last) in [
        ("core_deg_c", "core", 6.0, 1.0),
        ("loss_percent", "loss", 0.01, 1.0),
        ("crust_mm", "crust_mm", 0.01, 0.5),
        ("lightness", "lightness", 0.01, 5.0),
        ("base_lightness", "base_lightness", 0.01, 5.0),
    ] {
        let band = table.band(column);
        let width = |b: &[f64; 3]| b[2] - b[0];
        let (begin, end) = (band[0], band[band.len() - 1]);
        assert!(width(&begin) <= first && width(&end) > last, "{column} {begin:?} {end:?}");
        for (k, part) in ["low", "mid", "high"].into_iter().enumerate() {
            for (i, p) in forecast["curve"].as_array().unwrap().iter().enumerate() {
                assert_eq!(p["minute"].as_f64(), samples[i]["minute"].as_f64());
                assert!((p[field][part].as_f64().unwrap() - band[i][k]).abs() < 0.01);
            }
            if let Some(out) = forecast[field][part].as_f64() {
                assert!((out - end[k]).abs() < 0.01, "{column}: {out} {end:?}");
            }
        }
    }
    let svg = good(&[&base[..], &["--svg"]].concat());
    assert!(svg.starts_with("<svg") && !svg.contains("NaN"));
    for part in ["8 in 10 kitchens", "class=\"fdough\"", "Eight in ten of kitchens"] {
        assert!(svg.contains(part), "{part}");
    }
    // a suggested bake is not that of the schedule: it has no bands
    let csv = good(&[&base[..], &["--suggest", "--csv"]].concat());
    assert!(Columns::of(&csv).texts("core_deg_c_mid").iter().all(|x| x.is_empty()));
    let suggested = good(&[&base[..], &["--suggest"]].concat());
    assert!(suggested.contains("Suggested:"), "{suggested}");
}

#[test]
fn ovens_and_hearths_that_cannot_are_refused() {
    let kitchen = scratch("small-kitchen.toml");
    let text = std::fs::read_to_string(root().join(KITCHEN)).unwrap();
    let refused_with = |from: &str, to: &str| {
        std::fs::write(&kitchen, text.replace(from, to)).unwrap();
        refused(&["bake", RECIPE, "-k", kitchen.to_str().unwrap(), NOW[0], NOW[1]])
    };
    let weak = refused_with("most = \"250 °C\"", "most = \"220 °C\"");
    assert!(weak.contains("asks for 240 °C, this oven reaches 220 °C"), "{weak}");
    let small = refused_with(
        "width = \"36 cm\"\ndepth = \"32 cm\"",
        "width = \"22 cm\"\ndepth = \"22 cm\"",
    );
    assert!(small.contains("does not fit a hearth of 22 × 22 cm"), "{small}");
    let hot = refused_with("most = \"250 °C\"", "most = \"400 °C\"");
    assert!(hot.contains("oven, most: 400 °C is outside 100 °C to 300 °C"), "{hot}");
}

/// Pieces of a text, and what stands there instead.
type Changes<'a> = &'a [(&'a str, &'a str)];

/// A copy of a bundled file with some of its text changed.
fn changed(name: &str, of: &str, changes: Changes<'_>) -> PathBuf {
    let path = scratch(name);
    let mut text = std::fs::read_to_string(root().join(of)).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{of} has no {from:?}");
        text = text.replacen(from, to, 1);
    }
    std::fs::write(&path, text).unwrap();
    path
}

/// Two breads and one oven: both in one timeline, one calendar and one document.
#[test]
fn several_breads_are_planned_together() {
    let boule = "examples/ferry-lane/recipes/reedbed-seeded-boule.toml";
    let ask = ["plan", RECIPE, boule, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]];
    let text = good(&ask);
    for part in
        ["2 breads in", "Tidewater batard: Mix", "Reedbed seeded boule: Mix", "In the oven:"]
    {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let json: Value = serde_json::from_str(&good(&[&ask[..], &["--json"]].concat())).unwrap();
    assert_eq!(json["breads"].as_array().unwrap().len(), 2);
    for joint in json["joint_plans"].as_array().unwrap() {
        let turns: Vec<(f64, f64)> = joint["in_oven"]
            .as_array()
            .unwrap()
            .iter()
            .map(|t| (t["from"].as_f64().unwrap(), t["to"].as_f64().unwrap()))
            .collect();
        assert_eq!(turns.len(), 2);
        assert!(turns[0].1 + 5.0 <= turns[1].0, "{turns:?}");
        let costs = joint["plans"].as_array().unwrap().iter().map(|p| p["cost"].as_f64().unwrap());
        let sum: f64 = costs.sum();
        assert!((joint["cost"].as_f64().unwrap() - sum).abs() < 1e-9);
    }
    let ics = good(&[&ask[..], &["--ics"]].concat());
    for part in ["SUMMARY:Tidewater batard: ", "SUMMARY:Reedbed seeded boule: "] {
        assert!(ics.contains(part), "{part}");
    }
    // an oven that is still hot is left on, in the calendar as in the text
    let (hot, heated) = ("the oven is hot from Reedbed seeded boule", ": Heat the oven");
    let unfolded = ics.replace("\r\n ", "");
    assert!(text.contains(hot) && unfolded.contains(hot), "{text}");
    let summaries = unfolded.lines().filter(|l| l.starts_with("SUMMARY:") && l.contains(heated));
    assert_eq!((text.matches(heated).count(), summaries.count()), (1, 1));
    // each at its own time, and a step of one of them fixed
    let own =
        ["plan", RECIPE, boule, "-k", KITCHEN, "--ready", "Sat 18:00", "--ready", "Sun 14:00"];
    let own = [&own[..], &[NOW[0], NOW[1], "--pin", "2:divide=Sat 19:00", "--json"]].concat();
    let json: Value = serde_json::from_str(&good(&own)).unwrap();
    let steps = json["joint_plans"][0]["plans"][1]["steps"].as_array().unwrap();
    let divide = steps.iter().find(|s| s["do"] == "divide").unwrap();
    assert_eq!(divide["clock"], "2026-11-28T19:00:00");
    let no = |args: &[&str], part: &str| {
        let told = refused(args);
        assert!(told.contains(part), "{part}\n{told}");
    };
    // what is said of one bread only, or of no bread
    no(&[&ask[..], &["--csv"]].concat(), "--csv is for one bread");
    no(&[&ask[..], &["--pin", "divide=Sat 9:00"]].concat(), "of which bread");
    no(&[&ask[..], &["--ready", "Sun 9:00", "--ready", "Sun 10:00"]].concat(), "3 times");
    // two that must come out at once
    let twice = ["plan", RECIPE, RECIPE, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]];
    no(&[&twice[..], &["--early", "20 min"]].concat(), "both want the oven");
}

/// Several breads as one picture: a ribbon each, and the oven given to one after another.
#[test]
fn several_breads_are_drawn_on_one_clock() {
    let boule = "examples/ferry-lane/recipes/reedbed-seeded-boule.toml";
    let milk = "examples/ferry-lane/recipes/millpond-milk-loaf.toml";
    let ask = ["plan", RECIPE, boule, milk, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]];
    let svg = good(&[&ask[..], &["--svg"]].concat());
    let json: Value = serde_json::from_str(&good(&[&ask[..], &["--json"]].concat())).unwrap();
    assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n") && !svg.contains("NaN"));
    // the doughs, and what flows into them: three levains, no preferment else
    assert_eq!(svg.matches("-d\" gradientUnits").count(), 3);
    assert_eq!(svg.matches("-s0\" gradientUnits").count(), 3);
    assert_eq!(svg.matches("class=\"fringe\"").count(), 6);
    for title in ["1 Tidewater batard", "2 Reedbed seeded boule", "3 Millpond milk loaf"] {
        // above its ribbon, beside its turn, and in words
        assert!(svg.matches(title).count() >= 3, "{title}");
    }
    // turns as the plan has them, each later along the page than the one before
    let turns: Vec<&str> = svg.split("-turn").skip(1).collect();
    let want = json["joint_plans"][0]["in_oven"].as_array().unwrap();
    assert_eq!(turns.len(), want.len());
    let mut free = f64::NEG_INFINITY;
    for (turn, want) in turns.iter().zip(want) {
        let turn = turn.split("</g>").next().unwrap();
        assert!(turn.contains(&format!(">{} ", want["bread"])), "{turn}");
        let number = |tag: &str, name: &str| -> f64 {
            let at = tag.split(&format!("{name}=\"")).nth(1).unwrap();
            at.split('"').next().unwrap().parse().unwrap()
        };
        let loads: Vec<&str> = turn.lines().filter(|l| l.contains("-oven)")).collect();
        assert!(!loads.is_empty());
        for load in loads {
            let x = number(load, " x");
            assert!(x > free, "{turn}");
            free = x + number(load, "width");
        }
    }
    // an oven that is still hot is not heated again
    let heated = |words: &str| svg.matches(words).count();
    assert_eq!(heated(" preheat<") + heated("left on from") / 2, 3);
}

#[test]
fn what_an_oven_cannot_do_is_refused_by_bake_and_plan_alike() {
    let cases: [(&str, Changes<'_>, Changes<'_>); 5] = [
        ("asks for 400 °C, this oven reaches 250 °C", &[("\"240 °C\"", "\"400 °C\"")], &[]),
        ("cannot be set below 50 °C", &[("\"225 °C\"", "\"40 °C\"")], &[]),
        ("under a lid", &[("steam = true", "lid = true")], &[]),
        (
            "45 cm long does not fit a hearth of 36 × 32 cm",
            &[("length = \"27 cm\"", "length = \"45 cm\"")],
            &[],
        ),
        (
            "asks for 240 °C, this oven reaches 230 °C",
            &[],
            &[("most = \"250 °C\"", "most = \"230 °C\"")],
        ),
    ];
    for (i, (want, recipe, kitchen)) in cases.into_iter().enumerate() {
        let r = changed(&format!("cannot-{i}.toml"), RECIPE, recipe);
        let k = changed(&format!("cannot-k-{i}.toml"), KITCHEN, kitchen);
        let (r, k) = (r.to_str().unwrap(), k.to_str().unwrap());
        for verb in [&["bake"][..], &["plan", "--ready", "Sat 18:00"]] {
            let told = refused(&[verb, &[r, "-k", k, NOW[0], NOW[1]]].concat());
            assert!(told.contains(want) && told.contains("help:"), "{want}\n{told}");
        }
        // as written it is planned, and said
        let text =
            good(&["plan", r, "-k", k, NOW[0], NOW[1], "--ready", "Sat 18:00", "--as-written"]);
        assert!(text.replace('\n', " ").contains(want), "{want}\n{text}");
    }
}

/// A plan goes on from what was begun and measured; what is over is not planned again.
#[test]
fn a_half_done_bake_is_planned_on() {
    let file = std::env::temp_dir().join(format!("grigne-half-done-{}.toml", std::process::id()));
    let base = ["plan", RECIPE, "-k", KITCHEN, "--now", "2026-11-27 17:00", "--ready", "Sat 18:00"];
    let from = file.to_str().unwrap();
    let ask = [&base[..], &["--from", from, "--json"]].concat();
    let begun = "[[did]]\nstep = \"build the levain\"\nat = \"Thu 22:00\"\n\
         [[did]]\nstep = \"autolyse\"\nat = \"14:10\"\n";
    std::fs::write(&file, begun).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&good(&ask)).unwrap();
    let steps = plan["plans"][0]["steps"].as_array().unwrap();
    let bulk = steps.iter().find(|s| s["do"] == "bulk").unwrap();
    let ends = bulk["to"].as_f64().unwrap();
    // 14:10 and what must follow before the bulk: 45, 15, and two folds with their rests
    assert!((bulk["from"].as_f64().unwrap() + 20.0).abs() < 1e-6, "{bulk}");
    let text = good(&[&base[..], &["--from", from]].concat());
    assert!(
        text.contains("22:00  Build the levain, done") && text.contains("Divide into"),
        "{text}"
    );
    // a dough that has risen much further by now is divided sooner
    let fast = "[[measured]]\nat = \"16:59\"\nrise = \"60 %\"\n";
    std::fs::write(&file, format!("{begun}{fast}")).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&good(&ask)).unwrap();
    let steps = plan["plans"][0]["steps"].as_array().unwrap();
    let bulk = steps.iter().find(|s| s["do"] == "bulk").unwrap();
    assert!(bulk["to"].as_f64().unwrap() < ends, "{bulk} {ends}");
    // what is wrong in the file is said with its place
    for (text, want) in [
        ("[[did]]\nstep = \"fold\"\nat = \"14:10\"\n", "may be more than one step"),
        ("[[did]]\nstep = \"bulk\"\nat = \"soon\"\n", "is not a time"),
        ("[[measured]]\nat = \"14:10\"\n", "one was expected"),
        ("", "nothing has been begun"),
    ] {
        std::fs::write(&file, text).unwrap();
        let told = refused(&[&base[..], &["--from", from]].concat());
        assert!(told.contains(want) && told.contains("help:"), "{want}\n{told}");
    }
    std::fs::remove_file(&file).unwrap();
}

#[test]
fn pins_and_weights_are_kept_or_refused() {
    let base = ["plan", RECIPE, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]];
    let pinned = [&base[..], &["--pin", "mix=Fri 14:50", "--json"]].concat();
    let plan: serde_json::Value = serde_json::from_str(&good(&pinned)).unwrap();
    for p in plan["plans"].as_array().unwrap() {
        let mix = p["steps"].as_array().unwrap().iter().find(|s| s["do"] == "mix").unwrap();
        let off = mix["clock"].as_str().unwrap();
        // within half a grid of ten minutes
        assert!(("2026-11-27T14:45".."2026-11-27T14:56").contains(&off), "{off}");
    }
    for (args, want) in [
        (["--pin", "mixx=Fri 14:00"], "there is no step"),
        (["--pin", "mix"], "equals sign"),
        (["--weigh", "cals=1"], "did you mean \"calls\"?"),
        (["--weigh", "calls=-1"], "no weight"),
    ] {
        let told = refused(&[&base[..], &args].concat());
        assert!(told.contains(want), "{want}\n{told}");
    }
}

#[test]
fn more_loads_than_anybody_bakes_are_refused() {
    for verb in [&["bake"][..], &["plan", "--ready", "Sat 18:00"]] {
        let many = [RECIPE, "-k", KITCHEN, NOW[0], NOW[1], "--pieces", "2000"];
        let told = refused(&[verb, &many].concat());
        assert!(told.contains("2000 pieces make 1000 loads") && told.contains("help:"), "{told}");
    }
}

#[test]
fn nothing_to_bake_is_refused() {
    for (how, much) in [("--pieces", "0"), ("--dough", "0 g"), ("--flour", "0 g")] {
        for verb in [&["bake"][..], &["plan", "--ready", "Sat 18:00"]] {
            let told =
                refused(&[verb, &[RECIPE, "-k", KITCHEN, NOW[0], NOW[1], how, much]].concat());
            assert!(told.starts_with("error:"), "{how}\n{told}");
        }
    }
}

#[test]
fn a_programme_that_ends_too_soon_says_so() {
    let short =
        [("time = \"20 min\"\nnote = \"Until deep", "time = \"4 min\"\nnote = \"Until deep")];
    let r = changed("short.toml", RECIPE, &short);
    let r = r.to_str().unwrap();
    let bake = good(&["bake", r, "-k", KITCHEN, NOW[0], NOW[1]]);
    assert!(bake.contains("The core does not reach 97 °C"), "{bake}");
    // dough, not bread
    assert!(bake.contains("Raw flour and dough are not ready to eat"), "{bake}");
    let base = ["plan", r, "-k", KITCHEN, NOW[0], NOW[1], "--ready", "Sat 18:00"];
    let written = good(&[&base[..], &["--as-written"]].concat());
    assert!(written.contains("not done as the recipe asks after 21 min"), "{written}");
    let fitted = good(&base);
    assert!(!fitted.contains("not done") && fitted.contains("(written 21 min)"), "{fitted}");
}

#[test]
fn paper_turning_and_an_oven_that_was_logged_reach_the_bake() {
    let last = |args: &[&str]| -> (f64, f64) {
        let json: Value = serde_json::from_str(&good(&[args, &["--json"]].concat())).unwrap();
        let s = json["samples"].as_array().unwrap().last().unwrap().clone();
        (s["core"].as_f64().unwrap(), s["base_lightness"].as_f64().unwrap())
    };
    let base = [NOW[0], NOW[1], "--cold-proof"];
    let plain = ["bake", RECIPE, "-k", KITCHEN];
    let (plain_core, plain_base) = last(&[&plain[..], &base].concat());

    let paper =
        changed("paper.toml", RECIPE, &[("do = \"load\"", "do = \"load\"\nliner = \"paper\"")]);
    let rated = changed("rated.toml", KITCHEN, &[("room =", "paper = \"220 °C\"\nroom =")]);
    let (r, k) = (paper.to_str().unwrap(), rated.to_str().unwrap());
    let args = [&["bake", r, "-k", k][..], &base].concat();
    assert!(last(&args).1 > plain_base, "paper keeps the base paler");
    let text = good(&args).replace('\n', " ");
    assert!(text.contains("Baking paper has a rated maximum, its maker gives 220 °C"), "{text}");
    assert!(text.contains("rated to 220 °C by its maker, the oven stands at 240 °C"), "{text}");

    let turn = "[[step]]\ndo = \"turn\"\n\n[[step]]\ndo = \"cool\"";
    let turned = changed("turn.toml", RECIPE, &[("[[step]]\ndo = \"cool\"", turn)]);
    let r = turned.to_str().unwrap();
    let text = good(&[&["bake", r, "-k", KITCHEN][..], &base].concat());
    assert!(text.contains("37 min  225 °C, door opened"), "{text}");
    let plan = good(&["plan", r, "-k", KITCHEN, NOW[0], NOW[1], "--ready", "Sat 18:00"]);
    assert!(plan.contains("Turn the bread round"), "{plan}");

    let csv = scratch("oven-log.csv");
    std::fs::write(&csv, "minute,oven_deg_c\n0,210\n5,180\n30,190\n").unwrap();
    let name = csv.file_name().unwrap().to_str().unwrap().to_owned();
    let log = format!("[oven]\nlog = \"{name}\"\nlog_knob = \"220 °C\"");
    let logged = changed("logged.toml", KITCHEN, &[("[oven]", &log)]);
    let args = [&["bake", RECIPE, "-k", logged.to_str().unwrap()][..], &base].concat();
    assert!(last(&args).0 < plain_core - 1.0, "a cooler log, a cooler core");
    let text = good(&args).replace('\n', " ");
    for part in [
        "follow the log of this oven, 30 min long",
        "the log ends 7 min before the bread comes out",
        "logged at a setting of 220 °C, the recipe begins at 240 °C",
    ] {
        assert!(text.replace("       ", " ").contains(part), "{part}\n{text}");
    }
    let told = refused(&[&args[..], &["--suggest"]].concat());
    assert!(told.contains("is logged"), "{told}");
    std::fs::write(&csv, "minute,oven_deg_c\n0,210\n5,warm\n").unwrap();
    let told = refused(&args);
    assert!(told.contains(&format!("{name}:3")) && told.contains("row 3"), "{told}");
    std::fs::remove_file(&csv).unwrap();
    assert!(refused(&args).contains("cannot read"));
}

#[test]
fn later_loads_wait_where_it_is_said_or_where_the_dough_keeps() {
    let base = ["-k", KITCHEN, NOW[0], NOW[1], "--pieces", "6"];
    let text = good(&[&["bake", RECIPE][..], &base].concat()).replace('\n', " ");
    assert!(text.contains("3 loads") && text.contains("on the bench load 3 would have"), "{text}");
    let bench =
        changed("bench.toml", RECIPE, &[("do = \"load\"", "do = \"load\"\nwait = \"room\"")]);
    let r = bench.to_str().unwrap();
    let named = good(&[&["bake", r][..], &base].concat()).replace('\n', " ");
    assert!(named.contains("The recipe says where they wait; in the fridge load 3"), "{named}");
    let plan = good(&[&["plan", r, "--ready", "Sat 18:00"][..], &base].concat());
    assert!(plan.contains("Load 2 batards; the other 4 wait on the bench"), "{plan}");
    assert!(plan.contains("Score and load 2 batards from the bench"), "{plan}");
    let json: Value = serde_json::from_str(&good(
        &[&["plan", RECIPE, "--ready", "Sat 18:00", "--json"][..], &base].concat(),
    ))
    .unwrap();
    let oven_loads = &json["plans"][0]["oven_loads"];
    assert_eq!(oven_loads["wait"], "fridge");
    let waited: Vec<f64> = oven_loads["all"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t["waited"].as_f64().unwrap())
        .collect();
    assert_eq!(waited.len(), 3);
    assert!(waited[0] == 0.0 && waited[2] > waited[1] && waited[1] > 40.0, "{waited:?}");
}

#[test]
fn many_pieces_make_many_loads() {
    let base =
        ["plan", RECIPE, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1], "--pieces", "6"];
    let text = good(&base);
    assert!(text.contains("3 loads") && text.contains("heat the hearth up again"), "{text}");
    let written = good(&[&base[..], &["--as-written"]].concat());
    assert!(!written.contains("heat the hearth up again"));
}

#[test]
fn narrow_terminals_are_kept_to() {
    let out = Command::new(env!("CARGO_BIN_EXE_grigne"))
        .args(["plan", RECIPE, "-k", KITCHEN, "--ready", "Sat 18:00", NOW[0], NOW[1]])
        .current_dir(root())
        .env("COLUMNS", "60")
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    let widest = text.lines().map(|l| l.chars().count()).max().unwrap();
    assert!(widest <= 64, "{widest}");
}

#[test]
fn malformed_files_are_refused_and_nothing_is_written() {
    let path = scratch("broken.toml");
    let text = std::fs::read_to_string(root().join(RECIPE)).unwrap();
    std::fs::write(&path, text.replace("piece = \"760 g\"", "piece = \"760 ml\"\npeice = \"1 g\""))
        .unwrap();
    let to = scratch("out.svg");
    let args = ["ferment", path.to_str().unwrap(), "--svg", "--out", to.to_str().unwrap()];
    let told = refused(&args);
    for part in
        ["yield, piece", "\"760 ml\" is not a mass", "broken.toml:6", "did you mean \"piece\"?"]
    {
        assert!(told.contains(part), "{part}\n{told}");
    }
    assert!(!to.exists());
}

#[test]
fn impossible_wishes_say_why() {
    let plan = |ready: &str, extra: &[&str]| {
        let base = ["plan", RECIPE, "-k", KITCHEN, "--ready", ready, NOW[0], NOW[1]];
        refused(&[&base[..], extra].concat())
    };
    assert!(plan("2026-11-26 12:00", &[]).contains("already past"));
    assert!(plan("2027-11-26 12:00", &[]).contains("four weeks"));
    assert!(plan("half past", &[]).contains("write \"Sat 18:00\""));
    assert!(plan("Sat 18:00", &["--zone", "Atlantis/Docks"]).contains("not a time zone"));
    assert!(plan("Sat 18:00", &["--parameters", "best"]).contains("first, mended"));
    let soon = plan("Thu 23:30", &[]);
    assert!(soon.contains("no plan has") && soon.contains("later"), "{soon}");
    assert!(refused(&["formula", "no-such-file.toml"]).contains("cannot read"));
    assert!(told(&fed(&["formula", "-"], &"#[x".repeat(5 << 18))).contains("bytes"));
    assert!(told(&fed(&["formula", "-"], "")).contains("title"));
}

#[test]
fn output_files_are_whole() {
    let to = scratch("plan.ics");
    let text = good(&[
        "plan",
        RECIPE,
        "-k",
        KITCHEN,
        "--ready",
        "Sat 18:00",
        NOW[0],
        NOW[1],
        "--ics",
        "-o",
        to.to_str().unwrap(),
    ]);
    assert!(text.is_empty());
    assert!(std::fs::read_to_string(&to).unwrap().trim_end().ends_with("END:VCALENDAR"));
    let nowhere = grigne(&["formula", RECIPE, "-o", "/no/such/folder/x"]);
    assert_eq!(nowhere.status.code(), Some(1));
}

#[test]
fn completions_and_manual_come_from_the_same_definitions() {
    for shell in ["bash", "zsh", "fish"] {
        assert!(good(&["completions", shell]).contains("blend-protein"));
    }
    let man = good(&["man"]);
    assert!(man.contains(".TH grigne") && man.contains("fill\\-hearth"), "{}", &man[..400]);
}

const HOUSE: &str = "examples/ferry-lane/kitchens/warm-house.toml";
const FEW: [&str; 10] = [
    "travel",
    RECIPE,
    "-k",
    HOUSE,
    "--cold-proof",
    "--now",
    "2026-11-26 18:00",
    "--readers",
    "100",
    "--sensitivity=4",
];

#[test]
fn readers_follow_a_recipe_in_words() {
    let to = scratch("travel.svg");
    let text = good(&[&FEW[..], &["--svg", to.to_str().unwrap()]].concat());
    for part in [
        "100 readers, seed 1",
        "The warm house on the hill",
        "by the printed times",
        "at divide",
        "In their window at loading",
        "0.85–1.0",
        "What decides",
        "What to write instead",
        "Not known here",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    // the two maps stand side by side, and nothing is wider than the screen
    assert_eq!(text.lines().find(|l| l.contains("14–16")).unwrap().matches("14–16").count(), 2);
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    let svg = std::fs::read_to_string(&to).unwrap();
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"), "{svg}");
    assert!(svg.contains("prefers-color-scheme:dark") && !svg.contains("NaN"));
    let us = good(&[&FEW[..8], &["10", "--sensitivity", "0", "--units", "us"]].concat());
    assert!(us.contains("57–61") && us.contains("Left out (--sensitivity 0)"), "{us}");
    // ten readers fill no cell
    assert!(!us.contains('<') || us.contains("< most are short"), "{us}");
    let row = us.lines().find(|l| l.trim_start().starts_with("0.85–1.0")).unwrap();
    assert_eq!(row.split_whitespace().count(), 2, "{row}");
}

#[test]
fn readers_follow_a_recipe_in_json() {
    let args = [&FEW[..], &["--json"]].concat();
    let told = good(&args);
    assert_eq!(told, good(&args), "the same seed, the same readers");
    let json: Value = serde_json::from_str(&told).unwrap();
    assert_eq!(json["verb"], "travel");
    assert_eq!(json["readers"], 100);
    for by in ["clock", "cue"] {
        for at in ["divide", "load", "loaf"] {
            let c = &json[by][at];
            let sum: f64 = ["under", "good", "over"].iter().map(|k| c[k].as_f64().unwrap()).sum();
            assert!((sum - 100.0).abs() < 1e-9, "{by} {at} {c}");
            assert_eq!(c["readers"], 100);
        }
        let cells = json[by]["map"].as_array().unwrap().iter();
        let cells: Vec<&Value> = cells.flat_map(|row| row.as_array().unwrap()).collect();
        assert_eq!(cells.len(), 36);
        let readers: u64 = cells.iter().filter_map(|c| c["readers"].as_u64()).sum();
        assert!((75..=100).contains(&readers), "{readers}");
        assert!(json[by]["good"].as_f64() <= json[by]["load"]["good"].as_f64());
        let error = json[by]["good_error"].as_f64().unwrap();
        assert!(error > 0.5 && error < 5.0, "{error}");
    }
    let drivers = json["drivers"].as_array().unwrap();
    assert_eq!(drivers.len(), 20);
    let totals: Vec<f64> = drivers.iter().map(|d| d["total"]["value"].as_f64().unwrap()).collect();
    assert!(totals.windows(2).all(|w| w[0] >= w[1]), "{totals:?}");
    let advice = json["advice"].as_array().unwrap();
    let levain = advice.iter().find(|a| a["remedy"] == "levain").unwrap();
    let masses: Vec<f64> = levain["levain"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| r["weights"][0]["mass"].as_f64().unwrap())
        .collect();
    assert!(masses.len() > 3 && masses.windows(2).all(|w| w[0] > w[1]), "{masses:?}");
    let other: Value =
        serde_json::from_str(&good(&[&args[..], &["--seed", "2"]].concat())).unwrap();
    assert_ne!(json["clock"], other["clock"]);
}

#[test]
fn readers_bake_in_a_season() {
    let args =
        |season| [&FEW[..8], &["50", "--sensitivity=0", "--json", "--season", season]].concat();
    let json = |season| serde_json::from_str::<Value>(&good(&args(season))).unwrap();
    let (cold, warm) = (json("cold"), json("warm"));
    assert_eq!((&cold["belief"], &warm["belief"]), (&"readers".into(), &"readers-warm".into()));
    assert_eq!(cold["map"]["rooms"][0], 14.0);
    assert_eq!(warm["map"]["rooms"][0], 18.0);
    let rows = |j: &Value| {
        let levain = j["advice"].as_array().unwrap().iter().find(|a| a["remedy"] == "levain");
        levain.unwrap()["levain"][0]["room"].as_f64().unwrap()
    };
    assert_eq!((rows(&cold), rows(&warm)), (16.0, 20.0));
    let words = refused(&["travel", RECIPE, "--belief", "own-kitchen", "--season", "warm"]);
    assert!(words.contains("--season is for readers"), "{words}");
}

/// A terminal as a program sees it; none where util-linux is missing: then there is nothing to
/// look on with.
#[cfg(target_os = "linux")]
fn on_a_terminal(line: &str) -> Option<String> {
    let line = format!("{} {line}", env!("CARGO_BIN_EXE_grigne"));
    let mut script = Command::new("script");
    let seen = script.args(["-qec", &line, "/dev/null"]).current_dir(root()).output().ok()?;
    Some(String::from_utf8_lossy(&seen.stdout).into_owned())
}

/// On a terminal a long run says how far it is, and clears up.
#[cfg(target_os = "linux")]
#[test]
fn a_long_run_shows_how_far_it_is() {
    let boule = "examples/ferry-lane/recipes/reedbed-seeded-boule.toml";
    let at = "--now '2026-11-26 18:00'";
    let long = [
        (
            format!("travel {RECIPE} -k {HOUSE} {at} --readers 12000 --sensitivity 0"),
            "asking readers ━",
            "does it travel?",
        ),
        (
            format!("plan {RECIPE} -k {KITCHEN} {at} --ready 'Sat 18:00'"),
            "looking for a plan ━",
            "ready by",
        ),
        (
            format!("plan {RECIPE} {boule} -k {KITCHEN} {at} --ready 'Sat 18:00'"),
            "looking for a plan ━",
            "2 breads in",
        ),
    ];
    for (line, bar, answer) in long {
        let Some(seen) = on_a_terminal(&line) else { return };
        let begins = seen.find(bar).unwrap_or_else(|| panic!("{seen}"));
        let cleared = seen.find("  \r").unwrap();
        let answer = seen.find(answer).unwrap();
        assert!(begins < cleared && cleared < answer, "{seen}");
        assert!(seen.contains("━━━━━━━━━━━━") && seen.contains(" %"), "{seen}");
        // never backwards
        let shares: Vec<u32> = seen[begins..cleared]
            .split(" %")
            .filter_map(|s| s.rsplit(' ').next()?.parse().ok())
            .collect();
        assert!(shares.is_sorted() && shares.iter().all(|s| *s <= 100), "{shares:?}");
    }
    // a short one says nothing
    let short = on_a_terminal(&format!("formula {RECIPE}")).unwrap().replace("\r\n", "\n");
    assert!(!short.is_empty() && !short.contains('\r'), "{short}");
}

#[test]
fn readers_that_cannot_be_asked() {
    for n in ["0", "10000001", "many"] {
        let words = refused(&["travel", RECIPE, "--readers", n]);
        assert!(words.contains("--readers"), "{words}");
    }
    let words = refused(&["travel", RECIPE, "--belief", "nobody"]);
    assert!(words.contains("choose from readers, own-kitchen"), "{words}");
    let path = scratch("belief.toml");
    std::fs::write(
        &path,
        "name = \"x\"\nabout = \"\"\n\n[[quantity]]\nname = \"yeast_vigor\"\nunit = \"factor\"\ndistribution = \"lognormal\"\nmedian = 1.0\nsd_log = 0.2\nmark = \"ours\"\nsource = \"\"\nsays = \"x\"\n",
    )
    .unwrap();
    let words = refused(&["travel", RECIPE, "--belief", path.to_str().unwrap()]);
    assert!(words.contains("belief.toml:4:") && words.contains("yeast_vigour"), "{words}");
    // a way the recipe does not have
    let words = refused(&["travel", RECIPE, "--cold-bulk"]);
    assert!(words.contains("no steps for"), "{words}");
    // nothing is written where something is wrong
    let to = scratch("none.svg");
    refused(&["travel", RECIPE, "--cold-bulk", "--svg", to.to_str().unwrap()]);
    assert!(!to.exists());
}

/// What a notebook holds goes into a folder and comes back into another one.
const CARD: &str = "examples/ferry-lane/imports/harbour-card.txt";

#[test]
fn what_others_wrote_becomes_a_recipe() {
    let file = good(&["import", CARD]);
    assert!(file.starts_with("# Imported.") && file.contains("title = \"Harbour wall loaf\""));
    let sheet = fed(&["formula", "-"], &file);
    let text = String::from_utf8(sheet.stdout).unwrap().replace('\u{a0}', " ");
    assert!(text.contains("Harbour wall loaf") && text.contains("Building the levain"), "{text}");

    let path = scratch("harbour.toml");
    let report = good(&["import", CARD, "-o", path.to_str().unwrap()]);
    for part in ["Assumed", "\"1 cup wholemeal flour\"", "rather likely", "Suggestions", "seaweed"]
    {
        assert!(report.contains(part), "{part}\n{report}");
    }
    assert_eq!(std::fs::read_to_string(path).unwrap().replace('\u{a0}', " "), file);

    let json: Value =
        serde_json::from_str(&good(&["import", CARD, "--json", "--spoons", "au"])).unwrap();
    assert_eq!((&json["verb"], &json["spoons"]), (&json!("import"), &json!("au")));
    assert!(json["suggestions"].as_array().unwrap().len() >= 5);

    let page = good(&["import", "examples/ferry-lane/imports/towpath-page.html"]);
    assert!(page.contains("pan loaf"));
    let lines = fed(&["import", "-"], "500 g bread flour\n350 g water\n100 g starter\n10 g salt\n");
    assert!(lines.status.success());
}

#[test]
fn what_is_no_recipe_is_refused_with_its_lines() {
    let why = told(&fed(&["import", "-"], "500 g water\n3 cups seaweed\n"));
    assert!(why.contains("no flour was found") && why.contains("3 cups seaweed"), "{why}");
    assert!(why.contains("-:2"), "{why}");
    let why = told(&fed(&["import", "-"], "500 g bread flour\n300 g salt\n"));
    assert!(why.contains("-:2") && why.contains("salt"), "{why}");
    let why = told(&fed(&["import", "-"], "<html><p>bread</p></html>"));
    assert!(why.contains("carries no schema.org Recipe"), "{why}");
    assert!(told(&fed(&["import", "-"], "")).contains("empty"));
    assert!(refused(&["import", RECIPE]).contains("recipe file of our own"));
    assert!(told(&fed(&["import", "-"], "{ \"@type\": ")).contains("not JSON"));
}

#[test]
fn a_notebook_goes_into_a_folder_and_back() {
    let file = scratch("full.grigne");
    let other = scratch("other.grigne");
    let folder = scratch("export");
    let _ = std::fs::remove_dir_all(&folder);
    let (file, other) = (file.to_str().unwrap(), other.to_str().unwrap());
    let folder = folder.to_str().unwrap();
    // the bundled recipes are what a first start brings: none here, since nothing was served
    let told = good(&["notebook", "export", folder, "--notebook", file]);
    assert!(told.contains("0 entries and 0 photos written"), "{told}");
    assert!(Path::new(folder).join("notebook.toml").is_file());
    let told = good(&["notebook", "import", folder, "--notebook", other]);
    assert!(told.contains("0 entries"), "{told}");
    assert!(good(&["notebook", "check", "--notebook", other]).contains("Nothing is damaged"));
    let backup = good(&["notebook", "back-up", "--notebook", other]);
    assert!(Path::new(backup.trim()).is_file(), "{backup}");
    // a file of something else is refused and left alone
    let told = refused(&["notebook", "check", "--notebook", RECIPE]);
    assert!(told.contains("perhaps it is another file"), "{told}");
}

const PRICES: &str = "examples/ferry-lane/prices.toml";
const MILK_LOAF: &str = "examples/ferry-lane/recipes/millpond-milk-loaf.toml";

/// Lines of text, blanks and rules put together: tables and wrapped sentences read as one.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_label_in_both_systems() {
    let text = flat(&good(&["label", RECIPE, "--loss", "15 %", "--slice", "45 g"]));
    for part in [
        "serving size 1 slice (45g)",
        "Includes Added Sugars 0g 0%",
        "Contains: Wheat.",
        "whole WHEAT flour",
        "of which saturates",
        "taken for USDA food 20129",
        "loss 15 % (as given)",
        "Ask your local food authority",
        "coeliac",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let only = good(&["label", RECIPE, "--for", "eu", "--levain", "compound"]);
    assert!(
        only.contains("sourdough (water, WHEAT flour") && !only.contains("% Daily Value*"),
        "{only}"
    );
    // butter's trans fat is not in the table: said, and not nought
    let milk = flat(&good(&["label", MILK_LOAF]));
    assert!(milk.contains("Trans Fat unknown"), "{milk}");
    assert!(milk.contains("unknown: Trans Fat (of whole milk, butter)"), "{milk}");
    assert!(milk.contains("left out of the list") && milk.contains("whole milk: 27 %"));
    let json: Value = serde_json::from_str(&good(&["label", MILK_LOAF, "--json"])).unwrap();
    assert_eq!(json["per_100g"]["trans fat"]["value"], Value::Null);
    assert_eq!(json["us"]["lines"].as_array().map(Vec::len), Some(15));
}

#[test]
fn a_label_with_the_loss_of_this_oven_and_a_packet() {
    let weighed = ["label", RECIPE, "--dough-weight", "900 g", "--baked-weight", "783 g"];
    assert!(flat(&good(&weighed)).contains("loss 13 % (weighed: 900 g of dough, 783 g of bread)"));
    let here: Value =
        serde_json::from_str(&good(&["label", RECIPE, "-k", KITCHEN, "--json"])).unwrap();
    assert!(here["loss"].as_f64().is_some_and(|l| (6.0..25.0).contains(&l)), "{}", here["loss"]);
    assert!(here["loss_words"].as_str().is_some_and(|w| w.contains("oven model")));
    let packet = scratch("packet.toml");
    let text = "[[packet]]\nname = \"butter\"\nstatement = \"butter (*milk*)\"\nallergens = [\"milk\"]\nkcal = 740\nfat = \"82 g\"\nsaturates = \"52 g\"\ntrans = \"2.8 g\"\ncarbohydrate = \"0.7 g\"\nsugars = \"0.7 g\"\nfibre = \"0 g\"\nprotein = \"0.6 g\"\nsalt = \"0.02 g\"\n";
    std::fs::write(&packet, text).unwrap();
    let path = packet.to_str().unwrap();
    let told = flat(&good(&["label", MILK_LOAF, "--packet", path]));
    // the packet prints no cholesterol, so that is unknown now
    assert!(told.contains("Cholesterol (of butter)") && told.contains("Trans Fat (of whole milk)"));
    std::fs::write(&packet, text.replace("82 g", "82")).unwrap();
    let told = refused(&["label", MILK_LOAF, "--packet", path]);
    assert!(told.contains("packet 1, fat: \"82\" is not a mass in 100 g"), "{told}");
    assert!(told.contains("packet.toml:6:7"), "{told}");
}

#[test]
fn labels_that_cannot_be_had_say_why() {
    for (args, part) in [
        (vec!["--loss", "70 %"], "is more than the water in the dough"),
        (vec!["--slice", "3 kg"], "is more than the whole piece"),
        (vec!["--food", "cake"], "there is no reference amount for \"cake\""),
        (vec!["--dough-weight", "700 g", "--baked-weight", "900 g"], "cannot bake to"),
        (vec!["--dough-weight", "700 g"], "--baked-weight"),
    ] {
        let mut all = vec!["label", RECIPE];
        all.extend(&args);
        let told = refused(&all);
        assert!(told.contains(part), "{args:?}\n{told}");
    }
    let recipe = changed(
        "usda.toml",
        RECIPE,
        &[("name = \"strong white\"", "name = \"strong white\"\nusda = 99999")],
    );
    let told = refused(&["label", recipe.to_str().unwrap()]);
    assert!(told.contains("food 99999 is not in the ingredient table"), "{told}");
}

#[test]
fn a_row_named_in_the_recipe_is_taken() {
    let recipe = changed(
        "row.toml",
        RECIPE,
        &[("name = \"strong white\"", "name = \"strong white\"\nusda = 20083")],
    );
    let path = recipe.to_str().unwrap();
    let text = flat(&good(&["label", path]));
    assert!(text.contains("enriched wheat flour (wheat flour, niacin, iron"), "{text}");
    // and written back
    assert!(good(&["formula", path, "--write"]).contains("usda = \"20083\""));
}

#[test]
fn a_batch_has_its_price() {
    let text = flat(&good(&["cost", RECIPE, "--prices", PRICES]));
    for part in ["0.002 GBP for 1000 g", "GBP a piece", "kWh", "12.00 GBP per h", "± 40 %"] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let here: Value = serde_json::from_str(&good(&[
        "cost", RECIPE, "--prices", PRICES, "-k", KITCHEN, "--pieces", "6", "--json",
    ]))
    .unwrap();
    let money = |key: &str| here[key].as_str().unwrap().parse::<f64>().unwrap();
    assert!((money("total") / 6.0 - money("per_piece")).abs() < 0.006, "{here}");
    assert!(here["notes"][0].as_str().is_some_and(|n| n.contains("loads")), "{here}");
    let fewer = changed(
        "prices.toml",
        PRICES,
        &[("price = \"0.85\"\n", ""), ("package = \"750 g\"\n", "")],
    );
    let told = flat(&good(&["cost", RECIPE, "--prices", fewer.to_str().unwrap()]));
    assert!(told.contains("What a piece costs is unknown: no price for salt."), "{told}");
    let wrong = changed("wrong.toml", PRICES, &[("\"0.85\"", "\"85p\"")]);
    let told = refused(&["cost", RECIPE, "--prices", wrong.to_str().unwrap()]);
    assert!(told.contains("item 4, price: \"85p\" is not a price"), "{told}");
}

#[test]
fn a_shopping_list_in_whole_packages() {
    let all = ["shop", RECIPE, RECIPE, MILK_LOAF, "--prices", PRICES, "--json"];
    let json: Value = serde_json::from_str(&good(&all)).unwrap();
    assert_eq!(json["titles"].as_array().map(Vec::len), Some(3));
    let buys = json["buys"].as_array().unwrap();
    assert!(buys.iter().all(|b| b["name"] != "water"));
    for b in buys {
        let n = |k: &str| b[k].as_f64().unwrap();
        let bought = n("packages") * b["package"].as_f64().unwrap_or(0.0);
        assert!((n("stock") + bought - n("need") - n("left")).abs() < 1e-6, "{b}");
        assert!(n("left") >= 0.0, "{b}");
    }
    let salt = |list: &Value| {
        let all = list["buys"].as_array().unwrap();
        all.iter().find(|b| b["name"] == "salt").unwrap()["packages"].as_i64()
    };
    assert_eq!(salt(&json), Some(0));
    let stock = scratch("stock.toml");
    std::fs::write(&stock, "[[item]]\nname = \"salt\"\nstock = \"5 g\"\n").unwrap();
    let mut with = all.to_vec();
    with.extend(["--stock", stock.to_str().unwrap()]);
    let json: Value = serde_json::from_str(&good(&with)).unwrap();
    assert_eq!(salt(&json), Some(1));
    let text = flat(&good(&all[..6]));
    assert!(text.contains("Water is taken from the tap.") && text.contains("1500 g"), "{text}");
}
