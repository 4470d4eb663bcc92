//! How much a serving is in the United States: 21 CFR 101.9(b) and the reference amounts of
//! 101.12(b), read in FDA's inspection guide (NLEA, attachment 6) and in a table of the rule. The
//! fractions of large pieces and the limit of 200 % for a package are from memory.

use crate::Decimal;

const fn n(whole: i64) -> Decimal {
    Decimal::whole(whole)
}

/// A reference amount customarily eaten at one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reference {
    /// The food, as the rule has it in short.
    pub food: &'static str,
    /// g.
    pub grams: Decimal,
}

/// The reference amounts a baker of bread meets; the last two are from memory.
pub const REFERENCES: [Reference; 7] = [
    Reference { food: "bread", grams: n(50) },
    Reference { food: "bagel", grams: n(110) },
    Reference { food: "muffin", grams: n(110) },
    Reference { food: "croissant", grams: n(55) },
    Reference { food: "sweet roll", grams: n(55) },
    Reference { food: "crouton", grams: n(7) },
    Reference { food: "pizza crust", grams: n(55) },
];

/// How the bread comes to be eaten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Portion {
    /// In pieces one eats: slices, rolls; g each.
    Units(Decimal),
    /// A loaf one cuts, g, and its length if it is known, in.
    Loaf(Decimal, Option<Decimal>),
    /// A large sweet piece one divides, g.
    Divided(Decimal),
}

/// A serving.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Serving {
    /// g.
    pub grams: Decimal,
    /// As a label says it: `1 slice (45g)`.
    pub words: String,
    /// What to mind.
    pub notes: Vec<String>,
}

/// Grams on a label: 5 and above by ones, from 2 by halves, below by tenths.
pub fn grams(g: Decimal) -> Decimal {
    if g >= n(5) {
        g.to_step(n(1))
    } else if g >= n(2) {
        g.to_step(Decimal::thousandths(500))
    } else {
        g.to_step(Decimal::thousandths(100))
    }
}

fn share(part: Decimal, whole: Decimal) -> Decimal {
    (part * n(100)).over(whole).unwrap_or_default()
}

