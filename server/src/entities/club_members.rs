//! `club_members`, owned by `clubs`. Who belongs to a club.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "club_members")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which club.
    pub club: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose it is.
    pub account: Uuid,
    /// Since when.
    pub since_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
