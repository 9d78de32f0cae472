//! Whether other parents would make a fish its own ancestor: asked of the graph over all rooms, under a lock, so that
//! two corrections in two rooms can't make one together.

use std::collections::BTreeMap;

use sea_orm::DatabaseTransaction;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{Parents, graph, unnamed_sire};
use tarn_domain::state::{Entry, Memory};
use tarn_domain::streams::{NodeId, Patch, StreamId};

use crate::lineage::{refusals, store};
use crate::platform::errors::Problem;
use crate::platform::{Result, dialect};
use crate::streams::Judging;

/// The nodes that parents are of.
fn nodes_of<'a>(sides: impl IntoIterator<Item = &'a Option<Parents>>) -> Vec<NodeId> {
    let parents = sides.into_iter().flatten().flat_map(|side| &side.of);
    parents
        .filter_map(|p| Some((p.node.id()?, p.stock)))
        .filter(|(node, stock)| *node != unnamed_sire(*stock))
        .map(|(node, _)| node)
        .collect()
}

/// Every node before these, with its parents: out of the room itself as it is about to be, and out of all others.
async fn before(
    tx: &DatabaseTransaction,
    room: StreamId,
    memory: &Memory,
    from: &[NodeId],
) -> Result<BTreeMap<NodeId, Vec<NodeId>>> {
    let mut all: BTreeMap<NodeId, Vec<NodeId>> = BTreeMap::new();
    let mut next: Vec<NodeId> = from.to_vec();
    while !next.is_empty() {
        next.sort_unstable();
        next.dedup();
        next.retain(|node| !all.contains_key(node));
        let (own, others): (Vec<NodeId>, Vec<NodeId>) =
            next.iter().partition(|node| memory.brood(**node).is_some());
        let mut found: BTreeMap<NodeId, Vec<NodeId>> = BTreeMap::new();
        for node in own {
            let sides = memory.brood(node).map(|brood| nodes_of([&brood.sires, &brood.dams]));
            found.insert(node, sides.unwrap_or_default());
        }
        let homes = store::homes(tx, &others).await?;
        for node in others {
            let elsewhere = homes.get(&node).filter(|home| home.stream != room);
            let parents = elsewhere.map(|home| nodes_of([&home.brood.sires, &home.brood.dams]));
            found.insert(node, parents.unwrap_or_default());
        }
        next = found.values().flatten().copied().collect();
        all.extend(found);
    }
    Ok(all)
}

/// `brood.corrected`: refused if the brood would be its own ancestor.
///
/// # Errors
/// `lineage-cycle`, which names only what the room knows of.
pub async fn may_be_corrected(
    tx: &DatabaseTransaction,
    judging: &Judging<'_>,
) -> Result<Result<(), Problem>> {
    let Body::BroodCorrected(body) = &judging.op.body else { return Ok(Ok(())) };
    let Some(now) = judging.memory.brood(body.brood) else { return Ok(Ok(())) };
    let side = |patch: &Patch<Parents>, now: &Option<Parents>| match patch {
        Patch::Keep => now.clone(),
        Patch::Clear => None,
        Patch::Set(parents) => Some(parents.clone()),
    };
    let (sires, dams) = (side(&body.sires, &now.sires), side(&body.dams, &now.dams));
    let parents = nodes_of([&sires, &dams]);
    Ok(match round(tx, judging.stream, judging.memory, body.brood, &parents).await? {
        None => Ok(()),
        Some(way) => Err(refusals::circle(&way, judging.memory)),
    })
}

/// Whether a correction can't be taken back, since what was said before would make a circle by now.
pub async fn may_be_taken_back(
    tx: &DatabaseTransaction,
    room: StreamId,
    entry: &Entry,
    memory: &Memory,
) -> Result<bool> {
    let Some(Body::BroodCorrected(body)) = entry.body.as_deref() else { return Ok(true) };
    let Some(before) = memory.brood(body.brood).and_then(|now| now.before.clone()) else { return Ok(true) };
    Ok(round(tx, room, memory, body.brood, &nodes_of(&before)).await?.is_none())
}

async fn round(
    tx: &DatabaseTransaction,
    room: StreamId,
    memory: &Memory,
    node: NodeId,
    parents: &[NodeId],
) -> Result<Option<Vec<NodeId>>> {
    dialect::lock_lineage(tx).await?;
    let mut all = before(tx, room, memory, parents).await?;
    // its own parents are those that are asked about
    all.remove(&node);
    Ok(graph::circle(node, parents, &all))
}

/// What a room knows a node by; none: it does not know of it.
pub fn known_as(memory: &Memory, node: NodeId) -> Option<String> {
    let known = memory.lineage();
    let copy = known.get(&node)?;
    Some(copy.code().cloned().unwrap_or_else(|| node.to_string()))
}
