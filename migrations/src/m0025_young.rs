//! Members under age, each with a guardian who is a member too.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut young = table(
            "young_accounts",
            vec![uuid("account"), uuid("guardian"), string("name"), big_integer("since_ms")],
            &["account"],
        );
        belongs_to(&mut young, "young_accounts", "account", "accounts");
        create(manager, vec![young], vec![index("young_accounts", &["guardian"])]).await
    }
}
