//! `label`: what a bread holds, both panels, both lists.

use crate::args::{LabelArgs, LevainArg, SystemArg};
use crate::fail::Failure;
use crate::{input, out, table};
use document::label::{label, loss, reference};
use label::panel::Line;
use label::panel::eu::Protein;
use label::panel::us::FOOTNOTE;
use label::statement::Levain;
use label::{Asked, Label};
use quantity::Units;
use std::fmt::Write as _;

pub(crate) fn run(args: &LabelArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let (named, kitchen) = input::named_kitchen(&args.recipe.batch)?;
    let packets = input::packets(&args.packets)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    // as designed: a label is not of one batch's rounding
    let (sheet, _) = document::formula::sheets(&recipe, &kitchen, flour)?;
    let asked = Asked {
        packets: &packets,
        loss: loss(input::loss(&args.loss), &recipe, named.as_ref(), flour)?,
        protein: if args.usda_protein { Protein::Usda } else { Protein::ByLaw },
        levain: match args.levain {
            LevainArg::Opened => Levain::Opened,
            LevainArg::Compound => Levain::Compound,
        },
        reference: reference(&args.food)?,
        slice: args.slice,
        pack: args.pack,
    };
    let l = label(&recipe, &sheet, &asked)?;
    let to = args.out.out.as_deref();
    if args.out.json {
        return out::json(&document::label::json(&recipe, &l), to);
    }
    let units: Units = args.out.units.into();
    let mut text = format!("{}\n", table::bold(&recipe.title));
    let piece = quantity::Grams(l.piece.to_f64());
    let head = format!("{} baked, loss {} ({})", piece.show(units), l.loss.show(), l.loss_words);
    let _ = writeln!(text, "{}", table::dim(&table::wrapped(&head, 0, 0)));
    for (system, part) in [(SystemArg::Us, us(&l)), (SystemArg::Eu, eu(&l))] {
        if args.system == system || args.system == SystemArg::Both {
            text.push('\n');
            text += &part;
        }
    }
    text += &remarks(&l);
    out::text(&text, to)
}

fn panel(header: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let rows: Vec<Vec<String>> = rows.collect();
    table::table(header, &[0], &rows)
}

fn name(l: &Line) -> String {
    format!("{}{}", "\u{a0}\u{a0}".repeat(usize::from(l.inset)), l.name)
}

fn us(l: &Label) -> String {
    let mut text = format!("{}\n", table::bold("United States"));
    let _ = writeln!(text, "{}; serving size {}", l.per_container, l.serving.words);
    let rows = l.us.iter().map(|line| {
        vec![name(line), line.amount.clone(), line.percent.clone().unwrap_or_default()]
    });
    text += &panel(&["per serving", "", "% Daily Value*"], rows);
    let _ = writeln!(text, "{}", table::dim(&table::wrapped(FOOTNOTE, 0, 0)));
    for part in l.statement.us_words().lines() {
        let _ = writeln!(text, "{}", table::wrapped(part, 0, 0));
    }
    for n in &l.serving.notes {
        let _ = writeln!(text, "note: {}.", table::wrapped(n, 6, 6));
    }
    text
}

fn eu(l: &Label) -> String {
    let mut text = format!("{}\n", table::bold("European Union"));
    let portion = format!("per {} g", label::serving::grams(l.serving.grams));
    let rows = l.eu.iter().zip(&l.eu_portion).map(|(line, part)| {
        let share = part.percent.clone().unwrap_or_default();
        vec![name(line), line.amount.clone(), part.amount.clone(), share]
    });
    text += &panel(&["", "per 100 g", portion.as_str(), "of the reference intake"], rows);
    let intake = "Reference intake of an average adult (8 400 kJ/2 000 kcal).";
    let _ = writeln!(text, "{}", table::dim(intake));
    let _ = writeln!(text, "{}", table::wrapped(&l.statement.eu_words(), 0, 0));
    let s = &l.statement;
    if s.eu_water_left_out {
        let water =
            format!("water is {} % of the bread and left out of the list", s.eu_water.show(1));
        let _ = writeln!(text, "note: {water}.");
    }
    if !s.quid.is_empty() {
        let hint = format!(
            "the title names an ingredient; its share of the finished bread is to be declared: {}",
            s.quid.join("; ")
        );
        let _ = writeln!(text, "note: {}.", table::wrapped(&hint, 6, 6));
    }
    text
}

/// What is missing, what was taken, what to know, what to mind.
fn remarks(l: &Label) -> String {
    let mut text = String::new();
    text.push('\n');
    let unknown = l.us.iter().chain(&l.eu).filter(|line| !line.missing.is_empty());
    let mut told: Vec<String> = Vec::new();
    for line in unknown {
        let part = format!("{} (of {})", line.name, line.missing.join(", "));
        if !line.name.is_empty() && !told.contains(&part) {
            told.push(part);
        }
    }
    if !told.is_empty() {
        let told = format!(
            "unknown: {}. A panel with an unknown line is not whole; give the packet with --packet",
            told.join("; ")
        );
        let _ = writeln!(text, "{}.", table::wrapped(&told, 0, 9));
    }
    if !l.statement.unknown.is_empty() {
        let told = format!(
            "unknown: allergens of {}; read them off the packet",
            l.statement.unknown.join(", ")
        );
        let _ = writeln!(text, "{}.", table::wrapped(&told, 0, 9));
    }
    let _ = writeln!(text, "{}", table::bold("Taken for granted"));
    for a in &l.assumptions {
        let _ = writeln!(text, "  {}.", table::wrapped(a, 2, 2));
    }
    let _ = writeln!(text, "\n{}", table::bold("For information"));
    for n in &l.notes {
        let _ = writeln!(text, "  {}", table::wrapped(n, 2, 2));
    }
    text.push('\n');
    for c in &l.cautions {
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(c, 0, 0)));
    }
    text
}
