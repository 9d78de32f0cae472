//! `tarn redact`: blanks words of an entry for good. The server decides it; the pull that follows blanks them here.

use clap::Args;
use serde_json::json;

use super::wrong::named;
use crate::failure::{Failure, Outcome};
use crate::remote::Trouble;
use crate::sync::{self, session};
use crate::tarn::Tarn;

/// Blanks words of an entry for good: here, on the server, and on every device when it syncs. The entry itself stays, and
/// what follows from it.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn redact 3f2a91c4\n  tarn redact 3f2a91c4 --field source")]
pub struct Redact {
    /// Which entry: its id, or the beginning or end of it (tarn history shows them)
    entry: String,
    /// Only this field; may be given several times
    #[arg(long = "field", value_name = "FIELD")]
    fields: Vec<String>,
}

impl Redact {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let line = named(tarn, &room, &self.entry)?;
        // the server blanks what it has
        synced(tarn)?;
        let ask = json!({ "entry": line.id, "fields": self.fields });
        let done = match session::open(tarn)?.post(&format!("streams/{}/redactions", room.id), &ask) {
            Ok(done) => done,
            Err(Trouble::Problem(problem)) if problem.status == 404 => {
                return Err(Failure::refused("the server does not have this entry, or not for you")
                    .hint("One that was refused is dropped: tarn sync drop ENTRY"));
            }
            Err(trouble) => return Err(trouble.into()),
        };
        synced(tarn)?;
        if tarn.out.is_json() {
            return tarn.out.data(&done);
        }
        let fields: Vec<&str> =
            done["fields"].as_array().into_iter().flatten().filter_map(|field| field.as_str()).collect();
        tarn.out.say(&format!("Blanked: {}. Other devices follow when they sync.", fields.join(", ")));
        Ok(())
    }
}

/// Syncs; also that one room could not be is a no, since this one may be it.
fn synced(tarn: &mut Tarn) -> Outcome {
    match &sync::all(tarn)?.failures[..] {
        [] => Ok(()),
        [first, ..] => Err(first.clone()),
    }
}
