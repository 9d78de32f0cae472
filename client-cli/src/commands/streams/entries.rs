//! Entries as they go in a request of their own, apart from a sync, and the server's "no" to some of them.

use serde_json::value::RawValue;
use serde_json::{Value, json};

use crate::failure::{Failure, Outcome};
use crate::find::short;
use crate::output::Output;
use crate::problem::words_of;
use crate::store::Outgoing;

/// So many go in one request.
pub const AT_ONCE: usize = 200;

/// Their texts, as they were written.
pub fn texts(ops: &[Outgoing]) -> Outcome<Vec<Box<RawValue>>> {
    ops.iter().map(|op| RawValue::from_string(op.text.clone()).map_err(Failure::refused)).collect()
}

/// Those of the results that are a "no", each with its entry.
pub fn refused(results: &[Value]) -> impl Iterator<Item = Value> + '_ {
    let no = results.iter().filter(|one| one["problem"].is_object());
    no.map(|one| json!({ "entry": one["id"], "problem": one["problem"] }))
}

/// Says why each was refused.
pub fn say(out: &Output, refused: &[Value]) {
    for one in refused {
        let id = one["entry"].as_str().and_then(|id| id.parse().ok()).map(short).unwrap_or_default();
        out.say(&format!("Entry {id}: {}", words_of(&one["problem"])));
    }
}
