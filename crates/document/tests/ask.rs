//! Questions as a page asks them; whatever is asked, there is an answer.

#![allow(clippy::unwrap_used, reason = "a test file")]

use document::{answer, ask};
use proptest::prelude::*;
use serde_json::{Value, json};

const RECIPE: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");
const KITCHEN: &str = include_str!("../../../examples/ferry-lane/kitchens/cold-flat.toml");

fn question(what: &str) -> Value {
    json!({
        "ask": what, "recipe": RECIPE, "kitchen": KITCHEN, "now": "2026-11-26T18:00",
        "zone": "Europe/Lisbon", "shifts": [], "scale": { "pieces": 2 }, "units": "metric",
    })
}

fn with(mut q: Value, key: &str, value: Value) -> Value {
    q[key] = value;
    q
}

fn problem(q: &Value) -> Value {
    let told = ask(q);
    assert!(told["problem"].is_object(), "{q}");
    told["problem"].clone()
}

#[test]
fn every_question_has_its_document() {
    for what in ["ferment", "bake"] {
        let told = ask(&question(what));
        assert_eq!(told["verb"], what, "{}", told["problem"]);
        assert_eq!(told["title"], "Tidewater batard");
    }
    let small = json!({ "ask": "formula", "recipe": RECIPE, "scale": { "flour": "1 kg" } });
    let told = ask(&small);
    let flours = told["sheet"]["total"]["flours"].as_array().unwrap();
    let flour: f64 = flours.iter().map(|g| g.as_f64().unwrap()).sum();
    assert!((flour - 1000.0).abs() < 5.0, "{flour}");
    let water = json!({ "ask": "water", "recipe": RECIPE, "wanted": "24 °C" });
    assert_eq!(ask(&water)["verb"], "water");
}

#[test]
fn a_plan_can_be_moved_and_its_recipe_goes_along() {
    let asked =
        with(with(question("plan"), "ready", json!("2026-11-28T18:00")), "kitchens", json!(8));
    let told = ask(&asked);
    let plan = &told["plans"][0];
    let divide = plan["steps"].as_array().unwrap().iter().find(|s| s["do"] == "divide").unwrap();
    let mut q = question("move");
    for (key, value) in [
        ("recipe", plan["recipe"].clone()),
        ("path", plan["path"].clone()),
        ("spans", plan["steps"].clone()),
        ("step", divide["step"].clone()),
        ("ready", json!(2880)),
    ] {
        q[key] = value;
    }
    let stays = ask(&with(q.clone(), "begin", divide["from"].clone()));
    assert_eq!(stays["refused"], Value::Null, "{stays}");
    let spans = |v: &Value| {
        let all = v.as_array().unwrap().iter();
        let mut all: Vec<_> = all.map(|s| (s["step"].as_u64(), s["from"].to_string())).collect();
        all.sort();
        all
    };
    assert_eq!(spans(&stays["spans"]), spans(&plan["steps"]));
    let night = ask(&with(q.clone(), "begin", json!("2026-11-27T03:00")));
    let refused = &night["refused"];
    assert!(refused["words"].as_str().is_some_and(|w| !w.is_empty()), "{night}");
    let done = ask(&with(q, "begin", refused["nearest"].clone()));
    assert_eq!(done["refused"], Value::Null, "{done}");
    assert!(done["forecast"]["kitchens"] == 12 && done["trace"]["lines"].is_array());
}

