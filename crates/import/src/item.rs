//! Ingredient lines weighed and put under the part of the bread they belong to.

use crate::heading::{self, Part};
use crate::line::{self, Line};
use crate::number::Doubt;
use crate::pantry::{self, Meaning};
use crate::source::Place;
use crate::told::{Field, Notes};
use crate::unit::{Spoons, Unit};
use crate::weigh::{self, Weighed};
use quantity::Grams;

/// Longest name kept, characters.
const NAME: usize = 60;

/// One line, understood.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Item {
    pub(crate) place: Place,
    pub(crate) line: Line,
    pub(crate) meaning: Meaning,
    /// What the recipe calls it.
    pub(crate) name: String,
    /// How much; none for "all of the levain".
    pub(crate) grams: Option<Grams>,
    /// What has to be told of the amount, once it is known where it goes.
    told: Vec<Told>,
}

#[derive(Debug, Clone, PartialEq)]
struct Told {
    sure: f64,
    text: String,
    range: Option<(Grams, Grams)>,
}

impl Item {
    /// Tells where the amount went, and what had to be assumed of it.
    pub(crate) fn tell(&self, notes: &mut Notes, field: &Field) {
        notes.read(&self.place, field.clone(), self.name.clone(), self.grams);
        for t in &self.told {
            let told = notes.assume(Some(&self.place), field.clone(), t.sure, t.text.clone());
            told.range = t.range;
        }
    }

    pub(crate) fn weight(&self) -> Grams {
        self.grams.unwrap_or(Grams(0.0))
    }
}

/// A part of the bread with its lines.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group {
    pub(crate) part: Part,
    /// What opened it; none for lines before any heading.
    pub(crate) heading: Option<Place>,
    pub(crate) items: Vec<Item>,
}

/// All lines, in groups, and whether cups or spoons decided anywhere.
pub(crate) fn groups(lines: &[Place], spoons: Spoons, notes: &mut Notes) -> (Vec<Group>, bool) {
    let mut groups: Vec<Group> = Vec::new();
    let mut part = Part::Dough;
    let mut by_spoons = false;
    let open = |groups: &mut Vec<Group>, part: Part, heading: Option<&Place>| {
        groups.push(Group { part, heading: heading.cloned(), items: Vec::new() });
    };
    open(&mut groups, part, None);
    let mut put =
        |groups: &mut Vec<Group>, part: Part, place: &Place, text: &str, notes: &mut Notes| {
            let item = item(place, text, part, spoons, &mut by_spoons, notes);
            if let (Some(item), Some(last)) = (item, groups.last_mut()) {
                last.items.push(item);
            }
        };
    for place in lines {
        if let Some((listed, items)) = heading::with_list(&place.text) {
            open(&mut groups, listed, Some(place));
            for text in items {
                put(&mut groups, listed, place, text, notes);
            }
            part = Part::Dough;
            open(&mut groups, part, None);
        } else if let Some(next) = heading::part(&place.text) {
            part = next;
            open(&mut groups, part, Some(place));
        } else {
            put(&mut groups, part, place, &place.text, notes);
        }
    }
    groups.retain(|g| !g.items.is_empty());
    (groups, by_spoons)
}

/// For the bench or the tin, not for the dough.
fn beside(line: &Line, text: &str) -> bool {
    let text = text.to_lowercase();
    let purpose = [
        "for dusting",
        "to dust",
        "for greasing",
        "to grease",
        "for sprinkling",
        "to sprinkle",
        "to serve",
        "for serving",
        "for the banneton",
        "for the basket",
        "for the pan",
        "for the tin",
        "for the work",
        "for topping",
        "to finish",
        "for brushing",
        "to brush",
    ];
    // "500 g flour, plus extra for dusting" is dough
    let extra = text.contains("extra") || text.contains("more ");
    purpose.iter().any(|p| text.contains(p)) && (!extra || line.amounts.is_empty())
}

