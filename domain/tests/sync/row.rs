//! An op at a client, and where it stands.

use crate::wire::Wire;

/// Where an op stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// To be pushed.
    Pending,
    /// To be pushed when something new was pulled: what it refers to is not there yet.
    Waiting,
    /// The server has given it this number; no pull has brought it yet.
    Answered(u64),
    /// A pull brought it.
    Accepted(u64),
    /// No, and why.
    Refused(&'static str),
}

/// An op and where it stands.
pub struct Row {
    /// The op, its bytes, its receipt.
    pub wire: Wire,
    /// Where it stands.
    pub standing: Standing,
    /// Its date was typed.
    pub typed: bool,
}
