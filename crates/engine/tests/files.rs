//! Recipe and kitchen files: the bundled ones read, everything round-trips, and every
//! malformed one says what is wrong, where, and how to mend it.

#![allow(clippy::unwrap_used, reason = "a test file")]

use engine::file::{Problem, read_kitchen, read_recipe, write_kitchen, write_recipe};
use engine::formula::Formula;
use engine::hearth::Door;
use engine::method::{Liner, Place, Verb};
use proptest::prelude::*;
use std::path::{Path, PathBuf};

fn bundled(folder: &str) -> Vec<(PathBuf, String)> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/ferry-lane").join(folder);
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    files.into_iter().map(|p| (p.clone(), std::fs::read_to_string(p).unwrap())).collect()
}

fn tell(text: &str, problems: &[Problem]) -> String {
    problems
        .iter()
        .map(|p| {
            let hint = p.hint.as_deref().map(|h| format!(" | {h}")).unwrap_or_default();
            format!("{}: {}: {}{hint}\n", p.line(text), p.field, p.message).replace('\u{a0}', " ")
        })
        .collect()
}

#[test]
fn bundled_files_read_and_round_trip_without_loss() {
    let recipes = bundled("recipes");
    assert!(recipes.len() >= 5);
    for (path, text) in &recipes {
        let recipe = read_recipe(text).unwrap_or_else(|p| panic!("{path:?}\n{}", tell(text, &p)));
        let again = write_recipe(&recipe);
        let back = read_recipe(&again).unwrap_or_else(|p| panic!("{path:?}\n{}", tell(&again, &p)));
        assert_eq!(recipe, back, "{path:?}");
    }
    let kitchens = bundled("kitchens");
    assert!(kitchens.len() >= 3);
    for (path, text) in &kitchens {
        let kitchen = read_kitchen(text).unwrap_or_else(|p| panic!("{path:?}\n{}", tell(text, &p)));
        let again = write_kitchen(&kitchen);
        let back =
            read_kitchen(&again).unwrap_or_else(|p| panic!("{path:?}\n{}", tell(&again, &p)));
        assert_eq!(kitchen, back, "{path:?}");
    }
}

const PLAIN: &str = r#"title = "Plain"
[yield]
pieces = 2
piece = "800 g"
shape = "boule"
[formula]
water = "70 %"
salt = "2 %"
[[formula.flour]]
name = "white"
share = "100 %"
[[preferment]]
name = "levain"
kind = "levain"
prefermented_flour = "20 %"
hydration = "100 %"
seed = { inoculation = "20 %" }
[[step]]
do = "build"
what = "levain"
until = "ripe"
most = "12 h"
[[step]]
do = "mix"
[[step]]
do = "bulk"
until = "rise 50 %"
most = "8 h"
[[step]]
do = "load"
[[step]]
do = "bake"
time = "40 min"
"#;

#[test]
fn the_plain_recipe_reads() {
    let r = read_recipe(PLAIN).unwrap_or_else(|p| panic!("{}", tell(PLAIN, &p)));
    assert_eq!(r.method.steps.len(), 5);
}

/// Changes one thing in the plain recipe and checks the whole message.
#[track_caller]
fn broken(from: &str, to: &str, want: &str) {
    assert!(PLAIN.contains(from), "the plain recipe has no {from:?}");
    let text = PLAIN.replacen(from, to, 1);
    let told = tell(&text, &read_recipe(&text).expect_err("this recipe should be refused"));
    assert_eq!(told.trim_end(), want.trim_end());
}

