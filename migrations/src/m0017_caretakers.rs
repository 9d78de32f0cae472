//! Who acts for the keepers of a room in illness or death.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let caretakers = table(
            "room_caretakers",
            vec![
                uuid("room"),
                uuid("account"),
                uuid("named_by"),
                big_integer("named_ms"),
                big_integer_null("acting_ms"),
            ],
            &["room"],
        );
        create(manager, vec![caretakers], vec![index("room_caretakers", &["account"])]).await
    }
}
