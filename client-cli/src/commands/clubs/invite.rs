//! `tarn club invite`.

use clap::Args;
use serde_json::json;

use super::list::club_id;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Invites somebody into a club. The token is shown this once.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn club invite --email jonas@example.org --role health_steward")]
pub struct Invite {
    /// Which club, if you are in several
    club: Option<String>,
    /// Where they get mail
    #[arg(long)]
    email: Option<String>,
    /// A role beside being a member: health_steward, librarian, booking_clerk, recorder, treasurer, secretary
    #[arg(long)]
    role: Option<String>,
}

impl Invite {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let club = club_id(&mut remote, self.club.as_deref())?;
        let mut body = json!({});
        if let Some(email) = self.email {
            body["email"] = json!(email);
        }
        if let Some(role) = self.role {
            body["role"] = json!(role);
        }
        let answer = remote.post(&format!("clubs/{club}/invitations"), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        let server = remote.session().server.clone();
        tarn.out.line(answer["token"].as_str().unwrap_or_default())?;
        tarn.out.say(&format!(
            "They accept with: tarn join {server} TOKEN --login NAME --email ADDRESS (good until {})",
            answer["expires_at"].as_str().unwrap_or_default()
        ));
        Ok(())
    }
}