#[test]
fn unknown_key() {
    broken(
        "salt =",
        "slat = \"2 %\"\nsalt =",
        "8: formula, slat: unknown field | did you mean \"salt\"?",
    );
}
#[test]
fn wrong_unit() {
    broken(
        "piece = \"800 g\"",
        "piece = \"800 ml\"",
        "4: yield, piece: \"800 ml\" is not a mass: unknown unit \"ml\", known are g, kg, mg, oz, lb | write \"780 g\", \"1.2 kg\" or \"1 lb 11 oz\"",
    );
}
#[test]
fn bare_number() {
    broken(
        "piece = \"800 g\"",
        "piece = 800",
        "4: yield, piece: is a bare number, a text was expected | write piece = \"…\", a quantity with its unit inside the quotes",
    );
}
#[test]
fn missing_flour() {
    broken(
        "[[formula.flour]]\nname = \"white\"\nshare = \"100 %\"\n",
        "",
        "6: formula, flour: there is no flour in the formula | add a [[formula.flour]] with name and share",
    );
}
#[test]
fn flours_that_do_not_make_a_hundred() {
    broken(
        "share = \"100 %\"",
        "share = \"90 %\"",
        "6: formula: the flours make 90 %, not 100 % | adjust the shares until they make 100 %",
    );
}
#[test]
fn negative_grams() {
    broken(
        "piece = \"800 g\"",
        "piece = \"-800 g\"",
        "4: yield, piece: -800 g is outside 5 g to 20000 g",
    );
}
#[test]
fn not_a_number() {
    broken(
        "water = \"70 %\"",
        "water = \"NaN %\"",
        "7: formula, water: \"NaN %\" is not a percentage: no number where one was expected | write \"75 %\"",
    );
}
#[test]
fn a_cue_nothing_bounds() {
    broken(
        "until = \"rise 50 %\"\nmost = \"8 h\"",
        "until = \"rise 50 %\"",
        "25: step 3, most: a cue without a longest time could wait for ever | add most = \"8 h\"",
    );
}
#[test]
fn a_step_that_can_never_end() {
    broken(
        "until = \"rise 50 %\"\nmost = \"8 h\"",
        "until = \"rise 50 %\"\nleast = \"9 h\"\nmost = \"8 h\"",
        "25: step 3, most: least 9 h, most 8 h: the step can never end rightly | least must not be above most, and usual lies between",
    );
}
#[test]
fn not_a_verb() {
    broken(
        "do = \"bulk\"",
        "do = \"bulck\"",
        "26: step 3, do: \"bulck\" is not known here | did you mean \"bulk\"? choose from build, soak, autolyse, mix, rest, fold, bulk, retard, warm-up, divide, preshape, bench rest, shape, proof, score, preheat, load, bake, vent, turn, reheat, cool",
    );
}
#[test]
fn not_a_cue() {
    broken(
        "until = \"rise 50 %\"",
        "until = \"doubled\"",
        "27: step 3, until: \"doubled\" is not a cue | write \"rise 55 %\", \"pH 4.3\", \"core 16 °C\", \"ripe\" or \"poke\"",
    );
}
#[test]
fn a_cue_outside_its_window() {
    broken(
        "until = \"rise 50 %\"",
        "until = \"rise 50 %\"\ngood = \"rise 60 % to 80 %\"",
        "25: step 3, good: waiting until rise 50 % never ends in rise 60 % to 80 % | let the cue lie inside its window, both of one measure",
    );
}
#[test]
fn a_levain_of_a_flour_the_formula_lacks() {
    broken(
        "seed = { inoculation = \"20 %\" }",
        "seed = { inoculation = \"20 %\" }\nflour = [{ name = \"whit\", share = \"100 %\" }]",
        "18: preferment 1, flour 1, name: \"whit\" is not among the formula's flours | did you mean \"white\"?",
    );
}
#[test]
fn a_dough_never_baked() {
    broken(
        "[[step]]\ndo = \"bake\"\ntime = \"40 min\"\n",
        "",
        "29: step: the dough is never baked | add a [[step]] with do = \"bake\"",
    );
}
#[test]
fn not_toml() {
    let told = tell("title = ", &read_recipe("title = ").unwrap_err());
    assert!(told.starts_with("1: the file: this is not TOML"), "{told}");
}
#[test]
fn five_megabytes_of_noise() {
    let noise = "#\u{1F35E}[x".repeat(5 << 20 >> 2);
    let told = tell(&noise, &read_recipe(&noise).unwrap_err());
    assert!(told.contains("bytes; a recipe or kitchen has at most"), "{told}");
}
#[test]
fn a_kitchen_with_impossible_hours() {
    let text = "name = \"k\"\nroom = [\"25:00 20 °C\"]\n[hours]\nawake = [\"dayly 06:00-22:00\"]\n";
    let told = tell(text, &read_kitchen(text).unwrap_err());
    assert_eq!(
        told,
        "2: room 1: \"25:00 20 °C\" has no time of day | write \"06:00 17 °C\"\n\
         4: hours, awake 1: \"dayly\" is not a day; days are mon tue wed thu fri sat sun\n"
    );
}

/// Blocks of TOML in a page.
fn documented(page: &str) -> Vec<&str> {
    page.split("```toml\n").skip(1).map(|b| b.split("```").next().unwrap()).collect()
}

