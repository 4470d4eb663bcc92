//! A schema.org Recipe in JSON-LD, wherever it stands: alone, in a list, in a `@graph`.

use super::{Place, Source, page::text_of, problem};
use engine::file::Problem;
use quantity::Minutes;
use serde_json::Value;

/// Deepest nesting that is looked into.
const DEEPEST: usize = 32;
/// Most lines taken of one recipe.
const MOST: usize = 2000;

/// What is wrong with a text that is no JSON.
pub(super) fn unreadable(text: &str) -> String {
    match serde_json::from_str::<serde::de::IgnoredAny>(text) {
        Ok(_) => "this is no recipe".into(),
        Err(e) => format!("this is not JSON: {e}"),
    }
}

pub(super) fn sort(scripts: &[String]) -> Result<Source, Vec<Problem>> {
    let (mut recipes, mut faults) = (Vec::new(), Vec::new());
    for script in scripts {
        let text = script.trim();
        match serde_json::from_str::<Value>(text) {
            Ok(value) => collect(value, 0, &mut recipes),
            Err(_) => faults.push(unreadable(text)),
        }
    }
    let mut recipes = recipes.into_iter();
    let Some(first) = recipes.next() else {
        let hint = "copy the ingredient lines into a text file and import that";
        let message = faults.pop().map_or_else(
            || "there is no schema.org Recipe in it".to_owned(),
            |f| format!("no schema.org Recipe can be read in it: {f}"),
        );
        return Err(problem(message, hint));
    };
    let mut source = recipe(&first);
    for (k, other) in recipes.enumerate().take(20) {
        let name = other.get("name").and_then(Value::as_str).unwrap_or("without a name");
        let place = Place::new("recipe", k + 2, &text_of(name));
        source.passed_over.push((place, "only the first recipe of a page is taken".into()));
    }
    Ok(source)
}

fn is_recipe(value: &Value) -> bool {
    let named =
        |v: &Value| v.as_str().is_some_and(|t| t.rsplit(['/', ':', '#']).next() == Some("Recipe"));
    match value.get("@type") {
        Some(Value::Array(all)) => all.iter().any(named),
        Some(one) => named(one),
        None => false,
    }
}

/// Every recipe inside, outermost first.
fn collect(value: Value, depth: usize, out: &mut Vec<Value>) {
    if depth > DEEPEST {
        return;
    }
    if is_recipe(&value) {
        out.push(value);
        return;
    }
    match value {
        Value::Array(all) => all.into_iter().for_each(|v| collect(v, depth + 1, out)),
        Value::Object(map) => map.into_iter().for_each(|(_, v)| collect(v, depth + 1, out)),
        _ => {}
    }
}

fn recipe(value: &Value) -> Source {
    let one = |key: &str, what: &str| {
        let text = texts(value.get(key)?, 0).into_iter().next()?;
        Some(Place { at: what.to_owned(), text: short(&text, 300) })
    };
    let ingredients = value.get("recipeIngredient").or_else(|| value.get("ingredients"));
    let lines = ingredients.map(|v| texts(v, 0)).unwrap_or_default();
    let instructions = value.get("recipeInstructions").map(|v| texts(v, 0)).unwrap_or_default();
    let yields = value.get("recipeYield").map(|v| texts(v, 0)).unwrap_or_default();
    let numbered = |what: &str, all: Vec<String>| {
        let all = all.iter().take(MOST).enumerate();
        all.map(|(k, t)| Place::new(what, k + 1, t)).collect::<Vec<Place>>()
    };
    let mut source = Source {
        title: one("name", "name"),
        words: one("description", "description"),
        lines: numbered("ingredient", lines),
        instructions: numbered("instruction", instructions),
        yields: numbered("yield", yields),
        ..Source::default()
    };
    for key in ["prepTime", "cookTime", "totalTime"] {
        let Some(text) = value.get(key).and_then(Value::as_str) else { continue };
        let place = Place { at: key.to_owned(), text: short(text, 60) };
        match duration(text) {
            Some(time) => source.times.push((place, time)),
            None => source.passed_over.push((place, "is not an ISO 8601 duration".into())),
        }
    }
    source
}

fn short(text: &str, most: usize) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    words.join(" ").chars().take(most).collect()
}

