//! `tarn-server account reset`: the operator's way back in for somebody.

use clap::Subcommand;

use super::Done;
use crate::accounts::actions::{self, reset_password};
use crate::clubs::actions::tell_officers_of;
use crate::platform::Ctx;
use crate::platform::config::Settings;

/// Arguments of `account`.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Give an account a new password, which goes to stdout, take its second factor away, and end its sessions
    Reset(Reset),
}

#[derive(clap::Args)]
struct Reset {
    /// What the person signs in with
    #[arg(long, value_name = "NAME")]
    login: String,
}

/// Runs it.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let Command::Reset(reset) = &args.command;
    let ctx = Ctx::open(super::offline(settings)?).await.map_err(|err| err.to_string())?;
    let told = |no: crate::platform::Problem| no.sentence().to_owned();
    let actions::Reset { account, password, had_factor } =
        reset_password(&ctx, &reset.login).await.map_err(told)?;
    let what =
        if had_factor { "reset the password and took away the second factor" } else { "reset the password" };
    tell_officers_of(&ctx, account.id, &format!("The operator {what} of {}.", account.login_name))
        .await
        .map_err(told)?;
    let factor = if had_factor { " The second factor is gone; set it up anew." } else { "" };
    eprintln!(
        "The sessions of {} have ended.{factor} The new password, to be changed after signing in:",
        account.login_name
    );
    super::print(&format!("{password}\n"))
}
