//! Mending clocks that ran ahead, in one transaction over all streams (design: streams, ops and sync).

use rusqlite::params;
use tarn_domain::catalogue::op_text;
use tarn_domain::streams::Clock;

use super::ops::op_of;
use super::shelf::SqlShelf;
use super::{StoreError, Stored, Work};

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
    stream: i64,
    text: String,
    at_typed: bool,
}

impl Work<'_> {
    /// The server said that an op is later than `limit`, at its own clock `now`. Ops before the first one ahead stay as
    /// they are (they may have been accepted, and the answer lost); that op and all later pending ones get clocks
    /// upward from everything this device has seen. The wall clock is corrected by the difference.
    ///
    /// # Errors
    /// The file.
    pub fn mend_clocks(&self, now: Clock, limit: Clock, machine_ms: i64) -> Stored<Mended> {
        let mut greatest = now;
        // an op with a receipt keeps its bytes: the receipt vouches for them
        let last = "SELECT max(clock) FROM ops WHERE state <> 0 OR receipt IS NOT NULL OR clock <= ?";
        let last: Option<String> = self.tx.query_row(last, [limit.to_string()], |row| row.get(0))?;
        if let Some(last) = last {
            greatest =
                greatest.max(last.parse().map_err(|_| StoreError::Corrupt(format!("the clock {last}")))?);
        }
        let ahead = self.ahead_of(limit)?;
        for op in &ahead {
            greatest = greatest.next();
            self.give_clock(op, greatest)?;
        }
        let mut streams: Vec<i64> = ahead.iter().map(|op| op.stream).collect();
        streams.dedup();
        for stream in self.streams()?.into_iter().filter(|s| streams.contains(&s.n)) {
            self.rebuild(&stream)?;
        }
        let correction_ms = now.ms() - machine_ms;
        self.set_clock(greatest)?;
        self.set_clock_correction_ms(correction_ms)?;
        Ok(Mended { ops: ahead.len(), correction_ms })
    }

    fn ahead_of(&self, limit: Clock) -> Stored<Vec<Ahead>> {
        let mut find = self.tx.prepare(
            "SELECT n, stream, text, at_typed FROM ops WHERE state = 0 AND receipt IS NULL AND clock > ?
             ORDER BY clock, id",
        )?;
        let rows = find.query_map([limit.to_string()], |row| {
            Ok(Ahead { n: row.get(0)?, stream: row.get(1)?, text: row.get(2)?, at_typed: row.get(3)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn give_clock(&self, ahead: &Ahead, clock: Clock) -> Stored {
        let Some(mut op) = op_of(&ahead.text) else {
            return Err(StoreError::Corrupt(format!("the entry number {}", ahead.n)));
        };
        let mut shelf = SqlShelf::new(&self.tx, ahead.stream);
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
