//! What is told of the waters of a room. Volumes and what ammonia means are told by the domain, as the client tells them.

use serde::Serialize;
use serde_json::Value;
use tarn_domain::rooms::ops::Reading;
use tarn_domain::streams::{At, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

/// The waters of a room
#[derive(Serialize, ToSchema)]
pub struct Waters {
    /// Which room.
    #[schema(value_type = Uuid)]
    pub room: StreamId,
    /// The number of the last op that counts in it.
    pub head: u64,
    /// Systems, and tanks on their own water.
    pub waters: Vec<Water>,
}

/// A system, or a tank on its own water
#[derive(Serialize, ToSchema)]
pub struct Water {
    /// If it is a system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub system: Option<Uuid>,
    /// If it is a tank.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub tank: Option<Uuid>,
    /// What it is called.
    #[schema(required)]
    pub name: Option<String>,
    /// The newest value of each measure that was ever read.
    pub newest: Vec<NewestValue>,
    /// What the newest ammonia means.
    #[schema(value_type = Option<AmmoniaMeaning>, required)]
    pub ammonia: Option<Value>,
    /// All the water when filled.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<WaterVolume>, nullable = false)]
    pub gross: Option<Value>,
    /// Less sand, stones, wood and gear.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<WaterVolume>, nullable = false)]
    pub net: Option<Value>,
}

/// A value, and when it was read
#[derive(Serialize, ToSchema)]
pub struct NewestValue {
    /// When.
    #[schema(value_type = String)]
    pub at: At,
    /// What.
    #[schema(value_type = MeasuredValue)]
    pub value: Reading,
}

/// A value as it was typed, and as it is kept
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct MeasuredValue {
    what: MeasureOfWater,
    /// The number as it was typed
    typed: String,
    /// The unit as it was typed
    unit: String,
    /// Thousandths of °C, of pH, of mg/L, of °dH, of µS/cm or of g/kg
    milli: i64,
}

/// What a water reading measures
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub enum MeasureOfWater {
    Temperature,
    Ph,
    Ammonia,
    Nitrite,
    Nitrate,
    Gh,
    Kh,
    Conductivity,
    Salinity,
}

/// A volume; `ml` is null where it can't be told, and `missing` says without what
#[derive(ToSchema)]
#[schema(example = json!({"ml": 480_000, "how": "measured"}))]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct WaterVolume {
    #[schema(required)]
    ml: Option<u64>,
    /// `measured` or `reckoned`; not where it can't be told
    #[schema(nullable = false)]
    how: Option<String>,
    /// What it was reckoned of
    #[schema(nullable = false)]
    parts: Option<Vec<VolumePart>>,
    /// What it can't be told without
    #[schema(nullable = false)]
    missing: Option<Vec<MissingOfVolume>>,
}

/// A part of a volume
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct VolumePart {
    /// `tanks`, `sump`, `pipes`, `gross`, `displacement` (taken off) or `joined`
    part: String,
    ml: u64,
}

/// Something that a volume can't be told without
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct MissingOfVolume {
    /// `no_tanks`, `tank`, `sump`, `pipes`, `displacement` or `contradiction`
    missing: String,
    /// Which tank it is
    #[schema(nullable = false)]
    tank: Option<Uuid>,
}

/// What a reading of total ammonia means. Either the un-ionised part, or why that is not reckoned
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct AmmoniaMeaning {
    at: String,
    /// Thousandths of mg/L NH3
    total_milli: i64,
    /// The pH that it was read with
    #[schema(required)]
    ph: Option<ValueNear>,
    /// The temperature that it was read with
    #[schema(required)]
    temperature: Option<ValueNear>,
    /// Where the formula is from
    source: String,
    #[schema(nullable = false)]
    unionised_mg_l_nh3: Option<f64>,
    /// Which share of the total is un-ionised
    #[schema(nullable = false)]
    fraction: Option<f64>,
    #[schema(nullable = false)]
    may_harm: Option<bool>,
    /// Why it is not reckoned
    #[schema(nullable = false)]
    not_reckoned: Option<String>,
}

/// A value that was read near another
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct ValueNear {
    at: String,
    milli: i64,
}
