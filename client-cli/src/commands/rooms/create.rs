//! `tarn room create`: a room made here; the next sync tells the server.

use clap::Args;
use serde_json::json;
use tarn_domain::streams::{DeviceId, StreamId};

use crate::clock;
use crate::commands::arguments::name;
use crate::failure::{Failure, Outcome};
use crate::store::{NewStream, StoreError};
use crate::tarn::{ROOM_IN_USE, Tarn};
use crate::when::Zone;

/// Makes a room and uses it from now on.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room create \"Cellar\" --zone Europe/Berlin")]
pub struct Create {
    /// What it is called
    name: String,
    /// The zone of the clock on its wall, as Europe/Berlin, UTC or +02:00
    #[arg(long, default_value = "UTC")]
    zone: String,
}

impl Create {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let name = name(&self.name)?;
        let zone: Zone = self.zone.parse().map_err(Failure::wrong_use)?;
        if tarn.rooms()?.iter().any(|r| r.name.to_lowercase() == name.to_lowercase()) {
            return Err(Failure::refused(format!("there is a room {name:?} already")));
        }
        let id = StreamId(clock::new_id());
        let new = NewStream {
            id,
            kind: "room".into(),
            name: name.clone(),
            zone: zone.to_string(),
            rights: "write".into(),
            device: DeviceId(clock::new_id()),
            on_server: false,
        };
        tarn.store.write::<_, StoreError>(|work| {
            work.keep_stream(&new)?;
            work.set(ROOM_IN_USE, Some(&id.to_string()))
        })?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "room": id, "name": name, "zone": new.zone }));
        }
        tarn.out.say(&format!("Made the room {name}; it is in use from now on."));
        Ok(())
    }
}
