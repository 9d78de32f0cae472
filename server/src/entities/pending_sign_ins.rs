//! `pending_sign_ins`, owned by `accounts`. Somebody knew the password and is asked for a code; no session.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "pending_sign_ins")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Hash of what the form carries.
    pub hash: Vec<u8>,
    /// Who wants in.
    pub account: Uuid,
    /// Good until then.
    pub expires_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
