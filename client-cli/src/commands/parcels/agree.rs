//! `tarn parcel agree`: a steward lets fish in quarantine leave in one parcel. The server decides.

use clap::Args;
use serde_json::json;

use crate::clock;
use crate::commands::quarantine::find_unit;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lets the fish of a unit leave in one parcel to one keeper, since their room must be emptied. As a health steward.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn parcel agree 3f2a91c4 --to jonas --why \"the heating of the house is out for weeks\"",
    after_help = "Nothing is cleared: the days begin again at the receiver. Live transport and some species are regulated; \
    local law comes first."
)]
pub struct Agree {
    /// Which unit: its id, or the beginning or end of it
    unit: String,
    /// For whom, by login name
    #[arg(long, value_name = "LOGIN")]
    to: String,
    /// Why the fish can't stay
    #[arg(long)]
    why: String,
}

impl Agree {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let (room, _, unit) = find_unit(&mut remote, &self.unit)?;
        let body = json!({"id": clock::new_id(), "room": room, "to": self.to, "why": self.why});
        let answer = remote.post(&format!("quarantine/units/{unit}/parcel"), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        let parcel = answer["parcel"].as_str().unwrap_or_default();
        tarn.out.line(parcel)?;
        tarn.out.say(&format!(
            "Agreed. The keeper packs it with: tarn parcel pack --agreed {parcel} STOCK=NUMBERS"
        ));
        Ok(())
    }
}
