//! `tarn swap list`.

use clap::Args;
use serde_json::Value;

use crate::commands::parcels::online::{numbers, short_id, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lists your swaps, the newest first.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn swap list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let answer = session::open(tarn)?.get("swaps?limit=200")?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer["swaps"]);
        }
        let rows = answer["swaps"].as_array().into_iter().flatten().map(|swap| {
            let (own, others) = sides(swap);
            vec![
                short_id(swap, "id"),
                text(swap, "state"),
                text(swap, "with"),
                in_short(swap, own),
                in_short(swap, others),
            ]
        });
        tarn.out.table(&["swap", "state", "with", "you give", "you get"], rows.collect())
    }
}

/// The members of what the caller gives, and of what the other gives.
pub fn sides(swap: &Value) -> (&'static str, &'static str) {
    if swap["mine"] == true { ("give", "ask") } else { ("ask", "give") }
}

/// What one side gives, in one line.
pub fn in_short(swap: &Value, side: &str) -> String {
    let rows = swap[side].as_array().into_iter().flatten();
    let mut all: Vec<String> =
        rows.map(|row| format!("{} {}", numbers(&row["numbers"]), text(row, "species"))).collect();
    all.extend(swap[format!("{side}_words")].as_str().map(|words| words.replace('\n', " / ")));
    all.join(", ")
}
