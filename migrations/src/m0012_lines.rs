//! What keepers publish of their stock, and who keeps a line together.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let published = table(
            "published_rooms",
            vec![
                uuid("room"),
                string("audience"),
                uuid_null("named"),
                integer("version"),
                big_integer("changed_ms"),
            ],
            &["room"],
        );
        let groups = table(
            "line_groups",
            vec![uuid("id"), text("species"), text("line"), big_integer("made_ms")],
            &["id"],
        );
        let mut members = table(
            "line_group_members",
            vec![
                uuid("line_group"),
                uuid("account"),
                uuid_null("invited_by"),
                big_integer("invited_ms"),
                big_integer_null("joined_ms"),
            ],
            &["line_group", "account"],
        );
        belongs_to(&mut members, "line_group_members", "line_group", "line_groups");
        let indices =
            vec![index("published_rooms", &["audience"]), index("line_group_members", &["account"])];
        create(manager, vec![published, groups, members], indices).await
    }
}
