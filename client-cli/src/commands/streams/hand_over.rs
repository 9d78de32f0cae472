//! `tarn sync refused --hand-over`: what the server refused, or takes no more since the right is lost, in a file with the
//! server's word for who wrote it. `tarn sync adopt`: takes such a file in.

use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use serde_json::{Value, json};
use tarn_domain::streams::StreamId;

use super::entries::{self, AT_ONCE};
use crate::failure::{Failure, Outcome};
use crate::problem::words_of;
use crate::remote::{Remote, Trouble};
use crate::store::{Outgoing, StreamRow};
use crate::sync::{self, rooms, session};
use crate::tarn::Tarn;

const FORMAT: u32 = 1;

#[derive(Debug, Serialize, Deserialize)]
struct HandOver {
    format: u32,
    rooms: Vec<HandedRoom>,
}

#[derive(Debug, Serialize, Deserialize)]
struct HandedRoom {
    stream: StreamId,
    name: String,
    from: String,
    login: String,
    ops: Vec<Vouched>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Vouched {
    op: Box<RawValue>,
    mac: String,
}

#[derive(Debug, Deserialize)]
struct Words {
    from: String,
    words: Vec<Word>,
}

#[derive(Debug, Deserialize)]
struct Word {
    mac: Option<String>,
    problem: Option<Value>,
}

#[derive(Debug, Deserialize)]
struct Taken {
    taken: usize,
    results: Vec<Value>,
}

/// Writes the file. What is in it stays here all the same.
///
/// # Errors
/// The server's no, that there is none, or that the file can't be written.
pub fn hand_over(tarn: &mut Tarn, file: &Path) -> Outcome {
    let mut remote = session::open(tarn)?;
    let listed = rooms::meet(tarn, &mut remote)?;
    let login = remote.session().login_name.clone();
    let (mut handed, mut count, mut left) = (HandOver { format: FORMAT, rooms: Vec::new() }, 0, Vec::new());
    for stream in tarn.store.streams()? {
        let lost = !listed.contains(&stream.id) || stream.rights != "write";
        let ops = tarn.store.to_hand_over(&stream, lost)?;
        if ops.is_empty() {
            continue;
        }
        let mut room = HandedRoom {
            stream: stream.id,
            name: stream.name.clone(),
            from: String::new(),
            login: login.clone(),
            ops: Vec::with_capacity(ops.len()),
        };
        for some in ops.chunks(AT_ONCE) {
            match vouched(&mut remote, &stream, some, &mut room) {
                Ok(problems) => left.extend(problems),
                Err(Trouble::Problem(problem)) if problem.status == 404 || problem.status == 410 => {
                    left.push(format!("{}: the server vouches for nothing in it", stream.name));
                    break;
                }
                Err(trouble) => return Err(trouble.into()),
            }
        }
        count += room.ops.len();
        handed.rooms.extend((!room.ops.is_empty()).then_some(room));
    }
    left.iter().for_each(|why| tarn.out.say(why));
    if count == 0 {
        return Err(Failure::refused("there is nothing to hand over").hint("tarn sync refused"));
    }
    let text = serde_json::to_string_pretty(&handed).map_err(Failure::refused)? + "\n";
    let cant = |e| Failure::refused(format!("{} can't be written: {e}", file.display()));
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    let mut new = options.open(file).map_err(cant)?;
    std::io::Write::write_all(&mut new, text.as_bytes()).map_err(cant)?;
    if tarn.out.is_json() {
        return tarn.out.data(&json!({ "file": file, "entries": count, "left": left }));
    }
    tarn.out.say(&format!("Wrote {count} entries to {}.", file.display()));
    tarn.out.say("Whoever keeps the room takes them in: tarn sync adopt FILE");
    Ok(())
}

/// Has the server vouch for ops; says what it does not vouch for.
fn vouched(
    remote: &mut Remote,
    stream: &StreamRow,
    ops: &[Outgoing],
    room: &mut HandedRoom,
) -> Result<Vec<String>, Trouble> {
    let mut texts = entries::texts(ops)?;
    let body = serde_json::to_string(&json!({ "ops": texts })).map_err(Failure::refused)?;
    let told: Words = remote.post_text(&format!("streams/{}/vouchers", stream.id), body)?;
    if told.words.len() != texts.len() {
        return Err(Failure::needs_network("the server vouches for another number of entries").into());
    }
    room.from = told.from;
    let mut left = Vec::new();
    for ((word, op), text) in told.words.into_iter().zip(ops).zip(texts.drain(..)) {
        match (word.mac, word.problem) {
            (Some(mac), _) => room.ops.push(Vouched { op: text, mac }),
            (None, problem) => {
                let why = words_of(&problem.unwrap_or_default());
                left.push(format!("{}, entry {}: {why}", stream.name, crate::find::short(op.id.0)));
            }
        }
    }
    Ok(left)
}

/// Takes a file in that another handed over.
///
/// # Errors
/// The server's no, that there is none, or a file that can't be read.
pub fn adopt(tarn: &mut Tarn, file: &Path) -> Outcome {
    let cant = |e: &dyn std::fmt::Display| Failure::refused(format!("{} can't be read: {e}", file.display()));
    let text = fs::read_to_string(file).map_err(|e| cant(&e))?;
    let handed: HandOver = serde_json::from_str(&text).map_err(|e| cant(&e))?;
    if handed.format != FORMAT {
        let says = format!("the file is of format {}; this tarn knows format {FORMAT}", handed.format);
        return Err(Failure::refused(says));
    }
    let mut remote = session::open(tarn)?;
    let (mut all, mut taken, mut refused) = (0, 0, Vec::new());
    for room in &handed.rooms {
        for some in room.ops.chunks(AT_ONCE) {
            let body = json!({ "from": room.from, "ops": some }).to_string();
            let told: Taken = remote.post_text(&format!("streams/{}/adoptions", room.stream), body)?;
            all += some.len();
            taken += told.taken;
            refused.extend(entries::refused(&told.results).map(|mut one| {
                one["room"] = json!(room.name);
                one
            }));
        }
    }
    sync::all(tarn)?;
    if tarn.out.is_json() {
        tarn.out.data(&json!({ "entries": all, "taken": taken, "refused": refused }))?;
    } else {
        let there = all - taken - refused.len();
        let there = if there > 0 { format!(" {there} were there already.") } else { String::new() };
        tarn.out.say(&format!("Took in {taken} of {all} entries.{there}"));
        entries::say(&tarn.out, &refused);
    }
    if refused.is_empty() {
        return Ok(());
    }
    Err(Failure::refused(format!("the server refused {} of the entries", refused.len())))
}
