//! What stands on the boards that somebody may read.

use tarn_domain::parcels::NoticeKind;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::read::{NoticeLook, look};
use crate::accounts::actions::cursor;
use crate::parcels::actions::may_leave::Rooms;
use crate::parcels::store::notices::{self as store, Wanted};
use crate::platform::messages::Place;
use crate::platform::{Ctx, Result};
use crate::rooms;

/// More words than anybody types.
const MOST_WORDS: usize = 8;
/// How often more is fetched where much of what was found may not leave.
const MOST_FETCHES: usize = 10;

/// What is looked for.
#[derive(Default)]
pub struct Search {
    /// Words, all of which must be in it.
    pub words: String,
    /// Of one kind.
    pub kind: Option<NoticeKind>,
    /// On one club's board.
    pub club: Option<Uuid>,
    /// The account's own, whatever their state.
    pub mine: bool,
}

/// A piece of the list.
pub struct Board {
    /// Those put up last first.
    pub notices: Vec<NoticeLook>,
    /// Where the list goes on.
    pub next: Option<String>,
}

/// Notices after a place. What may not leave now is not among them, unless it is the account's own.
pub async fn board(
    ctx: &Ctx,
    account: AccountId,
    search: &Search,
    mut after: Option<Place>,
    most: usize,
) -> Result<Board> {
    let conn = &ctx.db.conn;
    let (clubs, now_ms) = (store::clubs_of(conn, account).await?, ctx.clock.now_ms());
    let plain = |word: &str| word.chars().filter(|c| !c.is_control()).collect::<String>().to_lowercase();
    let words: Vec<String> =
        search.words.split_whitespace().map(plain).filter(|word| !word.is_empty()).take(MOST_WORDS).collect();
    let wanted = Wanted {
        mine: search.mine,
        account,
        clubs: &clubs,
        kind: search.kind.map(NoticeKind::as_str),
        club: search.club,
        words: &words,
        now_ms,
    };
    let mut rooms = Rooms::new(ctx);
    let mut notices = Vec::new();
    let fetch = most as u64 + 1;
    for _ in 0..MOST_FETCHES {
        let rows = store::board(conn, &wanted, after, fetch).await?;
        let is_last = (rows.len() as u64) < fetch;
        let names = store::club_names(conn, rows.iter().map(|row| row.club)).await?;
        let people = rooms::store::people(conn, rows.iter().map(|row| AccountId(row.author))).await?;
        for row in rows {
            if notices.len() == most {
                return Ok(Board { notices, next: after.map(cursor) });
            }
            after = Some((row.made_ms, row.id));
            let called = (
                names.get(&row.club).cloned().unwrap_or_default(),
                people.get(&AccountId(row.author)).cloned().unwrap_or_default(),
            );
            let look = look(&mut rooms, account, row, called, now_ms).await?;
            if look.stands() || search.mine {
                notices.push(look);
            }
        }
        if is_last {
            return Ok(Board { notices, next: None });
        }
    }
    Ok(Board { notices, next: after.map(cursor) })
}
