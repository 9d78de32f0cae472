//! `tarn login`.

use clap::Args;
use serde_json::json;

use super::password::Password;
use crate::failure::{Failure, Outcome};
use crate::problem::words_of;
use crate::remote::{Trouble, log_in, server_address};
use crate::sync::session;
use crate::tarn::Tarn;

/// Logs in to a server. Records made before become that account's.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn login https://club.example --login mira\n  \
    tarn login https://club.example --login mira --password-stdin < password.txt")]
pub struct Login {
    /// The server's address
    url: String,
    /// Your login name
    #[arg(long, value_name = "NAME")]
    login: String,
    #[command(flatten)]
    password: Password,
}

impl Login {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let server = server_address(&self.url)?;
        let password = self.password.read(tarn, false)?;
        let opened = log_in(&server, &self.login, &password).map_err(|trouble| match trouble {
            Trouble::Problem(problem) if problem.status == 401 => {
                Failure::needs_login(words_of(&problem.value)).hint("Check the login name and the password.")
            }
            other => other.into(),
        })?;
        session::take(tarn, &opened)?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "account": opened.account, "login_name": opened.login_name }));
        }
        tarn.out.say(&format!("Logged in as {}. Next: tarn sync", opened.login_name));
        Ok(())
    }
}
