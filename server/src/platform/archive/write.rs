//! Writing an archive: a snapshot of every table, first to files beside it, then into one.

use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Seek, Write};
use std::path::Path;

use futures_util::TryStreamExt;
use sea_orm::{ConnectionTrait, StreamTrait};
use sha2::{Digest, Sha256};

use super::{FORMAT, MANIFEST, Manifest, Shape, Table, hex};

/// Compresses well and costs little.
const LEVEL: i32 = 6;

/// Writes everything that `conn` sees, which should be a snapshot. The file is there when it is complete, or not.
pub async fn write<C: ConnectionTrait + StreamTrait>(
    conn: &C,
    shapes: &[Shape],
    made_at: String,
    target: &Path,
) -> Result<Manifest, String> {
    let folder = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut dumps = Vec::new();
    let mut manifest =
        Manifest { format: FORMAT, made_at, program: env!("CARGO_PKG_VERSION").into(), tables: vec![] };
    for shape in shapes {
        let mut file = tempfile::tempfile_in(folder).map_err(|err| format!("{}: {err}", folder.display()))?;
        manifest.tables.push(dump(conn, shape, &mut file).await?);
        dumps.push(file);
    }
    pack(&manifest, dumps, target).map_err(|err| format!("{}: {err}", target.display()))?;
    Ok(manifest)
}

async fn dump<C: ConnectionTrait + StreamTrait>(
    conn: &C,
    shape: &Shape,
    file: &mut File,
) -> Result<Table, String> {
    let (mut out, mut digest, mut count) = (BufWriter::new(file), Sha256::new(), 0);
    let select = shape.select();
    let mut rows = std::pin::pin!(conn.stream(&select).await.map_err(|err| err.to_string())?);
    while let Some(row) = rows.try_next().await.map_err(|err| err.to_string())? {
        let mut line = shape.to_json(&row).map_err(|err| err.to_string())?.to_string();
        line.push('\n');
        digest.update(&line);
        count += 1;
        out.write_all(line.as_bytes()).map_err(|err| err.to_string())?;
    }
    out.flush().map_err(|err| err.to_string())?;
    Ok(Table { name: shape.name.to_owned(), rows: count, sha256: hex(&digest.finalize()) })
}

fn pack(manifest: &Manifest, dumps: Vec<File>, target: &Path) -> std::io::Result<()> {
    let partial = target.with_extension("partial");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    // It holds keys and password hashes.
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut packed = tar::Builder::new(zstd::Encoder::new(options.open(&partial)?, LEVEL)?);
    let text = serde_json::to_vec_pretty(manifest)?;
    append(&mut packed, MANIFEST, text.len() as u64, text.as_slice())?;
    for (table, mut dump) in manifest.tables.iter().zip(dumps) {
        let length = dump.stream_position()?;
        dump.rewind()?;
        append(&mut packed, &Table::path(&table.name), length, dump)?;
    }
    let file = packed.into_inner()?.finish()?;
    file.sync_all()?;
    std::fs::rename(partial, target)
}

fn append(
    packed: &mut tar::Builder<impl Write>,
    path: &str,
    length: u64,
    data: impl std::io::Read,
) -> std::io::Result<()> {
    let mut header = tar::Header::new_gnu();
    header.set_size(length);
    header.set_mode(0o600);
    packed.append_data(&mut header, path, data)
}
