//! `threads`, owned by `parcels`. What two members write to each other, through the server.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "threads")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// About which notice; none: about a swap alone.
    pub notice: Option<Uuid>,
    /// The notice's author, or who was written to.
    pub host: Uuid,
    /// Who wrote first.
    pub guest: Uuid,
    #[sea_orm(column_type = "Text", nullable)]
    /// What it was about when it began.
    pub about: Option<String>,
    /// When it began.
    pub made_ms: i64,
    /// When the last line was written.
    pub last_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
