//! `rooms`, owned by `rooms`. A fish room; its id is its stream's.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "rooms")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// The room's id, which is its stream's.
    pub stream: Uuid,
    /// What people call it.
    pub name: String,
    /// The time zone its keeper lives by.
    pub zone: String,
    /// The club under whose rule it is.
    pub home_club: Option<Uuid>,
    /// When it was made.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
