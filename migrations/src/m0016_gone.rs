//! Streams that were removed, and who wrote into them.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let gone = table(
            "gone_streams",
            vec![uuid("stream"), uuid("account"), big_integer("gone_ms")],
            &["stream", "account"],
        );
        create(manager, vec![gone], vec![]).await
    }
}
