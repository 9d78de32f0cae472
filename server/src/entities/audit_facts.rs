//! `audit_facts`, owned by `platform`. What was done that others must be able to check.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "audit_facts")]
pub struct Model {
    #[sea_orm(primary_key)]
    /// Its id.
    pub id: i64,
    /// When it was done.
    pub at_ms: i64,
    /// The account that did it; none for the server and the operator.
    pub actor: Option<Uuid>,
    /// In which area.
    pub area: String,
    #[sea_orm(column_type = "Text")]
    /// What was done, naming accounts by id.
    pub fact: String,
    /// SHA-256 over the salt and all that the row tells.
    pub digest: Vec<u8>,
    /// The club whose secretaries read it.
    pub club: Option<Uuid>,
    /// Whether the operator did it, at the command line.
    pub by_operator: bool,
    /// What keeps others from trying out what a digest is of; none on rows from before there were salts.
    pub salt: Option<Vec<u8>>,
    /// The seal that holds it; none until the next minute.
    pub seal: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
