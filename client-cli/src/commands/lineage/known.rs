//! What a room knows of lineage: its own broods, and those whose home is elsewhere, as the parcels and their homes told.

use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, Draw, Kin, SideCopy, group_of};
use tarn_domain::rooms::Node;
use tarn_domain::state::view;
use tarn_domain::streams::{EntityKind, NodeId};

use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Every node that the room knows of.
pub fn known(tarn: &Tarn, room: &StreamRow) -> Outcome<BTreeMap<NodeId, Ancestor>> {
    let states = tarn.store.states(room, &[EntityKind::Stock, EntityKind::Brood, EntityKind::Parcel])?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    Ok(laid_out.records().known())
}

/// What a node is called.
pub fn called(known: &BTreeMap<NodeId, Ancestor>, node: NodeId) -> String {
    let Node::Of(node) = group_of(node, |node| known.get(&node)) else { return "not told apart".into() };
    match known.get(&node).map(|ancestor| &ancestor.is) {
        Some(Kin::Brood(brood)) => brood.code.clone().unwrap_or_else(|| "a brood without a code".into()),
        Some(Kin::Founders(founders)) if founders.unseen => "a male that a female met before she came".into(),
        Some(Kin::Founders(founders)) => format!("founders, {}", founders.origin.plain()),
        Some(Kin::Breeders(_)) | None => "not told here".into(),
    }
}

/// One side of the parents in words.
pub fn side(known: &BTreeMap<NodeId, Ancestor>, side: Option<&SideCopy>) -> String {
    let Some(side) = side else { return "not known".into() };
    let weighed = |weight: Option<u16>| weight.map_or_else(String::new, |w| format!(" ({w} thousandths)"));
    let all: Vec<String> = side
        .of
        .iter()
        .map(|s| format!("{} of {}{}", s.n, called(known, s.node), weighed(s.weight)))
        .collect();
    let draw = if side.draw == Draw::One { "one of: " } else { "" };
    format!("{draw}{}", all.join(", "))
}
