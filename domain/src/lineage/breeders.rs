//! Which groups of fish bred: derived from the records of a room, never stored by whoever wrote them. A group is the
//! fish of one sex of a node in one stock, kept while that stock only loses fish; fish that come later, are split off
//! or are told apart by sex only later are a group of their own, of the one that they were part of.

use std::collections::BTreeMap;

use uuid::Uuid;

use super::brood::BroodState;
use super::copy::{BreedersCopy, ShareCopy, SideCopy};
use super::ops::{Parents, ParentsOf};
use crate::rooms::{Grew, Node, Sex, StockState};
use crate::streams::{At, NodeId, OpId, StockId};

/// The unnamed founder that stands for the males a female met before she came: UUIDv5 of her stock.
pub fn unnamed_sire(stock: StockId) -> NodeId {
    NodeId(Uuid::new_v5(&stock.0, b"sires before arrival"))
}

/// The id of a group: UUIDv5 of the stock, the node, the sex, and the entry that brought its first fish.
pub fn breeders_id(stock: StockId, node: Node, sex: Sex, first: OpId) -> NodeId {
    let sex = if sex == Sex::Male { "male" } else { "female" };
    NodeId(Uuid::new_v5(&stock.0, format!("{node} {sex} {first}").as_bytes()))
}

/// The groups of a room.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Groups {
    /// Each group.
    pub breeders: BTreeMap<NodeId, BreedersCopy>,
    /// The fathers and mothers of each brood, by group.
    pub sides: BTreeMap<NodeId, [Option<SideCopy>; 2]>,
    /// Unnamed fathers of mated females, and whose.
    pub unnamed: BTreeMap<NodeId, StockId>,
}

/// The fish of a group before it has bred: which stock, node and side, and whether they are counted by sex.
type Key = (StockId, Node, Sex, bool);

#[derive(Default)]
struct Batch {
    first: Option<OpId>,
    size: i64,
    /// The groups that its fish were part of before; none: of a node that has not bred there.
    from: Vec<Option<NodeId>>,
    /// Once it has bred, its id.
    bred: Option<NodeId>,
    /// None of it is left.
    gone: bool,
}

impl Batch {
    /// The group that all its fish were part of before.
    fn before(&self) -> Option<NodeId> {
        let first = (*self.from.first()?)?;
        self.from.iter().all(|from| *from == Some(first)).then_some(first)
    }
}

/// So many of these are left: which are missing is not known, so each batch lost its share.
fn remain(batches: &mut [Batch], left: i64) {
    let mut living: Vec<&mut Batch> = batches.iter_mut().filter(|batch| !batch.gone).collect();
    let sizes: Vec<u64> = living.iter().map(|batch| u64::try_from(batch.size).unwrap_or(0)).collect();
    let left = u32::try_from(left).unwrap_or(0);
    if sizes.iter().sum::<u64>() > u64::from(left) {
        for (batch, size) in living.iter_mut().zip(parts(left, &sizes)) {
            if size == 0 {
                batch.gone = true;
            } else {
                batch.size = i64::from(size);
            }
        }
    }
}

/// Those of which some are left; where none are, those that were there last: a father may die before his young are born.
fn there(batches: &[Batch]) -> Vec<usize> {
    let which = |gone| (0..batches.len()).filter(move |at| batches[*at].gone == gone).collect::<Vec<_>>();
    let living = which(false);
    if living.is_empty() { which(true) } else { living }
}

