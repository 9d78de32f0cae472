//! The member list of a club, with or without logins; invitations that can be taken back.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

/// Whoever is a member already stands on the list.
const MEMBERS: &str = "INSERT INTO club_people (club, person, account, name, guest, lapsed, made_ms, version) \
    SELECT m.club, m.account, m.account, a.shown_name, FALSE, FALSE, m.since_ms, 1 \
    FROM club_members m JOIN accounts a ON a.id = m.account";

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut people = table(
            "club_people",
            vec![
                uuid("club"),
                uuid("person"),
                uuid_null("account"),
                string_null("number"),
                string("name"),
                string_null("email"),
                string_null("household"),
                boolean("guest"),
                string_null("paid_until"),
                boolean("lapsed"),
                big_integer("made_ms"),
                big_integer_null("left_ms"),
                integer("version"),
            ],
            &["club", "person"],
        );
        belongs_to(&mut people, "club_people", "club", "clubs");
        let indices = vec![index("club_people", &["club", "account"])];
        create(manager, vec![people], indices).await?;
        for column in ["id", "person"] {
            let column = uuid_null(column).take();
            manager.alter_table(Table::alter().table("invitations").add_column(column).take()).await?;
        }
        manager.get_connection().execute_unprepared(MEMBERS).await?;
        Ok(())
    }
}
