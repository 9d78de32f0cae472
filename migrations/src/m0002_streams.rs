//! Streams, their ops, their history and the devices that write them.

use sea_orm_migration::sea_orm::DbBackend;
use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let streams = table(
            "streams",
            vec![
                uuid("id"),
                string("kind"),
                uuid("epoch"),
                big_integer("head"),
                blob("chain"),
                string("greatest_clock"),
                big_integer("last_received"),
                integer("fold_version"),
                big_integer("made_ms"),
            ],
            &["id"],
        );
        let mut stream_lines = table(
            "stream_lines",
            vec![uuid("stream"), integer("position"), uuid("epoch"), big_integer("last_seq")],
            &["stream", "position"],
        );
        belongs_to(&mut stream_lines, "stream_lines", "stream", "streams");
        let mut ops = table(
            "ops",
            vec![
                uuid("stream"),
                big_integer("seq"),
                uuid("id"),
                uuid("device"),
                text("body"),
                uuid("by_account"),
                big_integer("received"),
                boolean("decision"),
                blob_null("chain"),
            ],
            &["stream", "seq"],
        );
        // On SQLite the rows themselves are kept in the order of the key, which is how they are read. PostgreSQL
        // would not know the word.
        if manager.get_database_backend() == DbBackend::Sqlite {
            ops.extra("WITHOUT ROWID");
        }
        let mut devices = table(
            "devices",
            vec![
                uuid("stream"),
                uuid("device"),
                uuid("account"),
                string("kind"),
                string("name"),
                uuid("epoch"),
                big_integer("registered_ms"),
            ],
            &["stream", "device"],
        );
        belongs_to(&mut devices, "devices", "stream", "streams");
        // An op is found by its number; which number an id has is known from the stream's state, under its lock. A
        // second tree over ids would cost every push a quarter of what writing its ops does.
        let indices = vec![index("devices", &["account"])];
        create(manager, vec![streams, stream_lines, ops, devices], indices).await
    }
}
