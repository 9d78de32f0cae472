//! When things happened: `At` (whole seconds, what the keeper says), `Clock` (hybrid logical clock, what
//! orders edits) and `Received` (what the server saw). Must not read any clock.
//!
//! Hybrid logical clocks: Kulkarni, Demirbas, Madappa, Avva & Leone 2014, "Logical Physical Clocks".

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Datelike, NaiveDate, Timelike};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A text that is not a time of the form asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a time is written {0}")]
pub struct NotATime(&'static str);

const AT_FORM: &str = "2026-03-01T09:30:00Z, in UTC and to the second";
const CLOCK_FORM: &str = "2026-03-01T09:30:00.123Z/0004";

/// When it happened, to the second, in UTC.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct At(i64);

/// A device's hybrid logical clock: milliseconds of wall time and a counter. Text order is clock order.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Clock {
    ms: i64,
    counter: u16,
}

/// When the server accepted an op: milliseconds since 1970 in UTC, rising from push to push in a stream.
#[derive(
    Debug, Default, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(transparent)]
pub struct Received(pub i64);

/// A span of whole days of 24 hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Days(pub u16);

/// Reads `n` digits at `from`.
fn digits(text: &[u8], from: usize, n: usize) -> Option<u32> {
    text.get(from..from + n)?
        .iter()
        .try_fold(0, |sum, b| b.is_ascii_digit().then(|| sum * 10 + u32::from(b - b'0')))
}

/// Seconds since 1970 of `YYYY-MM-DDTHH:MM:SS` at the start of `text`.
fn seconds(text: &[u8]) -> Option<i64> {
    let mark = |i: usize, c: u8| (text.get(i) == Some(&c)).then_some(());
    mark(4, b'-')?;
    mark(7, b'-')?;
    mark(10, b'T')?;
    mark(13, b':')?;
    mark(16, b':')?;
    let year = i32::try_from(digits(text, 0, 4)?).ok()?;
    let day = NaiveDate::from_ymd_opt(year, digits(text, 5, 2)?, digits(text, 8, 2)?)?;
    let time = day.and_hms_opt(digits(text, 11, 2)?, digits(text, 14, 2)?, digits(text, 17, 2)?)?;
    Some(time.and_utc().timestamp())
}

/// Writes `YYYY-MM-DDTHH:MM:SS`.
fn write_seconds(f: &mut fmt::Formatter<'_>, seconds: i64) -> fmt::Result {
    let t = DateTime::from_timestamp(seconds, 0).unwrap_or_default();
    let (year, month, day) = (t.year(), t.month(), t.day());
    write!(f, "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}", t.hour(), t.minute(), t.second())
}

impl At {
    /// The earliest that can be written down.
    pub const FIRST: Self = Self(-62_167_219_200);
    /// The latest that can be written down.
    pub const LAST: Self = Self(253_402_300_799);

    /// Of seconds since 1970; held within the years 0 to 9999, which the text form can write.
    pub fn from_seconds(seconds: i64) -> Self {
        Self(seconds.clamp(Self::FIRST.0, Self::LAST.0))
    }

    /// Seconds since 1970.
    pub fn seconds(self) -> i64 {
        self.0
    }

    /// Milliseconds since 1970.
    pub fn ms(self) -> i64 {
        self.0 * 1000
    }

    /// For a sentence where no zone is known: "Tue 24 Nov 2026, 00:54 UTC".
    pub fn plain(self) -> String {
        DateTime::from_timestamp(self.0, 0).unwrap_or_default().format("%a %-d %b %Y, %H:%M UTC").to_string()
    }

    /// So many days of 24 hours later.
    pub fn plus(self, days: Days) -> Self {
        Self::from_seconds(self.0 + i64::from(days.0) * 86_400)
    }

    /// So many times 24 hours earlier.
    #[must_use]
    pub fn minus(self, days: Days) -> Self {
        Self::from_seconds(self.0 - i64::from(days.0) * 86_400)
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_seconds(f, self.0)?;
        f.write_str("Z")
    }
}

impl FromStr for At {
    type Err = NotATime;
    fn from_str(text: &str) -> Result<Self, NotATime> {
        let bytes = text.as_bytes();
        let whole = bytes.len() == 20 && bytes[19] == b'Z';
        whole.then(|| seconds(bytes)).flatten().map(Self).ok_or(NotATime(AT_FORM))
    }
}

impl Clock {
    /// The clock before all others.
    pub const START: Self = Self { ms: 0, counter: 0 };

    /// A wall time without a count.
    pub fn at_ms(ms: i64) -> Self {
        Self { ms: ms.clamp(0, 253_402_300_799_999), counter: 0 }
    }

