//! `tarn swap show`.

use clap::Args;
use serde_json::Value;

use super::list::{in_short, sides};
use super::swap_id;
use crate::commands::parcels::online::{lines, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows a swap: what each side gives, how the parcels stand, and what the two of you wrote.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn swap show 3f2a91c4")]
pub struct Show {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = swap_id(&mut remote, &self.swap)?;
        let mut swap = remote.get(&format!("swaps/{id}"))?;
        let thread = remote.get(&format!("threads/{}", text(&swap, "thread")))?;
        if tarn.out.is_json() {
            swap["lines"] = thread["lines"].clone();
            return tarn.out.data(&swap);
        }
        let (own, others) = sides(&swap);
        let mut rows = vec![
            vec!["swap".to_owned(), text(&swap, "id")],
            vec!["state".into(), text(&swap, "state")],
            vec!["with".into(), text(&swap, "with")],
            vec!["you give".into(), in_short(&swap, own)],
            vec!["you get".into(), in_short(&swap, others)],
        ];
        for (name, member) in [("your parcel", "own_parcel"), ("their parcel", "other_parcel")] {
            if swap[member].is_object() {
                rows.push(vec![name.into(), parcel(&swap[member])]);
            }
        }
        tarn.out.table(&["", ""], rows)?;
        if thread["lines"].as_array().is_some_and(|lines| !lines.is_empty()) {
            tarn.out.table(&["when", "who", "what"], lines(&thread))?;
        }
        if swap["state"] == "agreed" && swap["own_parcel"]["state"] == "not_packed" {
            tarn.out.say("Pack your fish with: tarn swap pack, then tarn parcel hand when the bag leaves.");
        }
        Ok(())
    }
}

fn parcel(parcel: &Value) -> String {
    let n = |name: &str| parcel[name].as_i64().unwrap_or(0);
    match parcel["state"].as_str().unwrap_or_default() {
        "not_packed" => "not packed".into(),
        "packed" => format!("packed: {} fish", n("sent")),
        "sent" => format!("on its way since {}: {} fish", text(parcel, "at"), n("sent")),
        "arrived" => format!("arrived {}: {} alive, {} dead", text(parcel, "at"), n("alive"), n("dead")),
        _ => format!(
            "arrived {}, numbers differ: {} sent, {} alive, {} dead",
            text(parcel, "at"),
            n("sent"),
            n("alive"),
            n("dead")
        ),
    }
}