fn item(
    place: &Place,
    text: &str,
    part: Part,
    spoons: Spoons,
    by_spoons: &mut bool,
    notes: &mut Notes,
) -> Option<Item> {
    let line = line::read(text);
    let text_place = Place { at: place.at.clone(), text: text.to_owned() };
    if part == Part::Aside || beside(&line, text) {
        notes.unread(&text_place, "left out: it is not part of the dough");
        return None;
    }
    let meaning = pantry::meaning(&line.name, &line.note);
    let name: String = line.name.chars().take(NAME).collect();
    let mut item = Item { place: text_place, line, meaning, name, grams: None, told: Vec::new() };
    if item.line.amounts.is_empty() {
        if matches!(item.meaning, Meaning::Preferment(_)) {
            return Some(item);
        }
        notes.unread(&item.place, why_without_amount(text));
        return None;
    }
    if item.name.is_empty() {
        notes
            .unread(&item.place, "it does not say of what; write the ingredient behind the amount");
        return None;
    }
    match amount(&item, spoons) {
        Ok((weighed, more)) => {
            *by_spoons |= weighed.by_spoons;
            let doubts: Vec<Told> = item.line.doubts.iter().map(told_doubt).collect();
            item.told = doubts.into_iter().chain(two_things(&item)).chain(more).collect();
            if let Some(how) = &weighed.how {
                item.told.push(Told {
                    sure: weighed.sure,
                    text: format!("{} g: {how}", rounded(weighed.grams)),
                    range: weighed.range,
                });
            }
            item.grams = Some(weighed.grams);
            Some(item)
        }
        Err(why) => {
            notes.unread(&item.place, format!("left out: {why}; write it in grams"));
            None
        }
    }
}

/// "salt and pepper": the amount is taken as one of them.
fn two_things(item: &Item) -> Option<Told> {
    let (a, b) = item.name.split_once(" and ").or_else(|| item.name.split_once(" & "))?;
    let (a, b) = (pantry::meaning(a, ""), pantry::meaning(b, ""));
    let apart = std::mem::discriminant(&a) != std::mem::discriminant(&b) || a.key() != b.key();
    (apart && !matches!(b, Meaning::Flour { .. })).then(|| Told {
        sure: 30.0,
        text: "it names two things; all of it is taken as one".into(),
        range: None,
    })
}

fn why_without_amount(text: &str) -> &'static str {
    if text.contains('%') {
        "percentages alone say nothing of an amount here; write grams"
    } else {
        "no amount in it; write how much, in grams"
    }
}

/// Rounded for sentences.
pub(crate) fn rounded(g: Grams) -> String {
    if g.0 < 20.0 { format!("{:.1}", g.0) } else { format!("{:.0}", g.0) }
}

/// The best of the amounts a line gives, and what the others make doubtful.
fn amount(item: &Item, spoons: Spoons) -> Result<(Weighed, Vec<Told>), String> {
    let mut sorted: Vec<_> = item.line.amounts.iter().collect();
    sorted.sort_by_key(|a| a.rank());
    let mut weighed: Option<Weighed> = None;
    let mut why = String::from("it has no amount");
    let mut told = Vec::new();
    for amount in sorted {
        match (weigh::weigh(&item.line, amount, &item.meaning, spoons), &weighed) {
            (Ok(w), None) => {
                let liquid = matches!(item.meaning, Meaning::Water)
                    || matches!(item.meaning, Meaning::Known { key, .. } if key.contains("milk"));
                if liquid && amount.parts.iter().any(|p| p.unit == Unit::Ounce) {
                    told.push(Told {
                        sure: 75.0,
                        text: "ounces are taken as weight; fluid ounces of it would weigh about as much, 4 % more in US measure".into(),
                        range: None,
                    });
                }
                weighed = Some(w);
            }
            (Ok(other), Some(w)) => {
                let apart = (other.grams / w.grams - 1.0).abs();
                if apart > 0.25 {
                    told.push(Told {
                        sure: 90.0,
                        text: format!(
                            "its amounts do not agree: {} g is taken, the other would be about {} g",
                            rounded(w.grams),
                            rounded(other.grams)
                        ),
                        range: None,
                    });
                }
            }
            (Err(e), None) => why = e,
            (Err(_), Some(_)) => {}
        }
    }
    weighed.map(|w| (w, told)).ok_or(why)
}

fn told_doubt(doubt: &Doubt) -> Told {
    let (sure, text) = match doubt {
        Doubt::Hyphen(text) => {
            (92.0, format!("\"{text}\" is read as a whole and a fraction, not as a range"))
        }
        Doubt::Separator { text, read, other } => {
            (85.0, format!("\"{text}\" is read as {read}, not as {other}"))
        }
        Doubt::Range { text, least, most } => (
            70.0,
            format!(
                "the middle of \"{text}\" is taken: {} of {least} to {most}",
                f64::midpoint(*least, *most)
            ),
        ),
        Doubt::Rough(word) => (75.0, format!("\"{word}\" is taken as a level or plain measure")),
        Doubt::More(text) => (40.0, format!("\"{text}\" is not counted: one ingredient a line")),
        Doubt::Each(text) => (75.0, format!("in \"{text}\" the weight is taken to be of one")),
    };
    Told { sure, text, range: None }
}
