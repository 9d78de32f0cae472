//! Clubs, who belongs to them with which roles, and their rules.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let clubs = table("clubs", vec![uuid("id"), string_uniq("name"), big_integer("made_ms")], &["id"]);
        let mut club_members = table(
            "club_members",
            vec![uuid("club"), uuid("account"), big_integer("since_ms")],
            &["club", "account"],
        );
        belongs_to(&mut club_members, "club_members", "club", "clubs");
        belongs_to(&mut club_members, "club_members", "account", "accounts");
        let mut club_roles = table(
            "club_roles",
            vec![uuid("club"), uuid("account"), string("role"), big_integer("since_ms")],
            &["club", "account", "role"],
        );
        belongs_to(&mut club_roles, "club_roles", "club", "clubs");
        belongs_to(&mut club_roles, "club_roles", "account", "accounts");
        let mut club_rules = table(
            "club_rules",
            vec![
                uuid("club"),
                integer("version"),
                big_integer("from_ms"),
                text("rule"),
                uuid("adopted_by"),
                big_integer("adopted_ms"),
            ],
            &["club", "version"],
        );
        belongs_to(&mut club_rules, "club_rules", "club", "clubs");
        let invitations = table(
            "invitations",
            vec![
                blob("hash"),
                uuid_null("club"),
                string_null("role"),
                uuid_null("invited_by"),
                string_null("email"),
                big_integer("made_ms"),
                big_integer("expires_ms"),
                big_integer_null("used_ms"),
                uuid_null("used_by"),
            ],
            &["hash"],
        );
        let indices = vec![
            index("club_members", &["account"]),
            index("club_roles", &["account"]),
            index("invitations", &["club"]),
        ];
        create(manager, vec![clubs, club_members, club_roles, club_rules, invitations], indices).await
    }
}
