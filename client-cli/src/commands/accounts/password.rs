//! Reading a password: from standard input, or asked for on a terminal. Never from an argument, where others see it.

use std::io::Read;

use clap::Args;

use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Where the password comes from.
#[derive(Debug, Args)]
pub struct Password {
    /// Read the password from standard input
    #[arg(long)]
    password_stdin: bool,
}

impl Password {
    /// The password; `twice` asks for a new one.
    pub fn read(&self, tarn: &Tarn, twice: bool) -> Outcome<String> {
        if self.password_stdin {
            let mut text = String::new();
            std::io::stdin().lock().take(4096).read_to_string(&mut text).map_err(Failure::refused)?;
            let first = text.lines().next().unwrap_or_default().to_owned();
            return if first.is_empty() {
                Err(Failure::wrong_use("no password came on standard input"))
            } else {
                Ok(first)
            };
        }
        if !tarn.out.may_ask() {
            return Err(
                Failure::wrong_use("nobody can be asked for the password here").hint("--password-stdin")
            );
        }
        let first = rpassword::prompt_password("Password: ").map_err(Failure::refused)?;
        if twice && rpassword::prompt_password("Once more: ").map_err(Failure::refused)? != first {
            return Err(Failure::refused("the two are not the same"));
        }
        Ok(first)
    }
}
