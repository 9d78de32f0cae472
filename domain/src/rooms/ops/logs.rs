//! The bodies of logs: kept and shown, but in no state.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Millilitres, Names, some};
use crate::rooms::water::{kept_in, thousandths};
use crate::rooms::words::{Incident, Measure};
use crate::streams::{At, Links, StockId, SystemId, TankId};

bodies! {
    /// `food.given`.
    FoodGiven {
        /// To which tanks.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        tanks: Vec<TankId>,
        /// To which stocks.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        stocks: Vec<StockId>,
        /// What.
        food: String,
        /// How much, in the keeper's words.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        amount: Option<String>,
    }

    /// `water.read`: what was measured.
    WaterRead {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// The values.
        values: Vec<Reading>,
    }

    /// One measured value.
    Reading {
        /// What was measured.
        what: Measure,
        /// The number as it was typed.
        typed: String,
        /// The unit as it was typed.
        unit: String,
        /// Converted: thousandths of °C, of pH, of mg/L, of °dH, of µS/cm or of g/kg.
        milli: i64,
    }

    /// `water.logged`: what a probe measured in the time that begins at `at`.
    WaterLogged {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// How long, in seconds: 3,600.
        over_s: u32,
        /// The values, each measure once.
        values: Vec<HourlyReading>,
    }

    /// What a probe's readings of one measure came to; each in thousandths of the unit that the measure is kept in.
    HourlyReading {
        /// What was measured.
        what: Measure,
        /// How many readings.
        n: u32,
        /// The least.
        least: i64,
        /// The mean, half a thousandth away from zero.
        mean: i64,
        /// The most.
        most: i64,
    }

    /// `sign.seen`: something looked wrong.
    SignSeen {
        /// With which stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stock: Option<StockId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// What was seen.
        sign: String,
        /// When it was last seen, if not just now.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        last_seen: Option<At>,
    }

    /// `look.done`: the fish in these tanks were looked at.
    LookDone {
        /// Which tanks.
        tanks: Vec<TankId>,
        /// What was noticed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        remark: Option<String>,
    }

    /// `incident.seen`: something about the technology failed. Fish lost to it name it in `stock.lost`.
    IncidentSeen {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank; neither: in the whole room.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// What failed.
        what: Incident,
        /// In the keeper's words: what was found and what was done.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        remark: Option<String>,
    }

    /// `job.done`: work on a tank or system.
    JobDone {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// What was done.
        job: String,
        /// For a water change: how much.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_ml: Option<Millilitres>,
        /// For a water change: which share of the water, in per cent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        percent: Option<u8>,
    }

    /// `note.written`: in the keeper's words. (A note that stays on the device is no op and never sent.)
    NoteWritten {
        /// About which stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stock: Option<StockId>,
        /// Or about which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// The words.
        text: String,
    }
}

names! {
    FoodGiven: |b| Links::log(b.tanks.iter().map(|t| (*t).into()).chain(b.stocks.iter().map(|s| (*s).into())));
    WaterRead: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    WaterLogged: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    SignSeen: |b| Links::evidence(some(&b.stock).into_iter().chain(some(&b.tank)));
    LookDone: |b| Links::evidence(b.tanks.iter().map(|t| (*t).into()));
    IncidentSeen: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    JobDone: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    NoteWritten: |b| Links::log(some(&b.stock).into_iter().chain(some(&b.tank)));
}

impl WaterLogged {
    /// The means, as readings like any other: for what is shown and reckoned of a water.
    pub fn means(&self) -> WaterRead {
        let value = |hourly: &HourlyReading| Reading {
            what: hourly.what,
            typed: thousandths(hourly.mean),
            unit: kept_in(hourly.what).to_owned(),
            milli: hourly.mean,
        };
        WaterRead { system: self.system, tank: self.tank, values: self.values.iter().map(value).collect() }
    }
}

impl HourlyReading {
    /// "24.9 to 26.1 in 60 readings", or "60 readings" where they all were the same.
    pub fn spread(&self) -> String {
        let n = if self.n == 1 { "1 reading".to_owned() } else { format!("{} readings", self.n) };
        if self.least == self.most {
            return n;
        }
        format!("{} to {} in {n}", thousandths(self.least), thousandths(self.most))
    }
}
