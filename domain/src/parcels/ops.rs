//! The bodies of parcel ops. Packing reserves, handing over is when the bag left, sending (the server's decision)
//! takes the fish; arriving is the receiver's.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::lineage::Ancestor;
use crate::rooms::{Count, Names, Node, Row, Sex};
use crate::streams::{AccountId, Entity, Links, OpId, ParcelId, StockId, TankId};

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

impl Names for ParcelRecalled {
    fn links(&self) -> Links {
        Links::default().and_sets([self.parcel.into()])
    }
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
        Links::on([self.parcel.into()]).and_on(stocks(&self.rows))
    }
}

impl Names for ParcelArrived {
    fn links(&self) -> Links {
        Links::making([self.stock.into()])
            .and_sets([self.parcel.into()])
            .and_refers(self.tank.map(Into::into))
    }
}
