//! `stream_lines`, owned by `streams`. Which earlier epochs a stream continues, and up to which op.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stream_lines")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Order, oldest first.
    pub position: i32,
    /// The earlier epoch.
    pub epoch: Uuid,
    /// The last op of it that this stream continues.
    pub last_seq: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
