//! The clubs' notice boards, the threads between two members, and swaps.

use sea_orm_migration::{prelude::*, schema::*};

use crate::build::{belongs_to, create, index, table};

#[derive(DeriveMigrationName)]
pub struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut boards = table("club_boards", vec![uuid("club"), integer("notice_days")], &["club"]);
        belongs_to(&mut boards, "club_boards", "club", "clubs");
        let indices = vec![
            index("notices", &["state", "made_ms"]),
            index("notices", &["author"]),
            index("threads", &["notice", "guest"]).unique().take(),
            index("threads", &["host"]),
            index("threads", &["guest"]),
            index("thread_lines", &["thread", "made_ms"]),
            index("swaps", &["state", "ends_ms"]),
            index("swaps", &["thread"]),
            index("swaps", &["proposer"]),
            index("swaps", &["other"]),
        ];
        create(manager, vec![boards, notices(), threads(), lines(), swaps(), rows()], indices).await
    }
}

fn notices() -> TableCreateStatement {
    let mut notices = table(
        "notices",
        vec![
            uuid("id"),
            uuid("author"),
            uuid("club"),
            text("kind"),
            text("species"),
            text_null("form"),
            uuid_null("room"),
            uuid_null("stock"),
            big_integer("males"),
            big_integer("females"),
            big_integer("unsexed"),
            big_integer("eggs"),
            big_integer_null("price_minor"),
            text_null("currency"),
            text_null("exchange"),
            text("area"),
            boolean("pickup"),
            boolean("posting"),
            text_null("remarks"),
            boolean("all_clubs"),
            text("state"),
            text_null("why"),
            text("words"),
            integer("version"),
            big_integer("made_ms"),
            big_integer("changed_ms"),
            big_integer("ends_ms"),
        ],
        &["id"],
    );
    belongs_to(&mut notices, "notices", "author", "accounts");
    belongs_to(&mut notices, "notices", "club", "clubs");
    notices
}

fn threads() -> TableCreateStatement {
    let mut threads = table(
        "threads",
        vec![
            uuid("id"),
            uuid_null("notice"),
            uuid("host"),
            uuid("guest"),
            text_null("about"),
            big_integer("made_ms"),
            big_integer("last_ms"),
        ],
        &["id"],
    );
    belongs_to(&mut threads, "threads", "notice", "notices");
    belongs_to(&mut threads, "threads", "host", "accounts");
    belongs_to(&mut threads, "threads", "guest", "accounts");
    threads
}

fn lines() -> TableCreateStatement {
    let columns = vec![uuid("id"), uuid("thread"), uuid("author"), text("text"), big_integer("made_ms")];
    let mut lines = table("thread_lines", columns, &["id"]);
    belongs_to(&mut lines, "thread_lines", "thread", "threads");
    lines
}

fn swaps() -> TableCreateStatement {
    let mut swaps = table(
        "swaps",
        vec![
            uuid("id"),
            uuid("thread"),
            uuid("proposer"),
            uuid("other"),
            uuid_null("answers"),
            uuid_null("answered_by"),
            text_null("give_words"),
            text_null("ask_words"),
            text("state"),
            uuid_null("give_parcel"),
            uuid_null("ask_parcel"),
            big_integer("made_ms"),
            big_integer("changed_ms"),
            big_integer("ends_ms"),
        ],
        &["id"],
    );
    belongs_to(&mut swaps, "swaps", "thread", "threads");
    swaps
}

fn rows() -> TableCreateStatement {
    let mut rows = table(
        "swap_rows",
        vec![
            uuid("swap"),
            integer("ordinal"),
            boolean("asked"),
            uuid_null("room"),
            uuid_null("stock"),
            uuid_null("notice"),
            text("species"),
            text_null("form"),
            big_integer("males"),
            big_integer("females"),
            big_integer("unsexed"),
            big_integer("eggs"),
        ],
        &["swap", "ordinal"],
    );
    belongs_to(&mut rows, "swap_rows", "swap", "swaps");
    rows
}