#[test]
fn what_is_wrong_says_where_and_what_would_do() {
    let told = problem(&json!({ "ask": "formla", "recipe": RECIPE }));
    assert!(told["hint"].as_str().unwrap().starts_with("did you mean \"formula\"?"));
    let told = problem(&json!({ "ask": "formula" }));
    assert_eq!((&told["field"], &told["detail"]), (&json!("recipe"), &json!("is missing")));
    let bad = RECIPE.replace("[yield]", "[yeld]");
    let told = problem(&json!({ "ask": "formula", "recipe": bad }));
    assert_eq!(told["field"], "recipe");
    assert!(told["problems"][0]["line"].as_u64().unwrap() >= 1);
    let checked = ask(&json!({ "ask": "check", "recipe": bad }));
    assert_eq!(checked["problems"], told["problems"]);
    assert_eq!(ask(&json!({ "ask": "check", "kitchen": KITCHEN }))["problems"], json!([]));
    let told = problem(&with(question("ferment"), "strt", json!(3)));
    assert_eq!(told["hint"].as_str().unwrap().split('?').next(), Some("did you mean \"start\""));
    let told = problem(&with(question("ferment"), "path", json!({ "cold_bulk": true })));
    assert!(told["detail"].as_str().unwrap().starts_with("this recipe has no steps for bulk"));
    let written = ask(&json!({ "ask": "write", "recipe": RECIPE }));
    let again = ask(&json!({ "ask": "write", "recipe": written["recipe"] }));
    assert_eq!(written, again);
}

#[test]
fn a_text_is_imported_and_its_recipe_asked_on() {
    let text =
        "Small loaf\n1 cup rye flour\n400 g bread flour\n300 g water\n100 g starter\n9 g salt";
    let told = ask(&json!({ "ask": "import", "text": text }));
    assert_eq!((&told["verb"], &told["title"]), (&json!("import"), &json!("Small loaf")));
    let assumed = told["assumptions"].as_array().unwrap();
    let cup = assumed.iter().find(|a| a["place"]["at"] == "line 2").unwrap();
    assert_eq!(
        (&cup["field"], &cup["sure_words"]),
        (&json!("formula, flour 1, share"), &json!("rather likely"))
    );
    assert!(cup["least"].as_f64() < Some(102.0) && cup["most"].as_f64() > Some(102.0));
    assert!(assumed.iter().any(|a| a["field"] == "cups and spoons"));
    assert_eq!(ask(&json!({ "ask": "formula", "recipe": told["recipe"] }))["title"], "Small loaf");
    let metric = ask(&json!({ "ask": "import", "text": text, "spoons": "metric" }));
    assert_eq!(metric["spoons"], "metric");
    assert!(!metric["assumptions"].to_string().contains("cups and spoons"));
    let told = problem(&json!({ "ask": "import", "text": text, "spoons": "imperial" }));
    assert_eq!(told["field"], "spoons");
    let told = problem(&json!({ "ask": "import", "text": "500 g gravel" }));
    assert!(told["detail"].as_str().unwrap().contains("no flour"));
    assert_eq!(told["field"], "text");
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(|x| json!(x)),
        "[a-z0-9:TZ°%. -]{0,12}".prop_map(Value::from),
        Just(json!("2026-11-28T18:00")),
        Just(json!("9999-12-31T23:59")),
        Just(json!("-009999-01-01T00:00")),
        (-3000i64..3000).prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 24, 5, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::btree_map(
                "(at|step|from|to|pieces|flour|cold_proof|[a-z]{1,5})",
                inner,
                0..5
            )
            .prop_map(|m| Value::Object(m.into_iter().collect())),
        ]
    })
}

