//! What a probe says in an hour, thinned to least, mean and most: 3,600 readings become one value. Whole numbers only;
//! half a thousandth goes away from zero. Keeps nothing and asks no clock.

use crate::rooms::ops::HourlyReading;
use crate::rooms::words::Measure;

/// An hour, in milliseconds.
pub const HOUR_MS: i64 = 3_600_000;
/// The most readings of one measure in an hour that are counted: about four in a second.
pub const MOST_IN_AN_HOUR: i64 = 15_000;

/// The hour that an instant is in, in hours since 1970.
pub fn hour_of(at_ms: i64) -> i64 {
    at_ms.div_euclid(HOUR_MS)
}

/// The readings of one measure in one hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hour {
    /// How many.
    pub n: i64,
    /// Their sum, in thousandths.
    pub sum: i64,
    /// The least, in thousandths.
    pub least: i64,
    /// The most, in thousandths.
    pub most: i64,
}

impl Hour {
    /// The first reading of the hour.
    pub fn of(milli: i64) -> Self {
        Self { n: 1, sum: milli, least: milli, most: milli }
    }

    /// One more. None when the hour is full, or the number is none that a reading can be.
    #[must_use]
    pub fn and(self, milli: i64) -> Option<Self> {
        if self.n >= MOST_IN_AN_HOUR {
            return None;
        }
        Some(Self {
            n: self.n.checked_add(1)?,
            sum: self.sum.checked_add(milli)?,
            least: self.least.min(milli),
            most: self.most.max(milli),
        })
    }

    /// The mean, in thousandths.
    pub fn mean(self) -> i64 {
        let (n, half) = (i128::from(self.n.max(1)), i128::from(self.n.max(1)) / 2);
        let sum = i128::from(self.sum);
        let away = if sum < 0 { sum - half } else { sum + half };
        i64::try_from(away / n).unwrap_or(self.most)
    }

    /// As it is recorded.
    pub fn reading(self, what: Measure) -> HourlyReading {
        HourlyReading {
            what,
            n: u32::try_from(self.n).unwrap_or(u32::MAX),
            least: self.least,
            mean: self.mean(),
            most: self.most,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn thinned(readings: &[i64]) -> Hour {
        let (first, others) = readings.split_first().expect("one at least");
        others.iter().fold(Hour::of(*first), |hour, milli| hour.and(*milli).expect("it fits"))
    }

    #[test]
    fn an_hour_at_a_heater_that_clings() {
        let hour = thinned(&[24_900, 25_000, 25_200, 26_100, 25_400]);
        let told = hour.reading(Measure::Temperature);
        assert_eq!((told.n, told.least, told.mean, told.most), (5, 24_900, 25_320, 26_100));
    }

    #[test]
    fn half_a_thousandth_goes_away_from_zero() {
        assert_eq!(thinned(&[7_000, 7_001]).mean(), 7_001);
        assert_eq!(thinned(&[-1, -2]).mean(), -2);
        assert_eq!(thinned(&[1, 1, 2]).mean(), 1);
        assert_eq!((hour_of(-1), hour_of(0), hour_of(HOUR_MS)), (-1, 0, 1));
    }

    #[test]
    fn a_full_hour_takes_no_more() {
        let full = Hour { n: MOST_IN_AN_HOUR, ..Hour::of(1) };
        assert_eq!(full.and(1), None);
        assert_eq!(Hour { sum: i64::MAX, ..Hour::of(1) }.and(1), None);
    }

    proptest! {
        /// Against the slow and obvious way: all readings kept, sorted, added up as fractions of whole numbers.
        #[test]
        fn one_by_one_is_all_at_once(readings in prop::collection::vec(-5_000_i64..5_000_000_000, 1..400)) {
            let hour = thinned(&readings);
            let mut sorted = readings.clone();
            sorted.sort_unstable();
            let n = i128::try_from(readings.len()).expect("few");
            let sum: i128 = readings.iter().map(|milli| i128::from(*milli)).sum();
            // twice the distance from the mean is at most one n
            prop_assert!((2 * (i128::from(hour.mean()) * n - sum)).abs() <= n);
            prop_assert_eq!((hour.least, hour.most), (sorted[0], sorted[sorted.len() - 1]));
            prop_assert!(hour.least <= hour.mean() && hour.mean() <= hour.most);
        }

        /// In whatever order they come.
        #[test]
        fn the_order_does_not_matter(mut readings in prop::collection::vec(0_i64..30_000, 1..50)) {
            let hour = thinned(&readings);
            readings.reverse();
            prop_assert_eq!(thinned(&readings), hour);
        }
    }
}
