//! `thread_lines`, owned by `parcels`. A line of a thread.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "thread_lines")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Of which thread.
    pub thread: Uuid,
    /// Who wrote it.
    pub author: Uuid,
    #[sea_orm(column_type = "Text")]
    /// The line.
    pub text: String,
    /// When.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
