//! `calendar_feeds`, owned by `accounts`. The secret address of a calendar.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "calendar_feeds")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose.
    pub account: Uuid,
    /// Hash of the secret.
    pub hash: Vec<u8>,
    /// When it was made.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
