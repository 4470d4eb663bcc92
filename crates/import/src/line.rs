//! One ingredient line: how much of what, and what was said besides.
//!
//! Left out: two ingredients in one line ("salt and pepper"), and lines without any amount; both
//! keep their name and have no amount.

use crate::number::{Doubt, Number, joint};
use crate::unit::Unit;
use quantity::Percent;

/// Longest line that is read, characters; what is longer is prose.
pub const MAX_CHARS: usize = 400;

/// An ingredient line as it stands.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Line {
    /// The amounts it gives, each enough by itself, as written: "1 cup (120 g)" has two.
    pub amounts: Vec<Amount>,
    /// What it is.
    pub name: String,
    /// What was said besides.
    pub note: String,
    /// Hydration of a starter, when the line gives it.
    pub hydration: Option<Percent>,
    /// What can be read in another way.
    pub doubts: Vec<Doubt>,
}

/// One amount; its parts add up: "1 cup plus 2 tbsp".
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    /// At least one.
    pub parts: Vec<Part>,
}

/// A number, or a range, of a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Lower end of the range; the number itself otherwise.
    pub least: f64,
    /// Upper end.
    pub most: f64,
    /// Of what.
    pub unit: Unit,
}

impl Part {
    /// The middle.
    pub fn middle(self) -> f64 {
        f64::midpoint(self.least, self.most)
    }
}

impl Amount {
    /// How good a measure it is; small is better.
    pub(crate) fn rank(&self) -> u8 {
        self.parts.iter().map(|p| p.unit.rank()).max().unwrap_or(u8::MAX)
    }
}

impl Line {
    /// The amount to go by: mass before volume before counting, and what comes first.
    pub fn best(&self) -> Option<&Amount> {
        self.amounts.iter().min_by_key(|a| a.rank())
    }
}

/// Words before an amount that make it rough, and those that only decorate it.
const ROUGH: [&str; 14] = [
    "about",
    "approximately",
    "approx.",
    "approx",
    "around",
    "roughly",
    "circa",
    "ca.",
    "c. ",
    "scant",
    "heaping",
    "heaped",
    "rounded",
    "generous",
];
const LEVEL: [&str; 3] = ["level ", "exactly ", "up to "];

/// Reads a line. Never fails: what has no amount has none.
pub fn read(text: &str) -> Line {
    let text = plain(text);
    let mut line = Line::default();
    let mut cursor = Cursor { text: &text, doubts: Vec::new() };
    let start = text.len() - after_bullet(&text).len();
    let (head, rest) = match cursor.amount(start, true) {
        Some((amount, end)) => {
            line.amounts.push(amount);
            (String::new(), end)
        }
        None => match cursor.first_amount_in(start) {
            Some((at, amount, end)) => {
                line.amounts.push(amount);
                (text[start..at].to_owned(), end)
            }
            None => (text[start..].to_owned(), text.len()),
        },
    };
    let rest = if line.amounts.is_empty() { rest } else { cursor.alternatives(rest, &mut line) };
    line.doubts = cursor.doubts;
    let mut tail = text[rest..].to_owned();
    if !head.is_empty() {
        let head = head.trim_end().trim_end_matches([':', '-', '–', '—', '|', '=', ',', '(']);
        tail = match tail.trim() {
            "" | ")" => head.to_owned(),
            more => format!("{head}, {more}"),
        };
    }
    name_and_note(&mut line, &tail);
    for text in [line.name.clone(), line.note.clone()] {
        let mut cursor = Cursor { text: &text, doubts: Vec::new() };
        let more = cursor.first_amount_in(0).filter(|_| !line.amounts.is_empty());
        line.doubts.extend(more.map(|(at, ..)| Doubt::More(text[at..].to_owned())));
    }
    line
}

/// One kind of space, one kind of slash, nothing that cannot be seen.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().take(MAX_CHARS) {
        let c = match c {
            '⁄' | '∕' => '/',
            '−' => '-',
            '\u{200b}' | '\u{feff}' | '\u{ad}' => continue,
            c if c.is_whitespace() || c.is_control() => ' ',
            c => c,
        };
        if c == ' ' && out.ends_with(' ') {
            continue;
        }
        out.push(c);
    }
    out.trim().to_owned()
}

/// Without the mark of a list.
fn after_bullet(text: &str) -> &str {
    let bare = text.trim_start_matches([
        '-', '*', '•', '·', '–', '—', '▢', '☐', '□', '◦', '‣', '+', '>', ' ', '✓', '|',
    ]);
    // "1. 500 g flour", "2) salt": the number of a list, when another number follows
    let n = bare.len() - bare.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    if (1..=2).contains(&n)
        && let Some(rest) = bare[n..].strip_prefix([')', '.'])
        && rest.starts_with(' ')
        && Number::at(rest.trim_start()).is_some()
    {
        return rest.trim_start();
    }
    bare
}

