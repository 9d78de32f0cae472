//! `parcels`, owned by `parcels`. Projection: every parcel, from both ends.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "parcels")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// The room it came from.
    pub giver_stream: Option<Uuid>,
    /// The room it came to.
    pub receiver_stream: Option<Uuid>,
    /// Whom it is addressed to.
    pub to_account: Option<Uuid>,
    /// Where it stands.
    pub state: String,
    #[sea_orm(column_type = "Text", nullable)]
    /// The slip that went with it, as JSON.
    pub sent: Option<String>,
    #[sea_orm(column_type = "Text", nullable)]
    /// What the receiver wrote, as JSON.
    pub arrived: Option<String>,
    /// When it was packed.
    pub packed_ms: Option<i64>,
    /// When it was handed over.
    pub handed_ms: Option<i64>,
    /// When the server sent the slip.
    pub sent_ms: Option<i64>,
    /// When it arrived.
    pub arrived_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
