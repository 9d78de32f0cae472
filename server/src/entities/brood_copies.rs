//! `brood_copies`, owned by `lineage`. Projection: which rooms hold a copy of which brood, and from where.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "brood_copies")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// The room that holds it.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// The parcel that brought it, or the node itself if its home told of it since.
    pub source: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// The brood.
    pub node: Uuid,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
