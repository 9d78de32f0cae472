//! Breeders over small random histories, against all ways in which fish that nobody tells apart may have gone. Where
//! these ways differ, only what does not depend on them is held against the rule: ids, that numbers and weights are
//! spread whole, that so many may be there, and whose group they may have been.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use tarn_domain::lineage::{Groups, ShareCopy};
use tarn_domain::rooms::Node;
use tarn_domain::streams::{NodeId, OpId};
use uuid::Uuid;

use crate::dice::{Dice, cases};
use crate::ledger::{Ledger, folded, groups, id, node, side};
use crate::worlds::{FEMALE, Fish, MALE, Row, UNSEXED, Worlds};

const WILD: u128 = 0x60;
const SEX: [&str; 3] = ["male", "female", "unsexed"];

/// UUIDv5 (RFC 9562, section 5.5) of the stock, over node, sex and entry.
fn name(stock: u128, side: usize, first: OpId) -> NodeId {
    NodeId(Uuid::new_v5(&id(stock), format!("{} {} {first}", id(WILD), SEX[side]).as_bytes()))
}

/// A room that is written and read at once.
struct History {
    dice: Dice,
    room: Ledger,
    worlds: Worlds,
    /// The entries that brought fish to a row, in order.
    came: BTreeMap<Row, Vec<OpId>>,
    /// Of which group fathers or mothers are that an entry brought: named by its first entry.
    bred: BTreeMap<(Row, usize, OpId), OpId>,
    /// The greatest number in which each group bred, and whose it is known to be.
    told: BTreeMap<NodeId, u32>,
    broods: Vec<(u128, [Vec<ShareCopy>; 2])>,
    seen: [usize; 4],
}

impl History {
    fn new(seed: u64) -> Self {
        let (dice, room) = (Dice::of(seed), Ledger::new());
        let (worlds, came, bred) = (Worlds::new(), BTreeMap::new(), BTreeMap::new());
        let (told, broods) = (BTreeMap::new(), Vec::new());
        Self { dice, room, worlds, came, bred, told, broods, seen: [0; 4] }
    }

    fn a_row(&mut self) -> Row {
        (0x50 + self.dice.below(3) as u128, self.dice.pick(&[MALE, MALE, FEMALE, UNSEXED]))
    }

    /// Some of a row, if there are any.
    fn some(&mut self, row: Row) -> usize {
        let all = self.worlds.count(row);
        if all == 0 { 0 } else { 1 + self.dice.below(all) }
    }

    fn come(&mut self, row: Row, by: OpId) {
        self.came.entry(row).or_default().push(by);
    }

    fn step(&mut self, on: u32) {
        let row = self.a_row();
        let other = self.a_row();
        let n = self.some(row);
        let fish = [(SEX[row.1], n as u32)];
        let made = |history: &Self, stock: u128| history.came.keys().any(|row| row.0 == stock);
        match self.dice.below(16) {
            _ if !made(self, row.0) => {
                let fish: Vec<(usize, usize)> =
                    [MALE, FEMALE, UNSEXED].into_iter().map(|sex| (sex, self.dice.below(4))).collect();
                let told: Vec<(&str, u32)> = fish.iter().map(|(sex, n)| (SEX[*sex], *n as u32)).collect();
                let by = self.room.established(on, row.0, WILD, &told);
                for (sex, n) in fish.into_iter().filter(|(_, n)| *n > 0) {
                    self.worlds.come((row.0, sex), n, by);
                    self.come((row.0, sex), by);
                }
                // none of it may have come; the stock is there all the same
                self.came.entry((row.0, UNSEXED)).or_default();
            }
            0 | 1 if !made(self, other.0) && n > 0 => {
                let by = self.room.split(on, (row.0, other.0), WILD, &fish);
                self.worlds.go(row, n, Some(((other.0, row.1), by)));
                self.come((other.0, row.1), by);
            }
            0..4 if made(self, other.0) && other.0 != row.0 && n > 0 => {
                let by = self.room.merged(on, (row.0, other.0), WILD, &fish);
                self.worlds.go(row, n, Some(((other.0, row.1), by)));
                self.come((other.0, row.1), by);
            }
            4 | 5 if n > 0 => {
                self.room.lost(on, row.0, WILD, &fish);
                self.worlds.go(row, n, None);
            }
            6 => {
                let (had, now) = (self.worlds.count(row), self.dice.below(6));
                let by = self.room.counted(on, row.0, WILD, &[(SEX[row.1], now as u32)], false);
                if now > had {
                    self.worlds.come(row, now - had, by);
                    self.come(row, by);
                } else {
                    self.worlds.go(row, had - now, None);
                }
            }
            7 | 8 if row.1 == UNSEXED && n > 0 => {
                let sex = self.dice.pick(&[MALE, FEMALE]);
                let by = self.room.sexed(on, row.0, WILD, &[(SEX[sex], n as u32)]);
                self.worlds.go(row, n, Some(((row.0, sex), by)));
                self.come((row.0, sex), by);
            }
            9.. => self.brood(on, row.0, other.0),
            _ => {}
        }
    }

