//! `tarn sync`, with what the server refused.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde_json::{Value, json};
use tarn_domain::streams::EntityKind;

use super::hand_over;
use crate::failure::{Failure, Outcome};
use crate::find::{is_part_of_id, short};
use crate::problem::{code_of, words_of};
use crate::store::{OpState, Refused, StoreError};
use crate::sync::{self, Report};
use crate::tarn::Tarn;
use crate::when::Zone;
use crate::wording::sentence;

/// Pushes what is only here, pulls what is new. Safe at any time, from cron and from two shells at once. Ends with 1 if
/// the server refused an entry.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn sync\n  tarn sync --watch\n  tarn sync refused\n  tarn sync drop 3f2a91c4\n  \
    tarn sync refused --hand-over for-ada.json\n  tarn sync adopt from-ben.json"
)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Sync {
    /// Stays: pushes what is written meanwhile, pulls when there is something, until Ctrl-C
    #[arg(long)]
    watch: bool,
    #[command(subcommand)]
    verb: Option<Verb>,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// What the server refused, and what waits, with why
    Refused {
        /// Writes it into this file instead, with the server's word that you wrote it: for whoever keeps the room. Also
        /// what can't be pushed any more since you no longer keep it
        #[arg(long, value_name = "FILE")]
        hand_over: Option<PathBuf>,
    },
    /// Take in what another handed over in a file
    Adopt {
        /// The file
        file: PathBuf,
    },
    /// Drop an entry that the server refused
    Drop {
        /// Its id, or the beginning or end of it
        entry: String,
    },
}

impl Sync {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        match self.verb {
            None if self.watch => sync::watch::watch(tarn, super::watching::tell),
            None => {
                let report = sync::all(tarn)?;
                tell(tarn, &report)
            }
            Some(Verb::Refused { hand_over: Some(file) }) => hand_over::hand_over(tarn, &file),
            Some(Verb::Refused { hand_over: None }) => refused(tarn),
            Some(Verb::Adopt { file }) => hand_over::adopt(tarn, &file),
            Some(Verb::Drop { entry }) => drop_entry(tarn, &entry),
        }
    }
}

fn tell(tarn: &mut Tarn, report: &Report) -> Outcome {
    let (waiting, pending) =
        (sync::standing(tarn, OpState::Waiting)?, sync::standing(tarn, OpState::Pending)?);
    let refused = sync::standing(tarn, OpState::Refused)?;
    let mut unknown = 0;
    for stream in tarn.store.streams()? {
        unknown += tarn.store.op_counts(&stream)?.1;
    }
    if report.mended > 0 {
        let minutes = report.clock_off_ms.abs() / 60_000;
        let off = match report.clock_off_ms {
            _ if minutes == 0 => "This device's entries ran ahead of the server's clock".to_owned(),
            ..0 => format!("This device's clock is {minutes} minutes ahead of the server's"),
            _ => format!("This device's clock is {minutes} minutes behind the server's"),
        };
        tarn.out.say(&format!("{off}; the times of {} entries were corrected.", report.mended));
    }
    if report.histories > 0 {
        tarn.out.say("The server was restored; what it had lost was pushed again.");
    }
    if unknown > 0 {
        tarn.out.say(&format!("{unknown} records need a newer tarn; they are kept."));
    }
    if waiting > 0 {
        tarn.out.say(&format!("{waiting} entries wait for what they refer to."));
    }
    if let Some(says) = later(tarn, report) {
        tarn.out.say(&says);
    }
    if tarn.out.is_json() {
        tarn.out.data(&json!({
            "pushed": report.pushed, "pulled": report.pulled, "refused": refused, "newly_refused": report.refused,
            "waiting": waiting, "pending": pending, "unknown": unknown, "mended": report.mended,
        }))?;
    } else {
        tarn.out.say(&format!("Pushed {}, pulled {}.", report.pushed, report.pulled));
    }
    if let [first, rest @ ..] = &report.failures[..] {
        rest.iter().for_each(|failure| tarn.out.say(&failure.says));
        return Err(first.clone());
    }
    match (report.refused, refused) {
        (0, 0) => Ok(()),
        (0, all) => {
            tarn.out.say(&format!("{all} entries are refused; see tarn sync refused."));
            Ok(())
        }
        (new, _) => Err(Failure::refused(format!("the server refused {new} entries; they are kept here"))
            .hint("tarn sync refused shows why.")),
    }
}

/// That the server takes no more for now, and from when on it does, by the clock of the room in use.
pub(super) fn later(tarn: &mut Tarn, report: &Report) -> Option<String> {
    if !report.later {
        return None;
    }
    let rest = "the rest stays here";
    Some(match report.again_at {
        Some(at) => {
            let zone = tarn.room().map_or(Zone::UTC, |room| tarn.zone(&room));
            format!(
                "The server takes no more new entries today; {rest}. Sync again after {} ({zone}).",
                zone.show(at)
            )
        }
        None => format!("The server takes no more for now; {rest} until the next sync."),
    })
}

fn refused(tarn: &mut Tarn) -> Outcome {
    let all = tarn.store.refused()?;
    if tarn.out.is_json() {
        let all: Vec<Value> = all.iter().map(refused_json).collect();
        return tarn.out.data(&json!(all));
    }
    if all.is_empty() {
        tarn.out.say("Nothing is refused.");
        return Ok(());
    }
    let names = match tarn.room() {
        Ok(room) => tarn.names(&room, &EntityKind::ALL)?,
        Err(_) => crate::tarn::Names::default(),
    };
    let says =
        |refused: &Refused| match serde_json::from_str(&refused.text).map(tarn_domain::catalogue::read_op) {
            Ok(Ok(read)) => sentence(&read.op.body, &names),
            _ => "an entry".into(),
        };
    let state = |refused: &Refused| match refused.state {
        OpState::Waiting => "waits",
        OpState::Pending => "waits for a newer server",
        _ => "refused",
    };
    let rows = all
        .iter()
        .map(|r| vec![short(r.id.0), r.stream.clone(), says(r), state(r).into(), words_of(&r.problem)])
        .collect();
    tarn.out.table(&["entry", "room", "what", "", "why"], rows)?;
    tarn.out.say("Write a refused entry again as it should be, or drop it: tarn sync drop ENTRY");
    Ok(())
}

fn refused_json(refused: &Refused) -> Value {
    let op: Value = serde_json::from_str(&refused.text).unwrap_or(Value::Null);
    json!({
        "id": refused.id, "room": refused.stream, "state": refused.state.word(), "code": code_of(&refused.problem),
        "problem": refused.problem, "op": op,
    })
}

fn drop_entry(tarn: &mut Tarn, typed: &str) -> Outcome {
    let lower = typed.trim().to_lowercase();
    let droppable = |r: &&Refused| r.state != OpState::Pending && is_part_of_id(&lower, r.id.0);
    let all = tarn.store.refused()?;
    let found: Vec<&Refused> = all.iter().filter(droppable).collect();
    let [one] = found[..] else {
        let says = if found.is_empty() { "no refused entry is" } else { "several refused entries are" };
        return Err(Failure::wrong_use(format!("{says} named {typed:?}")).hint("tarn sync refused"));
    };
    if tarn.store.write::<_, StoreError>(|work| work.drop_refused(one.id))? {
        tarn.out.say("Dropped.");
    }
    Ok(())
}
