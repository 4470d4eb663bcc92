//! Several breads as one picture: ribbons above one another on one clock, at the foot the hands
//! and the oven they share.

use super::ribbon::{self, END};
use super::svg::{esc, line, n, put, rect, text, wide};
use super::{Clock, FIELD, Scene, WIDTH, grounds, name_of, panel, sheet, table, wrap};
use engine::method::Verb;
use engine::plan::Plan;
use engine::run::{Schedule, Setting, Span};
use quantity::Units;

/// More breads than this have a clock above them too, and thinner ribbons.
const FEW: usize = 2;
/// How much thinner.
const THINNER: f64 = 0.75;
/// Height of a bread's title, px.
const TITLE: f64 = 26.0;
/// Height of one turn of the oven, px.
const ROW: f64 = 21.0;

/// One of the breads.
pub(crate) struct Bread<'a> {
    pub(crate) title: &'a str,
    /// What comes of it, and by which way through the method.
    pub(crate) what: String,
    pub(crate) setting: &'a Setting<'a>,
    pub(crate) plan: &'a Plan,
}

/// A bread's turn in the oven; spans in elapsed minutes.
pub(crate) struct Turn {
    /// Place of the bread.
    pub(crate) bread: usize,
    /// While it heats up for this bread, or stays on after the one before.
    pub(crate) heats: Option<(f64, f64)>,
    /// Whether it is hot from the one before.
    pub(crate) hot: bool,
    /// From each loading until the load is out.
    pub(crate) loads: Vec<(f64, f64)>,
    /// Between loads.
    pub(crate) reheats: Vec<(f64, f64)>,
}

