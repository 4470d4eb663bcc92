//! Tables for the terminal: hairlines, numbers to the right, as wide as the screen.

use anstyle::{Effects, Style};
use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};

const BOLD: Style = Style::new().effects(Effects::BOLD);
const DIM: Style = Style::new().effects(Effects::DIMMED);

/// Columns of the terminal: `COLUMNS`, the terminal's own, or 100.
pub(crate) fn width() -> u16 {
    let asked = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    let own = || terminal_size::terminal_size().map(|(w, _)| w.0);
    asked.or_else(own).unwrap_or(100).clamp(40, 160)
}

pub(crate) fn bold(text: &str) -> String {
    format!("{BOLD}{text}{BOLD:#}")
}

pub(crate) fn dim(text: &str) -> String {
    format!("{DIM}{text}{DIM:#}")
}

/// A table with a header; columns named in `left` are aligned left, the rest right.
pub(crate) fn table(header: &[&str], left: &[usize], rows: &[Vec<String>]) -> String {
    let mut t = Table::new();
    let rule = LineStyle::none().fill('─').junction('─');
    t.load_style(TableStyle::new().header_separator(rule))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(width())
        .set_header(header.iter().copied());
    for row in rows {
        t.add_row(row);
    }
    for (i, c) in t.column_iter_mut().enumerate() {
        let right = !left.contains(&i);
        c.set_cell_alignment(if right { CellAlignment::Right } else { CellAlignment::Left });
        c.set_padding((0, 2));
    }
    t.trim_fmt() + "\n"
}

/// Text wrapped to the screen, every line but the first indented.
pub(crate) fn wrapped(text: &str, first: usize, indent: usize) -> String {
    let room = usize::from(width()).saturating_sub(indent).max(20);
    let mut out = String::new();
    let mut used = first.saturating_sub(indent);
    // at plain spaces only: a number stays with its unit
    for word in text.split([' ', '\n']).filter(|w| !w.is_empty()) {
        let n = word.chars().count();
        if used > 0 && used + 1 + n > room {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            used = 0;
        } else if used > 0 && !out.is_empty() {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += n;
    }
    out
}
