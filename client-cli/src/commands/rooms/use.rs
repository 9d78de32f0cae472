//! `tarn room use`.

use clap::Args;

use crate::failure::Outcome;
use crate::store::StoreError;
use crate::tarn::{ROOM_IN_USE, Tarn, find_room};

/// Uses a room from now on.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room use Cellar")]
pub struct Use {
    /// Its name or id, or the beginning of it
    which: String,
}

impl Use {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = find_room(&self.which, &tarn.rooms()?)?;
        let id = room.id.to_string();
        tarn.store.write::<_, StoreError>(|work| work.set(ROOM_IN_USE, Some(&id)))?;
        tarn.out.say(&format!("{} is in use from now on.", room.name));
        Ok(())
    }
}
