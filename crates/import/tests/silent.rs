//! Nothing is guessed silently, whatever is read; and nothing panics.

#![allow(clippy::unwrap_used, reason = "a test file")]

use engine::file::{read_recipe, write_recipe};
use import::{Imported, Spoons, import};
use proptest::prelude::*;
use toml::Value;

/// Every value of a recipe file, by its path.
fn leaves(value: &Value, path: &str, out: &mut Vec<String>) {
    match value {
        Value::Table(t) => {
            for (k, v) in t {
                let at = if path.is_empty() { k.clone() } else { format!("{path}, {k}") };
                leaves(v, &at, out);
            }
        }
        Value::Array(all) => {
            for (i, v) in all.iter().enumerate() {
                leaves(v, &format!("{path} {}", i + 1), out);
            }
        }
        _ => out.push(path.to_owned()),
    }
}

/// What a field of the file goes by: one assumption stands for all there is to a flour's kind, to
/// what an ingredient holds, to a seed.
fn goes_by(path: &str) -> String {
    let (head, key) = path.rsplit_once(", ").unwrap_or(("", path));
    let key = match key {
        "grain" | "ash" | "moisture" | "falling_number" => "protein",
        "sugar" | "fat" | "late" => "water",
        "scalded" => "soaks",
        key => key,
    };
    let same = format!("{head}, {key}");
    if head.starts_with("formula, flour") && key == "name" {
        return format!("{head}, share");
    }
    if head.starts_with("formula, other") && key == "name" {
        return format!("{head}, share");
    }
    if head.is_empty() { key.to_owned() } else { same }
}

/// Fields that say how a thing is written down, not how much of it there is.
fn form_only(path: &str) -> bool {
    let preferment = path.starts_with("preferment");
    let zero_parts = path.ends_with(", name") || path.ends_with(", kind");
    preferment && zero_parts || path.starts_with("soaker")
}

fn everything_is_told(got: &Imported) {
    let text = write_recipe(&got.recipe);
    let file: Value = toml::from_str(&text).unwrap();
    let mut paths = Vec::new();
    leaves(&file, "", &mut paths);
    for path in paths {
        let by = goes_by(&path);
        let near = |field: &str| {
            by == field
                || by.starts_with(&format!("{field},"))
                || by.starts_with(&format!("{field} "))
        };
        let told = got.read.iter().any(|r| near(&r.field))
            || got.assumptions.iter().any(|a| near(&a.field));
        // what is in the dough may stand in a preferment's lines alone
        let whole = ["formula, water", "formula, salt", "formula, yeast"].contains(&by.as_str())
            || by.starts_with("formula, flour");
        let inside =
            got.read.iter().map(|r| &r.field).chain(got.assumptions.iter().map(|a| &a.field));
        let told = told || whole && inside.clone().any(|f| f.starts_with("preferment"));
        // a preferment without salt or yeast has none of it: its lines are all there is
        let none = path.starts_with("preferment")
            && got.read.iter().any(|r| r.field.starts_with("preferment"));
        assert!(told || none || form_only(&path), "{path} ({by}) is told nowhere:\n{}", got.file());
    }
    for r in &got.read {
        let Some(grams) = r.grams else { continue };
        let line = import::line::read(&r.place.text);
        let best = line.best().unwrap();
        let stands: Option<f64> = best
            .parts
            .iter()
            .map(|p| p.unit.grams().filter(|_| p.least == p.most).map(|g| g * p.least))
            .sum();
        let same = stands.is_some_and(|g| (g - grams.0).abs() < 1e-9 * g.max(1.0))
            && line.doubts.is_empty();
        let assumed = got.assumptions.iter().any(|a| a.place.as_ref() == Some(&r.place));
        assert!(same || assumed, "{:?} of {} is told nowhere", grams, r.place);
    }
    for a in &got.assumptions {
        assert!((0.0..=100.0).contains(&a.sure) && !a.assumed.is_empty());
    }
}

fn holds(text: &str, spoons: Option<Spoons>) {
    match import(text, spoons) {
        Ok(got) => {
            everything_is_told(&got);
            assert_eq!(read_recipe(&got.file()).unwrap(), got.recipe, "{text}");
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            for p in problems {
                assert!(
                    !p.message.is_empty() && p.span.start <= p.span.end && p.span.end <= text.len()
                );
                assert!(text.get(p.span).is_some());
            }
        }
    }
}

