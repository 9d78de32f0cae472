//! `club_boards`, owned by `parcels`. How a club keeps its notice board.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "club_boards")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which club.
    pub club: Uuid,
    /// How many days a notice stands.
    pub notice_days: i32,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
