//! What `streams` refuses, and how a "no" of the domain is told.

use serde_json::{Value, json};
use tarn_domain::streams::{Entity, NotAnOp, OpId};

use crate::platform::errors::{Problem, kinds};

kinds! {
    OP_MALFORMED "op-malformed" 422 "The entry can't be read"
        "A field of the op is missing or of the wrong form; errors says which. Mend it as a new op with a new id.";
    OP_UNKNOWN "op-unknown" 422 "A kind of entry this server does not know"
        "The op's kind, or one of its fields, is newer than this server. The client keeps it and tries again when the server's ops_version has risen.";
    OP_TOO_LARGE "op-too-large" 422 "The entry is too long"
        "One op has at most 16 KiB. Split the text over several notes.";
    AT_AHEAD "at-ahead" 422 "Dated after the clock that wrote it"
        "An op's at is never later than its clock. Mend it as a new op.";
    ID_TAKEN "id-taken" 409 "Another entry has this id"
        "The first accepted bytes of an id are the op. The stored op comes with this answer; the client takes that copy.";
    DEVICE_NOT_YOURS "device-not-yours" 403 "The device is not registered to you"
        "A push may only name a device that is registered to its account for this stream. Register it first; an id that is somebody else's can't be registered.";
    DEVICE_ENDED "device-ended" 403 "This device was ended"
        "Its owner ended it on the account's page, and with it the session that it came in. Nothing of it is taken; what it has not sent stays on it. Whoever signs in on it anew goes on with it, and then it is sent.";
    DECISION_BY_CLIENT "decision-by-client" 403 "Only the server decides this"
        "Decisions are written by the server alone, whatever device an op names. One that comes back after a restore carries its receipt.";
    HISTORY_ENDED "history-ended" 409 "All records of this room came along already"
        "Its keeper said that everything from the other server is here. What was written there since is written down here anew.";
    NOT_FOR_A_LINK "not-for-a-link" 403 "A link may not write this"
        "Whoever has a link to a room writes what was fed, looked at, measured, done and seen, and losses. All else is for the room's keepers.";
    MISSING_REFERENCE "missing-reference" 409 "It speaks of something that is not here"
        "The op refers to a tank, stock or entry that this stream does not have (yet). The client keeps it and tries again after every pull that brought something.";
    OP_RELIED_ON "op-relied-on" 409 "A decision rests on this entry"
        "Decisions, withdrawals, and entries that a decision rests on can't be taken back. Put it right by a new entry.";
    NOT_PERSONAL "not-personal" 422 "This can't be blanked"
        "Only what the keeper wrote in words of their own, and who fish came from, can be blanked: the rest is what the records are made of. The catalogue of ops says which fields of which kind. Take the entry back instead, if it is wrong.";
    NOTHING_PERSONAL "nothing-personal" 409 "There is nothing to blank"
        "The entry has no words of its own, nor says who fish came from. Nothing was changed.";
    RECEIPT_FORGED "receipt-forged" 403 "The receipt is not this server's"
        "A receipt vouches for exactly one op, its account, its time and its mark. This one does not hold, so the op was not taken.";
    VOUCHER_FORGED "voucher-forged" 403 "Nobody vouches for who wrote this"
        "What is adopted carries the server's word for exactly this entry, this room and this writer. This one does not hold, so the entry was not taken. Ask its writer to hand it over again.";
    CLOCK_AHEAD "clock-ahead" 409 "The clock of the device runs ahead"
        "A new op's clock is later than limit. Nothing of the push was stored. The client sets the clocks of what it still holds, from the first op ahead on, upward from now, and pushes again.";
    PUSH_TOO_LARGE "push-too-large" 413 "Too much in one push"
        "A push has at most 1,000 ops and 4 MiB after decompression. Halve it and push again.";
    HISTORY_CHANGED "history-changed" 409 "The stream's history is another one"
        "The server was restored or its disk rolled back. Entries up to common stand; everything above becomes pending again and is pushed with its receipt.";
    SERVER_OUTDATED "server-outdated" 503 "A newer server wrote this stream"
        "This process is older than the one that last wrote the stream, so it does not write it. Update it.";
    QUOTA "quota" 429 "As many new entries as an account may push in a day"
        "Nothing of the push was stored, and the entries stay on the device. left says how many new ones the server still takes today, again_at from when on it takes more. Entries that come back with their receipts don't count.";
    TOO_MANY_LIVE "too-many-live" 429 "Too many event streams are open"
        "An account may have so many event streams open at once. Close one, or pull now and then instead.";
    SERVER_ENDING "server-ending" 503 "The server is going down"
        "The process is about to end, so the event stream does. Open it again in a moment, after the last event that came.";
    STREAM_GONE "stream-gone" 410 "It was removed"
        "Whoever kept this room gave it up, or left the server. What it held is no longer here and nothing of it is taken again; what a device still has stays on that device.";
    STREAM_FULL "stream-full" 429 "The stream has as many entries as it may have"
        "A stream holds at most 5,000,000 ops, unless the operator has set another limit. The entries stay on the device; ask the operator.";
}

/// How the domain's "no op" is told.
pub fn not_an_op(no: &NotAnOp) -> Problem {
    match no {
        NotAnOp::Malformed { pointer, why } => {
            Problem::new(&OP_MALFORMED).detail(no.to_string()).at(pointer, why)
        }
        NotAnOp::Unknown { .. } => Problem::new(&OP_UNKNOWN).detail(no.to_string()),
        NotAnOp::TooLarge { .. } => Problem::new(&OP_TOO_LARGE).detail(no.to_string()),
        NotAnOp::AtAhead { .. } => Problem::new(&AT_AHEAD).detail(no.to_string()).at("/at", no.to_string()),
    }
}

/// An entry that an op speaks of, which is not here.
pub fn missing_entry(entry: OpId) -> Problem {
    Problem::new(&MISSING_REFERENCE).detail(format!("The entry {entry} is not here."))
}

/// What an op refers to that is not here.
pub fn missing(things: &[Entity]) -> Problem {
    let named: Vec<Value> = things.iter().map(|e| json!({"kind": e.kind.word(), "id": e.id})).collect();
    let words: Vec<String> = things.iter().map(|e| format!("{} {}", e.kind.word(), e.id)).collect();
    Problem::new(&MISSING_REFERENCE).detail(format!("Not here: {}.", words.join(", "))).with("missing", named)
}
