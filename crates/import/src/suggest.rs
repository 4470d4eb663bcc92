//! Times and temperatures in the instructions, as suggestions: nothing of them goes into the
//! method by itself.

use crate::number::{Number, joint};
use crate::source::Place;
use quantity::{Celsius, Minutes};
use serde::Serialize;

/// A time or a temperature somebody wrote, with its sentence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// Where it stands.
    pub place: Place,
    /// The sentence.
    pub sentence: String,
    /// Which of our verbs it seems to be about; none when that cannot be told.
    pub verb: Option<&'static str>,
    /// From, to, min.
    pub time: Option<(Minutes, Minutes)>,
    /// From, to, °C.
    pub temperature: Option<(Celsius, Celsius)>,
}

/// Words of a sentence and the verb of ours they mean, the most telling first.
const VERBS: [(&[&str], &str); 14] = [
    (
        &[
            "preheat the",
            "preheat your",
            "preheat oven",
            "pre-heat the",
            "heat the oven",
            "heat oven",
        ],
        "preheat",
    ),
    (&["cool"], "cool"),
    (&["fridge", "refrigerat", "retard", "chill"], "retard"),
    (&["feed", "levain", "starter"], "build"),
    (&["soak"], "soak"),
    (&["bake", "oven", "lid on", "lid off"], "bake"),
    (&["autolyse", "autolyze"], "autolyse"),
    (&["bulk", "first rise", "ferment", "double", "grow"], "bulk"),
    (&["fold"], "fold"),
    (&["proof", "prove", "proving", "second rise", "final rise", "rise"], "proof"),
    (&["bench rest"], "bench rest"),
    (&["shape"], "shape"),
    (&["knead", "mix", "stir", "combine"], "mix"),
    (&["rest", "stand", "leave"], "rest"),
];

/// Most suggestions given.
const MOST: usize = 60;

/// The suggestions in some instructions.
pub(crate) fn suggestions(instructions: &[Place]) -> Vec<Suggestion> {
    let mut out = Vec::new();
    for place in instructions {
        for sentence in sentences(&place.text) {
            let lower = sentence.to_lowercase();
            // a time belongs to the verb of its own clause, or else to the one before it
            let mut verb = None;
            for clause in
                lower.split([';']).flat_map(|c| c.split(", ")).flat_map(|c| c.split(" then "))
            {
                let named = VERBS.iter().find(|(w, _)| w.iter().any(|w| clause.contains(w)));
                verb = named.map(|v| v.1).or(verb);
                let (times, temperatures) = found(clause);
                for k in 0..times.len().max(temperatures.len()) {
                    if out.len() >= MOST {
                        return out;
                    }
                    out.push(Suggestion {
                        place: place.clone(),
                        sentence: sentence.to_owned(),
                        verb,
                        time: times.get(k).copied(),
                        temperature: temperatures.get(k).copied(),
                    });
                }
            }
        }
    }
    out
}

/// A time the source states for the whole of it.
pub(crate) fn stated(place: &Place, time: Minutes) -> Suggestion {
    let verb = (place.at == "cookTime").then_some("bake");
    let sentence = format!("{}: {}", place.at, place.text);
    Suggestion { place: place.clone(), sentence, verb, time: Some((time, time)), temperature: None }
}

/// Whether a line names a time or a temperature.
pub(crate) fn speaks_of_time_or_heat(text: &str) -> bool {
    let (times, temperatures) = found(&text.to_lowercase());
    !times.is_empty() || !temperatures.is_empty()
}

fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(". ")
        .flat_map(|s| s.split(['\n', '!']))
        .map(str::trim)
        .filter(|s| !s.is_empty())
}

type Times = Vec<(Minutes, Minutes)>;
type Temperatures = Vec<(Celsius, Celsius)>;

