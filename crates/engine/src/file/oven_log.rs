//! A logged oven: what a probe showed, minute by minute from loading, in the kitchen file or in
//! a CSV beside it.

use super::{MAX_BYTES, MAX_PROBLEMS, Problem, Section, Text, put, quoted, shorten};
use crate::kitchen::OvenLog;
use quantity::{Celsius, Minutes};
use std::fmt::Write as _;
use std::ops::{Range, RangeInclusive};
use toml::de::DeValue;

/// Minutes since loading: as long as the oven is simulated.
const MINUTE: RangeInclusive<f64> = 0.0..=2880.0;
/// What a probe in an oven may show, °C.
const SHOWN: RangeInclusive<f64> = -20.0..=500.0;
/// Columns of the CSV.
const COLUMNS: &str = "write a head row with the columns minute and oven_deg_c (or oven_deg_f)";

/// A point with its place in the text.
struct Point {
    span: Range<usize>,
    field: String,
    at: Minutes,
    shown: Celsius,
}

/// What is wrong with a list of points, first thing only.
fn wrong(points: &[Point], whole: Range<usize>, field: &str) -> Option<Problem> {
    let problem = |p: &Point, message: String, hint: &str| {
        Some(Problem {
            span: p.span.clone(),
            field: p.field.clone(),
            message,
            hint: Some(hint.into()),
        })
    };
    for p in points {
        if !MINUTE.contains(&p.at.0) {
            return problem(
                p,
                format!("{} is not between 0 and 2880 min", p.at.write()),
                "count the minutes from loading",
            );
        }
        if !SHOWN.contains(&p.shown.0) {
            return problem(
                p,
                format!("{} is outside -20 °C to 500 °C", p.shown.write()),
                "leave out what the probe cannot have shown",
            );
        }
    }
    for pair in points.windows(2) {
        if pair[1].at <= pair[0].at {
            return problem(
                &pair[1],
                format!("{} comes after {}", pair[1].at.write(), pair[0].at.write()),
                "put the points in order of time, each minute once",
            );
        }
    }
    match points {
        [] | [_] => Some(Problem {
            span: whole,
            field: field.to_owned(),
            message: "a log has at least two points".into(),
            hint: Some(
                "write log = [\"0 min 230 °C\", \"5 min 205 °C\", \"20 min 221 °C\"]".into(),
            ),
        }),
        [first, ..] if first.at.0 > 0.0 => problem(
            first,
            format!("the log begins at {}", first.at.write()),
            "begin with what the probe showed at loading, minute 0",
        ),
        _ => None,
    }
}

/// `"5 min 205 °C"`: a duration, a blank, a temperature.
fn point(t: &Text<'_>) -> Option<Point> {
    let mut blanks = t.value.char_indices().filter(|(_, c)| c.is_whitespace());
    let (at, shown) = blanks
        .find_map(|(i, _)| Some((t.value[..i].parse().ok()?, t.value[i..].trim().parse().ok()?)))?;
    Some(Point { span: t.span.clone(), field: t.field.clone(), at, shown })
}

/// `log` and `log_knob` of `[oven]`.
pub(super) fn read(s: &Section<'_, '_>) -> OvenLog {
    let knob = s.quantity("log_knob", 0.0..=500.0);
    let Some(value) = s.get("log") else {
        if let (Some(_), Some(value)) = (knob, s.get("log_knob")) {
            s.problem(
                value.span(),
                s.field("log_knob"),
                "there is no log it could belong to".into(),
                Some("add log = [\"0 min 230 °C\", \"5 min 205 °C\"], or drop log_knob".into()),
            );
        }
        return OvenLog::default();
    };
    if let DeValue::String(name) = value.get_ref() {
        let name = name.trim();
        if name.is_empty() || name.contains(['/', '\\']) || name.starts_with('.') {
            s.problem(
                value.span(),
                s.field("log"),
                format!("\"{}\" is not the name of a file beside this one", shorten(name)),
                Some("put the CSV beside the kitchen file and write log = \"oven-log.csv\"".into()),
            );
        }
        return OvenLog { file: Some(name.to_owned()), points: Vec::new(), knob };
    }
    let texts = s.texts("log");
    let mut points = Vec::new();
    let mut sound = matches!(value.get_ref(), DeValue::Array(list) if list.len() == texts.len());
    for t in &texts {
        if let Some(p) = point(t) {
            points.push(p);
        } else {
            sound = false;
            s.problem(
                t.span.clone(),
                t.field.clone(),
                format!("\"{}\" is not a time and a temperature", shorten(t.value)),
                Some("write \"5 min 205 °C\"".into()),
            );
        }
    }
    if sound && let Some(p) = wrong(&points, value.span(), &s.field("log")) {
        s.problem(p.span, p.field, p.message, p.hint);
    }
    let points = points.into_iter().map(|p| (p.at, p.shown)).collect();
    OvenLog { file: None, points, knob }
}

pub(super) fn write(out: &mut String, log: &OvenLog) {
    if let Some(name) = &log.file {
        put(out, "log", name);
    } else if !log.points.is_empty() {
        let points: Vec<String> = log
            .points
            .iter()
            .map(|p| quoted(&format!("{} {}", p.0.write(), p.1.write())))
            .collect();
        // infallible: writing to a String
        let _ = writeln!(out, "log = [{}]", points.join(", "));
    }
    if let Some(t) = log.knob {
        put(out, "log_knob", &t.write());
    }
}