struct Cursor<'t> {
    text: &'t str,
    doubts: Vec<Doubt>,
}

impl Cursor<'_> {
    fn skip(&self, at: usize) -> usize {
        self.text.len() - self.text[at..].trim_start().len()
    }

    /// An amount at a place, and where it ends. At the beginning of a line a bare number counts
    /// things ("2 eggs") and words count too ("a pinch of").
    fn amount(&mut self, at: usize, first: bool) -> Option<(Amount, usize)> {
        let before = self.doubts.len();
        let found = self.amount_or_not(at, first);
        if found.is_none() {
            self.doubts.truncate(before);
        }
        found
    }

    fn amount_or_not(&mut self, at: usize, first: bool) -> Option<(Amount, usize)> {
        let mut at = self.skip(at);
        for word in LEVEL {
            if starts(&self.text[at..], word) {
                at = self.skip(at + word.len());
            }
        }
        if let Some(rest) = self.text[at..].strip_prefix(['~', '≈']) {
            self.doubts.push(Doubt::Rough("about".into()));
            at = self.text.len() - rest.trim_start().len();
        }
        at = self.rough(at);
        let (part, mut end) = self.part(at, first)?;
        let mut parts = vec![part];
        while parts.len() < 4 {
            let Some(next) = self.more(end, parts[parts.len() - 1].unit) else { break };
            let Some((part, after)) = self.part(next, false) else { break };
            parts.push(part);
            end = after;
        }
        Some((Amount { parts }, end))
    }

    fn rough(&mut self, at: usize) -> usize {
        for word in ROUGH {
            let rest = &self.text[at..];
            if starts(rest, word) && rest[word.len()..].starts_with([' ', '.'])
                || (word.ends_with(' ') && starts(rest, word))
            {
                let after = self.skip(at + word.len());
                // only where an amount, or a measure, follows
                let bare = &self.text[after..];
                if Number::at(bare).is_some() || Unit::at(bare).is_some() || starts(bare, "half") {
                    self.doubts.push(Doubt::Rough(word.trim().to_owned()));
                    return after;
                }
            }
        }
        at
    }

    /// Where the next part of a sum begins: "plus 2 tbsp", or ounces after pounds.
    fn more(&self, at: usize, unit: Unit) -> Option<usize> {
        let next = self.skip(at);
        let rest = &self.text[next..];
        for word in ["plus ", "+", "& ", "and "] {
            if starts(rest, word) {
                let after = self.skip(next + word.len());
                return Number::at(&self.text[after..]).map(|_| after);
            }
        }
        if matches!(unit, Unit::Pound | Unit::Kilogram) {
            let n = Number::at(rest)?;
            let (small, _) = Unit::at(rest[n.used..].trim_start())?;
            let fits =
                matches!((unit, small), (Unit::Pound, Unit::Ounce) | (Unit::Kilogram, Unit::Gram));
            return fits.then_some(next);
        }
        None
    }

    /// A number or a range with its unit.
    fn part(&mut self, at: usize, first: bool) -> Option<(Part, usize)> {
        let text = self.text;
        let number = Number::at(&text[at..]).or_else(|| {
            let n = Number::word_at(&text[at..]).filter(|_| first)?;
            let after = text[at + n.used..].trim_start();
            let measured = Unit::at(after).is_some() || starts(after, "egg");
            let cup =
                starts(after, "heaped ") || starts(after, "scant ") || starts(after, "generous ");
            (measured || cup).then_some(n)
        })?;
        let mut end = at + number.used;
        let mut numbers = vec![number];
        // "2 x 250 g"
        let times = text[end..].trim_start().strip_prefix(['x', '×']).and_then(|rest| {
            let rest = rest.trim_start();
            let n = Number::at(rest)?;
            let unit = Unit::at(rest[n.used..].trim_start())?;
            Some((text.len() - rest.len() + n.used, n, unit))
        });
        let factor = if let Some((after, n, _)) = times {
            let factor = numbers[0].value;
            numbers = vec![n];
            end = after;
            factor
        } else {
            1.0
        };
        if factor == 1.0
            && let Some(n) = joint(&text[end..]).and_then(|gap| {
                let n = Number::at(&text[end + gap..])?;
                Some((gap, n))
            })
        {
            end += n.0 + n.1.used;
            numbers.push(n.1);
        }
        let mut bare = self.skip(end);
        for word in ["level ", "flat "] {
            if starts(&text[bare..], word) {
                bare = self.skip(bare + word.len());
            }
        }
        let roughed = self.rough(bare);
        // "2 (7 g) packets": the weight of one, before the word for one
        if let Some(found) = self.each(roughed, &numbers) {
            return Some(found);
        }
        let (unit, mut stop) = match Unit::at(&text[roughed..]) {
            Some((unit, used)) => (unit, roughed + used),
            None if first && !percent(&text[bare..]) => (Unit::Number, end),
            None => return None,
        };
        if percent(&text[stop..]) {
            return None;
        }
        // "500 g - 520 g"
        if numbers.len() == 1
            && factor == 1.0
            && let Some(gap) = joint(&text[stop..])
            && let Some(n) = Number::at(&text[stop + gap..])
        {
            let after = self.skip(stop + gap + n.used);
            if let Some((same, used)) = Unit::at(&text[after..])
                && same == unit
            {
                numbers.push(n);
                stop = after + used;
            }
        }
        let values: Vec<f64> = numbers.iter().map(|n| self.settle(n, unit, at)).collect();
        let (least, most) = match values.as_slice() {
            [one] => (*one, *one),
            [a, b, ..] => {
                let (least, most) = (a.min(*b), a.max(*b));
                self.doubts.push(Doubt::Range {
                    text: text[at..stop].trim().to_owned(),
                    least,
                    most,
                });
                (least, most)
            }
            [] => return None,
        };
        Some((Part { least: least * factor, most: most * factor, unit }, stop))
    }

    /// "2 (7 g) packets".
    fn each(&mut self, at: usize, numbers: &[Number]) -> Option<(Part, usize)> {
        let [count] = numbers else { return None };
        let inside = self.text[at..].strip_prefix('(')?;
        let close = inside.find(')')?;
        let n = Number::at(inside)?;
        let bare = inside[n.used..].trim_start();
        let (unit, used) = Unit::at(bare)?;
        let end = inside.len() - bare.len() + used;
        if unit.rank() >= 3 || !inside.get(end..close)?.trim().is_empty() {
            return None;
        }
        let after = self.skip(at + 1 + close + 1);
        let (Unit::Each(_), word) = Unit::at(&self.text[after..])? else { return None };
        let stop = after + word;
        if count.value != 1.0 {
            self.doubts.push(Doubt::Each(self.text[at..stop].to_owned()));
        }
        let value = count.value * n.value;
        Some((Part { least: value, most: value, unit }, stop))
    }

    /// The value of a number once its unit is known.
    fn settle(&mut self, n: &Number, unit: Unit, at: usize) -> f64 {
        let until = self.text[at..].find(char::is_alphabetic).unwrap_or(self.text.len() - at);
        let text = self.text[at..at + until].trim().to_owned();
        if n.hyphen {
            self.doubts.push(Doubt::Hyphen(text.clone()));
        }
        let Some(thousands) = n.thousands else { return n.value };
        // nobody weighs flour to the milligram, nor a thousand kilograms of it
        let small = matches!(unit, Unit::Gram | Unit::Milligram | Unit::Millilitre);
        let (read, other) = if small || n.value == thousands {
            (thousands, if n.value == thousands { thousands / 1000.0 } else { n.value })
        } else {
            (n.value, thousands)
        };
        self.doubts.push(Doubt::Separator { text, read, other });
        read
    }

    /// The first amount of mass or volume inside a line: "Bread flour: 500 g".
    fn first_amount_in(&mut self, from: usize) -> Option<(usize, Amount, usize)> {
        let text = self.text;
        let mut last = ' ';
        for (i, c) in text[from..].char_indices() {
            let at = from + i;
            let begins = c.is_ascii_digit() || (c.is_numeric() && !c.is_alphabetic());
            if begins
                && !(last.is_alphanumeric() || matches!(last, '.' | ',' | '/'))
                && let Some((amount, end)) = self.amount(at, false)
                && amount.rank() < 3
            {
                return Some((at, amount, end));
            }
            last = c;
        }
        None
    }

    /// Other ways the same amount is given: "(120 g)", "/ 4 oz", "or 1 cup".
    fn alternatives(&mut self, from: usize, line: &mut Line) -> usize {
        let mut at = from;
        while line.amounts.len() < 4 {
            let next = self.skip(at);
            let rest = &self.text[next..];
            let (inside, closed) = if let Some(inner) = rest.strip_prefix(['(', '[']) {
                (self.text.len() - inner.len(), true)
            } else if let Some(inner) = rest.strip_prefix(['/', '|', '=', ';', ')']) {
                (self.text.len() - inner.len(), false)
            } else if starts(rest, "or ") {
                (next + 3, false)
            } else {
                break;
            };
            let mut inside = self.skip(inside);
            for word in ["or ", "= "] {
                if starts(&self.text[inside..], word) {
                    inside = self.skip(inside + word.len());
                }
            }
            let Some((amount, end)) = self.amount(inside, false) else { break };
            // a second count is no other way of saying it
            if amount.rank() >= 3 {
                break;
            }
            line.amounts.push(amount);
            at = end;
            if closed {
                at = self.alternatives(at, line);
                let close = self.text[at..].find([')', ']']);
                let Some(close) = close else { break };
                // what else stands in the parenthesis is a note
                let more = self.text[at..at + close].trim().trim_start_matches([',', ';']).trim();
                add_note(line, more);
                at += close + 1;
            }
        }
        at
    }
}

