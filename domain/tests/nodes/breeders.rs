//! Which fish bred as one group: kept while their stock only loses fish.

use serde_json::{Value, json};
use tarn_domain::lineage::{BreedersCopy, Groups, ShareCopy, SideCopy, breeders_id, unnamed_sire};
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::streams::{NodeId, OpId};

use crate::ledger::{Ledger, folded, groups, id, node, rows, side, stock};

const PAIR: u128 = 0x50;
const OTHER: u128 = 0x51;
const THIRD: u128 = 0x52;
const WILD: u128 = 0x60;
const FIRST: u128 = 0x71;
const SECOND: u128 = 0x72;

/// So many of the wild fish of a stock.
fn of(stock: u128, n: u32) -> Value {
    side(&[(stock, id(WILD), n, None)])
}

fn sires(groups: &Groups, brood: u128) -> SideCopy {
    groups.sides[&node(brood)][0].clone().expect("sires")
}

fn shares(groups: &Groups, brood: u128) -> Vec<(NodeId, u32)> {
    sires(groups, brood).of.iter().map(|share| (share.node, share.n)).collect()
}

fn males(stock_: u128, first: OpId) -> NodeId {
    breeders_id(stock(stock_), Node::Of(node(WILD)), Sex::Male, first)
}

/// UUIDv5 (RFC 9562, section 5.5) of the stock's id and "node sex entry"; anybody can compute it again.
#[test]
fn the_id_of_a_group_is_made_of_stock_node_sex_and_the_entry_that_brought_them() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 4), ("female", 2)]);
    room.young(5, FIRST, [of(PAIR, 4), of(PAIR, 2)]);
    let groups = room.groups();
    let name = |sex: &str| format!("{} {sex} {had}", id(WILD));
    let by_hand = |sex: &str| NodeId(uuid::Uuid::new_v5(&id(PAIR), name(sex).as_bytes()));
    let known: Vec<NodeId> = groups.breeders.keys().copied().collect();
    let mut wanted = vec![by_hand("male"), by_hand("female")];
    wanted.sort_unstable();
    assert_eq!(known, wanted);
    let of_the_wild = |sex, n| BreedersCopy { of: Node::Of(node(WILD)), sex, n };
    assert_eq!(groups.breeders[&by_hand("male")], of_the_wild(Sex::Male, 4));
    assert_eq!(groups.breeders[&by_hand("female")], of_the_wild(Sex::Female, 2));
}

#[test]
fn a_group_that_only_loses_fish_stays_one_and_two_broods_share_it() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 4)]);
    room.young(5, FIRST, [of(PAIR, 4), Value::Null]);
    room.lost(6, PAIR, WILD, &[("male", 1)]);
    room.counted(7, PAIR, WILD, &[("male", 3)], true);
    room.young(9, SECOND, [of(PAIR, 3), Value::Null]);
    let groups = room.groups();
    assert_eq!(shares(&groups, FIRST), [(males(PAIR, had), 4)]);
    assert_eq!(shares(&groups, SECOND), [(males(PAIR, had), 3)]);
    // as many as there ever were of it: the same father with probability 1 in 4, not 1 in 3
    assert_eq!(groups.breeders[&males(PAIR, had)].n, 4);
    assert_eq!(groups.breeders.len(), 1);
}

#[test]
fn fish_that_came_before_the_first_brood_are_one_group_wherever_they_are_from() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 2)]);
    room.established(1, OTHER, WILD, &[("male", 3)]);
    room.merged(2, (OTHER, PAIR), WILD, &[("male", 3)]);
    room.young(5, FIRST, [of(PAIR, 5), Value::Null]);
    assert_eq!(shares(&room.groups(), FIRST), [(males(PAIR, had), 5)]);
}

#[test]
fn fish_that_are_added_later_are_a_group_of_their_own_and_a_later_brood_may_be_of_both() {
    type Add = fn(&mut Ledger) -> OpId;
    let ways: [(&str, Add); 3] = [
        ("merged", |room| room.merged(6, (OTHER, PAIR), WILD, &[("male", 2)])),
        ("counted", |room| room.counted(6, PAIR, WILD, &[("male", 6)], false)),
        ("sexed", |room| room.sexed(6, PAIR, WILD, &[("male", 2)])),
    ];
    for (way, add) in ways {
        let mut room = Ledger::new();
        let had = room.established(1, PAIR, WILD, &[("male", 4), ("unsexed", 5)]);
        room.established(1, OTHER, WILD, &[("male", 2)]);
        room.young(5, FIRST, [of(PAIR, 4), Value::Null]);
        let added = add(&mut room);
        room.young(9, SECOND, [of(PAIR, 3), Value::Null]);
        let groups = room.groups();
        assert_eq!(shares(&groups, FIRST), [(males(PAIR, had), 4)], "{way}");
        // half of six are left, of each group its half
        assert_eq!(shares(&groups, SECOND), [(males(PAIR, had), 2), (males(PAIR, added), 1)], "{way}");
        assert_eq!(groups.breeders[&males(PAIR, added)].of, Node::Of(node(WILD)), "{way}");
    }
}

