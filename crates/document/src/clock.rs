//! Moments as people read them.

use engine::hours::Calendar;
use jiff::civil::{DateTime, Weekday};

/// "Sat 28 Nov", in one piece.
pub fn day(at: DateTime) -> String {
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = MONTHS[usize::from(at.month().unsigned_abs().clamp(1, 12)) - 1];
    format!("{} {} {month}", short(at.date().weekday()), at.day())
}

fn short(day: Weekday) -> &'static str {
    ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
        [usize::from(day.to_monday_zero_offset().unsigned_abs()) % 7]
}

/// "Sat 18:00", in one piece.
pub fn weekday_time(at: DateTime) -> String {
    format!("{} {}", short(at.date().weekday()), time(at))
}

/// "18:00".
pub fn time(at: DateTime) -> String {
    format!("{:02}:{:02}", at.hour(), at.minute())
}

/// "Sat 28 Nov 18:00" at an elapsed minute.
pub fn moment(calendar: &Calendar, minute: f64) -> String {
    let at = calendar.local(minute as i64);
    format!("{} {}", day(at), time(at))
}
