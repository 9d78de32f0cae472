//! `tarn notice reply`.

use clap::Args;
use serde_json::json;

use super::{Named, named};
use crate::clock;
use crate::commands::parcels::online::text;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Replies to a notice, or answers in a thread about one. It goes through the server: both read shown names only.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn notice reply 3f2a91c4 \"Are there two females among them?\"")]
pub struct Reply {
    /// The notice or the thread: its id, or the beginning or end of it
    notice: String,
    /// What you write
    #[arg(required = true)]
    text: Vec<String>,
}

impl Reply {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let path = match named(&mut remote, &self.notice)? {
            Named::Notice(id) => format!("notices/{id}/replies"),
            Named::Thread(id) => format!("threads/{id}/lines"),
        };
        let answer = remote.post(&path, &json!({ "id": clock::new_id(), "text": self.text.join(" ") }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.line(&text(&answer, "thread"))?;
        tarn.out.say("Sent. What you two write stands under this thread: tarn notice show.");
        Ok(())
    }
}
