//! A plan as a calendar (RFC 5545): one event a step that needs hands, and one when the bread
//! is ready, each with a reminder.

use engine::plan::Plan;
use engine::run::Setting;
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property, Trigger};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// Who made the file.
const PRODID: &str = "-//grigne//grigne plan 1//EN";
/// How long before a step it reminds.
const BEFORE: &str = "-PT5M";
/// How long the moment the bread is ready lasts in a calendar, minutes.
const READY_MIN: f64 = 15.0;

/// One bread in a calendar.
pub(crate) struct Entry<'e, 'a> {
    pub(crate) setting: &'e Setting<'a>,
    pub(crate) plan: &'e Plan,
    /// Summary and description of a step of the method; asked for no other.
    pub(crate) text: &'e dyn Fn(usize) -> (String, String),
    /// A step that is done at another minute than the plan's: an oven that is left on.
    pub(crate) moved: Option<(usize, f64)>,
}

/// Writes the plans of one or several breads as a calendar. `start` is elapsed minute 0 and the
/// stamp of every event: no clock is read, the same plan gives the same bytes. Instants are
/// written in UTC, so clock changes cannot move them; `zone` is only named, as the calendar's own.
pub(crate) fn calendar(entries: &[Entry<'_, '_>], zone: &TimeZone, start: Timestamp) -> String {
    let mut calendar = Calendar::empty();
    for (key, value) in
        [("VERSION", "2.0"), ("PRODID", PRODID), ("CALSCALE", "GREGORIAN"), ("METHOD", "PUBLISH")]
    {
        calendar.append_property(Property::new(key, value));
    }
    let titles: Vec<&str> = entries.iter().map(|e| e.setting.recipe.title.as_str()).collect();
    calendar.append_property(Property::new("X-WR-CALNAME", plain(&titles.join(", "))));
    if let Some(name) = zone.iana_name() {
        calendar.append_property(Property::new("X-WR-TIMEZONE", plain(name)));
    }
    for (k, e) in entries.iter().enumerate() {
        let Entry { setting, plan, text, moved } = e;
        let title = &setting.recipe.title;
        // the same recipe twice is two batches
        let batch = titles[..k].iter().filter(|t| *t == title).count();
        let name = if batch > 0 { format!("{title}\n{batch}") } else { title.clone() };
        let steps = &setting.recipe.method.steps;
        let mut spans = plan.schedule.spans.clone();
        spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
        for span in spans {
            let Some(step) = steps.get(span.step) else { continue };
            if step.hands_on.0 > 0.0 {
                let words = text(span.step);
                let at = moved.filter(|m| m.0 == span.step).map_or(span.from, |m| m.1);
                calendar.extend(event(&name, start, span.step, at, step.hands_on.0, words));
            }
        }
        let ready = plan.schedule.ready();
        let words = (format!("Ready: {title}"), "Baked and cooled.".to_owned());
        calendar.extend(event(&name, start, steps.len(), ready, READY_MIN, words));
    }
    let text = calendar.to_string().replace("\r\n ", "");
    let mut out = String::with_capacity(text.len() + text.len() / 50);
    for line in text.split_terminator("\r\n").filter(|l| *l != STAMPED) {
        fold(&mut out, line);
    }
    out
}

/// The crate stamps every part, alarms too, with the time of day; an alarm has no stamp in RFC
/// 5545. This one is put in its place, and its line left out afterwards.
const STAMP: &str = "19700101T000000Z";
/// See [`STAMP`].
const STAMPED: &str = "DTSTAMP:19700101T000000Z";

/// Breaks a line after at most 75 octets, between characters. The crate's own folding makes
/// lines of 76 where the last part of a line is 75 long.
fn fold(out: &mut String, line: &str) {
    let mut used = 0;
    for c in line.chars() {
        if used + c.len_utf8() > 75 {
            out.push_str("\r\n ");
            used = 1;
        }
        out.push(c);
        used += c.len_utf8();
    }
    out.push_str("\r\n");
}

