//! `tarn join`: accepts an invitation.

use clap::Args;
use serde_json::json;

use super::password::Password;
use crate::failure::Outcome;
use crate::remote::{join, server_address};
use crate::sync::session;
use crate::tarn::Tarn;

/// Accepts an invitation: makes your account and logs in.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn join https://club.example TOKEN --login mira --email mira@example.org --name \"Mira K.\""
)]
pub struct Join {
    /// The server's address
    url: String,
    /// The invitation's token
    #[arg(allow_hyphen_values = true)]
    token: String,
    /// The login name you want
    #[arg(long, value_name = "NAME")]
    login: String,
    /// Where you get mail
    #[arg(long, default_value_t)]
    email: String,
    /// The name others read [default: the login name]
    #[arg(long)]
    name: Option<String>,
    #[command(flatten)]
    password: Password,
}

impl Join {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let server = server_address(&self.url)?;
        let password = self.password.read(tarn, true)?;
        // what was copied may be the whole link
        let token = self.token.trim_end_matches('/').rsplit(['/', '=']).next().unwrap_or(&self.token);
        let opened = join(
            &server,
            &json!({
                "token": token, "login_name": self.login, "email": self.email,
                "shown_name": self.name.as_ref().unwrap_or(&self.login), "password": password,
            }),
        )?;
        session::take(tarn, &opened)?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "account": opened.account, "login_name": opened.login_name }));
        }
        tarn.out.say(&format!("Welcome, {}. Next: tarn sync", opened.login_name));
        Ok(())
    }
}
