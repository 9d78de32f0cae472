//! Queued work, messages, the audit, and the server's own keys.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let jobs = table(
            "jobs",
            vec![
                uuid("id"),
                string("kind"),
                text("payload"),
                big_integer("not_before_ms"),
                integer("tries"),
                text_null("last_error"),
                big_integer("made_ms"),
                big_integer_null("done_ms"),
            ],
            &["id"],
        );
        let messages = table(
            "messages",
            vec![
                uuid("id"),
                uuid("account"),
                text("text"),
                big_integer("made_ms"),
                big_integer_null("read_ms"),
            ],
            &["id"],
        );
        let audit_facts = Table::create()
            .table("audit_facts")
            .col(ColumnDef::new("id").big_integer().not_null().auto_increment().primary_key().take())
            .col(big_integer("at_ms"))
            .col(uuid_null("actor"))
            .col(string("area"))
            .col(text("fact"))
            .col(blob("digest"))
            .take();
        let server_keys =
            table("server_keys", vec![string("name"), blob("secret"), big_integer("made_ms")], &["name"]);
        let indices = vec![
            index("jobs", &["done_ms", "not_before_ms"]),
            index("messages", &["account", "made_ms"]),
            index("audit_facts", &["at_ms"]),
        ];
        create(manager, vec![jobs, messages, audit_facts, server_keys], indices).await
    }
}
