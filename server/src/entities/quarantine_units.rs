//! `quarantine_units`, owned by `quarantine`. Projection: every unit and how its clock stands.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "quarantine_units")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which stream.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub unit: Uuid,
    /// The club whose stewards look after it.
    pub club: Option<Uuid>,
    /// Where it stands.
    pub state: String,
    /// Since when its clock runs.
    pub start_ms: i64,
    /// When its days are over; none while that is not known.
    pub due_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
