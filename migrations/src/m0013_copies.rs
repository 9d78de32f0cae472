//! Which rooms hold a copy of which brood, and which of several rooms that tell one was the first.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let received = big_integer("received_ms").default(0).take();
        manager.alter_table(Table::alter().table("broods").add_column(received).take()).await?;
        let open = boolean("is_open").default(false).take();
        manager.alter_table(Table::alter().table("parcels").add_column(open).take()).await?;
        let copies = table(
            "brood_copies",
            vec![uuid("stream"), uuid("source"), uuid("node")],
            &["stream", "source", "node"],
        );
        let indices = vec![index("brood_copies", &["node", "stream"]), index("parcels", &["is_open"])];
        create(manager, vec![copies], indices).await
    }
}
