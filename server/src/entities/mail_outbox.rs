//! `mail_outbox`, owned by `platform`. Mail that waits to be sent, and for a while what was sent.

use sea_orm::entity::prelude::*;

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "mail_outbox")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    /// Its id, from which its `Message-ID` is made.
    pub id: Uuid,
    #[sea_orm(column_type = "Text")]
    /// Where it goes. Empty once it is sent or given up.
    pub recipient: String,
    #[sea_orm(column_type = "Text")]
    /// Its subject.
    pub subject: String,
    #[sea_orm(column_type = "Text")]
    /// What it says. Empty once it is sent or given up.
    pub body: String,
    /// When it was made.
    pub made_ms: i64,
    /// Not tried before this.
    pub next_ms: i64,
    /// How often it was tried.
    pub tries: i32,
    #[sea_orm(column_type = "Text", nullable)]
    /// What went wrong last.
    pub last_error: Option<String>,
    /// When the mail host took it.
    pub sent_ms: Option<i64>,
    /// When it was tried for the last time, in vain.
    pub given_up_ms: Option<i64>,
}

/// None are declared: a store says what it joins.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
