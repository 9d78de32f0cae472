//! Spawnings as keepers write them down: which steps count, what comes of them, who may be a parent.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use tarn_domain::catalogue::read_op;
use tarn_domain::lineage::{Candidates, Search, SpawningState, Stage, WhyFailed, Window, candidates};
use tarn_domain::rooms::{Sex, StockState};
use tarn_domain::state::{EntityState, Memory, view};
use tarn_domain::streams::{At, Days, Entity, NodeId, OpId, SpawningId, StockId, TankId};
use uuid::Uuid;

/// A room that is written in days of March 2026.
#[derive(Default)]
struct Room {
    memory: Memory,
    written: usize,
}

fn id(n: u128) -> Uuid {
    Uuid::from_u128(0x0190_a1b2_0000_7000_8000_0000_0000_0000 | n)
}

fn day(n: u32) -> At {
    format!("2026-03-{n:02}T08:00:00Z").parse().expect("a day")
}

const TANK: u128 = 0x10;
const OTHER: u128 = 0x11;
const SPAWNING: u128 = 0x20;
const BROOD: u128 = 0x30;
const FOUNDERS: u128 = 0x31;

impl Room {
    fn new() -> Self {
        let mut room = Self::default();
        for (tank, name) in [(TANK, "A1"), (OTHER, "B2")] {
            room.write(1, json!({"op": "tank.added", "tank": id(tank), "name": name}));
        }
        room
    }

    fn write(&mut self, on: u32, body: Value) -> OpId {
        self.written += 1;
        let n = self.written;
        let op = json!({
            "id": id(0x1000 + n as u128), "device": id(1), "at": day(on),
            "clock": format!("2026-03-30T00:00:00.{n:03}Z/0000"), "body": body,
        });
        let op = read_op(op.clone()).unwrap_or_else(|e| panic!("{e}: {op}")).op;
        let id = op.id;
        self.memory.add([(op, None, n as u64)]);
        id
    }

    /// So many males, females and unsexed that were here before or came in.
    fn stock(&mut self, on: u32, stock: u128, came: bool, tank: u128, n: [u32; 3]) {
        let rows: Vec<Value> = ["male", "female", "unsexed"]
            .iter()
            .zip(n)
            .filter(|(_, n)| *n > 0)
            .map(|(sex, n)| json!({"node": id(FOUNDERS + stock), "sex": sex, "n": n}))
            .collect();
        let founders = json!({"node": id(FOUNDERS + stock), "origin": "bought", "related": "not_known"});
        let mut body = json!({"op": "stock.established", "stock": id(stock), "founders": founders, "rows": rows,
            "tank": id(tank)});
        if came {
            body["op"] = json!("stock.came_in");
            body["from"] = json!("shop");
        }
        self.write(on, body);
    }

    fn moved(&mut self, on: u32, stock: u128, from: u128, to: u128) {
        self.write(on, json!({"op": "stock.moved", "stock": id(stock), "from": id(from), "to": id(to)}));
    }

    fn eggs(&mut self, on: u32, stock: u128, n: u32, first: bool) -> OpId {
        let mut body = json!({"op": "eggs.collected", "spawning": id(SPAWNING), "brood": id(BROOD),
            "window": {"from": day(on), "to": day(on)}, "stock": id(stock), "n": n});
        if first {
            body["new"] = json!({"code": "P-1", "name": {"species": "Danio pallidus"}});
        }
        self.write(on, body)
    }

    fn spawning(&self) -> SpawningState {
        match self.memory.state(SpawningId(id(SPAWNING)).into()).map(|s| &**s) {
            Some(EntityState::Spawning(s)) => (**s).clone(),
            other => panic!("no spawning: {other:?}"),
        }
    }

    fn state(&self, stock: u128) -> StockState {
        match self.memory.state(StockId(id(stock)).into()).map(|s| &**s) {
            Some(EntityState::Stock(s)) => (**s).clone(),
            other => panic!("no stock: {other:?}"),
        }
    }

