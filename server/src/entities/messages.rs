//! `messages`, owned by `platform`. A line on somebody's page.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "messages")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub account: Uuid,
    #[sea_orm(column_type = "Text")]
    /// The line.
    pub text: String,
    /// When it was made.
    pub made_ms: i64,
    /// When it was read.
    pub read_ms: Option<i64>,
    #[sea_orm(column_type = "Text", nullable)]
    /// Where it leads, on this site.
    pub href: Option<String>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
