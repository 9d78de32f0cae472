//! How a parcel stands, joined from what its sides tell: one word, what is open, and where the two differ.

use std::collections::BTreeMap;

use tarn_domain::parcels::ParcelState;
use tarn_domain::rooms::{Node, Row, Sex};

use crate::parcels::store::Side;

/// How far a parcel has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// It is packed.
    Packed,
    /// It is on its way.
    Sent,
    /// It arrived, and the numbers agree.
    Arrived,
    /// It arrived with another number.
    Differs,
    /// It arrived, and nobody known sent it.
    Unmatched,
    /// It is back with its giver.
    Returned,
    /// An officer settled it.
    Settled,
}

impl Stage {
    /// The word in answers.
    pub fn word(self) -> &'static str {
        match self {
            Self::Packed => "packed",
            Self::Sent => "sent",
            Self::Arrived => "arrived",
            Self::Differs => "numbers_differ",
            Self::Unmatched => "unmatched",
            Self::Returned => "returned",
            Self::Settled => "settled",
        }
    }
}

/// One line of what was sent and what came.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Line {
    /// How many were sent.
    pub sent: i64,
    /// How many came alive.
    pub alive: i64,
    /// How many came dead.
    pub dead: i64,
}

/// A parcel as its sides tell it together.
pub struct Standing<'a> {
    /// How far it has come.
    pub stage: Stage,
    /// Sent, less what arrived, came back or was settled; signed.
    pub open: i64,
    /// By node and sex.
    pub lines: BTreeMap<(Node, Sex), Line>,
    /// The giver's side.
    pub giver: Option<&'a ParcelState>,
    /// The receiver's side.
    pub receiver: Option<&'a ParcelState>,
}

/// Joins the sides.
pub fn standing(sides: &[Side]) -> Standing<'_> {
    let sent = sides.iter().find(|side| side.state.sent.is_some());
    let giver = sent.or_else(|| sides.iter().find(|side| side.state.packed.is_some()));
    let elsewhere = |side: &&Side| giver.is_none_or(|giver| giver.stream != side.stream);
    let other = sides.iter().filter(elsewhere).find(|side| side.state.arrived.is_some());
    let (giver, receiver) = (giver.map(|side| &side.state), other.map(|side| &side.state));
    let returned = giver.is_some_and(ParcelState::is_returned);
    let came = receiver.or(giver.filter(|_| returned));
    let mut lines: BTreeMap<(Node, Sex), Line> = BTreeMap::new();
    if let Some(giver) = giver.filter(|giver| giver.sent.is_some()) {
        for row in &giver.rows {
            lines.entry((row.node, row.sex)).or_default().sent += row.n.get();
        }
    }
    let mut count = |rows: &[Row], add: fn(&mut Line, i64)| {
        for row in rows {
            add(lines.entry((row.node, row.sex)).or_default(), row.n.get());
        }
    };
    if let Some(came) = came {
        count(&came.alive, |line, n| line.alive += n);
        count(&came.dead, |line, n| line.dead += n);
    }
    let open: i64 = sides.iter().map(|side| side.state.open().total()).sum();
    let stage = match (sent, came) {
        (Some(_), _) if giver.is_some_and(|giver| giver.settled.is_some()) => Stage::Settled,
        (Some(_), None) => Stage::Sent,
        (Some(_), Some(_)) if open != 0 => Stage::Differs,
        (Some(_), Some(_)) if returned && receiver.is_none() => Stage::Returned,
        (Some(_), Some(_)) => Stage::Arrived,
        (None, Some(_)) => Stage::Unmatched,
        (None, None) => Stage::Packed,
    };
    Standing { stage, open, lines, giver, receiver }
}
