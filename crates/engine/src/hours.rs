//! When the baker can be at the bench, and what the wall clock says.
//!
//! The engine counts elapsed minutes. A [`Calendar`], made by the caller, turns them
//! into local time, clock changes included.

use jiff::civil::DateTime;
use quantity::Minutes;
use serde::Serialize;
use std::fmt;
use std::str::FromStr;

/// Local time for elapsed minutes.
#[derive(Debug, Clone, PartialEq)]
pub struct Calendar {
    /// Wall clock at elapsed minute 0.
    pub start: DateTime,
    /// Clock changes: from this elapsed minute on, the wall clock is so many minutes ahead of
    /// where it would have been; ascending.
    pub shifts: Vec<(i64, i64)>,
}

impl Calendar {
    /// A calendar without clock changes.
    pub fn plain(start: DateTime) -> Self {
        Self { start, shifts: Vec::new() }
    }

    /// Wall clock after so many minutes; stops at the calendar's end (year 9999).
    pub fn local(&self, elapsed_min: i64) -> DateTime {
        let on_the_clock = elapsed_min.saturating_add(self.shift(elapsed_min));
        let span = jiff::Span::new().try_minutes(on_the_clock).unwrap_or_default();
        self.start.saturating_add(span)
    }

    /// Elapsed minutes at which the wall clock shows a time: the first of two, where it is put
    /// back; where it is put forward and never shows it, as if it had not been yet.
    pub fn elapsed(&self, local: DateTime) -> i64 {
        let minutes = local.duration_since(self.start).as_secs().div_euclid(60);
        let shifts = std::iter::once(0).chain(self.shifts.iter().map(|s| s.1));
        let all = shifts.map(|by| minutes.saturating_sub(by));
        let shows = |m: &i64| m.saturating_add(self.shift(*m)) == minutes;
        let first = all.clone().filter(shows).min();
        // never shown: as the clock stood before it was put forward
        first.or_else(|| all.max()).unwrap_or(minutes)
    }

    fn shift(&self, elapsed_min: i64) -> i64 {
        self.shifts.iter().rev().find(|(from, _)| elapsed_min >= *from).map_or(0, |s| s.1)
    }

    /// Hour of the day, 0..24, for room temperature.
    pub fn hour_of_day(&self, elapsed_min: f64) -> f64 {
        let whole = elapsed_min.floor();
        let start = i64::from(self.start.hour()) * 60 + i64::from(self.start.minute());
        let elapsed = whole as i64;
        let minute = elapsed.saturating_add(self.shift(elapsed)).saturating_add(start);
        let (hour, minute) = (minute.rem_euclid(1440) / 60, minute.rem_euclid(60));
        hour as f64 + (minute as f64 + (elapsed_min - whole)) / 60.0
    }
}

/// A span of the week: days and minutes of the day; `to` at or before `from` runs past midnight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WeekSpan {
    /// Monday first: the days on which it begins.
    pub days: [bool; 7],
    /// Minute of the day it begins.
    pub from: u16,
    /// Minute of the day it ends, 1440 for midnight.
    pub to: u16,
}

const DAYS: [&str; 7] =
    ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

impl WeekSpan {
    /// Whether this minute of this day (Monday 0) lies inside.
    fn holds(&self, day: usize, minute: u16) -> bool {
        let yesterday = (day + 6) % 7;
        if self.to > self.from {
            self.days[day] && (self.from..self.to).contains(&minute)
        } else {
            (self.days[day] && minute >= self.from) || (self.days[yesterday] && minute < self.to)
        }
    }
}

