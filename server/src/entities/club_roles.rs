//! `club_roles`, owned by `clubs`. What somebody may do for a club.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "club_roles")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which club.
    pub club: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose it is.
    pub account: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which role.
    pub role: String,
    /// Since when.
    pub since_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
