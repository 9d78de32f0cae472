//! `room_keepers`, owned by `rooms`. Who keeps a room.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_keepers")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which room.
    pub room: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose it is.
    pub account: Uuid,
    /// Since when.
    pub since_ms: i64,
    /// Until when; none for a present keeper.
    pub until_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
