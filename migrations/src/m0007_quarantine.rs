//! Quarantine units, for those who look after several rooms.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let quarantine_units = table(
            "quarantine_units",
            vec![
                uuid("stream"),
                uuid("unit"),
                uuid_null("club"),
                string("state"),
                big_integer("start_ms"),
                big_integer_null("due_ms"),
            ],
            &["stream", "unit"],
        );
        let indices = vec![index("quarantine_units", &["club", "state"])];
        create(manager, vec![quarantine_units], indices).await
    }
}
