//! Small values by name: who is logged in, how far the clock is off, the room in use.

use rusqlite::{Connection, OptionalExtension};

use super::{Store, Stored, Work};

const CORRECTION: &str = "clock_correction_ms";

fn get(db: &Connection, name: &str) -> Stored<Option<String>> {
    let mut find = db.prepare_cached("SELECT value FROM settings WHERE name = ?")?;
    Ok(find.query_row([name], |row| row.get(0)).optional()?)
}

fn correction(db: &Connection) -> Stored<i64> {
    Ok(get(db, CORRECTION)?.and_then(|ms| ms.parse().ok()).unwrap_or(0))
}

impl Store {
    /// A value.
    ///
    /// # Errors
    /// The file.
    pub fn setting(&self, name: &str) -> Stored<Option<String>> {
        get(&self.db, name)
    }

    /// By how much the machine's wall clock is off, as last measured against the server.
    ///
    /// # Errors
    /// The file.
    pub fn clock_correction_ms(&self) -> Stored<i64> {
        correction(&self.db)
    }
}

impl Work<'_> {
    /// A value.
    ///
    /// # Errors
    /// The file.
    pub fn setting(&self, name: &str) -> Stored<Option<String>> {
        get(&self.tx, name)
    }

    /// Sets a value, or takes it away.
    ///
    /// # Errors
    /// The file.
    pub fn set(&self, name: &str, value: Option<&str>) -> Stored {
        match value {
            Some(value) => self.tx.execute(
                "INSERT INTO settings VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                [name, value],
            )?,
            None => self.tx.execute("DELETE FROM settings WHERE name = ?", [name])?,
        };
        Ok(())
    }

    /// By how much the machine's wall clock is off.
    ///
    /// # Errors
    /// The file.
    pub fn clock_correction_ms(&self) -> Stored<i64> {
        correction(&self.tx)
    }

    /// Notes how much the machine's wall clock is off (0: nothing).
    ///
    /// # Errors
    /// The file.
    pub fn set_clock_correction_ms(&self, ms: i64) -> Stored {
        self.set(CORRECTION, (ms != 0).then(|| ms.to_string()).as_deref())
    }
}
