//! What goes over the wire: ops with their receipts, and the answers to a push and a pull.

use std::rc::Rc;

use tarn_domain::catalogue::{Op, op_text};
use tarn_domain::streams::{Acceptance, Chain, Clock, EpochId, OpId};

/// An op on its way: what it is, its bytes, and its receipt if it was accepted before.
#[derive(Clone)]
pub struct Wire {
    /// The op.
    pub op: Rc<Op>,
    /// Its canonical text.
    pub text: Rc<str>,
    /// By whom and when it was accepted, and the server's mark on that.
    pub receipt: Option<(Acceptance, Rc<str>)>,
}

impl Wire {
    /// A new op.
    pub fn of(op: Op) -> Self {
        Self { text: op_text(&op).into(), op: Rc::new(op), receipt: None }
    }
}

/// What a push is told of one op.
pub enum Outcome {
    /// It has this number.
    Seq(u64),
    /// Under its id there is this op, with this number.
    Taken(u64, Wire),
    /// No, and why.
    Refused(&'static str),
}

/// The answer to a push.
pub enum Pushed {
    /// Whole: no.
    Ahead { now: Clock, limit: Clock },
    /// One by one.
    Results(EpochId, Vec<(OpId, Outcome)>),
}

/// The answer to a pull.
pub enum Pulled {
    /// Your history is not mine: what stands is up to here.
    Changed { epoch: EpochId, common: u64 },
    /// The next ops, with their numbers and receipts, the chain after them, whether there are more.
    Ops { ops: Vec<(u64, Wire)>, chain: Chain, more: bool },
}

/// What goes wrong on the wire during one sync.
#[derive(Clone, Copy, Default)]
pub struct Luck {
    /// The answer to the first push is lost, or the client is killed before it reads it.
    pub lost: bool,
    /// Every push arrives twice.
    pub doubled: bool,
    /// Killed after the first page of the pull.
    pub cut: bool,
}
