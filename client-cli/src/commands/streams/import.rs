//! `tarn import`: a folder that was exported, back into the same room, where what is missing is taken in and pushed by the
//! next sync; or to another server, as a room that is new there.

use std::fs;
use std::path::PathBuf;

use clap::Args;
use serde::Deserialize;
use serde_json::json;
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};
use tarn_domain::streams::canonical::{hex, text as canonical_text};
use tarn_domain::streams::{By, DeviceId, EpochId, OpDigest, OpId, Received, StreamId};

use super::bring::{Room, bring};
use crate::clock;
use crate::failure::{Failure, Outcome};
use crate::store::{NewStream, OutReceipt, Outgoing, StoreError};
use crate::tarn::Tarn;

/// Takes the entries of an exported folder that are missing here, all or none. With --as-new the room goes to another
/// server: log in to it first; whatever was decided on the old one is kept to be read and gives no right.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn import ~/backup/cellar-2026-03\n  tarn import ~/backup/cellar-2026-03 --as-new"
)]
pub struct Import {
    /// The folder
    folder: PathBuf,
    /// As a room that this server does not have: it was kept on another one
    #[arg(long)]
    as_new: bool,
    /// Go on without entries that the server refuses
    #[arg(long, requires = "as_new")]
    leave_out_refused: bool,
}

#[derive(Debug, Deserialize)]
struct Manifest {
    format: u32,
    stream: StreamId,
    kind: String,
    name: String,
    zone: String,
    #[serde(default)]
    server: Option<String>,
    #[serde(default)]
    epoch: Option<EpochId>,
    #[serde(default)]
    head: u64,
    counts: Counts,
    digests: std::collections::BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct Counts {
    ops: usize,
}

#[derive(Debug, Deserialize)]
struct Line {
    op: Box<RawValue>,
    receipt: Option<Receipt>,
}

#[derive(Debug, Deserialize)]
struct Receipt {
    by: By,
    received: i64,
    decision: bool,
    mac: String,
    #[serde(default)]
    was: Option<String>,
}

#[derive(Deserialize)]
struct Id {
    id: OpId,
}

impl Import {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let manifest = self.manifest()?;
        let path = self.folder.join("ops.jsonl");
        let bytes = fs::read(&path)
            .map_err(|e| Failure::refused(format!("{} can't be read: {e}", path.display())))?;
        let digest = format!("sha256:{}", hex(&Sha256::digest(&bytes)));
        if manifest.digests.get("ops.jsonl") != Some(&digest) {
            return Err(Failure::refused("ops.jsonl is not what the manifest says; nothing was imported"));
        }
        let text = String::from_utf8(bytes)
            .map_err(|_| Failure::refused("ops.jsonl is no UTF-8; nothing was imported"))?;
        let mut ops = Vec::with_capacity(manifest.counts.ops);
        for (i, line) in text.lines().enumerate() {
            ops.push(outgoing(line).map_err(|e| {
                Failure::refused(format!("ops.jsonl, line {}: {e}; nothing was imported", i + 1))
            })?);
        }
        if ops.len() != manifest.counts.ops {
            return Err(Failure::refused(
                "ops.jsonl has not as many lines as the manifest says; nothing was imported",
            ));
        }
        if self.as_new {
            let Manifest { stream, name, zone, server, epoch, head, .. } = manifest;
            let room = Room { stream, name, zone, server, epoch, head };
            return bring(tarn, &room, &ops, self.leave_out_refused);
        }
        let known = tarn.store.streams()?.into_iter().find(|s| s.id == manifest.stream);
        let new = NewStream {
            id: manifest.stream,
            kind: manifest.kind,
            name: manifest.name.clone(),
            zone: manifest.zone,
            rights: "write".into(),
            device: DeviceId(clock::new_id()),
            on_server: false,
        };
        let taken = tarn.store.write::<_, StoreError>(|work| {
            if known.is_none() {
                work.keep_stream(&new)?;
            }
            work.bring(&work.stream(new.id)?, &ops)
        })?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "room": new.id, "entries": ops.len(), "new": taken }));
        }
        tarn.out.say(&format!(
            "{}: {taken} of {} entries were missing here and are back.",
            manifest.name,
            ops.len()
        ));
        if taken > 0 {
            tarn.out.say("tarn sync pushes them.");
        }
        Ok(())
    }

    fn manifest(&self) -> Outcome<Manifest> {
        let path = self.folder.join("manifest.json");
        let wrong =
            |e: &dyn std::fmt::Display| Failure::refused(format!("{} can't be read: {e}", path.display()));
        let text = fs::read_to_string(&path).map_err(|e| wrong(&e))?;
        let manifest: Manifest = serde_json::from_str(&text).map_err(|e| wrong(&e))?;
        if manifest.format != 1 {
            return Err(Failure::refused(format!(
                "the folder is of format {}; this tarn knows format 1",
                manifest.format
            )));
        }
        Ok(manifest)
    }
}

fn outgoing(line: &str) -> Result<Outgoing, String> {
    let line: Line = serde_json::from_str(line).map_err(|e| e.to_string())?;
    let text = line.op.get().to_owned();
    let value = serde_json::from_str(&text).map_err(|e| e.to_string())?;
    if canonical_text(&value) != text {
        return Err("the entry is not in its canonical form".into());
    }
    let Id { id } = serde_json::from_str(&text).map_err(|e| e.to_string())?;
    let vouched = |r: Receipt| -> Result<OutReceipt, String> {
        let no_digest = || "was is no digest".to_owned();
        let was = r.was.map(|was| OpDigest::of_hex(&was).ok_or_else(no_digest)).transpose()?;
        let received = Received(r.received);
        Ok(OutReceipt { by: r.by, received, decision: r.decision, mac: r.mac, was })
    };
    let receipt = line.receipt.map(vouched).transpose()?;
    Ok(Outgoing { id, text, receipt })
}
