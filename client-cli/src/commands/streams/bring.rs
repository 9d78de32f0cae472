//! `tarn import --as-new`: a room that was kept on another server goes to the one that is logged in to. What the keeper
//! wrote goes along as it was written; what the other server decided is kept to be read.

use serde::Deserialize;
use serde_json::{Value, json};
use tarn_domain::streams::{EpochId, StreamId};

use super::entries::{self, AT_ONCE};
use crate::failure::{Failure, Outcome};
use crate::remote::{Remote, Trouble};
use crate::store::Outgoing;
use crate::sync::{self, session};
use crate::tarn::Tarn;

/// The room, as the folder tells of it.
#[derive(Debug)]
pub struct Room {
    pub stream: StreamId,
    pub name: String,
    pub zone: String,
    /// The server that it was kept on.
    pub server: Option<String>,
    /// Its epoch there; none if it was never there.
    pub epoch: Option<EpochId>,
    /// Its head there.
    pub head: u64,
}

#[derive(Debug, Deserialize)]
struct Taken {
    results: Vec<Value>,
}

/// Brings the room; entries that the server refuses stop it before its end, unless they are to be left out.
///
/// # Errors
/// The server's no, or that there is none.
pub fn bring(tarn: &mut Tarn, room: &Room, ops: &[Outgoing], leave_out: bool) -> Outcome {
    let Some(epoch) = room.epoch else {
        return Err(Failure::refused(
            "this room was never on a server; nothing of it has to come along as history",
        )
        .hint("tarn import FOLDER, then tarn sync"));
    };
    let mut remote = session::open(tarn)?;
    if tarn.store.streams()?.iter().any(|here| here.id == room.stream) {
        return Err(Failure::refused(format!("{} is here already", room.name))
            .hint("Log in to the other server first: tarn login ADDRESS"));
    }
    make(&mut remote, room)?;
    let mut refused = Vec::new();
    let bar = tarn.out.bar(&room.name, ops.len() as u64);
    for (i, some) in ops.chunks(AT_ONCE).enumerate() {
        let body = json!({ "ops": entries::texts(some)? });
        let body = serde_json::to_string(&body).map_err(Failure::refused)?;
        let taken: Taken = remote.post_text(&format!("streams/{}/history", room.stream), body)?;
        refused.extend(entries::refused(&taken.results));
        bar.done((i * AT_ONCE + some.len()) as u64);
    }
    drop(bar);
    entries::say(&tarn.out, &refused);
    if !refused.is_empty() && !leave_out {
        let says = format!(
            "the server refused {} of {} entries; the room is not all there",
            refused.len(),
            ops.len()
        );
        return Err(Failure::refused(says).hint("To go on without them: the same with --leave-out-refused"));
    }
    let mut end = json!({ "epoch": epoch, "head": room.head });
    if let Some(server) = &room.server {
        end["server"] = json!(server);
    }
    remote.post(&format!("streams/{}/history/end", room.stream), &end)?;
    drop(remote);
    sync::all(tarn)?;
    let brought = ops.len() - refused.len();
    if tarn.out.is_json() {
        return tarn.out.data(
            &json!({ "room": room.stream, "entries": ops.len(), "brought": brought, "refused": refused }),
        );
    }
    tarn.out.say(&format!(
        "{}: {brought} of {} entries are here. tarn room use \"{}\"",
        room.name,
        ops.len(),
        room.name
    ));
    tarn.out.say(
        "Fish that had come in count as established from today: they wait the days of the rule before they may leave. \
         What was signed off on the other server is shown and clears nothing here.",
    );
    Ok(())
}

/// Makes the room on the server, under the id that it had.
fn make(remote: &mut Remote, room: &Room) -> Outcome {
    match remote.post("rooms", &json!({ "id": room.stream, "name": room.name, "zone": room.zone })) {
        Ok(_) => Ok(()),
        Err(Trouble::Problem(problem)) if problem.code() == "room-taken" => {
            Err(Failure::refused("this room is on this server already, and another keeps it"))
        }
        Err(trouble) => Err(trouble.into()),
    }
}
