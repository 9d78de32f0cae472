//! Readings of one water put beside each other: the newest of each measure, and what total ammonia means with the pH
//! and temperature that were read near it. Reckons nothing from readings that are far apart.

use serde_json::{Value as Json, json};

use super::ammonia::{NotReckoned, SOURCE, Sample, Unionised, unionised};
use crate::rooms::words::Measure;
use crate::streams::At;

/// A pH or temperature further than this from the ammonia says nothing of it: a day, in seconds.
const NEAR: i64 = 86_400;

/// One value as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Value {
    /// When.
    pub at: At,
    /// What.
    pub what: Measure,
    /// In thousandths of the unit it is kept in.
    pub milli: i64,
}

impl Value {
    /// In the unit it is kept in; to be shown or reckoned with, never to be stored.
    pub fn whole(&self) -> f64 {
        super::whole(self.milli)
    }
}

/// The newest of a measure.
pub fn newest(values: &[Value], what: Measure) -> Option<&Value> {
    values.iter().filter(|value| value.what == what).max_by_key(|value| value.at)
}

/// The one of a measure that was read nearest to a moment; of two as near, the earlier.
pub fn nearest(values: &[Value], what: Measure, at: At) -> Option<&Value> {
    let away = |value: &Value| (value.at.seconds() - at.seconds()).abs();
    values.iter().filter(|value| value.what == what).min_by_key(|value| (away(value), value.at))
}

/// The same, if it was read within a day of that moment.
pub fn near(values: &[Value], what: Measure, at: At) -> Option<&Value> {
    nearest(values, what, at).filter(|value| (value.at.seconds() - at.seconds()).abs() <= NEAR)
}

/// What a reading of total ammonia means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meaning {
    /// The reading.
    pub total: Value,
    /// The pH that it was reckoned with.
    pub ph: Option<Value>,
    /// The temperature.
    pub temperature: Option<Value>,
    /// The un-ionised part, or why there is none.
    pub unionised: Result<Unionised, NotReckoned>,
}

impl Meaning {
    /// Whether all was read at one moment.
    pub fn is_of_one_moment(&self) -> bool {
        [self.ph, self.temperature].into_iter().flatten().all(|value| value.at == self.total.at)
    }

    /// For programs.
    pub fn json(&self) -> Json {
        let used = |value: Option<Value>| value.map(|v| json!({ "at": v.at, "milli": v.milli }));
        let mut told = json!({
            "at": self.total.at, "total_milli": self.total.milli, "ph": used(self.ph),
            "temperature": used(self.temperature), "source": SOURCE,
        });
        match &self.unionised {
            Ok(found) => {
                told["unionised_mg_l_nh3"] = json!(found.mg_l);
                told["fraction"] = json!(found.fraction);
                told["may_harm"] = json!(found.may_harm());
            }
            Err(why) => told["not_reckoned"] = json!(why.to_string()),
        }
        told
    }
}

/// What a reading of total ammonia means among the readings of its water. Salt is taken as read nearest, whenever.
pub fn of_ammonia(total: Value, values: &[Value]) -> Meaning {
    let near = |what| near(values, what, total.at).copied();
    let salt = |what| nearest(values, what, total.at).map(|value| value.milli);
    let (ph, temperature) = (near(Measure::Ph), near(Measure::Temperature));
    let sample = Sample {
        total: total.milli,
        temperature: temperature.map(|value| value.milli),
        ph: ph.map(|value| value.milli),
        salinity: salt(Measure::Salinity),
        conductivity: salt(Measure::Conductivity),
    };
    Meaning { total, ph, temperature, unionised: unionised(&sample) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3600;

    fn value(hours: i64, what: Measure, milli: i64) -> Value {
        Value { at: At::from_seconds(1_780_000_000 + hours * HOUR), what, milli }
    }

    #[test]
    fn ammonia_is_read_with_what_was_read_near_it() {
        let total = value(0, Measure::Ammonia, 1000);
        let near = [
            value(-2, Measure::Ph, 7_000),
            value(1, Measure::Ph, 8_000),
            value(0, Measure::Temperature, 24_000),
            total,
        ];
        let meaning = of_ammonia(total, &near);
        assert_eq!(meaning.ph.map(|value| value.milli), Some(8_000));
        assert!(!meaning.is_of_one_moment());
        // UF/IFAS FA031, figure 3 (seen)
        assert!((meaning.unionised.expect("in range").mg_l - 0.0502).abs() < 6e-5);
        let far = [value(25, Measure::Ph, 8_000), value(0, Measure::Temperature, 24_000)];
        assert_eq!(of_ammonia(total, &far).unionised, Err(NotReckoned::NoPh));
        assert_eq!(of_ammonia(total, &near[..2]).unionised, Err(NotReckoned::NoTemperature));
        // salt is not forgotten after a day
        let salt = [near.as_slice(), &[value(-900, Measure::Salinity, 5_000)]].concat();
        assert_eq!(of_ammonia(total, &salt).unionised, Err(NotReckoned::Brackish));
    }

    #[test]
    fn the_newest_and_the_nearest() {
        let all = [value(0, Measure::Ph, 1), value(9, Measure::Ph, 3), value(5, Measure::Ph, 2)];
        assert_eq!(newest(&all, Measure::Ph).map(|v| v.milli), Some(3));
        assert_eq!(nearest(&all, Measure::Ph, all[2].at).map(|v| v.milli), Some(2));
        assert_eq!(nearest(&all, Measure::Ph, value(7, Measure::Ph, 0).at).map(|v| v.milli), Some(2));
        assert_eq!(newest(&all, Measure::Kh), None);
    }
}