const CARD: &str = include_str!("../../../examples/ferry-lane/imports/harbour-card.txt");
const JSON: &str = include_str!("../../../examples/ferry-lane/imports/quay-steps.json");
const PAGE: &str = include_str!("../../../examples/ferry-lane/imports/towpath-page.html");

#[test]
fn the_examples_tell_everything() {
    for text in [CARD, JSON, PAGE] {
        holds(text, None);
        holds(text, Some(Spoons::Au));
    }
}

fn line() -> impl Strategy<Value = String> {
    let amount = prop_oneof![
        (1u32..2000).prop_map(|n| format!("{n} g")),
        (1u32..9).prop_map(|n| format!("{n} cups")),
        (1u32..9).prop_map(|n| format!("{n}-{} tsp", n + 1)),
        (1u32..5).prop_map(|n| format!("{n} 1/2 cups ({} g)", n * 180)),
        (1u32..20).prop_map(|n| format!("{n},250 kg")),
        Just("about 12 oz".to_owned()),
        Just("2".to_owned()),
        Just("a pinch of".to_owned()),
        Just("all of the".to_owned()),
        Just("1 packet".to_owned()),
    ];
    let name = prop_oneof![
        Just("bread flour"),
        Just("flour"),
        Just("rye flour"),
        Just("water"),
        Just("salt"),
        Just("ripe starter"),
        Just("starter, 80% hydration"),
        Just("levain"),
        Just("instant yeast"),
        Just("fresh yeast"),
        Just("honey"),
        Just("eggs"),
        Just("sunflower seeds"),
        Just("poolish"),
        Just("old dough"),
        Just("biga"),
        Just("gravel"),
        Just("rye starter"),
        Just("milk"),
    ];
    let heading = prop_oneof![
        Just("Levain:"),
        Just("Dough:"),
        Just("Soaker:"),
        Just("Poolish:"),
        Just("Biga:"),
        Just("Topping:"),
        Just("Method"),
        Just("Makes 2 loaves"),
        Just("Levain: 20 g starter, 50 g flour, 50 g water"),
    ];
    prop_oneof![
        8 => (amount, name).prop_map(|(a, n)| format!("{a} {n}")),
        1 => heading.prop_map(str::to_owned),
    ]
}

fn spoons() -> impl Strategy<Value = Option<Spoons>> {
    prop_oneof![Just(None), Just(Some(Spoons::Metric)), Just(Some(Spoons::Au))]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn whatever_the_lines_everything_is_told(
        lines in prop::collection::vec(line(), 1..14), spoons in spoons(), flour in any::<bool>()
    ) {
        let mut text = lines.join("\n");
        if flour {
            text.insert_str(0, "500 g bread flour\n");
        }
        holds(&text, spoons);
    }

    #[test]
    fn the_same_as_json_ld(lines in prop::collection::vec(line(), 1..10)) {
        let text = serde_json::json!({
            "@type": "Recipe", "name": "x", "recipeIngredient": lines, "recipeYield": 2,
            "cookTime": "PT45M",
        });
        holds(&text.to_string(), None);
        holds(&format!("<html><script type='application/ld+json'>{text}</script>"), None);
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,300}") {
        holds(&text, None);
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        holds(&String::from_utf8_lossy(&bytes), None);
    }

    /// An example with some bytes cut out or changed.
    #[test]
    fn no_damage_panics(which in 0usize..3, at in 0usize..2000, cut in 0usize..40, put in "[\\x00-\\x7f]{0,6}") {
        let text = [CARD, JSON, PAGE][which];
        let at = at % text.len();
        let mut bytes = text.as_bytes().to_vec();
        let end = (at + cut).min(bytes.len());
        bytes.splice(at..end, put.bytes());
        holds(&String::from_utf8_lossy(&bytes), None);
    }

    #[test]
    fn no_json_panics(json in any_json()) {
        holds(&json.to_string(), None);
    }
}

fn any_json() -> impl Strategy<Value = serde_json::Value> {
    use serde_json::{Value, json};
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<f64>().prop_map(|x| json!(x)),
        line().prop_map(Value::from),
        Just(json!("Recipe")),
        Just(json!("PT1H")),
    ];
    leaf.prop_recursive(5, 40, 5, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::btree_map(
                "(@type|@graph|recipeIngredient|recipeInstructions|recipeYield|itemListElement|text|name|value|cookTime)",
                inner,
                0..6
            )
            .prop_map(|m| Value::Object(m.into_iter().collect())),
        ]
    })
}
