//! `room_probes`, owned by `rooms`. Probes in a water of a room, each with a token that writes its readings and nothing
//! else.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_probes")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id; of version 8, since an op's `by` may be it.
    pub id: Uuid,
    /// In which room.
    pub room: Uuid,
    /// What the keeper calls it.
    pub name: String,
    /// In which water system.
    pub system: Option<Uuid>,
    /// Or in which tank.
    pub tank: Option<Uuid>,
    /// Hash of the token.
    pub hash: Vec<u8>,
    /// The keeper who made it.
    pub made_by: Uuid,
    /// When it was made.
    pub made_ms: i64,
    /// Until when the token is good.
    pub until_ms: i64,
    /// When a keeper ended it before that.
    pub ended_ms: Option<i64>,
    /// When it last sent something.
    pub heard_ms: Option<i64>,
    /// The day of which readings are counted, in days since 1970.
    pub day: i64,
    /// How many came that day.
    pub n: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
