//! Belief files: flat rows of names and numbers, checked on the way in.

use super::{Belief, Distribution, Mark, Quantity, Uncertain, Unit};
use crate::file::{MAX_BYTES, Problem, nearest, quoted};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use std::ops::Range;
use toml::Spanned;

/// A belief as a file has it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written<R> {
    name: String,
    #[serde(default)]
    about: String,
    #[serde(default = "Vec::new")]
    quantity: Vec<R>,
}

/// As other formats have it.
pub(super) type Plain = Written<Row>;

/// A quantity as a file has it; which numbers belong to it, its distribution says.
#[derive(Clone, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Row {
    name: String,
    unit: String,
    distribution: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    mean: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sd: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    median: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sd_log: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    scale: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    from: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    to: Option<f64>,
    mark: String,
    #[serde(default)]
    source: String,
    says: String,
}

/// Fields a file may have, for suggestions.
const FIELDS: [&str; 15] = [
    "name",
    "about",
    "quantity",
    "unit",
    "distribution",
    "mean",
    "sd",
    "median",
    "sd_log",
    "scale",
    "from",
    "to",
    "mark",
    "source",
    "says",
];

/// The numbers of each distribution, in the order its maker takes them.
const SHAPES: [(&str, &[&str]); 5] = [
    ("normal", &["mean", "sd"]),
    ("truncated normal", &["mean", "sd", "from", "to"]),
    ("lognormal", &["median", "sd_log"]),
    ("half normal", &["scale"]),
    ("uniform", &["from", "to"]),
];

impl Row {
    fn numbers(&self) -> [(&'static str, Option<f64>); 7] {
        [
            ("mean", self.mean),
            ("sd", self.sd),
            ("median", self.median),
            ("sd_log", self.sd_log),
            ("scale", self.scale),
            ("from", self.from),
            ("to", self.to),
        ]
    }
}

/// Gathers what is wrong in one row.
struct Checker {
    span: Range<usize>,
    path: String,
    problems: Vec<Problem>,
}

impl Checker {
    fn problem(&mut self, field: &str, message: impl Into<String>, hint: Option<String>) {
        self.problems.push(Problem {
            span: self.span.clone(),
            field: format!("{}, {field}", self.path),
            message: message.into(),
            hint,
        });
    }

