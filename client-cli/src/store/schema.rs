//! The tables of the local file.

use rusqlite::Connection;

use super::{StoreError, Stored};

/// Rises with every change of the tables.
const VERSION: i64 = 4;

const TABLES: &str = "
CREATE TABLE settings (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;

CREATE TABLE streams (
  n INTEGER PRIMARY KEY,
  stream BLOB NOT NULL UNIQUE,
  kind TEXT NOT NULL,
  name TEXT NOT NULL,
  zone TEXT NOT NULL,
  rights TEXT NOT NULL,
  device BLOB NOT NULL,          -- this installation's, in this stream
  made_here INTEGER NOT NULL,    -- 1: made on this device
  on_server INTEGER NOT NULL,    -- 0: the server does not know it yet
  epoch BLOB,
  after INTEGER NOT NULL,        -- the last seq pulled
  chain BLOB NOT NULL,           -- the chain there
  ops_version INTEGER NOT NULL,  -- the server's, when last asked
  clock TEXT NOT NULL DEFAULT '1970-01-01T00:00:00.000Z/0000', -- the greatest seen or given here
  behind INTEGER NOT NULL,       -- 1: ops came in that are not folded yet
  fold_version INTEGER NOT NULL, -- by which the states were made
  read_version INTEGER NOT NULL  -- by which the ops were read
);

-- every op of every stream; n is the local order in which they came here
CREATE TABLE ops (
  n INTEGER PRIMARY KEY,
  stream INTEGER NOT NULL,
  id BLOB NOT NULL,
  kind TEXT NOT NULL,
  at INTEGER NOT NULL,
  clock TEXT NOT NULL,
  text TEXT NOT NULL,            -- RFC 8785
  state INTEGER NOT NULL,        -- 0 pending 1 answered 2 accepted 3 waiting 4 refused
  at_typed INTEGER NOT NULL,
  known INTEGER NOT NULL,        -- 0: of a kind this version does not know
  live INTEGER NOT NULL,
  seq INTEGER,
  by_account BLOB,
  received INTEGER,
  decision INTEGER NOT NULL,
  receipt TEXT,
  was BLOB,                      -- the digest of its first bytes, if words in it were blanked
  problem TEXT,
  held_version INTEGER,          -- not pushed again before the server's ops_version is above this
  UNIQUE (stream, id)
);
CREATE INDEX ops_open ON ops (stream, state, clock) WHERE state <> 2;
CREATE INDEX ops_back ON ops (stream, received, clock, id) WHERE state = 0 AND receipt IS NOT NULL;

-- everything ops speak of, with its folded state (none: no op here touches it)
CREATE TABLE entities (
  n INTEGER PRIMARY KEY,
  stream INTEGER NOT NULL,
  kind INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT,                     -- what people call it
  what TEXT,                     -- species of a stock, form of a brood
  made INTEGER NOT NULL,         -- 1: something live made it
  introduced INTEGER NOT NULL,   -- 1: a stock that came in from outside
  state TEXT,
  UNIQUE (stream, kind, id)
);

-- which op speaks of what: 0 makes it, 1 changes it, 2 names it, 3 is a log about it
CREATE TABLE touches (
  entity INTEGER NOT NULL,
  role INTEGER NOT NULL,
  at INTEGER NOT NULL,
  op INTEGER NOT NULL,
  PRIMARY KEY (entity, role, at, op)
) WITHOUT ROWID;

CREATE TABLE withdrawals (
  stream INTEGER NOT NULL,
  target BLOB NOT NULL,
  op INTEGER NOT NULL,
  PRIMARY KEY (stream, target, op)
) WITHOUT ROWID;

-- notes that stay on this device: in no state, no digest, never sent
CREATE TABLE notes (
  n INTEGER PRIMARY KEY,
  stream INTEGER NOT NULL,
  entity INTEGER,
  at INTEGER NOT NULL,
  text TEXT NOT NULL
);
";

/// Version 2: each stream has a clock of its own.
const TO_2: &str = "
ALTER TABLE streams ADD COLUMN clock TEXT NOT NULL DEFAULT '1970-01-01T00:00:00.000Z/0000';
UPDATE streams SET clock = coalesce((SELECT max(clock) FROM ops WHERE ops.stream = streams.n), clock);
DELETE FROM settings WHERE name = 'clock';
";

/// Version 3: words of an op may be blanked. A stream of which a version that knew no better pulled such a decision is
/// pulled once more.
const TO_3: &str = "
ALTER TABLE ops ADD COLUMN was BLOB;
UPDATE streams SET after = 0, chain = zeroblob(32)
  WHERE EXISTS (SELECT 1 FROM ops WHERE ops.stream = streams.n AND ops.kind = 'op.redacted');
";

/// Version 4: what comes back after a restore is found push by push.
const TO_4: &str = "
CREATE INDEX IF NOT EXISTS ops_back ON ops (stream, received, clock, id) WHERE state = 0 AND receipt IS NOT NULL;
";

/// Makes the tables in a new file, and brings an older one up to date.
pub(super) fn prepare(db: &mut Connection) -> Stored {
    let version: i64 = db.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if version > VERSION {
        return Err(StoreError::Newer(version));
    }
    if version == 0 {
        db.pragma_update(None, "journal_mode", "WAL")?;
    }
    if version < VERSION {
        let tx = db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        // another process may have been first
        match tx.query_row("PRAGMA user_version", [], |row| row.get(0))? {
            0 => tx.execute_batch(TABLES)?,
            1 => tx.execute_batch(&format!("{TO_2}{TO_3}{TO_4}"))?,
            2 => tx.execute_batch(&format!("{TO_3}{TO_4}"))?,
            3 => tx.execute_batch(TO_4)?,
            _ => return Ok(()),
        }
        tx.pragma_update(None, "user_version", VERSION)?;
        tx.commit()?;
    }
    Ok(())
}
