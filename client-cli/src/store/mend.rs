//! Mending the clocks of a stream that ran ahead, in one transaction (design: streams, ops and sync).

use rusqlite::params;
use tarn_domain::catalogue::op_text;
use tarn_domain::streams::Clock;

use super::ops::op_of;
use super::shelf::SqlShelf;
use super::{StoreError, Stored, StreamRow, Work};

/// What mending did.
#[derive(Debug, Clone, Copy)]
pub struct Mended {
    /// How many ops got another clock.
    pub ops: usize,
    /// How far the machine's clock is off.
    pub correction_ms: i64,
}

struct Ahead {
    n: i64,
    text: String,
    at_typed: bool,
}

impl Work<'_> {
    /// The server said that an op of this stream is later than `limit`, at its own clock `now`. Ops before the first
    /// one ahead stay as they are (they may have been accepted, and the answer lost); that op and all later ones that
    /// are not accepted get clocks upward from everything of this stream that stands. Other streams have other limits
    /// and say so themselves: only within a stream is one clock compared with another. The wall clock is corrected by
    /// the difference, and the device's clock in this stream set back to the last one given.
    ///
    /// # Errors
    /// The file.
    pub fn mend_clocks(
        &self,
        stream: &StreamRow,
        now: Clock,
        limit: Clock,
        machine_ms: i64,
    ) -> Stored<Mended> {
        let mut greatest = now.max(self.greatest_standing(stream, limit)?);
        let ahead = self.ahead_of(stream, limit)?;
        for op in &ahead {
            greatest = greatest.next();
            self.give_clock(stream, op, greatest)?;
        }
        if !ahead.is_empty() {
            self.rebuild(stream)?;
        }
        let correction_ms = now.ms() - machine_ms;
        self.set_clock(stream.n, greatest)?;
        self.set_clock_correction_ms(correction_ms)?;
        Ok(Mended { ops: ahead.len(), correction_ms })
    }

    /// The greatest clock of a stream that no mending changes. An op with a receipt keeps its bytes: the receipt
    /// vouches for them. A refused op that is ahead itself can't hold the others up there.
    fn greatest_standing(&self, stream: &StreamRow, limit: Clock) -> Stored<Clock> {
        let find = "SELECT max(clock) FROM ops
            WHERE stream = ? AND (state IN (1, 2) OR receipt IS NOT NULL OR clock <= ?)";
        let last: Option<String> =
            self.tx.query_row(find, params![stream.n, limit.to_string()], |row| row.get(0))?;
        let Some(last) = last else { return Ok(Clock::START) };
        last.parse().map_err(|_| StoreError::Corrupt(format!("the clock {last}")))
    }

    /// Pending ops that are ahead, and waiting ones: those will be pending again, and in the same order.
    fn ahead_of(&self, stream: &StreamRow, limit: Clock) -> Stored<Vec<Ahead>> {
        let mut find = self.tx.prepare(
            "SELECT n, text, at_typed FROM ops
             WHERE stream = ? AND state IN (0, 3) AND receipt IS NULL AND clock > ? ORDER BY clock, id",
        )?;
        let rows = find.query_map(params![stream.n, limit.to_string()], |row| {
            Ok(Ahead { n: row.get(0)?, text: row.get(1)?, at_typed: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn give_clock(&self, stream: &StreamRow, ahead: &Ahead, clock: Clock) -> Stored {
        let Some(mut op) = op_of(&ahead.text) else {
            return Err(StoreError::Corrupt(format!("the entry number {}", ahead.n)));
        };
        let mut shelf = SqlShelf::new(&self.tx, stream.n);
        shelf.take(op.id)?;
        op.clock = clock;
        op.at = if ahead.at_typed { op.at.min(clock.at()) } else { clock.at() };
        self.tx.execute(
            "UPDATE ops SET text = ?, clock = ?, at = ?, live = 0 WHERE n = ?",
            params![op_text(&op), clock.to_string(), op.at.seconds(), ahead.n],
        )?;
        shelf.put(ahead.n, &op)
    }
}
