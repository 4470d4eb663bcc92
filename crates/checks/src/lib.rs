//! Every number the engine is held to, beside the number it gives.
//!
//! Reference values live in `data/checks/`, one file a source; the modules here
//! compute ours. [`table`] joins the two by id, [`render`] writes
//! `docs/validation.md`. A row records its verdict, so that a hit that is lost and
//! a miss that is mended both fail the test until somebody says so on purpose.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Where an expected number comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Printed by someone else.
    Published,
    /// Mathematics or conservation.
    Exact,
    /// A habit of the trade without one source.
    CommonPractice,
    /// A published number remembered, not re-read.
    FromMemory,
    /// What our reference implementation printed: guards against slips, proves nothing.
    Regression,
}

/// Whether ours lies inside the reference ± slack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Inside.
    Hit,
    /// Outside: said so in the table.
    Miss,
}

/// A number or a range, as printed.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Reference {
    /// One number; [`Row::slack`] says how near is near enough.
    Value(f64),
    /// From, to.
    Range([f64; 2]),
}

/// One check: the reference and, once computed, ours.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Unique name, also the key of the computed value.
    pub id: String,
    /// What is measured, with its conditions.
    pub what: String,
    /// Kind of reference.
    pub kind: Kind,
    /// Unit of both numbers, empty for ratios.
    #[serde(default)]
    pub unit: String,
    /// The reference.
    pub reference: Reference,
    /// Absolute slack; from the source (last printed digit, scatter), not from what passes.
    #[serde(default)]
    pub slack: f64,
    /// Table, page, equation.
    #[serde(default)]
    pub cite: String,
    /// The verdict on record.
    pub verdict: Verdict,
    /// What to know when reading the row.
    #[serde(default)]
    pub note: String,
}

/// The rows of one source.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Heading in the table: the phenomenon.
    pub about: String,
    /// Full reference of the source.
    pub source: String,
    /// Its checks.
    pub check: Vec<Row>,
}

/// A row with its computed values.
#[derive(Debug, Clone)]
pub struct Checked {
    /// The reference.
    pub row: Row,
    /// Ours, default parameter set.
    pub ours: f64,
    /// Ours with the set as first specified, where the set matters.
    pub first: Option<f64>,
}

impl Row {
    /// How far `ours` lies outside the reference (value: difference; range: distance to it).
    pub fn gap(&self, ours: f64) -> f64 {
        match self.reference {
            Reference::Value(v) => ours - v,
            Reference::Range([lo, _]) if ours < lo => ours - lo,
            Reference::Range([_, hi]) if ours > hi => ours - hi,
            Reference::Range(_) => 0.0,
        }
    }
    /// Hit or miss; NaN is a miss.
    pub fn verdict_of(&self, ours: f64) -> Verdict {
        if self.gap(ours).abs() <= self.slack * (1.0 + 1e-12) {
            Verdict::Hit
        } else {
            Verdict::Miss
        }
    }
}

/// Values by id. `set` is the parameter set's name, `first` or `mended`.
type Values = BTreeMap<&'static str, f64>;

mod belief;
pub mod exhaustive;
mod ferment;
mod label;
mod oven;
mod properties;
mod sources;
mod warmth;
mod water;
pub mod weekend;

/// All sources with ours beside every reference.
///
/// # Errors
/// A row without a value, a value without a row, a duplicate id, a file that does not parse.
pub fn table() -> Result<Vec<(Source, Vec<Checked>)>, String> {
    let mended = sources::values("mended");
    let first = sources::values("first");
    let mut used = std::collections::BTreeSet::new();
    let mut out = Vec::new();
    for (file, text) in sources::FILES {
        let source: Source = toml::from_str(text).map_err(|e| format!("{file}: {e}"))?;
        let mut rows = Vec::new();
        for row in &source.check {
            let ours = *mended
                .get(row.id.as_str())
                .ok_or_else(|| format!("{file}: nothing computes \"{}\"", row.id))?;
            if !used.insert(row.id.clone()) {
                return Err(format!("{file}: \"{}\" stands twice", row.id));
            }
            let before =
                first.get(row.id.as_str()).copied().filter(|b| b.to_bits() != ours.to_bits());
            rows.push(Checked { row: row.clone(), ours, first: before });
        }
        out.push((source, rows));
    }
    if let Some(id) = mended.keys().find(|id| !used.contains(**id)) {
        return Err(format!("\"{id}\" is computed but no file in data/checks has it"));
    }
    Ok(out)
}

