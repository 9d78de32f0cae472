//! What can go wrong with the local file, told apart as far as people can do something about it.

use rusqlite::ErrorCode;

/// Why the local file did not do what was asked; then nothing of it was recorded.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No room on the disk or in the file.
    #[error("the disk or the local file is full; nothing was recorded")]
    Full,
    /// The file can't be written.
    #[error("the local file is read-only; nothing was recorded")]
    ReadOnly,
    /// Somebody else is writing for too long.
    #[error("the local file is busy; nothing was recorded")]
    Busy,
    /// An op that no server would take.
    #[error("the entry has {0} bytes; {most} are the most; nothing was recorded", most = tarn_domain::streams::LARGEST_OP)]
    TooLarge(usize),
    /// Made by a newer version.
    #[error("the local file was written by a newer version of tarn ({0}); nothing was changed")]
    Newer(i64),
    /// What is stored can't be read.
    #[error("the local file holds something that can't be read: {0}")]
    Corrupt(String),
    /// Anything else that SQLite says.
    #[error("the local file can't be used: {0}")]
    Sqlite(rusqlite::Error),
    /// The folder or file can't be used.
    #[error("{0}")]
    Folder(String),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(ErrorCode::ReadOnly) => Self::ReadOnly,
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            // a full disk shows as an I/O error where the file system says so only on writing back
            Some(ErrorCode::SystemIoFailure) if error.to_string().contains("full") => Self::Full,
            _ => Self::Sqlite(error),
        }
    }
}

/// What the store gives.
pub type Stored<T = ()> = Result<T, StoreError>;
