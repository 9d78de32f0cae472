//! `parcels`, owned by `parcels`. One side of a parcel, as one room's stream tells it.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "parcels")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose side.
    pub stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which parcel.
    pub id: Uuid,
    /// For whom, once it is sent.
    pub to_account: Option<Uuid>,
    /// Whether it left this room.
    pub is_sent: bool,
    /// Whether it came to this room.
    pub is_arrived: bool,
    /// Whether it left this room and, as far as it was told, not all of it is accounted for.
    pub is_open: bool,
    #[sea_orm(column_type = "Text")]
    /// This side, as JSON.
    pub body: String,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
