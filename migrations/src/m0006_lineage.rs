//! Broods, wherever their young have gone.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let broods = table(
            "broods",
            vec![uuid("id"), uuid("home_stream"), string("code"), string_null("species"), text("body")],
            &["home_stream", "id"],
        );
        let indices = vec![index("broods", &["id"])];
        create(manager, vec![broods], indices).await
    }
}
