//! A trace as a table: one row a sample, RFC 4180.

use engine::forecast::{Band, Forecast};
use engine::run::{Setting, Trace};
use std::fmt::Write as _;

/// Columns; numbers carry their unit in the name.
const HEAD: &str = "line,clock,minute,step,verb,place,core_deg_c,mean_deg_c,air_deg_c,\
rise_percent,volume_ratio,ph,tta_ml_per_10g,yeast_cells_per_g,lab_cells_per_g,\
maltose_mmol_per_kg,hexose_mmol_per_kg,lactate_mmol_per_kg,acetate_mmol_per_kg,\
co2_made_mmol_per_kg,co2_held_mmol_per_kg,co2_lost_mmol_per_kg,weakening,gas_loss_share";
/// Columns that have a band too: name and decimals, in the order they are written.
const BANDS: [(&str, usize); 5] =
    [("core_deg_c", 3), ("mean_deg_c", 3), ("rise_percent", 3), ("volume_ratio", 5), ("ph", 4)];

/// Names of the columns of bands, each led by a comma: the value's own, then which part.
pub(crate) fn band_heads(of: &[(&str, usize)]) -> String {
    let parts = of.iter().flat_map(|(name, _)| {
        ["low", "mid", "high"].into_iter().map(move |part| format!(",{name}_{part}"))
    });
    parts.collect()
}

/// Bands in the order of [`band_heads`], each field led by a comma; empty without.
pub(crate) fn bands<const N: usize>(of: &[(&str, usize); N], bands: Option<[Band; N]>) -> String {
    let field = |k: usize, pick: fn(&Band) -> f64| {
        format!(",{}", bands.map_or(String::new(), |b| number(pick(&b[k]), of[k].1)))
    };
    (0..N).map(|k| field(k, |b| b.low) + &field(k, |b| b.mid) + &field(k, |b| b.high)).collect()
}

/// Writes every sample of a trace: `clock` is local time, `step` counts from 1, temperatures
/// are °C whatever the reader's units; a number that is none leaves its field empty. Beside the
/// run stand the bands of the same minute.
pub(crate) fn csv(trace: &Trace, sure: &Forecast, setting: &Setting<'_>) -> String {
    let mut out = format!("{HEAD}{}\r\n", band_heads(&BANDS));
    for (i, l) in trace.lines.iter().enumerate() {
        for s in &l.samples {
            let verb = setting.recipe.method.steps.get(s.step).map_or("", |x| x.verb.name());
            let clock = if s.minute.is_finite() {
                let t = setting.calendar.local(s.minute.round() as i64);
                format!("{t:.0}")
            } else {
                String::new()
            };
            // writing to a String cannot fail
            let _ = write!(
                out,
                "{},{clock},{},{},{},{}",
                quoted(&l.name),
                number(s.minute, 2),
                s.step.saturating_add(1),
                quoted(verb),
                quoted(s.place.name()),
            );
            for (value, decimals) in [
                (s.core.0, 3),
                (s.mean.0, 3),
                (s.air.0, 3),
                (s.rise.0, 3),
                (s.volume, 5),
                (s.ph.0, 4),
                (s.tta.0, 4),
                (s.yeast, 0),
                (s.lab, 0),
                (s.maltose, 4),
                (s.hexose, 4),
                (s.lactate, 4),
                (s.acetate, 4),
                (s.co2_made, 4),
                (s.co2_held, 4),
                (s.co2_lost, 4),
                (s.weakening, 5),
                (s.gas_loss, 5),
            ] {
                out.push(',');
                out.push_str(&number(value, decimals));
            }
            let at = sure.at(i, s.step, s.minute);
            out += &bands(&BANDS, at.map(|p| [p.core, p.mean, p.rise, p.volume, p.ph]));
            out.push_str("\r\n");
        }
    }
    out
}

/// A number with fixed decimals, no "-0"; nothing for NaN and the infinite.
fn number(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return String::new();
    }
    let s = format!("{x:.decimals$}");
    let zero = s.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero { s.trim_start_matches('-').to_owned() } else { s }
}

/// A field, quoted where it must be; a text a spreadsheet would take for a formula gets a
/// leading apostrophe, for names come from files of strangers.
fn quoted(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if formula { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use engine::file::read_recipe;
    use engine::forecast::{Asked, forecast, own_kitchen};
    use engine::formula::Scale;
    use engine::hours::Calendar;
    use engine::kitchen::Kitchen;
    use engine::parameters::ParameterSet;
    use jiff::civil::datetime;
    use quantity::Minutes;

    #[test]
    fn every_row_has_every_column() {
        let recipe =
            read_recipe(include_str!("../../../examples/ferry-lane/recipes/slipway-rye.toml"))
                .unwrap();
        let kitchen = Kitchen::unknown();
        let flour = Scale::Pieces(1).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar =
            Calendar { start: datetime(2026, 10, 24, 22, 0, 0, 0), shifts: vec![(180, -60)] };
        let setting =
            Setting::new(&recipe, &kitchen, ParameterSet::default_set(), flour, calendar).unwrap();
        let path = recipe.method.paths()[0];
        let schedule = setting.follow(path, 0.0).unwrap();
        let mut trace = setting.run(&schedule, Minutes(15.0)).unwrap();
        let asked = Asked { over_time: true, loaf: false };
        let sure = forecast(&setting, &schedule, &own_kitchen(), asked).unwrap();
        trace.lines[0].name = "a \"sour\", mine".into();
        trace.lines[1].samples[0].ph.0 = f64::NAN;
        let text = csv(&trace, &sure, &setting);
        let rows: Vec<&str> = text.strip_suffix("\r\n").unwrap().split("\r\n").collect();
        let columns = rows[0].split(',').count();
        assert_eq!(columns, 24 + 15);
        assert_eq!(rows.len(), 1 + trace.lines.iter().map(|l| l.samples.len()).sum::<usize>());
        for row in &rows[1..] {
            let plain = row.replace("\"a \"\"sour\"\", mine\"", "sour");
            assert_eq!(plain.split(',').count(), columns, "{row}");
            assert!(!plain.contains("NaN") && !plain.contains("inf"));
        }
        assert!(
            rows[1].starts_with("\"a \"\"sour\"\", mine\",2026-10-24T22:00:00,0.00,1,build,room,")
        );
        // four hours on, the clock was put back one
        let later = rows.iter().find(|r| r.contains(",240.00,")).unwrap();
        assert!(later.contains("2026-10-25T01:00:00"), "{later}");
    }

    #[test]
    fn fields_are_safe() {
        assert_eq!(quoted("=1+1"), "'=1+1");
        assert_eq!(quoted("a,b\n\"c\""), "\"a,b\n\"\"c\"\"\"");
        assert_eq!(number(-0.0001, 2), "0.00");
        assert_eq!(number(f64::INFINITY, 2), "");
    }
}
