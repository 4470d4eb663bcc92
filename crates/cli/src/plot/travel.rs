//! A recipe in readers' kitchens as a picture: by the printed times beside by the cue, a map over
//! kitchen and starter, and below it what became of doughs and loaves. One SVG that stands alone.

use super::ribbon::{END, MIDDLE, patterns};
use super::svg::{line, put, rect, text, tint, wide};
use super::{WIDTH, name_of, sheet, wrap};
use engine::travel::{Checkpoint, Count, FEW, Report, Tally, VIGOURS};
use quantity::{Celsius, Percent, Units};

/// Left edges of the two maps, px.
const LEFTS: [f64; 2] = [100.0, 634.0];
/// Width and height of a cell, px.
const CELL: (f64, f64) = (70.0, 38.0);
/// Width of a map.
const FIELD: f64 = 6.0 * CELL.0;
/// Height of a bar of shares.
const BAR: f64 = 22.0;

/// What a picture of readers' kitchens shows.
pub(crate) struct Picture<'a> {
    /// The recipe.
    pub(crate) title: &'a str,
    /// What came out.
    pub(crate) sentence: &'a str,
    /// Who was asked.
    pub(crate) asked: &'a str,
    /// The answer.
    pub(crate) report: &'a Report,
    /// Units of temperatures.
    pub(crate) units: Units,
}

/// A temperature of an axis as a number in these units.
pub(crate) fn degrees(celsius: f64, units: Units) -> f64 {
    match units {
        Units::Metric => celsius,
        Units::Us => Celsius(celsius).fahrenheit(),
    }
}

fn unit(units: Units) -> &'static str {
    match units {
        Units::Metric => "°C",
        Units::Us => "°F",
    }
}

/// Draws the answer.
pub(crate) fn draw(picture: &Picture<'_>) -> String {
    let title = format!("{}: does it travel?", picture.title);
    let words = words(picture);
    let id = name_of(&format!("{title}|{words}"));
    let mut head = String::new();
    let mut y = 38.0;
    for row in wrap(&title, 20.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "head", "", &row);
        y += 24.0;
    }
    for row in wrap(picture.sentence, 14.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "bold", "", &row);
        y += 20.0;
    }
    for row in wrap(picture.asked, 12.0, WIDTH - 48.0) {
        text(&mut head, 24.0, y, "soft", "", &row);
        y += 17.0;
    }
    y += 18.0;
    let mut body = String::new();
    let all =
        [("By the printed times", &picture.report.clock), ("By the cue", &picture.report.cue)];
    for ((name, _), left) in all.iter().zip(LEFTS) {
        text(&mut body, left, y, "head", "", name);
    }
    text(&mut body, 24.0, y + 24.0, "bold", "", "Doughs in their window at loading, of 100");
    let top = y + 36.0;
    let mut end = top;
    for ((_, tally), left) in all.iter().zip(LEFTS) {
        end = map(&mut body, tally, &picture.report.rooms, (left, top), picture.units);
    }
    end = scale(&mut body, end + 14.0);
    text(&mut body, 24.0, end + 34.0, "bold", "", "What became of them, of 100");
    let top = end + 46.0;
    for ((_, tally), left) in all.iter().zip(LEFTS) {
        end = bars(&mut body, tally, (left, top), &id);
    }
    end = legend(&mut body, end + 12.0, &id);
    let mut defs = String::new();
    patterns(&mut defs, &id);
    sheet(&id, &title, &words, end + 20.0, &defs, &[head, body])
}

/// The word for a cell where fewer than half are good: what most of the others are.
pub(crate) fn failing(c: Count) -> Option<&'static str> {
    let [under, good, over] = c.shares();
    match () {
        () if good.0.round() >= 50.0 => None,
        () if under.0 >= over.0 => Some("short"),
        () => Some("past"),
    }
}

