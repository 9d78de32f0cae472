//! `room_plumbing`, owned by `rooms`. Projection: which water each tank had, and when.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_plumbing")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which tank.
    pub tank: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its place among those of the same thing.
    pub ordinal: i32,
    /// When it began, in seconds.
    pub from_s: i64,
    /// When it ended, in seconds; none while it lasts.
    pub until_s: Option<i64>,
    /// Which water system.
    pub system: Option<Uuid>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
