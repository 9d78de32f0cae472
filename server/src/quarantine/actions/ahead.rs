//! What lies ahead of a keeper in their rooms, for their calendar and digest.

use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::coming::{Coming, RoomAhead, What, coming};
use crate::platform::ahead::{Event, When};
use crate::platform::{Ctx, Result};
use crate::rooms;

/// A look is drawn so that it ends when the gap would open.
const DRAWN_S: i64 = 30 * 60;

/// Everything with a time, of every room an account keeps. Rooms a steward only signs for are not theirs to carry
/// around.
pub async fn ahead(ctx: &Ctx, account: AccountId) -> Result<Vec<Event>> {
    let mut all = Vec::new();
    for room in rooms::store::rooms_of(&ctx.db.conn, account).await? {
        let ahead = coming(ctx, StreamId(room.stream)).await?;
        all.extend(ahead.coming.iter().filter(|c| c.what.is_in_calendars()).map(|c| event(&ahead, c)));
    }
    Ok(all)
}

fn event(room: &RoomAhead, coming: &Coming) -> Event {
    let at = coming.at.seconds();
    Event {
        id: Uuid::new_v5(&coming.unit.0, coming.what.word().as_bytes()),
        when: When::Moment(if coming.what == What::Gap { at - DRAWN_S } else { at }),
        when_words: room.wall.moment(at),
        at_s: at,
        title: coming.title.clone(),
        text: coming.words.clone(),
        place: Some(room.name.clone()),
        href: Some(format!("/units/{}/{}", room.room, coming.unit)),
        // Only an op moves anything, and each raises the head.
        version: u32::try_from(room.head).unwrap_or(u32::MAX),
        changed_s: room.received_ms.div_euclid(1000),
    }
}