/// One event; none when its time lies outside the calendar.
fn event(
    title: &str,
    start: Timestamp,
    step: usize,
    from_min: f64,
    minutes: f64,
    (summary, description): (String, String),
) -> Option<Event> {
    let from = instant(start, from_min)?;
    // at least a minute: an event without length is hidden by some readers
    let to = instant(start, from_min + minutes.clamp(1.0, 1440.0))?;
    let uid = uid(title, step, &from);
    let summary = plain(&summary);
    let mut event = Event::new();
    event
        .add_property("UID", format!("{uid}@grigne"))
        .add_property("DTSTAMP", instant(start, 0.0)?)
        .add_property("DTSTART", from)
        .add_property("DTEND", to)
        .add_property("SUMMARY", summary.clone())
        .add_property("SEQUENCE", "0");
    if !description.is_empty() {
        event.add_property("DESCRIPTION", plain(&description));
    }
    // The crate's own duration type is not ours to name: read one, then write it our way.
    if let Ok(trigger) = Trigger::try_from(&Property::new("TRIGGER", "PT5M")) {
        let mut alarm = Alarm::display(&summary, trigger);
        alarm
            .append_property(Property::new("TRIGGER", BEFORE))
            .add_property("UID", format!("{uid}-alarm@grigne"))
            .add_property("DTSTAMP", STAMP);
        event.alarm(alarm.done());
    }
    Some(event.done())
}

/// An elapsed minute in UTC; none outside the years a calendar has.
fn instant(start: Timestamp, minute: f64) -> Option<String> {
    // four weeks are planned at most; a hundred years are surely a mistake
    if minute.is_nan() || minute.abs() > 5.3e7 {
        return None;
    }
    let seconds = (minute * 60.0).round() as i64;
    let at = start.checked_add(SignedDuration::from_secs(seconds)).ok()?;
    let t = TimeZone::UTC.to_datetime(at);
    (t.year() >= 0).then(|| {
        format!(
            "{:04}{:02}{:02}T{:02}{:02}{:02}Z",
            t.year(),
            t.month(),
            t.day(),
            t.hour(),
            t.minute(),
            t.second()
        )
    })
}

/// A name for an event that stays while recipe, step and time stay (FNV-1a).
fn uid(title: &str, step: usize, from: &str) -> String {
    let hash = format!("{title}\n{step}\n{from}")
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3));
    format!("{hash:016x}")
}

