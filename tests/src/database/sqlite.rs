//! SQLite databases as files: the database, its write-ahead log and its index belong together.

use super::template;
use std::path::{Path, PathBuf};

/// The name under which the server keeps it in its data folder.
const NAME: &str = "tarn.sqlite";
/// What may lie beside it.
const PARTS: [&str; 3] = ["", "-wal", "-shm"];

/// The database in a data folder.
pub fn file(folder: &Path) -> PathBuf {
    folder.join(NAME)
}

/// Its address for a connection of the test's own.
pub fn url(file: &Path) -> String {
    format!("sqlite://{}?mode=rwc", file.display())
}

fn part(folder: &Path, suffix: &str) -> PathBuf {
    folder.join(format!("{NAME}{suffix}"))
}

/// Copies the database of one folder into another.
pub fn copy(from: &Path, to: &Path) {
    for suffix in PARTS {
        let source = part(from, suffix);
        if source.exists() {
            std::fs::copy(&source, part(to, suffix))
                .unwrap_or_else(|e| panic!("cannot copy {}: {e}", source.display()));
        }
    }
}

/// Removes the database of a folder.
pub fn remove(folder: &Path) {
    for suffix in PARTS {
        let file = part(folder, suffix);
        if file.exists() {
            std::fs::remove_file(&file).unwrap_or_else(|e| panic!("cannot remove {}: {e}", file.display()));
        }
    }
}

/// Puts a copy of the migrated template into a folder.
pub fn copy_template(folder: &Path) {
    std::fs::copy(template::sqlite(), file(folder)).expect("the template can be copied");
}
