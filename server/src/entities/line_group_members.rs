//! `line_group_members`, owned by `lineage`. Who is in a line group, and who was asked to be.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "line_group_members")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Which group.
    pub line_group: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    /// Who.
    pub account: Uuid,
    /// By whom they were asked; none: they began it.
    pub invited_by: Option<Uuid>,
    /// When they were asked.
    pub invited_ms: i64,
    /// When they agreed; none: not yet.
    pub joined_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