/// The texts of a value, one a line: a text, a number, a list, a step, a section with its steps, a
/// quantity.
fn texts(value: &Value, depth: usize) -> Vec<String> {
    if depth > DEEPEST {
        return Vec::new();
    }
    match value {
        Value::String(s) => {
            text_of(s).lines().map(str::trim).filter(|l| !l.is_empty()).map(str::to_owned).collect()
        }
        Value::Number(n) => vec![n.to_string()],
        Value::Array(all) => all.iter().flat_map(|v| texts(v, depth + 1)).collect(),
        Value::Object(map) => {
            if let Some(list) = map.get("itemListElement").or_else(|| map.get("steps")) {
                return texts(list, depth + 1);
            }
            if let Some(n) = map.get("value") {
                let unit = map.get("unitText").and_then(Value::as_str).unwrap_or_default();
                let all = texts(n, depth + 1).into_iter();
                return all.map(|n| format!("{n} {unit}").trim().to_owned()).collect();
            }
            let text = map.get("text").or_else(|| map.get("item")).or_else(|| map.get("name"));
            text.map(|v| texts(v, depth + 1)).unwrap_or_default()
        }
        Value::Null | Value::Bool(_) => Vec::new(),
    }
}

/// An ISO 8601 duration of weeks, days, hours, minutes and seconds; years and months are no
/// exact time.
fn duration(text: &str) -> Option<Minutes> {
    let rest = text.trim().strip_prefix(['P', 'p'])?;
    let (mut total, mut number, mut in_time, mut any) = (0.0, String::new(), false, false);
    for c in rest.chars() {
        match c.to_ascii_uppercase() {
            'T' if number.is_empty() && !in_time => in_time = true,
            '0'..='9' if number.len() < 7 => number.push(c),
            '.' | ',' if number.len() < 7 => number.push('.'),
            unit => {
                let minutes = match (unit, in_time) {
                    ('W', false) => 10_080.0,
                    ('D', false) => 1440.0,
                    ('H', true) => 60.0,
                    ('M', true) => 1.0,
                    ('S', true) => 1.0 / 60.0,
                    _ => return None,
                };
                total += number.parse::<f64>().ok()? * minutes;
                number.clear();
                any = true;
            }
        }
    }
    (any && number.is_empty() && total.is_finite()).then_some(Minutes(total))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations() {
        for (text, minutes) in [
            ("PT45M", 45.0),
            ("PT18H30M", 1110.0),
            ("P1DT2H", 1560.0),
            ("PT0S", 0.0),
            ("PT1.5H", 90.0),
        ] {
            assert_eq!(duration(text), Some(Minutes(minutes)), "{text}");
        }
        for text in ["", "45 min", "P1Y", "P1M", "PT", "PT5", "P5H", "PTT5M"] {
            assert_eq!(duration(text), None, "{text}");
        }
    }

    #[test]
    fn a_recipe_is_found_wherever_it_stands() {
        let bare = r#"{"@type":["Thing","http://schema.org/Recipe"],"name":"A","recipeIngredient":"500 g flour\n300 g water"}"#;
        for text in [
            bare.to_owned(),
            format!("[{bare}]"),
            format!(r#"{{"@graph":[{{"@type":"WebSite","name":"B"}},{bare}]}}"#),
            format!(r#"{{"@type":"WebPage","mainEntity":{bare}}}"#),
        ] {
            let found = sort(std::slice::from_ref(&text)).unwrap();
            assert_eq!(found.title.unwrap().text, "A");
            assert_eq!(found.lines.len(), 2, "{text}");
        }
        assert!(sort(&[r#"{"@type":"RecipeBook"}"#.into()]).is_err());
    }

    #[test]
    fn steps_and_sections_are_opened_up() {
        let text = r#"{"@type":"Recipe","recipeInstructions":[
            {"@type":"HowToSection","name":"Dough","itemListElement":[
                {"@type":"HowToStep","text":"Mix &amp; rest <b>30 minutes</b>."},"Fold."]},
            {"@type":"HowToStep","name":"Bake."}],
            "recipeYield":[2,"2 loaves",{"@type":"QuantitativeValue","value":3,"unitText":"loaves"}]}"#;
        let found = sort(&[text.into()]).unwrap();
        let told: Vec<&str> = found.instructions.iter().map(|p| p.text.as_str()).collect();
        assert_eq!(told, ["Mix & rest 30 minutes.", "Fold.", "Bake."]);
        assert_eq!(found.yields.last().unwrap().text, "3 loaves");
    }
}
