//! Sources as tokens: comments and strings are out of the way, and every token knows its line.

use super::lexer::{self, Token};
use std::path::Path;
use std::sync::OnceLock;
use tarn_tests::place;

/// The crates whose sources are looked at.
const CRATES: [&str; 5] = ["domain", "server", "client-cli", "migrations", "tests"];

/// One Rust file.
pub struct Source {
    /// From the workspace's root, with `/`.
    pub path: String,
    pub text: String,
    pub tokens: Vec<Token>,
}

impl Source {
    pub fn new(path: &str, text: &str) -> Self {
        Self { path: path.to_owned(), text: text.to_owned(), tokens: lexer::tokens(text) }
    }

    /// The parts of the path.
    pub fn parts(&self) -> Vec<&str> {
        self.path.split('/').collect()
    }

    /// `domain` of `domain/src/rooms/stay.rs`.
    pub fn package(&self) -> &str {
        self.parts()[0]
    }

    /// Whether it belongs to what is shipped, not to its tests.
    pub fn shipped(&self) -> bool {
        self.package() != "tests" && self.parts().get(1) == Some(&"src")
    }

    /// `["rooms", "stay"]` of `domain/src/rooms/stay.rs`; a folder's `mod.rs` is the folder, `lib.rs` is the root.
    pub fn module(&self) -> Vec<String> {
        let mut parts: Vec<String> = self.parts().iter().skip(2).map(|p| (*p).to_owned()).collect();
        let file = parts.pop().unwrap_or_default();
        match file.trim_end_matches(".rs") {
            "mod" | "lib" => {}
            stem => parts.push(stem.to_owned()),
        }
        parts
    }

    /// Where this row of words stands, as lines; `::` is two tokens.
    pub fn lines_of(&self, words: &[&str]) -> Vec<usize> {
        let found = self
            .tokens
            .windows(words.len())
            .filter(|window| window.iter().zip(words).all(|(t, w)| t.text == *w));
        found.map(|window| window[0].line).collect()
    }

    /// Each path that begins with this word, with what follows it first: `crate::{a, b::c}` gives `a` and `b`.
    pub fn heads_after(&self, word: &str) -> Vec<(String, usize)> {
        let mut heads = Vec::new();
        for (at, token) in self.tokens.iter().enumerate() {
            if token.text == word && is_path(&self.tokens, at + 1) {
                heads_at(&self.tokens, at + 3, &mut heads);
            }
        }
        heads
    }
}

/// Whether `::` stands here.
pub fn is_path(tokens: &[Token], at: usize) -> bool {
    matches!(tokens.get(at..at + 2), Some([a, b]) if a.text == ":" && b.text == ":")
}

/// The first words of the path or group of paths that begins here.
pub fn heads_at(tokens: &[Token], at: usize, heads: &mut Vec<(String, usize)>) {
    let Some(first) = tokens.get(at) else { return };
    if first.text != "{" {
        heads.push((first.text.clone(), first.line));
        return;
    }
    let mut depth = 0;
    let mut begins = false;
    for token in &tokens[at..] {
        match token.text.as_str() {
            "{" => {
                depth += 1;
                begins = depth == 1;
                continue;
            }
            "}" => depth -= 1,
            "," => {
                begins = depth == 1;
                continue;
            }
            word if begins => heads.push((word.to_owned(), token.line)),
            _ => {}
        }
        begins = false;
        if depth == 0 {
            return;
        }
    }
}

/// Every Rust file of the workspace.
pub fn all() -> &'static [Source] {
    static READ: OnceLock<Vec<Source>> = OnceLock::new();
    READ.get_or_init(|| {
        let root = place::workspace();
        let mut sources = Vec::new();
        for package in CRATES {
            read(&root, &root.join(package), &mut sources);
        }
        assert!(sources.len() > 20, "only {} sources found under {}", sources.len(), root.display());
        sources
    })
}

fn read(root: &Path, folder: &Path, sources: &mut Vec<Source>) {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            if path.file_name().is_none_or(|name| name != "target") {
                read(root, &path, sources);
            }
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            let relative = path.strip_prefix(root).expect("it lies under the root");
            let parts: Vec<_> = relative.iter().map(|p| p.to_string_lossy()).collect();
            sources.push(Source::new(&parts.join("/"), &text));
        }
    }
}