const KEYS: [&str; 24] = [
    "ask", "recipe", "kitchen", "now", "zone", "shifts", "scale", "units", "start", "path",
    "spans", "step", "begin", "end", "ready", "pins", "weights", "early", "measured", "room",
    "every", "recipes", "text", "spoons",
];
const ASKS: [&str; 8] = ["formula", "water", "ferment", "bake", "move", "import", "check", "write"];

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    #[test]
    fn any_text_has_an_answer(text in ".{0,200}") {
        let told: Value = serde_json::from_str(&answer(&text)).unwrap();
        prop_assert!(told["problem"].is_object());
    }

    #[test]
    fn any_json_has_an_answer(q in any_json()) {
        let told: Value = serde_json::from_str(&answer(&q.to_string())).unwrap();
        prop_assert!(told.is_object());
    }

    /// A good question with some fields changed, a recipe with some bytes changed.
    #[test]
    fn a_spoilt_question_has_an_answer(
        what in prop::sample::select(&ASKS[..]),
        spoil in prop::collection::vec((prop::sample::select(&KEYS[..]), any_json()), 0..3),
        cut in prop::option::of((0usize..4000, 0usize..40, "[a-z0-9\" =\\[\\]-]{0,6}")),
    ) {
        let mut q = question(what);
        if let Some((at, gone, put)) = cut {
            let letters: Vec<char> = RECIPE.chars().collect();
            let at = at.min(letters.len());
            let end = (at + gone).min(letters.len());
            let text: String =
                letters[..at].iter().copied().chain(put.chars()).chain(letters[end..].iter().copied()).collect();
            q["recipe"] = json!(text);
        }
        for (key, value) in spoil {
            q[key] = value;
        }
        let told = ask(&q);
        prop_assert!(told["problem"].is_object() || told["verb"].is_string());
    }

    /// Any spans and any moment.
    #[test]
    fn any_move_has_an_answer(
        path in prop::sample::select(vec![json!({}), json!({ "cold_proof": true })]),
        step in 1usize..22,
        at in -5000.0..90_000.0f64,
        moved in prop::collection::vec((0usize..20, -400.0..400.0f64), 0..3),
    ) {
        let base = with(question("ferment"), "path", path.clone());
        let followed = ask(&base);
        let mut spans: Vec<Value> = Vec::new();
        for line in followed["trace"]["lines"].as_array().unwrap() {
            spans.extend(line["spans"].as_array().unwrap().iter().cloned());
        }
        for (k, by) in moved {
            if let Some(s) = spans.get_mut(k) {
                s["from"] = json!(s["from"].as_f64().unwrap() + by);
            }
        }
        let mut q = with(question("move"), "path", path);
        for (key, value) in [("spans", json!(spans)), ("step", json!(step)), ("begin", json!(at))] {
            q[key] = value;
        }
        let told = ask(&q);
        prop_assert!(told["problem"].is_object() || told["verb"] == "move");
    }
}

#[test]
fn labels_costs_and_shopping() {
    const PRICES: &str = include_str!("../../../examples/ferry-lane/prices.toml");
    let q = |what: &str| json!({ "ask": what, "recipe": RECIPE, "prices": PRICES });
    let label = json!({ "ask": "label", "recipe": RECIPE, "loss": 15, "slice": "45 g" });
    let told = ask(&label);
    assert_eq!(told["verb"], "label", "{}", told["problem"]);
    assert_eq!(told["us"]["serving"], "1 slice (45g)");
    assert!(
        told["per_100g"]["energy"]["value"].as_f64().is_some_and(|x| (200.0..280.0).contains(&x))
    );
    assert!(told["cautions"].as_array().is_some_and(|c| c.len() == 4));
    assert_eq!(ask(&q("cost"))["total"].as_str().map(|t| t.contains('.')), Some(true));
    let twice = json!({
        "ask": "shop", "prices": PRICES,
        "recipes": [{ "recipe": RECIPE }, { "recipe": RECIPE, "scale": { "pieces": 4 } }],
    });
    assert_eq!(ask(&twice)["titles"].as_array().map(Vec::len), Some(2));
    assert_eq!(problem(&with(label.clone(), "dough_weight", json!(900)))["field"], "loss");
    assert_eq!(problem(&with(label.clone(), "food", json!("cake")))["field"], "food");
    let packets = "[[packet]]\nname = \"x\"\n";
    assert_eq!(problem(&with(label, "packets", json!(packets)))["field"], "packets");
    assert_eq!(problem(&json!({ "ask": "cost", "recipe": RECIPE }))["field"], "prices");
}
