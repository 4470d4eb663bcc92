//! What comes out: pieces, shape and losses, read where the source says so and assumed otherwise.

use crate::item::rounded;
use crate::number::Number;
use crate::source::{Place, Source};
use crate::told::{Field, Notes};
use engine::recipe::{PieceShape, Yield};
use quantity::{Grams, Percent};

/// Words for pieces of bread.
const PIECES: [&str; 16] = [
    "loaf",
    "loaves",
    "boule",
    "boules",
    "batard",
    "batards",
    "baguette",
    "baguettes",
    "roll",
    "rolls",
    "bun",
    "buns",
    "bread",
    "breads",
    "piece",
    "pieces",
];
/// Words for a shape.
const SHAPES: [(&[&str], PieceShape); 5] = [
    (&["baguette", "baguettes"], PieceShape::Baguette),
    (&["pan", "tin", "sandwich", "toast", "pullman"], PieceShape::Pan),
    (&["batard", "batards", "bâtard", "oval"], PieceShape::Batard),
    (&["roll", "rolls", "bun", "buns"], PieceShape::Roll),
    (&["boule", "boules", "round"], PieceShape::Boule),
];
/// Number words in a yield.
const COUNTS: [(&str, f64); 8] = [
    ("one", 1.0),
    ("two", 2.0),
    ("three", 3.0),
    ("four", 4.0),
    ("six", 6.0),
    ("eight", 8.0),
    ("ten", 10.0),
    ("twelve", 12.0),
];
/// Weight of a loaf when nothing says how many, g: ours.
const LOAF_G: f64 = 900.0;

fn words(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_owned)
        .collect()
}

/// A whole number of pieces a text names, with whether it says they are pieces.
fn counted(text: &str) -> Option<(u32, bool)> {
    let words = words(text);
    let number = |w: &String| {
        let word = COUNTS.iter().find(|c| c.0 == w).map(|c| c.1);
        word.or_else(|| Number::at(w).filter(|n| n.used == w.len()).map(|n| n.value))
    };
    let said = words.iter().any(|w| PIECES.contains(&w.as_str()));
    let n = words.iter().find_map(number)?;
    let whole = n.fract() == 0.0 && (1.0..=1000.0).contains(&n);
    let shares =
        words.iter().any(|w| w.starts_with("serv") || w.starts_with("slice") || w == "people");
    (whole && !shares).then_some((n as u32, said))
}

fn shape(source: &Source) -> Option<(&Place, PieceShape)> {
    let places = source.title.iter().chain(&source.yields).chain(&source.instructions);
    places.into_iter().find_map(|place| {
        let words = words(&place.text);
        let found =
            SHAPES.iter().find(|(names, _)| names.iter().any(|n| words.iter().any(|w| w == n)));
        found.map(|(_, shape)| (place, *shape))
    })
}

/// Loss in the oven and while cooling, % of scaled dough: common practice, no source.
fn bake_loss(shape: PieceShape) -> f64 {
    match shape {
        PieceShape::Baguette => 20.0,
        PieceShape::Pan => 11.0,
        PieceShape::Roll => 14.0,
        PieceShape::Batard | PieceShape::Boule => 15.0,
    }
}

fn pieces(source: &Source, total: Grams, notes: &mut Notes) -> u32 {
    let field = || Field::Yield("pieces");
    let all: Vec<_> =
        source.yields.iter().filter_map(|p| counted(&p.text).map(|c| (p, c))).collect();
    // a number that names loaves before a bare one
    let best = all.iter().find(|(_, (_, said))| *said).or(all.first());
    if let Some((place, (n, said))) = best {
        let each = total.0 / f64::from(*n);
        if *said && each >= 5.0 {
            notes.read(place, field(), format!("{n} pieces"), None);
            return *n;
        }
        if each >= 200.0 {
            let told =
                format!("{n} is taken as a number of pieces, of {} g each", rounded(Grams(each)));
            notes.assume(Some(place), field(), 65.0, told);
            return *n;
        }
    }
    let n = (total.0 / LOAF_G).round().clamp(1.0, 1000.0);
    let told =
        format!("how many pieces is not said; {n} of about {} g", rounded(Grams(total.0 / n)));
    notes.assume(None, field(), 50.0, told);
    n as u32
}

/// Pieces, shape and losses for a dough of a weight.
pub(crate) fn yields(source: &Source, total: Grams, notes: &mut Notes) -> Yield {
    let pieces = pieces(source, total, notes);
    let piece = total / f64::from(pieces);
    let said =
        "all of the dough, divided by the pieces; nothing is taken to stay on bowl and hands";
    notes.assume(None, Field::Yield("piece"), 85.0, said);
    notes.assume(None, Field::Yield("process_loss"), 60.0, "none is taken");
    let shape = if let Some((place, shape)) = shape(source) {
        let told = format!("{} after the words in it", shape.name());
        notes.assume(Some(place), Field::Yield("shape"), 80.0, told);
        shape
    } else {
        notes.assume(None, Field::Yield("shape"), 50.0, "not said; boule is taken");
        PieceShape::Boule
    };
    let loss = bake_loss(shape);
    let told = format!("{loss} %, common practice for a {}", shape.name());
    notes.assume(None, Field::Yield("bake_loss"), 70.0, told);
    Yield {
        pieces,
        piece,
        shape,
        length: None,
        diameter: None,
        process_loss: Percent(0.0),
        bake_loss: Percent(loss),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_but_not_servings() {
        assert_eq!(counted("Makes 2 loaves"), Some((2, true)));
        assert_eq!(counted("two boules of 800 g"), Some((2, true)));
        assert_eq!(counted("12 servings"), None);
        assert_eq!(counted("2"), Some((2, false)));
        assert_eq!(counted("1.5 loaves"), Some((1, true)));
        assert_eq!(counted("loaf"), None);
    }
}
