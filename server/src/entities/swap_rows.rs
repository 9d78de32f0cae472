//! `swap_rows`, owned by `parcels`. Fish that a swap speaks of, as they were named then.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "swap_rows")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which swap.
    pub swap: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which row.
    pub ordinal: i32,
    /// Whether the other gives them.
    pub asked: bool,
    /// The giver's room, if said.
    pub room: Option<Uuid>,
    /// The giver's stock, if said.
    pub stock: Option<Uuid>,
    /// The notice by which they were offered.
    pub notice: Option<Uuid>,
    #[sea_orm(column_type = "Text")]
    /// The species as kept.
    pub species: String,
    #[sea_orm(column_type = "Text", nullable)]
    /// Colour or fin form.
    pub form: Option<String>,
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Unsexed.
    pub unsexed: i64,
    /// Eggs.
    pub eggs: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
