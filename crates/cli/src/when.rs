//! The wall clock: now, the kitchen's zone, times as people say them.

use crate::args::ClockArgs;
use crate::fail::Failure;
use engine::hours::Calendar;
use jiff::civil::{Date, DateTime, Time, Weekday};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp, ZonedDateTime};

/// The present and the zone it is told in.
pub(crate) struct Clock {
    pub(crate) now: ZonedDateTime,
}

impl Clock {
    pub(crate) fn new(args: &ClockArgs, kitchen_zone: &str) -> Result<Self, Failure> {
        let name = args.zone.as_deref().unwrap_or(kitchen_zone);
        let zone = TimeZone::get(name).map_err(|_| {
            Failure::wish(
                format!("\"{name}\" is not a time zone"),
                "write one such as Europe/Lisbon or America/Denver, in the kitchen file or with --zone",
            )
        })?;
        let now = match args.now.as_deref() {
            None => now(zone),
            Some(text) => {
                let at = civil(text, None).ok_or_else(|| {
                    Failure::wish(
                        format!("\"{text}\" is not a moment"),
                        "write --now \"2026-11-26 18:00\"",
                    )
                })?;
                zoned(at, &zone)?
            }
        };
        Ok(Self { now })
    }

    /// The same clock some minutes later.
    pub(crate) fn later(&self, minutes: f64) -> Result<Self, Failure> {
        let by = jiff::SignedDuration::from_mins(minutes as i64);
        let now = self.now.checked_add(by).map_err(Failure::plain)?;
        Ok(Self { now })
    }

    pub(crate) fn zone(&self) -> &TimeZone {
        self.now.time_zone()
    }

    /// Elapsed minutes from the present to a moment.
    fn elapsed(&self, at: &ZonedDateTime) -> f64 {
        (at.timestamp().as_second() - self.now.timestamp().as_second()) as f64 / 60.0
    }

    /// A moment as people say it: "Sat 18:00" (the next one), "tomorrow 9:00", "18:00",
    /// "2026-11-28 18:00"; elapsed minutes from now.
    pub(crate) fn parse(&self, text: &str) -> Result<f64, Failure> {
        let at = civil(text, Some(self.now.datetime())).ok_or_else(|| {
            Failure::wish(
                format!("\"{text}\" is not a time"),
                "write \"Sat 18:00\", \"tomorrow 9:00\", \"18:00\" or \"2026-11-28 18:00\"",
            )
        })?;
        Ok(self.elapsed(&zoned(at, self.zone())?))
    }

    /// A moment that lies behind, as people say it: "8:10" and "Fri 8:10" are the last ones;
    /// elapsed minutes, at most 0 unless a date says otherwise. None for what is no time.
    pub(crate) fn past(&self, text: &str) -> Option<f64> {
        let at = civil(text, Some(self.now.datetime()))?;
        let elapsed = |at: DateTime| Some(self.elapsed(&zoned(at, self.zone()).ok()?));
        let (day, _) = split(text.trim());
        let back = match day.to_lowercase().as_str() {
            _ if day.parse::<Date>().is_ok() => 0,
            "" => 1,
            "yesterday" | "today" | "tomorrow" => 0,
            _ => 7,
        };
        let minutes = elapsed(at)?;
        if minutes <= 0.0 || back == 0 {
            return Some(minutes);
        }
        elapsed(at.checked_sub(Span::new().days(back)).ok()?)
    }

    /// Local time for the engine, whole minutes from now on, clock changes of the next weeks
    /// included.
    pub(crate) fn calendar(&self) -> Calendar {
        let start = self.now.datetime();
        let zone = self.zone();
        let first = zone.to_offset(self.now.timestamp()).seconds();
        let end = self.now.timestamp().as_second() + 60 * 86_400;
        let shifts = zone
            .following(self.now.timestamp())
            .take_while(|t| t.timestamp().as_second() < end)
            .map(|t| {
                let minute = (t.timestamp().as_second() - self.now.timestamp().as_second()) / 60;
                (minute, i64::from(t.offset().seconds() - first) / 60)
            })
            .collect();
        Calendar { start, shifts }
    }

    /// Elapsed minute 0 as a point in time.
    pub(crate) fn timestamp(&self) -> Timestamp {
        self.now.timestamp()
    }
}

/// The one place that looks at the computer's clock; whole minutes.
#[expect(clippy::disallowed_methods, reason = "the command line is where the clock is read")]
fn now(zone: TimeZone) -> ZonedDateTime {
    let seconds = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |d| d.as_secs() as i64);
    Timestamp::from_second(seconds - seconds % 60).unwrap_or_default().to_zoned_datetime(zone)
}

fn zoned(at: DateTime, zone: &TimeZone) -> Result<ZonedDateTime, Failure> {
    // a time that a clock change skips or repeats: the compatible one, as calendars do
    zone.to_zoned_datetime(at).map_err(|e| Failure::plain(format!("{at}: {e}")))
}

