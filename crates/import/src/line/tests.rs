use super::*;
use proptest::prelude::*;

const TABLE: &str = include_str!("../../tests/lines.tsv");

fn written(line: &Line) -> String {
    let part = |p: &Part| {
        let n = if p.least == p.most {
            format!("{}", p.least)
        } else {
            format!("{}..{}", p.least, p.most)
        };
        format!("{} {n}", p.unit.name())
    };
    let amount = |a: &Amount| a.parts.iter().map(part).collect::<Vec<_>>().join(" + ");
    line.amounts.iter().map(amount).collect::<Vec<_>>().join(" | ")
}

#[test]
fn the_table_of_lines() {
    let mut wrong = Vec::new();
    for row in TABLE.lines().skip(1) {
        let cells: Vec<&str> = row.split('\t').collect();
        let [text, amounts, name, note] = cells[..] else { panic!("{row}") };
        let got = read(text);
        let is = (written(&got), got.name.as_str(), got.note.as_str());
        if is != (amounts.to_owned(), name, note) {
            wrong.push(format!("{text}\n  {is:?}\n  {:?}", (amounts, name, note)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn hydration_is_read_wherever_it_stands() {
    for text in [
        "100g ripe starter, 125% hydration",
        "100g ripe starter (at 125 % hydration)",
        "100 g 125% hydration starter",
        "100 g starter, hydration 125%",
    ] {
        assert_eq!(read(text).hydration, Some(Percent(125.0)), "{text}");
    }
    assert_eq!(read("500 g flour (100 %)").hydration, None);
}

#[test]
fn what_can_be_read_otherwise_is_told() {
    assert!(matches!(read("1-1/2 cups rye flour").doubts[..], [Doubt::Hyphen(_)]));
    assert!(matches!(read("3-4 tbsp honey").doubts[..], [Doubt::Range { .. }]));
    assert!(matches!(read("1,250 g flour").doubts[..], [Doubt::Separator { read: 1250.0, .. }]));
    assert!(matches!(read("1,250 kg flour").doubts[..], [Doubt::Separator { read: 1.25, .. }]));
    assert!(matches!(read("a scant cup of milk").doubts[..], [Doubt::Rough(_)]));
    assert!(matches!(read("2 (7 g) packets yeast").doubts[..], [Doubt::Each(_)]));
    assert!(matches!(read("1 tsp salt + 1 tsp sugar").doubts[..], [Doubt::More(_)]));
    assert!(read("500 g flour").doubts.is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn no_text_panics_and_no_number_is_none(text in "\\PC{0,60}") {
        for a in read(&text).amounts {
            for p in a.parts {
                prop_assert!(p.least.is_finite() && p.most.is_finite() && 0.0 <= p.least && p.least <= p.most);
            }
        }
    }

    #[test]
    fn nor_does_what_looks_like_a_line(
        text in "(- |about |½|[0-9]{1,8}|[.,/()%+-]| |½|⅔| to | or | plus |x |cups?|g|kg|oz|fl oz|tbsp|T|lb|ml|large|packets|flour|salt|ä|hydration){0,14}"
    ) {
        let line = read(&text);
        prop_assert!(line.amounts.len() <= 40);
    }

    #[test]
    fn a_weight_is_read_as_it_stands(n in 1u32..=99_999, gap in " ?", name in "[a-z]{4,9}") {
        let line = read(&format!("{n}{gap}g {name}"));
        prop_assert_eq!(written(&line), format!("g {}", n));
        prop_assert!(line.doubts.is_empty());
    }
}
