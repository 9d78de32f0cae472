//! `tarn history`: the entries themselves, the latest first, notes that stay here among them.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::streams::{Entity, EntityKind};

use crate::failure::Outcome;
use crate::find::{find, short};
use crate::store::{HistoryLine, OpState, Standing, StreamRow};
use crate::tarn::Tarn;
use crate::wording::sentence;

/// Shows what was recorded, of the room or of one stock or tank.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn history\n  tarn history \"Blue\" --limit 50")]
pub struct History {
    /// Of which stock, tank, water system or brood
    of: Option<String>,
    /// How many entries
    #[arg(long, default_value_t = 25)]
    limit: usize,
}

impl History {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let about = self.of.as_deref().map(|typed| anything(tarn, &room, typed)).transpose()?;
        let lines = tarn.store.history(&room, about, self.limit)?;
        let notes = tarn.store.notes_here(&room, about)?;
        let names = tarn.names(&room, &EntityKind::ALL)?;
        if tarn.out.is_json() {
            let mut all: Vec<Value> = lines.iter().map(|line| line_json(line, &names)).collect();
            all.extend(notes.iter().map(|n| json!({ "here_only": true, "at": n.at, "says": n.text })));
            return tarn.out.data(&json!(all));
        }
        let zone = tarn.zone(&room);
        let mut rows: Vec<Vec<String>> = lines
            .iter()
            .map(|line| {
                let (when, says) = match &line.op {
                    Some(op) => (zone.show(op.at), sentence(&op.body, &names)),
                    None => (String::new(), format!("{} (needs a newer tarn)", line.kind)),
                };
                vec![when, says, mark(line).into(), short(line.id.0)]
            })
            .collect();
        rows.extend(
            notes.iter().rev().map(|n| {
                vec![zone.show(n.at), format!("note: {}", n.text), "here only".into(), String::new()]
            }),
        );
        tarn.out.table(&["when", "what", "", "entry"], rows)
    }
}

fn mark(line: &HistoryLine) -> &'static str {
    match (line.standing, line.state) {
        (_, OpState::Refused) => "refused",
        (Standing::TakenBack, _) => "taken back",
        (Standing::Inert, _) => "does not count",
        (_, OpState::Pending | OpState::Answered) => "not yet synced",
        (_, OpState::Waiting) => "waits",
        (Standing::Counts, OpState::Accepted) => "",
    }
}

fn line_json(line: &HistoryLine, names: &crate::tarn::Names) -> Value {
    json!({
        "op": line.id, "kind": line.kind, "at": line.op.as_ref().map(|op| op.at),
        "clock": line.op.as_ref().map(|op| op.clock), "device": line.op.as_ref().map(|op| op.device),
        "says": line.op.as_ref().map(|op| sentence(&op.body, names)),
        "body": line.op.as_ref().map(|op| op.body.to_value()), "state": line.state.word(),
        "counts": line.standing == Standing::Counts, "taken_back": line.standing == Standing::TakenBack,
    })
}

/// A stock, tank, system or brood by what was typed.
fn anything(tarn: &Tarn, room: &StreamRow, typed: &str) -> Outcome<Entity> {
    let mut all = Vec::new();
    for kind in [EntityKind::Stock, EntityKind::Tank, EntityKind::System, EntityKind::Brood] {
        all.extend(tarn.store.named(room, kind)?);
    }
    find("stock or tank", typed, &all, |entity| entity.kind == EntityKind::Stock)
}