/// Text without what a calendar cannot hold: one kind of line end, no control characters.
fn plain(text: &str) -> String {
    text.replace("\r\n", "\n")
        .replace('\r', "\n")
        .chars()
        .filter(|c| *c == '\n' || !c.is_control())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use calcard::Parser;
    use calcard::icalendar::{
        ICalendar, ICalendarAction, ICalendarComponent, ICalendarComponentType, ICalendarDuration,
        ICalendarProperty, ICalendarValue,
    };
    use engine::file::read_recipe;
    use engine::formula::Scale;
    use engine::hours::Calendar as Clock;
    use engine::kitchen::Kitchen;
    use engine::parameters::ParameterSet;
    use engine::recipe::Recipe;
    use jiff::civil::datetime;
    use quantity::Minutes;

    fn recipe() -> Recipe {
        read_recipe(include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml"))
            .unwrap()
    }

    /// A night in which the clocks change: zone, when the plan starts, the elapsed minute of the
    /// change, and by how much.
    type Night = (&'static str, (i16, i8, i8), i64, i64);

    /// Clocks go back.
    const AUTUMN: Night = ("Europe/London", (2026, 10, 24), 8 * 60, -60);
    /// They go forward.
    const SPRING: Night = ("Europe/London", (2026, 3, 28), 7 * 60, 60);
    /// By half an hour, where it is autumn in April.
    const ISLAND: Night = ("Australia/Lord_Howe", (2026, 4, 4), 8 * 60, -30);

    /// A plan over the night in which the clocks of London go back, from Saturday 18:00.
    fn written(recipe: &Recipe, words: &str) -> (Plan, String) {
        written_in(AUTUMN, recipe, words)
    }

    fn clock((_, (year, month, day), change, by): Night) -> Clock {
        Clock { start: datetime(year, month, day, 18, 0, 0, 0), shifts: vec![(change, by)] }
    }

    fn written_in(night: Night, recipe: &Recipe, words: &str) -> (Plan, String) {
        let kitchen = Kitchen::unknown();
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let zone = TimeZone::get(night.0).unwrap();
        let clock = clock(night);
        let start = zone.to_timestamp(clock.start).unwrap();
        let setting =
            Setting::new(recipe, &kitchen, ParameterSet::default_set(), flour, clock).unwrap();
        let schedule = setting.follow(recipe.method.paths()[0], 0.0).unwrap();
        let trace = setting.run(&schedule, Minutes(15.0)).unwrap();
        let draws = engine::forecast::own_kitchen();
        let asked = engine::forecast::Asked { over_time: false, loaf: false };
        let forecast = engine::forecast::forecast(&setting, &schedule, &draws, asked).unwrap();
        let plan = Plan {
            way: 0,
            aims: vec![engine::plan::Aim::Safest],
            schedule,
            cost: 0.0,
            costs: [0.0; engine::plan::AIMS],
            burden: engine::plan::Burden::default(),
            slack: Vec::new(),
            trace,
            forecast,
        };
        let text = |i: usize| {
            let verb = recipe.method.steps[i].verb.name();
            (format!("{verb} {words}"), format!("do it: {words}"))
        };
        let entry = Entry { setting: &setting, plan: &plan, text: &text, moved: None };
        let out = calendar(&[entry], &zone, start);
        (plan, out)
    }

    /// What a reader by other hands makes of a calendar. It lets much pass (its strict mode refuses
    /// every part inside another, 0.3.14), so names and nesting are looked at here.
    fn read_by_others(text: &str) -> ICalendar {
        let mut open = Vec::new();
        for line in text.replace("\r\n ", "").split_terminator("\r\n") {
            let (name, value) = line.split_once(':').unwrap();
            assert!(name.chars().all(|c| c.is_ascii_uppercase() || c == '-'), "{line}");
            match name {
                "BEGIN" => open.push(value.to_owned()),
                "END" => assert_eq!(open.pop().as_deref(), Some(value)),
                _ => assert!(!open.is_empty(), "{line}"),
            }
        }
        assert!(open.is_empty(), "{open:?}");
        let mut parser = Parser::new(text);
        let read = match parser.entry() {
            calcard::Entry::ICalendar(read) => read,
            other => panic!("{other:?}"),
        };
        assert!(matches!(parser.entry(), calcard::Entry::Eof), "more than one calendar: {text}");
        read
    }

    /// The one value of a property that must stand once.
    fn once<'c>(of: &'c ICalendarComponent, name: &ICalendarProperty) -> &'c ICalendarValue {
        let mut entries = of.entries.iter().filter(|e| e.name == *name);
        let entry = entries.next().unwrap_or_else(|| panic!("{name:?} is missing"));
        assert!(entries.next().is_none(), "{name:?} stands twice");
        assert!(entry.params.is_empty(), "{name:?}: no zone is named, so none must be described");
        let [value] = &entry.values[..] else { panic!("{name:?}: {:?}", entry.values) };
        value
    }

    fn text_of<'c>(of: &'c ICalendarComponent, name: &ICalendarProperty) -> &'c str {
        let ICalendarValue::Text(text) = once(of, name) else { panic!("{name:?} is no text") };
        text
    }

    /// An instant; it must be in UTC.
    fn instant_of(of: &ICalendarComponent, name: &ICalendarProperty) -> Timestamp {
        let ICalendarValue::PartialDateTime(t) = once(of, name) else { panic!("{name:?}") };
        assert_eq!((t.tz_hour, t.tz_minute), (Some(0), Some(0)), "{name:?} is not in UTC");
        let small = |x: Option<u8>| x.unwrap() as i8;
        let date = (t.year.unwrap() as i16, small(t.month), small(t.day));
        let time = (small(t.hour), small(t.minute), small(t.second));
        let civil = datetime(date.0, date.1, date.2, time.0, time.1, time.2, 0);
        TimeZone::UTC.to_timestamp(civil).unwrap()
    }

    #[test]
    fn another_reader_finds_every_step_with_its_reminder() {
        let mut recipe = recipe();
        recipe.title = "Bröd; stort, \\nytt \"bröd\"".to_owned();
        let words = "fold; then rest, C:\\nap \"gently\"\nas long as it needs: ä 老虎 ".repeat(4);
        let words = words.trim_end();
        for night in [AUTUMN, SPRING, ISLAND] {
            let (plan, out) = written_in(night, &recipe, words);
            let (zone, clock) = (TimeZone::get(night.0).unwrap(), clock(night));
            let read = read_by_others(&out);
            let root = &read.components[0];
            assert_eq!(text_of(root, &ICalendarProperty::Version), "2.0");
            assert_eq!(text_of(root, &ICalendarProperty::Prodid), PRODID);
            let name = ICalendarProperty::Other("X-WR-CALNAME".to_owned());
            assert_eq!(text_of(root, &name), recipe.title);
            assert!(out.contains("X-WR-CALNAME:Bröd\\; stort\\, \\\\nytt \"bröd\"\r\n"));
            let steps = &recipe.method.steps;
            let mut spans = plan.schedule.spans.clone();
            spans.retain(|s| steps[s.step].hands_on.0 > 0.0);
            spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
            let mut expected: Vec<(f64, f64, String, String)> = spans
                .iter()
                .map(|s| {
                    let step = &steps[s.step];
                    let summary = format!("{} {words}", step.verb.name());
                    (s.from, step.hands_on.0, summary, format!("do it: {words}"))
                })
                .collect();
            let ready = format!("Ready: {}", recipe.title);
            expected.push((plan.schedule.ready(), READY_MIN, ready, "Baked and cooled.".into()));
            assert_eq!(root.component_ids.len(), expected.len());
            let mut after = 0;
            for (id, (from, minutes, summary, description)) in
                root.component_ids.iter().zip(expected)
            {
                let event = &read.components[*id as usize];
                assert_eq!(event.component_type, ICalendarComponentType::VEvent);
                // the clock on the wall, as whoever made the plan reads it
                let begins = instant_of(event, &ICalendarProperty::Dtstart);
                let local = zone.to_datetime(begins);
                let told = clock.local(from.floor() as i64);
                let apart = told.until(local).unwrap().total(jiff::Unit::Second).unwrap();
                assert!((0.0..=60.0).contains(&apart), "{local}, told {told}");
                let ends = instant_of(event, &ICalendarProperty::Dtend);
                assert_eq!(ends.as_second() - begins.as_second(), (minutes * 60.0).round() as i64);
                after += usize::from(from > night.2 as f64);
                assert_eq!(text_of(event, &ICalendarProperty::Summary), summary);
                assert_eq!(text_of(event, &ICalendarProperty::Description), description);
                let stamp = instant_of(event, &ICalendarProperty::Dtstamp);
                assert_eq!(zone.to_datetime(stamp), clock.start);
                let [alarm] = event.component_ids[..] else {
                    panic!("not one reminder: {summary}")
                };
                let alarm = &read.components[alarm as usize];
                assert_eq!(alarm.component_type, ICalendarComponentType::VAlarm);
                let action = once(alarm, &ICalendarProperty::Action);
                assert_eq!(*action, ICalendarValue::Action(ICalendarAction::Display));
                assert_eq!(text_of(alarm, &ICalendarProperty::Description), summary);
                let five = ICalendarDuration { neg: true, minutes: 5, ..Default::default() };
                let trigger = once(alarm, &ICalendarProperty::Trigger);
                assert_eq!(*trigger, ICalendarValue::Duration(five));
            }
            assert!(after > 3, "steps on the other side of the change");
        }
    }

    #[test]
    fn reads_back_as_written() {
        let recipe = recipe();
        let words = "fold; then rest, \\ \"gently\"\nfor as long as it needs: ä 老虎 ".repeat(4);
        let (plan, out) = written(&recipe, &words);
        let read: Calendar = out.parse().unwrap();
        let hands = |i: usize| recipe.method.steps[i].hands_on.0 > 0.0;
        let expected = plan.schedule.spans.iter().filter(|s| hands(s.step)).count() + 1;
        let events: Vec<&Event> = read.events().collect();
        assert_eq!(events.len(), expected);
        let (ready, steps) = events.split_last().unwrap();
        assert_eq!(ready.get_summary(), Some("Ready: Tidewater batard"));
        for e in steps {
            assert!(e.get_summary().unwrap().ends_with(&words));
            assert_eq!(e.get_description().unwrap(), format!("do it: {words}"));
        }
        assert_eq!(out.matches("BEGIN:VALARM").count(), expected);
        assert_eq!(out.matches("TRIGGER:-PT5M").count(), expected);
        assert_eq!(out.matches("DTSTAMP:20261024T170000Z").count(), expected);
        assert_eq!(out.matches("DTSTAMP").count(), expected);
        let mut uids: Vec<&str> = events.iter().map(|e| e.get_uid().unwrap()).collect();
        uids.sort_unstable();
        uids.dedup();
        assert_eq!(uids.len(), expected);
        assert_eq!(read.property_value("PRODID"), Some(PRODID));
        assert_eq!(written(&recipe, &words).1, out);
    }

    #[test]
    fn instants_do_not_move_with_the_clocks() {
        let recipe = recipe();
        let (plan, out) = written(&recipe, "x");
        // 18:00 in London in summer is 17:00 UTC, and minutes run on through the night
        assert!(out.contains("DTSTART:20261024T170000Z"));
        let mix = recipe.method.steps.iter().position(|s| s.verb == engine::method::Verb::Mix);
        let from = plan.schedule.of(mix.unwrap()).unwrap().from;
        assert!(from > 8.0 * 60.0, "the dough is mixed after the change");
        let minutes = 17 * 60 + from as i64 - 1440;
        let utc = format!("20261025T{:02}{:02}00Z", minutes / 60, minutes % 60);
        assert!(out.contains(&format!("DTSTART:{utc}")), "{utc}");
    }

    #[test]
    fn lines_are_short_and_end_in_crlf() {
        let mut recipe = recipe();
        recipe.title = "Bröd, \"stort\"; \r\n\u{7}BEGIN:VEVENT ".repeat(12);
        let (_, out) = written(&recipe, &"é, ".repeat(100));
        assert!(out.ends_with("END:VCALENDAR\r\n"));
        assert!(out.split("\r\n").any(|l| l.len() == 75));
        for line in out.split("\r\n") {
            assert!(line.len() <= 75, "{line}");
            assert!(!line.contains(['\r', '\n']));
        }
        let begins = out.split("\r\n").filter(|l| *l == "BEGIN:VEVENT").count();
        assert_eq!(begins, out.split("\r\n").filter(|l| *l == "END:VEVENT").count());
        let read: Calendar = out.parse().unwrap();
        assert_eq!(read.events().count(), begins);
    }

    #[test]
    fn absurd_times_are_left_out() {
        let start = Timestamp::UNIX_EPOCH;
        for t in [f64::NAN, f64::INFINITY, -1e300, 1e12] {
            assert_eq!(instant(start, t), None);
        }
        assert_eq!(instant(start, -0.4), Some("19691231T235936Z".into()));
        assert_eq!(instant(Timestamp::MAX, 600.0), None);
    }
}
