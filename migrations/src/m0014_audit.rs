//! The audit: whose club a fact is of, a salt for its digest, and the seals over facts.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // SQLite adds one column in one statement
        for column in [
            uuid_null("club"),
            boolean("by_operator").default(false).take(),
            blob_null("salt"),
            big_integer_null("seal"),
        ] {
            manager.alter_table(Table::alter().table("audit_facts").add_column(column).take()).await?;
        }
        let seals = table(
            "audit_seals",
            vec![
                big_integer("number"),
                big_integer("first_fact"),
                big_integer("last_fact"),
                big_integer("facts"),
                big_integer("at_ms"),
                blob("hash"),
            ],
            &["number"],
        );
        let indices = vec![index("audit_facts", &["seal", "id"]), index("audit_facts", &["club", "id"])];
        create(manager, vec![seals], indices).await
    }
}
