//! `ops`, owned by `streams`. The accepted ops, as they were written, but for words that were blanked.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "ops")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its number in the stream.
    pub seq: i64,
    /// Its id.
    pub id: Uuid,
    /// Which device.
    pub device: Uuid,
    #[sea_orm(column_type = "Text")]
    /// The envelope in canonical form (RFC 8785).
    pub body: String,
    /// Who pushed it.
    pub by_account: Uuid,
    /// When it was received.
    pub received: i64,
    /// Written by the server's own path.
    pub decision: bool,
    /// The hash chain here; only on the last op of each push.
    pub chain: Option<Vec<u8>>,
    /// If words in it were blanked: the digest of its first bytes.
    pub was: Option<Vec<u8>>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
