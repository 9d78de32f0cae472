//! `devices`, owned by `streams`. Who writes into a stream, and with what.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "devices")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which device.
    pub device: Uuid,
    /// Whose it is.
    pub account: Uuid,
    /// `client`, `web`, `stream` or `imported`.
    pub kind: String,
    /// What people call it.
    pub name: String,
    /// The epoch it was last registered for.
    pub epoch: Uuid,
    /// When that was.
    pub registered_ms: i64,
    /// In which session it last came.
    pub session: Option<Uuid>,
    /// When its owner ended it.
    pub ended_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