    fn parents(&self, (from, to): (u32, u32), sperm: u16, virgin: &[u128]) -> Candidates {
        let states = view(self.memory.states());
        candidates(&Search {
            stocks: &states.stocks,
            tank: TankId(id(TANK)),
            window: Window { from: day(from), to: day(to) },
            sperm: Days(sperm),
            virgin: &virgin.iter().map(|stock| StockId(id(*stock))).collect::<BTreeSet<_>>(),
        })
    }
}

/// (stock, how many, only by kept sperm) of a side.
fn told(side: &[tarn_domain::lineage::Candidate]) -> Vec<(u128, u32, bool)> {
    let short = |stock: StockId| stock.0.as_u128() & 0xffff;
    side.iter().map(|c| (short(c.stock), c.n, c.last_together.is_some())).collect()
}

#[test]
fn any_step_may_be_the_first_that_is_known() {
    let steps = [
        (json!({"op": "pair.set_up", "spawning": id(SPAWNING)}), Some(Stage::SetUp)),
        (json!({"op": "spawn.seen", "spawning": id(SPAWNING)}), Some(Stage::Spawned)),
        (json!({"op": "drop.seen", "spawning": id(SPAWNING)}), Some(Stage::Young)),
        (json!({"op": "eggs.checked", "spawning": id(SPAWNING), "laid": 90}), None),
        (json!({"op": "young.swam", "spawning": id(SPAWNING)}), Some(Stage::Swimming)),
        (json!({"op": "spawning.failed", "spawning": id(SPAWNING), "why": "fungus"}), None),
    ];
    for (first, stage) in steps {
        let mut room = Room::new();
        room.write(3, first);
        assert_eq!(room.spawning().stage(), stage);
        assert!(room.spawning().is_known() && room.spawning().findings.is_empty());
    }
}

#[test]
fn a_step_that_is_taken_back_takes_no_other_with_it() {
    let mut room = Room::new();
    let set_up = room.write(2, json!({"op": "pair.set_up", "spawning": id(SPAWNING), "tank": id(TANK)}));
    room.write(5, json!({"op": "spawn.seen", "spawning": id(SPAWNING)}));
    room.eggs(6, 0x40, 120, true);
    room.write(7, json!({"op": "op.withdrawn", "entry": set_up}));
    let spawning = room.spawning();
    assert_eq!(spawning.steps.len(), 2);
    assert_eq!((spawning.stage(), spawning.tank), (Some(Stage::Eggs), None));
    assert_eq!(room.state(0x40).numbers.spread().eggs, 120);
}

#[test]
fn daily_picks_are_one_brood_and_a_stock_each() {
    let mut room = Room::new();
    let first = room.eggs(2, 0x40, 14, true);
    room.eggs(3, 0x41, 9, false);
    room.eggs(5, 0x42, 11, false);
    let spawning = room.spawning();
    assert_eq!(spawning.eggs(), Some(34));
    assert_eq!(spawning.broods, BTreeSet::from([NodeId(id(BROOD))]));
    assert_eq!(spawning.stocks.len(), 3);
    assert_eq!(spawning.window, Some(Window { from: day(2), to: day(5) }));
    let brood = |room: &Room| match room.memory.state(Entity::from(NodeId(id(BROOD)))).map(|s| &**s) {
        Some(EntityState::Brood(b)) => (**b).clone(),
        other => panic!("no brood: {other:?}"),
    };
    assert_eq!(brood(&room).window, Some(Window { from: day(2), to: day(5) }));
    assert_eq!(brood(&room).code.as_deref(), Some("P-1"));
    // Without the entry that began the brood the later picks rest on nothing.
    room.write(6, json!({"op": "op.withdrawn", "entry": first}));
    assert_eq!(brood(&room).made, None);
    assert!(!room.state(0x41).findings.is_empty());
}

