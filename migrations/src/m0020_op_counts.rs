//! How many new ops each account has pushed today.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut counts =
            table("op_counts", vec![uuid("account"), big_integer("day"), big_integer("n")], &["account"]);
        belongs_to(&mut counts, "op_counts", "account", "accounts");
        create(manager, vec![counts], vec![]).await
    }
}
