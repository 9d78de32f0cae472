//! People who can log in, and how they stay logged in.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let accounts = table(
            "accounts",
            vec![
                uuid("id"),
                string_uniq("login_name"),
                string("email"),
                string("shown_name"),
                string("password_hash"),
                big_integer("made_ms"),
                big_integer_null("closed_ms"),
            ],
            &["id"],
        );
        let mut sessions = table(
            "sessions",
            vec![
                uuid("id"),
                uuid("account"),
                big_integer("started_ms"),
                big_integer_null("ended_ms"),
                big_integer("last_seen_ms"),
                string("what"),
            ],
            &["id"],
        );
        belongs_to(&mut sessions, "sessions", "account", "accounts");
        let mut refresh_tokens = table(
            "refresh_tokens",
            vec![
                blob("hash"),
                uuid("session"),
                big_integer("issued_ms"),
                big_integer_null("first_used_ms"),
                blob_null("parent"),
            ],
            &["hash"],
        );
        belongs_to(&mut refresh_tokens, "refresh_tokens", "session", "sessions");
        let indices = vec![
            index("sessions", &["account"]),
            index("refresh_tokens", &["session"]),
            index("refresh_tokens", &["parent"]),
        ];
        create(manager, vec![accounts, sessions, refresh_tokens], indices).await
    }
}
