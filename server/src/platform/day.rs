//! Days and times as people read them, on the wall of one room: the day before its number, 24 hours, no seconds.
//! Asks no clock: the moment of the page is handed in.

use chrono::{DateTime, Datelike, LocalResult, NaiveDateTime, TimeZone, Timelike, Utc, Weekday};
use chrono_tz::Tz;

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"];
/// How a browser writes a date and time, and the same with seconds.
const TYPED: [&str; 2] = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"];
/// More days than a calendar in a picture ever has.
const MOST_MIDNIGHTS: usize = 4_000;
/// A day of 24 hours, in seconds.
pub const DAY: i64 = 86_400;

/// A room's zone, and the moment at which its page is made.
#[derive(Clone, Copy, Debug)]
pub struct Wall {
    zone: Tz,
    /// Whether the zone's name is known here; if not, times are UTC and say so.
    known: bool,
    now_s: i64,
}

impl Wall {
    /// In a zone of the IANA data base, at a time.
    pub fn new(zone: &str, now_ms: i64) -> Self {
        let read = zone.parse::<Tz>();
        Self { zone: read.unwrap_or(Tz::UTC), known: read.is_ok(), now_s: now_ms.div_euclid(1000) }
    }

    /// The moment of the page, in seconds.
    pub fn now_s(&self) -> i64 {
        self.now_s
    }

    fn at(&self, seconds: i64) -> DateTime<Tz> {
        let utc: DateTime<Utc> = DateTime::from_timestamp(seconds, 0).unwrap_or_default();
        utc.with_timezone(&self.zone)
    }

    /// "Thursday 7 May".
    pub fn today(&self) -> String {
        let now = self.at(self.now_s);
        let day = match now.weekday() {
            Weekday::Mon => "Monday",
            Weekday::Tue => "Tuesday",
            Weekday::Wed => "Wednesday",
            Weekday::Thu => "Thursday",
            Weekday::Fri => "Friday",
            Weekday::Sat => "Saturday",
            Weekday::Sun => "Sunday",
        };
        format!("{day} {} {}", now.day(), month(&now))
    }

    /// "Mon 25 May"; with the year where it is another one.
    pub fn day(&self, seconds: i64) -> String {
        let at = self.at(seconds);
        let year =
            if at.year() == self.at(self.now_s).year() { String::new() } else { format!(" {}", at.year()) };
        format!("{} {} {}{year}", at.weekday(), at.day(), month(&at))
    }

    /// "7 May 2026", for words that stand.
    pub fn date(&self, seconds: i64) -> String {
        let at = self.at(seconds);
        format!("{} {} {}", at.day(), month(&at), at.year())
    }

    /// "18:40".
    pub fn time(&self, seconds: i64) -> String {
        let at = self.at(seconds);
        format!("{:02}:{:02}{}", at.hour(), at.minute(), if self.known { "" } else { " UTC" })
    }

    /// "Mon 25 May, 18:40".
    pub fn moment(&self, seconds: i64) -> String {
        format!("{}, {}", self.day(seconds), self.time(seconds))
    }

    /// "today", "yesterday", "Mon 25 May".
    pub fn lately(&self, seconds: i64) -> String {
        match self.days_since(seconds) {
            0 => "today".into(),
            1 => "yesterday".into(),
            _ => self.day(seconds),
        }
    }

    /// "18:40" of today, else "Mon 25 May, 18:40".
    pub fn brief(&self, seconds: i64) -> String {
        if self.days_since(seconds) == 0 { self.time(seconds) } else { self.moment(seconds) }
    }

    /// The next time at which this clock shows the full hour. An hour that is left out comes as the one after it.
    pub fn next(&self, hour: u32) -> i64 {
        let today = self.at(self.now_s).date_naive();
        let on = |day: chrono::NaiveDate| self.read(&format!("{day}T{hour:02}:00"));
        let days = today.iter_days().take(3);
        days.filter_map(on).find(|at| *at > self.now_s).unwrap_or(self.now_s + DAY)
    }

    /// The day of the calendar.
    pub fn calendar_day(&self, seconds: i64) -> chrono::NaiveDate {
        self.at(seconds).date_naive()
    }

    /// How many midnights lie between then and now; negative for what is to come.
    pub fn days_since(&self, seconds: i64) -> i64 {
        let days = |s| i64::from(self.at(s).num_days_from_ce());
        days(self.now_s) - days(seconds)
    }

    /// The midnights from one instant to another, with the day's name ("6 Apr") where it is a Monday.
    pub fn midnights(&self, from: i64, until: i64) -> Vec<(i64, Option<String>)> {
        let mut all = Vec::new();
        for day in self.at(from).date_naive().iter_days().take(MOST_MIDNIGHTS) {
            let Some(naive) = day.and_hms_opt(0, 0, 0) else { break };
            let at = match self.zone.from_local_datetime(&naive) {
                LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => at.timestamp(),
                // where the clocks go forward at midnight the day begins an hour later
                LocalResult::None => naive.and_utc().timestamp(),
            };
            if at > until {
                break;
            }
            if at >= from {
                let name = format!("{} {}", day.day(), month(&day));
                all.push((at, (day.weekday() == Weekday::Mon).then_some(name)));
            }
        }
        all
    }

