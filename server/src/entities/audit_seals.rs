//! `audit_seals`, owned by `platform`. A chain of hashes over what was done.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "audit_seals")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// One after the other, from 1.
    pub number: i64,
    /// The lowest id among its facts.
    pub first_fact: i64,
    /// The highest.
    pub last_fact: i64,
    /// How many facts it holds: some between the lowest and the highest may be another's.
    pub facts: i64,
    /// When it was made.
    pub at_ms: i64,
    /// SHA-256 over the hash of the seal before, this row and the digests of its facts.
    pub hash: Vec<u8>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