/// What the pages show whole reads: the minimal recipe, its oven said in full, the kitchen, the log.
#[test]
fn what_the_pages_show_reads() {
    let recipes = documented(include_str!("../../../docs/recipe-file.md"));
    let minimal = recipes[0];
    read_recipe(minimal).unwrap_or_else(|p| panic!("{}", tell(minimal, &p)));
    let oven = recipes.iter().find(|b| b.contains("liner")).unwrap();
    let with = minimal.split("[[step]]\ndo = \"load\"").next().unwrap().to_owned() + oven;
    let r = read_recipe(&with).unwrap_or_else(|p| panic!("{}", tell(&with, &p)));
    assert_eq!(r.method.steps.last().unwrap().place, Place::OvenOff);
    let kitchens = documented(include_str!("../../../docs/kitchen-file.md"));
    let whole = kitchens.last().unwrap();
    let k = read_kitchen(whole).unwrap_or_else(|p| panic!("{}", tell(whole, &p)));
    assert!(k.pot.is_some() && k.hearth.is_some());
    let log = kitchens.iter().find(|b| b.contains("log_knob")).unwrap();
    let log = format!("name = \"k\"\n{log}");
    let k = read_kitchen(&log).unwrap_or_else(|p| panic!("{}", tell(&log, &p)));
    assert!(k.oven.log.points.len() > 3);
}

/// The plain recipe with the oven said in full.
const OVEN: &str = r#"
[[step]]
do = "preheat"
temperature = "250 °C"
time = "45 min"
[[step]]
do = "load"
liner = "paper"
wait = "fridge"
[[step]]
do = "bake"
temperature = "240 °C"
time = "15 min"
steam = true
fan = false
[[step]]
do = "turn"
[[step]]
do = "bake"
time = "15 min"
fan = true
[[step]]
do = "bake"
time = "5 min"
door = "ajar"
[[step]]
do = "bake"
place = "oven off"
time = "10 min"
door = "shut"
"#;

fn with_oven() -> String {
    let head = PLAIN.split("[[step]]\ndo = \"load\"").next().unwrap();
    format!("{head}{}", OVEN.trim_start())
}

#[test]
fn the_oven_said_in_full_reads_and_round_trips() {
    let text = with_oven();
    let r = read_recipe(&text).unwrap_or_else(|p| panic!("{}", tell(&text, &p)));
    let steps = &r.method.steps;
    let step = |verb| steps.iter().find(|s| s.verb == verb).unwrap();
    assert_eq!(step(Verb::Load).liner, Some(Liner::Paper));
    assert_eq!(step(Verb::Load).wait, Some(Place::Fridge));
    assert_eq!(step(Verb::Turn).hands_on.0, 1.0);
    let last = steps.last().unwrap();
    assert_eq!((last.door, last.fan), (Some(Door::Shut), None));
    assert_eq!(read_recipe(&write_recipe(&r)).unwrap(), r);
}

#[track_caller]
fn broken_oven(from: &str, to: &str, want: &str) {
    let text = with_oven();
    assert!(text.contains(from), "the recipe has no {from:?}");
    let text = text.replacen(from, to, 1);
    let told = tell(&text, &read_recipe(&text).expect_err("this recipe should be refused"));
    assert_eq!(told.trim_end(), want.trim_end());
}

#[test]
fn oven_words_that_are_none() {
    broken_oven(
        "liner = \"paper\"",
        "liner = \"papper\"",
        "35: step 5, liner: \"papper\" is not known here | did you mean \"paper\"? choose from paper, mat",
    );
    broken_oven(
        "wait = \"fridge\"",
        "wait = \"oven\"",
        "36: step 5, wait: \"oven\" is not known here | choose from room, fridge",
    );
    broken_oven(
        "fan = true",
        "fan = \"on\"",
        "48: step 8, fan: is a text, true or false was expected | write fan = true",
    );
}

#[test]
fn oven_words_at_the_wrong_step_are_not_passed_over() {
    broken_oven(
        "do = \"turn\"",
        "do = \"turn\"\nsteam = true",
        "45: step 7, steam: says nothing at a turn step | move it to the step with do = \"bake\"",
    );
    broken_oven(
        "fan = true",
        "liner = \"mat\"",
        "48: step 8, liner: says nothing at a bake step | move it to the step with do = \"load\"",
    );
}

const KITCHEN: &str = r#"name = "k"
paper = "220 °C"
mat = "482 °F"
[oven]
log = ["0 min 230 °C", "1 h 5 min 410 °F"]
log_knob = "240 °C"
[hearth]
width = "40 cm"
depth = "35 cm"
material = "sheet"
[pot]
mass = "4 kg"
material = "earthenware"
heated = false
[tin]
kind = "glass"
emissivity = 0.8
"#;

