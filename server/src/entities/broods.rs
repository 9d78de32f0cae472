//! `broods`, owned by `lineage`. Projection: every brood, as its home room records it.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "broods")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// The room it was found in.
    pub home_stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Its code.
    pub code: String,
    /// Which species, if said.
    pub species: Option<String>,
    /// When its first record was received: of several rooms that tell it the first one counts.
    pub received_ms: i64,
    #[sea_orm(column_type = "Text")]
    /// The rest, as JSON.
    pub body: String,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