/// `docs/validation.md`.
///
/// # Errors
/// As [`table`].
pub fn render() -> Result<String, String> {
    let table = table()?;
    let all: Vec<&Checked> = table.iter().flat_map(|(_, rows)| rows).collect();
    let misses = all.iter().filter(|c| c.row.verdict_of(c.ours) == Verdict::Miss).count();
    let mut md = String::from(
        "# Validation\n\n\
         Generated by `cargo run -p xtask -- validation`; a test fails when it is stale. Do not edit by hand.\n\n\
         Every number the engine is held to, with its source, ours beside it, and where we miss. \
         *published*: printed by someone else. *exact*: mathematics or conservation. \
         *common practice*: a habit of the trade, no single source. *from memory*: a published number remembered, not re-read. \
         *regression*: what our slow reference implementation printed; it guards against slips and proves nothing. \
         Where the parameter set as first specified gives another value, it stands in brackets.\n\n",
    );
    let _ = writeln!(md, "{} checks, {} hits, {misses} misses.\n", all.len(), all.len() - misses);
    md.push_str("## Where we miss\n\n");
    for (source, rows) in &table {
        let missed: Vec<&Checked> =
            rows.iter().filter(|c| c.row.verdict_of(c.ours) == Verdict::Miss).collect();
        if !missed.is_empty() {
            let _ = writeln!(md, "**{}**\n", source.about);
        }
        for c in &missed {
            let r = &c.row;
            let _ = writeln!(
                md,
                "- {}: {} {}, ours {}",
                r.what,
                reference_words(r),
                r.unit,
                show(c.ours)
            );
        }
        if !missed.is_empty() {
            md.push('\n');
        }
    }
    for (source, rows) in &table {
        let _ = writeln!(md, "## {}\n\n{}\n", source.about, source.source);
        md.push_str("| check | kind | reference | ours (first set) | gap | verdict |\n|---|---|---|---|---|---|\n");
        for c in rows {
            let r = &c.row;
            let reference = reference_words(r);
            let before = c.first.map(|b| format!(" ({})", show(b))).unwrap_or_default();
            let kind = match r.kind {
                Kind::Published => "published",
                Kind::Exact => "exact",
                Kind::CommonPractice => "common practice",
                Kind::FromMemory => "from memory",
                Kind::Regression => "regression",
            };
            let verdict = if r.verdict_of(c.ours) == Verdict::Hit { "hit" } else { "**miss**" };
            let mut what = r.what.clone();
            if !r.cite.is_empty() {
                let _ = write!(what, " [{}]", r.cite);
            }
            if !r.note.is_empty() {
                let _ = write!(what, ". {}", r.note);
            }
            let unit = if r.unit.is_empty() { String::new() } else { format!(" {}", r.unit) };
            let _ = writeln!(
                md,
                "| {what} | {kind} | {reference}{unit} | {}{before} | {} | {verdict} |",
                show(c.ours),
                show(r.gap(c.ours)),
            );
        }
        md.push('\n');
    }
    Ok(md)
}

fn reference_words(r: &Row) -> String {
    match r.reference {
        Reference::Value(v) if r.slack > 0.0 => format!("{} ± {}", show(v), show(r.slack)),
        Reference::Value(v) => show(v),
        Reference::Range([lo, hi]) if r.slack > 0.0 => {
            format!("{} to {}, ± {}", show(lo), show(hi), show(r.slack))
        }
        Reference::Range([lo, hi]) => format!("{} to {}", show(lo), show(hi)),
    }
}

/// Four significant digits: more than any of these sources print, stable across machines.
fn show(x: f64) -> String {
    if x == 0.0 {
        return "0".into();
    }
    let a = x.abs();
    if !(1e-3..1e6).contains(&a) {
        return format!("{x:.1e}");
    }
    let digits = (4 - 1 - libm::log10(a).floor() as i32).clamp(0, 6) as usize;
    let s = format!("{x:.digits$}");
    if s.contains('.') { s.trim_end_matches('0').trim_end_matches('.').to_owned() } else { s }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_verdict_is_the_one_on_record() {
        let mut changed = Vec::new();
        for (source, rows) in table().unwrap() {
            for c in rows {
                let now = c.row.verdict_of(c.ours);
                if now != c.row.verdict {
                    changed.push(format!(
                        "{} / {}: recorded {:?}, now {now:?} (ours {}, reference {:?} ± {})",
                        source.about, c.row.id, c.row.verdict, c.ours, c.row.reference, c.row.slack
                    ));
                }
            }
        }
        assert!(changed.is_empty(), "{}", changed.join("\n"));
    }

    #[test]
    fn the_page_is_fresh() {
        let page = include_str!("../../../docs/validation.md");
        assert!(
            page == render().unwrap(),
            "docs/validation.md is stale: run `cargo run -p xtask -- validation`"
        );
    }
}
