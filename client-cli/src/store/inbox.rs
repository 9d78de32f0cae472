//! What a pull brings, and what a changed history takes back.

use std::collections::BTreeSet;

use rusqlite::{OptionalExtension, params};
use tarn_domain::streams::{Acceptance, By, Chain, EpochId, OpDigest, OpId, OpText, Received};
use uuid::Uuid;

use super::ops::{Raw, digest, op_of};
use super::shelf::SqlShelf;
use super::{OpState, StoreError, Stored, StreamRow, Work};

/// A pulled op.
#[derive(Debug, Clone)]
pub struct Pulled {
    /// Its number.
    pub seq: u64,
    /// Its RFC 8785 text.
    pub text: String,
    /// By whom and when it was accepted.
    pub accepted: Acceptance,
    /// The server's mark under all that.
    pub receipt: String,
    /// If words in it were blanked: the digest of its first bytes.
    pub was: Option<OpDigest>,
    /// If it blanked words of another op: that op as it is now.
    pub blanked: Option<Box<Pulled>>,
}

impl Pulled {
    /// Its text as chains take it.
    pub fn op_text(&self) -> OpText<'_> {
        OpText { text: &self.text, was: self.was }
    }
}

/// What a page of a pull brought.
#[derive(Debug, Clone, Copy, Default)]
pub struct Brought {
    /// Ops in it.
    pub ops: usize,
    /// Those of them that were not here.
    pub new: usize,
    /// Answered ops that it should have brought; they are pending again.
    pub lost: usize,
}

/// Another history than the one that was pulled.
#[derive(Debug, Clone)]
pub struct HistoryChange {
    /// The new epoch.
    pub epoch: EpochId,
    /// Up to which seq what is here stands.
    pub common: u64,
}

