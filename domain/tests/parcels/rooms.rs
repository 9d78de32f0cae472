//! Rooms that send each other fish, and the decisions as the server writes them into each.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{Ancestor, ancestry};
use tarn_domain::parcels::{ParcelArrived, ParcelSent, sent_rows, told_apart};
use tarn_domain::rooms::{Node, Numbers};
use tarn_domain::state::view;
use tarn_domain::streams::OpId;

use crate::ledger::{Ledger, id};

/// A row of a parcel as it is packed.
pub fn packed(stock: u128, node: Value, sex: &str, n: u32) -> Value {
    json!({"stock": id(stock), "node": node, "sex": sex, "n": n})
}

/// The giver packs and hands over.
pub fn handed(giver: &mut Ledger, on: u32, parcel: u128, rows: Value) -> [OpId; 2] {
    let packed = giver.write(on, json!({"op": "parcel.packed", "parcel": id(parcel), "rows": rows}));
    [packed, giver.write(on, json!({"op": "parcel.handed", "parcel": id(parcel)}))]
}

/// The server lets it go: what was packed, or what was counted where it was handed in.
pub fn sent(giver: &mut Ledger, on: u32, parcel: u128, relies: [OpId; 2], rows: Option<Value>) -> OpId {
    let packed = giver.parcel(parcel).rows;
    let known = view(giver.memory.states()).records().known();
    let nodes = packed.iter().filter_map(|row| if let Node::Of(node) = row.node { Some(node) } else { None });
    let copy: Vec<Ancestor> = ancestry(nodes, |node| known.get(&node).cloned());
    let rows = rows.unwrap_or_else(|| serde_json::to_value(&packed).expect("rows"));
    giver.write(
        on,
        json!({"op": "parcel.sent", "parcel": id(parcel), "rows": rows, "ancestry": copy, "relies": relies}),
    )
}

/// The decision by which a parcel left, if it did.
pub fn sending(giver: &Ledger, parcel: u128) -> Option<ParcelSent> {
    giver.ops.iter().find_map(|(op, _)| match &op.body {
        Body::ParcelSent(b) if b.parcel.0 == id(parcel) => Some(b.clone()),
        _ => None,
    })
}

/// The server tells the receiver's room which parcel it was, and the giver's what came of it.
pub fn matched(giver: &mut Ledger, receiver: &mut Ledger, on: u32, (parcel, op): (u128, OpId)) {
    let body = tell(giver, receiver, (parcel, op));
    receiver.write(on, body);
    let came = arrival(receiver, op);
    giver.write(
        on,
        json!({"op": "parcel.received", "parcel": id(parcel), "at": crate::ledger::day(on),
        "alive": came.alive, "dead": came.dead}),
    );
}

/// The decision for the receiver's room.
pub fn tell(giver: &Ledger, receiver: &Ledger, (parcel, op): (u128, OpId)) -> Value {
    let left = sending(giver, parcel).expect("it left");
    let came = arrival(receiver, op);
    let rows = sent_rows(&left.rows);
    let apart = told_apart(&rows, &came.alive);
    json!({"op": "parcel.matched", "parcel": id(parcel), "stock": came.stock, "sent": rows,
        "ancestry": left.ancestry, "told_apart": apart, "relies": [op]})
}

fn arrival(receiver: &Ledger, op: OpId) -> ParcelArrived {
    let found = receiver.ops.iter().find_map(|(entry, _)| match &entry.body {
        Body::ParcelArrived(b) if entry.id == op => Some(b.clone()),
        _ => None,
    });
    found.expect("it came")
}

/// What is open of a parcel by all rooms, by node.
pub fn open(rooms: &[&Ledger], parcel: u128) -> BTreeMap<Node, i64> {
    let mut all = Numbers::default();
    for room in rooms {
        for ((node, _), n) in room.parcel(parcel).open().rows() {
            // whatever their sex: who is packed unsexed may come as a male
            all.add((node, tarn_domain::rooms::Sex::Any), n);
        }
    }
    all.rows().map(|((node, _), n)| (node, n)).collect()
}