impl FromStr for WeekSpan {
    type Err = String;
    /// Reads "daily 06:30-22:30", "mon-fri 17:30-23:00", "sat,sun 00:00-24:00".
    fn from_str(text: &str) -> Result<Self, String> {
        let example = "write \"daily 06:30-22:30\" or \"mon-fri 17:30-23:00\"";
        let digit = text.find(|c: char| c.is_ascii_digit());
        let (days, times) = digit
            .map(|at| text.split_at(at))
            .filter(|(days, _)| !days.trim().is_empty())
            .ok_or_else(|| format!("\"{text}\" has no days and times; {example}"))?;
        let day = |name: &str| -> Result<usize, String> {
            let lower = name.trim().to_lowercase();
            let whole = |d: &&str| lower.len() >= 3 && d.starts_with(&lower);
            DAYS.iter().position(whole).ok_or_else(|| {
                format!("\"{}\" is not a day; days are mon tue wed thu fri sat sun", name.trim())
            })
        };
        let mut set = [false; 7];
        for part in days.split(',') {
            if part.trim().eq_ignore_ascii_case("daily") {
                set = [true; 7];
            } else if let Some((a, b)) = part.split_once('-') {
                let (a, b) = (day(a)?, day(b)?);
                let mut d = a;
                loop {
                    set[d] = true;
                    if d == b {
                        break;
                    }
                    d = (d + 1) % 7;
                }
            } else {
                set[day(part)?] = true;
            }
        }
        let minute = |s: &str| -> Result<u16, String> {
            let bad = || format!("\"{s}\" is not a time of day; {example}");
            let (h, m) = s.trim().split_once(':').ok_or_else(bad)?;
            let h: u16 = h.parse().map_err(|_| bad())?;
            let m: u16 = m.parse().map_err(|_| bad())?;
            if h > 24 || m > 59 || (h == 24 && m > 0) { Err(bad()) } else { Ok(h * 60 + m) }
        };
        let (from, to) = times
            .trim()
            .split_once(['-', '–'])
            .ok_or_else(|| format!("\"{times}\" is not a span of time; {example}"))?;
        let (from, to) = (minute(from)?, minute(to)?);
        if from == 1440 {
            return Err(format!("\"{text}\" begins at 24:00; begin it at 00:00 of the next day"));
        }
        Ok(Self { days: set, from, to })
    }
}

impl fmt::Display for WeekSpan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.days == [true; 7] {
            write!(f, "daily")?;
        } else {
            let names: Vec<&str> =
                DAYS.iter().zip(self.days).filter(|(_, on)| *on).map(|(d, _)| &d[..3]).collect();
            write!(f, "{}", names.join(","))?;
        }
        let hm = |m: u16| format!("{:02}:{:02}", m / 60, m % 60);
        write!(f, " {}-{}", hm(self.from), hm(self.to))
    }
}

/// When hands can be at the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct BakerHours {
    /// Awake; always when empty.
    pub awake: Vec<WeekSpan>,
    /// At home; always when empty.
    pub home: Vec<WeekSpan>,
    /// At home, but with something else to do: short work only.
    pub busy: Vec<WeekSpan>,
    /// Longest work while busy.
    pub busy_most: Minutes,
    /// Not then, whatever else.
    pub never: Vec<WeekSpan>,
}

/// Longest work while busy, when nothing is said. Ours: folding, or putting dough in the fridge.
pub const BUSY_MOST: Minutes = Minutes(5.0);

/// Why a moment cannot be worked in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Blocked {
    /// Asleep.
    Asleep,
    /// Not at home.
    Away,
    /// At home but busy, and the work is long.
    Busy,
    /// Excluded by the baker.
    Never,
}

impl fmt::Display for Blocked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Asleep => "you are asleep",
            Self::Away => "you are away",
            Self::Busy => "you are busy",
            Self::Never => "you ruled this time out",
        })
    }
}

impl BakerHours {
    /// Always there.
    pub fn any_time() -> Self {
        Self { awake: vec![], home: vec![], busy: vec![], busy_most: BUSY_MOST, never: vec![] }
    }

    /// Why no work, however short, can be done in this wall-clock minute.
    pub fn blocked(&self, at: DateTime) -> Option<Blocked> {
        let inside = inside(at);
        if inside(&self.never) {
            Some(Blocked::Never)
        } else if !self.awake.is_empty() && !inside(&self.awake) {
            Some(Blocked::Asleep)
        } else if !self.home.is_empty() && !inside(&self.home) {
            Some(Blocked::Away)
        } else {
            None
        }
    }

    /// Whether no minute of the week is free for any work.
    pub fn never_free(&self) -> bool {
        // any week will do: 2 January 2023 was a Monday
        let monday = jiff::civil::datetime(2023, 1, 2, 0, 0, 0, 0);
        let week = Calendar::plain(monday);
        (0..7 * 1440).all(|m| self.blocked(week.local(m)).is_some())
    }

