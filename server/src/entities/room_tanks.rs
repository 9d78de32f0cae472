//! `room_tanks`, owned by `rooms`. Projection: the tanks of a room as they stand at head.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_tanks")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which tank.
    pub tank: Uuid,
    /// What people call it.
    pub name: String,
    /// Where it stands.
    pub stand: Option<String>,
    /// On which shelf.
    pub shelf: Option<String>,
    /// At which place.
    pub place: Option<String>,
    /// How much it holds, in millilitres.
    pub volume_ml: Option<i64>,
    /// Which water system.
    pub system: Option<Uuid>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