    /// The wall part, in milliseconds since 1970.
    pub fn ms(self) -> i64 {
        self.ms
    }

    /// The wall part cut to whole seconds: what `at` is when it was not typed.
    pub fn at(self) -> At {
        At::from_seconds(self.ms.div_euclid(1000))
    }

    /// The next clock: the wall if it is later, else one count up. A full counter carries 1 ms.
    pub fn tick(self, wall_ms: i64) -> Self {
        let wall = Self::at_ms(wall_ms);
        if wall.ms > self.ms { wall } else { self.next() }
    }

    /// The least clock greater than this one.
    pub fn next(self) -> Self {
        match self.counter.checked_add(1) {
            Some(counter) => Self { ms: self.ms, counter },
            None => Self { ms: self.ms + 1, counter: 0 },
        }
    }
}

impl fmt::Display for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_seconds(f, self.ms.div_euclid(1000))?;
        write!(f, ".{:03}Z/{:04x}", self.ms.rem_euclid(1000), self.counter)
    }
}

impl FromStr for Clock {
    type Err = NotATime;
    fn from_str(text: &str) -> Result<Self, NotATime> {
        let read = || {
            let bytes = text.as_bytes();
            let form = bytes.len() == 29 && bytes[19] == b'.' && bytes[23] == b'Z' && bytes[24] == b'/';
            let hex = bytes.get(25..29)?.iter().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
            if !form || !hex {
                return None;
            }
            let counter = u16::from_str_radix(text.get(25..29)?, 16).ok()?;
            Some(Self { ms: seconds(bytes)? * 1000 + i64::from(digits(bytes, 20, 3)?), counter })
        };
        read().filter(|clock| clock.ms >= 0).ok_or(NotATime(CLOCK_FORM))
    }
}

macro_rules! as_text {
    ($name:ident, $form:expr, $what:literal) => {
        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(self, f)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                struct Text;
                impl de::Visitor<'_> for Text {
                    type Value = $name;
                    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                        f.write_str($form)
                    }
                    fn visit_str<E: de::Error>(self, text: &str) -> Result<$name, E> {
                        text.parse().map_err(E::custom)
                    }
                }
                d.deserialize_str(Text)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "description": concat!($what, ", written ") .to_owned() + $form })
            }
        }
    };
}

as_text!(At, AT_FORM, "when it happened");
as_text!(Clock, CLOCK_FORM, "the writer's hybrid logical clock");

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_clock_reads_and_writes_its_one_form() {
        let clock: Clock = "2026-03-01T09:30:00.123Z/0004".parse().expect("a clock");
        assert_eq!(clock.to_string(), "2026-03-01T09:30:00.123Z/0004");
        assert_eq!(clock.at().to_string(), "2026-03-01T09:30:00Z");
        for wrong in
            ["2026-03-01T09:30:00.123Z/0g04", "2026-03-01T09:30:00.123Z/00A4", "2026-03-01T09:30:00Z", ""]
        {
            assert!(wrong.parse::<Clock>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn at_refuses_every_other_form() {
        for wrong in [
            "2026-03-01",
            "2026-03-01T09:30Z",
            "2026-03-01T09:30:00+00:00",
            "2026-02-30T09:30:00Z",
            "2026-03-01t09:30:00z",
        ] {
            assert!(wrong.parse::<At>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_day_in_a_sentence_comes_before_its_number() {
        let at: At = "2026-11-24T00:54:27Z".parse().expect("a time");
        assert_eq!(at.plain(), "Tue 24 Nov 2026, 00:54 UTC");
    }

    #[test]
    fn a_full_counter_carries_a_millisecond() {
        let full: Clock = "2026-03-01T09:30:00.999Z/ffff".parse().expect("a clock");
        assert_eq!(full.next().to_string(), "2026-03-01T09:30:01.000Z/0000");
    }

    proptest! {
        #[test]
        fn text_order_is_clock_order(a in 0i64..4_000_000_000_000, b in 0i64..4_000_000_000_000, m: u16, n: u16) {
            let (x, y) = (Clock { ms: a, counter: m }, Clock { ms: b, counter: n });
            prop_assert_eq!(x.cmp(&y), x.to_string().cmp(&y.to_string()));
            prop_assert_eq!(x.to_string().parse::<Clock>(), Ok(x));
        }

        #[test]
        fn a_tick_is_later_than_both(ms in 0i64..4_000_000_000_000, counter: u16, wall in 0i64..4_000_000_000_000) {
            let clock = Clock { ms, counter };
            let next = clock.tick(wall);
            prop_assert!(next > clock && next.ms() >= wall);
        }

        #[test]
        fn decoders_never_panic(text in "\\PC*") {
            let _ = (text.parse::<Clock>(), text.parse::<At>());
        }
    }
}