    /// Whether only short work can be done in this wall-clock minute.
    pub fn busy(&self, at: DateTime) -> bool {
        inside(at)(&self.busy)
    }
}

/// Whether a wall-clock minute lies in any of some spans.
fn inside(at: DateTime) -> impl Fn(&[WeekSpan]) -> bool {
    let day = at.date().weekday().to_monday_zero_offset() as usize % 7;
    let minute = u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs());
    move |spans| spans.iter().any(|s| s.holds(day, minute))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::datetime;

    #[test]
    fn spans_read_write_and_cross_midnight() {
        let s: WeekSpan = "fri-sun 22:00-02:00".parse().unwrap();
        assert_eq!(s.to_string(), "fri,sat,sun 22:00-02:00");
        assert!(s.holds(4, 23 * 60)); // Friday night
        assert!(s.holds(0, 60)); // Monday 01:00 belongs to Sunday night
        assert!(!s.holds(4, 60)); // Friday 01:00 belongs to Thursday night
        assert_eq!(
            "mon, tuesday 6:00 - 22:00".parse::<WeekSpan>().unwrap().to_string(),
            "mon,tue 06:00-22:00"
        );
        assert!("monkey 10:00-11:00".parse::<WeekSpan>().is_err());
        assert!("fri 25:00-26:00".parse::<WeekSpan>().is_err());
        assert!("someday 10:00-11:00".parse::<WeekSpan>().unwrap_err().contains("not a day"));
    }

    #[test]
    fn a_night_that_crosses_a_clock_change_keeps_the_wall_clock_right() {
        // 25 October 2026, 03:00 CEST becomes 02:00 CET: 300 minutes after 22:00 the wall says 02:00
        let night =
            Calendar { start: datetime(2026, 10, 24, 22, 0, 0, 0), shifts: vec![(300, -60)] };
        assert_eq!(night.local(299), datetime(2026, 10, 25, 2, 59, 0, 0));
        assert_eq!(night.local(300), datetime(2026, 10, 25, 2, 0, 0, 0));
        assert_eq!(night.local(600), datetime(2026, 10, 25, 7, 0, 0, 0));
    }

    #[test]
    fn the_wall_clock_leads_back_to_elapsed_minutes() {
        let back =
            Calendar { start: datetime(2026, 10, 24, 22, 0, 0, 0), shifts: vec![(300, -60)] };
        let forth = Calendar { start: datetime(2026, 3, 28, 22, 0, 0, 0), shifts: vec![(240, 60)] };
        for calendar in [&back, &forth, &Calendar::plain(back.start)] {
            for m in -100..2000 {
                let at = calendar.elapsed(calendar.local(m));
                assert_eq!(calendar.local(at), calendar.local(m), "{m}");
                assert!(at <= m);
            }
        }
        assert_eq!(back.elapsed(datetime(2026, 10, 25, 2, 30, 0, 0)), 270);
        // 2:30 is skipped: half an hour after the change
        let skipped = forth.elapsed(datetime(2026, 3, 29, 2, 30, 0, 0));
        assert_eq!(forth.local(skipped), datetime(2026, 3, 29, 3, 30, 0, 0));
    }

    #[test]
    fn hours_say_why_not() {
        let h = BakerHours {
            awake: vec!["daily 06:00-22:00".parse().unwrap()],
            home: vec![
                "mon-fri 17:30-08:00".parse().unwrap(),
                "sat,sun 00:00-24:00".parse().unwrap(),
            ],
            never: vec!["sun 10:00-12:00".parse().unwrap()],
            ..BakerHours::any_time()
        };
        assert_eq!(h.blocked(datetime(2026, 11, 28, 23, 0, 0, 0)), Some(Blocked::Asleep));
        assert_eq!(h.blocked(datetime(2026, 11, 27, 12, 0, 0, 0)), Some(Blocked::Away));
        assert_eq!(h.blocked(datetime(2026, 11, 29, 11, 0, 0, 0)), Some(Blocked::Never));
        assert_eq!(h.blocked(datetime(2026, 11, 27, 7, 0, 0, 0)), None);
    }
}
