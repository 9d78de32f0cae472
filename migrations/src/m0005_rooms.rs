//! Rooms, their keepers, and what is asked across rooms.

use sea_orm_migration::sea_orm::DbBackend;
use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let rooms = table(
            "rooms",
            vec![
                uuid("stream"),
                string("name"),
                string("zone"),
                uuid_null("home_club"),
                big_integer("made_ms"),
            ],
            &["stream"],
        );
        let room_keepers = table(
            "room_keepers",
            vec![uuid("room"), uuid("account"), big_integer("since_ms"), big_integer_null("until_ms")],
            &["room", "account"],
        );
        let room_tanks = table(
            "room_tanks",
            vec![
                uuid("stream"),
                uuid("tank"),
                string("name"),
                string_null("stand"),
                string_null("shelf"),
                string_null("place"),
                big_integer_null("volume_ml"),
                uuid_null("system"),
            ],
            &["stream", "tank"],
        );
        let mut room_stocks = table(
            "room_stocks",
            vec![
                uuid("stream"),
                uuid("stock"),
                string("name"),
                string_null("species"),
                string_null("kind"),
                big_integer("males"),
                big_integer("females"),
                big_integer("unsexed"),
                big_integer("eggs"),
                big_integer("any_debt"),
                big_integer("total"),
                uuid_null("tank"),
                text("rows"),
            ],
            &["stream", "stock"],
        );
        let mut room_stays = table(
            "room_stays",
            vec![
                uuid("stream"),
                uuid("stock"),
                integer("ordinal"),
                big_integer("from_s"),
                big_integer_null("until_s"),
                uuid_null("tank"),
                boolean("doubtful"),
            ],
            &["stream", "stock", "ordinal"],
        );
        let room_plumbing = table(
            "room_plumbing",
            vec![
                uuid("stream"),
                uuid("tank"),
                integer("ordinal"),
                big_integer("from_s"),
                big_integer_null("until_s"),
                uuid_null("system"),
            ],
            &["stream", "tank", "ordinal"],
        );
        // Written with every push: on SQLite without a second tree for the key.
        if manager.get_database_backend() == DbBackend::Sqlite {
            room_stays.extra("WITHOUT ROWID");
        } else {
            // Their rows change all the time: with room in a page a change stays there and no index moves.
            room_stays.extra("WITH (fillfactor = 70)");
            room_stocks.extra("WITH (fillfactor = 40)");
        }
        let indices = vec![index("rooms", &["home_club"]), index("room_keepers", &["account"])];
        create(
            manager,
            vec![rooms, room_keepers, room_tanks, room_stocks, room_stays, room_plumbing],
            indices,
        )
        .await
    }
}
