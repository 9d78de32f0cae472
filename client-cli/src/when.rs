//! Times and lengths of time as people type and read them, in the room's zone. Pure: now is an argument.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Days, FixedOffset, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone};
use chrono_tz::Tz;
use tarn_domain::streams::At;

/// A time zone: one with a name, or a fixed offset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// As `Europe/Berlin`.
    Named(Tz),
    /// As `+02:00`.
    Fixed(FixedOffset),
}

impl Zone {
    /// Universal time.
    pub const UTC: Self = Self::Named(Tz::UTC);

    fn at(self, local: NaiveDateTime) -> Result<At, String> {
        let seconds = match self {
            Self::Named(zone) => first(zone.from_local_datetime(&local)).map(|t| t.timestamp()),
            Self::Fixed(zone) => first(zone.from_local_datetime(&local)).map(|t| t.timestamp()),
        };
        seconds.map(At::from_seconds).ok_or_else(|| {
            format!("there was no {} here: the clocks were put forward", local.format("%Y-%m-%d %H:%M"))
        })
    }

    fn local(self, at: At) -> NaiveDateTime {
        let utc = DateTime::from_timestamp(at.seconds(), 0).unwrap_or_default();
        match self {
            Self::Named(zone) => utc.with_timezone(&zone).naive_local(),
            Self::Fixed(zone) => utc.with_timezone(&zone).naive_local(),
        }
    }

    /// "1 Mar 2026 09:30", as on the wall of the room.
    pub fn show(self, at: At) -> String {
        self.local(at).format("%-d %b %Y %H:%M").to_string()
    }

    /// "1 Mar 2026".
    pub fn show_day(self, at: At) -> String {
        self.local(at).format("%-d %b %Y").to_string()
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Named(zone) => f.write_str(zone.name()),
            Self::Fixed(zone) => zone.fmt(f),
        }
    }
}

/// Of two readings of an hour that came twice, the first.
fn first<T: TimeZone>(found: LocalResult<DateTime<T>>) -> Option<DateTime<T>> {
    found.earliest()
}

impl FromStr for Zone {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if let Ok(zone) = text.parse::<Tz>() {
            return Ok(Self::Named(zone));
        }
        let offset = text.parse::<FixedOffset>().map(Self::Fixed);
        offset.map_err(|_| format!("{text:?} is no time zone; write one like Europe/Berlin, UTC or +02:00"))
    }
}

/// Reads a time as typed: `2026-03-01T09:30`, `2026-03-01`, `09:30`, `yesterday`, `yesterday 18:00`, `today 7:15`,
/// `2 days ago`, `90m ago`, or with its own offset (`2026-03-01T09:30:00Z`). A day without a time is its noon, or now
/// if that has not come yet.
///
/// # Errors
/// What is wrong with it; also a time later than now.
pub fn at(text: &str, now: At, zone: Zone) -> Result<At, String> {
    let read = read(text.trim(), now, zone)?;
    if read > now {
        return Err(format!("{} is later than now ({})", zone.show(read), zone.show(now)));
    }
    Ok(read)
}

/// The same for a time that may be to come.
///
/// # Errors
/// What is wrong with it.
pub fn any_time(text: &str, now: At, zone: Zone) -> Result<At, String> {
    read(text.trim(), now, zone)
}

fn read(text: &str, now: At, zone: Zone) -> Result<At, String> {
    let wrong = || {
        format!(
            "{text:?} is no time; write 2026-03-01T09:30, 2026-03-01, 09:30, \"yesterday 18:00\" or \"2 days ago\""
        )
    };
    if let Ok(exact) = DateTime::parse_from_rfc3339(text) {
        return Ok(At::from_seconds(exact.timestamp()));
    }
    let lower = text.to_lowercase();
    if lower == "now" {
        return Ok(now);
    }
    if let Some(span) = lower.strip_suffix("ago") {
        let ms = span_ms(&span.replace(' ', "")).map_err(|_| wrong())?;
        return Ok(At::from_seconds(now.seconds() - ms.abs() / 1000));
    }
    let today = zone.local(now).date();
    let (day, time) = match lower.split_once(['t', ' ']) {
        Some((day, time)) if day.starts_with(|c: char| c.is_ascii_digit()) => (day, Some(time)),
        _ => match lower.split_once(' ') {
            Some((day, time)) => (day, Some(time)),
            None if lower.contains(':') => ("today", Some(lower.as_str())),
            None => (lower.as_str(), None),
        },
    };
    let date = match day {
        "today" => today,
        "yesterday" => today.checked_sub_days(Days::new(1)).ok_or_else(wrong)?,
        day => NaiveDate::parse_from_str(day, "%Y-%m-%d").map_err(|_| wrong())?,
    };
    match time {
        Some(time) => {
            let read = |form| NaiveTime::parse_from_str(time.trim(), form);
            let time = read("%H:%M").or_else(|_| read("%H:%M:%S")).map_err(|_| wrong())?;
            zone.at(date.and_time(time))
        }
        None => {
            let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
            let noon = zone.at(date.and_time(noon))?;
            Ok(if date == today { noon.min(now) } else { noon })
        }
    }
}

