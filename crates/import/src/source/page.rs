//! A saved page: its scripts of type `application/ld+json`, and text without tags.

use super::{Source, json_ld, problem};
use engine::file::Problem;
use html5gum::emitters::default::DefaultEmitter;
use html5gum::{Token, Tokenizer};

fn tokens(html: &str) -> impl Iterator<Item = Token> + '_ {
    let mut emitter = DefaultEmitter::default();
    // what stands in a script is no markup
    emitter.naively_switch_states(true);
    Tokenizer::new_with_emitter(html, emitter).map(|Ok(token)| token)
}

pub(super) fn sort(html: &str) -> Result<Source, Vec<Problem>> {
    let mut scripts: Vec<String> = Vec::new();
    let mut inside = false;
    for token in tokens(html) {
        match token {
            Token::StartTag(tag) => {
                inside = tag.name.as_slice() == b"script"
                    && tag.attributes.iter().any(|(k, v)| {
                        let v = String::from_utf8_lossy(v).to_ascii_lowercase();
                        k.as_slice() == b"type" && v.trim().starts_with("application/ld+json")
                    });
                if inside {
                    scripts.push(String::new());
                }
            }
            Token::EndTag(_) => inside = false,
            Token::String(text) if inside => {
                if let Some(last) = scripts.last_mut() {
                    last.push_str(&String::from_utf8_lossy(&text));
                }
            }
            _ => {}
        }
    }
    if scripts.is_empty() {
        return Err(problem(
            "this page carries no schema.org Recipe (no script of type application/ld+json)",
            "copy its ingredient lines into a text file and import that",
        ));
    }
    json_ld::sort(&scripts)
}

/// Tags out, character references resolved: "1 &frac12; cups" becomes "1 ½ cups".
pub(super) fn text_of(html: &str) -> String {
    if !html.contains(['<', '&']) {
        return html.to_owned();
    }
    let mut out = String::new();
    for token in tokens(html) {
        match token {
            Token::String(text) => out.push_str(&String::from_utf8_lossy(&text)),
            Token::StartTag(tag)
                if matches!(tag.name.as_slice(), b"br" | b"p" | b"li" | b"div") =>
            {
                out.push('\n');
            }
            Token::EndTag(tag) if matches!(tag.name.as_slice(), b"p" | b"li" | b"div") => {
                out.push('\n');
            }
            _ => {}
        }
    }
    out
}