    fn choice<T: Copy>(
        &mut self,
        field: &str,
        given: &str,
        names: &[(&'static str, T)],
    ) -> Option<T> {
        let found = names.iter().find(|(n, _)| *n == given).map(|(_, v)| *v);
        if found.is_none() {
            let known = || names.iter().map(|(n, _)| *n);
            let near = nearest(given, known())
                .map(|n| format!("did you mean \"{n}\"? "))
                .unwrap_or_default();
            let hint = format!("{near}choose from {}", known().collect::<Vec<_>>().join(", "));
            self.problem(field, format!("\"{}\" is not known here", short(given)), Some(hint));
        }
        found
    }

    fn distribution(&mut self, row: &Row) -> Option<Distribution> {
        let names = SHAPES.map(|(name, numbers)| (name, (name, numbers)));
        let (shape, needed) = self.choice("distribution", &row.distribution, &names)?;
        let before = self.problems.len();
        let mut given = Vec::new();
        for (field, number) in row.numbers() {
            match (needed.contains(&field), number) {
                (true, None) => {
                    let hint = format!("a {shape} distribution has {}", needed.join(", "));
                    self.problem(field, "is missing", Some(hint));
                }
                (false, Some(_)) => {
                    let hint = format!("a {shape} distribution has {}", needed.join(", "));
                    self.problem(
                        field,
                        format!("does not belong to a {shape} distribution"),
                        Some(hint),
                    );
                }
                (true, Some(x)) if !x.is_finite() => {
                    self.problem(field, format!("{x} is no finite number"), None);
                }
                (true, Some(x)) => {
                    if matches!(field, "sd" | "sd_log" | "scale" | "median") && x <= 0.0 {
                        let hint = if field == "median" {
                            "a lognormal quantity is above 0"
                        } else {
                            "leave the quantity out if it is certain"
                        };
                        self.problem(field, format!("{x} is not above 0"), Some(hint.into()));
                    }
                    given.push(x);
                }
                (false, None) => {}
            }
        }
        if self.problems.len() > before {
            return None;
        }
        let made = match (shape, given[..].as_ref()) {
            ("normal", &[mean, sd]) => Distribution::Normal { mean, sd },
            ("truncated normal", &[mean, sd, from, to]) => {
                if !(from < to && mean - 8.0 * sd < to && mean + 8.0 * sd > from) {
                    self.problem("to", format!("nothing is left from {from} to {to}"), None);
                    return None;
                }
                Distribution::TruncatedNormal { mean, sd, from, to }
            }
            ("lognormal", &[median, sd_log]) => Distribution::Lognormal { median, sd_log },
            ("half normal", &[scale]) => Distribution::HalfNormal { scale },
            ("uniform", &[from, to]) => {
                if from >= to {
                    self.problem("to", format!("{to} is not above from = {from}"), None);
                    return None;
                }
                Distribution::Uniform { from, to }
            }
            _ => return None, // SHAPES has no other
        };
        Some(made)
    }

    fn quantity(&mut self, row: &Row) -> Option<Quantity> {
        let what = self.choice("name", &row.name, Uncertain::NAMES);
        let unit = self.choice("unit", &row.unit, Unit::NAMES);
        let mark = self.choice("mark", &row.mark, Mark::NAMES);
        let distribution = self.distribution(row);
        if let (Some(what), Some(unit)) = (what, unit)
            && !what.units().contains(&unit)
        {
            let units: Vec<&str> = what.units().iter().map(|u| u.name()).collect();
            let hint = format!("write unit = \"{}\"", units.join("\" or \""));
            self.problem(
                "unit",
                format!("{} is not given in {}", what.name(), unit.name()),
                Some(hint),
            );
        }
        if let (Some(unit), Some(d)) = (unit, distribution) {
            let ((from, to), (least, greatest)) = (unit.range(), (d.at(0.0), d.at(1.0)));
            if !(from <= least && greatest <= to) {
                let message = format!(
                    "draws from {least:.3e} to {greatest:.3e} {} are outside {from} to {to}",
                    unit.name()
                );
                let hint = "narrow the spread, or cut it: \"truncated normal\" with from and to";
                self.problem("distribution", message, Some(hint.into()));
            }
        }
        if mark == Some(Mark::Published) && row.source.trim().is_empty() {
            self.problem("source", "is empty", Some("a published number has a source".into()));
        }
        if row.says.trim().is_empty() {
            self.problem("says", "is empty", Some("say in plain words what it means".into()));
        }
        Some(Quantity {
            what: what?,
            unit: unit?,
            distribution: distribution?,
            mark: mark?,
            source: row.source.clone(),
            says: row.says.clone(),
        })
    }
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}

/// Checks rows with their places in the text.
fn belief(
    name: String,
    about: String,
    rows: impl Iterator<Item = (Range<usize>, Row)>,
) -> Result<Belief, Vec<Problem>> {
    let mut quantities: Vec<Quantity> = Vec::new();
    let mut problems = Vec::new();
    if name.trim().is_empty() {
        problems.push(Problem {
            span: 0..0,
            field: "name".into(),
            message: "is empty".into(),
            hint: None,
        });
    }
    for (i, (span, row)) in rows.enumerate() {
        let path = format!("quantity {} ({})", i + 1, short(&row.name));
        let mut checker = Checker { span, path, problems: Vec::new() };
        if let Some(q) = checker.quantity(&row) {
            if quantities.iter().any(|other| other.what == q.what) {
                checker.problem("name", "stands here twice", None);
            }
            quantities.push(q);
        }
        problems.append(&mut checker.problems);
    }
    if problems.is_empty() { Ok(Belief { name, about, quantities }) } else { Err(problems) }
}

pub(super) fn read(text: &str) -> Result<Belief, Vec<Problem>> {
    let whole =
        |span, message, hint| vec![Problem { span, field: "the file".into(), message, hint }];
    if text.len() > MAX_BYTES {
        let message = format!("it has {} bytes; a belief has at most {MAX_BYTES}", text.len());
        return Err(whole(0..0, message, None));
    }
    let file: Written<Spanned<Row>> = toml::from_str(text).map_err(|e| {
        let span = e.span().unwrap_or(0..0);
        let key = text.get(span.clone()).unwrap_or_default();
        let near = nearest(key, FIELDS.into_iter().filter(|f| *f != key));
        let hint = near.map(|near| format!("did you mean {near}?"));
        whole(span, e.message().to_owned(), hint)
    })?;
    let rows = file.quantity.into_iter().map(|row| (row.span(), row.into_inner()));
    belief(file.name, file.about, rows)
}

impl TryFrom<Plain> for Belief {
    type Error = String;

    fn try_from(file: Plain) -> Result<Self, String> {
        let rows = file.quantity.into_iter().map(|row| (0..0, row));
        belief(file.name, file.about, rows).map_err(|problems| {
            let each = problems.iter().map(|p| format!("{}: {}", p.field, p.message));
            each.collect::<Vec<_>>().join("; ")
        })
    }
}

impl From<Belief> for Plain {
    fn from(belief: Belief) -> Self {
        let quantity = belief.quantities.iter().map(row).collect();
        Self { name: belief.name, about: belief.about, quantity }
    }
}

fn row(q: &Quantity) -> Row {
    let row = Row {
        name: q.what.name().into(),
        unit: q.unit.name().into(),
        mark: q.mark.name().into(),
        source: q.source.clone(),
        says: q.says.clone(),
        ..Row::default()
    };
    match q.distribution {
        Distribution::Normal { mean, sd } => {
            Row { distribution: "normal".into(), mean: Some(mean), sd: Some(sd), ..row }
        }
        Distribution::TruncatedNormal { mean, sd, from, to } => Row {
            distribution: "truncated normal".into(),
            mean: Some(mean),
            sd: Some(sd),
            from: Some(from),
            to: Some(to),
            ..row
        },
        Distribution::Lognormal { median, sd_log } => Row {
            distribution: "lognormal".into(),
            median: Some(median),
            sd_log: Some(sd_log),
            ..row
        },
        Distribution::HalfNormal { scale } => {
            Row { distribution: "half normal".into(), scale: Some(scale), ..row }
        }
        Distribution::Uniform { from, to } => {
            Row { distribution: "uniform".into(), from: Some(from), to: Some(to), ..row }
        }
    }
}

pub(super) fn write(belief: &Belief) -> String {
    let mut out = String::new();
    // infallible: writing to a String
    let _ = writeln!(out, "name = {}\nabout = {}", quoted(&belief.name), quoted(&belief.about));
    for q in &belief.quantities {
        let row = row(q);
        out.push_str("\n[[quantity]]\n");
        for (key, value) in
            [("name", &row.name), ("unit", &row.unit), ("distribution", &row.distribution)]
        {
            let _ = writeln!(out, "{key} = {}", quoted(value));
        }
        for (key, number) in row.numbers() {
            if let Some(x) = number {
                let _ = writeln!(out, "{key} = {x:?}");
            }
        }
        for (key, value) in [("mark", &row.mark), ("source", &row.source), ("says", &row.says)] {
            let _ = writeln!(out, "{key} = {}", quoted(value));
        }
    }
    out
}
