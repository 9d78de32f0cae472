//! `tarn quarantine units`: what the server shows a keeper or steward.

use clap::Args;
use serde_json::Value;

use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lists the units of the rooms you keep and, for a health steward, of the club's rooms.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn quarantine units")]
pub struct Units {}

impl Units {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let answer = session::open(tarn)?.get("quarantine/units")?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let mut rows = Vec::new();
        for room in answer["rooms"].as_array().into_iter().flatten() {
            for unit in room["units"].as_array().into_iter().flatten() {
                let members: Vec<String> = unit["members"]
                    .as_array()
                    .into_iter()
                    .flatten()
                    .map(|m| if m["name"].is_string() { text(&m["name"]) } else { text(&m["species"]) })
                    .collect();
                rows.push(vec![
                    text(&room["name"]),
                    members.join(", "),
                    text(&unit["state"]),
                    text(&unit["due"]),
                    text(&unit["unit"]),
                ]);
            }
        }
        tarn.out.table(&["room", "fish", "state", "due", "unit"], rows)
    }
}
