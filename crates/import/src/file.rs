//! The recipe file of an import: what was assumed stands in it as comments, so that it stays with
//! the recipe.

use crate::item::rounded;
use crate::told::Assumption;
use crate::{Imported, Suggestion};
use engine::file::write_recipe;
use std::fmt::Write as _;

/// A comment line; nothing in it can end the comment.
fn comment(out: &mut String, text: &str) {
    let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    // infallible: writing to a String
    let _ = writeln!(out, "# {text}");
}

impl Assumption {
    /// In one sentence, with its line and how sure it is.
    pub fn sentence(&self) -> String {
        let place = self.place.as_ref().map(|p| format!("{p}: ")).unwrap_or_default();
        let range = self
            .range
            .map_or(String::new(), |(a, b)| format!(", {} to {} g", rounded(a), rounded(b)));
        let (said, sure) = (&self.assumed, self.sure_words());
        format!("{place}{}: {said}{range} ({sure}, {:.0} of 100)", self.field, self.sure)
    }
}

impl Suggestion {
    /// What it suggests, in the words of a recipe file.
    pub fn written(&self) -> String {
        let mut parts = Vec::new();
        if let Some((a, b)) = self.time {
            parts.push(if a == b {
                format!("time = \"{}\"", a.write())
            } else {
                format!("least = \"{}\", most = \"{}\"", a.write(), b.write())
            });
        }
        if let Some((a, b)) = self.temperature {
            let c = f64::midpoint(a.0, b.0).round();
            parts.push(format!("temperature = \"{c} °C\""));
        }
        parts.join(", ")
    }

    /// In one sentence.
    pub fn sentence(&self) -> String {
        let verb = self.verb.unwrap_or("some step");
        format!("{}: {verb}: {}: \"{}\"", self.place.at, self.written(), self.sentence)
    }
}

impl Imported {
    /// The recipe file, with everything told as comments above it.
    pub fn file(&self) -> String {
        let mut out = String::new();
        comment(
            &mut out,
            "Imported. Everything that did not stand in the source is listed here; mend what is wrong.",
        );
        for (head, lines) in self.told() {
            out.push_str("#\n");
            comment(&mut out, &format!("{head}:"));
            for line in lines {
                comment(&mut out, &format!("- {line}"));
            }
        }
        out.push('\n');
        out + &write_recipe(&self.recipe)
    }

    /// What there is to tell, under its headings.
    pub fn told(&self) -> Vec<(&'static str, Vec<String>)> {
        let assumed = self.assumptions.iter().map(Assumption::sentence).collect();
        let unread =
            self.not_understood.iter().map(|u| format!("{}: {}", u.place, u.why)).collect();
        let suggested = self.suggestions.iter().map(Suggestion::sentence).collect();
        let all: [(&str, Vec<String>); 3] = [
            ("Assumed", assumed),
            ("Not understood or left out", unread),
            ("Suggestions from the instructions, none of them in the method", suggested),
        ];
        all.into_iter().filter(|(_, lines)| !lines.is_empty()).collect()
    }
}
