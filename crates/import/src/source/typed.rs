//! Ingredient lines as somebody typed them, with a title, headings and instructions among them.

use super::{Place, Source};
use crate::heading::{self, Part};
use crate::line;
use crate::suggest;

pub(super) fn sort(text: &str) -> Source {
    let mut source = Source::default();
    let mut doing = false;
    for (k, raw) in text.lines().enumerate() {
        let raw = raw.trim().trim_start_matches('\u{feff}');
        if raw.is_empty() || raw.chars().all(|c| matches!(c, '-' | '=' | '*' | '_' | '~')) {
            continue;
        }
        let place = Place::new("line", k + 1, raw);
        if let Some(part) = heading::part(raw) {
            // "# Country bread" on top is the title
            let first = source.title.is_none() && source.lines.is_empty() && !doing;
            if first && raw.starts_with('#') && part == Part::Dough && !ingredients(raw) {
                source.title = Some(titled(place));
                continue;
            }
            doing = part == Part::Method;
            if !doing {
                source.lines.push(place);
            }
            continue;
        }
        if makes(raw) {
            source.yields.push(place);
        } else if doing || prose(raw) {
            source.instructions.push(place);
        } else if heading::with_list(raw).is_some() || weighed(raw) {
            source.lines.push(place);
        } else if suggest::speaks_of_time_or_heat(raw) {
            // "bake at 230 C": no cup of anything
            source.instructions.push(place);
        } else if !line::read(raw).amounts.is_empty() {
            source.lines.push(place);
        } else if source.title.is_none() && source.lines.is_empty() {
            source.title = Some(titled(place));
        } else {
            source.lines.push(place);
        }
    }
    source
}

fn titled(place: Place) -> Place {
    let text = place.text.trim_matches(['#', '*', '_', '=', ' ']).to_owned();
    Place { text, ..place }
}

fn ingredients(text: &str) -> bool {
    text.to_lowercase().contains("ingredient")
}

/// "Makes 2 loaves", "Yield: 2".
fn makes(text: &str) -> bool {
    ["makes ", "makes:", "yield", "serves", "servings", "for 1 loaf", "for 2 loaves"]
        .iter()
        .any(|w| line::starts(text, w))
}

/// Whether a line gives a mass.
fn weighed(text: &str) -> bool {
    line::read(text).best().is_some_and(|a| a.parts.iter().all(|p| p.unit.grams().is_some()))
}

/// A sentence rather than an ingredient.
fn prose(text: &str) -> bool {
    let words = text.split_whitespace().count();
    let numbered = text.split_once(['.', ')']).is_some_and(|(n, rest)| {
        !n.is_empty()
            && n.len() <= 2
            && n.chars().all(|c| c.is_ascii_digit())
            && rest.trim_start().starts_with(char::is_alphabetic)
            && rest.starts_with(' ')
    });
    let begins_with_amount = text.starts_with(|c: char| c.is_numeric());
    (numbered && words > 3)
        || (!begins_with_amount && words > 6 && (text.ends_with('.') || text.contains(". ")))
        || (!begins_with_amount && words > 14)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_told_from_titles_yields_and_instructions() {
        let text = "# Country bread\nMakes 2 loaves\n\nLevain\n20 g starter\nDough:\n500 g flour\nsalt\n\
            Bake at 230 C for 40 minutes\n1. Mix it all and wait.\nMethod\n500 g of it is enough\n";
        let got = sort(text);
        let texts = |all: &[Place]| all.iter().map(|p| p.text.clone()).collect::<Vec<_>>();
        assert_eq!(got.title.unwrap().text, "Country bread");
        assert_eq!(texts(&got.yields), ["Makes 2 loaves"]);
        assert_eq!(texts(&got.lines), ["Levain", "20 g starter", "Dough:", "500 g flour", "salt"]);
        assert_eq!(got.instructions.len(), 3);
        assert_eq!(sort("Levain\n20 g starter").title, None);
    }
}