#[test]
fn everything_of_the_oven_in_a_kitchen_round_trips() {
    let k = read_kitchen(KITCHEN).unwrap_or_else(|p| panic!("{}", tell(KITCHEN, &p)));
    assert_eq!(k.oven.log.points.len(), 2);
    assert_eq!(k.oven.log.points[1].0.0, 65.0);
    let sheet = k.hearth.unwrap();
    assert!(!sheet.heated && sheet.thickness.0 == 1.0, "a sheet goes in cold: {sheet:?}");
    assert!(!k.pot.unwrap().heated);
    assert_eq!(read_kitchen(&write_kitchen(&k)).unwrap(), k);
    for material in ["cordierite", "firebrick", "steel", "cast iron", "sheet"] {
        let text = KITCHEN.replace("\"sheet\"", &format!("\"{material}\"\nheated = true"));
        let k = read_kitchen(&text).unwrap();
        assert_eq!(k.hearth.map(|h| (h.material.name(), h.heated)), Some((material, true)));
    }
    let beside = KITCHEN.replace(r#"["0 min 230 °C", "1 h 5 min 410 °F"]"#, r#""my-oven.csv""#);
    let k = read_kitchen(&beside).unwrap();
    assert_eq!(k.oven.log.file.as_deref(), Some("my-oven.csv"));
    assert_eq!(read_kitchen(&write_kitchen(&k)).unwrap(), k);
}

#[test]
fn an_oven_log_that_is_none_says_where() {
    let with = |log: &str| {
        let text = KITCHEN.replace(r#"["0 min 230 °C", "1 h 5 min 410 °F"]"#, log);
        tell(&text, &read_kitchen(&text).expect_err("this kitchen should be refused"))
    };
    assert_eq!(
        with(r#"["0 min 230 °C", "205 °C"]"#).trim_end(),
        "5: oven, log 2: \"205 °C\" is not a time and a temperature | write \"5 min 205 °C\""
    );
    assert_eq!(
        with(r#"["0 min 230 °C", "5 min 205 °C", "4 min 207 °C"]"#).trim_end(),
        "5: oven, log 3: 4 min comes after 5 min | put the points in order of time, each minute once"
    );
    assert!(with(r#"["2 min 230 °C", "5 min 205 °C"]"#).contains("the log begins at 2 min"));
    assert!(with("[]").contains("at least two points"));
    assert!(with("[230, 205]").starts_with("5: oven, log 1: is a bare number"));
    assert!(with(r#""../oven.csv""#).contains("not the name of a file beside this one"));
    let text = KITCHEN.replace("log = [", "# log = [");
    let told = tell(&text, &read_kitchen(&text).unwrap_err());
    assert!(told.contains("6: oven, log_knob: there is no log it could belong to"), "{told}");
}

proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,400}") {
        let _ = read_recipe(&text);
        let _ = read_kitchen(&text);
    }

    /// Real files with pieces cut out, doubled or swapped: near misses find more than noise.
    #[test]
    fn no_mangled_file_panics(file in 0usize..8, cut in 0.0f64..1.0, length in 0usize..60, put in "\\PC{0,8}") {
        let files: Vec<String> =
            bundled("recipes").into_iter().chain(bundled("kitchens")).map(|f| f.1).collect();
        let text = &files[file % files.len()];
        let chars: Vec<char> = text.chars().collect();
        let at = ((chars.len() as f64) * cut) as usize;
        let end = (at + length).min(chars.len());
        let mangled: String =
            chars[..at].iter().chain(&put.chars().collect::<Vec<_>>()).chain(&chars[end..]).collect();
        for problems in [read_recipe(&mangled).err(), read_kitchen(&mangled).err()].into_iter().flatten() {
            prop_assert!(!problems.is_empty());
            for p in problems {
                prop_assert!(p.span.start <= mangled.len() && !p.message.is_empty());
            }
        }
    }

    /// Any number that can be written comes back the same, bit for bit.
    #[test]
    fn numbers_round_trip(water in 50.0f64..110.0, salt in 0.0f64..5.0, pff in 1.0f64..30.0, piece in 50.0f64..3000.0) {
        let mut r = read_recipe(PLAIN).unwrap();
        let f: &mut Formula = &mut r.formula;
        f.water.0 = water;
        f.salt.0 = salt;
        f.preferments[0].prefermented_flour.0 = pff;
        r.yields.piece.0 = piece;
        prop_assert_eq!(read_recipe(&write_recipe(&r)).unwrap(), r);
    }
}
