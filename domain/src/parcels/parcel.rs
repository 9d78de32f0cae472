//! Folds one side of a parcel, and says what may go into one.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::event::ParcelEvent;
use super::ops::{OpenRow, Outcome, PackedRow};
use crate::lineage::Ancestor;
use crate::quarantine::Held;
use crate::rooms::{Finding, FindingKind, Node, Numbers, Row, common_findings};
use crate::streams::{AccountId, At, OpId, Standing, StockId, Touch};

/// One arrival under a parcel's id.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arrival {
    /// The entry.
    pub op: OpId,
    /// When.
    pub at: At,
    /// The stock that it became.
    pub stock: StockId,
    /// How many came alive.
    pub alive: Vec<Row>,
    /// How many came dead.
    pub dead: Vec<Row>,
}

/// What the receiver's room says came of a parcel, as the giver's room was told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Received {
    /// When.
    pub at: At,
    /// How many came alive.
    pub alive: Vec<Row>,
    /// How many came dead.
    pub dead: Vec<Row>,
}

/// How an officer settled what was open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settled {
    /// The decision.
    pub op: OpId,
    /// When.
    pub at: At,
    /// What became of the fish.
    pub outcome: Outcome,
    /// What it closed.
    pub rows: Vec<OpenRow>,
    /// Why.
    pub why: String,
}

/// A steward's word that fish in quarantine may go in this parcel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Agreed {
    /// Which stocks.
    pub stocks: BTreeSet<StockId>,
    /// For whom, by login name.
    pub login: String,
}

/// One side of a parcel as its room's stream tells it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ParcelState {
    /// The op that packed it here.
    pub packed: Option<OpId>,
    /// For whom, by login name.
    pub to: Option<String>,
    /// For which account, once it is sent.
    #[serde(default)]
    pub to_account: Option<AccountId>,
    /// What is in it.
    pub rows: Vec<PackedRow>,
    /// The op by which the bag left, and when.
    pub handed: Option<(OpId, At)>,
    /// The decision that it left.
    pub sent: Option<OpId>,
    /// The op by which it came here, and when.
    pub arrived: Option<(OpId, At)>,
    /// The stock that it became here.
    pub stock: Option<StockId>,
    /// How many came alive, by the receiver's count.
    #[serde(default)]
    pub alive: Vec<Row>,
    /// How many came dead.
    #[serde(default)]
    pub dead: Vec<Row>,
    /// Further arrivals under the same id: one of them is wrong.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub again: Vec<Arrival>,
    /// The copy of the fish's ancestry that travels with it.
    #[serde(default)]
    pub ancestry: Vec<Ancestor>,
    /// What was sent, by the giver's room, once it is known which parcel came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matched: Option<Vec<Row>>,
    /// Fish that came without their node and were told apart when it was known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told_apart: Vec<Row>,
    /// What came of it, by the receiver's room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Received>,
    /// How an officer settled what was open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settled: Option<Settled>,
    /// What was settled of it before that.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settled_before: Vec<Settled>,
    /// A steward's word that fish in quarantine may go in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agreed: Option<Agreed>,
    /// It was sent or matched while the room was kept on another server: nothing of it is open here.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub elsewhere: bool,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// So many fish, of whichever node and sex.
pub fn total<'a>(rows: impl IntoIterator<Item = &'a Row>) -> i64 {
    rows.into_iter().map(|row| row.n.get()).sum()
}

impl ParcelState {
    /// What this side adds to what is open of the parcel, signed, by node and sex: what it sent, less what arrived here
    /// alive or dead and what was settled. The sum over all rooms is what is open.
    pub fn open(&self) -> Numbers {
        let mut open = Numbers::default();
        if self.elsewhere {
            return open;
        }
        if self.sent.is_some() {
            self.rows.iter().for_each(|row| open.add((row.node, row.sex), row.n.get()));
        }
        let again = self.again.iter().flat_map(|arrival| arrival.alive.iter().chain(&arrival.dead));
        for row in self.alive.iter().chain(&self.dead).chain(again) {
            open.add((row.node, row.sex), -row.n.get());
        }
        for row in &self.told_apart {
            open.add((Node::Unassigned, row.sex), row.n.get());
            open.add((row.node, row.sex), -row.n.get());
        }
        for row in self.settled_before.iter().chain(&self.settled).flat_map(|settled| &settled.rows) {
            open.add((row.node, row.sex), -row.n);
        }
        open
    }

    /// How many are open, as far as this room was told: its own side and what it knows of the other's.
    pub fn open_here(&self) -> i64 {
        if self.elsewhere {
            return 0;
        }
        let received = self.received.iter().flat_map(|r| r.alive.iter().chain(&r.dead));
        let matched = self.matched.iter().flatten();
        self.open().total() - total(received) + total(matched)
    }

    /// Whether this server knows which room sent what came here; what a keeper brought along from another server, nobody
    /// here vouches for.
    pub fn is_vouched_for(&self) -> bool {
        self.matched.is_some() && !self.elsewhere
    }

    /// Whether what it says of its fish is only what the receiver claims.
    pub fn is_claimed(&self) -> bool {
        !self.is_vouched_for() && (self.sent.is_none() || self.elsewhere)
    }

    /// Whether its fish came back to the room that sent it.
    pub fn is_returned(&self) -> bool {
        self.sent.is_some() && self.arrived.is_some()
    }
}

