//! `room_caretakers`, owned by `rooms`. Who acts for a room's keepers in illness or death.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "room_caretakers")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which room.
    pub room: Uuid,
    /// Who would act.
    pub account: Uuid,
    /// Who named them.
    pub named_by: Uuid,
    /// When.
    pub named_ms: i64,
    /// Since when they act; none: they don't.
    pub acting_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
