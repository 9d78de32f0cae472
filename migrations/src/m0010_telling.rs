//! Telling people in time: where a message leads, mail that waits, how somebody wants to be told, calendars, and when
//! a room is looked at again.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let leads = Table::alter().table("messages").add_column(text_null("href")).take();
        manager.alter_table(leads).await?;
        let outbox = table(
            "mail_outbox",
            vec![
                uuid("id"),
                text("recipient"),
                text("subject"),
                text("body"),
                big_integer("made_ms"),
                big_integer("next_ms"),
                integer("tries"),
                text_null("last_error"),
                big_integer_null("sent_ms"),
                big_integer_null("given_up_ms"),
            ],
            &["id"],
        );
        let mut telling = table(
            "account_telling",
            vec![
                uuid("account"),
                boolean("digest"),
                text_null("proven_email"),
                blob_null("proof_hash"),
                big_integer_null("proof_expires_ms"),
                big_integer("told_ms"),
                big_integer("next_ms"),
            ],
            &["account"],
        );
        belongs_to(&mut telling, "account_telling", "account", "accounts");
        let mut calendars = table(
            "calendar_feeds",
            vec![uuid("account"), blob("hash"), big_integer("made_ms")],
            &["account"],
        );
        belongs_to(&mut calendars, "calendar_feeds", "account", "accounts");
        let watch = table(
            "quarantine_watch",
            vec![uuid("room"), big_integer("head"), big_integer("look_ms")],
            &["room"],
        );
        let indices = vec![
            index("mail_outbox", &["sent_ms", "next_ms"]),
            index("account_telling", &["next_ms"]),
            index("account_telling", &["proof_hash"]),
            index("calendar_feeds", &["hash"]).unique().take(),
        ];
        create(manager, vec![outbox, telling, calendars, watch], indices).await
    }
}
