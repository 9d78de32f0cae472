//! Where this installation keeps its files: one SQLite file per account, the tokens beside it, and which of them is in
//! use. Must not know what is in the files.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use fs4::fs_std::FileExt;

use crate::failure::{Failure, Outcome};

/// The data folder.
#[derive(Debug, Clone)]
pub struct Folder {
    path: PathBuf,
}

/// Held while one process syncs; gone with it.
#[derive(Debug)]
pub struct SyncLock(#[allow(dead_code)] File);

const IN_USE: &str = "in-use";
const FIRST: &str = "records-1";

impl Folder {
    /// The folder that was asked for, else `tarn` in the XDG data folder; made if it isn't there.
    ///
    /// # Errors
    /// When it can't be made.
    pub fn open(asked: Option<PathBuf>) -> Outcome<Self> {
        let path = match asked {
            Some(path) => path,
            None => default_folder()?,
        };
        let trouble = |e| Failure::refused(format!("the folder {} can't be made: {e}", path.display()));
        fs::create_dir_all(&path).map_err(trouble)?;
        Ok(Self { path })
    }

    /// The folder itself.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The name of the file in use, without its ending.
    pub fn in_use(&self) -> String {
        let named = fs::read_to_string(self.path.join(IN_USE)).unwrap_or_default();
        let named = named.trim();
        let plain = named.strip_prefix("records-").is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()));
        if plain { named.to_owned() } else { FIRST.to_owned() }
    }

    /// The local file of a name.
    pub fn records(&self, name: &str) -> PathBuf {
        self.path.join(format!("{name}.sqlite"))
    }

    /// All names of local files that are there.
    pub fn all(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.path).into_iter().flatten().flatten();
        let mut names: Vec<String> = entries
            .filter_map(|e| e.file_name().into_string().ok())
            .filter_map(|name| name.strip_suffix(".sqlite").map(str::to_owned))
            .filter(|name| name.starts_with("records-"))
            .collect();
        names.sort();
        names
    }

    /// A name that no file has yet.
    pub fn free_name(&self) -> String {
        let all = self.all();
        (1..).map(|n| format!("records-{n}")).find(|name| !all.contains(name)).unwrap_or_else(|| FIRST.into())
    }

    /// Uses another local file from now on.
    ///
    /// # Errors
    /// When that can't be written down.
    pub fn make_in_use(&self, name: &str) -> Outcome {
        self.replace(IN_USE, name.as_bytes())
    }

    /// The tokens of the file in use; none if nobody is logged in.
    pub fn token_text(&self) -> Option<String> {
        fs::read_to_string(self.path.join(format!("{}.token", self.in_use()))).ok()
    }

    /// Keeps the tokens, readable by this user only; none takes them away.
    ///
    /// # Errors
    /// When they can't be written.
    pub fn keep_token_text(&self, text: Option<&str>) -> Outcome {
        let name = format!("{}.token", self.in_use());
        match text {
            Some(text) => self.replace(&name, text.as_bytes()),
            None => {
                let _ = fs::remove_file(self.path.join(name));
                Ok(())
            }
        }
    }

    /// Writes a small file as a whole or not at all, mode 0600.
    fn replace(&self, name: &str, bytes: &[u8]) -> Outcome {
        let target = self.path.join(name);
        let draft = self.path.join(format!("{name}.{}", std::process::id()));
        let write = || {
            let mut options = OpenOptions::new();
            options.write(true).create(true).truncate(true);
            #[cfg(unix)]
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
            let mut file = options.open(&draft)?;
            file.write_all(bytes)?;
            file.sync_all()?;
            fs::rename(&draft, &target)
        };
        write().map_err(|e: std::io::Error| {
            Failure::refused(format!("{} can't be written: {e}", target.display()))
        })
    }

    /// Waits until no other process syncs this file, then holds it. `waits` is called before waiting.
    ///
    /// # Errors
    /// When the lock can't be had.
    pub fn lock_sync(&self, waits: impl FnOnce()) -> Outcome<SyncLock> {
        let path = self.path.join(format!("{}.lock", self.in_use()));
        let trouble =
            |e: std::io::Error| Failure::refused(format!("{} can't be locked: {e}", path.display()));
        let file =
            OpenOptions::new().write(true).create(true).truncate(false).open(&path).map_err(trouble)?;
        if !FileExt::try_lock_exclusive(&file).map_err(trouble)? {
            waits();
            FileExt::lock_exclusive(&file).map_err(trouble)?;
        }
        Ok(SyncLock(file))
    }
}

fn default_folder() -> Outcome<PathBuf> {
    let set = |name| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let data = set("XDG_DATA_HOME").filter(|p| p.is_absolute());
    let data = data.or_else(|| set("HOME").map(|home| home.join(".local/share")));
    let asks = || Failure::wrong_use("no data folder is known; say which with --data DIR or TARN_DATA");
    Ok(data.ok_or_else(asks)?.join("tarn"))
}