#[test]
fn eggs_hatch_into_young_and_those_that_do_not_are_lost() {
    let mut room = Room::new();
    room.eggs(2, 0x40, 100, true);
    room.write(3, json!({"op": "eggs.checked", "spawning": id(SPAWNING), "laid": 110, "fungused": 12}));
    let lost = json!([{"node": id(BROOD), "sex": "eggs", "n": 12}]);
    room.write(3, json!({"op": "stock.lost", "stock": id(0x40), "rows": lost, "cause": "eggs_failed"}));
    let hatched = json!([{"node": id(BROOD), "n": 80}]);
    room.write(
        5,
        json!({"op": "eggs.hatched", "spawning": id(SPAWNING), "stock": id(0x40), "rows": hatched}),
    );
    let (stock, spawning) = (room.state(0x40), room.spawning());
    let spread = stock.numbers.spread();
    assert_eq!((spread.eggs, spread.unsexed, stock.total()), (8, 80, 88));
    assert_eq!((spawning.eggs(), spawning.young(), spawning.stage()), (Some(110), 80, Some(Stage::Young)));
}

#[test]
fn a_failed_spawning_goes_on_when_something_is_found_after_all() {
    let mut room = Room::new();
    room.write(2, json!({"op": "spawn.seen", "spawning": id(SPAWNING)}));
    room.write(4, json!({"op": "spawning.failed", "spawning": id(SPAWNING), "why": "eaten"}));
    assert_eq!(room.spawning().failed(), Some(WhyFailed::Eaten));
    // A look that says nothing of an end does not undo it.
    room.write(5, json!({"op": "eggs.checked", "spawning": id(SPAWNING), "fungused": 0}));
    assert_eq!(room.spawning().failed(), Some(WhyFailed::Eaten));
    let rows = json!([{"node": id(BROOD), "sex": "unsexed", "n": 3}]);
    room.write(
        9,
        json!({"op": "young.found", "spawning": id(SPAWNING), "brood": id(BROOD), "code": "P-1", "name": {},
            "stock": id(0x40), "rows": rows, "tank": id(TANK)}),
    );
    assert_eq!((room.spawning().failed(), room.spawning().young()), (None, 3));
}

#[test]
fn a_pair_with_nothing_for_so_many_days_is_told() {
    let mut room = Room::new();
    room.write(2, json!({"op": "pair.set_up", "spawning": id(SPAWNING)}));
    let nothing = |room: &Room, now: u32| room.spawning().nothing_for(Days(10), day(now));
    assert_eq!(nothing(&room, 11), None);
    assert_eq!(nothing(&room, 12), Some(day(2)));
    room.write(12, json!({"op": "spawn.seen", "spawning": id(SPAWNING)}));
    assert_eq!(nothing(&room, 28), None);
}

#[test]
fn every_male_of_a_colony_that_was_there_may_be_the_father() {
    let mut room = Room::new();
    room.stock(1, 0x50, false, TANK, [4, 6, 0]);
    // One that left the tank before, one that came after, one in the next tank.
    room.stock(1, 0x51, false, TANK, [1, 0, 0]);
    room.moved(9, 0x51, TANK, OTHER);
    room.stock(1, 0x52, false, OTHER, [1, 0, 0]);
    room.moved(15, 0x52, OTHER, TANK);
    room.stock(1, 0x53, false, OTHER, [2, 2, 0]);
    let found = room.parents((10, 14), 0, &[]);
    assert_eq!((told(&found.sires), told(&found.dams)), (vec![(0x50, 4, false)], vec![(0x50, 6, false)]));
    assert_eq!(found.mated, []);
    // Both ends of the window belong to it.
    let found = room.parents((8, 15), 0, &[]);
    let sires = vec![(0x50, 4, false), (0x51, 1, false), (0x52, 1, false)];
    assert_eq!(told(&found.sires), sires);
}

#[test]
fn fish_of_no_known_sex_count_only_where_none_is_known() {
    let mut room = Room::new();
    room.stock(1, 0x50, false, TANK, [0, 0, 12]);
    room.stock(1, 0x51, false, TANK, [2, 1, 5]);
    let found = room.parents((10, 14), 0, &[]);
    assert_eq!(told(&found.sires), [(0x50, 12, false), (0x51, 2, false)]);
    assert_eq!(told(&found.dams), [(0x50, 12, false), (0x51, 1, false)]);
    assert_eq!(room.state(0x51).numbers.get((room.node(0x51), Sex::Unsexed)), 5);
}

