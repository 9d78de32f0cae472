//! The second factor of an account, its recovery codes, and sign-ins that wait for a code.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut factors = table(
            "second_factors",
            vec![
                uuid("account"),
                blob("secret"),
                big_integer("made_ms"),
                big_integer_null("confirmed_ms"),
                big_integer_null("last_step"),
            ],
            &["account"],
        );
        belongs_to(&mut factors, "second_factors", "account", "accounts");
        let mut codes = table(
            "recovery_codes",
            vec![uuid("account"), blob("hash"), big_integer("made_ms"), big_integer_null("used_ms")],
            &["account", "hash"],
        );
        belongs_to(&mut codes, "recovery_codes", "account", "accounts");
        let mut pending = table(
            "pending_sign_ins",
            vec![blob("hash"), uuid("account"), big_integer("expires_ms")],
            &["hash"],
        );
        belongs_to(&mut pending, "pending_sign_ins", "account", "accounts");
        let indices = vec![index("pending_sign_ins", &["account"])];
        create(manager, vec![factors, codes, pending], indices).await
    }
}
