//! A "no" of the server as it is kept and shown (RFC 9457). Must not know how it came here.

use serde_json::Value;

/// A "no" of the server (RFC 9457).
#[derive(Debug, Clone)]
pub struct Problem {
    /// The status.
    pub status: u16,
    /// The whole object.
    pub value: Value,
}

impl Problem {
    /// The stable code at the end of its type.
    pub fn code(&self) -> &str {
        code_of(&self.value)
    }
}

/// The stable code of a problem object.
pub fn code_of(problem: &Value) -> &str {
    problem["type"].as_str().unwrap_or_default().rsplit('/').next().unwrap_or_default()
}

/// A problem in words.
pub fn words_of(problem: &Value) -> String {
    let title = problem["title"].as_str().unwrap_or_else(|| code_of(problem));
    match problem["detail"].as_str() {
        Some(detail) if detail != title => format!("{title}: {detail}"),
        _ => title.to_owned(),
    }
}
