//! Manifests: lints that must stand, dependencies that must be used and may be shipped.

use super::Breaches;
use super::source;
use std::collections::BTreeSet;
use std::process::Command;
use tarn_tests::place;
use toml::Table;

/// What `clippy.toml` must forbid; the compiler sees what reading tokens can't.
const FORBIDDEN: [&str; 7] = [
    "chrono::Utc::now",
    "std::time::SystemTime::now",
    "uuid::Uuid::now_v7",
    "uuid::Uuid::new_v4",
    "rand::rng",
    "rand::random",
    "sea_orm::TransactionTrait::begin",
];

/// Dependencies that are there for what they bring, not for a name in a source.
const UNNAMED: [(&str, &str, &str); 1] =
    [("server", "flate2", "the web framework packs with it, and takes the features that are asked for here")];

fn read(path: &str) -> Table {
    let file = place::workspace().join(path);
    let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    text.parse().unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn members() -> Vec<String> {
    let workspace = read("Cargo.toml");
    let members = workspace["workspace"]["members"].as_array().expect("a list of members");
    members.iter().map(|m| m.as_str().expect("a folder").to_owned()).collect()
}

/// A lint that is not in force.
pub fn lint_breaches() -> Breaches {
    let mut breaches = Vec::new();
    let clippy = read("clippy.toml");
    let listed = clippy.get("disallowed-methods").and_then(|l| l.as_array()).cloned().unwrap_or_default();
    let paths: Vec<&str> = listed
        .iter()
        .filter_map(|entry| entry.as_str().or_else(|| entry.get("path").and_then(|p| p.as_str())))
        .collect();
    for method in FORBIDDEN {
        if !paths.contains(&method) {
            breaches.push(format!("clippy.toml does not forbid {method}"));
        }
    }
    for member in members() {
        let manifest = read(&format!("{member}/Cargo.toml"));
        if manifest.get("lints").and_then(|l| l.get("workspace")).and_then(|w| w.as_bool()) != Some(true) {
            breaches.push(format!("{member}/Cargo.toml does not take the workspace's lints"));
        }
    }
    breaches
}

/// A dependency that no source of its package names.
pub fn unused() -> Breaches {
    let sources = source::all();
    let mut breaches = Vec::new();
    let mut named = BTreeSet::new();
    for member in members() {
        let manifest = read(&format!("{member}/Cargo.toml"));
        for table in ["dependencies", "dev-dependencies", "build-dependencies"] {
            let Some(dependencies) = manifest.get(table).and_then(|d| d.as_table()) else { continue };
            for name in dependencies.keys() {
                named.insert(name.clone());
                let word = name.replace('-', "_");
                let mut mine = sources.iter().filter(|s| s.package() == member);
                let used = mine.any(|s| s.tokens.iter().any(|t| t.text == word));
                let excused =
                    UNNAMED.iter().any(|(package, unnamed, _)| *package == member && unnamed == name);
                if !used && !excused {
                    breaches.push(format!("{member}/Cargo.toml: {name} is not used"));
                }
            }
        }
    }
    let workspace = read("Cargo.toml");
    let listed = workspace["workspace"]["dependencies"].as_table().expect("a table");
    breaches.extend(
        listed.keys().filter(|n| !named.contains(*n)).map(|n| format!("Cargo.toml: no member uses {n}")),
    );
    breaches
}

/// A package that comes from elsewhere than the registry, or under a licence that `deny.toml` does not allow.
pub fn licence_breaches() -> Breaches {
    let deny = read("deny.toml");
    let allowed = deny["licenses"]["allow"].as_array().expect("a list of licences");
    let allowed: Vec<&str> = allowed.iter().filter_map(|l| l.as_str()).collect();
    let excused: Vec<(&str, &str)> = deny["licenses"]["exceptions"]
        .as_array()
        .expect("a list of exceptions")
        .iter()
        .flat_map(|e| e["allow"].as_array().into_iter().flatten().map(|l| (e["crate"].as_str(), l.as_str())))
        .filter_map(|(package, licence)| package.zip(licence))
        .collect();
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    cargo.current_dir(place::workspace());
    cargo.args(["tree", "--workspace", "--offline", "--locked", "--prefix=none", "--format={p}\t{l}"]);
    let tree = tarn_tests::process::run(&mut cargo).expect(0);
    let lines = tree.stdout.lines().map(|line| line.trim_end_matches(" (*)"));
    let packages: BTreeSet<&str> = lines.filter(|line| !line.is_empty()).collect();
    assert!(packages.len() > 100, "{tree}");
    let mut breaches = Vec::new();
    for line in packages {
        let (package, licence) = line.split_once('\t').unwrap_or((line, ""));
        let name = package.split(' ').next().unwrap_or_default();
        if !allows(&allowed, licence) && !excused.contains(&(name, licence)) {
            breaches.push(format!("{package}: licence {licence:?}"));
        }
    }
    let lock = read("Cargo.lock");
    for package in lock["package"].as_array().expect("a list of packages") {
        let source = package.get("source").and_then(|s| s.as_str());
        if source.is_some_and(|s| !s.starts_with("registry+")) {
            breaches.push(format!("{}: from {}", package["name"], source.unwrap_or_default()));
        }
    }
    breaches
}

/// Whether an SPDX expression leaves a choice that is allowed. `OR` binds less than `AND`; `/` is the old way to say `OR`.
pub fn allows(allowed: &[&str], expression: &str) -> bool {
    let expression = expression.trim();
    if expression.is_empty() {
        return false;
    }
    for (word, any) in [(" OR ", true), ("/", true), (" AND ", false)] {
        let parts = split_outside_brackets(expression, word);
        if parts.len() > 1 {
            let mut parts = parts.into_iter();
            return if any { parts.any(|p| allows(allowed, p)) } else { parts.all(|p| allows(allowed, p)) };
        }
    }
    match expression.strip_prefix('(').and_then(|e| e.strip_suffix(')')) {
        Some(inner) => allows(allowed, inner),
        None => allowed.contains(&expression),
    }
}

fn split_outside_brackets<'a>(text: &'a str, word: &str) -> Vec<&'a str> {
    let mut parts = Vec::new();
    let (mut from, mut depth) = (0, 0);
    for (at, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ if depth == 0 && at >= from && text[at..].starts_with(word) => {
                parts.push(&text[from..at]);
                from = at + word.len();
            }
            _ => {}
        }
    }
    parts.push(&text[from..]);
    parts
}
