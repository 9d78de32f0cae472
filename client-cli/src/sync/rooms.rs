//! Which rooms the server and this device know of each other.

use std::collections::HashSet;

use serde::Deserialize;
use serde_json::json;
use tarn_domain::streams::{DeviceId, StreamId};

use crate::clock;
use crate::failure::{Failure, Outcome};
use crate::remote::{Remote, Trouble};
use crate::store::{NewStream, StoreError, StreamRow};
use crate::tarn::Tarn;

#[derive(Debug, Deserialize)]
struct Streams {
    streams: Vec<Listed>,
}

#[derive(Debug, Deserialize)]
struct Listed {
    stream: StreamId,
    kind: String,
    rights: String,
    name: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Rooms {
    rooms: Vec<Room>,
}

#[derive(Debug, Deserialize)]
struct Room {
    stream: StreamId,
    name: String,
    zone: String,
}

/// Takes in what streams the account has, and returns them.
///
/// # Errors
/// The server's no, or that there is none.
pub fn meet(tarn: &mut Tarn, remote: &mut Remote) -> Outcome<HashSet<StreamId>> {
    let listed: Streams = remote.get_as("streams")?;
    let rooms: Rooms = remote.get_as("rooms")?;
    let known = tarn.store.streams()?;
    let ids = listed.streams.iter().map(|s| s.stream).collect();
    tarn.store.write::<_, StoreError>(|work| {
        for stream in listed.streams {
            let room = rooms.rooms.iter().find(|r| r.stream == stream.stream);
            let here = known.iter().find(|s| s.id == stream.stream);
            work.keep_stream(&NewStream {
                id: stream.stream,
                name: match (room, stream.name, here) {
                    (Some(room), _, _) => room.name.clone(),
                    (None, Some(name), _) => name,
                    (None, None, Some(here)) => here.name.clone(),
                    (None, None, None) => format!("{} {}", stream.kind, crate::find::short(stream.stream.0)),
                },
                kind: stream.kind,
                zone: match (room, here) {
                    (Some(room), _) => room.zone.clone(),
                    (None, Some(here)) => here.zone.clone(),
                    (None, None) => "UTC".into(),
                },
                rights: stream.rights,
                device: here.map_or_else(|| DeviceId(clock::new_id()), |s| s.device),
                on_server: true,
            })?;
        }
        Ok(())
    })?;
    Ok(ids)
}

/// What the server says of a room that it did not name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Announced {
    /// It has it now.
    There,
    /// It was given up.
    Gone,
}

/// A room was given up, here or on another device: what is here stays, and is told once.
///
/// # Errors
/// The file.
pub fn gone(tarn: &mut Tarn, room: &StreamRow) -> Outcome {
    tarn.store.write::<_, StoreError>(|work| work.mark_gone(room.id))?;
    let words =
        "was given up: the server no longer has it. What is on this device stays here, and can be exported.";
    tarn.out.say(&format!("{} {words}", room.name));
    Ok(())
}

/// Tells the server of a room that it does not have: one that was made here, or one that a restore to an earlier time
/// took from it. Any device that may write the room does so, since the one that made it may be gone for ever. Whoever
/// comes first is the room's keeper again, also if that is a co-keeper, who can add the others. A device that could
/// only read it must not become its keeper. If the room is there but not this account's, the server says so.
///
/// # Errors
/// The server's no, or that there is none.
pub fn announce(tarn: &mut Tarn, remote: &mut Remote, room: &StreamRow) -> Outcome<Announced> {
    let not_yours = || {
        Failure::refused("the server has no such room for you any more; what is here is kept")
            .hint("For whoever keeps it: tarn sync refused --hand-over FILE")
    };
    if room.kind != "room" || room.rights != "write" {
        return Err(not_yours());
    }
    match remote.post("rooms", &json!({ "id": room.id, "name": room.name, "zone": room.zone })) {
        Ok(_) => Ok(Announced::There),
        Err(Trouble::Problem(problem)) if problem.code() == "stream-gone" => {
            gone(tarn, room)?;
            Ok(Announced::Gone)
        }
        Err(Trouble::Problem(problem)) if problem.code() == "room-taken" && room.on_server => Err(not_yours(
        )
        .hint("A keeper of it can add you, or take in what you wrote: tarn sync refused --hand-over FILE")),
        Err(trouble) => Err(trouble.into()),
    }
}
