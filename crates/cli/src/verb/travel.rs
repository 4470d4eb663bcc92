//! `travel`: readers' kitchens follow the recipe, by its times and by its cues.

use super::ferment::way;
use crate::args::TravelArgs;
use crate::fail::Failure;
use crate::progress::Progress;
use crate::when::Clock;
use crate::{input, out, plot, table};
use document::clock::weekday_time;
use document::travel::{Told, named};
use document::{chosen, fits_the_oven};
use engine::belief::{Belief, Quantity, Unit};
use engine::method::End;
use engine::run::Setting;
use engine::travel::{
    ASKED, Advice, Checkpoint, Count, Driver, FEW, LOAVES, Question, Remedy, Tally, VIGOURS, WORTH,
    travel,
};
use quantity::{Celsius, Percent, TempRise, Units};
use std::fmt::Write as _;
use std::ops::Deref;

/// Drivers shown, of doughs and of loaves.
const DRIVERS: usize = 5;
/// Pieces of advice shown.
const ADVICE: usize = 4;

/// What none of this knows.
const UNKNOWN: &str = "Not known here: what readers misread or change on purpose, flour of another type than asked for, hands (shaping and scoring). The ± is from the number of readers alone; how wrong the model and the belief are comes on top, and most spreads of the belief are our judgement: docs/science-belief.md.";

/// An answer on its way to paper.
struct Paper<'a>(Told<'a>);

impl<'a> Deref for Paper<'a> {
    type Target = Told<'a>;
    fn deref(&self) -> &Told<'a> {
        &self.0
    }
}

pub(crate) fn run(args: &TravelArgs) -> Result<(), Failure> {
    let recipe = input::recipe(&args.recipe.recipe)?;
    let kitchen = input::kitchen(&args.recipe.batch)?;
    let flour = input::total_flour(&args.recipe.batch, &recipe, &kitchen)?;
    let belief = match (input::belief(&args.belief)?, args.season) {
        (belief, None) => belief,
        (readers, Some(season)) if readers == *Belief::readers() => {
            Belief::readers_in(season.into())
        }
        (other, Some(_)) => {
            return Err(Failure::wish(
                format!("the belief {} has its own rooms: --season is for readers", other.name),
                "leave --season out, or write the room into the belief file",
            ));
        }
    };
    let clock = Clock::new(&args.clock, &kitchen.zone)?;
    let clock = match args.way.start.as_deref() {
        Some(t) => clock.later(clock.parse(t)?)?,
        None => clock,
    };
    let set = input::parameters(&args.clock)?;
    let calendar = clock.calendar();
    let setting =
        Setting::new(&recipe, &kitchen, set, flour, calendar.clone()).map_err(Failure::plain)?;
    let path = chosen(&recipe, way(&args.way))?;
    fits_the_oven(&setting, path)?;
    let question = Question {
        recipe: &recipe,
        written_in: &kitchen,
        path,
        flour,
        set,
        belief: &belief,
        readers: args.readers as usize,
        seed: args.seed,
        sensitivity: args.sensitivity,
        calendar: &calendar,
    };
    let report = {
        let mut progress = Progress::new("asking readers");
        travel(&question, &mut |share| {
            progress.at(share);
            true
        })
        .map_err(Failure::plain)?
        .ok_or_else(|| Failure::plain("stopped"))?
    };
    let units: Units = args.out.units.into();
    let told = Told { question: &question, setting: &setting, report: &report, units };
    let told = Paper(told);
    if let Some(file) = &args.svg {
        let picture = plot::travel::Picture {
            title: &recipe.title,
            sentence: &told.sentence(),
            asked: &told.asked(),
            report: &report,
            units,
        };
        out::bytes(plot::travel::draw(&picture).as_bytes(), Some(file))?;
    }
    let to = args.out.out.as_deref();
    if args.out.json {
        return out::json(&told.json(), to);
    }
    out::text(&told.text(), to)
}

/// A count with thin spaces between thousands.
fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, d) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push('\u{a0}');
        }
        out.push(d);
    }
    out
}

fn whole(p: Percent) -> String {
    format!("{:.0}\u{a0}%", p.0)
}

/// A share with twice its standard error.
fn with_error(tally: &Tally) -> String {
    let digits = usize::from(tally.good_error().0 < 0.5);
    format!("{:.digits$} ± {:.digits$}\u{a0}%", tally.good_share().0, 2.0 * tally.good_error().0)
}

fn place(at: Checkpoint) -> &'static str {
    match at {
        Checkpoint::Divide => "at divide",
        Checkpoint::Load => "at load",
        Checkpoint::Loaf => "the loaf",
    }
}

