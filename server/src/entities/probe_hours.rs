//! `probe_hours`, owned by `rooms`. What a probe has said of one measure in the hour that runs, until that is written into
//! the room's stream.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "probe_hours")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Of which probe.
    pub probe: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// What is measured.
    pub what: String,
    /// When the newest reading was taken; what is not newer was counted.
    pub last_ms: i64,
    /// The hour, in hours since 1970.
    pub hour: i64,
    /// How many readings; 0 when the hour is written.
    pub n: i64,
    /// Their sum, in thousandths.
    pub sum: i64,
    /// The least.
    pub least: i64,
    /// The most.
    pub most: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