    /// The males of one stock and the females of another, or those of no known sex; so many or all.
    fn brood(&mut self, on: u32, sires: u128, dams: u128) {
        let mut told = [Value::Null, Value::Null];
        let mut of = [None, None];
        for (sex, stock) in [(MALE, sires), (FEMALE, dams)] {
            let rows = [(stock, sex), (stock, UNSEXED)];
            let Some(row) = rows.into_iter().find(|row| self.worlds.count(*row) > 0) else { continue };
            let all = self.worlds.count(row);
            let n = if self.dice.percent(70) { all } else { self.some(row) };
            let weight = self.dice.percent(30).then_some(1000);
            told[sex] = side(&[(stock, id(WILD), n as u32, weight)]);
            of[sex] = Some((row, n, weight));
        }
        if told.iter().all(Value::is_null) {
            return;
        }
        let brood = 0x7000 + u128::from(on);
        self.room.young(on, brood, told);
        let groups = self.room.groups();
        let mut shares = [Vec::new(), Vec::new()];
        for (sex, of) in of.into_iter().enumerate() {
            let Some((row, n, weight)) = of else { continue };
            let side = groups.sides[&node(brood)][sex].clone().expect("told");
            self.check((row, sex), n, weight, &side.of, &groups);
            shares[sex] = side.of;
        }
        self.broods.push((brood, shares));
    }

    fn check(
        &mut self,
        (row, sex): (Row, usize),
        n: usize,
        weight: Option<u32>,
        shares: &[ShareCopy],
        groups: &Groups,
    ) {
        assert_eq!(shares.iter().map(|share| share.n as usize).sum::<usize>(), n, "the number is whole");
        let weights: Option<Vec<u32>> = shares.iter().map(|share| share.weight.map(u32::from)).collect();
        assert_eq!(weights.map(|w| w.iter().sum::<u32>()), weight, "the weight is whole");
        let came = self.came[&row].clone();
        let mut of: Vec<(NodeId, Vec<OpId>, usize)> = Vec::new();
        for share in shares {
            let first = came.iter().copied().find(|by| name(row.0, sex, *by) == share.node);
            let first = first.unwrap_or_else(|| panic!("{} is the name of no fish of that row", share.node));
            let known = |by: &OpId| self.bred.get(&(row, sex, *by));
            let by: Vec<OpId> = if known(&first).is_some() {
                came.iter().copied().filter(|by| known(by) == Some(&first)).collect()
            } else {
                let fresh: Vec<OpId> = came.iter().copied().filter(|by| known(by).is_none()).collect();
                let at = fresh.iter().position(|by| *by == first).expect("one of them");
                let before = &fresh[..at];
                let alive = |world: &&Vec<Fish>| world.iter().any(|fish| before.contains(&fish.came));
                let rows = self.worlds.0.iter().filter_map(|world| world.get(&row));
                let maybe_none = rows.clone().count() > rows.filter(alive).count();
                assert!(maybe_none, "some that had not bred before are left out of their group");
                fresh[at..].to_vec()
            };
            assert!(by.contains(&first), "a group is named by its first");
            of.push((share.node, by, share.n as usize));
        }
        let names: BTreeSet<NodeId> = of.iter().map(|(node, ..)| *node).collect();
        assert_eq!(names.len(), of.len(), "each group once");
        let may_be = |fish: &Vec<Fish>| {
            of.iter().all(|(_, by, n)| fish.iter().filter(|fish| by.contains(&fish.came)).count() >= *n)
        };
        let rows: BTreeSet<Vec<Fish>> =
            self.worlds.0.iter().filter_map(|world| world.get(&row)).cloned().collect();
        assert!(rows.iter().any(may_be), "no way leads to {of:?}");
        self.seen[0] += usize::from(of.len() > 1);
        for (group, by, n) in of {
            let before: BTreeSet<Option<NodeId>> = rows
                .iter()
                .flat_map(|fish| fish.iter())
                .filter(|fish| by.contains(&fish.came))
                .map(|fish| fish.group[sex])
                .collect();
            let said = groups.breeders[&group].of;
            if !self.told.contains_key(&group) {
                let may: Vec<Node> =
                    before.iter().map(|group| group.map_or(Node::Of(node(WILD)), Node::Of)).collect();
                if let [only] = may.as_slice() {
                    assert_eq!(said, *only, "all of them were part of it");
                    self.seen[1] += usize::from(*only != Node::Of(node(WILD)));
                } else {
                    assert!(
                        said == Node::Of(node(WILD)) || may.contains(&said),
                        "none of them was part of it"
                    );
                    self.seen[2] += 1;
                }
            }
            let most = self.told.entry(group).or_default();
            *most = (*most).max(n as u32);
            assert_eq!(groups.breeders[&group].n, *most, "as many as there were at most");
            let first = *by.first().expect("some");
            for by in &by {
                self.bred.insert((row, sex, *by), first);
            }
            self.worlds.breed(row, sex, &by, group);
        }
    }
}

