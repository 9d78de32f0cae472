//! What others ask lineage: the ancestry of fish in a room, as it may travel; whether a correction makes a circle; who
//! must be told.

pub mod brood;
mod circle;
pub mod groups;
pub mod line;
mod news;
pub mod published;
mod tell;

use std::collections::BTreeSet;

use sea_orm::ConnectionTrait;
use tarn_domain::lineage::{Ancestor, ancestry};
use tarn_domain::state::{Memory, view};
use tarn_domain::streams::{NodeId, StreamId};

use super::store;
use crate::platform::Result;

pub use circle::{known_as, may_be_corrected, may_be_taken_back};
pub use news::news;
pub use tell::{Word, differing, tell, tell_one};

/// The ancestry of these nodes back to the founders, out of a room's own records, the copies that came with its parcels,
/// and what other rooms said since.
pub fn ancestry_in(memory: &Memory, nodes: impl IntoIterator<Item = NodeId>) -> Vec<Ancestor> {
    let known = memory.lineage();
    ancestry(nodes, |node| known.get(&node).cloned())
}

/// The same as it may be handed on: without what only somebody without a say claims of a brood whose home is another
/// room. Its home is asked instead, as soon as the fish have arrived.
pub async fn ancestry_to_hand_on(
    conn: &impl ConnectionTrait,
    room: StreamId,
    memory: &Memory,
    nodes: impl IntoIterator<Item = NodeId>,
) -> Result<Vec<Ancestor>> {
    let all = ancestry_in(memory, nodes);
    let claimed: BTreeSet<NodeId> = {
        let states = view(memory.states());
        let unmatched = states.parcels.values().filter(|parcel| parcel.is_claimed());
        let vouched: BTreeSet<NodeId> = states
            .parcels
            .values()
            .filter(|parcel| parcel.is_vouched_for())
            .flat_map(|parcel| parcel.ancestry.iter().map(|ancestor| ancestor.node))
            .collect();
        let is_told = |node: &NodeId| {
            states.told.contains_key(node)
                && memory.told_of(*node).is_none_or(|told| told.told_head != Some(0))
        };
        let own = |node: &NodeId| is_told(node) || states.broods.contains_key(node);
        let nodes = unmatched.flat_map(|parcel| parcel.ancestry.iter().map(|ancestor| ancestor.node));
        let nodes = nodes.chain(states.told.keys().copied());
        nodes.filter(|node| !own(node) && !vouched.contains(node)).collect()
    };
    if claimed.is_empty() {
        return Ok(all);
    }
    let ids: Vec<NodeId> =
        all.iter().map(|ancestor| ancestor.node).filter(|node| claimed.contains(node)).collect();
    let homes = store::homes(conn, &ids).await?;
    let elsewhere = |node: NodeId| homes.get(&node).is_some_and(|home| home.stream != room);
    Ok(all.into_iter().filter(|ancestor| !elsewhere(ancestor.node)).collect())
}