fn map(
    out: &mut String,
    tally: &Tally,
    rooms: &[f64; 7],
    (left, top): (f64, f64),
    units: Units,
) -> f64 {
    for (r, (row, v)) in tally.map.iter().zip(VIGOURS.windows(2)).rev().enumerate() {
        let y = top + r as f64 * CELL.1;
        text(
            out,
            left - 10.0,
            y + CELL.1 / 2.0 + 4.0,
            "soft",
            END,
            &format!("{:?}–{:?}", v[0], v[1]),
        );
        for (c, cell) in row.iter().enumerate() {
            let x = left + c as f64 * CELL.0;
            let inner = (x + 1.0, y + 1.0, CELL.0 - 2.0, CELL.1 - 2.0);
            if cell.all() < FEW {
                rect(out, inner.0, inner.1, inner.2, inner.3, r#"class="plain" fill-opacity=".3""#);
                continue;
            }
            let good = cell.shares()[1].0;
            let (fill, dark) = tint(good / 100.0);
            rect(out, inner.0, inner.1, inner.2, inner.3, &format!(r#"style="fill:{fill}""#));
            let ink = if dark { "#ffffff" } else { "#101010" };
            let mid = x + CELL.0 / 2.0;
            let number = format!(r#"{MIDDLE} style="fill:{ink};font-size:15px;font-weight:600""#);
            let small = format!(r#"{MIDDLE} style="fill:{ink};font-size:11px""#);
            let said = failing(*cell);
            let at = y + CELL.1 / 2.0 + if said.is_some() { 0.0 } else { 5.0 };
            text(out, mid, at, "", &number, &format!("{good:.0}"));
            if let Some(word) = said {
                text(out, mid, at + 13.0, "", &small, word);
            }
        }
    }
    let bottom = top + 6.0 * CELL.1;
    for (c, w) in rooms.windows(2).enumerate() {
        let word = format!("{:.0}–{:.0}", degrees(w[0], units), degrees(w[1], units));
        text(out, left + (c as f64 + 0.5) * CELL.0, bottom + 16.0, "soft", MIDDLE, &word);
    }
    let words = format!("kitchen, {}", unit(units));
    text(out, left + FIELD / 2.0, bottom + 34.0, "soft", MIDDLE, &words);
    // the axis of the starter, upright beside its numbers
    let (x, y) = (left - 72.0, top + 3.0 * CELL.1);
    put!(
        out,
        r#"<text x="{x}" y="{y}" class="soft" text-anchor="middle" transform="rotate(-90 {x} {y})">speed of the starter’s yeast</text>"#
    );
    out.push('\n');
    bottom + 40.0
}

/// The tint from none to all.
fn scale(out: &mut String, top: f64) -> f64 {
    let (mut x, step) = (LEFTS[0], 30.0);
    text(out, x, top + 12.0, "soft", "", "none");
    x += 38.0;
    for i in 0..=10 {
        let (fill, _) = tint(f64::from(i) / 10.0);
        rect(out, x, top, step, 14.0, &format!(r#"style="fill:{fill}""#));
        x += step;
    }
    let words = format!(
        "all   short, past: most are short of or past their window   empty: fewer than {FEW} readers"
    );
    text(out, x + 8.0, top + 12.0, "soft", "", &words.replace("   ", " \u{a0}\u{a0} "));
    top + 14.0
}

/// Three stacked bars, and the share of good breads.
fn bars(out: &mut String, tally: &Tally, (left, top): (f64, f64), id: &str) -> f64 {
    let mut y = top;
    for at in Checkpoint::ALL {
        let name = match at {
            Checkpoint::Divide => "at divide",
            Checkpoint::Load => "at load",
            Checkpoint::Loaf => "the loaf",
        };
        text(out, left - 10.0, y + 15.0, "soft", END, name);
        let count = tally.count(at);
        if count.all() == 0 {
            text(out, left, y + 15.0, "soft", "", "not judged");
        } else {
            bar(out, &count.shares(), (left, y), id);
        }
        y += BAR + 6.0;
    }
    y
}

fn bar(out: &mut String, shares: &[Percent; 3], (left, y): (f64, f64), id: &str) {
    let mut x = left;
    let over = format!(r#"class="edge" fill="url(#{id}-oven)""#);
    let looks = [r#"class="plain""#, r#"class="slackdot""#, over.as_str()];
    for ((share, look), class) in shares.iter().zip(looks).zip(["", "onact", "bold halo"]) {
        let w = FIELD * share.0 / 100.0;
        rect(out, x, y, w, BAR, look);
        let word = format!("{:.0}", share.0);
        if wide(&word, 12.0) + 8.0 < w {
            text(out, x + w / 2.0, y + 15.0, class, MIDDLE, &word);
        }
        x += w;
    }
    line(out, (left, y), (left, y + BAR), "axis");
}

fn legend(out: &mut String, top: f64, id: &str) -> f64 {
    let over = format!(r#"class="edge" fill="url(#{id}-oven)""#);
    let all = [
        (r#"class="plain""#, "too little: young, raw or pale"),
        (r#"class="slackdot""#, "good"),
        (over.as_str(), "too much: past its best, or burnt"),
    ];
    let mut x = LEFTS[0];
    for (look, word) in all {
        rect(out, x, top, 22.0, 14.0, look);
        text(out, x + 30.0, top + 12.0, "soft", "", word);
        x += 30.0 + wide(word, 12.0) + 26.0;
    }
    top + 14.0
}

/// The picture as words.
fn words(picture: &Picture<'_>) -> String {
    let mut out = format!("{} {}", picture.sentence, picture.asked);
    let r = picture.report;
    for (name, tally) in [("By the printed times", &r.clock), ("By the cue", &r.cue)] {
        put!(out, " {name}, too little, good and too much of 100:");
        for (at, place) in Checkpoint::ALL.iter().zip(["at divide", "at load", "the loaf"]) {
            let [a, b, c] = tally.count(*at).shares();
            put!(out, " {place} {:.0}, {:.0}, {:.0};", a.0, b.0, c.0);
        }
        put!(out, " doughs in their window at loading, by speed of the starter and kitchen:");
        for (row, v) in tally.map.iter().zip(VIGOURS.windows(2)) {
            for (cell, room) in row.iter().zip(r.rooms.windows(2)) {
                if cell.all() >= FEW {
                    put!(
                        out,
                        " {:?}–{:?} at {:.0}–{:.0} {}: {:.0};",
                        v[0],
                        v[1],
                        degrees(room[0], picture.units),
                        degrees(room[1], picture.units),
                        unit(picture.units),
                        cell.shares()[1].0
                    );
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::tests::is_well_formed;
    use super::*;
    use engine::travel::Drivers;

    const C: Count = Count { under: 0, good: 0, over: 0 };

    /// All doughs young in the coldest kitchens, good in the warmest, past it with the strongest
    /// starter; one cell with too few.
    fn report() -> Report {
        let mut tally = Tally::default();
        for (r, row) in tally.map.iter_mut().enumerate() {
            for (c, cell) in row.iter_mut().enumerate() {
                *cell = match (r, c) {
                    (0, 0) => Count { under: FEW - 1, ..C },
                    (5, _) => Count { good: 30, over: 70, ..C },
                    (_, 0) => Count { under: 88, good: 12, ..C },
                    _ => Count { under: 3, good: 97, ..C },
                };
            }
        }
        tally.at[1] = Count { under: 250, good: 700, over: 50 };
        tally.at[2] = Count { under: 1, good: 998, over: 1 };
        (tally.good, tally.readers) = (650, 1000);
        Report {
            readers: 1000,
            printed: Vec::new(),
            rooms: [14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 26.0],
            clock: tally.clone(),
            cue: tally,
            drivers: Drivers::default(),
            advice: Vec::new(),
        }
    }

    fn drawn(units: Units, title: &str) -> String {
        let report = report();
        let picture = Picture {
            title,
            sentence: "Good breads: 65 %.",
            asked: "1000 readers.",
            report: &report,
            units,
        };
        draw(&picture)
    }

    /// What stands in the text elements, in order.
    fn texts(svg: &str) -> Vec<&str> {
        let all = svg.split("<text").skip(1);
        all.filter_map(|t| t.split_once('>')?.1.split("</text>").next()).collect()
    }

    #[test]
    fn both_maps_have_every_cell_but_those_with_few() {
        let svg = drawn(Units::Metric, "Bread & water <old>");
        is_well_formed(&svg);
        let words = texts(&svg);
        let often = |w: &str| words.iter().filter(|t| **t == w).count();
        // by two maps: 6 cells past, 4 short, 25 good, 1 left empty
        assert_eq!((often("30"), often("past")), (12, 12));
        assert_eq!((often("12"), often("short")), (8, 8));
        assert_eq!(often("97"), 50);
        assert_eq!(svg.matches(r#"class="plain" fill-opacity=".3""#).count(), 2);
        assert_eq!((often("14–16"), often("24–26"), often("kitchen, °C")), (2, 2, 2));
        assert!(words.iter().any(|t| t.contains("Bread &amp; water &lt;old&gt;")), "{words:?}");
    }

    #[test]
    fn bars_are_as_long_as_their_shares() {
        let svg = drawn(Units::Metric, "x");
        let words = texts(&svg);
        assert_eq!(words.iter().filter(|t| **t == "not judged").count(), 2);
        // 25, 70 and 5 % of the field
        for share in [0.25, 0.7, 0.05] {
            let mut out = String::new();
            rect(&mut out, 0.0, 0.0, share * FIELD, BAR, "");
            let width = out.split(r#"width=""#).nth(1).and_then(|w| w.split('"').next()).unwrap();
            let width = format!(r#"width="{width}""#);
            assert_eq!(svg.matches(&width).count() % 2, 0, "{width}");
            assert!(svg.contains(&width), "{width}");
        }
        // a share too short for its number has none
        assert!(words.contains(&"70") && words.contains(&"100") && !words.contains(&"0"));
    }

    #[test]
    fn the_words_say_what_the_picture_shows() {
        let svg = drawn(Units::Us, "x");
        let said = svg.split("<desc").nth(1).and_then(|d| d.split("</desc>").next()).unwrap();
        for part in [
            "By the printed times",
            "at load 25, 70, 5;",
            "the loaf 0, 100, 0;",
            "1.4–1.7 at 57–61 °F: 30;",
        ] {
            assert!(said.contains(part), "{part}\n{said}");
        }
        // the cell with few readers is not told
        assert!(!said.contains("0.6–0.7 at 57–61"));
        assert!(texts(&svg).contains(&"kitchen, °F"));
    }

    #[test]
    fn a_cell_is_named_after_what_most_failed_by() {
        let failing = |under, good, over| failing(Count { under, good, over });
        assert_eq!(failing(20, 60, 20), None);
        assert_eq!(failing(30, 40, 30), Some("short"));
        assert_eq!(failing(20, 40, 40), Some("past"));
        // as printed: 49.6 % is half
        assert_eq!(failing(504, 496, 0), None);
    }
}
