//! What has to go to the server, and what it answered op by op.

use std::collections::BTreeSet;

use rusqlite::{OptionalExtension, Row, params};
use serde_json::{Value, json};
use tarn_domain::streams::{By, OpDigest, OpId, Received};
use uuid::Uuid;

use super::ops::{Raw, digest, op_of};
use super::shelf::SqlShelf;
use super::{OpState, Store, StoreError, Stored, StreamRow, Work};

/// A first acceptance that an op takes along after the server's history changed.
#[derive(Debug, Clone)]
pub struct OutReceipt {
    /// Who pushed it first.
    pub by: By,
    /// When it was accepted first.
    pub received: Received,
    /// Whether the server wrote it.
    pub decision: bool,
    /// The server's own mark under all that.
    pub mac: String,
    /// If words in the op were blanked: the digest of its first bytes.
    pub was: Option<OpDigest>,
}

impl OutReceipt {
    /// As it travels.
    pub fn to_value(&self) -> Value {
        let mut receipt = json!({
            "by": self.by, "received": self.received.0, "decision": self.decision, "mac": self.mac,
        });
        if let Some(was) = self.was {
            receipt["was"] = was.hex().into();
        }
        receipt
    }
}

/// An op to be pushed.
#[derive(Debug, Clone)]
pub struct Outgoing {
    /// Its id.
    pub id: OpId,
    /// Its RFC 8785 text.
    pub text: String,
    /// Its first acceptance, if it had one.
    pub receipt: Option<OutReceipt>,
}

/// What the server said to one op.
#[derive(Debug, Clone)]
pub enum Answer {
    /// It has this number.
    Seq(u64),
    /// Another op with this id was there first; these are its bytes.
    Taken(String),
    /// What it refers to is not there yet.
    Waits(Value),
    /// The server does not know its kind or a field.
    Unknown(Value),
    /// Not now (a quota): it stays pending.
    Later,
    /// Its receipt does not hold any more; it is pushed again as a new op.
    WithoutReceipt(Value),
    /// No.
    No(Value),
}

/// The server's answer to one op.
#[derive(Debug, Clone)]
pub struct Answered {
    /// Which.
    pub id: OpId,
    /// What.
    pub answer: Answer,
}

/// An op that the server refused, or that waits.
#[derive(Debug, Clone)]
pub struct Refused {
    /// In which stream.
    pub stream: String,
    /// Which.
    pub id: OpId,
    /// Refused, waiting, or pending because the server does not know its kind.
    pub state: OpState,
    /// Its text.
    pub text: String,
    /// Why (RFC 9457).
    pub problem: Value,
}

pub(super) fn outgoing(row: &Row<'_>) -> rusqlite::Result<Outgoing> {
    let id = OpId(Uuid::from_bytes(row.get(0)?));
    let (by, received, mac): (Option<[u8; 16]>, Option<i64>, Option<String>) =
        (row.get(2)?, row.get(3)?, row.get(5)?);
    let decision = row.get(4)?;
    let was = digest(row, 6)?;
    let receipt = by.zip(received).zip(mac).map(|((by, received), mac)| OutReceipt {
        by: By::of(Uuid::from_bytes(by)),
        received: Received(received),
        decision,
        mac,
        was,
    });
    Ok(Outgoing { id, text: row.get(1)?, receipt })
}

/// How many of them to push, of at most twice `most` and one: up to the last end of an earlier push. A push that is longer
/// is cut.
fn ends_with_a_push(ops: &[Outgoing], most: usize) -> usize {
    if ops.len() <= most {
        return ops.len();
    }
    let received = |op: &Outgoing| op.receipt.as_ref().map(|receipt| receipt.received);
    let ends = |at: &usize| ops.get(*at).is_none_or(|next| received(next) != received(&ops[*at - 1]));
    let most_of_all = ops.len().min(most * 2);
    let after = (most..=most_of_all).find(ends);
    after.or_else(|| (1..most).rev().find(ends)).unwrap_or(most_of_all)
}

