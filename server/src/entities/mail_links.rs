//! `mail_links`, owned by `accounts`. A single-use link that went out by mail, or is about to.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "mail_links")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Hash of the token in the link.
    pub hash: Vec<u8>,
    /// `prove`, `reset` or `sign-up`; `reset-asked` and `sign-up-asked` until the letter is written.
    pub purpose: String,
    /// Whose; nobody's before there is an account.
    pub account: Option<Uuid>,
    #[sea_orm(column_type = "Text")]
    /// Where it goes; what was typed, until the letter is written.
    pub email: String,
    /// When it was made.
    pub made_ms: i64,
    /// Good until then.
    pub expires_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
