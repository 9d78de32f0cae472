//! `invitations`, owned by `clubs`. Single-use tokens that let somebody in.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "invitations")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// SHA-256 of the token; the token itself is nowhere.
    pub hash: Vec<u8>,
    /// Which club it leads into.
    pub club: Option<Uuid>,
    /// The roles it carries, separated by spaces.
    pub role: Option<String>,
    /// Who invited; none for the operator.
    pub invited_by: Option<Uuid>,
    /// Whom it was meant for.
    pub email: Option<String>,
    /// When it was made.
    pub made_ms: i64,
    /// Good until.
    pub expires_ms: i64,
    /// When it was used.
    pub used_ms: Option<i64>,
    /// Which account came of it.
    pub used_by: Option<Uuid>,
    /// What it is called where it is listed; none: it was made before invitations were listed.
    pub id: Option<Uuid>,
    /// Whose line of the member list it is for.
    pub person: Option<Uuid>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
