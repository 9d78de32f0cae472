//! `tarn-server officer add`: a club and its officers, at any time.

use clap::Subcommand;
use tarn_domain::clubs::Role;

use super::Done;
use crate::clubs::actions::{Added, add_officer};
use crate::platform::Ctx;
use crate::platform::config::Settings;
use crate::platform::html::day_and_time;

/// Arguments of `officer`.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Make somebody an officer of a club; the club is made if there is none of this name
    ///
    /// If nobody signs in with this name yet, an invitation that carries the roles goes to stdout: a link when
    /// public_url is set, otherwise its token.
    Add(Add),
}

#[derive(clap::Args)]
struct Add {
    /// What the person signs in with
    #[arg(long, value_name = "NAME")]
    login: String,
    /// The club's name
    #[arg(long, value_name = "CLUB")]
    club: String,
    /// secretary, health_steward, librarian, booking_clerk, recorder, treasurer; may be repeated
    #[arg(long = "role", value_name = "ROLE", default_value = "secretary")]
    roles: Vec<Role>,
}

/// Runs it.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let Command::Add(add) = &args.command;
    let ctx = Ctx::open(super::offline(settings)?).await.map_err(|err| err.to_string())?;
    let added =
        add_officer(&ctx, &add.login, &add.club, &add.roles).await.map_err(|no| no.sentence().to_owned())?;
    let words: Vec<String> = add.roles.iter().map(|role| role.words()).collect();
    let words = words.join(", ");
    match added {
        Added::Done { club } => {
            eprintln!("{} is an officer of {} now: {words}.", add.login, club.name);
            Ok(())
        }
        Added::Invited { club, invited } => {
            let until = day_and_time(invited.expires_ms);
            eprintln!(
                "Nobody signs in as {} yet. This invitation into {} ({words}) is good once, until {until}:",
                add.login, club.name
            );
            match &ctx.config.public_url {
                Some(url) => super::print(&format!("{url}/invitation?token={}\n", invited.token)),
                None => super::print(&format!("{}\n", invited.token)),
            }
        }
    }
}
