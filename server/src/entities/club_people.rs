//! `club_people`, owned by `clubs`. A line of a club's member list.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "club_people")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which club's list.
    pub club: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Who, in this list.
    pub person: Uuid,
    /// What they sign in with, if they have a login.
    pub account: Option<Uuid>,
    /// The club's own number.
    pub number: Option<String>,
    /// What the club calls them.
    pub name: String,
    /// Where to write to.
    pub email: Option<String>,
    /// With whom they live.
    pub household: Option<String>,
    /// Whether a guest.
    pub guest: bool,
    /// Paid until this day, `2026-12-31`.
    pub paid_until: Option<String>,
    /// Whether the membership has lapsed.
    pub lapsed: bool,
    /// Since when on the list.
    pub made_ms: i64,
    /// Since when no longer.
    pub left_ms: Option<i64>,
    /// How often it was written.
    pub version: i32,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
