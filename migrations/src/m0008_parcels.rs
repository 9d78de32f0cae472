//! Fish on their way from one room to another.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let parcels = table(
            "parcels",
            vec![
                uuid("id"),
                uuid_null("giver_stream"),
                uuid_null("receiver_stream"),
                uuid_null("to_account"),
                string("state"),
                text_null("sent"),
                text_null("arrived"),
                big_integer_null("packed_ms"),
                big_integer_null("handed_ms"),
                big_integer_null("sent_ms"),
                big_integer_null("arrived_ms"),
            ],
            &["id"],
        );
        let indices = vec![
            index("parcels", &["giver_stream"]),
            index("parcels", &["receiver_stream"]),
            index("parcels", &["to_account"]),
        ];
        create(manager, vec![parcels], indices).await
    }
}
