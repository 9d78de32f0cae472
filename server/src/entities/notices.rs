//! `notices`, owned by `parcels`. What somebody offers or looks for, on a club's board.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "notices")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub author: Uuid,
    /// On whose board.
    pub club: Uuid,
    #[sea_orm(column_type = "Text")]
    /// `for_sale`, `to_swap`, `wanted`, `free`.
    pub kind: String,
    #[sea_orm(column_type = "Text")]
    /// The species as kept.
    pub species: String,
    #[sea_orm(column_type = "Text", nullable)]
    /// Colour or fin form.
    pub form: Option<String>,
    /// The author's room, of an offer.
    pub room: Option<Uuid>,
    /// The stock in it that is offered.
    pub stock: Option<Uuid>,
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Unsexed.
    pub unsexed: i64,
    /// Eggs.
    pub eggs: i64,
    /// For how much, in the minor unit.
    pub price_minor: Option<i64>,
    #[sea_orm(column_type = "Text", nullable)]
    /// ISO 4217.
    pub currency: Option<String>,
    #[sea_orm(column_type = "Text", nullable)]
    /// For what else.
    pub exchange: Option<String>,
    #[sea_orm(column_type = "Text")]
    /// A town or region.
    pub area: String,
    /// Whether they can be picked up.
    pub pickup: bool,
    /// Whether they can be posted.
    pub posting: bool,
    #[sea_orm(column_type = "Text", nullable)]
    /// Anything else.
    pub remarks: Option<String>,
    /// Whether members of the other clubs here see it.
    pub all_clubs: bool,
    #[sea_orm(column_type = "Text")]
    /// `open`, `ended`, `done`, `taken_down`.
    pub state: String,
    #[sea_orm(column_type = "Text", nullable)]
    /// Why an officer took it down.
    pub why: Option<String>,
    #[sea_orm(column_type = "Text")]
    /// What is searched, in lower case.
    pub words: String,
    /// Grows with every change.
    pub version: i32,
    /// When it was put up, last.
    pub made_ms: i64,
    /// When anything of it last changed.
    pub changed_ms: i64,
    /// When it ends by itself.
    pub ends_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
