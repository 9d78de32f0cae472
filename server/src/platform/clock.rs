//! The only place where the ambient clock and ambient randomness are asked.
//!
//! Everything else gets time and ids as arguments, so that tests and the demo can shift or fix them. No rules
//! stand here.

use std::time::{SystemTime, UNIX_EPOCH};

use rand::TryRngCore;
use uuid::{NoContext, Timestamp, Uuid};

/// The wall clock, shifted by `--clock-offset`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Clock {
    offset_ms: i64,
}

impl Clock {
    /// A clock that reads this much later (or earlier) than the wall.
    pub fn shifted(offset_ms: i64) -> Self {
        Self { offset_ms }
    }

    /// Milliseconds since 1970, UTC.
    #[allow(clippy::disallowed_methods, reason = "this is the one place that may ask")]
    pub fn now_ms(&self) -> i64 {
        let wall = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        i64::try_from(wall.as_millis()).unwrap_or(i64::MAX).saturating_add(self.offset_ms)
    }

    /// The day, by UTC.
    pub fn today(&self) -> chrono::NaiveDate {
        chrono::DateTime::from_timestamp_millis(self.now_ms()).unwrap_or_default().date_naive()
    }

    /// How far it is shifted, in words; none when it isn't.
    pub fn shift(&self) -> Option<String> {
        (self.offset_ms != 0).then(|| shift_in_words(self.offset_ms))
    }
}

fn shift_in_words(offset_ms: i64) -> String {
    let sign = if offset_ms < 0 { "−" } else { "+" };
    let mut rest = offset_ms.unsigned_abs() / 1000;
    let mut parts = Vec::new();
    for (unit, seconds) in [("d", 86_400), ("h", 3_600), ("min", 60), ("s", 1)] {
        if rest / seconds > 0 {
            parts.push(format!("{}\u{a0}{unit}", rest / seconds));
            rest %= seconds;
        }
    }
    if parts.is_empty() {
        return format!("{sign}{}\u{a0}ms", offset_ms.unsigned_abs());
    }
    format!("{sign}{}", parts.join(" "))
}

/// Reads `30d`, `-36h`, `1d12h`, `90s`, `250ms` as milliseconds.
pub fn parse_shift(text: &str) -> Result<i64, String> {
    let wrong = || format!("“{text}” is not a length of time; write it like 30d, -36h or 1d12h");
    let (sign, mut rest) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    if rest.is_empty() {
        return Err(wrong());
    }
    let mut total: i64 = 0;
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !c.is_ascii_digit()).ok_or_else(wrong)?;
        let (number, tail) = rest.split_at(digits);
        let units = tail.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(tail.len());
        let (unit, tail) = tail.split_at(units);
        let unit_ms: i64 = match unit {
            "ms" => 1,
            "s" => 1000,
            "m" | "min" => 60_000,
            "h" => 3_600_000,
            "d" => 86_400_000,
            _ => return Err(wrong()),
        };
        let number: i64 = number.parse().map_err(|_| wrong())?;
        total = number.checked_mul(unit_ms).and_then(|ms| total.checked_add(ms)).ok_or_else(wrong)?;
        rest = tail;
    }
    Ok(sign * total)
}

/// Ids and secrets from the system's randomness.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ids;

impl Ids {
    /// A UUIDv7 of this moment: ids made later sort later.
    pub fn new_id(&self, now_ms: i64) -> Uuid {
        let ms = u64::try_from(now_ms).unwrap_or_default();
        let nanos = u32::try_from(ms % 1000 * 1_000_000).unwrap_or_default();
        Uuid::new_v7(Timestamp::from_unix(NoContext, ms / 1000, nanos))
    }

    /// A random id that tells nothing, as for epochs.
    pub fn random_id(&self) -> Uuid {
        uuid::Builder::from_random_bytes(self.bytes()).into_uuid()
    }

    /// Secret bytes.
    pub fn bytes<const N: usize>(&self) -> [u8; N] {
        let mut bytes = [0; N];
        rand::rngs::OsRng.try_fill_bytes(&mut bytes).expect("the system gives random bytes");
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shifts_are_read_and_said() {
        assert_eq!(parse_shift("30d"), Ok(30 * 86_400_000));
        assert_eq!(parse_shift("-1d12h"), Ok(-36 * 3_600_000));
        assert_eq!(parse_shift("+250ms"), Ok(250));
        for wrong in ["", "-", "d", "3", "3x", "1d 2h", "99999999999999999d"] {
            assert!(parse_shift(wrong).is_err(), "{wrong}");
        }
        assert_eq!(Clock::shifted(36 * 3_600_000).shift().as_deref(), Some("+1\u{a0}d 12\u{a0}h"));
        assert_eq!(Clock::default().shift(), None);
    }

    #[test]
    fn ids_sort_by_the_time_they_are_given() {
        let (early, late) = (Ids.new_id(1_000), Ids.new_id(2_000));
        assert!(early < late);
        assert_eq!(early.get_version_num(), 7);
    }
}
