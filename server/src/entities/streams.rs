//! `streams`, owned by `streams`. One append-only list of ops.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "streams")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// `room`, `hall` or `library`.
    pub kind: String,
    /// The present epoch.
    pub epoch: Uuid,
    /// The greatest seq.
    pub head: i64,
    /// The hash chain at head.
    pub chain: Vec<u8>,
    /// The greatest clock accepted.
    pub greatest_clock: String,
    /// When the last push was received.
    pub last_received: i64,
    /// Which version of the fold made the projections.
    pub fold_version: i32,
    /// When it was made.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
