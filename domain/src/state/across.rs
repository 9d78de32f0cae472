//! Contradictions across things: broods whose parents were counted by records that say something else by now (an entry
//! of an earlier day came in later, or was taken back), and broods that would be their own ancestors. What was told stays
//! as it was; the keeper may correct it.

use std::sync::Arc;

use super::entity::EntityState;
use super::memory::{Entry, Memory};
use super::views::view;
use crate::catalogue::Body;
use crate::lineage::{BroodState, ParentsOf, Telling, of_sex, unnamed_sire};
use crate::rooms::{Finding, FindingKind, Node, Sex, StockState};
use crate::streams::{At, Clock, Entity, OpId, Standing, Touch};

/// What a room's records contradict themselves in that no single thing's fold can see: parents that the records would
/// count otherwise now, and broods that would be their own ancestors.
pub fn across(memory: &Memory) -> Vec<(Entity, Finding)> {
    let otherwise = parents_otherwise(memory).into_iter();
    let otherwise = otherwise.map(|(thing, op)| (thing, Finding { kind: FindingKind::ParentsOtherwise, op }));
    let tangled = view(memory.states()).records().tangled().into_iter();
    let tangled = tangled.map(|(node, op)| (node.into(), Finding { kind: FindingKind::OwnAncestor, op }));
    otherwise.chain(tangled).collect()
}

/// The broods of a room whose parents the records would count otherwise now, and the entry that told them.
fn parents_otherwise(memory: &Memory) -> Vec<(Entity, OpId)> {
    let mut all = Vec::new();
    for (thing, state) in memory.states() {
        let EntityState::Brood(brood) = state else { continue };
        let Some(told) = told_by(memory, brood) else { continue };
        if differs(memory, brood, told) {
            all.push((thing, told.linked.order.id));
        }
    }
    all
}

/// The entry that told the parents that count.
fn told_by<'a>(memory: &'a Memory, brood: &BroodState) -> Option<&'a Entry> {
    let corrected =
        brood.changes.iter().filter(|change| change.what == Telling::Corrected).map(|change| change.op);
    let all = brood.made.into_iter().chain(corrected).filter_map(|op| memory.entry(op));
    all.max_by_key(|entry| entry.linked.order.clock)
}

fn differs(memory: &Memory, brood: &BroodState, told: &Entry) -> bool {
    let Some(at) = brood.made.and_then(|op| memory.entry(op)).map(|entry| entry.linked.order.at) else {
        return false;
    };
    let sides = [(brood.sires.as_ref(), Sex::Male), (brood.dams.as_ref(), Sex::Female)];
    let parents = sides
        .into_iter()
        .flat_map(|(side, sex)| side.into_iter().flat_map(|side| &side.of).map(move |parent| (parent, sex)));
    parents
        .filter(|(parent, _)| parent.node != Node::Of(unnamed_sire(parent.stock)))
        .any(|(parent, sex)| otherwise(memory, parent, sex, (at, told.linked.order.clock)))
}

/// Whether the records of a parent's stock give another number at an instant than those gave that were written by then.
fn otherwise(memory: &Memory, parent: &ParentsOf, sex: Sex, (at, told): (At, Clock)) -> bool {
    // an entry that was taken back since counted then
    let stood = |touch: &Touch<Arc<Body>>| match touch.standing {
        Standing::Withdrawn if memory.taken_back_after(touch.written.id, told) => Standing::Live,
        standing => standing,
    };
    let later = |touch: &Touch<Arc<Body>>| touch.written.clock > told;
    let news =
        |touch: &Touch<Arc<Body>>| touch.written.at < at && (later(touch) || stood(touch) != touch.standing);
    if !memory.touches(parent.stock.into()).iter().any(news) {
        return false;
    }
    let count = |stock: StockState| {
        let rows = of_sex(&stock, sex);
        rows.into_iter().find(|(node, _)| *node == parent.node).map_or(0, |(_, n)| n)
    };
    let by_then = |touch: &Touch<Arc<Body>>| touch.written.at <= at;
    let is = count(memory.stock_told(parent.stock, |touch| by_then(touch).then_some(touch.standing)));
    let was = count(
        memory.stock_told(parent.stock, |touch| (by_then(touch) && !later(touch)).then(|| stood(touch))),
    );
    was != is && is != parent.n
}
