//! A device can be ended, together with the session that it last came in.

use sea_orm_migration::{prelude::*, schema::*};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // one column a statement: SQLite adds no more
        for column in [uuid_null("session").take(), big_integer_null("ended_ms").take()] {
            manager.alter_table(Table::alter().table("devices").add_column(column).take()).await?;
        }
        Ok(())
    }
}
