//! `tarn room helper …`: links for who helps in a room without an account. Needs the server, which keeps them.

use clap::Args;
use serde_json::{Value, json};

use crate::failure::{Failure, Outcome};
use crate::remote::Remote;
use crate::sync::session;
use crate::tarn::Tarn;
use crate::when::Zone;

crate::commands::verbs! {
    /// `tarn room helper …`
    Helper {
        /// Make a link; it is shown this once
        Add(Add),
        /// The links to a room
        List(List),
        /// End a link at once
        End(End),
    }
}

fn text(value: &Value, field: &str) -> String {
    value[field].as_str().unwrap_or_default().to_owned()
}

/// A time of the server, as on the wall of the room.
fn shown(value: &Value, field: &str, zone: Zone) -> String {
    value[field].as_str().and_then(|at| at.parse().ok()).map_or_else(String::new, |at| zone.show(at))
}

fn helpers(remote: &mut Remote, room: &str) -> Outcome<Vec<Value>> {
    let told = remote.get(&format!("rooms/{room}/helpers"))?;
    Ok(told["helpers"].as_array().cloned().unwrap_or_default())
}

/// Makes a link to the room for who helps there without an account. The address is shown this once.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn room helper add \"Tilda next door\" --days 14\n  tarn room helper add Per --days 3 --tank A1 --tank A2"
)]
pub struct Add {
    /// Who helps; stands beside what they write
    name: String,
    /// For how many days it is good, 1 to 60
    #[arg(long, default_value_t = 14)]
    days: u8,
    /// Only these tanks; may be given several times
    #[arg(long = "tank")]
    tanks: Vec<String>,
}

impl Add {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tanks = self.tanks.iter().map(|typed| tarn.tank(&room, typed)).collect::<Outcome<Vec<_>>>()?;
        let mut remote = session::open(tarn)?;
        let mut body = json!({ "name": self.name, "days": self.days });
        if !tanks.is_empty() {
            body["tanks"] = json!(tanks);
        }
        let made = remote.post(&format!("rooms/{}/helpers", room.id), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&made);
        }
        tarn.out.line(&text(&made, "address"))?;
        tarn.out.say(&format!(
            "Send it to {}. It is good until {}, and is shown this once.",
            text(&made, "name"),
            shown(&made, "until", tarn.zone(&room))
        ));
        Ok(())
    }
}

/// Shows the links to the room.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room helper list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let helpers = helpers(&mut session::open(tarn)?, &room.id.to_string())?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "helpers": helpers }));
        }
        let zone = tarn.zone(&room);
        let rows = helpers.iter().map(|one| {
            let good = match (one["good"] == true, one["ended_at"].is_string()) {
                (true, _) => format!("until {}", shown(one, "until", zone)),
                (false, true) => format!("ended {}", shown(one, "ended_at", zone)),
                (false, false) => format!("over since {}", shown(one, "until", zone)),
            };
            vec![text(one, "name"), good, text(one, "helper")]
        });
        tarn.out.table(&["helper", "good", "id"], rows.collect())
    }
}

/// Ends a link at once. What was written with it stands.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room helper end Tilda")]
pub struct End {
    /// The helper's name or the link's id, or the beginning of one
    helper: String,
}

impl End {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        let lower = self.helper.trim().to_lowercase();
        let begins = |one: &Value| {
            ["name", "helper"].iter().any(|field| text(one, field).to_lowercase().starts_with(&lower))
        };
        let all = helpers(&mut remote, &room.id.to_string())?;
        let mut good: Vec<Value> = all.into_iter().filter(|one| one["good"] == true && begins(one)).collect();
        let (Some(one), 0) = (good.pop(), good.len()) else {
            let says = "no link that is good is meant by that, or several are";
            return Err(Failure::wrong_use(says).hint("tarn room helper list"));
        };
        remote.delete(&format!("rooms/{}/helpers/{}", room.id, text(&one, "helper")))?;
        tarn.out.say(&format!("The link of {} is good no more.", text(&one, "name")));
        Ok(())
    }
}
