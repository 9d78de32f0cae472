//! Where tests find the built programs and where they may write. Nothing is written outside these folders.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// The root of the workspace.
pub fn workspace() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the crate lies in the workspace").to_path_buf()
}

/// The folder of this build: `target/debug` as a rule.
pub fn built() -> PathBuf {
    if let Some(dir) = std::env::var_os("TARN_BIN_DIR") {
        return dir.into();
    }
    let me = std::env::current_exe().expect("a test knows its own path");
    // target/debug/deps/all-0123…
    let here = me.parent().expect("a program lies in a folder");
    // a test lies in deps, the demo beside the programs
    let up =
        if here.ends_with("deps") { here.parent().expect("deps lies in the build's folder") } else { here };
    up.to_path_buf()
}

/// A built program of this workspace.
pub fn binary(name: &str) -> PathBuf {
    let path = built().join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    assert!(
        path.is_file(),
        "{} is not built; `tests/run` builds it, or: cargo build --workspace --bins",
        path.display()
    );
    path
}

/// The build's root, where what tests leave behind stands: `target`.
pub fn target() -> PathBuf {
    built().parent().expect("a build has a root").to_path_buf()
}

/// A folder under `target`, made if need be.
pub fn shelf(name: &str) -> PathBuf {
    let dir = target().join(name);
    std::fs::create_dir_all(&dir).unwrap_or_else(|e| panic!("cannot make {}: {e}", dir.display()));
    dir
}

/// A short name that no other test of this or another process at the same time has.
pub fn unique() -> String {
    static NEXT: AtomicU32 = AtomicU32::new(0);
    format!("{}_{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed))
}

/// A folder of one's own, removed when the test succeeds, kept and named when it fails.
#[derive(Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// Makes it under `target/test-data`.
    pub fn new(what: &str) -> Self {
        let dir = shelf("test-data").join(format!("{what}-{}", unique()));
        std::fs::create_dir(&dir).unwrap_or_else(|e| panic!("cannot make {}: {e}", dir.display()));
        Self(dir)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("kept for a look: {}", self.0.display());
        } else {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }
}
