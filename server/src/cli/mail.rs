//! `tarn-server mail send`: what is due is told and what waits is sent, now and once.

use clap::Subcommand;

use super::Done;
use crate::app;
use crate::platform::config::{Config, ServeSettings, Settings};
use crate::platform::{Ctx, jobs, mail};

/// Arguments of `mail`.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Do the work that is due and send the mail that waits, once; a server does both by itself
    Send(ServeSettings),
}

/// Runs it.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let Command::Send(serve) = &args.command;
    let ctx = Ctx::open(Config::load(settings, serve)?).await.map_err(|err| err.to_string())?;
    app::prepare(&ctx);
    jobs::begin_rounds(&ctx).await.map_err(|err| err.to_string())?;
    jobs::run_due(&ctx).await.map_err(|err| err.to_string())?;
    if ctx.post.is_none() {
        eprintln!("No mail is sent: mail_url is not set.");
        return Ok(());
    }
    let round = mail::send_waiting(&ctx).await.map_err(|err| err.to_string())?;
    super::print(&format!("sent {}, later {}, given up {}\n", round.sent, round.later, round.given_up))
}
