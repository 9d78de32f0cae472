//! `refresh_tokens`, owned by `accounts`. The hashed tokens that renew a session.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "refresh_tokens")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// SHA-256 of the token; the token itself is nowhere.
    pub hash: Vec<u8>,
    /// Which session it renews.
    pub session: Uuid,
    /// When it was given out.
    pub issued_ms: i64,
    /// When it was first used.
    pub first_used_ms: Option<i64>,
    /// The hash of the token it was given for; none for a session's first.
    pub parent: Option<Vec<u8>>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
