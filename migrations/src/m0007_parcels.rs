//! Fish on their way from one room to another.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let parcels = table(
            "parcels",
            vec![
                uuid("stream"),
                uuid("id"),
                uuid_null("to_account"),
                boolean("is_sent"),
                boolean("is_arrived"),
                text("body"),
            ],
            &["stream", "id"],
        );
        let indices = vec![index("parcels", &["id"]), index("parcels", &["to_account"])];
        create(manager, vec![parcels], indices).await
    }
}
