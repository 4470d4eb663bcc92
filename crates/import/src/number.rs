//! Numbers as people write them: fractions of both kinds, decimal comma, words, ranges.

/// What is not certain about a number as it was written.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// "1-1/2": one and a half, or from one to a half.
    Hyphen(String),
    /// "1,250": a decimal sign, or a mark of thousands.
    Separator {
        /// As written.
        text: String,
        /// As read.
        read: f64,
        /// The other reading.
        other: f64,
    },
    /// A range: its middle is taken.
    Range {
        /// As written.
        text: String,
        /// Lower end.
        least: f64,
        /// Upper end.
        most: f64,
    },
    /// "scant", "heaped", "about": as if it did not say so.
    Rough(String),
    /// "2 (7 g) packets": the weight is of one.
    Each(String),
    /// Another amount behind the name: "salt + 1 tsp sugar".
    More(String),
}

/// One number at the beginning of a text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Number {
    /// Its value.
    pub(crate) value: f64,
    /// The other reading, when a sign between digits may part thousands.
    pub(crate) thousands: Option<f64>,
    /// Whether a hyphen joins the whole and its fraction.
    pub(crate) hyphen: bool,
    /// Bytes it takes.
    pub(crate) used: usize,
}

/// Longest run of digits that is an amount.
const DIGITS: usize = 7;

const WORDS: [(&str, f64); 11] = [
    ("half a", 0.5),
    ("half", 0.5),
    ("one", 1.0),
    ("two", 2.0),
    ("three", 3.0),
    ("four", 4.0),
    ("five", 5.0),
    ("six", 6.0),
    ("an", 1.0),
    ("a", 1.0),
    ("quarter", 0.25),
];

/// Value of a fraction that is one character.
fn vulgar(c: char) -> Option<f64> {
    Some(match c {
        '¼' => 0.25,
        '½' => 0.5,
        '¾' => 0.75,
        '⅐' => 1.0 / 7.0,
        '⅑' => 1.0 / 9.0,
        '⅒' => 0.1,
        '⅓' => 1.0 / 3.0,
        '⅔' => 2.0 / 3.0,
        '⅕' => 0.2,
        '⅖' => 0.4,
        '⅗' => 0.6,
        '⅘' => 0.8,
        '⅙' => 1.0 / 6.0,
        '⅚' => 5.0 / 6.0,
        '⅛' => 0.125,
        '⅜' => 0.375,
        '⅝' => 0.625,
        '⅞' => 0.875,
        _ => return None,
    })
}

fn digits(text: &str) -> &str {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    &text[..end]
}

fn whole(text: &str) -> Option<(f64, usize)> {
    let d = digits(text);
    if d.is_empty() || d.len() > DIGITS {
        return None;
    }
    Some((d.parse().ok()?, d.len()))
}

/// "3/4", with a denominator.
fn ascii_fraction(text: &str) -> Option<(f64, usize)> {
    let (a, n) = whole(text)?;
    let (b, m) = whole(text[n..].strip_prefix('/')?)?;
    (b > 0.0).then_some((a / b, n + 1 + m))
}

/// A fraction below one, of either kind.
fn part(text: &str) -> Option<(f64, usize)> {
    let c = text.chars().next()?;
    if let Some(v) = vulgar(c) {
        return Some((v, c.len_utf8()));
    }
    ascii_fraction(text).filter(|(v, _)| *v < 1.0)
}

impl Number {
    fn plain(value: f64, used: usize) -> Self {
        Self { value, thousands: None, hyphen: false, used }
    }

