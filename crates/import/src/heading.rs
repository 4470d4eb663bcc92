//! Headings between ingredient lines: which part of the bread the next lines belong to.

use crate::line;

/// A part of a recipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    /// What is weighed at mixing.
    Dough,
    /// A levain build.
    Levain,
    /// A liquid yeasted preferment.
    Poolish,
    /// A stiff one.
    Biga,
    /// Seeds and grains that drink; scalded when poured on boiling.
    Soaker { scalded: bool },
    /// Toppings, fillings, glazes: no part of the dough.
    Aside,
    /// What is done.
    Method,
}

/// Words that name a part, strongest first.
const PARTS: [(&[&str], Part); 7] = [
    (&["method", "directions", "instructions", "steps", "preparation", "procedure"], Part::Method),
    (
        &[
            "topping",
            "filling",
            "glaze",
            "dusting",
            "serve",
            "finish",
            "wash",
            "decoration",
            "crust",
        ],
        Part::Aside,
    ),
    (&["soaker"], Part::Soaker { scalded: false }),
    (&["levain", "leaven", "starter", "sour", "sourdough"], Part::Levain),
    (&["poolish", "preferment", "sponge"], Part::Poolish),
    (&["biga"], Part::Biga),
    (&["dough", "bread", "loaf", "ingredients", "final", "main", "mix"], Part::Dough),
];

/// The part a heading opens, when the text is one: it has no amount, and a colon behind it, marks
/// of a heading, or nothing but a few words that name a part.
pub(crate) fn part(text: &str) -> Option<Part> {
    let marked = text.trim_start().starts_with('#') || text.trim().starts_with("**");
    let bare = text.trim().trim_matches(['#', '*', '_', '=', '-', '[', ']', ' ']);
    let colon = bare.ends_with(':');
    let bare = bare.trim_end_matches([':', '*', '_', ' ']);
    let lower = bare.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    if words.is_empty() || words.len() > 8 || !line::read(bare).amounts.is_empty() {
        return None;
    }
    let found = PARTS.iter().find(|(names, _)| names.iter().any(|n| words.contains(n)));
    let part = found.map(|(_, part)| match part {
        Part::Soaker { .. } => Part::Soaker {
            scalded: words.iter().any(|w| w.starts_with("scald") || *w == "boiling"),
        },
        part => *part,
    });
    match part {
        Some(part) if colon || marked || words[0] == "for" => Some(part),
        Some(part) if alone(&words) => Some(part),
        None if (colon || marked) && words[0] != "makes" => Some(Part::Dough),
        _ => None,
    }
}

/// Whether a line without a colon or a mark can only be a heading: "levain", "final dough", but
/// not "sourdough starter", which may be an ingredient, nor "rye bread", which may be a title.
fn alone(words: &[&str]) -> bool {
    const NAMES: [&str; 25] = [
        "levain",
        "leaven",
        "poolish",
        "biga",
        "preferment",
        "sponge",
        "soaker",
        "dough",
        "final",
        "main",
        "ingredients",
        "method",
        "directions",
        "instructions",
        "steps",
        "preparation",
        "procedure",
        "topping",
        "filling",
        "glaze",
        "build",
        "the",
        "first",
        "second",
        "scalded",
    ];
    const HOW: [&str; 10] = [
        "rye",
        "wheat",
        "white",
        "wholemeal",
        "stiff",
        "liquid",
        "overnight",
        "evening",
        "morning",
        "last",
    ];
    words == ["starter"] || words.iter().all(|w| NAMES.contains(w) || HOW.contains(w))
}

/// Whether a heading says of itself that it is one.
pub(crate) fn marked(text: &str) -> bool {
    text.contains([':', '#', '*']) || crate::line::starts(text, "for ")
}

/// "For the levain: 20 g starter, 100 g flour, 100 g water": the heading and what follows it.
pub(crate) fn with_list(text: &str) -> Option<(Part, Vec<&str>)> {
    let (head, list) = text.split_once(':')?;
    let part = part(&format!("{head}:"))?;
    let items: Vec<&str> =
        list.split([',', ';']).map(str::trim).filter(|s| !s.is_empty()).collect();
    let measured = items.iter().filter(|i| !line::read(i).amounts.is_empty()).count();
    (measured >= 2).then_some((part, items))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_and_what_is_none() {
        assert_eq!(part("For the levain:"), Some(Part::Levain));
        assert_eq!(part("Levain build"), Some(Part::Levain));
        assert_eq!(part("## Final dough"), Some(Part::Dough));
        assert_eq!(part("**Method**"), Some(Part::Method));
        assert_eq!(part("Scalded soaker:"), Some(Part::Soaker { scalded: true }));
        assert_eq!(part("For dusting:"), Some(Part::Aside));
        assert_eq!(part("Poolish"), Some(Part::Poolish));
        assert_eq!(part("Wet things:"), Some(Part::Dough));
        assert_eq!(part("Rye levain"), Some(Part::Levain));
        let none =
            ["sourdough starter", "rye starter", "Country bread", "Makes 1 loaf", "ripe levain"];
        for text in none {
            assert_eq!(part(text), None, "{text}");
        }
        for text in ["500 g bread flour", "all of the levain", "a pinch of salt", "salt", ""] {
            assert_eq!(part(text), None, "{text}");
        }
        let (part, items) =
            with_list("For the levain: 20 g starter, 100 g flour, 100 g water").unwrap();
        assert_eq!((part, items.len()), (Part::Levain, 3));
        assert!(with_list("Flour: 500 g").is_none());
    }
}