/// Draws them; `turns` in the order the oven has them.
pub(crate) fn draw(breads: &[Bread<'_>], turns: &[Turn], units: Units) -> String {
    let Some(any) = breads.first() else { return String::new() };
    let kitchen = &any.setting.kitchen;
    let begins = breads.iter().map(|b| b.plan.schedule.begins()).fold(f64::INFINITY, f64::min);
    let ready = breads.iter().map(|b| b.plan.schedule.ready()).fold(f64::NEG_INFINITY, f64::max);
    let begins = turns.iter().filter_map(|t| t.heats).map(|h| h.0).fold(begins, f64::min);
    let clock = Clock::new(&any.setting.calendar, begins, ready, FIELD.0, FIELD.1);
    let titles: Vec<&str> = breads.iter().map(|b| b.title).collect();
    let id = name_of(&format!("{}|{}|{begins}|{ready}", titles.join("|"), kitchen.name));
    let done: Vec<Schedule> =
        breads.iter().enumerate().map(|(b, bread)| done(b, bread, turns)).collect();
    let scenes: Vec<Scene<'_>> = breads
        .iter()
        .enumerate()
        .map(|(b, bread)| {
            Scene {
                setting: bread.setting,
                schedule: &done[b],
                trace: &bread.plan.trace,
                slack: &bread.plan.slack,
                sure: Some(&bread.plan.forecast),
                units,
                clock,
                id: id.clone(),
                own: format!("{id}-{}", b + 1),
                shrink: 1.0,
            }
            .fitting()
        })
        .collect();
    // one measure for all, so that two can be compared
    let few = breads.len() <= FEW;
    let shrink = scenes.iter().map(|s| s.shrink).fold(1.0, f64::min);
    let shrink = shrink * if few { 1.0 } else { THINNER };
    let scenes: Vec<Scene<'_>> = scenes.into_iter().map(|s| Scene { shrink, ..s }).collect();

    let title = format!("{} breads in {}", breads.len(), kitchen.name);
    let sentence = sentence(breads);
    let mut head = String::new();
    let mut y = 38.0;
    for (words, size, class, step) in
        [(&title, 20.0, "head", 24.0), (&sentence, 14.0, "lead", 20.0)]
    {
        for row in wrap(words, size, WIDTH - 48.0) {
            text(&mut head, 24.0, y, class, "", &row);
            y += step;
        }
    }
    let (mut marks, mut body, mut strips) = (String::new(), String::new(), Vec::new());
    if !few {
        y = panel::clock(&clock, &mut marks, y, (y, y));
    }
    for (b, (bread, scene)) in breads.iter().zip(&scenes).enumerate() {
        line(&mut marks, (24.0, y), (WIDTH - 24.0, y), "hair");
        let (title, what) = (esc(&cut(bread.title)), esc(&bread.what));
        put!(
            body,
            r#"<text x="24" y="{}"><tspan class="bold" style="font-size:15px">{} {title}</tspan><tspan class="soft" dx="12">{what}</tspan></text>"#,
            n(y + TITLE - 6.0),
            b + 1
        );
        body.push('\n');
        let extent = ribbon::draw(scene, &mut body, y + TITLE);
        strips.push((extent.ground, extent.bottom));
        y = extent.bottom + 6.0;
    }

    // what they share
    line(&mut marks, (24.0, y), (WIDTH - 24.0, y), "hair");
    let top = y + 8.0;
    let hands = top + 16.0;
    text(&mut body, clock.left - 8.0, hands, "soft", END, "all hands");
    for scene in &scenes {
        ribbon::work(scene, &mut body, hands);
    }
    let mut row = hands + 10.0;
    text(&mut body, clock.left - 8.0, row + 15.0, "soft", END, "oven");
    for (k, turn) in turns.iter().enumerate() {
        put!(body, r#"<g id="{id}-turn{}">"#, k + 1);
        body.push('\n');
        oven(&clock, &mut body, &id, turn, &label(&clock, turn, &titles), row);
        body.push_str("</g>\n");
        row += ROW;
    }
    let end = row + 6.0;
    strips.push((top, end));
    for strip in &strips[..strips.len() - 1] {
        for t in clock.ticks().0 {
            line(&mut marks, (clock.x(t), strip.0), (clock.x(t), strip.1), "hair");
        }
    }
    let height = panel::clock(&clock, &mut marks, end, (top, end)) + 10.0;
    let mut ground = String::new();
    let all: Vec<&Scene<'_>> = scenes.iter().collect();
    grounds(&all, &mut ground, &mut body, &strips, hands);

    let each = breads.iter().zip(&scenes).enumerate();
    let each: Vec<String> = each
        .map(|(b, (bread, scene))| {
            format!("{} {}, {}: {}", b + 1, bread.title, bread.what, table(scene))
        })
        .collect();
    let order: Vec<String> = turns.iter().map(|t| label(&clock, t, &titles)).collect();
    let words =
        format!("{sentence} {} In the oven, in turn: {}.", each.join(" "), order.join("; "));
    let mut defs = String::new();
    ribbon::patterns(&mut defs, &id);
    sheet(&id, &title, &words, height, &defs, &[ground, marks, head, body])
}

/// A title no longer than there is room for.
fn cut(title: &str) -> String {
    const LONGEST: usize = 48;
    if title.chars().count() <= LONGEST {
        return title.to_owned();
    }
    title.chars().take(LONGEST - 1).chain(['…']).collect()
}

/// The schedule as it is done: an oven that is hot from the bread before is not heated.
fn done(b: usize, bread: &Bread<'_>, turns: &[Turn]) -> Schedule {
    let hot = turns.iter().any(|t| t.bread == b && t.hot);
    let steps = &bread.setting.recipe.method.steps;
    let heats = |s: &Span| steps.get(s.step).is_some_and(|s| s.verb == Verb::Preheat);
    let mut schedule = bread.plan.schedule.clone();
    schedule.spans.retain(|s| !(hot && heats(s)));
    schedule
}

/// What the picture shows.
fn sentence(breads: &[Bread<'_>]) -> String {
    let kitchens = breads.iter().map(|b| b.plan.forecast.kitchens).max().unwrap_or(0);
    let brackets = if breads.iter().all(|b| b.plan.slack.is_empty()) {
        ""
    } else {
        "; brackets show how early or late a step may start while the other breads keep their times"
    };
    format!(
        "A ribbon each on one clock, as thick as the dough is large and coloured by its \
         temperature, dark when cold{brackets}. The pale fringe holds eight in ten of {kitchens} \
         kitchens like this one. At the foot: the work of all breads, and whose turn the oven has."
    )
}

/// "2 Tidewater batard, Sat 28 Nov 14:40 to 15:25, 2 loads".
fn label(clock: &Clock<'_>, turn: &Turn, titles: &[&str]) -> String {
    let title = titles.get(turn.bread).copied().unwrap_or("");
    let (Some(first), Some(last)) = (turn.loads.first(), turn.loads.last()) else {
        return title.to_owned();
    };
    let loads = match turn.loads.len() {
        1 => String::new(),
        n => format!(", {n} loads"),
    };
    let heats = match turn.heats {
        Some((from, _)) if turn.hot => format!(", left on from {}", clock.time(from)),
        Some((from, _)) => format!(", heats from {}", clock.time(from)),
        None => String::new(),
    };
    format!(
        "{} {}, {} {} to {}{loads}{heats}",
        turn.bread + 1,
        cut(title),
        clock.day(first.0),
        clock.time(first.0),
        clock.time(last.1)
    )
}

/// One turn of the oven, its words where there is room for them.
fn oven(clock: &Clock<'_>, out: &mut String, id: &str, turn: &Turn, words: &str, top: f64) {
    let block = |out: &mut String, (from, to): (f64, f64), high: f64, hatch: &str| {
        let (a, b) = (clock.x(from), clock.x(to));
        let y = top + (16.0 - high) / 2.0 + 2.0;
        rect(out, a, y, (b - a).max(2.0), high, r#"class="plain""#);
        let more = format!(r#"class="edge" fill="url(#{id}-{hatch})""#);
        rect(out, a, y, (b - a).max(2.0), high, &more);
    };
    for load in &turn.loads {
        block(out, *load, 16.0, "oven");
    }
    for warm in turn.reheats.iter().chain(&turn.heats) {
        block(out, *warm, 7.0, "warm");
    }
    let spans = || turn.loads.iter().chain(&turn.heats);
    let left = spans().map(|s| clock.x(s.0)).fold(f64::INFINITY, f64::min);
    let right = spans().map(|s| clock.x(s.1)).fold(f64::NEG_INFINITY, f64::max);
    if !(left.is_finite() && right.is_finite()) {
        return;
    }
    let room = wide(words, 12.0);
    let y = top + 14.0;
    if left - 7.0 - room > clock.left {
        text(out, left - 7.0, y, "halo", END, words);
    } else {
        let x = (right + 7.0).min(WIDTH - 6.0 - room);
        text(out, x, y, "halo", "", words);
    }
}