/// Who died before others came can't be a father after.
#[test]
fn fish_that_were_lost_before_others_came_have_no_share() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 3)]);
    room.established(1, OTHER, WILD, &[("male", 4)]);
    room.young(5, FIRST, [of(PAIR, 3), Value::Null]);
    room.lost(6, PAIR, WILD, &[("male", 2)]);
    let some = room.merged(7, (OTHER, PAIR), WILD, &[("male", 2)]);
    room.young(9, SECOND, [of(PAIR, 3), Value::Null]);
    assert_eq!(shares(&room.groups(), SECOND), [(males(PAIR, had), 1), (males(PAIR, some), 2)]);
    room.lost(10, PAIR, WILD, &[("male", 3)]);
    let last = room.merged(11, (OTHER, PAIR), WILD, &[("male", 2)]);
    room.young(12, 0x73, [of(PAIR, 2), Value::Null]);
    assert_eq!(shares(&room.groups(), 0x73), [(males(PAIR, last), 2)]);
}

#[test]
fn what_is_split_off_is_of_the_group_it_was_split_from() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 4)]);
    room.young(5, FIRST, [of(PAIR, 4), Value::Null]);
    let apart = room.split(6, (PAIR, OTHER), WILD, &[("male", 2)]);
    room.young(9, SECOND, [of(OTHER, 2), Value::Null]);
    let groups = room.groups();
    assert_eq!(shares(&groups, SECOND), [(males(OTHER, apart), 2)]);
    assert_eq!(groups.breeders[&males(OTHER, apart)].of, Node::Of(males(PAIR, had)));
    // also by way of a stock in which they never bred
    let further = room.split(10, (OTHER, THIRD), WILD, &[("male", 1)]);
    room.young(12, 0x73, [of(THIRD, 1), Value::Null]);
    let groups = room.groups();
    assert_eq!(groups.breeders[&males(THIRD, further)].of, Node::Of(males(OTHER, apart)));
}

#[test]
fn fish_that_passed_through_a_stock_without_breeding_there_are_of_the_group_before() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 4)]);
    room.young(5, FIRST, [of(PAIR, 4), Value::Null]);
    room.split(6, (PAIR, OTHER), WILD, &[("male", 2)]);
    let further = room.split(7, (OTHER, THIRD), WILD, &[("male", 2)]);
    room.young(12, SECOND, [of(THIRD, 2), Value::Null]);
    assert_eq!(room.groups().breeders[&males(THIRD, further)].of, Node::Of(males(PAIR, had)));
}

#[test]
fn fish_whose_sex_nobody_knew_when_they_bred_are_a_group_that_the_sexed_ones_were_part_of() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("unsexed", 6)]);
    room.young(5, FIRST, [of(PAIR, 6), of(PAIR, 6)]);
    let told = room.sexed(6, PAIR, WILD, &[("male", 2), ("female", 4)]);
    room.young(9, SECOND, [of(PAIR, 2), of(PAIR, 4)]);
    let groups = room.groups();
    assert_eq!(shares(&groups, FIRST), [(males(PAIR, had), 6)]);
    assert_eq!(shares(&groups, SECOND), [(males(PAIR, told), 2)]);
    assert_eq!(groups.breeders[&males(PAIR, told)].of, Node::Of(males(PAIR, had)));
    let females = |first| breeders_id(stock(PAIR), Node::Of(node(WILD)), Sex::Female, first);
    assert_eq!(
        groups.breeders[&females(told)],
        BreedersCopy { of: Node::Of(females(had)), sex: Sex::Female, n: 4 }
    );
}

