//! `tarn login`.

use clap::Args;
use serde_json::json;

use super::password::Password;
use crate::failure::{Failure, Outcome};
use crate::problem::words_of;
use crate::remote::{Trouble, log_in, server_address};
use crate::sync::session;
use crate::tarn::Tarn;

/// What a server says when it wants a code.
const CODE_NEEDED: &str = "second-factor-needed";

/// Logs in to a server. Records made before become that account's.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn login https://club.example --login mira\n  \
    tarn login https://club.example --login mira --password-stdin < password.txt\n  \
    tarn login https://club.example --login mira --code 287082")]
pub struct Login {
    /// The server's address
    url: String,
    /// Your login name
    #[arg(long, value_name = "NAME")]
    login: String,
    #[command(flatten)]
    password: Password,
    /// The code of your second factor, or a recovery code; each is good once. Asked for on a terminal
    #[arg(long, value_name = "CODE")]
    code: Option<String>,
}

impl Login {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let server = server_address(&self.url)?;
        let password = self.password.read(tarn, false)?;
        let first = log_in(&server, &self.login, &password, self.code.as_deref());
        let opened = match first {
            Err(Trouble::Problem(problem)) if problem.code() == CODE_NEEDED => {
                log_in(&server, &self.login, &password, Some(&ask_for_code(tarn)?))
            }
            other => other,
        };
        let opened = opened.map_err(|trouble| match trouble {
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

fn ask_for_code(tarn: &Tarn) -> Outcome<String> {
    if !tarn.out.may_ask() {
        let why = "this account has a second factor, and nobody can be asked for its code here";
        return Err(Failure::needs_login(why).hint("--code CODE"));
    }
    rpassword::prompt_password("Code: ").map_err(Failure::refused)
}
