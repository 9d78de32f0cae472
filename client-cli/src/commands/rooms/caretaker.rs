//! `tarn room caretaker`, `tarn room take-over`: who acts for a room's keepers. Needs the server, which knows them.

use clap::Args;
use serde_json::{Value, json};

use crate::failure::{Failure, Outcome};
use crate::sync::session;
use crate::tarn::Tarn;

/// Names who acts for you in illness or death.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn room caretaker otto\n  tarn room caretaker --nobody")]
pub struct Caretaker {
    /// Their login name
    #[arg(required_unless_present = "nobody")]
    login: Option<String>,
    /// Name nobody any more
    #[arg(long, conflicts_with = "login")]
    nobody: bool,
}

impl Caretaker {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        let Some(login) = self.login else {
            remote.delete(&format!("rooms/{}/caretaker", room.id))?;
            tarn.out.say(&format!("{} has no caretaker.", room.name));
            return Ok(());
        };
        let login = login.trim().to_lowercase();
        if !login.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b)) {
            return Err(Failure::wrong_use(format!("{login:?} is no login name")));
        }
        remote.put(&format!("rooms/{}/caretaker/{login}", room.id), &json!({}))?;
        tarn.out.say(&format!("{login} acts for you in {} when you can’t.", room.name));
        Ok(())
    }
}

/// Acts as caretaker of a room from now on.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn room take-over              which rooms you are caretaker of\n  tarn room take-over \"Cellar room\""
)]
pub struct TakeOver {
    /// The room's name, or the beginning of its id
    room: Option<String>,
}

impl TakeOver {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let all = remote.get("caretaking")?;
        let rooms: Vec<&Value> = all["rooms"].as_array().into_iter().flatten().collect();
        let text = |room: &Value, field: &str| room[field].as_str().unwrap_or_default().to_owned();
        let Some(wanted) = self.room else {
            if tarn.out.is_json() {
                return tarn.out.data(&json!(rooms));
            }
            let keepers = |room: &Value| {
                room["keepers"]
                    .as_array()
                    .into_iter()
                    .flatten()
                    .filter_map(Value::as_str)
                    .collect::<Vec<_>>()
                    .join(", ")
            };
            let rows = rooms.iter().map(|room| {
                let acts = if room["acting_since"].is_string() { "you act" } else { "" };
                vec![text(room, "name"), keepers(room), acts.to_owned(), text(room, "stream")]
            });
            return tarn.out.table(&["room", "keepers", "", "id"], rows.collect());
        };
        let fits = |room: &&&Value| text(room, "name") == wanted || text(room, "stream").starts_with(&wanted);
        let found: Vec<_> = rooms.iter().filter(fits).collect();
        let [room] = found[..] else {
            let why = if found.is_empty() {
                "you are caretaker of no room called"
            } else {
                "several rooms are called"
            };
            return Err(Failure::refused(format!("{why} {wanted}")).hint("tarn room take-over lists them."));
        };
        remote.post(&format!("rooms/{}/taking-over", text(room, "stream")), &json!({}))?;
        tarn.out.say(&format!(
            "You keep {} from now on; its keepers are told. tarn sync brings its records.",
            text(room, "name")
        ));
        Ok(())
    }
}