/// A length of time in milliseconds: `10m`, `-36h`, `+21d`, `1d12h`.
///
/// # Errors
/// What it should look like.
pub fn span_ms(text: &str) -> Result<i64, String> {
    let wrong = || format!("{text:?} is no length of time; write it like 21d, -36h, +10m or 1d12h");
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let mut rest = rest;
    let mut total: i64 = 0;
    if rest.is_empty() {
        return Err(wrong());
    }
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !c.is_ascii_digit()).ok_or_else(wrong)?;
        let (number, tail) = rest.split_at(digits);
        let letters = tail.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(tail.len());
        let (unit, tail) = tail.split_at(letters);
        let each: i64 = match unit {
            "ms" => 1,
            "s" => 1000,
            "m" | "min" | "minutes" => 60_000,
            "h" | "hour" | "hours" => 3_600_000,
            "d" | "day" | "days" => 86_400_000,
            "w" | "week" | "weeks" => 7 * 86_400_000,
            _ => return Err(wrong()),
        };
        let number: i64 = number.parse().map_err(|_| wrong())?;
        total = number.checked_mul(each).and_then(|ms| total.checked_add(ms)).ok_or_else(wrong)?;
        rest = tail;
    }
    Ok(sign * total)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_at(text: &str) -> Result<String, String> {
        let now = "2026-03-02T11:00:00Z".parse().expect("a time");
        let zone = "Europe/Berlin".parse().expect("a zone");
        at(text, now, zone).map(|at| at.to_string())
    }

    #[test]
    fn times_are_read_on_the_room_s_wall() {
        for (typed, meant) in [
            ("2026-03-01T09:30", "2026-03-01T08:30:00Z"),
            ("2026-03-01 09:30:15", "2026-03-01T08:30:15Z"),
            ("2026-03-01T09:30:00Z", "2026-03-01T09:30:00Z"),
            ("2026-03-01T09:30:00+05:00", "2026-03-01T04:30:00Z"),
            ("2026-03-01", "2026-03-01T11:00:00Z"),
            ("today", "2026-03-02T11:00:00Z"),
            ("yesterday", "2026-03-01T11:00:00Z"),
            ("yesterday 18:00", "2026-03-01T17:00:00Z"),
            ("Today 7:15", "2026-03-02T06:15:00Z"),
            ("09:30", "2026-03-02T08:30:00Z"),
            ("2 days ago", "2026-02-28T11:00:00Z"),
            ("90m ago", "2026-03-02T09:30:00Z"),
        ] {
            assert_eq!(read_at(typed).as_deref(), Ok(meant), "{typed}");
        }
    }

    #[test]
    fn later_than_now_and_nonsense_are_refused() {
        assert!(read_at("13:00").is_err_and(|why| why.contains("later than now")));
        for wrong in
            ["", "soon", "2026-02-30", "25:00", "2026-03-01T", "ago", "x days ago", "2026-13-01 09:00"]
        {
            assert!(read_at(wrong).is_err(), "{wrong}");
        }
        // 2026-03-29 02:30 did not exist in Berlin
        let (now, zone) =
            ("2026-04-01T00:00:00Z".parse().expect("a time"), "Europe/Berlin".parse().expect("a zone"));
        assert!(at("2026-03-29 02:30", now, zone).is_err_and(|why| why.contains("put forward")));
    }

    #[test]
    fn lengths_of_time() {
        assert_eq!(span_ms("+10m"), Ok(600_000));
        assert_eq!(span_ms("-36h"), Ok(-36 * 3_600_000));
        assert_eq!(span_ms("1d12h"), Ok(36 * 3_600_000));
        for wrong in ["", "-", "d", "3", "3x", "1d 2h", "99999999999999999d"] {
            assert!(span_ms(wrong).is_err(), "{wrong}");
        }
    }
}
