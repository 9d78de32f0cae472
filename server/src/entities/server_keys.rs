//! `server_keys`, owned by `platform`. Secrets the server made for itself.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "server_keys")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// What it is for.
    pub name: String,
    /// The secret.
    pub secret: Vec<u8>,
    /// When it was made.
    pub made_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
