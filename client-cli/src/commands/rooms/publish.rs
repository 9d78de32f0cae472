//! `tarn room publish`: needs the server, which shows the list to others.

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// To whom a stock list goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum To {
    /// Nobody
    Nobody,
    /// The members of your clubs
    Club,
    /// Everybody who is signed in
    Everyone,
}

/// Publishes the stock of the room that may leave, or takes the list back. Tanks, notes and places stay with you.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn room publish --to club --name\n  tarn room publish --to nobody\n  tarn room publish"
)]
pub struct Publish {
    /// Who sees the list; without it you are told who does
    #[arg(long)]
    to: Option<To>,
    /// Your shown name stands on it
    #[arg(long, requires = "to", conflicts_with = "no_name")]
    name: bool,
    /// "A keeper of" and your club stand on it [default, unless your name stands on it already]
    #[arg(long, requires = "to")]
    no_name: bool,
}

impl Publish {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        let path = format!("rooms/{}/published", room.id);
        let mut set = remote.get(&path)?;
        if let Some(to) = self.to {
            let word = to.to_possible_value().map_or_else(String::new, |value| value.get_name().to_owned());
            let with_name = self.name || (!self.no_name && set["name"].is_string());
            let version = set["version"].as_i64().unwrap_or_default();
            set = remote.change(&path, &json!({ "to": word, "with_name": with_name }), version)?;
        }
        if tarn.out.is_json() {
            return tarn.out.data(&set);
        }
        tarn.out.line(&said(&set))
    }
}

/// Who sees the list, and as whose.
fn said(set: &Value) -> String {
    let who = set["who"].as_str().unwrap_or_default();
    let clubs: Vec<&str> = set["clubs"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    match set["to"].as_str() {
        Some("club") if clubs.is_empty() => "The stock list goes to nobody: you are in no club.".into(),
        Some("club") => format!("The stock list goes to the members of {}, as of {who}.", clubs.join(", ")),
        Some("everyone") => format!("The stock list goes to everybody who is signed in, as of {who}."),
        _ => "The stock list goes to nobody.".into(),
    }
}