fn percent(text: &str) -> bool {
    text.trim_start().starts_with('%')
}

/// Whether a text begins with a word, whatever the case.
pub(crate) fn starts(text: &str, word: &str) -> bool {
    text.get(..word.len()).is_some_and(|t| t.eq_ignore_ascii_case(word))
}

fn add_note(line: &mut Line, more: &str) {
    let more = more.trim().trim_matches([',', ';', '-', '–', '—']).trim();
    if more.is_empty() {
        return;
    }
    if !line.note.is_empty() {
        line.note.push_str(", ");
    }
    line.note.push_str(more);
}

/// What is left of a line once the amount is gone.
fn name_and_note(line: &mut Line, tail: &str) {
    // a weight in parentheses behind the name counts as much as one before it
    let mut rest = tail.to_owned();
    let mut guard = 0;
    while let Some((open, close)) = parenthesis(&rest)
        && guard < 8
    {
        guard += 1;
        let inside = rest[open + 1..close].trim().to_owned();
        rest.replace_range(open..=close, " ");
        let mut cursor = Cursor { text: &inside, doubts: Vec::new() };
        match cursor.amount(0, false) {
            Some((amount, end)) if amount.rank() < 3 && !line.amounts.is_empty() => {
                line.amounts.push(amount);
                let end = cursor.alternatives(end, line);
                line.doubts.append(&mut cursor.doubts);
                add_note(line, &inside[end..]);
            }
            Some((amount, end)) if amount.rank() < 3 => {
                line.amounts.push(amount);
                line.doubts.append(&mut cursor.doubts);
                add_note(line, &inside[end..]);
            }
            _ => add_note(line, &inside),
        }
    }
    let bare = rest.trim().trim_start_matches([',', ':', ';', '.', '-', '–', '—', '|', ')', ' ']);
    let bare = if starts(bare, "of ") { bare[3..].trim_start() } else { bare };
    let cut =
        bare.find([',', ';']).into_iter().chain(bare.find(" - ")).chain(bare.find(" – ")).min();
    let (name, note) = match cut {
        Some(cut) => (&bare[..cut], bare[cut..].trim_start_matches([',', ';', '-', '–', ' '])),
        None => (bare, ""),
    };
    add_note(line, note);
    line.name = clean(name);
    for text in [line.note.clone(), line.name.clone()] {
        if line.hydration.is_none() {
            line.hydration = hydration(&text);
        }
    }
    if hydration(&line.name).is_some() {
        line.name = without_hydration(&line.name);
    }
}

