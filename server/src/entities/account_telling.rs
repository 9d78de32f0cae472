//! `account_telling`, owned by `accounts`. How somebody wants to be told.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "account_telling")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose.
    pub account: Uuid,
    /// Whether a digest is wanted.
    pub digest: bool,
    #[sea_orm(column_type = "Text", nullable)]
    /// The address whose owner has said that mail may come.
    pub proven_email: Option<String>,
    /// Hash of the single-use token in the mail that asks.
    pub proof_hash: Option<Vec<u8>>,
    /// Until when that token is good.
    pub proof_expires_ms: Option<i64>,
    /// Messages up to here stood in a digest or were there before the first.
    pub told_ms: i64,
    /// When the next digest is made.
    pub next_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