fn counted(count: i64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// The serving of a portion; `noun` is what a unit is called.
pub fn serving(portion: Portion, reference: Reference, noun: &str) -> Serving {
    let racc = reference.grams;
    match portion {
        Portion::Units(unit) => {
            let part = share(unit, racc);
            let mut notes = Vec::new();
            let count = if part.is_zero() || part >= n(67) {
                if part >= n(200) {
                    notes.push(format!(
                        "a {noun} is 200 % or more of the reference amount of {racc} g: it is one serving only if one person can be expected to eat it at one sitting"
                    ));
                }
                1
            } else if part > n(50) {
                notes.push(format!("one or two {noun}s may be the serving; two are taken"));
                2
            } else {
                // the number of units closest to the reference amount
                racc.over(unit).map_or(1, |x| x.to_step(n(1)).up_to_whole()).max(1)
            };
            let all = unit * n(count);
            Serving {
                grams: all,
                words: format!("{} ({}g)", counted(count, noun), grams(all)),
                notes,
            }
        }
        // the label statement of 101.12(b) for unsliced bread
        Portion::Loaf(loaf, length) => {
            let two_ounces = n(56);
            if loaf <= two_ounces {
                return Serving {
                    grams: loaf,
                    words: format!("1 loaf ({}g)", grams(loaf)),
                    notes: Vec::new(),
                };
            }
            let thick = length.and_then(|l| (l * two_ounces).over(loaf));
            let words = match thick {
                Some(inches) => format!("2 oz (56g/{} inch slice)", inches.show(1)),
                None => "2 oz (56g)".to_owned(),
            };
            Serving { grams: two_ounces, words, notes: Vec::new() }
        }
        Portion::Divided(whole) => {
            let by = fraction(whole, racc);
            let grams_each = whole.over(n(by)).unwrap_or(whole);
            Serving {
                grams: grams_each,
                words: format!("1/{by} {noun} ({}g)", grams(grams_each)),
                notes: Vec::new(),
            }
        }
    }
}

/// By how much a large piece is divided: the fraction closest to the reference amount out of 1/2 to
/// 1/6 and those divided again by 2 or 3.
pub fn fraction(whole: Decimal, reference: Decimal) -> i64 {
    let mut best: Option<(Decimal, i64)> = None;
    for first in 2..=6 {
        for again in [1, 2, 3] {
            let by = first * again;
            let Some(part) = whole.over(n(by)) else { continue };
            let gap = if part > reference { part - reference } else { reference - part };
            if best.is_none_or(|(least, was)| gap < least || (gap == least && by < was)) {
                best = Some((gap, by));
            }
        }
    }
    best.map_or(1, |(_, by)| by)
}

/// Servings in a package: whole, by halves between 2 and 5, with "about" where it is not even.
pub fn per_container(package: Decimal, serving: Decimal) -> String {
    let Some(exact) = package.over(serving) else { return "1 serving per container".into() };
    let near = if exact >= n(2) && exact <= n(5) {
        exact.to_step(Decimal::thousandths(500))
    } else {
        exact.to_step(n(1)).max(n(1))
    };
    let about = if near == exact { "" } else { "about " };
    let noun = if near == n(1) { "serving" } else { "servings" };
    format!("{about}{near} {noun} per container")
}

/// What a small package is: below 200 % of the reference amount it is one serving (2016 rule).
pub fn package_note(package: Decimal, reference: Decimal) -> Option<String> {
    let part = share(package, reference);
    if part < n(200) {
        Some("a package below 200 % of the reference amount is one serving".into())
    } else if part <= n(300) {
        Some("a package of 200 to 300 % of the reference amount needs a second column for the whole package".into())
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BREAD: Reference = REFERENCES[0];

    /// 21 CFR 101.9(b)(2)(i), read in NLEA attachment 6; weights ours.
    #[test]
    fn units_by_their_share_of_the_reference_amount() {
        for (unit, count) in
            [(20, 3), (25, 2), (28, 2), (32, 2), (34, 1), (45, 1), (99, 1), (120, 1)]
        {
            let s = serving(Portion::Units(n(unit)), BREAD, "slice");
            assert_eq!(s.grams, n(unit * count), "{unit}");
            assert_eq!(s.notes.is_empty(), !matches!(unit, 28 | 32 | 120), "{unit}");
        }
        assert_eq!(serving(Portion::Units(n(45)), BREAD, "slice").words, "1 slice (45g)");
    }

    /// The label statement of 101.12(b): 2 oz (56 g/_ inch slice).
    #[test]
    fn a_loaf_one_cuts() {
        let s = serving(Portion::Loaf(n(560), Some(n(10))), BREAD, "loaf");
        assert_eq!((s.words.as_str(), s.grams), ("2 oz (56g/1.0 inch slice)", n(56)));
    }

    #[test]
    fn large_pieces_are_divided() {
        let sweet = REFERENCES[4];
        assert_eq!(serving(Portion::Divided(n(440)), sweet, "ring").words, "1/8 ring (55g)");
        assert_eq!(fraction(n(100), n(55)), 2);
        // 1/7 is not among them
        assert_eq!(fraction(n(385), n(55)), 8);
        assert_eq!(fraction(Decimal::ZERO, n(55)), 2);
    }

    /// 101.9(b)(8), read.
    #[test]
    fn servings_in_a_package() {
        for (package, words) in [
            (400, "8 servings per container"),
            (410, "about 8 servings per container"),
            (125, "2.5 servings per container"),
            (130, "about 2.5 servings per container"),
            (50, "1 serving per container"),
            (0, "about 1 serving per container"),
        ] {
            assert_eq!(per_container(n(package), n(50)), words);
        }
        assert_eq!(grams(Decimal::thousandths(4250)).to_string(), "4.5");
        assert_eq!(grams(Decimal::thousandths(1250)).to_string(), "1.3");
    }
}