    /// Reads what a browser's field for date and time sends, as the room's clock shows it. Of an hour that comes
    /// twice the first is meant, of one that is left out the one after it.
    pub fn read(&self, typed: &str) -> Option<i64> {
        let naive = TYPED.iter().find_map(|form| NaiveDateTime::parse_from_str(typed.trim(), form).ok())?;
        match self.zone.from_local_datetime(&naive) {
            LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => Some(at.timestamp()),
            LocalResult::None => {
                let later = naive.checked_add_signed(chrono::TimeDelta::hours(1))?;
                self.zone.from_local_datetime(&later).earliest().map(|at| at.timestamp())
            }
        }
    }
}

fn month(at: &impl Datelike) -> &'static str {
    MONTHS.get(at.month0() as usize).copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Thu 7 May 2026, 10:00 UTC.
    const NOON: i64 = 1_778_148_000;

    #[test]
    fn a_room_reads_its_own_clock() {
        let oslo = Wall::new("Europe/Oslo", NOON * 1000);
        assert_eq!(oslo.today(), "Thursday 7 May");
        assert_eq!(oslo.moment(NOON), "Thu 7 May, 12:00");
        assert_eq!(oslo.brief(NOON - DAY), "Wed 6 May, 12:00");
        assert_eq!(oslo.brief(NOON), "12:00");
        assert_eq!((oslo.lately(NOON), oslo.lately(NOON - DAY)), ("today".into(), "yesterday".into()));
        assert_eq!(oslo.day(NOON - 365 * DAY), "Wed 7 May 2025");
        assert_eq!(oslo.date(NOON), "7 May 2026");
        // 23:30 UTC is the next day there.
        assert_eq!(oslo.days_since(NOON - 10 * 3600 - 1800), 0);
    }

    #[test]
    fn the_morning_is_the_rooms_in_winter_and_summer() {
        let at = |text: &str| DateTime::parse_from_rfc3339(text).expect("a time").timestamp();
        for (zone, now, morning) in [
            // Europe's clocks go forward on 29 March 2026 and back on 25 October 2026.
            ("Europe/Oslo", "2026-03-28T06:00:00Z", "2026-03-29T05:00:00Z"),
            ("Europe/Oslo", "2026-03-28T05:59:00Z", "2026-03-28T06:00:00Z"),
            ("Europe/Lisbon", "2026-03-28T12:00:00Z", "2026-03-29T06:00:00Z"),
            ("Europe/Helsinki", "2026-10-24T12:00:00Z", "2026-10-25T05:00:00Z"),
            ("Europe/Oslo", "2026-10-25T00:30:00Z", "2026-10-25T06:00:00Z"),
            ("Nowhere/Here", "2026-10-25T07:00:00Z", "2026-10-26T07:00:00Z"),
        ] {
            assert_eq!(Wall::new(zone, at(now) * 1000).next(7), at(morning), "{zone} after {now}");
        }
        // 2 o'clock is left out there that night
        let night = Wall::new("Europe/Oslo", at("2026-03-28T23:30:00Z") * 1000);
        assert_eq!(night.next(2), at("2026-03-29T01:00:00Z"));
        assert_eq!(night.calendar_day(at("2026-03-28T23:30:00Z")).to_string(), "2026-03-29");
    }

    #[test]
    fn an_unknown_zone_is_said() {
        assert_eq!(Wall::new("Nowhere/Here", NOON * 1000).time(NOON), "10:00 UTC");
    }

    #[test]
    fn a_calendar_has_every_day_once() {
        let oslo = Wall::new("Europe/Oslo", NOON * 1000);
        // Clocks go forward on Sunday 29 March 2026.
        let from = oslo.read("2026-03-27T12:00").unwrap_or_default();
        let days = oslo.midnights(from, from + 4 * DAY);
        let steps: Vec<i64> = days.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
        assert_eq!(steps, [DAY, DAY - 3600, DAY]);
        let names: Vec<&str> = days.iter().filter_map(|(_, name)| name.as_deref()).collect();
        assert_eq!(names, ["30 Mar"]);
    }

    #[test]
    fn what_is_typed_is_meant_by_the_rooms_clock() {
        let oslo = Wall::new("Europe/Oslo", NOON * 1000);
        assert_eq!(oslo.read("2026-05-07T12:00"), Some(NOON));
        // Left out on 29 March 2026; comes twice on 25 October 2026.
        assert_eq!(oslo.read("2026-03-29T02:30"), oslo.read("2026-03-29T03:30"));
        assert_eq!(oslo.read("2026-10-25T02:30").map(|s| s % DAY), Some(1800));
        assert_eq!((oslo.read(""), oslo.read("2026-02-30T10:00")), (None, None));
    }
}