/// The first pair of parentheses, by their bytes.
fn parenthesis(text: &str) -> Option<(usize, usize)> {
    let open = text.find(['(', '['])?;
    let close = text[open..].find([')', ']'])? + open;
    Some((open, close))
}

fn clean(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().collect();
    words.join(" ").trim_matches(['.', ':', ',', '*', '-', '–', ')', '(', ' ', '|']).to_owned()
}

/// "125% hydration", "hydration: 100 %".
fn hydration(text: &str) -> Option<Percent> {
    let lower = text.to_lowercase();
    let word = lower.find("hydration")?;
    let at = lower.find('%')?;
    let number = |s: &str| Number::at(s).map(|n| n.value);
    let before = &lower[..at];
    let digits = before.trim_end();
    let from = digits
        .char_indices()
        .rev()
        .take_while(|(_, c)| c.is_ascii_digit() || matches!(c, '.' | ','))
        .last()
        .map(|(i, _)| i)?;
    let near = at.abs_diff(word) < 24;
    near.then(|| number(&digits[from..])).flatten().map(Percent)
}

fn without_hydration(name: &str) -> String {
    let keep = |w: &&str| {
        let w = w.to_lowercase();
        !w.contains('%')
            && w != "hydration"
            && w != "at"
            && !w.starts_with(|c: char| c.is_ascii_digit())
    };
    name.split_whitespace().filter(keep).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