/// Reads a log kept as CSV: a head row with `minute` and `oven_deg_c` (or `oven_deg_f`) among its
/// columns, one row a reading.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_oven_log(text: &str) -> Result<Vec<(Minutes, Celsius)>, Vec<Problem>> {
    let nowhere = |message: String, hint: &str| {
        vec![Problem {
            span: 0..0,
            field: "the oven log".into(),
            message,
            hint: Some(hint.to_owned()),
        }]
    };
    if text.len() > MAX_BYTES {
        return Err(nowhere(
            format!("it has {} bytes; a log has at most {MAX_BYTES}", text.len()),
            "one reading a minute is plenty",
        ));
    }
    let mut at = 0;
    let mut rows = text.split_inclusive('\n').map(|row| {
        let start = at;
        at += row.len();
        let row = row.trim_end();
        (start..start + row.len(), row)
    });
    let head = rows.by_ref().find(|(_, row)| !row.trim().is_empty());
    let Some((span, head)) = head else {
        return Err(nowhere("it is empty".into(), COLUMNS));
    };
    let cell = |c: &str| c.trim().trim_matches('"').trim_start_matches('\u{feff}').to_owned();
    let names: Vec<String> = head.split(',').map(cell).collect();
    let column = |name: &str| names.iter().position(|n| n == name);
    let shown = column("oven_deg_c").or(column("oven_deg_f"));
    let (Some(minute), Some(shown)) = (column("minute"), shown) else {
        return Err(vec![Problem {
            span,
            field: "the oven log, head".into(),
            message: format!("\"{}\" does not name the columns", shorten(head)),
            hint: Some(COLUMNS.into()),
        }]);
    };
    let fahrenheit = names[shown] == "oven_deg_f";
    let mut problems = Vec::new();
    let mut points = Vec::new();
    for (k, (span, row)) in rows.enumerate() {
        if row.trim().is_empty() {
            continue;
        }
        let field = format!("the oven log, row {}", k + 2);
        let cells: Vec<String> = row.split(',').map(cell).collect();
        let number =
            |i: usize| cells.get(i).and_then(|c| c.parse::<f64>().ok()).filter(|x| x.is_finite());
        match (number(minute), number(shown)) {
            (Some(m), Some(t)) => {
                let t = if fahrenheit { (t - 32.0) / 1.8 } else { t };
                points.push(Point { span, field, at: Minutes(m), shown: Celsius(t) });
            }
            _ => problems.push(Problem {
                span,
                field,
                message: format!(
                    "\"{}\" has no minute and no temperature as numbers",
                    shorten(row)
                ),
                hint: Some("write 5,205 with a point for decimals".into()),
            }),
        }
    }
    if problems.is_empty() {
        problems.extend(wrong(&points, 0..text.len(), "the oven log"));
    }
    problems.truncate(MAX_PROBLEMS);
    if problems.is_empty() {
        Ok(points.into_iter().map(|p| (p.at, p.shown)).collect())
    } else {
        Err(problems)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> String {
        let mut out = String::new();
        for p in read_oven_log(text).unwrap_err() {
            let hint = p.hint.as_deref().unwrap_or_default();
            writeln!(out, "{}: {}: {} | {hint}", p.line(text), p.field, p.message).unwrap();
        }
        out.replace('\u{a0}', " ")
    }

    #[test]
    fn a_log_in_either_unit_is_one_log() {
        let c = read_oven_log("minute,oven_deg_c\r\n0,230\r\n5,205\r\n\r\n").unwrap();
        assert_eq!(c, [(Minutes(0.0), Celsius(230.0)), (Minutes(5.0), Celsius(205.0))]);
        // other columns are nobody's business; Source: definition of °F
        let f = read_oven_log("\u{feff}probe,oven_deg_f,minute\na,446,0\nb,401,5\n").unwrap();
        for (a, b) in c.iter().zip(&f) {
            assert!((a.1 - b.1).0.abs() < 1e-9 && a.0 == b.0, "{a:?} {b:?}");
        }
    }

    #[test]
    fn a_log_that_is_none_says_where() {
        assert_eq!(
            told("minute,oven_deg_c\n0,230\n5,hot\n"),
            "3: the oven log, row 3: \"5,hot\" has no minute and no temperature as numbers | write 5,205 with a point for decimals\n"
        );
        assert!(told("time,temp\n0,230\n").contains("write a head row"));
        assert!(told("").contains("it is empty"));
        assert!(told("minute,oven_deg_c\n0,230\n").contains("at least two points"));
        assert!(told("minute,oven_deg_c\n3,230\n5,210\n").contains("begins at 3 min"));
        assert!(told("minute,oven_deg_c\n0,230\n5,210\n5,211\n").starts_with("4: "));
        assert!(told("minute,oven_deg_c\n0,230\n5,2100\n").contains("2100 °C is outside"));
        assert!(told("minute,oven_deg_c\n0,230\nNaN,2100\n").contains("as numbers"));
    }
}
