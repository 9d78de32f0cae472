//! `second_factors`, owned by `accounts`. What an account signs in with beside its password.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "second_factors")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose.
    pub account: Uuid,
    /// What its codes are made from. Plain: the keys of this server are rows of the same database, so that a key to lock it
    /// with would lie beside it.
    pub secret: Vec<u8>,
    /// When the secret was made.
    pub made_ms: i64,
    /// When a first code showed that it arrived; until then it does not count.
    pub confirmed_ms: Option<i64>,
    /// The step of the last code that was taken.
    pub last_step: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
