//! The numbers of a picture of one measure over time: points, joins, gaps, scale. Draws nothing, judges nothing.

use crate::rooms::words::Measure;
use crate::streams::At;

/// Readings further apart than so many days have nothing known between them.
pub const GAP_DAYS: i64 = 7;
const DAY: i64 = 86_400;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Point {
    /// When.
    pub at: At,
    /// In thousandths of the unit it is kept in.
    pub milli: i64,
}

/// A scale that all readings are on: whole steps, never from zero for its own sake.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scale {
    /// The lowest line, in thousandths.
    pub low: i64,
    /// The highest.
    pub high: i64,
    /// From line to line.
    pub step: i64,
}

impl Scale {
    /// The lines, from low to high.
    pub fn lines(&self) -> Vec<i64> {
        let many = (self.high - self.low) / self.step;
        (0..=many).map(|n| self.low + n * self.step).collect()
    }
}

/// One measure of one water over time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trend {
    /// In order of time.
    pub points: Vec<Point>,
    /// Between a point and the next: how many whole days, where that is too long to know anything between them.
    pub gaps: Vec<Option<i64>>,
    /// The scale.
    pub scale: Scale,
}

impl Trend {
    /// Of these readings, in any order; none if there are none.
    pub fn of(what: Measure, readings: impl IntoIterator<Item = Point>) -> Option<Self> {
        let mut points: Vec<Point> = readings.into_iter().collect();
        points.sort_unstable();
        points.dedup();
        let low = points.iter().map(|p| p.milli).min()?;
        let high = points.iter().map(|p| p.milli).max()?;
        let gap = |pair: &[Point]| {
            let seconds = pair[1].at.seconds() - pair[0].at.seconds();
            (seconds > GAP_DAYS * DAY).then_some(seconds / DAY)
        };
        let gaps = points.windows(2).map(gap).collect();
        Some(Self { gaps, scale: scale(what, low, high), points })
    }

    /// The newest.
    pub fn last(&self) -> Point {
        self.points[self.points.len() - 1]
    }

    /// The oldest.
    pub fn first(&self) -> Point {
        self.points[0]
    }

    /// The lowest and the highest value.
    pub fn extremes(&self) -> (i64, i64) {
        let values = || self.points.iter().map(|p| p.milli);
        (values().min().unwrap_or_default(), values().max().unwrap_or_default())
    }
}

/// The finest step between two lines, in thousandths: what a kit or meter tells apart, so that noise is no mountain.
fn finest(what: Measure) -> i64 {
    match what {
        Measure::Temperature | Measure::Gh | Measure::Kh => 1000,
        Measure::Ph => 500,
        Measure::Ammonia | Measure::Nitrite => 100,
        Measure::Nitrate => 5000,
        Measure::Conductivity => 50_000,
        Measure::Salinity => 1000,
    }
}

/// At most four steps, at least two, of 1, 2 or 5 times a power of ten.
fn scale(what: Measure, lowest: i64, highest: i64) -> Scale {
    let mut step = finest(what);
    loop {
        let (low, mut high) = (lowest.div_euclid(step) * step, -((-highest).div_euclid(step)) * step);
        // a value on the lowest or highest line alone leaves room above it
        while (high - low) / step < 2 {
            high += step;
        }
        if (high - low) / step <= 4 {
            return Scale { low, high, step };
        }
        step = coarser(step);
    }
}

/// 1, 2, 5, 10, 20, …
fn coarser(step: i64) -> i64 {
    let mut power = 1;
    while step / power >= 10 {
        power *= 10;
    }
    match step / power {
        1 => 2 * power,
        2..=4 => 5 * power,
        _ => 10 * power,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn point(day: i64, milli: i64) -> Point {
        Point { at: At::from_seconds(1_780_000_000 + day * DAY), milli }
    }

    #[test]
    fn a_gap_is_more_than_seven_days() {
        let trend =
            Trend::of(Measure::Ph, [point(18, 7_300), point(0, 7_600), point(7, 7_400)]).expect("three");
        assert_eq!(trend.gaps, [None, Some(11)]);
        assert_eq!((trend.first(), trend.last()), (point(0, 7_600), point(18, 7_300)));
        assert_eq!(trend.extremes(), (7_300, 7_600));
        let mut late = point(7, 7_500);
        late.at = At::from_seconds(late.at.seconds() + 1);
        assert_eq!(Trend::of(Measure::Ph, [point(0, 7_600), late]).expect("two").gaps, [Some(7)]);
    }

    #[test]
    fn scales_are_round_and_not_from_zero() {
        let lines = |what, values: &[i64]| {
            let points = values.iter().zip(0..).map(|(milli, day)| point(day, *milli));
            Trend::of(what, points).expect("some").scale.lines()
        };
        assert_eq!(lines(Measure::Ph, &[7_600, 6_600]), [6_500, 7_000, 7_500, 8_000]);
        assert_eq!(lines(Measure::Ph, &[7_000]), [7_000, 7_500, 8_000]);
        assert_eq!(lines(Measure::Temperature, &[24_600, 25_100]), [24_000, 25_000, 26_000]);
        assert_eq!(lines(Measure::Nitrate, &[0, 40_000]), [0, 10_000, 20_000, 30_000, 40_000]);
        assert_eq!(lines(Measure::Ammonia, &[0]), [0, 100, 200]);
        assert_eq!(lines(Measure::Temperature, &[-1_200, 3_000]), [-2_000, 0, 2_000, 4_000]);
        assert!(Trend::of(Measure::Kh, []).is_none());
    }

    proptest! {
        #[test]
        fn every_reading_is_on_the_scale(values in prop::collection::vec(-5_000_i64..=4_294_967_295, 1..20), which in 0usize..9) {
            let points = values.iter().zip(0..).map(|(milli, day)| point(day, *milli));
            let trend = Trend::of(Measure::ALL[which], points).expect("some");
            let lines = trend.scale.lines();
            prop_assert!((3..=5).contains(&lines.len()), "{lines:?}");
            prop_assert!(values.iter().all(|v| (lines[0]..=lines[lines.len() - 1]).contains(v)));
        }
    }
}
