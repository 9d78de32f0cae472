//! `clubs`, owned by `clubs`. A society.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "clubs")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    #[sea_orm(unique)]
    /// What people call it.
    pub name: String,
    /// When it was made.
    pub made_ms: i64,
    /// Whether the roles of officers count only with a second factor.
    pub officers_need_factor: bool,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