/// Times and temperatures of a sentence, in lower case, as they follow each other.
fn found(text: &str) -> (Times, Temperatures) {
    let (mut times, mut temperatures) = (Vec::new(), Vec::new());
    let mut at = 0;
    while let Some(gap) = text[at..].find(|c: char| c.is_numeric()) {
        at += gap;
        let inside_word = text[..at].ends_with(|c: char| c.is_alphanumeric());
        let Some(first) = Number::at(&text[at..]).filter(|_| !inside_word) else {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
            continue;
        };
        let mut end = at + first.used;
        let mut values = (first.value, first.value);
        // "230°c - 240°c" is read as two; "30-40 minutes" as one range
        if let Some(n) = joint(&text[end..]).and_then(|gap| {
            let n = Number::at(&text[end + gap..])?;
            Some((gap + n.used, n.value))
        }) {
            end += n.0;
            values = (values.0.min(n.1), values.0.max(n.1));
        }
        let rest = text[end..].trim_start_matches([' ', '-', '\u{a0}']);
        if let Some(per) = minutes(rest) {
            let next = (Minutes(values.0 * per), Minutes(values.1 * per));
            times.push(next);
        } else if let Some(to_celsius) = scale(rest) {
            temperatures.push((Celsius(to_celsius(values.0)), Celsius(to_celsius(values.1))));
        }
        at = end;
    }
    if times.is_empty() && text.contains("overnight") {
        // common practice, no source: 8 to 12 hours
        times.push((Minutes(480.0), Minutes(720.0)));
    }
    // the same temperature twice, in both scales
    temperatures.dedup_by(|b, a| (a.0.0 - b.0.0).abs() < 6.0);
    (times, temperatures)
}

fn minutes(rest: &str) -> Option<f64> {
    let word: String = rest.chars().take_while(|c| c.is_alphabetic()).collect();
    match word.as_str() {
        "min" | "mins" | "minute" | "minutes" => Some(1.0),
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(60.0),
        "day" | "days" => Some(1440.0),
        _ => None,
    }
}

/// From a scale that is named to °C; degrees without a scale are not guessed.
fn scale(rest: &str) -> Option<fn(f64) -> f64> {
    let mut rest = rest;
    for word in ["°", "º", "degrees ", "degree ", "deg "] {
        rest = rest.strip_prefix(word).map_or(rest, str::trim_start);
    }
    let word: String = rest.chars().take_while(|c| c.is_alphabetic()).collect();
    match word.as_str() {
        "c" | "celsius" => Some(|x| x),
        "f" | "fahrenheit" => Some(|x| (x - 32.0) / 1.8),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> Vec<String> {
        let place = Place::new("instruction", 1, text);
        suggestions(&[place])
            .into_iter()
            .map(|s| {
                let time = s.time.map(|(a, b)| format!("{}..{} min", a.0, b.0)).unwrap_or_default();
                let warm = s.temperature.map(|(a, b)| format!("{:.0}..{:.0} C", a.0, b.0));
                format!("{} {time} {}", s.verb.unwrap_or("?"), warm.unwrap_or_default())
            })
            .collect()
    }

    #[test]
    fn times_and_temperatures_with_their_verbs() {
        assert_eq!(told("Let it rest 30-40 minutes."), ["rest 30..40 min "]);
        assert_eq!(told("Preheat the oven to 450°F (230 °C)."), ["preheat  232..232 C"]);
        assert_eq!(told("Bake at 240 °C for 1 hour. Cool."), ["bake 60..60 min 240..240 C"]);
        assert_eq!(told("Leave in the fridge overnight."), ["retard 480..720 min "]);
        let both = told("Proof 1 hour, bake at 230 °C for 50 minutes.");
        assert_eq!(both, ["proof 60..60 min ", "bake 50..50 min 230..230 C"]);
        assert_eq!(told("Bake 20 minutes in a preheated oven."), ["bake 20..20 min "]);
        assert_eq!(told("Bake for 1½ hours."), ["bake 90..90 min "]);
        assert!(told("Divide into 2 pieces of 500 g.").is_empty());
        assert!(told("Bake at 230 degrees.").is_empty());
    }
}
