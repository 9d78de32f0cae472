//! Broods whose parents were counted by records that say something else by now: an entry of an earlier day came in
//! later, or was taken back. What was told stays as it was; the keeper may correct it.

use std::collections::BTreeSet;

use super::entity::EntityState;
use super::memory::{Entry, Memory};
use crate::lineage::{BroodState, Parents, Telling, of_sex, unnamed_sire};
use crate::rooms::{Node, Sex, StockState};
use crate::streams::{Clock, Entity, EntityKind, OpId, StockId};

/// The broods of a room whose parents the records would count otherwise now, and the entry that told them.
pub fn parents_otherwise(memory: &Memory) -> Vec<(Entity, OpId)> {
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
    let clock = told.linked.order.clock;
    let sides = [(brood.sires.as_ref(), Sex::Male), (brood.dams.as_ref(), Sex::Female)];
    let stocks: BTreeSet<StockId> = sides
        .iter()
        .filter_map(|(side, _)| *side)
        .flat_map(|side| &side.of)
        .map(|parent| parent.stock)
        .collect();
    let names = |entry: &Entry| {
        let links = &entry.linked.links;
        let named = |thing: &Entity| thing.kind == EntityKind::Stock && stocks.contains(&StockId(thing.id));
        !links.log && entry.linked.order.at < at && links.named().iter().any(named)
    };
    let since = |later: Clock| later > clock;
    let came = memory.entries().iter().any(|entry| since(entry.linked.order.clock) && names(entry));
    let went = memory.all_withdrawals().any(|(old, by)| since(by.linked.order.clock) && names(old));
    if !came && !went {
        return false;
    }
    let before = |entry: &Entry| entry.linked.order.at <= at || entry.linked.links.withdraws.is_some();
    let now = memory.with_only(before);
    let then = memory.with_only(|entry| before(entry) && !since(entry.linked.order.clock));
    sides
        .into_iter()
        .filter_map(|(side, sex)| Some((side?, sex)))
        .any(|(side, sex)| otherwise(side, sex, &then, &now))
}

fn otherwise(side: &Parents, sex: Sex, then: &Memory, now: &Memory) -> bool {
    side.of.iter().filter(|parent| parent.node != Node::Of(unnamed_sire(parent.stock))).any(|parent| {
        let count = |memory: &Memory| {
            let rows = stock(memory, parent.stock).map(|stock| of_sex(stock, sex)).unwrap_or_default();
            rows.into_iter().find(|(node, _)| *node == parent.node).map_or(0, |(_, n)| n)
        };
        let (was, is) = (count(then), count(now));
        was != is && is != parent.n
    })
}

fn stock(memory: &Memory, id: StockId) -> Option<&StockState> {
    match memory.state(id.into()).map(AsRef::as_ref) {
        Some(EntityState::Stock(stock)) if stock.made.is_some() => Some(stock),
        _ => None,
    }
}
