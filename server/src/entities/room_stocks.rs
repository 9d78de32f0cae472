//! `room_stocks`, owned by `rooms`. Projection: the stocks of a room as they stand at head.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_stocks")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stock.
    pub stock: Uuid,
    /// What people call it.
    pub name: String,
    /// Which species, if said.
    pub species: Option<String>,
    /// Individual, pair, colony …
    pub kind: Option<String>,
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Unsexed.
    pub unsexed: i64,
    /// Eggs.
    pub eggs: i64,
    /// How many of them are gone without anybody saying which.
    pub any_debt: i64,
    /// How many there are.
    pub total: i64,
    /// Where it swims; none in the bag.
    pub tank: Option<Uuid>,
    #[sea_orm(column_type = "Text")]
    /// The numbers by node and sex, as JSON.
    pub rows: String,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
