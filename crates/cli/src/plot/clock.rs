//! The clock axis: elapsed minutes along the page, local time written beside them.

use engine::hours::{BakerHours, Blocked, Calendar};

/// Longest time drawn, minutes: twice what can be planned.
const LONGEST: f64 = 56.0 * 1440.0;
/// Furthest minute from the calendar's start that is drawn.
const FURTHEST: f64 = 5e6;

/// Elapsed minutes along the page.
#[derive(Clone, Copy)]
pub(super) struct Clock<'a> {
    calendar: &'a Calendar,
    /// First minute drawn.
    pub(super) from: f64,
    /// Last minute drawn.
    pub(super) to: f64,
    /// Where the first minute lies, px.
    pub(super) left: f64,
    /// Where the last minute lies, px.
    pub(super) right: f64,
}

impl<'a> Clock<'a> {
    /// An axis that holds these minutes with a little room; whatever they are.
    pub(super) fn new(calendar: &'a Calendar, from: f64, to: f64, left: f64, right: f64) -> Self {
        let sane = |t: f64| if t.is_finite() { t.clamp(-FURTHEST, FURTHEST) } else { 0.0 };
        let (from, to) = (sane(from), sane(to));
        let to = to.clamp(from + 30.0, from + LONGEST);
        let room = ((to - from) * 0.012).max(4.0);
        Self { calendar, from: from - room, to: to + room, left, right }
    }

    /// Where a minute lies, px; minutes outside stay at the edge.
    pub(super) fn x(&self, minute: f64) -> f64 {
        let share = (minute - self.from) / (self.to - self.from);
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        self.left + (self.right - self.left) * share
    }

    /// Whether a minute is drawn.
    pub(super) fn holds(&self, minute: f64) -> bool {
        minute >= self.from && minute <= self.to
    }

    /// "07:05".
    pub(super) fn time(&self, minute: f64) -> String {
        let t = self.calendar.local(minute.round() as i64);
        format!("{:02}:{:02}", t.hour(), t.minute())
    }

    /// "Sat 28 Nov".
    pub(super) fn day(&self, minute: f64) -> String {
        const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
        const MONTHS: [&str; 12] =
            ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
        let t = self.calendar.local(minute.round() as i64);
        let pick = |names: &[&'static str], i: i8| {
            usize::try_from(i).ok().and_then(|i| names.get(i)).copied().unwrap_or("")
        };
        format!(
            "{} {} {}",
            pick(&DAYS, t.weekday().to_monday_zero_offset()),
            t.day(),
            pick(&MONTHS, t.month() - 1)
        )
    }

    /// Full local hours at a distance that can be read, and midnights.
    pub(super) fn ticks(&self) -> (Vec<f64>, Vec<f64>) {
        const APART: f64 = 44.0;
        let px_per_hour = (self.right - self.left) * 60.0 / (self.to - self.from);
        let every = [1, 2, 3, 6, 12].into_iter().find(|h| f64::from(*h) * px_per_hour >= APART);
        let (mut hours, mut midnights) = (Vec::new(), Vec::new());
        let mut minute = self.from.ceil() as i64;
        while (minute as f64) <= self.to {
            let t = self.calendar.local(minute);
            if t.minute() == 0 {
                if every.is_some_and(|h| i32::from(t.hour()) % h == 0) {
                    hours.push(minute as f64);
                }
                if t.hour() == 0 {
                    midnights.push(minute as f64);
                }
                // no clock change is shorter than a quarter of an hour
                minute += 15;
            } else {
                minute += 1;
            }
        }
        (hours, midnights)
    }

    /// Spans of time in which the baker cannot work, with the reason.
    pub(super) fn blocked(&self, hours: &BakerHours) -> Vec<(f64, f64, Blocked)> {
        if hours.awake.is_empty() && hours.home.is_empty() && hours.never.is_empty() {
            return Vec::new();
        }
        let mut out: Vec<(f64, f64, Blocked)> = Vec::new();
        for minute in self.from.floor() as i64..self.to.ceil() as i64 {
            let Some(why) = hours.blocked(self.calendar.local(minute)) else { continue };
            let at = minute as f64;
            match out.last_mut() {
                Some(last) if last.1 >= at && last.2 == why => last.1 = at + 1.0,
                _ => out.push((at, at + 1.0, why)),
            }
        }
        for span in &mut out {
            span.0 = span.0.max(self.from);
            span.1 = span.1.min(self.to);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::datetime;

    #[test]
    fn ticks_follow_the_wall_clock_over_a_change() {
        // Sunday 25 October 2026, 03:00 becomes 02:00 after 300 minutes
        let calendar =
            Calendar { start: datetime(2026, 10, 24, 22, 0, 0, 0), shifts: vec![(300, -60)] };
        let clock = Clock::new(&calendar, 0.0, 600.0, 0.0, 1000.0);
        let hours: Vec<String> = clock.ticks().0.iter().map(|t| clock.time(*t)).collect();
        assert_eq!(
            hours.join(" "),
            "22:00 23:00 00:00 01:00 02:00 02:00 03:00 04:00 05:00 06:00 07:00"
        );
        assert_eq!(clock.day(300.0), "Sun 25 Oct");
    }

    #[test]
    fn any_minutes_make_an_axis() {
        let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
        for (a, b) in [(f64::NAN, 3.0), (f64::INFINITY, 0.0), (1e300, -1e300), (5.0, 5.0)] {
            let clock = Clock::new(&calendar, a, b, 0.0, 1000.0);
            assert!(clock.to > clock.from);
            for t in [a, b, 0.0] {
                assert!((0.0..=1000.0).contains(&clock.x(t)));
            }
            let _ = (clock.ticks(), clock.time(a), clock.day(b));
        }
    }
}
