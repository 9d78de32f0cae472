//! `op_counts`, owned by `streams`. How many new ops an account has pushed on its latest day.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "op_counts")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Whose.
    pub account: Uuid,
    /// Days since 1970, UTC.
    pub day: i64,
    /// How many on that day.
    pub n: i64,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
