//! `tarn state`: the folded state, canonically.

use clap::Args;
use tarn_domain::state::RoomText;

use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Prints the room's whole state as RFC 8785 JSON. Two devices that hold the same entries print the same bytes.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn state --json | sha256sum")]
pub struct State {}

impl State {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut text = RoomText::default();
        for (entity, state) in tarn.store.states(&room, &[])? {
            text.add(entity, &state);
        }
        tarn.out.raw(&text.finish())
    }
}
