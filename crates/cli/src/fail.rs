//! What went wrong, said once, with a way to mend it. Exit code 2 is yours to mend
//! (input), 1 ours or the machine's.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use engine::file::Problem;
use std::io::IsTerminal;
use std::path::Path;
use std::process::ExitCode;

/// A failure on its way to the terminal.
pub(crate) enum Failure {
    /// A file that does not read: its name, its text, all problems.
    File { name: String, text: String, problems: Vec<Problem> },
    /// A wrong argument or an impossible wish.
    Wish { message: String, hint: Option<String> },
    /// The machine would not.
    Machine(String),
}

impl Failure {
    pub(crate) fn wish(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Wish { message: message.into(), hint: Some(hint.into()) }
    }

    pub(crate) fn plain(message: impl std::fmt::Display) -> Self {
        Self::Wish { message: message.to_string(), hint: None }
    }

    pub(crate) fn read(path: &Path, e: &std::io::Error) -> Self {
        Self::Wish {
            message: format!("cannot read {}: {e}", path.display()),
            hint: Some("check the name; - reads standard input".into()),
        }
    }

    pub(crate) fn write(what: &str, e: &std::io::Error) -> Self {
        Self::Machine(format!("cannot write {what}: {e}"))
    }

    /// Prints to standard error; gives the exit code.
    pub(crate) fn report(self) -> ExitCode {
        let code = if matches!(self, Self::Machine(_)) { 1 } else { 2 };
        anstream::eprintln!("{}", self.render(colour()));
        ExitCode::from(code)
    }

    fn render(&self, styled: bool) -> String {
        let renderer = if styled { Renderer::styled() } else { Renderer::plain() };
        match self {
            Self::File { name, text, problems } => {
                let all: Vec<String> =
                    problems.iter().map(|p| one(&renderer, name, text, p)).collect();
                all.join("\n\n")
            }
            Self::Wish { message, hint } => {
                let mut groups = vec![Group::with_title(Level::ERROR.primary_title(message))];
                groups.extend(
                    hint.as_deref().map(|h| Group::with_title(Level::HELP.secondary_title(h))),
                );
                renderer.render(&groups)
            }
            Self::Machine(message) => {
                renderer.render(&[Group::with_title(Level::ERROR.primary_title(message))])
            }
        }
    }
}

impl From<document::Problem> for Failure {
    fn from(p: document::Problem) -> Self {
        Self::Wish { message: p.detail, hint: p.hint }
    }
}

fn colour() -> bool {
    std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

fn one(renderer: &Renderer, name: &str, text: &str, p: &Problem) -> String {
    let title = format!("{}: {}", p.field, p.message);
    let mut group = Group::with_title(Level::ERROR.primary_title(title.as_str()));
    // an excerpt, unless the place is nowhere or the text is no text
    let start = p.span.start.min(text.len());
    let end = p.span.end.clamp(start, text.len());
    // the first line only: a table's span runs on
    let end = text[start..end].find('\n').map_or(end, |n| start + n);
    if start < text.len() && text.len() < engine::file::MAX_BYTES {
        group = group.element(
            Snippet::source(text)
                .line_start(1)
                .path(name)
                .annotation(AnnotationKind::Primary.span(start..end)),
        );
    } else {
        group = group.element(Level::NOTE.message(format!("in {name}")));
    }
    let hint = p.hint.as_deref().map(|h| Group::with_title(Level::HELP.secondary_title(h)));
    let groups: Vec<Group<'_>> = std::iter::once(group).chain(hint).collect();
    renderer.render(&groups)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_shows_file_line_field_and_remedy() {
        let text = "title = \"x\"\n[yield]\npieces = 2\npiece = \"800 ml\"\n";
        let problems = vec![Problem {
            span: 38..46,
            field: "yield, piece".into(),
            message: "\"800 ml\" is not a mass: unknown unit \"ml\"".into(),
            hint: Some("write \"780 g\"".into()),
        }];
        let told =
            Failure::File { name: "r.toml".into(), text: text.into(), problems }.render(false);
        assert_eq!(
            told,
            "error: yield, piece: \"800 ml\" is not a mass: unknown unit \"ml\"\n\
             \x20--> r.toml:4:8\n\
             \x20 |\n\
             4 | piece = \"800 ml\"\n\
             \x20 |        ^^^^^^^^\n\
             \x20 |\n\
             help: write \"780 g\""
        );
    }
}
