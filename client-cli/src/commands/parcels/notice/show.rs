//! `tarn notice show`.

use clap::Args;
use serde_json::Value;

use super::{Named, named};
use crate::commands::parcels::online::{for_what, lines, numbers, short_id, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows a notice with its cautions, or a thread about one with what was written.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn notice show 3f2a91c4\n  tarn --json notice show 3f2a91c4")]
pub struct Show {
    /// The notice or the thread: its id, or the beginning or end of it
    notice: String,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let (answer, is_thread) = match named(&mut remote, &self.notice)? {
            Named::Notice(id) => (remote.get(&format!("notices/{id}"))?, false),
            Named::Thread(id) => (remote.get(&format!("threads/{id}"))?, true),
        };
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        if is_thread {
            return tarn.out.table(&["when", "who", "what"], lines(&answer));
        }
        notice(tarn, &answer)
    }
}

fn notice(tarn: &Tarn, answer: &Value) -> Outcome {
    let hands = match (answer["pickup"] == true, answer["posting"] == true) {
        (true, true) => "in person or by post",
        (false, true) => "by post",
        _ => "in person",
    };
    let mut rows = Vec::new();
    let mut row = |name: &str, value: String| {
        if !value.is_empty() {
            rows.push(vec![name.to_owned(), value]);
        }
    };
    row("notice", text(answer, "id"));
    row("kind", text(answer, "kind").replace('_', " "));
    row("state", text(answer, "state").replace('_', " "));
    row("not shown", text(answer, "not_shown"));
    row("taken down", text(answer, "why"));
    row("species", text(answer, "species"));
    row("form", text(answer, "form"));
    row("how many", numbers(&answer["numbers"]));
    row("for", for_what(answer));
    row("area", text(answer, "area"));
    row("changes hands", hands.into());
    row("from", format!("{}, {}", text(answer, "author"), text(answer, "club_name")));
    row("ends", text(answer, "ends_at"));
    row("remarks", text(answer, "remarks").replace('\n', " / "));
    for thread in answer["threads"].as_array().into_iter().flatten() {
        row("thread", format!("{} with {}", short_id(thread, "thread"), text(thread, "with")));
    }
    tarn.out.table(&["", ""], rows)?;
    for caution in answer["cautions"].as_array().into_iter().flatten() {
        tarn.out.say(caution.as_str().unwrap_or_default());
    }
    Ok(())
}