impl Store {
    /// The next ops to push: first what was accepted before and comes back by its receipt, then the others in the order of
    /// their clocks.
    ///
    /// # Errors
    /// The file.
    pub fn outgoing(&self, stream: &StreamRow, most: usize) -> Stored<Vec<Outgoing>> {
        let back = self.coming_back(stream, most)?;
        if !back.is_empty() {
            return Ok(back);
        }
        let mut find = self.db.prepare_cached(
            "SELECT id, text, by_account, received, decision, receipt, was FROM ops
             WHERE stream = ? AND state = 0 AND receipt IS NULL AND (held_version IS NULL OR held_version < ?)
             ORDER BY clock, id LIMIT ?",
        )?;
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let rows = find.query_map(params![stream.n, stream.ops_version, most], outgoing)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What comes back, push by push as it was received: a claim and the decision that the server made of it then go
    /// together, or the server, which has the one, would decide the other anew. So it may be up to twice as many.
    fn coming_back(&self, stream: &StreamRow, most: usize) -> Stored<Vec<Outgoing>> {
        let mut find = self.db.prepare_cached(
            "SELECT id, text, by_account, received, decision, receipt, was FROM ops
             WHERE stream = ? AND state = 0 AND receipt IS NOT NULL AND (held_version IS NULL OR held_version < ?)
             ORDER BY received, clock, id LIMIT ?",
        )?;
        let twice = i64::try_from(most * 2 + 1).unwrap_or(i64::MAX);
        let rows = find.query_map(params![stream.n, stream.ops_version, twice], outgoing)?;
        let mut all: Vec<Outgoing> = rows.collect::<Result<_, _>>()?;
        all.truncate(ends_with_a_push(&all, most));
        Ok(all)
    }

    /// How many ops of a stream stand how.
    ///
    /// # Errors
    /// The file.
    pub fn open_count(&self, stream: &StreamRow, state: OpState) -> Stored<u64> {
        let mut find = self.db.prepare_cached("SELECT count(*) FROM ops WHERE stream = ? AND state = ?")?;
        Ok(find.query_row(params![stream.n, state], |row| row.get(0))?)
    }

    /// What this device wrote and the server does not take from here: what it refused; and where the right is lost, all
    /// that it does not have. In the order of their clocks.
    ///
    /// # Errors
    /// The file.
    pub fn to_hand_over(&self, stream: &StreamRow, right_is_lost: bool) -> Stored<Vec<Outgoing>> {
        let mut find = self.db.prepare_cached(
            "SELECT id, text, by_account, received, decision, receipt, was FROM ops
             WHERE stream = ?1 AND receipt IS NULL AND (state = 4 OR (?2 AND state IN (0, 3))) ORDER BY clock, id",
        )?;
        let rows = find.query_map(params![stream.n, right_is_lost], outgoing)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Ops that the server refused, and those that wait, with why.
    ///
    /// # Errors
    /// The file.
    pub fn refused(&self) -> Stored<Vec<Refused>> {
        let mut find = self.db.prepare_cached(
            "SELECT s.name, o.id, o.state, o.text, o.problem FROM ops o JOIN streams s ON s.n = o.stream
             WHERE o.state <> 2 AND o.problem IS NOT NULL ORDER BY s.name, o.n",
        )?;
        let rows = find.query_map([], |row| {
            let problem: String = row.get(4)?;
            Ok(Refused {
                stream: row.get(0)?,
                id: OpId(Uuid::from_bytes(row.get(1)?)),
                state: row.get(2)?,
                text: row.get(3)?,
                problem: serde_json::from_str(&problem).unwrap_or(Value::Null),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

impl Work<'_> {
    /// Takes in what the server said to a push. Refused ops leave the state.
    ///
    /// # Errors
    /// The file.
    pub fn answer(&self, stream: &StreamRow, answers: &[Answered]) -> Stored {
        let mut shelf = SqlShelf::new(&self.tx, stream.n);
        let mut gone = Vec::new();
        let mut set = self.tx.prepare_cached(
            "UPDATE ops SET state = ?, seq = ?, problem = ?, held_version = ? WHERE stream = ? AND id = ? AND state = 0",
        )?;
        let mut mark =
            |id: OpId, state: OpState, seq: Option<u64>, problem: Option<&Value>, held: Option<u32>| {
                let problem = problem.map(Value::to_string);
                set.execute(params![state, seq, problem, held, stream.n, id.0.as_bytes()])
            };
        for Answered { id, answer } in answers {
            match answer {
                Answer::Seq(seq) => drop(mark(*id, OpState::Answered, Some(*seq), None, None)?),
                Answer::Waits(problem) => drop(mark(*id, OpState::Waiting, None, Some(problem), None)?),
                Answer::Unknown(problem) => {
                    mark(*id, OpState::Pending, None, Some(problem), Some(stream.ops_version))?;
                }
                Answer::Later => {}
                Answer::WithoutReceipt(problem) => self.strip_receipt(stream, *id, problem)?,
                Answer::No(_) | Answer::Taken(_) => gone.push(*id),
            }
        }
        let dirty = shelf.gone(&gone)?;
        let mut back = Vec::new();
        for Answered { id, answer } in answers {
            match answer {
                Answer::No(problem) => drop(mark(*id, OpState::Refused, None, Some(problem), None)?),
                Answer::Taken(text) => {
                    mark(*id, OpState::Answered, None, None, None)?;
                    back.extend(self.replace_text(&mut shelf, stream, *id, text)?);
                }
                _ => {}
            }
        }
        shelf.added(&back, dirty)
    }

    /// An op of this device goes without its receipt next time; another's can't, and is refused.
    fn strip_receipt(&self, stream: &StreamRow, id: OpId, problem: &Value) -> Stored {
        let find = "SELECT text FROM ops WHERE stream = ? AND id = ?";
        let text: String = self.tx.query_row(find, params![stream.n, id.0.as_bytes()], |row| row.get(0))?;
        let ours = Raw::read(&text).is_ok_and(|raw| raw.device == stream.device);
        if ours {
            self.tx.execute(
                "UPDATE ops SET receipt = NULL, was = NULL, by_account = NULL, received = NULL, decision = 0
                 WHERE stream = ? AND id = ?",
                params![stream.n, id.0.as_bytes()],
            )?;
            return Ok(());
        }
        self.answer(stream, &[Answered { id, answer: Answer::No(problem.clone()) }])
    }

    /// Puts other bytes under an id whose op is off the shelf. Returns the id if the new bytes were understood.
    pub(super) fn replace_text(
        &self,
        shelf: &mut SqlShelf<'_>,
        stream: &StreamRow,
        id: OpId,
        text: &str,
    ) -> Stored<Option<OpId>> {
        let raw = Raw::read(text).map_err(|e| StoreError::Corrupt(format!("the entry {id}: {e}")))?;
        let op = op_of(text);
        self.tx.execute(
            "UPDATE ops SET text = ?, was = NULL, kind = ?, at = ?, clock = ?, known = ?, live = 0
             WHERE stream = ? AND id = ?",
            params![
                text,
                raw.kind(),
                raw.at.seconds(),
                raw.clock.to_string(),
                op.is_some(),
                stream.n,
                id.0.as_bytes()
            ],
        )?;
        let Some(op) = op else { return Ok(None) };
        let find = "SELECT n FROM ops WHERE stream = ? AND id = ?";
        let n = self.tx.query_row(find, params![stream.n, id.0.as_bytes()], |row| row.get(0))?;
        shelf.put(n, &op)?;
        Ok(Some(id))
    }

    /// Waiting ops are tried again.
    pub(super) fn wake(&self, stream: &StreamRow) -> Stored {
        self.tx
            .execute("UPDATE ops SET state = 0, problem = NULL WHERE stream = ? AND state = 3", [stream.n])?;
        Ok(())
    }

    /// Drops an op that the server refused, or that waits. Returns whether it was there.
    ///
    /// # Errors
    /// The file.
    pub fn drop_refused(&self, id: OpId) -> Stored<bool> {
        let find = "SELECT n, stream, state FROM ops WHERE id = ? AND state IN (3, 4)";
        let found: Option<(i64, i64, OpState)> = self
            .tx
            .query_row(find, [id.0.as_bytes()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .optional()?;
        let Some((n, stream, state)) = found else { return Ok(false) };
        let mut shelf = SqlShelf::new(&self.tx, stream);
        let dirty = if state == OpState::Waiting { shelf.gone(&[id])? } else { BTreeSet::new() };
        self.tx.execute("DELETE FROM ops WHERE n = ?", [n])?;
        shelf.refold(dirty)?;
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ops that were received in pushes of these lengths.
    fn pushes(lengths: &[usize]) -> Vec<Outgoing> {
        let op = |received: i64| {
            let by = By::of(Uuid::nil());
            let (mac, was) = (String::new(), None);
            let receipt = OutReceipt { by, received: Received(received), decision: false, mac, was };
            Outgoing { id: OpId(Uuid::nil()), text: String::new(), receipt: Some(receipt) }
        };
        let each = lengths.iter().zip(1..).flat_map(|(length, at)| std::iter::repeat_n(at, *length));
        each.map(op).collect()
    }

    #[test]
    fn what_was_received_together_comes_back_together() {
        let of = |lengths: &[usize], most| ends_with_a_push(&pushes(lengths), most);
        assert_eq!(of(&[3, 4], 10), 7, "all there is");
        assert_eq!(of(&[6, 8, 7], 10), 14, "on to the end of the push that is begun");
        assert_eq!(of(&[6, 15], 10), 6, "a push that would be too long begins the next one");
        assert_eq!(of(&[21], 10), 20, "a longer one is cut");
        assert_eq!(of(&[1, 1, 1], 1), 1);
    }
}
