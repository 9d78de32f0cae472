//! `swaps`, owned by `parcels`. What one keeper proposed to another, and what came of it.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "swaps")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Where the two write to each other.
    pub thread: Uuid,
    /// Who proposed it.
    pub proposer: Uuid,
    /// To whom.
    pub other: Uuid,
    /// The proposal that it answers.
    pub answers: Option<Uuid>,
    /// The proposal that answers it.
    pub answered_by: Option<Uuid>,
    #[sea_orm(column_type = "Text", nullable)]
    /// What the proposer says of what they give.
    pub give_words: Option<String>,
    #[sea_orm(column_type = "Text", nullable)]
    /// What they ask for, in words.
    pub ask_words: Option<String>,
    #[sea_orm(column_type = "Text")]
    /// `proposed`, `agreed`, `done`, `declined`, `withdrawn`, `expired`.
    pub state: String,
    /// The proposer's parcel, once agreed.
    pub give_parcel: Option<Uuid>,
    /// The other's.
    pub ask_parcel: Option<Uuid>,
    /// When it was proposed.
    pub made_ms: i64,
    /// When its state last changed.
    pub changed_ms: i64,
    /// When it is over if nobody answers.
    pub ends_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