#[test]
fn groups_are_what_following_every_fish_allows() {
    let mut seen = [0; 4];
    for seed in 0..cases(3_000) {
        let mut history = History::new(seed);
        let long = 6 + history.dice.below(12) as u32;
        let told = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            for on in 1..=long {
                history.step(on);
                if history.worlds.0.len() > 2_000 {
                    break;
                }
            }
            let groups = history.room.groups();
            for (brood, shares) in &history.broods {
                let now =
                    groups.sides[&node(*brood)].clone().map(|side| side.map(|s| s.of).unwrap_or_default());
                assert_eq!(now, *shares, "what happens later tells nothing else of a brood");
            }
            let known: BTreeMap<NodeId, u32> =
                groups.breeders.iter().map(|(id, group)| (*id, group.n)).collect();
            assert_eq!(known, history.told, "no other groups");
        }));
        if let Err(why) = told {
            let ops: Vec<String> =
                history.room.ops.iter().map(|(op, _)| op.body.to_value().to_string()).collect();
            eprintln!("seed {seed}:\n{}", ops.join("\n"));
            std::panic::resume_unwind(why);
        }
        history.seen[3] += history.broods.len();
        seen.iter_mut().zip(history.seen).for_each(|(all, one)| *all += one);
    }
    let [both, part, unsure, broods] = seen;
    println!(
        "{broods} broods; of several groups {both}, of a known earlier one {part}, of nobody knows which {unsure}"
    );
    assert!(both > 200 && part > 100 && unsure > 80, "dull: {seen:?}");
}

/// Whenever the entries become known, in whatever order: dates decide.
#[test]
fn groups_do_not_depend_on_the_order_in_which_entries_arrive() {
    for seed in 0..cases(400) {
        let mut history = History::new(seed);
        let long = 6 + history.dice.below(12) as u32;
        for on in 1..=long {
            if history.worlds.0.len() < 2_000 {
                history.step(on);
            }
        }
        // late entries among them: dated before what was written earlier
        for _ in 0..2 {
            let (on, row) = (1 + history.dice.below(long as usize) as u32, history.a_row());
            if history.came.keys().any(|known| known.0 == row.0) {
                let n = history.dice.below(6) as u32;
                history.room.counted(on, row.0, WILD, &[(SEX[row.1], n)], false);
                let body = json!({"op": "brood.corrected", "brood": id(0x7000 + u128::from(on)),
                    "sires": side(&[(row.0, id(WILD), 2, None)])});
                history.room.write(on, body);
            }
        }
        let whole = history.room.groups();
        let mut ops: Vec<_> = history.room.ops.iter().collect();
        for _ in 0..4 {
            history.dice.shuffle(&mut ops);
            assert_eq!(groups(&folded(ops.iter().copied())), whole, "seed {seed}");
        }
    }
}