fn civil(text: &str, now: Option<DateTime>) -> Option<DateTime> {
    let (day, time) = split(text.trim());
    let time = time_of_day(time)?;
    if let Ok(date) = day.parse::<Date>() {
        return Some(date.to_datetime(time));
    }
    let now = now?;
    let plus = |days: i64| now.date().checked_add(Span::new().days(days)).ok();
    match day.to_lowercase().as_str() {
        "today" => Some(now.date().to_datetime(time)),
        "tomorrow" => Some(plus(1)?.to_datetime(time)),
        "yesterday" => Some(plus(-1)?.to_datetime(time)),
        "" => {
            let today = now.date().to_datetime(time);
            if today > now { Some(today) } else { Some(plus(1)?.to_datetime(time)) }
        }
        word => {
            let weekday = weekday(word)?;
            let ahead = i64::from(now.date().weekday().until(weekday));
            let at = plus(ahead)?.to_datetime(time);
            if at > now { Some(at) } else { Some(plus(ahead + 7)?.to_datetime(time)) }
        }
    }
}

/// Day and time of day: the time is the last word, or the last two before "am" and "pm".
fn split(text: &str) -> (&str, &str) {
    let last = |t: &str| t.rfind([' ', 'T']);
    let word = last(text).map_or(text, |at| &text[at + 1..]);
    let cut = if ["am", "pm"].contains(&word.to_lowercase().as_str()) {
        last(text[..text.len() - word.len()].trim_end())
    } else {
        last(text)
    };
    cut.map_or(("", text), |at| (text[..at].trim(), text[at + 1..].trim()))
}

/// "18:00", "6:30 pm", "6pm", "18", "noon".
fn time_of_day(text: &str) -> Option<Time> {
    let text = text.to_lowercase();
    if text == "noon" {
        return Time::new(12, 0, 0, 0).ok();
    }
    let (clock, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(t), _) => (t.trim(), Some(0)),
        (_, Some(t)) => (t.trim(), Some(12)),
        _ => (text.as_str(), None),
    };
    let (h, m) = clock.split_once(':').unwrap_or((clock, "0"));
    let (h, m): (i8, i8) = (h.parse().ok()?, m.parse().ok()?);
    let h = match half {
        Some(half) if (1..=12).contains(&h) => h % 12 + half,
        Some(_) => return None,
        None => h,
    };
    Time::new(h, m, 0, 0).ok()
}

fn weekday(word: &str) -> Option<Weekday> {
    use Weekday::{Friday, Monday, Saturday, Sunday, Thursday, Tuesday, Wednesday};
    let names = [
        ("monday", Monday),
        ("tuesday", Tuesday),
        ("wednesday", Wednesday),
        ("thursday", Thursday),
        ("friday", Friday),
        ("saturday", Saturday),
        ("sunday", Sunday),
    ];
    if word.len() < 3 {
        return None;
    }
    names.into_iter().find(|(n, _)| n.starts_with(word)).map(|(_, d)| d)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::datetime;

    #[test]
    fn a_weekday_means_the_next_one() {
        let thursday = datetime(2026, 11, 26, 18, 0, 0, 0);
        let at = |t| civil(t, Some(thursday));
        assert_eq!(at("Sat 18:00"), Some(datetime(2026, 11, 28, 18, 0, 0, 0)));
        assert_eq!(at("saturday 9:30"), Some(datetime(2026, 11, 28, 9, 30, 0, 0)));
        assert_eq!(at("thu 18:30"), Some(datetime(2026, 11, 26, 18, 30, 0, 0)));
        assert_eq!(at("thu 18:00"), Some(datetime(2026, 12, 3, 18, 0, 0, 0)));
        assert_eq!(at("17:00"), Some(datetime(2026, 11, 27, 17, 0, 0, 0)));
        assert_eq!(at("tomorrow 8:00"), Some(datetime(2026, 11, 27, 8, 0, 0, 0)));
        assert_eq!(at("2026-12-24 18:00"), Some(datetime(2026, 12, 24, 18, 0, 0, 0)));
        assert_eq!(at("2026-12-24T18:00"), Some(datetime(2026, 12, 24, 18, 0, 0, 0)));
        assert_eq!(at("Sat 6pm"), Some(datetime(2026, 11, 28, 18, 0, 0, 0)));
        assert_eq!(at("Sat 6:30 pm"), Some(datetime(2026, 11, 28, 18, 30, 0, 0)));
        assert_eq!(at("sat 12 am"), Some(datetime(2026, 11, 28, 0, 0, 0, 0)));
        assert_eq!(at("Sat 9"), Some(datetime(2026, 11, 28, 9, 0, 0, 0)));
        assert_eq!(at("noon"), Some(datetime(2026, 11, 27, 12, 0, 0, 0)));
        for nonsense in ["", "sa 18:00", "Sat", "Sat 25:00", "13 pm", "2026-13-01 10:00"] {
            assert_eq!(at(nonsense), None, "{nonsense}");
        }
    }

    #[test]
    fn the_calendar_knows_the_clock_change() {
        let args = ClockArgs {
            now: Some("2026-10-24 22:00".into()),
            zone: None,
            parameters: "mended".into(),
        };
        let Ok(clock) = Clock::new(&args, "Europe/Berlin") else { panic!("zone") };
        let calendar = clock.calendar();
        // 03:00 CEST becomes 02:00 CET, 300 minutes on
        assert_eq!(calendar.local(300), datetime(2026, 10, 25, 2, 0, 0, 0));
        let Ok(ready) = clock.parse("Sun 7:00") else { panic!("time") };
        assert_eq!(ready, 600.0);
        assert_eq!(calendar.local(600), datetime(2026, 10, 25, 7, 0, 0, 0));
    }
}
