//! `room_links`, owned by `rooms`. Expiring links to one room, for who helps there without an account.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_links")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id; of version 8, since an op's `by` may be it.
    pub id: Uuid,
    /// Which room.
    pub room: Uuid,
    /// What the keeper calls the helper.
    pub name: String,
    #[sea_orm(column_type = "Text", nullable)]
    /// Which tanks it is for, as a JSON list of ids; none: all of them.
    pub tanks: Option<String>,
    /// Hash of the secret.
    pub hash: Vec<u8>,
    /// The keeper who made it.
    pub made_by: Uuid,
    /// When it was made.
    pub made_ms: i64,
    /// Until when it is good.
    pub until_ms: i64,
    /// When a keeper ended it before that.
    pub ended_ms: Option<i64>,
    /// The day of which entries are counted, in days since 1970.
    pub day: i64,
    /// How many were written that day.
    pub n: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
