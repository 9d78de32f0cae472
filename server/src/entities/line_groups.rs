//! `line_groups`, owned by `lineage`. Keepers of any clubs who keep one line together.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "line_groups")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    #[sea_orm(column_type = "Text")]
    /// The species.
    pub species: String,
    #[sea_orm(column_type = "Text")]
    /// The line.
    pub line: String,
    /// When it was begun.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
