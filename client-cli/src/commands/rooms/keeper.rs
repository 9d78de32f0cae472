//! `tarn room add-keeper`: needs the server, which knows the accounts.

use clap::Args;

use crate::failure::{Failure, Outcome};
use crate::sync::session;
use crate::tarn::Tarn;

/// Lets another account keep the room with you.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room add-keeper jonas")]
pub struct AddKeeper {
    /// The other's login name
    login: String,
}

impl AddKeeper {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        let login = self.login.trim().to_lowercase();
        if !login.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b)) {
            return Err(Failure::wrong_use(format!("{login:?} is no login name")));
        }
        remote.put(&format!("rooms/{}/keepers/{login}", room.id), &serde_json::json!({}))?;
        tarn.out.say(&format!("{login} keeps {} with you from now on.", room.name));
        Ok(())
    }
}
