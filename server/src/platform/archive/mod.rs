//! One file with everything in it, the same from either engine: what `backup` writes and `restore` reads.
//!
//! A zstd-compressed tar: `manifest.json` (format 1: tables with rows and SHA-256), then `tables/<name>.jsonl`, a row
//! a line. Bytes are base64 without padding, ids are text, times are numbers. Which tables there are is told by the
//! caller; what a row means is not known here.

mod read;
mod shape;
mod write;

pub use read::{Opened, open};
pub use shape::Shape;
pub use write::write;

use serde::{Deserialize, Serialize};

/// The version of the archive's form.
pub const FORMAT: u32 = 1;
const MANIFEST: &str = "manifest.json";

/// What is in an archive.
#[derive(Debug, Serialize, Deserialize)]
pub struct Manifest {
    /// [`FORMAT`].
    pub format: u32,
    /// When it was made.
    pub made_at: String,
    /// The version of the program that made it.
    pub program: String,
    /// Its tables, in the order in which they can be filled.
    pub tables: Vec<Table>,
}

/// One table of an archive.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// How many rows it has.
    pub rows: u64,
    /// SHA-256 of its lines, in hexadecimal.
    pub sha256: String,
}

impl Table {
    fn path(name: &str) -> String {
        format!("tables/{name}.jsonl")
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entities::server_keys;
    use crate::platform::clock::Ids;
    use crate::platform::config::sqlite_url;
    use crate::platform::db::Db;
    use crate::platform::keys::Keys;

    /// An archive of one table with three keys in it.
    async fn archive(folder: &std::path::Path) -> std::path::PathBuf {
        let db = Db::open(&sqlite_url(&folder.join("t.sqlite"))).await.expect("opened");
        Keys::load_or_make(&db, &Ids, 1).await.expect("made");
        let (file, snapshot) = (folder.join("t.tar.zst"), db.snapshot().await.expect("begun"));
        let shapes = [Shape::of(server_keys::Entity)];
        let manifest =
            write(&snapshot, &shapes, "2026-03-01T09:30:00Z".into(), &file).await.expect("written");
        assert_eq!(manifest.tables[0].rows, 3);
        file
    }

    #[actix_web::test]
    async fn a_whole_archive_opens_and_a_damaged_one_does_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = archive(folder.path()).await;
        assert_eq!(open(&file).expect("whole").manifest.tables[0].name, "server_keys");
        let bytes = std::fs::read(&file).expect("read");
        for cut in [0, 10, bytes.len() / 2, bytes.len() - 5] {
            std::fs::write(&file, &bytes[..cut]).expect("written");
            assert!(open(&file).is_err(), "{cut} bytes of it");
        }
    }

    #[actix_web::test]
    async fn another_programs_file_is_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("x.tar.zst");
        let mut packed = tar::Builder::new(
            zstd::Encoder::new(std::fs::File::create(&file).expect("made"), 1).expect("begun"),
        );
        let mut header = tar::Header::new_gnu();
        header.set_size(2);
        packed.append_data(&mut header, "other.json", "{}".as_bytes()).expect("packed");
        packed.into_inner().expect("packed").finish().expect("finished");
        assert!(open(&file).expect_err("refused").contains("no archive of this program"));
    }
}
