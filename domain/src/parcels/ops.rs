//! The bodies of parcel ops. Packing reserves, handing over is when the bag left, sending (the server's decision)
//! takes the fish; arriving is the receiver's.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::lineage::Ancestor;
use crate::rooms::{Count, Names, Node, Row, Sex};
use crate::streams::{AccountId, At, Entity, Links, OpId, ParcelId, StockId, TankId};

/// So many fish of one stock, node and sex in a bag.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PackedRow {
    /// Out of which stock.
    pub stock: StockId,
    /// Of which node.
    pub node: Node,
    /// Of which sex.
    pub sex: Sex,
    /// How many.
    pub n: Count,
}

/// The rows of one stock in a bag, as that stock counts them.
pub fn rows_of(packed: &[PackedRow], stock: StockId) -> Vec<Row> {
    packed
        .iter()
        .filter(|r| r.stock == stock)
        .map(|r| Row { node: r.node, sex: r.sex, n: r.n, about: false })
        .collect()
}

/// `parcel.packed`: these fish are in the bag (the giver's claim; it reserves them).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelPacked {
    /// Which.
    pub parcel: ParcelId,
    /// For whom, by login name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// What is in it.
    pub rows: Vec<PackedRow>,
}

/// `parcel.handed`: the bag left; `at` is when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelHanded {
    /// Which.
    pub parcel: ParcelId,
}

/// `parcel.sent`: the server's decision that the fish have left this room.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelSent {
    /// Which.
    pub parcel: ParcelId,
    /// For which account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<AccountId>,
    /// What left.
    pub rows: Vec<PackedRow>,
    /// Their ancestry to the founders.
    pub ancestry: Vec<Ancestor>,
    /// The ops that this rests on.
    pub relies: Vec<OpId>,
}

/// `parcel.arrived`: the receiver's claim; makes their stock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelArrived {
    /// Which.
    pub parcel: ParcelId,
    /// The receiver's stock.
    pub stock: StockId,
    /// The receiver's name for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The species as kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub species: Option<String>,
    /// Colour or fin form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
    /// The tank they went into; none: still in the bag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<TankId>,
    /// How many came alive.
    pub alive: Vec<Row>,
    /// How many came dead.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dead: Vec<Row>,
    /// The copy of their ancestry.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ancestry: Vec<Ancestor>,
}

/// `parcel.recalled`: the sign-off under which these fish left their room was recalled since.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelRecalled {
    /// Which parcel.
    pub parcel: ParcelId,
}

/// `parcel.matched`: the parcel that came here is one that another room sent (the server's decision in the receiver's
/// room): what that room says was in it, and the fish's ancestry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelMatched {
    /// Which.
    pub parcel: ParcelId,
    /// The stock that it became here.
    pub stock: StockId,
    /// What was sent.
    pub sent: Vec<Row>,
    /// The ancestry as it was sent.
    pub ancestry: Vec<Ancestor>,
    /// Fish that the receiver had not told apart, and whose node follows from what was sent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told_apart: Vec<Row>,
    /// The ops that this rests on.
    pub relies: Vec<OpId>,
}

/// `parcel.received`: what the receiver says came of a parcel (the server's decision in the giver's room).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelReceived {
    /// Which.
    pub parcel: ParcelId,
    /// When.
    pub at: At,
    /// How many came alive.
    pub alive: Vec<Row>,
    /// How many came dead.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dead: Vec<Row>,
}

/// What an officer finds became of a parcel that was not closed in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// It arrived; nobody wrote it down, or another number.
    Arrived,
    /// It went back to the giver.
    Returned,
    /// It was lost on the way.
    Lost,
}

impl Outcome {
    /// Every outcome.
    pub const ALL: [Self; 3] = [Self::Arrived, Self::Returned, Self::Lost];

    /// The word in ops and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Arrived => "arrived",
            Self::Returned => "returned",
            Self::Lost => "lost",
        }
    }
}

/// `parcel.settled`: an officer's decision on what is still open of a parcel, in the giver's room.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelSettled {
    /// Which.
    pub parcel: ParcelId,
    /// What became of it.
    pub outcome: Outcome,
    /// The fish that this closes, by node and sex; more came than were sent: below 0.
    pub rows: Vec<OpenRow>,
    /// Why.
    pub why: String,
    /// The officer.
    pub officer: AccountId,
    /// The ops that this rests on.
    pub relies: Vec<OpId>,
}

/// So many fish of one node and sex that are open; signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenRow {
    /// Of which node.
    pub node: Node,
    /// Of which sex.
    pub sex: Sex,
    /// How many.
    pub n: i64,
}

/// `parcel.agreed`: a steward lets fish in quarantine leave in this parcel, since their room must be emptied (a
/// decision). Nothing is cleared; the clock starts again at the receiver.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParcelAgreed {
    /// Under which id it is to be packed.
    pub parcel: ParcelId,
    /// The stocks that may go into it.
    pub stocks: Vec<StockId>,
    /// For whom.
    pub to: AccountId,
    /// For whom, by login name.
    pub login: String,
    /// Why.
    pub why: String,
    /// The steward.
    pub steward: AccountId,
    /// The ops that this rests on.
    pub relies: Vec<OpId>,
}

macro_rules! tells_of_a_parcel {
    ($($name:ident),*) => {$(
        impl Names for $name {
            fn links(&self) -> Links {
                Links::default().and_sets([self.parcel.into()])
            }
        }
    )*};
}

tells_of_a_parcel!(ParcelRecalled, ParcelReceived, ParcelSettled, ParcelAgreed);

impl Names for ParcelMatched {
    fn links(&self) -> Links {
        matched(self.stock, self.parcel)
    }
}

/// What a match speaks of.
pub(super) fn matched(stock: StockId, parcel: ParcelId) -> Links {
    Links::on([stock.into()]).and_sets([parcel.into()])
}

/// What a sending speaks of.
pub(super) fn sent(parcel: ParcelId, rows: &[PackedRow]) -> Links {
    Links::on([parcel.into()]).and_on(stocks(rows))
}

/// The stocks of packed rows, each once.
fn stocks(rows: &[PackedRow]) -> impl Iterator<Item = Entity> {
    let mut all: Vec<StockId> = rows.iter().map(|r| r.stock).collect();
    all.sort_unstable();
    all.dedup();
    all.into_iter().map(Into::into)
}

impl Names for ParcelPacked {
    fn links(&self) -> Links {
        Links::making([self.parcel.into()]).and_refers(stocks(&self.rows))
    }
}

impl Names for ParcelHanded {
    fn links(&self) -> Links {
        Links::on([self.parcel.into()])
    }
}

impl Names for ParcelSent {
    fn links(&self) -> Links {
        sent(self.parcel, &self.rows)
    }
}

impl Names for ParcelArrived {
    fn links(&self) -> Links {
        Links::making([self.stock.into()])
            .and_sets([self.parcel.into()])
            .and_refers(self.tank.map(Into::into))
    }
}
