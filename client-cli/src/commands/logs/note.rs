//! `tarn note write`. A note marked *here only* is no op: it is in no state, no digest, and never sent.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::NoteWritten;
use tarn_domain::streams::Entity;

use super::about::FishOf;
use crate::commands::arguments::When;
use crate::failure::{Failure, Outcome};
use crate::store::StoreError;
use crate::tarn::Tarn;

/// Writes a note.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn note write \"moved the heater\" --tank A1\n  \
    tarn note write \"ask about this one\" --stock Blue --here-only")]
pub struct Write {
    /// In your own words
    text: String,
    #[command(flatten)]
    of: FishOf,
    /// It stays on this device and is never sent
    #[arg(long)]
    here_only: bool,
    #[command(flatten)]
    when: When,
}

impl Write {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, tank) = self.of.find(tarn, &room)?;
        let text = self.text.trim().to_owned();
        if text.is_empty() {
            return Err(Failure::wrong_use("a note can't be empty"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        if !self.here_only {
            let recorded = tarn.record(&room, at, Body::NoteWritten(NoteWritten { stock, tank, text }))?;
            return tarn.tell(recorded, "Noted.", &[]);
        }
        let about = stock.map(Entity::from).or(tank.map(Entity::from));
        let at = at.map_or_else(|| tarn.now(), Ok)?;
        tarn.store.write::<_, StoreError>(|work| work.note_here(&room, about, at, &text))?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "here_only": true, "at": at }));
        }
        tarn.out.say("Noted, here only.");
        Ok(())
    }
}