/// Folds a parcel from the ops that touch it, in their order.
pub fn fold_parcel(touches: &[Touch<ParcelEvent<'_>>]) -> ParcelState {
    let mut state = ParcelState { findings: common_findings(touches), ..ParcelState::default() };
    let mut claimed: Vec<Ancestor> = Vec::new();
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let (op, at) = (touch.written.id, touch.counts_at);
        match &touch.event {
            ParcelEvent::Packed(b) => {
                state.packed = Some(op);
                state.to.clone_from(&b.to);
                state.rows.clone_from(&b.rows);
            }
            ParcelEvent::Handed(_) => {
                state.handed.get_or_insert((op, at));
            }
            ParcelEvent::Sent(b) => {
                state.elsewhere |= b.elsewhere;
                if state.sent.is_none() {
                    state.sent = Some(op);
                    state.to_account = b.to;
                    // what left counts, not what was packed
                    state.rows = b.rows.to_vec();
                    state.ancestry = b.ancestry.to_vec();
                }
            }
            ParcelEvent::Recalled => state.find(FindingKind::ReceivedFromRecalled, op),
            ParcelEvent::Arrived(b) if state.arrived.is_some() => {
                state.find(FindingKind::MadeTwice, op);
                let (alive, dead) = (b.alive.clone(), b.dead.clone());
                state.again.push(Arrival { op, at, stock: b.stock, alive, dead });
            }
            ParcelEvent::Arrived(b) => {
                state.arrived = Some((op, at));
                state.stock = Some(b.stock);
                state.alive.clone_from(&b.alive);
                state.dead.clone_from(&b.dead);
                claimed.clone_from(&b.ancestry);
            }
            ParcelEvent::Matched(b) => {
                state.elsewhere |= b.elsewhere;
                state.matched = Some(b.sent.to_vec());
                state.told_apart.extend(b.told_apart.iter().cloned());
                state.ancestry = b.ancestry.to_vec();
            }
            ParcelEvent::Received(b) => {
                let (alive, dead) = (b.alive.clone(), b.dead.clone());
                state.received = Some(Received { at: b.at, alive, dead });
            }
            ParcelEvent::Settled(b) => {
                let (outcome, rows, why) = (b.outcome, b.rows.clone(), b.why.clone());
                let before = state.settled.replace(Settled { op, at, outcome, rows, why });
                state.settled_before.extend(before);
            }
            ParcelEvent::Agreed(b) => {
                let stocks = b.stocks.iter().copied().collect();
                state.agreed = Some(Agreed { stocks, login: b.login.clone() });
            }
        }
    }
    state.compare(claimed);
    state
}

impl ParcelState {
    fn find(&mut self, kind: FindingKind, op: OpId) {
        self.findings.insert(Finding { kind, op });
    }

    /// What the two sides say differently; and the ancestry that counts: the giver's, if it is known.
    fn compare(&mut self, claimed: Vec<Ancestor>) {
        let known = self.sent.is_some() || self.matched.is_some();
        if let Some((op, _)) = self.arrived {
            let sent_otherwise = |copy: &Ancestor| self.ancestry.iter().all(|sent| sent != copy);
            if !known {
                self.find(FindingKind::Unmatched, op);
            } else if claimed.iter().any(sent_otherwise) {
                self.find(FindingKind::Disputed, op);
            }
            let came = total(self.alive.iter().chain(&self.dead));
            if self.matched.as_ref().is_some_and(|sent| total(sent) != came) {
                self.find(FindingKind::NumbersDiffer, op);
            }
        }
        if !known {
            self.ancestry = claimed;
        }
        if let (Some(sent), Some(received)) = (self.sent, &self.received) {
            let packed: i64 = self.rows.iter().map(|row| row.n.get()).sum();
            if self.settled.is_none() && total(received.alive.iter().chain(&received.dead)) != packed {
                self.find(FindingKind::NumbersDiffer, sent);
            }
        }
    }
}

/// What is known of a stock that somebody wants to pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockStanding {
    /// Which.
    pub stock: StockId,
    /// Why it may not leave, if so.
    pub held: Option<Held>,
}

/// Why fish may not go into a parcel, or a parcel may not leave.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParcelRefusal {
    /// Nothing is in it.
    #[error("a parcel has at least one fish in it")]
    Empty,
    /// In quarantine, or nobody can vouch for it yet.
    #[error("{held}")]
    Quarantine {
        /// Which stock.
        stock: StockId,
        /// Why it may not leave.
        held: Held,
    },
    /// It was packed under another id, or not at all.
    #[error("nothing was packed under this parcel")]
    NotPacked,
    /// It left already.
    #[error("this parcel has already left")]
    Gone,
}

impl ParcelRefusal {
    /// The stable code of the problem.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Empty => "parcel-empty",
            Self::Quarantine { .. } => "quarantine-running",
            Self::NotPacked => "parcel-not-packed",
            Self::Gone => "parcel-gone",
        }
    }
}

/// Whether these fish may be packed. More than the records have is no refusal: it is a finding.
///
/// # Errors
/// The first thing in the way.
pub fn may_pack(rows: &[PackedRow], stocks: &[StockStanding]) -> Result<(), ParcelRefusal> {
    let wanted: i64 = rows.iter().map(|r| r.n.get()).sum();
    if wanted == 0 {
        return Err(ParcelRefusal::Empty);
    }
    for s in stocks {
        if let Some(held) = s.held.clone() {
            return Err(ParcelRefusal::Quarantine { stock: s.stock, held });
        }
    }
    Ok(())
}

/// Whether a packed parcel may leave: it is there, has not left, and its fish may still go.
///
/// # Errors
/// The first thing in the way.
pub fn may_go(parcel: &ParcelState, stocks: &[StockStanding]) -> Result<(), ParcelRefusal> {
    if parcel.packed.is_none() {
        return Err(ParcelRefusal::NotPacked);
    }
    if parcel.sent.is_some() {
        return Err(ParcelRefusal::Gone);
    }
    may_pack(&parcel.rows, stocks)
}
