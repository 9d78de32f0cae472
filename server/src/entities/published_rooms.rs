//! `published_rooms`, owned by `lineage`. To whom the stock list of a room is published; no row: to nobody.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "published_rooms")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which room.
    pub room: Uuid,
    /// `nobody`, `club`, `everyone`.
    pub audience: String,
    /// The keeper whose shown name stands on it, if one wants that.
    pub named: Option<Uuid>,
    /// Rises with every change.
    pub version: i32,
    /// When it was changed last.
    pub changed_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
