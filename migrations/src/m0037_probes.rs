//! Probes in a water: each writes with a token of its own; what it said in the hour that runs is added up here.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let probes = table(
            "room_probes",
            vec![
                uuid("id"),
                uuid("room"),
                string("name"),
                uuid_null("system"),
                uuid_null("tank"),
                blob("hash"),
                uuid("made_by"),
                big_integer("made_ms"),
                big_integer("until_ms"),
                big_integer_null("ended_ms"),
                big_integer_null("heard_ms"),
                big_integer("day"),
                big_integer("n"),
            ],
            &["id"],
        );
        let hours = table(
            "probe_hours",
            vec![
                uuid("probe"),
                string("what"),
                big_integer("last_ms"),
                big_integer("hour"),
                big_integer("n"),
                big_integer("sum"),
                big_integer("least"),
                big_integer("most"),
            ],
            &["probe", "what"],
        );
        let indices = vec![index("room_probes", &["room"]), index("room_probes", &["hash"]).unique().take()];
        create(manager, vec![probes, hours], indices).await
    }
}
