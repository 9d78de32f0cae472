//! `tarn quarantine sign-off`: a health steward's signature under a whole unit. The server decides.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::quarantine::Seen;

use crate::clock;
use crate::failure::{Failure, Outcome};
use crate::remote::Remote;
use crate::sync::session;
use crate::tarn::Tarn;

/// Signs a unit off, as a health steward who is no party to it.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn quarantine units\n  \
    tarn quarantine sign-off 3f2a91c4 --seen visit --remark \"all feeding, no marks\"",
    after_help = "You sign for the whole unit as you saw it. It is not a health certificate."
)]
pub struct SignOff {
    /// Which unit: its id, or the beginning or end of it
    unit: String,
    /// How you saw the fish: visit, video, pictures, keepers_word
    #[arg(long, value_name = "WORD", value_parser = seen)]
    seen: Seen,
    /// A remark
    #[arg(long)]
    remark: Option<String>,
    /// What you let pass with it, as the unit names it, and why
    #[arg(long, value_name = "KEY=WHY")]
    let_pass: Vec<Waived>,
}

/// Something that is let pass, and why.
#[derive(Debug, Clone)]
pub struct Waived {
    key: String,
    why: String,
}

impl std::str::FromStr for Waived {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let no = || format!("{text:?} is no KEY=WHY");
        let (key, why) = text.split_once('=').ok_or_else(no)?;
        if key.trim().is_empty() || why.trim().is_empty() {
            return Err(no());
        }
        Ok(Self { key: key.trim().to_owned(), why: why.trim().to_owned() })
    }
}

impl Waived {
    /// As the server reads it.
    pub fn json(&self) -> Value {
        json!({ "key": self.key, "why": self.why })
    }
}

fn seen(word: &str) -> Result<Seen, String> {
    let all = Seen::ALL.iter().map(|(_, word, _)| *word).collect::<Vec<_>>().join(", ");
    let found = Seen::ALL.iter().find(|(_, known, _)| *known == word.replace(['-', ' '], "_"));
    found.map(|(seen, _, _)| *seen).ok_or_else(|| format!("{word:?} is none of {all}"))
}

impl SignOff {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let (room, head, unit) = find_unit(&mut remote, &self.unit)?;
        let mut body = json!({ "id": clock::new_id(), "room": room, "head": head, "seen": self.seen });
        if !self.let_pass.is_empty() {
            body["waivers"] = self.let_pass.iter().map(Waived::json).collect();
        }
        if let Some(remark) = self.remark {
            body["remark"] = json!(remark);
        }
        let answer = remote.post(&format!("quarantine/units/{unit}/sign-off"), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say(answer["words"].as_str().unwrap_or("Signed off."));
        Ok(())
    }
}

/// The room, its head and the whole id of the unit that is meant.
pub fn find_unit(remote: &mut Remote, typed: &str) -> Outcome<(Value, Value, String)> {
    let answer = remote.get("quarantine/units")?;
    let lower = typed.trim().to_lowercase();
    let mut found = Vec::new();
    for room in answer["rooms"].as_array().into_iter().flatten() {
        for unit in room["units"].as_array().into_iter().flatten() {
            let id = unit["unit"].as_str().unwrap_or_default();
            let meant = id == lower || id.parse().is_ok_and(|uuid| crate::find::is_part_of_id(&lower, uuid));
            if meant {
                found.push((room["room"].clone(), room["head"].clone(), id.to_owned()));
            }
        }
    }
    match found.len() {
        1 => found.pop().ok_or_else(|| Failure::refused("no unit")),
        0 => Err(Failure::wrong_use(format!("there is no unit {typed:?} that you may sign"))
            .hint("tarn quarantine units")),
        _ => Err(Failure::wrong_use(format!("{typed:?} may be any of several units"))),
    }
}
