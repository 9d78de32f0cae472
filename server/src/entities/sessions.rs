//! `sessions`, owned by `accounts`. One login on one device or browser.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sessions")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub account: Uuid,
    /// When it began.
    pub started_ms: i64,
    /// When it was ended.
    pub ended_ms: Option<i64>,
    /// When it was last renewed.
    pub last_seen_ms: i64,
    /// What signed in, in words for its owner.
    pub what: String,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
