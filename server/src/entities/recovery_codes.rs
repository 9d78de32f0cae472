//! `recovery_codes`, owned by `accounts`. Codes for whoever lost the phone, each good once.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "recovery_codes")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose.
    pub account: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Hash of account and code.
    pub hash: Vec<u8>,
    /// When it was made.
    pub made_ms: i64,
    /// When it was used.
    pub used_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