impl Groups {
    /// The groups of all broods that were made here.
    pub fn of(stocks: &BTreeMap<StockId, &StockState>, broods: &BTreeMap<NodeId, &BroodState>) -> Self {
        let mut all: Vec<(At, bool, OpId, Event<'_>)> = Vec::new();
        let parents = |b: &BroodState| {
            b.sires.iter().chain(&b.dams).flat_map(|s| &s.of).map(|p| p.stock).collect::<Vec<_>>()
        };
        let mut named: Vec<StockId> = broods.values().flat_map(|brood| parents(brood)).collect();
        // what parents were part of before counts as well
        let mut at = 0;
        named.sort_unstable();
        named.dedup();
        while let Some(id) = named.get(at) {
            at += 1;
            for from in stocks.get(id).into_iter().flat_map(|stock| &stock.grew).filter_map(|grew| grew.from)
            {
                if !named.contains(&from) && stocks.contains_key(&from) {
                    named.push(from);
                }
            }
        }
        for id in named {
            let grew = stocks.get(&id).into_iter().flat_map(|stock| &stock.grew);
            all.extend(grew.map(|grew| (grew.at, false, grew.op, Event::Grew(id, grew))));
        }
        for (&id, brood) in broods {
            if let (Some(op), Some(found)) = (brood.made, brood.found) {
                // eggs and young are of when they were laid or born, as far as that is told
                let when = brood.window.map_or(found, |window| window.to.min(found));
                // but nobody breeds in a stock that is not there yet
                let since = parents(brood).iter().filter_map(|id| stocks.get(id)?.since).max();
                let when = since.map_or(when, |since| when.max(since));
                all.push((when, true, op, Event::Bred(id, brood)));
            }
        }
        all.sort_by_key(|(at, bred, op, _)| (*at, *bred, *op));
        let mut making = Making::default();
        for (_, _, _, event) in all {
            match event {
                Event::Grew(stock, grew) => making.grow(stock, grew),
                Event::Bred(id, brood) => {
                    let sires = brood.sires.as_ref().map(|side| making.breed(side, Sex::Male));
                    let dams = brood.dams.as_ref().map(|side| making.breed(side, Sex::Female));
                    making.groups.sides.insert(id, [sires, dams]);
                }
            }
        }
        making.groups
    }
}

enum Event<'a> {
    Grew(StockId, &'a Grew),
    Bred(NodeId, &'a BroodState),
}

#[derive(Default)]
struct Making {
    batches: BTreeMap<Key, Vec<Batch>>,
    groups: Groups,
}

impl Making {
    fn grow(&mut self, stock: StockId, grew: &Grew) {
        let sides: &[(Sex, bool)] = match grew.sex {
            Sex::Male => &[(Sex::Male, true)],
            Sex::Female => &[(Sex::Female, true)],
            Sex::Unsexed | Sex::Any => &[(Sex::Male, false), (Sex::Female, false)],
            Sex::Eggs => &[],
        };
        for &(side, sexed) in sides {
            let source = if grew.sexed { Some((stock, grew.node, side, false)) } else { None };
            let source = source.or_else(|| Some((grew.from?, grew.node, side, sexed)));
            let from = source.and_then(|key| self.the_one(key));
            let batches = self.batches.entry((stock, grew.node, side, sexed)).or_default();
            remain(batches, grew.had);
            if grew.n == 0 {
                continue;
            }
            if batches.last().is_none_or(|batch| batch.bred.is_some() || batch.gone) {
                batches.push(Batch { first: Some(grew.op), ..Batch::default() });
            }
            if let Some(batch) = batches.last_mut() {
                batch.size += grew.n;
                batch.from.push(from);
            }
        }
    }

    /// The group that all fish of a kind in a stock are of, if they have bred, there or before, and are of one.
    fn the_one(&self, key: Key) -> Option<NodeId> {
        let batches = self.batches.get(&key)?;
        let there = there(batches);
        let [batch] = there.as_slice() else { return None };
        batches[*batch].bred.or(batches[*batch].before())
    }

    fn breed(&mut self, side: &Parents, sex: Sex) -> SideCopy {
        let mut of: Vec<ShareCopy> = Vec::new();
        for parent in &side.of {
            if parent.node == Node::Of(unnamed_sire(parent.stock)) {
                let node = unnamed_sire(parent.stock);
                self.groups.unnamed.insert(node, parent.stock);
                of.push(ShareCopy { node, n: parent.n, weight: parent.weight });
                continue;
            }
            for share in self.spread(parent, sex) {
                match of.iter_mut().find(|known| known.node == share.node) {
                    Some(known) => {
                        known.n = known.n.saturating_add(share.n);
                        known.weight = known.weight.zip(share.weight).map(|(a, b)| a.saturating_add(b));
                    }
                    None => of.push(share),
                }
            }
        }
        for share in &of {
            if let Some(group) = self.groups.breeders.get_mut(&share.node) {
                group.n = group.n.max(share.n);
            }
        }
        SideCopy { of, draw: side.draw }
    }

    /// The fish of one stock and node, over the groups that they may be of: which of them were lost since is not known,
    /// so each group has its share.
    fn spread(&mut self, parent: &ParentsOf, sex: Sex) -> Vec<ShareCopy> {
        let known = |key: &Key| self.batches.get(key).is_some_and(|all| !all.is_empty());
        let living = |key: &Key| self.batches.get(key).is_some_and(|all| all.iter().any(|batch| !batch.gone));
        let [sexed, unsexed] = [true, false].map(|sexed| (parent.stock, parent.node, sex, sexed));
        let either = if living(&sexed) || living(&unsexed) { living(&sexed) } else { known(&sexed) };
        let key = if either || !known(&unsexed) { sexed } else { unsexed };
        let batches = self.batches.entry(key).or_default();
        if batches.is_empty() {
            // the keeper saw fish that the records don't have
            batches.push(Batch { size: i64::from(parent.n), ..Batch::default() });
        }
        let there = there(batches);
        let size = |at: &usize| u64::try_from(batches[*at].size).unwrap_or(0);
        let shares = parts(parent.n, &there.iter().map(size).collect::<Vec<_>>());
        let weights = parent.weight.map(|weight| {
            parts(u32::from(weight), &shares.iter().map(|n| u64::from(*n)).collect::<Vec<_>>())
        });
        let mut all = Vec::new();
        for (at, (which, n)) in there.into_iter().zip(shares).enumerate().filter(|(_, (_, n))| *n > 0) {
            let batch = &mut batches[which];
            let first = batch.first.unwrap_or(OpId(Uuid::nil()));
            let node = *batch.bred.get_or_insert_with(|| breeders_id(parent.stock, parent.node, sex, first));
            let of = batch.before().map_or(parent.node, Node::Of);
            self.groups.breeders.entry(node).or_insert(BreedersCopy { of, sex, n: 0 });
            let weight = weights.as_ref().and_then(|w| w.get(at)).and_then(|w| u16::try_from(*w).ok());
            all.push(ShareCopy { node, n, weight });
        }
        all
    }
}

/// A whole number in parts as `sizes`, each a whole number: by the largest remainder, the earlier first.
fn parts(whole: u32, sizes: &[u64]) -> Vec<u32> {
    let sum: u64 = sizes.iter().sum();
    if sum == 0 {
        return sizes.iter().enumerate().map(|(at, _)| if at == 0 { whole } else { 0 }).collect();
    }
    let exact = |size: &u64| u128::from(whole) * u128::from(*size);
    let mut all: Vec<u32> =
        sizes.iter().map(|s| u32::try_from(exact(s) / u128::from(sum)).unwrap_or(0)).collect();
    let left = whole.saturating_sub(all.iter().sum());
    let mut by_rest: Vec<usize> = (0..sizes.len()).collect();
    by_rest.sort_by_key(|at| std::cmp::Reverse(sizes.get(*at).map_or(0, |s| exact(s) % u128::from(sum))));
    for at in by_rest.into_iter().take(left as usize) {
        if let Some(part) = all.get_mut(at) {
            *part += 1;
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_whole_and_add_up() {
        assert_eq!(parts(5, &[3, 3]), [3, 2]);
        assert_eq!(parts(1, &[1, 2]), [0, 1]);
        assert_eq!(parts(750, &[1, 1, 1]), [250, 250, 250]);
        assert_eq!(parts(4, &[0, 0]), [4, 0]);
        assert_eq!(parts(10, &[9, 1]), [9, 1]);
    }
}
