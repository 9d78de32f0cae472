//! `accounts`, owned by `accounts`. A person who can log in.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "accounts")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    #[sea_orm(unique)]
    /// The name to sign in with, in lower case.
    pub login_name: String,
    /// Where to write to.
    pub email: String,
    /// What others read.
    pub shown_name: String,
    /// argon2id, as a PHC string.
    pub password_hash: String,
    /// When it was made.
    pub made_ms: i64,
    /// When it was closed.
    pub closed_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
