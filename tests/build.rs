//! Tells the tests which migrations they are built with, so that a database template is never taken for another's.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;

fn main() {
    let migrations = PathBuf::from("../migrations/src");
    println!("cargo::rerun-if-changed={}", migrations.display());
    let mut hasher = DefaultHasher::new();
    let mut folders = vec![migrations];
    let mut files = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("the migrations have sources").flatten() {
            let path = entry.path();
            if path.is_dir() { folders.push(path) } else { files.push(path) }
        }
    }
    files.sort();
    for file in files {
        std::fs::read(&file).expect("a source can be read").hash(&mut hasher);
    }
    println!("cargo::rustc-env=MIGRATIONS_FINGERPRINT={:016x}", hasher.finish());
}