#[test]
fn weights_are_spread_like_the_fish_and_lose_no_thousandth() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 2)]);
    room.established(1, OTHER, WILD, &[("male", 5)]);
    room.young(5, FIRST, [of(PAIR, 2), Value::Null]);
    let more = room.merged(6, (OTHER, PAIR), WILD, &[("male", 1)]);
    let told = side(&[(PAIR, id(WILD), 3, Some(700)), (OTHER, id(WILD), 4, Some(300))]);
    room.young(9, SECOND, [told, Value::Null]);
    let told = sires(&room.groups(), SECOND);
    let share = |node, n, weight| ShareCopy { node, n, weight: Some(weight) };
    let other = room.ops[2].0.id;
    assert_eq!(
        told.of,
        [
            share(males(PAIR, had), 2, 467),
            share(males(PAIR, more), 1, 233),
            share(males(OTHER, other), 4, 300)
        ]
    );
}

/// A side may name one group twice; together they are as many as bred.
#[test]
fn what_is_named_twice_is_one_share() {
    let mut room = Ledger::new();
    let had = room.established(1, PAIR, WILD, &[("male", 5)]);
    let twice = side(&[(PAIR, id(WILD), 2, Some(400)), (PAIR, id(WILD), 3, Some(600))]);
    room.young(5, FIRST, [twice, Value::Null]);
    let groups = room.groups();
    let one = ShareCopy { node: males(PAIR, had), n: 5, weight: Some(1000) };
    assert_eq!(sires(&groups, FIRST).of, [one]);
    assert_eq!(groups.breeders[&males(PAIR, had)].n, 5);
}

#[test]
fn the_males_that_a_female_met_before_she_came_are_an_unnamed_founder() {
    let mut room = Ledger::new();
    let founders = json!({"node": id(WILD), "origin": "bought", "related": "not_known"});
    room.write(
        1,
        json!({"op": "stock.came_in", "stock": id(PAIR), "from": "shop", "founders": founders,
        "rows": rows(WILD, &[("female", 1)])}),
    );
    let unnamed = unnamed_sire(stock(PAIR));
    let sires_ = side(&[(PAIR, unnamed.0, 1, None)]);
    room.young(5, FIRST, [sires_.clone(), of(PAIR, 1)]);
    room.young(30, SECOND, [sires_, of(PAIR, 1)]);
    let groups = room.groups();
    assert_eq!(groups.unnamed.get(&unnamed), Some(&stock(PAIR)));
    assert_eq!(shares(&groups, FIRST), [(unnamed, 1)]);
    assert_eq!(shares(&groups, SECOND), [(unnamed, 1)]);
    assert_eq!(groups.breeders.len(), 1, "only hers");
}

/// Eggs that were laid before the keeper wrote down who was there are theirs.
#[test]
fn parents_that_were_written_down_after_the_eggs_were_laid_are_one_group_with_those_of_later_broods() {
    let mut room = Ledger::new();
    let had = room.established(5, PAIR, WILD, &[("male", 4)]);
    let eggs = json!({"op": "eggs.collected", "brood": id(FIRST), "stock": id(FIRST), "n": 30,
        "new": {"code": "E", "name": {}, "sires": of(PAIR, 4)},
        "window": {"from": crate::ledger::day(1), "to": crate::ledger::day(2)}});
    room.write(6, eggs);
    room.young(12, SECOND, [of(PAIR, 4), Value::Null]);
    let groups = room.groups();
    assert_eq!(shares(&groups, FIRST), [(males(PAIR, had), 4)]);
    assert_eq!(shares(&groups, SECOND), [(males(PAIR, had), 4)]);
}

/// A merge that was written down late, dated before the first brood, makes the fish part of its group.
#[test]
fn late_entries_tell_as_if_they_had_come_in_time() {
    let written = |late: bool| {
        let mut room = Ledger::new();
        room.established(1, PAIR, WILD, &[("male", 2)]);
        room.established(1, OTHER, WILD, &[("male", 3)]);
        let join = json!({"op": "stock.merged", "stock": id(OTHER), "into": id(PAIR), "rows": rows(WILD, &[("male", 3)])});
        if !late {
            room.write_as(2, (1, 90), join.clone());
        }
        room.write_as(
            5,
            (1, 91),
            json!({"op": "young.found", "brood": id(FIRST), "stock": id(FIRST), "code": "Y",
            "name": {}, "rows": [], "sires": of(PAIR, 5)}),
        );
        if late {
            room.write_as(2, (1, 92), join);
        }
        let groups = room.groups();
        assert_eq!(groups, crate::ledger::groups(&folded(room.ops.iter().rev())));
        groups
    };
    assert_eq!(written(true), written(false));
    assert_eq!(written(true).breeders.values().next().map(|group| group.n), Some(5));
    let _ = groups;
}
