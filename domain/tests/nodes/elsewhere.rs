//! Ancestries that come from another server, and parents as they may be told.

use serde_json::{Value, json};
use tarn_domain::lineage::{Ancestor, BadParents, Foreign, Kin, Parents, from_elsewhere};
use tarn_domain::streams::NodeId;

use crate::dice::{Dice, cases};
use crate::ledger::id;

const FAR: &str = "https://fish.example";
const THIRD: &str = "https://third.example";

fn copies(value: Value) -> Vec<Ancestor> {
    serde_json::from_value(value).expect("an ancestry")
}

/// A brood of a group of breeders of founders; the breeders' node came to that server from a third.
fn theirs() -> Vec<Ancestor> {
    let named_by_third = Foreign { issuer: THIRD.into(), id: id(0x77) };
    copies(json!([
        {"node": id(1), "is": {"brood": {"code": "A", "sires": {"of": [{"node": id(2), "n": 2, "weight": 400},
            {"node": named_by_third.node(), "n": 3, "weight": 600}], "draw": "one"}}}},
        {"node": id(2), "is": {"breeders": {"of": id(3), "sex": "male", "n": 2}}},
        {"node": named_by_third.node(), "foreign": named_by_third, "is": {"breeders": {"of": "unassigned",
            "sex": "male", "n": 3}}},
        {"node": id(3), "is": {"founders": {"origin": "wild", "related": "siblings"}}},
    ]))
}

#[test]
fn an_ancestry_from_elsewhere_keeps_its_shape_under_names_that_nothing_here_has() {
    let here = from_elsewhere(theirs(), FAR);
    let [brood, males, thirds, founders] = here.as_slice() else { panic!("{here:?}") };
    assert_eq!(brood.before(), [males.node, thirds.node]);
    assert_eq!(males.before(), [founders.node]);
    assert!(theirs().iter().all(|a| a.node != brood.node && a.node != males.node && a.node != founders.node));
    assert_eq!(brood.foreign, Some(Foreign { issuer: FAR.into(), id: id(1) }));
    assert_eq!(brood.foreign.as_ref().map(Foreign::node), Some(brood.node));
    // what that server had from a third keeps the name that the third gave it
    assert_eq!(thirds.foreign, Some(Foreign { issuer: THIRD.into(), id: id(0x77) }));
    assert_eq!(thirds.node, theirs()[2].node);
    // numbers and weights are as they were
    let Kin::Brood(copy) = &brood.is else { panic!("a brood") };
    let shares = copy.sires.as_ref().expect("sires").of.iter().map(|share| (share.n, share.weight));
    assert_eq!(shares.collect::<Vec<_>>(), [(2, Some(400)), (3, Some(600))]);
    // what comes a second time, or by way of another, is the same
    assert_eq!(from_elsewhere(here.clone(), "https://last.example"), here);
    let slash = from_elsewhere(theirs(), "https://fish.example/");
    assert_eq!(
        slash.iter().map(|a| a.node).collect::<Vec<_>>(),
        here.iter().map(|a| a.node).collect::<Vec<_>>()
    );
}

/// UUIDv5 (RFC 9562, section 5.5) in the namespace of addresses (its section 6.6), of the issuer, then of its id.
#[test]
fn a_name_from_elsewhere_is_made_of_issuer_and_id_alone() {
    let namespace: uuid::Uuid = "6ba7b811-9dad-11d1-80b4-00c04fd430c8".parse().expect("an id");
    let by_hand = uuid::Uuid::new_v5(&uuid::Uuid::new_v5(&namespace, FAR.as_bytes()), id(5).as_bytes());
    let far = |issuer: &str| Foreign { issuer: issuer.into(), id: id(5) }.node();
    assert_eq!(far(FAR), NodeId(by_hand));
    assert_ne!(far(FAR), far(THIRD));
}

/// Weights of all or of none, each at least 1, 1000 in all; fish in every group; somebody at all.
#[test]
fn parents_are_understood_or_it_is_said_what_is_wrong() {
    let side = |of: Value| -> Parents {
        serde_json::from_value(json!({"of": of, "draw": "many"})).expect("parents")
    };
    let one = |n: u32, weight: Value| {
        let mut one = json!({"stock": id(1), "node": "unassigned", "n": n});
        if !weight.is_null() {
            one["weight"] = weight;
        }
        one
    };
    assert_eq!(side(json!([])).check(), Err(BadParents::Nobody));
    assert_eq!(side(json!([one(2, Value::Null), one(0, Value::Null)])).check(), Err(BadParents::NoFish));
    assert_eq!(side(json!([one(2, Value::Null), one(1, Value::Null)])).check(), Ok(()));
    assert_eq!(side(json!([one(2, json!(999)), one(1, json!(1))])).check(), Ok(()));
    for bad in [
        [json!(1000), Value::Null],
        [json!(1000), json!(0)],
        [json!(500), json!(501)],
        [json!(500), json!(499)],
    ] {
        let [a, b] = bad;
        assert_eq!(side(json!([one(1, a), one(1, b)])).check(), Err(BadParents::Weights));
    }
}

/// However the nodes of two servers are numbered, theirs never meet ours or each other's.
#[test]
fn names_of_two_servers_never_meet() {
    for seed in 0..cases(200) {
        let mut dice = Dice::of(seed);
        let many = 1 + dice.below(6);
        let some = |dice: &mut Dice| {
            let all = (0..many).map(|n| {
                let of = id(dice.below(many) as u128);
                json!({"node": id(n as u128), "is": {"breeders": {"of": of, "sex": "female", "n": 1}}})
            });
            copies(all.collect())
        };
        let ours = some(&mut dice);
        let (far, third) = (from_elsewhere(some(&mut dice), FAR), from_elsewhere(ours.clone(), THIRD));
        let mut names: Vec<NodeId> = [&ours, &far, &third].into_iter().flatten().map(|a| a.node).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), 3 * many);
        for (place, a) in ours.iter().enumerate() {
            let at = |all: &[Ancestor], node: &NodeId| all.iter().position(|a| a.node == *node);
            assert_eq!(at(&third, &third[place].before()[0]), at(&ours, &a.before()[0]), "the same shape");
        }
    }
}
