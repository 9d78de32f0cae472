//! Somebody's messages: listed, and marked as read.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use crate::entities::messages::Model;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Place};
use crate::platform::{Ctx, Problem, Result, write};

/// A piece of somebody's list.
pub struct Messages {
    /// The newest first.
    pub lines: Vec<Model>,
    /// How many of the whole list are unread.
    pub unread: u64,
    /// Where the list goes on.
    pub next: Option<String>,
}

/// A place in a list as it is handed out.
pub fn cursor((made, id): Place) -> String {
    URL_SAFE_NO_PAD.encode([&made.to_be_bytes()[..], id.as_bytes()].concat())
}

/// A place that was handed out.
pub fn place_of(cursor: &str) -> Option<Place> {
    let bytes = URL_SAFE_NO_PAD.decode(cursor).ok()?;
    let (made, id) = bytes.split_first_chunk()?;
    Some((i64::from_be_bytes(*made), Uuid::from_slice(id).ok()?))
}

/// An account's messages after a place.
pub async fn messages(
    ctx: &Ctx,
    account: Uuid,
    after: Option<Place>,
    unread: bool,
    most: u64,
) -> Result<Messages> {
    let snapshot = ctx.db.snapshot().await?;
    let mut lines = messages::newest(&snapshot, account, after, unread, most + 1).await?;
    let there_is_more = lines.len() as u64 > most;
    lines.truncate(usize::try_from(most).unwrap_or(usize::MAX));
    let last = lines.last().filter(|_| there_is_more);
    let next = last.map(|line| cursor((line.made_ms, line.id)));
    let unread = messages::unread(&snapshot, account).await?;
    snapshot.commit().await?;
    Ok(Messages { lines, unread, next })
}

/// Marks one of the caller's messages as read.
///
/// # Errors
/// `not-found` for another's.
pub async fn read_message(ctx: &Ctx, who: &SignedIn, id: Uuid) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        if messages::mark_read(w, who.account, id).await? { Ok(()) } else { Err(Problem::new(&NOT_FOUND)) }
    })
    .await
}

/// Marks all that the caller's page showed as read: what came meanwhile stays unread.
pub async fn read_messages(ctx: &Ctx, who: &SignedIn, until_ms: i64) -> Result<()> {
    write(ctx, &who.actor(), async |w| messages::mark_all_read(w, who.account, until_ms).await).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_found_again() {
        let place = (1_778_148_000_123, Uuid::from_u128(7));
        assert_eq!(place_of(&cursor(place)), Some(place));
        for wrong in ["", "x", "AAAA", "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", "=="] {
            assert_eq!(place_of(wrong), None, "{wrong}");
        }
    }
}
