//! `tarn export`: the room in open formats. `ops.jsonl` holds every entry exactly; the CSV files are for people.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tarn_domain::catalogue::OPS_VERSION;
use tarn_domain::state::view;
use tarn_domain::streams::EntityKind;
use tarn_domain::streams::canonical::hex;

use crate::failure::{Failure, Outcome};
use crate::store::{Outgoing, StreamRow};
use crate::sync::session;
use crate::tarn::Tarn;
use tarn_domain::streams::cells::guarded;

/// Writes the room into a new folder: a manifest, every entry exactly, and CSV for people. Notes marked here only are not
/// in it.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn export ~/backup/cellar-2026-03")]
pub struct Export {
    /// The folder, new or empty
    folder: PathBuf,
}

impl Export {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        fs::create_dir_all(&self.folder).map_err(|e| cant(&self.folder, &e))?;
        let mut there = fs::read_dir(&self.folder).map_err(|e| cant(&self.folder, &e))?;
        if there.next().is_some() {
            return Err(Failure::refused(format!("{} is not empty", self.folder.display())));
        }
        let (ops, accepted, digest) = write_ops(tarn, &room, &self.folder.join("ops.jsonl"))?;
        let mut digests = json!({ "ops.jsonl": digest });
        for (name, rows) in [("tanks.csv", tanks(tarn, &room)?), ("stocks.csv", stocks(tarn, &room)?)] {
            digests[name] = json!(write_csv(&self.folder.join(name), rows)?);
        }
        let server = room.on_server.then(|| session::open(tarn).ok()).flatten();
        let server = server.map(|remote| remote.session().server.clone());
        let manifest = json!({
            "format": 1, "ops_version": OPS_VERSION, "stream": room.id, "kind": room.kind, "name": room.name,
            "zone": room.zone, "server": server, "epoch": room.epoch, "head": room.after, "chain": room.chain.hex(),
            "counts": { "ops": ops, "accepted": accepted, "pending": ops - accepted }, "digests": digests,
        });
        let text = serde_json::to_string_pretty(&manifest).map_err(Failure::refused)? + "\n";
        let path = self.folder.join("manifest.json");
        fs::write(&path, text).map_err(|e| cant(&path, &e))?;
        if tarn.out.is_json() {
            return tarn.out.data(&manifest);
        }
        tarn.out.say(&format!("Wrote {ops} entries to {}.", self.folder.display()));
        Ok(())
    }
}

fn cant(path: &Path, error: &dyn std::fmt::Display) -> Failure {
    Failure::refused(format!("{} can't be written: {error}", path.display()))
}

fn write_ops(tarn: &Tarn, room: &StreamRow, path: &Path) -> Outcome<(u64, u64, String)> {
    let mut file = BufWriter::new(File::create(path).map_err(|e| cant(path, &e))?);
    let (mut ops, mut accepted, mut digest) = (0, 0, Sha256::new());
    tarn.store.each_op::<Failure>(room, |seq, op| {
        let line = line(seq, &op);
        ops += 1;
        accepted += u64::from(seq.is_some());
        digest.update(line.as_bytes());
        file.write_all(line.as_bytes()).map_err(|e| cant(path, &e))
    })?;
    file.flush().map_err(|e| cant(path, &e))?;
    Ok((ops, accepted, format!("sha256:{}", hex(&digest.finalize()))))
}

/// One entry with its bytes as they are stored.
fn line(seq: Option<u64>, op: &Outgoing) -> String {
    let mut text = format!("{{\"seq\":{},\"op\":{}", seq.map_or("null".into(), |n| n.to_string()), op.text);
    if let Some(r) = &op.receipt {
        text.push_str(&format!(",\"receipt\":{}", r.to_value()));
    }
    text + "}\n"
}

fn write_csv(path: &Path, rows: Vec<Vec<String>>) -> Outcome<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.iter().map(|cell| guarded(cell))).map_err(|e| cant(path, &e))?;
    }
    let bytes = writer.into_inner().map_err(|e| cant(path, &e))?;
    fs::write(path, &bytes).map_err(|e| cant(path, &e))?;
    Ok(format!("sha256:{}", hex(&Sha256::digest(&bytes))))
}

fn text(value: &Value) -> String {
    value
        .as_str()
        .map_or_else(|| if value.is_null() { String::new() } else { value.to_string() }, str::to_owned)
}

fn tanks(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<Vec<String>>> {
    let states = tarn.store.states(room, &[EntityKind::Tank])?;
    let names = tarn.names(room, &[EntityKind::System])?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    let mut rows =
        vec![["tank", "stand", "shelf", "place", "volume_ml", "system", "id"].map(String::from).to_vec()];
    rows.extend(laid_out.tanks.iter().map(|(id, t)| {
        let volume = t.volume_ml.map(|v| v.0.to_string()).unwrap_or_default();
        let system = t.system().map(|s| names.of(s)).unwrap_or_default();
        let or_empty = |field: &Option<String>| field.clone().unwrap_or_default();
        vec![
            or_empty(&t.name),
            or_empty(&t.stand),
            or_empty(&t.shelf),
            or_empty(&t.place),
            volume,
            system,
            id.to_string(),
        ]
    }));
    Ok(rows)
}

fn stocks(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<Vec<String>>> {
    let states = tarn.store.states(room, &[EntityKind::Stock])?;
    let names = tarn.names(room, &[EntityKind::Tank])?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    let head =
        ["name", "tank", "species", "form", "males", "females", "unsexed", "eggs", "notes", "since", "id"];
    let mut rows = vec![head.map(String::from).to_vec()];
    rows.extend(laid_out.stocks.iter().map(|(id, s)| {
        let spread = s.numbers.spread();
        let tank = s.place().flatten().map(|t| names.of(t)).unwrap_or_default();
        let or_empty = |field: &Option<String>| field.clone().unwrap_or_default();
        let numbers = [spread.males, spread.females, spread.unsexed, spread.eggs].map(|n| n.to_string());
        let mut row = vec![or_empty(&s.name), tank, or_empty(&s.species), or_empty(&s.form)];
        row.extend(numbers);
        row.extend([or_empty(&s.note), text(&json!(s.since)), id.to_string()]);
        row
    }));
    Ok(rows)
}
