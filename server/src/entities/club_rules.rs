//! `club_rules`, owned by `clubs`. Every version of a club's quarantine rule.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "club_rules")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which club.
    pub club: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// 1, 2, 3 …
    pub version: i32,
    /// In force from.
    pub from_ms: i64,
    #[sea_orm(column_type = "Text")]
    /// The rule, as JSON.
    pub rule: String,
    /// The secretary who adopted it.
    pub adopted_by: Uuid,
    /// When it was adopted.
    pub adopted_ms: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
