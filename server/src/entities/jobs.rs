//! `jobs`, owned by `platform`. Work queued in the transaction that wants it done.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "jobs")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Which handler does it.
    pub kind: String,
    #[sea_orm(column_type = "Text")]
    /// What the handler needs, as JSON.
    pub payload: String,
    /// Not earlier than this.
    pub not_before_ms: i64,
    /// How often it was tried.
    pub tries: i32,
    #[sea_orm(column_type = "Text", nullable)]
    /// What went wrong last.
    pub last_error: Option<String>,
    /// When it was made.
    pub made_ms: i64,
    /// When it was done.
    pub done_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