    /// The number a text begins with, digits or fractions only.
    pub(crate) fn at(text: &str) -> Option<Self> {
        if let Some((v, n)) = part(text).or_else(|| ascii_fraction(text)) {
            return Some(Self::plain(v, n));
        }
        // ".5"
        if let Some(rest) = text.strip_prefix('.') {
            let d = digits(rest);
            if d.is_empty() || d.len() > DIGITS {
                return None;
            }
            return Some(Self::plain(text[..=d.len()].parse().ok()?, 1 + d.len()));
        }
        let (n, used) = whole(text)?;
        let rest = &text[used..];
        if let Some((v, m)) = part(rest).filter(|_| !rest.starts_with(|c: char| c.is_ascii_digit()))
        {
            return Some(Self::plain(n + v, used + m));
        }
        if let Some(after) = rest.strip_prefix(' ') {
            let spaces = rest.len() - rest.trim_start_matches(' ').len();
            if let Some((v, m)) = part(rest.trim_start_matches(' ')) {
                return Some(Self::plain(n + v, used + spaces + m));
            }
            // "1 000 g"
            if used <= 3 && digits(after).len() == 3 {
                let tail = &after[3..];
                let more = tail.chars().next().is_some_and(|c| matches!(c, '/' | '.' | ','));
                if !more && let Some((low, _)) = whole(after) {
                    let value = n * 1000.0 + low;
                    return Some(Self { thousands: Some(value), ..Self::plain(value, used + 4) });
                }
            }
        }
        if let Some(after) = rest.strip_prefix(['-', '‑'])
            && let Some((v, m)) = part(after)
            && n >= 1.0
        {
            let sign = rest.len() - after.len();
            return Some(Self { hyphen: true, ..Self::plain(n + v, used + sign + m) });
        }
        if let Some(after) = rest.strip_prefix(['.', ',']) {
            let d = digits(after);
            if !d.is_empty() && d.len() <= DIGITS {
                let value: f64 = format!("{}.{d}", &text[..used]).parse().ok()?;
                let end = used + 1 + d.len();
                let apart = d.len() == 3 && used <= 3 && n >= 1.0;
                let thousands = apart.then(|| n * 1000.0 + d.parse::<f64>().unwrap_or(0.0));
                return Some(Self { thousands, ..Self::plain(value, end) });
            }
        }
        Some(Self::plain(n, used))
    }

    /// A number in words, with the space after it.
    pub(crate) fn word_at(text: &str) -> Option<Self> {
        WORDS.iter().find_map(|(word, value)| {
            let head = text.get(..word.len())?;
            let rest = &text[word.len()..];
            (head.eq_ignore_ascii_case(word) && rest.starts_with(' '))
                .then(|| Self::plain(*value, word.len()))
        })
    }
}

/// Bytes of what joins the two ends of a range, spaces included.
pub(crate) fn joint(text: &str) -> Option<usize> {
    let bare = text.trim_start();
    let lead = text.len() - bare.len();
    for sign in ["-", "–", "—", "‑", "to ", "or "] {
        if let Some(rest) = bare.strip_prefix(sign) {
            if sign.ends_with(' ') && lead == 0 {
                continue;
            }
            let after = rest.trim_start();
            return Some(text.len() - after.len());
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(text: &str, value: f64, rest: &str) -> Number {
        let n = Number::at(text).unwrap();
        assert!((n.value - value).abs() < 1e-12, "{text}: {}", n.value);
        assert_eq!(&text[n.used..], rest, "{text}");
        n
    }

    #[test]
    fn fractions_of_both_kinds() {
        for (text, value) in [
            ("1½ cups", 1.5),
            ("1 ½ cups", 1.5),
            ("1 1/2 cups", 1.5),
            ("3/2 cups", 1.5),
            ("¾ cups", 0.75),
            ("2.25 cups", 2.25),
            ("2,25 cups", 2.25),
            (".5 cups", 0.5),
        ] {
            reads(text, value, " cups");
        }
        assert!(reads("1-1/2 cups", 1.5, " cups").hyphen);
        reads("1-2 cups", 1.0, "-2 cups");
        reads("1/0 cups", 1.0, "/0 cups");
    }

    #[test]
    fn thousands_stay_a_question_of_the_unit() {
        assert_eq!(reads("1,250 g", 1.25, " g").thousands, Some(1250.0));
        assert_eq!(reads("1.250 kg", 1.25, " kg").thousands, Some(1250.0));
        assert_eq!(reads("0,250 kg", 0.25, " kg").thousands, None);
        assert_eq!(reads("1 000 g", 1000.0, " g").thousands, Some(1000.0));
    }

    #[test]
    fn what_is_no_amount_is_none() {
        for text in ["", "flour", "12345678 g", "-3 g", "/2"] {
            assert!(Number::at(text).is_none(), "{text}");
        }
    }
}
