//! Tells the people of a room what they must know in time. Only tells: a day that is over clears nothing.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use tarn_domain::streams::{AccountId, StreamId, parse_uuid};

use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Line};
use crate::platform::{Job, Result, Write};
use crate::quarantine::actions::coming::{Coming, RoomAhead, coming};
use crate::quarantine::store;
use crate::rooms;

/// The round that finds rooms to look at.
pub const ROUND: &str = "quarantine.round";
/// How often it comes.
pub const ROUND_MS: i64 = 60_000;
/// The job that looks at one room: `{room}`.
pub const TELL: &str = "quarantine.tell";

/// Queues a look at every room whose stream has moved since the last one, or in which time alone brings something.
/// One job a room, so that nobody's write waits for all of them.
pub async fn round(w: &mut Write, _: Value) -> Result<()> {
    for room in store::rooms_to_look_at(w.tx(), w.now).await? {
        w.enqueue(Job::new(TELL, json!({"room": room})));
    }
    Ok(())
}

/// Looks at a room, and tells what is to be told.
pub async fn tell(w: &mut Write, payload: Value) -> Result<()> {
    let room = payload.get("room").and_then(Value::as_str).and_then(parse_uuid).map(StreamId);
    let Some(room) = room else { return Ok(()) };
    let ahead = match coming(w.ctx(), room).await {
        Ok(ahead) => ahead,
        Err(problem) if problem.kind() == &NOT_FOUND => return Ok(()),
        Err(problem) => return Err(problem),
    };
    let keepers: BTreeSet<AccountId> = rooms::store::keepers(w.tx(), room)
        .await?
        .into_iter()
        .filter(|(_, until)| until.is_none())
        .map(|(id, _)| id)
        .collect();
    let now_s = w.now.div_euclid(1000);
    for told in ahead.coming.iter().filter(|coming| coming.is_told_at(now_s)) {
        for keeper in &keepers {
            say(w, &ahead, told, *keeper, format!("/units/{room}/{}", told.unit)).await?;
        }
        if told.what.is_for_stewards() {
            for steward in stewards(w, told, &keepers).await? {
                say(w, &ahead, told, steward, format!("/sign-off/{room}/{}", told.unit)).await?;
            }
        }
    }
    store::looked_at(w.tx(), room, ahead.head, ahead.next_ms()).await
}

/// Those who may sign: not who keeps the room.
async fn stewards(w: &Write, told: &Coming, keepers: &BTreeSet<AccountId>) -> Result<BTreeSet<AccountId>> {
    let mut all = BTreeSet::new();
    for club in &told.clubs {
        all.extend(store::stewards_in(w.tx(), *club).await?);
    }
    Ok(&all - keepers)
}

async fn say(w: &Write, room: &RoomAhead, told: &Coming, to: AccountId, href: String) -> Result<()> {
    let text = format!("{}, in {}. {}", told.name, room.name, told.words);
    messages::tell(w, Line { account: to.0, fact: &told.fact(), text: &text, href: Some(href) }).await
}
