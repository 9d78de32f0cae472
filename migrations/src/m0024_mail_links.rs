//! Links that go out by mail: to prove an address, to take another password, to make an account.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut links = table(
            "mail_links",
            vec![
                blob("hash"),
                string("purpose"),
                uuid_null("account"),
                text("email"),
                big_integer("made_ms"),
                big_integer("expires_ms"),
            ],
            &["hash"],
        );
        belongs_to(&mut links, "mail_links", "account", "accounts");
        let indices = vec![index("mail_links", &["account"]), index("mail_links", &["email"])];
        create(manager, vec![links], indices).await
    }
}
