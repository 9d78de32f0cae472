//! Writes calendars (RFC 5545): escaping of text, folding at 75 octets, CRLF. What stands in them is not decided here.

use chrono::{DateTime, NaiveDate, TimeDelta};

use super::ahead::{Event, When};

/// The longest line in octets, without its end (RFC 5545, 3.1).
const MOST_OCTETS: usize = 75;
/// How long something at an instant is drawn: calendars hide what has no length.
const DRAWN_MIN: i64 = 30;

/// A calendar of these events. `site` begins the addresses in it; without one there are none.
pub fn calendar(name: &str, events: &[Event], site: Option<&str>) -> String {
    let mut out = Lines::default();
    for (property, value) in [("BEGIN", "VCALENDAR"), ("VERSION", "2.0"), ("PRODID", "-//Tarn//Tarn//EN")] {
        out.raw(property, value);
    }
    out.raw("CALSCALE", "GREGORIAN");
    // RFC 7986, and what was there before it
    out.text("NAME", name);
    out.text("X-WR-CALNAME", name);
    out.raw("REFRESH-INTERVAL;VALUE=DURATION", "PT1H");
    out.raw("X-PUBLISHED-TTL", "PT1H");
    for event in events {
        add(&mut out, event, site);
    }
    out.raw("END", "VCALENDAR");
    out.0
}

fn add(out: &mut Lines, event: &Event, site: Option<&str>) {
    out.raw("BEGIN", "VEVENT");
    out.raw("UID", &event.id.to_string());
    // Without a METHOD the two are the same (RFC 5545, 3.8.7.2), and the calendar is the same until something moves.
    out.raw("DTSTAMP", &utc(event.changed_s));
    out.raw("LAST-MODIFIED", &utc(event.changed_s));
    out.raw("SEQUENCE", &event.version.min(i32::MAX as u32).to_string());
    match event.when {
        When::Moment(at) => {
            out.raw("DTSTART", &utc(at));
            out.raw("DTEND", &utc(at.saturating_add(DRAWN_MIN * 60)));
        }
        When::Days(first, after) => {
            out.raw("DTSTART;VALUE=DATE", &date(first));
            // the day after the last: DTEND is no part of the event
            out.raw("DTEND;VALUE=DATE", &date(after.max(first + TimeDelta::days(1))));
        }
    }
    out.text("SUMMARY", &event.title);
    if !event.text.is_empty() {
        out.text("DESCRIPTION", &event.text);
    }
    if let Some(place) = &event.place {
        out.text("LOCATION", place);
    }
    if let (Some(site), Some(href)) = (site, &event.href) {
        out.raw("URL", &format!("{site}{href}"));
    }
    // nobody is busy because of it
    out.raw("TRANSP", "TRANSPARENT");
    out.raw("CLASS", "PRIVATE");
    out.raw("END", "VEVENT");
}

fn utc(seconds: i64) -> String {
    DateTime::from_timestamp(seconds, 0).unwrap_or_default().format("%Y%m%dT%H%M%SZ").to_string()
}

fn date(day: NaiveDate) -> String {
    day.format("%Y%m%d").to_string()
}

#[derive(Default)]
struct Lines(String);

impl Lines {
    /// A value that is no text: it has nothing in it that must be escaped.
    fn raw(&mut self, property: &str, value: &str) {
        self.fold(&format!("{property}:{value}"));
    }

    /// A value of people's own words (RFC 5545, 3.3.11).
    fn text(&mut self, property: &str, value: &str) {
        let mut escaped = String::with_capacity(value.len());
        for c in value.chars() {
            match c {
                '\\' | ';' | ',' => escaped.extend(['\\', c]),
                '\n' => escaped.push_str("\\n"),
                c if c.is_control() => escaped.push(' '),
                c => escaped.push(c),
            }
        }
        self.fold(&format!("{property}:{escaped}"));
    }

    /// Folds between signs, never inside one; the space that begins a further line counts.
    fn fold(&mut self, line: &str) {
        let mut octets = 0;
        for c in line.chars() {
            if octets + c.len_utf8() > MOST_OCTETS {
                self.0.push_str("\r\n ");
                octets = 1;
            }
            self.0.push(c);
            octets += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn event(title: &str) -> Event {
        Event {
            id: Uuid::nil(),
            when: When::Moment(1_774_746_000),
            when_words: String::new(),
            at_s: 0,
            title: title.into(),
            text: String::new(),
            place: Some("Kjeller; “våt”".into()),
            href: Some("/units/x".into()),
            version: 7,
            changed_s: 1_774_000_000,
        }
    }

    fn unfolded(calendar: &str) -> String {
        calendar.replace("\r\n ", "")
    }

    #[test]
    fn every_length_of_line_is_folded_at_75_octets() {
        for sign in ["a", "å", "鱼", "🐟"] {
            for n in 0..240 {
                let title = sign.repeat(n);
                let calendar = calendar("Tarn", &[event(&title)], None);
                for line in calendar.strip_suffix("\r\n").expect("an end").split("\r\n") {
                    assert!(
                        line.len() <= 75 && !line.contains(['\r', '\n']),
                        "{} octets: {line}",
                        line.len()
                    );
                }
                assert!(unfolded(&calendar).contains(&format!("\r\nSUMMARY:{title}\r\n")), "{sign} {n}");
            }
        }
    }

    #[test]
    fn a_name_can_not_add_a_property() {
        let calendar =
            calendar("Tarn", &[event("Q1\r\nATTENDEE:mailto:x@y.example\r\n; a, b \\ c\u{7f}")], None);
        let whole = unfolded(&calendar);
        assert!(
            whole.contains("SUMMARY:Q1 \\nATTENDEE:mailto:x@y.example \\n\\; a\\, b \\\\ c \r\n"),
            "{whole}"
        );
        assert_eq!(whole.matches("\r\nATTENDEE").count(), 0);
        assert!(whole.contains("LOCATION:Kjeller\\; “våt”\r\n"), "{whole}");
    }

    #[test]
    fn days_end_before_their_end_and_moments_are_utc() {
        let moment = calendar("Tarn", &[event("Q1")], Some("https://tarn.example"));
        // the night in which Europe's clocks go forward: the instant has no hour of its own to lose
        assert!(moment.contains("DTSTART:20260329T010000Z\r\nDTEND:20260329T013000Z\r\n"), "{moment}");
        assert!(moment.contains("SEQUENCE:7\r\n") && moment.contains("URL:https://tarn.example/units/x\r\n"));
        let day = |d| NaiveDate::from_ymd_opt(2026, 12, d).expect("a day");
        let when = When::Days(day(30), NaiveDate::from_ymd_opt(2027, 1, 1).expect("a day"));
        let days = calendar("Tarn", &[Event { when, ..event("P") }], None);
        assert!(days.contains("DTSTART;VALUE=DATE:20261230\r\nDTEND;VALUE=DATE:20270101\r\n"), "{days}");
        let none = calendar("Tarn", &[Event { when: When::Days(day(30), day(30)), ..event("P") }], None);
        assert!(none.contains("DTEND;VALUE=DATE:20261231\r\n"), "{none}");
        assert!(!days.contains("URL"));
    }
}
