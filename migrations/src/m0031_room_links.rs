//! Expiring links to one room, for who helps there without an account.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let links = table(
            "room_links",
            vec![
                uuid("id"),
                uuid("room"),
                string("name"),
                text_null("tanks"),
                blob("hash"),
                uuid("made_by"),
                big_integer("made_ms"),
                big_integer("until_ms"),
                big_integer_null("ended_ms"),
                big_integer("day"),
                big_integer("n"),
            ],
            &["id"],
        );
        let indices = vec![index("room_links", &["room"]), index("room_links", &["hash"]).unique().take()];
        create(manager, vec![links], indices).await
    }
}
