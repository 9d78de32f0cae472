//! `quarantine_watch`, owned by `quarantine`. Up to where a room was looked at for what its people must be told.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "quarantine_watch")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which room.
    pub room: Uuid,
    /// The head of its stream at that look.
    pub head: i64,
    /// When time alone brings something to tell.
    pub look_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
