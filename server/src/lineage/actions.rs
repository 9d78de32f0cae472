//! What others ask lineage: the ancestry of fish in a room, as it may travel.

pub mod brood;

use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, ancestry, of_brood, of_founders};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::NodeId;

/// The ancestry of these nodes back to the founders, out of a room's own broods and founders and the copies that
/// came with its parcels.
pub fn ancestry_in(memory: &Memory, nodes: impl IntoIterator<Item = NodeId>) -> Vec<Ancestor> {
    let mut known: BTreeMap<NodeId, Ancestor> = BTreeMap::new();
    for (thing, state) in memory.states() {
        match state {
            EntityState::Parcel(parcel) => {
                for copy in &parcel.ancestry {
                    known.entry(copy.node).or_insert_with(|| copy.clone());
                }
            }
            EntityState::Brood(brood) if brood.made.is_some() => {
                known.insert(NodeId(thing.id), of_brood(NodeId(thing.id), brood));
            }
            EntityState::Stock(stock) => {
                if let Some(founders) = &stock.founders {
                    let told = of_founders(founders, stock.species.as_deref(), stock.form.as_deref());
                    known.insert(founders.node, told);
                }
            }
            _ => {}
        }
    }
    ancestry(nodes, |node| known.get(&node).cloned())
}
