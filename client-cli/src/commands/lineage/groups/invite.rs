//! `tarn line group invite`.

use clap::Args;
use serde_json::json;

use super::{name, one, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Asks a keeper into a line group. They agree or not.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn line group invite jonas\n  tarn line group invite jonas --group Campo"
)]
pub struct Invite {
    /// The other's login name
    login: String,
    /// Which group, if you are in several
    #[arg(long)]
    group: Option<String>,
}

impl Invite {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let group = one(&mut remote, self.group.as_deref())?;
        let login = self.login.trim().to_lowercase();
        remote
            .post(&format!("line-groups/{}/invitations", text(&group, "id")), &json!({ "login": login }))?;
        tarn.out.say(&format!("{login} is asked into {}.", name(&group)));
        Ok(())
    }
}
