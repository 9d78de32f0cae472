//! The streams this account takes part in, and how far each was pulled.

use rusqlite::{Connection, OptionalExtension, Row, params};
use tarn_domain::catalogue::{FOLD_VERSION, OPS_VERSION};
use tarn_domain::streams::{Chain, Clock, DeviceId, EpochId, StreamId};
use uuid::Uuid;

use super::{Store, StoreError, Stored, Work};

/// The rights in a stream that the server no longer has.
pub const GONE: &str = "gone";

/// One stream.
#[derive(Debug, Clone)]
pub struct StreamRow {
    pub(super) n: i64,
    /// Its id; a room's id is the same.
    pub id: StreamId,
    /// `room`, so far.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// The time zone its keepers read the clock in.
    pub zone: String,
    /// `write` or `read`; [`GONE`] once the server has told so.
    pub rights: String,
    /// This installation's device in it.
    pub device: DeviceId,
    /// Whether it was made on this device.
    pub made_here: bool,
    /// Whether the server knows it.
    pub on_server: bool,
    /// The epoch of what was pulled.
    pub epoch: Option<EpochId>,
    /// The last seq that was pulled.
    pub after: u64,
    /// The chain there.
    pub chain: Chain,
    /// The server's `ops_version` when last asked.
    pub ops_version: u32,
    pub(super) stale: bool,
}

/// A stream to be remembered.
#[derive(Debug, Clone)]
pub struct NewStream {
    /// Its id.
    pub id: StreamId,
    /// Its kind.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// Its time zone.
    pub zone: String,
    /// `write` or `read`.
    pub rights: String,
    /// This installation's device in it.
    pub device: DeviceId,
    /// Whether the server knows it.
    pub on_server: bool,
}

const COLUMNS: &str = "n, stream, kind, name, zone, rights, device, on_server, epoch, after, chain, ops_version, \
    behind, fold_version, read_version, made_here";

fn read(row: &Row<'_>) -> rusqlite::Result<StreamRow> {
    let uuid = |i| row.get::<_, [u8; 16]>(i).map(Uuid::from_bytes);
    let epoch: Option<[u8; 16]> = row.get(8)?;
    let chain: Vec<u8> = row.get(10)?;
    let versions: (i32, u32) = (row.get(13)?, row.get(14)?);
    Ok(StreamRow {
        n: row.get(0)?,
        id: StreamId(uuid(1)?),
        kind: row.get(2)?,
        name: row.get(3)?,
        zone: row.get(4)?,
        rights: row.get(5)?,
        device: DeviceId(uuid(6)?),
        on_server: row.get(7)?,
        made_here: row.get(15)?,
        epoch: epoch.map(|bytes| EpochId(Uuid::from_bytes(bytes))),
        after: row.get(9)?,
        chain: Chain::of_bytes(&chain).unwrap_or(Chain::EMPTY),
        ops_version: row.get(11)?,
        stale: row.get::<_, bool>(12)? || versions != (FOLD_VERSION, OPS_VERSION),
    })
}

fn all(db: &Connection) -> Stored<Vec<StreamRow>> {
    let mut find = db.prepare_cached(&format!("SELECT {COLUMNS} FROM streams ORDER BY name, stream"))?;
    let rows = find.query_map([], read)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn one(db: &Connection, id: StreamId) -> Stored<Option<StreamRow>> {
    let mut find = db.prepare_cached(&format!("SELECT {COLUMNS} FROM streams WHERE stream = ?"))?;
    Ok(find.query_row([id.0.as_bytes()], read).optional()?)
}

impl Store {
    /// All streams, by name.
    ///
    /// # Errors
    /// The file.
    pub fn streams(&self) -> Stored<Vec<StreamRow>> {
        all(&self.db)
    }

    /// A stream as it is now.
    ///
    /// # Errors
    /// When it isn't there.
    pub fn stream(&self, id: StreamId) -> Stored<StreamRow> {
        one(&self.db, id)?.ok_or_else(|| StoreError::Corrupt(format!("the stream {id} is gone")))
    }
}

impl Work<'_> {
    /// All streams, by name.
    ///
    /// # Errors
    /// The file.
    pub fn streams(&self) -> Stored<Vec<StreamRow>> {
        all(&self.tx)
    }

    /// A stream as it is now.
    ///
    /// # Errors
    /// When it isn't there.
    pub fn stream(&self, id: StreamId) -> Stored<StreamRow> {
        one(&self.tx, id)?.ok_or_else(|| StoreError::Corrupt(format!("the stream {id} is gone")))
    }

    /// Remembers a stream; one that is known already only takes the name, zone and rights.
    ///
    /// # Errors
    /// The file.
    pub fn keep_stream(&self, new: &NewStream) -> Stored {
        self.tx.execute(
            "INSERT INTO streams (stream, kind, name, zone, rights, device, made_here, on_server, epoch, after, chain,
               ops_version, behind, fold_version, read_version)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, NOT ?7, ?7, NULL, 0, ?8, 0, 0, ?9, ?10)
             ON CONFLICT (stream) DO UPDATE SET name = excluded.name, zone = excluded.zone,
               rights = excluded.rights, on_server = max(on_server, excluded.on_server)",
            params![
                new.id.0.as_bytes(),
                new.kind,
                new.name,
                new.zone,
                new.rights,
                new.device.0.as_bytes(),
                new.on_server,
                Chain::EMPTY.0,
                FOLD_VERSION,
                OPS_VERSION
            ],
        )?;
        Ok(())
    }

    /// The server no longer has a stream: what is here stays, and nothing more is written into it.
    pub fn mark_gone(&self, id: StreamId) -> Stored {
        self.tx
            .execute("UPDATE streams SET rights = ?2 WHERE stream = ?1", params![id.0.as_bytes(), GONE])?;
        Ok(())
    }

    /// The hybrid logical clock of this installation in a stream. Each stream has its own: clocks are only compared
    /// within one, and a stream that once ran ahead must not take the others along.
    pub(super) fn clock(&self, stream: i64) -> Stored<Clock> {
        let mut find = self.tx.prepare_cached("SELECT clock FROM streams WHERE n = ?")?;
        let text: String = find.query_row([stream], |row| row.get(0))?;
        text.parse().map_err(|e| StoreError::Corrupt(format!("the clock {text}: {e}")))
    }

    pub(super) fn set_clock(&self, stream: i64, clock: Clock) -> Stored {
        let mut set = self.tx.prepare_cached("UPDATE streams SET clock = ? WHERE n = ?")?;
        set.execute(params![clock.to_string(), stream])?;
        Ok(())
    }

    /// Gives this installation another device in a stream (the old one turned out to be somebody else's).
    ///
    /// # Errors
    /// The file.
    pub fn set_device(&self, stream: StreamId, device: DeviceId) -> Stored {
        self.tx.execute(
            "UPDATE streams SET device = ? WHERE stream = ?",
            params![device.0.as_bytes(), stream.0.as_bytes()],
        )?;
        Ok(())
    }

    /// Notes what registering told: the server has the stream, this `ops_version`, and an epoch to begin with.
    ///
    /// # Errors
    /// The file.
    pub fn registered(&self, stream: StreamId, epoch: EpochId, ops_version: u32) -> Stored {
        self.tx.execute(
            "UPDATE streams SET on_server = 1, ops_version = ?, epoch = coalesce(epoch, ?) WHERE stream = ?",
            params![ops_version, epoch.0.as_bytes(), stream.0.as_bytes()],
        )?;
        Ok(())
    }
}
