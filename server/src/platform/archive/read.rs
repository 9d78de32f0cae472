//! Reading an archive: all of it is checked before a row of it is used.

use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

use sea_orm::{ConnectionTrait, DatabaseTransaction};
use sha2::{Digest, Sha256};

use super::{FORMAT, MANIFEST, Manifest, Shape, Table, hex};
use crate::platform::dialect;

/// Rows in one insert, at most.
const ROWS_AT_ONCE: usize = 500;

/// An archive that is whole.
#[derive(Debug)]
pub struct Opened {
    path: PathBuf,
    /// What is in it.
    pub manifest: Manifest,
}

type Entries = tar::Archive<zstd::Decoder<'static, BufReader<File>>>;

fn unpack(path: &Path) -> std::io::Result<Entries> {
    Ok(tar::Archive::new(zstd::Decoder::new(File::open(path)?)?))
}

/// Opens an archive and checks every table against its manifest.
pub fn open(path: &Path) -> Result<Opened, String> {
    let told = |err: std::io::Error| format!("{}: {err}", path.display());
    let mut packed = unpack(path).map_err(told)?;
    let mut entries = packed.entries().map_err(told)?;
    let first = entries.next().ok_or("the archive is empty")?.map_err(told)?;
    if first.path().map_err(told)? != Path::new(MANIFEST) {
        return Err(format!("{} is no archive of this program", path.display()));
    }
    let manifest: Manifest = serde_json::from_reader(first).map_err(|err| format!("{MANIFEST}: {err}"))?;
    if manifest.format != FORMAT {
        return Err(format!("the archive has format {}, this program reads {FORMAT}", manifest.format));
    }
    for table in &manifest.tables {
        let entry =
            entries.next().ok_or_else(|| format!("the archive ends before {}", table.name))?.map_err(told)?;
        let found = sum(entry, &table.name).map_err(told)?;
        if found != *table {
            return Err(format!("{} is damaged: {found:?} instead of {table:?}", table.name));
        }
    }
    Ok(Opened { path: path.to_owned(), manifest })
}

fn sum(entry: tar::Entry<'_, impl Read>, wanted: &str) -> std::io::Result<Table> {
    let is_it = entry.path()? == Path::new(&Table::path(wanted));
    let (mut digest, mut rows) = (Sha256::new(), 0);
    let mut lines = BufReader::new(entry);
    let mut line = Vec::new();
    while lines.read_until(b'\n', &mut line)? > 0 {
        digest.update(&line);
        rows += 1;
        line.clear();
    }
    let name = if is_it { wanted.to_owned() } else { "another table".to_owned() };
    Ok(Table { name, rows, sha256: hex(&digest.finalize()) })
}

impl Opened {
    /// Fills the tables; those that the archive does not have stay empty, those that we don't have are refused.
    pub async fn load(&self, tx: &DatabaseTransaction, shapes: &[Shape]) -> Result<(), String> {
        let told = |err: std::io::Error| format!("{}: {err}", self.path.display());
        let mut packed = unpack(&self.path).map_err(told)?;
        for entry in packed.entries().map_err(told)?.skip(1) {
            let entry = entry.map_err(told)?;
            let path = entry.path().map_err(told)?.to_string_lossy().into_owned();
            let shape = shapes.iter().find(|shape| Table::path(shape.name) == path);
            let shape = shape.ok_or_else(|| format!("this program has no table for {path}"))?;
            fill(tx, shape, BufReader::new(entry)).await?;
        }
        Ok(())
    }
}

async fn fill(tx: &DatabaseTransaction, shape: &Shape, lines: impl BufRead) -> Result<(), String> {
    let told = |err: std::io::Error| err.to_string();
    let mut lines = lines.lines().peekable();
    // all rows of a table were written by one program, so they have the same columns
    let shape = match lines.peek() {
        None => return Ok(()),
        Some(Ok(first)) => shape.known_to(first)?,
        Some(Err(err)) => return Err(err.to_string()),
    };
    let most = dialect::rows_per_insert(tx.get_database_backend(), shape.width()).min(ROWS_AT_ONCE);
    let mut rows = Vec::new();
    for line in lines {
        rows.push(shape.to_row(&line.map_err(told)?)?);
        if rows.len() == most {
            insert(tx, &shape, std::mem::take(&mut rows)).await?;
        }
    }
    if rows.is_empty() { Ok(()) } else { insert(tx, &shape, rows).await }
}

async fn insert(
    tx: &DatabaseTransaction,
    shape: &Shape,
    rows: Vec<Vec<sea_orm::Value>>,
) -> Result<(), String> {
    tx.execute(&shape.insert(rows)).await.map(|_| ()).map_err(|err| format!("{}: {err}", shape.name))
}
