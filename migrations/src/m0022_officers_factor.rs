//! Whether a club wants its officers to sign in with a second factor.

use sea_orm_migration::{prelude::*, schema::*};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let column = boolean("officers_need_factor").default(false).take();
        manager.alter_table(Table::alter().table("clubs").add_column(column).take()).await
    }
}
