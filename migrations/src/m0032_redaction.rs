//! What an op was before words in it were blanked: the digest under which everybody knows it.

use sea_orm_migration::{prelude::*, schema::*};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let column = blob_null("was").take();
        manager.alter_table(Table::alter().table("ops").add_column(column).take()).await
    }
}
