//! `tarn wrong`: takes an entry back. Both stay; only the state changes.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::{Body, Writer};
use tarn_domain::streams::{EntityKind, Withdrawn};

use crate::commands::arguments::optional;
use crate::failure::{Failure, Outcome};
use crate::store::{HistoryLine, OpState, Standing, StreamRow};
use crate::tarn::Tarn;
use crate::wording::sentence;

/// Takes back the last entry of this device, or the one named.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn wrong\n  tarn wrong 3f2a91c4 --why \"counted twice\"")]
pub struct Wrong {
    /// Which entry: its id, or the beginning or end of it (tarn history shows them)
    entry: Option<String>,
    /// Why
    #[arg(long)]
    why: Option<String>,
}

/// How far back the last entry is looked for.
const LOOK_BACK: usize = 500;

impl Wrong {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let line = match self.entry.as_deref() {
            Some(typed) => named(tarn, &room, typed)?,
            None => last(tarn, &room)?,
        };
        if let Some(op) = &line.op {
            if op.body.writer() == Writer::Decision {
                return Err(Failure::refused("a decision of the server can't be taken back")
                    .hint("Put it right with a new entry."));
            }
            if matches!(op.body, Body::Withdrawn(_)) {
                return Err(
                    Failure::refused("a taking back can't be taken back").hint("Write the entry again.")
                );
            }
        }
        if line.standing == Standing::TakenBack {
            return Err(Failure::refused("it was taken back already"));
        }
        if line.state == OpState::Refused {
            return Err(Failure::refused("the server refused it, so it does not count")
                .hint(format!("tarn sync drop {}", crate::find::short(line.id.0))));
        }
        let names = tarn.names(&room, &EntityKind::ALL)?;
        let said = line.op.as_ref().map_or(line.kind.clone(), |op| sentence(&op.body, &names));
        let body = Body::Withdrawn(Withdrawn { entry: line.id, why: optional(self.why)? });
        let recorded = tarn.record(&room, None, body)?;
        tarn.tell(recorded, &format!("Taken back: {said}."), &[("entry", json!(line.id))])
    }
}

fn last(tarn: &Tarn, room: &StreamRow) -> Outcome<HistoryLine> {
    let lines = tarn.store.history(room, None, LOOK_BACK)?;
    let mine = lines.into_iter().find(|line| {
        let claim = line.op.as_ref().is_some_and(|op| !matches!(op.body, Body::Withdrawn(_)));
        line.here && claim && line.standing != Standing::TakenBack && line.state != OpState::Refused
    });
    mine.ok_or_else(|| {
        Failure::refused("this device has no entry to take back")
            .hint("Name one: tarn history, then tarn wrong ENTRY")
    })
}

/// An entry by its id or a part of it.
pub fn named(tarn: &Tarn, room: &StreamRow, typed: &str) -> Outcome<HistoryLine> {
    let typed = typed.trim().to_lowercase();
    let id = match typed.parse() {
        Ok(id) => id,
        Err(_) => match tarn.store.ops_spelled(room, &typed)?[..] {
            [only] => only,
            [] => {
                return Err(Failure::wrong_use(format!("there is no entry {typed:?} in this room"))
                    .hint("tarn history"));
            }
            _ => return Err(Failure::wrong_use(format!("{typed:?} may be any of several entries"))),
        },
    };
    let line = tarn.store.op_by_id(room, id)?;
    line.ok_or_else(|| {
        Failure::wrong_use(format!("there is no entry {typed:?} in this room")).hint("tarn history")
    })
}
