//! What people and programs read: tables or JSON on standard output, messages on standard error. The one place where
//! text from elsewhere is made safe for a terminal.

use std::io::{self, ErrorKind, IsTerminal, Write};

use comfy_table::presets::NOTHING;
use comfy_table::{Attribute, Cell, ContentArrangement, Table};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::Value;

use crate::failure::{Failure, Outcome};

/// How to write.
#[derive(Debug, Clone)]
pub struct Output {
    json: bool,
    terminal: bool,
    color: bool,
}

impl Output {
    /// For this process.
    pub fn new(json: bool) -> Self {
        let terminal = io::stdout().is_terminal();
        let plain = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        Self { json, terminal, color: terminal && !plain }
    }

    /// Whether JSON was asked for.
    pub fn is_json(&self) -> bool {
        self.json
    }

    /// Whether somebody may be asked.
    pub fn may_ask(&self) -> bool {
        io::stdin().is_terminal() && io::stderr().is_terminal()
    }

    /// Data as JSON.
    ///
    /// # Errors
    /// When it can't be written. A closed pipe is no error.
    pub fn data(&self, value: &Value) -> Outcome {
        let text = serde_json::to_string_pretty(value).map_err(Failure::refused)?;
        self.raw(&if self.terminal { escape_json(&text) } else { text })
    }

    /// A text that must come out byte by byte.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn raw(&self, text: &str) -> Outcome {
        let mut out = io::stdout().lock();
        let written = writeln!(out, "{text}").and_then(|()| out.flush());
        match written {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => {
                Err(Failure::refused(format!("the answer can't be written: {error}")))
            }
            _ => Ok(()),
        }
    }

    /// A line of data for people.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn line(&self, text: &str) -> Outcome {
        self.raw(&escape(text))
    }

    /// A table for people.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn table(&self, head: &[&str], rows: Vec<Vec<String>>) -> Outcome {
        let mut table = Table::new();
        table.load_preset(NOTHING);
        if self.terminal {
            table.set_content_arrangement(ContentArrangement::Dynamic);
        }
        let title =
            |h: &&str| if self.color { Cell::new(h).add_attribute(Attribute::Bold) } else { Cell::new(h) };
        if head.iter().any(|h| !h.is_empty()) {
            table.set_header(head.iter().map(title).collect::<Vec<_>>());
        }
        for row in rows {
            table.add_row(row.iter().map(|cell| escape(cell)).collect::<Vec<_>>());
        }
        let lines: Vec<String> = table.lines().map(|line| line.trim_end().to_owned()).collect();
        self.raw(&lines.join("\n"))
    }

    /// A message for people. Never fails: nobody may be there to read it.
    pub fn say(&self, text: &str) {
        let _ = writeln!(io::stderr().lock(), "{}", escape_lines(text));
    }

    /// How far something long has come, on a terminal; nothing is drawn where there is none.
    pub fn bar(&self, what: &str, total: u64) -> Bar {
        let bar = ProgressBar::new(total);
        if let Ok(style) = ProgressStyle::with_template("{msg} [{wide_bar}] {human_pos}/{human_len}") {
            bar.set_style(style.progress_chars("=> "));
        }
        bar.set_message(escape(what));
        Bar(bar)
    }
}

/// A bar of progress. Dropped, it is wiped away.
#[derive(Debug)]
pub struct Bar(ProgressBar);

impl Bar {
    /// So much is done.
    pub fn done(&self, done: u64) {
        self.0.set_length(self.0.length().unwrap_or(0).max(done));
        self.0.set_position(done);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

/// Characters that would move the cursor, hide text or turn its direction.
fn is_hostile(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{061c}' | '\u{feff}')
}

/// A text with hostile characters spelled out.
pub fn escape(text: &str) -> String {
    if !text.contains(is_hostile) {
        return text.to_owned();
    }
    text.chars().map(|c| if is_hostile(c) { c.escape_unicode().to_string() } else { c.to_string() }).collect()
}

fn escape_lines(text: &str) -> String {
    text.lines().map(escape).collect::<Vec<_>>().join("\n")
}

/// JSON with hostile characters as JSON escapes.
fn escape_json(text: &str) -> String {
    let one = |c: char| match c {
        '\n' => "\n".to_owned(),
        c if is_hostile(c) => {
            let mut units = [0; 2];
            c.encode_utf16(&mut units).iter().map(|unit| format!("\\u{unit:04x}")).collect()
        }
        c => c.to_string(),
    };
    text.chars().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_text_is_spelled_out() {
        assert_eq!(escape("A1\u{1b}[2J"), "A1\\u{1b}[2J");
        assert_eq!(escape("guppy\u{202e}yppug"), "guppy\\u{202e}yppug");
        assert_eq!(escape("Łucja \u{a0}å"), "Łucja \u{a0}å");
        assert_eq!(escape_json("\"a\u{2066}b\"\n"), "\"a\\u2066b\"\n");
    }
}