impl Paper<'_> {
    fn readers(&self) -> String {
        count(self.report.readers as u64)
    }

    /// Who was asked.
    fn asked(&self) -> String {
        let q = self.question;
        let mut way = String::new();
        if q.recipe.method.paths().len() > 1 {
            let _ = write!(way, ", {}", q.path.words());
        }
        format!(
            "{} readers, seed {}. {} The times are those of {}, first step {}{way}.",
            self.readers(),
            q.seed,
            q.belief.about,
            q.written_in.name,
            weekday_time(q.calendar.start),
        )
    }

    /// What came out, in one sentence.
    fn sentence(&self) -> String {
        format!(
            "Good breads: {} by the printed times, {} by the cue. Good: loaded in its window and well baked.",
            with_error(&self.report.clock),
            with_error(&self.report.cue)
        )
    }

    /// The times a cue stands behind, as they were printed.
    fn times(&self) -> String {
        let waits = |i: &usize| {
            let s = self.step(*i);
            matches!(s.end, End::Cue { .. } | End::Between { .. })
        };
        let times: Vec<String> = self
            .report
            .printed
            .iter()
            .filter(|(i, _)| waits(i))
            .map(|(i, t)| format!("{} {}", named(self.step(*i)), t.show()))
            .collect();
        times.join(", ")
    }

    fn text(&self) -> String {
        let mut text = format!("{}: does it travel?\n", table::bold(&self.question.recipe.title));
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(&self.asked(), 0, 0)));
        let times = self.times();
        if !times.is_empty() {
            let times = format!("Printed times: {times}.");
            let _ = writeln!(text, "{}", table::dim(&table::wrapped(&times, 0, 0)));
        }
        let _ = writeln!(text, "\n{}\n", table::wrapped(&self.sentence(), 0, 0));
        text += &self.shares();
        text += &self.maps();
        text += &self.decides();
        text += &self.instead();
        let _ = writeln!(text, "\n{}", table::dim(&table::wrapped(UNKNOWN, 0, 0)));
        text
    }

    fn shares(&self) -> String {
        let r = self.report;
        let three = |c: Count| {
            if c.all() == 0 {
                return vec!["–".to_owned(); 3];
            }
            c.shares().map(whole).to_vec()
        };
        let mut rows: Vec<Vec<String>> = Checkpoint::ALL
            .iter()
            .map(|at| {
                let mut row = vec![place(*at).replace(' ', "\u{a0}")];
                row.extend(three(r.clock.count(*at)));
                row.push("│".into());
                row.extend(three(r.cue.count(*at)));
                row
            })
            .collect();
        let good = |t: &Tally| with_error(t).replace(' ', "\u{a0}");
        let none = String::new;
        rows.push(vec![
            "good\u{a0}bread".into(),
            none(),
            good(&r.clock),
            none(),
            "│".into(),
            none(),
            good(&r.cue),
            none(),
        ]);
        let rows = table::table(
            &[
                "",
                "too\u{a0}little",
                "good",
                "too\u{a0}much",
                "",
                "too\u{a0}little",
                "good",
                "too\u{a0}much",
            ],
            &[0],
            &rows,
        );
        // heads of the two halves, where the halves begin
        let row = rows.lines().find(|l| l.contains('│')).unwrap_or_default();
        let half = row.chars().position(|c| c == '│').unwrap_or(0).saturating_sub(12);
        let mut text = format!("{:12}{:half$}  by the cue\n{rows}", "", "by the printed times");
        if r.readers > LOAVES {
            let words = format!("The loaf: of the first {} readers.", count(LOAVES as u64));
            let _ = writeln!(text, "{}", table::dim(&words));
        }
        text
    }

    fn maps(&self) -> String {
        let r = self.report;
        let (clock, cue) = (self.map(&r.clock), self.map(&r.cue));
        let mut text =
            format!("\n{}\n", table::bold("In their window at loading, %, by kitchen and starter"));
        let pair = [("by the printed times", clock), ("by the cue", cue)];
        let wide = pair[0].1.iter().map(|l| l.chars().count()).max().unwrap_or(0);
        if usize::from(table::width()) > 2 * wide + 3 {
            let _ = writeln!(text, "{:<wide$}   {}", pair[0].0, pair[1].0);
            for (a, b) in pair[0].1.iter().zip(&pair[1].1) {
                let _ = writeln!(text, "{a:<wide$}   {b}");
            }
        } else {
            for (name, rows) in pair {
                let _ = writeln!(text, "{name}\n{}", rows.join("\n"));
            }
        }
        let legend = format!(
            "Down: speed of the starter's yeast, 1 is the model's. Across: kitchen, {}. < most are short of their window, > most are past it. Blank: fewer than {FEW} readers.",
            if self.units == Units::Us { "°F" } else { "°C" }
        );
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(&legend, 0, 0)));
        text
    }

    /// One map: a head, then a row for each vigour, the strongest starter first.
    fn map(&self, tally: &Tally) -> Vec<String> {
        let mut head = " ".repeat(8);
        for w in self.report.rooms.windows(2) {
            let [from, to] = [w[0], w[1]].map(|t| plot::travel::degrees(t, self.units));
            let _ = write!(head, "{:>6}", format!("{from:.0}–{to:.0}"));
        }
        let mut out = vec![head];
        for (row, v) in tally.map.iter().zip(VIGOURS.windows(2)).rev() {
            let mut line = format!("{:>8}", format!("{:?}–{:?}", v[0], v[1]));
            for c in row {
                let mark = match plot::travel::failing(*c) {
                    _ if c.all() < FEW => {
                        line.push_str("      ");
                        continue;
                    }
                    None => ' ',
                    Some("short") => '<',
                    Some(_) => '>',
                };
                let good = c.shares()[1].0;
                let _ = write!(line, "{good:>5.0}{mark}");
            }
            out.push(line);
        }
        out
    }

    fn decides(&self) -> String {
        let mut text = format!("\n{}\n", table::bold("What decides"));
        let drivers = &self.report.drivers;
        if drivers.load.is_empty() && drivers.loaf.is_empty() {
            let words = if self.question.sensitivity == 0 {
                "Left out (--sensitivity 0)."
            } else {
                "Nothing found: ask with a greater --sensitivity, or every reader fares alike."
            };
            let _ = writeln!(text, "{words}");
            return text;
        }
        let all = [
            ("of how far the dough is from its window at loading", &drivers.load),
            ("of how far the loaf is from well baked, pale or raw to burnt", &drivers.loaf),
        ];
        for (of, drivers) in all.iter().filter(|(_, d)| !d.is_empty()) {
            let _ = writeln!(text, "{of}:\n{}", self.parts(drivers));
        }
        let legend = format!(
            "What makes readers differ by the printed times, from {} kitchens for each quantity. Parts overlap: they sum to more than 100 %. 90 %: interval by resampling. 8 in 10: where eight readers in ten lie.",
            self.question.sensitivity
        );
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(&legend, 0, 0)));
        text
    }

    /// The first drivers as a table.
    fn parts(&self, drivers: &[Driver]) -> String {
        let percent = |x: f64| (100.0 * x).clamp(0.0, 100.0);
        let rows: Vec<Vec<String>> = drivers
            .iter()
            .take(DRIVERS)
            .map(|d| {
                let q = self.question.belief.get(d.what);
                vec![
                    format!("{:.0}\u{a0}%", percent(d.total.value)),
                    format!("{:.0}–{:.0}", percent(d.total.low), percent(d.total.high)),
                    q.map_or(String::new(), |q| spread(q, self.units).replace(' ', "\u{a0}")),
                    q.map_or_else(|| d.what.name().to_owned(), |q| q.says.clone()),
                ]
            })
            .collect();
        table::table(&["has part in", "90 %", "8 in 10", "what"], &[2, 3], &rows)
    }

    fn instead(&self) -> String {
        let mut text = format!("\n{}\n", table::bold("What to write instead"));
        // the levain by room is a table to copy: shown wherever it helps
        let levain = |a: &Advice| matches!(a.remedy, Remedy::Levain(_));
        let useful = self.report.advice.iter().filter(|a| a.gain() > WORTH).enumerate();
        let useful: Vec<&Advice> =
            useful.filter(|(n, a)| *n < ADVICE || levain(a)).map(|(_, a)| a).collect();
        if useful.is_empty() {
            let words = format!(
                "No change that was tried gains more than a point of good bread: cues for times, tables of times by dough temperature, starter by room ({} tried).",
                self.report.advice.len()
            );
            let _ = writeln!(text, "{}", table::wrapped(&words, 0, 0));
            return text;
        }
        for (n, a) in useful.iter().enumerate() {
            let (was, is, rows) = self.remedy(&a.remedy);
            let head = format!("{}. Instead of {was}:", n + 1);
            let _ = writeln!(text, "{}", table::wrapped(&head, 0, 3));
            let _ = writeln!(text, "   {}", table::wrapped(&is, 3, 3));
            for row in rows {
                let _ = writeln!(text, "     {row}");
            }
            let gain = format!(
                "good bread {} → {} ({:+.1} ± {:.1}), in its window at loading {} → {}",
                whole(a.before),
                whole(a.after),
                a.gain(),
                2.0 * a.error.0,
                whole(a.load_before),
                whole(a.load_after)
            );
            let _ = writeln!(text, "   {}", table::dim(&table::wrapped(&gain, 3, 3)));
        }
        let asked = count(ASKED.min(self.report.readers) as u64);
        let legend = format!(
            "Each alone, for readers who otherwise go by the printed times; the gain of single changes is that of the first {asked} of them."
        );
        let _ = writeln!(text, "{}", table::dim(&table::wrapped(&legend, 0, 0)));
        text
    }
}

/// Where eight readers in ten lie.
fn spread(q: &Quantity, units: Units) -> String {
    let (a, b) = (q.at(0.1), q.at(0.9));
    match q.unit {
        Unit::Factor => format!("× {a:.2} to {b:.2}"),
        Unit::Celsius => format!("{} to {}", Celsius(a).show(units), Celsius(b).show(units)),
        Unit::Kelvin => {
            let sign = if b > 0.0 { "+" } else { "" };
            format!("{} to {sign}{}", TempRise(a).show(units), TempRise(b).show(units))
        }
        Unit::Points => format!("{a:+.1} to {b:+.1} points").replace('-', "−"),
        Unit::Log => format!("{a:.2} to {b:.2}"),
    }
}