impl Work<'_> {
    /// Takes in a page; with one that brings something, waiting ops are pending again. With `bulk` it is not folded yet: the stream is marked, and [`Work::catch_up`] folds it.
    ///
    /// # Errors
    /// The file, or bytes that are no op.
    pub fn take_in(&self, stream: &StreamRow, page: &[Pulled], chain: Chain, bulk: bool) -> Stored<Brought> {
        let mut shelf = SqlShelf::new(&self.tx, stream.n);
        let (mut added, mut dirty) = (Vec::new(), BTreeSet::new());
        let mut brought = Brought { ops: page.len(), ..Brought::default() };
        let mut greatest = self.clock(stream.n)?;
        for pulled in page {
            let raw = Raw::read(&pulled.text)
                .map_err(|e| StoreError::Corrupt(format!("the pulled entry {}: {e}", pulled.seq)))?;
            greatest = greatest.max(raw.clock);
            let id = raw.id;
            if self.insert_pulled(&mut shelf, stream, pulled, raw, bulk)? {
                brought.new += 1;
                added.push(id);
            } else if self.meet(&mut shelf, stream, pulled, id, bulk, &mut dirty)? {
                added.push(id);
            }
            if let Some(blanked) = &pulled.blanked {
                self.blank(&mut shelf, stream, blanked)?;
            }
        }
        let after = page.last().map_or(stream.after, |last| last.seq);
        self.tx.execute(
            "UPDATE streams SET after = ?, chain = ?, behind = max(behind, ?) WHERE n = ?",
            params![after, chain.0, bulk, stream.n],
        )?;
        self.set_clock(stream.n, greatest)?;
        if !bulk {
            shelf.added(&added, dirty)?;
        }
        brought.lost = self.not_brought(stream, after)?;
        if !page.is_empty() {
            // in the same transaction: what is woken later might be forgotten in between
            self.wake(stream)?;
        }
        Ok(brought)
    }

    fn insert_pulled(
        &self,
        shelf: &mut SqlShelf<'_>,
        stream: &StreamRow,
        pulled: &Pulled,
        raw: Raw,
        bulk: bool,
    ) -> Stored<bool> {
        let mut add = self.tx.prepare_cached(
            "INSERT INTO ops (stream, id, kind, at, clock, text, state, at_typed, known, live, seq, by_account,
               received, decision, receipt, was)
             VALUES (?, ?, ?, ?, ?, ?, ?, 1, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
        )?;
        let (id, at, clock) = (raw.id, raw.at, raw.clock);
        let kind = raw.kind().to_owned();
        let op = raw.op().ok();
        let inserted = add.execute(params![
            stream.n,
            id.0.as_bytes(),
            kind,
            at.seconds(),
            clock.to_string(),
            pulled.text,
            OpState::Accepted,
            op.is_some(),
            bulk,
            pulled.seq,
            pulled.accepted.by.id().as_bytes(),
            pulled.accepted.received.0,
            pulled.accepted.decision,
            pulled.receipt,
            pulled.was.map(|was| was.0)
        ])?;
        if inserted == 0 {
            return Ok(false);
        }
        if let Some(op) = op {
            shelf.put(self.tx.last_insert_rowid(), &op)?;
        }
        Ok(true)
    }

    /// An op that is here already is accepted now. Returns whether it has to be folded in (its bytes were others, or
    /// it had been refused).
    fn meet(
        &self,
        shelf: &mut SqlShelf<'_>,
        stream: &StreamRow,
        pulled: &Pulled,
        id: OpId,
        bulk: bool,
        dirty: &mut BTreeSet<tarn_domain::streams::Entity>,
    ) -> Stored<bool> {
        let mut find =
            self.tx.prepare_cached("SELECT text = ?, state FROM ops WHERE stream = ? AND id = ?")?;
        let key = params![pulled.text, stream.n, id.0.as_bytes()];
        let (same, state): (bool, OpState) = find.query_row(key, |row| Ok((row.get(0)?, row.get(1)?)))?;
        let stays = same && state != OpState::Refused;
        if !stays && state != OpState::Refused {
            if bulk { shelf.take(id)? } else { dirty.extend(shelf.gone(&[id])?) }
        }
        let mut set = self.tx.prepare_cached(
            "UPDATE ops SET state = 2, seq = ?, by_account = ?, received = ?, decision = ?, receipt = ?, problem = NULL,
               held_version = NULL WHERE stream = ? AND id = ?",
        )?;
        set.execute(params![
            pulled.seq,
            pulled.accepted.by.id().as_bytes(),
            pulled.accepted.received.0,
            pulled.accepted.decision,
            pulled.receipt,
            stream.n,
            id.0.as_bytes()
        ])?;
        let is_back = if stays {
            if let Some(op) = op_of(&pulled.text).filter(|_| !bulk) {
                dirty.extend(op.body.links().touched());
            }
            false
        } else {
            self.replace_text(shelf, stream, id, &pulled.text)?.is_some()
        };
        let mut set = self.tx.prepare_cached("UPDATE ops SET was = ? WHERE stream = ? AND id = ?")?;
        set.execute(params![pulled.was.map(|was| was.0), stream.n, id.0.as_bytes()])?;
        Ok(is_back)
    }

    /// Words of an op that is here were blanked. No fold reads them, so nothing is folded anew. What is no remains of
    /// the op that is here is left alone.
    fn blank(&self, shelf: &mut SqlShelf<'_>, stream: &StreamRow, now: &Pulled) -> Stored {
        let raw = Raw::read(&now.text)
            .map_err(|e| StoreError::Corrupt(format!("the blanked entry {}: {e}", now.seq)))?;
        let mut find = self.tx.prepare_cached("SELECT text, was FROM ops WHERE stream = ? AND id = ?")?;
        let key = params![stream.n, raw.id.0.as_bytes()];
        let here: Option<(String, Option<OpDigest>)> =
            find.query_row(key, |row| Ok((row.get(0)?, digest(row, 1)?))).optional()?;
        let same = |(text, was): &(String, Option<OpDigest>)| {
            OpText { text, was: *was }.digest() == now.op_text().digest()
        };
        if !here.as_ref().is_some_and(same) {
            return Ok(());
        }
        // what is overwritten must not stay in the free space of the file
        self.tx.execute_batch("PRAGMA secure_delete = ON")?;
        let mut set = self
            .tx
            .prepare_cached("UPDATE ops SET text = ?, was = ?, receipt = ? WHERE stream = ? AND id = ?")?;
        let was = now.was.map(|was| was.0);
        set.execute(params![now.text, was, now.receipt, stream.n, raw.id.0.as_bytes()])?;
        shelf.forget(raw.id);
        Ok(())
    }

    /// Answered ops whose number a pull passed without bringing them are pending again.
    fn not_brought(&self, stream: &StreamRow, after: u64) -> Stored<usize> {
        let mut reset = self.tx.prepare_cached(
            "UPDATE ops SET state = 0, seq = NULL WHERE stream = ? AND state = 1 AND seq <= ?",
        )?;
        Ok(reset.execute(params![stream.n, after])?)
    }

    /// A pull came to the end, the server's `head`: whatever is still answered was not brought. One whose number is
    /// above the head was on a disk that was rolled back since; its number will be another op's. Returns how many are
    /// pending again.
    ///
    /// # Errors
    /// The file.
    pub fn pulled_all(&self, stream: &StreamRow, head: u64) -> Stored<usize> {
        Ok(self.tx.execute(
            "UPDATE ops SET state = 0, seq = NULL WHERE stream = ?1 AND state = 1
               AND (seq IS NULL OR (SELECT after FROM streams WHERE n = ?1) = ?2)",
            params![stream.n, head],
        )?)
    }

    /// The server's history is another one: everything above what stands becomes pending again, whoever wrote it, with
    /// its receipt. Returns how many.
    ///
    /// # Errors
    /// The file.
    pub fn change_history(&self, stream: &StreamRow, change: &HistoryChange) -> Stored<usize> {
        let stands = change.common.min(stream.after);
        let (stands, chain) = match self.chain_at(stream, stands)? {
            Some(chain) => (stands, chain),
            None => (0, Chain::EMPTY),
        };
        self.tx.execute(
            "UPDATE streams SET epoch = ?, after = ?, chain = ? WHERE n = ?",
            params![change.epoch.0.as_bytes(), stands, chain.0, stream.n],
        )?;
        Ok(self.tx.execute(
            "UPDATE ops SET state = 0, seq = NULL WHERE stream = ? AND state IN (1, 2) AND (seq IS NULL OR seq > ?)",
            params![stream.n, stands],
        )?)
    }

    /// The chain after the first `n` ops; none if one of them is not here.
    fn chain_at(&self, stream: &StreamRow, n: u64) -> Stored<Option<Chain>> {
        if n == stream.after {
            return Ok(Some(stream.chain));
        }
        let mut find = self
            .tx
            .prepare("SELECT text, by_account, received, decision, was FROM ops WHERE stream = ? AND state = 2 AND seq <= ? ORDER BY seq")?;
        let mut rows = find.query(params![stream.n, n])?;
        let (mut chain, mut count) = (Chain::EMPTY, 0);
        while let Some(row) = rows.next()? {
            let text = row.get_ref(0)?.as_str().map_err(rusqlite::Error::from)?;
            let by = By::of(Uuid::from_bytes(row.get(1)?));
            let accepted = Acceptance { by, received: Received(row.get(2)?), decision: row.get(3)? };
            chain = chain.then(OpText { text, was: digest(row, 4)? }, accepted);
            count += 1;
        }
        Ok((count == n).then_some(chain))
    }
}