impl Room {
    fn node(&self, stock: u128) -> tarn_domain::rooms::Node {
        tarn_domain::rooms::Node::Of(NodeId(id(FOUNDERS + stock)))
    }
}

#[test]
fn the_young_are_not_their_own_parents() {
    let mut room = Room::new();
    room.stock(1, 0x50, false, TANK, [1, 1, 0]);
    let found = |on: u32, brood: u128, stock: u128| {
        let rows = json!([{"node": id(brood), "sex": "unsexed", "n": 20}]);
        (
            on,
            json!({"op": "young.found", "brood": id(brood), "code": "Y", "name": {}, "stock": id(stock),
                "rows": rows, "tank": id(TANK)}),
        )
    };
    for (on, body) in [found(2, BROOD, 0x40), found(15, BROOD + 9, 0x41)] {
        room.write(on, body);
    }
    let dams = |room: &Room, on: u32| told(&room.parents((on, on), 0, &[]).dams);
    assert_eq!(dams(&room, 15), [(0x50, 1, false)]);
    // Not by kept sperm either.
    assert_eq!(told(&room.parents((15, 15), 60, &[]).sires), [(0x50, 1, false)]);
    // From fourteen days on they may be, unless they are being raised.
    assert_eq!(dams(&room, 16), [(0x40, 20, false), (0x50, 1, false)]);
    room.write(16, json!({"op": "stock.described", "stock": id(0x40), "keeping": "grow_out"}));
    assert_eq!(dams(&room, 16), [(0x50, 1, false)]);
}

/// That female livebearers keep sperm for months: common practice, no source.
#[test]
fn a_male_that_a_female_met_before_may_be_the_father_while_sperm_keeps() {
    let mut room = Room::new();
    room.stock(1, 0x50, false, OTHER, [0, 3, 0]);
    room.stock(1, 0x51, false, OTHER, [2, 0, 0]);
    room.moved(6, 0x50, OTHER, TANK);
    assert_eq!(told(&room.parents((20, 20), 0, &[]).sires), []);
    assert_eq!(told(&room.parents((20, 20), 13, &[]).sires), []);
    assert_eq!(told(&room.parents((20, 20), 15, &[]).sires), [(0x51, 2, true)]);
}

#[test]
fn what_a_female_met_before_she_was_set_apart_counts_too() {
    let mut room = Room::new();
    room.stock(4, 0x50, true, OTHER, [3, 2, 0]);
    let rows = json!([{"node": id(FOUNDERS + 0x50), "sex": "female", "n": 1}]);
    room.write(
        10,
        json!({"op": "stock.split", "stock": id(0x50), "new": id(0x51), "rows": rows, "tank": id(TANK)}),
    );
    let found = room.parents((20, 21), 60, &[]);
    assert_eq!((told(&found.sires), told(&found.dams)), (vec![(0x50, 3, true)], vec![(0x51, 1, false)]));
    assert_eq!(found.mated.iter().map(|m| m.came).collect::<Vec<_>>(), [day(4)]);
}

#[test]
fn a_female_that_came_in_may_have_been_mated_unless_she_is_virgin() {
    let mut room = Room::new();
    room.stock(4, 0x50, true, TANK, [0, 2, 0]);
    // Here all along: whom they met is written down.
    room.stock(1, 0x51, false, TANK, [1, 1, 0]);
    let mated = |found: &Candidates| found.mated.iter().map(|m| m.came).collect::<Vec<_>>();
    assert_eq!(mated(&room.parents((20, 21), 60, &[])), [day(4)]);
    assert_eq!(mated(&room.parents((20, 21), 60, &[0x50])), []);
    // Too long ago, or a species that keeps none.
    assert_eq!(mated(&room.parents((20, 21), 15, &[])), []);
    assert_eq!(mated(&room.parents((20, 21), 0, &[])), []);
}
