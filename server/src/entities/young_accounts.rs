//! `young_accounts`, owned by `accounts`. Somebody under age, and who answers for them.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "young_accounts")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Who is young.
    pub account: Uuid,
    /// The account of their guardian.
    pub guardian: Uuid,
    /// What they are called; the account's shown name is a word that says nothing.
    pub name: String,
    /// Since when: the guardian made the account then, and agreed.
    pub since_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
