//! The local file: what is acknowledged stays, what is not recorded is not there, and the states it keeps are those that
//! the domain folds from the same ops.

use std::collections::BTreeMap;

use serde_json::json;
use tarn_cli::store::{
    Answer, Answered, HistoryChange, NewOp, NewStream, OpState, Pulled, Store, StoreError, StreamRow,
};
use tarn_domain::catalogue::{Body, Op, op_text, read_op};
use tarn_domain::rooms::ops::{NoteWritten, StockEstablished, StockLost, StockMoved, TankAdded};
use tarn_domain::rooms::words::Cause;
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::state::{EntityState, Memory, RoomText};
use tarn_domain::streams::{
    AccountId, At, Chain, Clock, DeviceId, EntityKind, EpochId, OpId, Received, StockId, StreamId, TankId,
    Withdrawn,
};
use uuid::Uuid;

const NOW_MS: i64 = 1_800_000_000_000;

struct Place {
    folder: tempfile::TempDir,
    store: Store,
    room: StreamRow,
    made: u128,
}

fn id(n: u128) -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(
        1_700_000_000_000,
        &n.to_be_bytes()[6..].try_into().expect("ten bytes"),
    )
    .into_uuid()
}

fn room_named(store: &mut Store, n: u128, name: &str) -> StreamRow {
    let new = NewStream {
        id: StreamId(id(n)),
        kind: "room".into(),
        name: name.into(),
        zone: "UTC".into(),
        rights: "write".into(),
        device: DeviceId(id(2)),
        on_server: false,
    };
    store.write::<_, StoreError>(|work| work.keep_stream(&new)).expect("kept");
    store.stream(new.id).expect("there")
}

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut store = Store::open(&folder.path().join("records.sqlite")).expect("a file");
        let room = room_named(&mut store, 1, "Cellar");
        Self { folder, store, room, made: 1000 }
    }

    fn next(&mut self) -> Uuid {
        self.made += 1;
        id(self.made)
    }

    fn write(&mut self, machine_ms: i64, at: Option<At>, body: Body) -> Result<OpId, StoreError> {
        let op = NewOp { id: OpId(self.next()), at, body };
        let recorded = self.store.write(|work| work.record(&self.room, machine_ms, vec![op]))?;
        Ok(recorded[0].id)
    }

    /// A tank and a stock of ten in it.
    fn stock(&mut self) -> (TankId, StockId) {
        let (tank, stock) = (TankId(self.next()), StockId(self.next()));
        self.write(NOW_MS, None, tank_added(tank)).expect("recorded");
        self.write(NOW_MS, None, established(stock, tank, 10)).expect("recorded");
        (tank, stock)
    }

    fn total(&self, stock: StockId) -> i64 {
        match self.store.state(&self.room, stock.into()).expect("readable") {
            Some(EntityState::Stock(stock)) => stock.total(),
            _ => 0,
        }
    }

    fn text(&self) -> String {
        let mut text = RoomText::default();
        for (entity, state) in self.store.states(&self.room, &[]).expect("readable") {
            text.add(entity, &state);
        }
        text.finish()
    }

    /// What the domain folds from the ops that are here.
    fn folded_anew(&self) -> String {
        let mut room = Memory::default();
        let mut ops = Vec::new();
        self.store
            .each_op::<StoreError>(&self.room, |_, out| {
                let value = serde_json::from_str(&out.text).expect("JSON");
                ops.push((read_op(value).expect("an op").op, None, 0));
                Ok(())
            })
            .expect("readable");
        room.add(ops);
        room.text()
    }

    fn answer(&mut self, id: OpId, answer: Answer) {
        self.store
            .write::<_, StoreError>(|work| work.answer(&self.room, &[Answered { id, answer }]))
            .expect("taken in");
    }

    fn pull(&mut self, first: u64, ops: &[Op], bulk: bool) {
        let room = self.store.stream(self.room.id).expect("there");
        let pulled: Vec<Pulled> = ops.iter().zip(first..).map(|(op, seq)| pulled(seq, op)).collect();
        let chain = pulled.iter().fold(room.chain, |chain, p| chain.then(&p.text));
        self.store
            .write::<_, StoreError>(|work| {
                work.take_in(&room, &pulled, chain, bulk)?;
                work.pulled_all(&room, room.after + u64::try_from(pulled.len()).expect("few"))?;
                work.catch_up(&room)
            })
            .expect("taken in");
    }

    fn state_of(&self, op: OpId) -> OpState {
        self.store.op_by_id(&self.room, op).expect("readable").expect("there").state
    }

    fn op(&self, op: OpId) -> Op {
        self.store.op_by_id(&self.room, op).expect("readable").expect("there").op.expect("known")
    }
}

fn tank_added(tank: TankId) -> Body {
    Body::TankAdded(TankAdded {
        tank,
        name: "A1".into(),
        stand: None,
        shelf: None,
        place: None,
        volume_ml: None,
    })
}

fn rows(n: u32) -> Vec<Row> {
    vec![Row { node: Node::Unassigned, sex: Sex::Unsexed, n: Count::of(n).expect("few"), about: false }]
}

fn established(stock: StockId, tank: TankId, n: u32) -> Body {
    Body::StockEstablished(StockEstablished {
        stock,
        name: Some("Blue".into()),
        keeping: None,
        species: None,
        form: None,
        since: None,
        founders: None,
        rows: rows(n),
        tank: Some(tank),
    })
}

fn lost(stock: StockId, n: u32) -> Body {
    Body::StockLost(StockLost { stock, rows: rows(n), cause: Cause::Unknown, reason: None })
}

fn note(text: &str) -> Body {
    Body::NoteWritten(NoteWritten { stock: None, tank: None, text: text.into() })
}

fn foreign(n: u128, ms: i64, body: Body) -> Op {
    let clock = Clock::at_ms(ms);
    Op { id: OpId(id(n)), device: DeviceId(id(3)), clock, at: clock.at(), body }
}

fn pulled(seq: u64, op: &Op) -> Pulled {
    Pulled {
        seq,
        text: op_text(op),
        by: AccountId(id(9)),
        received: Received(i64::try_from(seq).expect("small")),
        decision: false,
        receipt: format!("{seq:032x}"),
    }
}

fn problem(code: &str) -> serde_json::Value {
    json!({ "type": format!("/problems/{code}"), "title": code, "status": 409 })
}

#[test]
fn a_full_file_takes_nothing_and_keeps_everything() {
    let mut place = Place::new();
    let (_, stock) = place.stock();
    place.store.limit_pages(1).expect("a limit");
    let mut acknowledged = 0;
    let refused = (0..500).find_map(|_| match place.write(NOW_MS, None, lost(stock, 1)) {
        Ok(_) => {
            acknowledged += 1;
            None
        }
        Err(error) => Some(error),
    });
    assert!(matches!(refused, Some(StoreError::Full)), "{refused:?}");
    assert_eq!(place.total(stock), 10 - acknowledged);
    assert_eq!(place.text(), place.folded_anew());
    // and it goes on when there is room again
    place.store.limit_pages(1_000_000).expect("a limit");
    place.write(NOW_MS, None, lost(stock, 1)).expect("recorded");
    assert_eq!(place.total(stock), 9 - acknowledged);
}

#[test]
fn a_read_only_file_lists_and_takes_nothing() {
    let mut place = Place::new();
    let (_, stock) = place.stock();
    let path = place.folder.path().join("records.sqlite");
    place.store = Store::open(&place.folder.path().join("elsewhere.sqlite")).expect("a file");
    let mut permissions = std::fs::metadata(&path).expect("there").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&path, permissions).expect("set");
    place.store = Store::open(&path).expect("opens");
    assert_eq!(place.total(stock), 10);
    let refused = place.write(NOW_MS, None, lost(stock, 1));
    assert!(matches!(refused, Err(StoreError::ReadOnly)), "{refused:?}");
    assert_eq!(place.total(stock), 10);
    assert_eq!(place.store.history(&place.room, None, 9).expect("readable").len(), 2);
}

#[test]
fn a_refused_op_leaves_the_state_and_can_be_dropped() {
    let mut place = Place::new();
    let (tank, stock) = place.stock();
    let gone = place.write(NOW_MS, None, lost(stock, 4)).expect("recorded");
    place.answer(gone, Answer::No(problem("nonsense")));
    assert_eq!((place.total(stock), place.state_of(gone)), (10, OpState::Refused));
    assert_eq!(place.text(), place.folded_anew());
    assert_eq!(place.store.refused().expect("readable").len(), 1);
    assert!(place.store.write::<_, StoreError>(|work| work.drop_refused(gone)).expect("dropped"));
    assert!(place.store.refused().expect("readable").is_empty());
    // a refused maker takes what rests on it along, and nothing is left of the tank
    let maker = place.store.history(&place.room, Some(tank.into()), 9).expect("readable");
    let maker = maker.last().expect("the maker").id;
    place.answer(maker, Answer::No(problem("nonsense")));
    assert_eq!(place.total(stock), 0);
    assert!(place.store.named(&place.room, EntityKind::Tank).expect("readable").is_empty());
    assert_eq!(place.text(), place.folded_anew());
}

#[test]
fn a_waiting_op_wakes_and_an_unknown_one_is_held() {
    let mut place = Place::new();
    let first = place.write(NOW_MS, None, note("one")).expect("recorded");
    let second = place.write(NOW_MS, None, note("two")).expect("recorded");
    place.answer(first, Answer::Waits(problem("missing-reference")));
    place.answer(second, Answer::Unknown(problem("op-unknown")));
    assert!(place.store.outgoing(&place.room, 9).expect("readable").is_empty());
    assert_eq!((place.state_of(first), place.state_of(second)), (OpState::Waiting, OpState::Pending));
    // a pull that brings nothing wakes nothing
    place.pull(1, &[], false);
    assert_eq!(place.state_of(first), OpState::Waiting);
    // one that brings something wakes at once, whether or not the process lives on
    let (room, op) = (place.room.clone(), pulled(1, &foreign(50, NOW_MS, note("another device's"))));
    let chain = Chain::EMPTY.then(&op.text);
    place.store.write::<_, StoreError>(|work| work.take_in(&room, &[op], chain, true)).expect("taken in");
    assert_eq!(place.state_of(first), OpState::Pending);
    assert_eq!(place.store.outgoing(&place.room, 9).expect("readable").len(), 1);
    place
        .store
        .write::<_, StoreError>(|work| work.registered(place.room.id, EpochId(id(5)), 7))
        .expect("noted");
    let newer = place.store.stream(place.room.id).expect("there");
    assert_eq!(place.store.outgoing(&newer, 9).expect("readable").len(), 2);
}

#[test]
fn an_answered_op_that_a_pull_passes_is_pending_again() {
    let mut place = Place::new();
    let (kept, lost) = (place.write(NOW_MS, None, note("kept")), place.write(NOW_MS, None, note("lost")));
    let (kept, lost) = (kept.expect("recorded"), lost.expect("recorded"));
    place.answer(kept, Answer::Seq(1));
    place.answer(lost, Answer::Seq(2));
    let other = foreign(50, NOW_MS, note("another device's"));
    place.pull(1, &[place.op(kept), other], false);
    assert_eq!((place.state_of(kept), place.state_of(lost)), (OpState::Accepted, OpState::Pending));
}

#[test]
fn an_answered_op_above_the_head_is_pending_again() {
    let mut place = Place::new();
    let lost = place.write(NOW_MS, None, note("lost with the disk")).expect("recorded");
    let others: Vec<Op> = (0..10).map(|n| foreign(50 + n, NOW_MS, note("another device's"))).collect();
    place.pull(1, &others[..8], false);
    place.answer(lost, Answer::Seq(12));
    // a page that is not the last one says nothing of what is above it
    let (room, ninth) = (place.store.stream(place.room.id).expect("there"), pulled(9, &others[8]));
    let chain = room.chain.then(&ninth.text);
    place.store.write::<_, StoreError>(|work| work.take_in(&room, &[ninth], chain, false)).expect("taken in");
    assert_eq!(place.state_of(lost), OpState::Answered);
    place.pull(10, &others[9..], false);
    assert_eq!(place.state_of(lost), OpState::Pending);
    let out = place.store.outgoing(&place.room, 9).expect("readable");
    assert_eq!(out.iter().map(|o| o.id).collect::<Vec<_>>(), [lost]);
}

#[test]
fn the_server_s_copy_of_a_taken_id_is_taken() {
    let mut place = Place::new();
    let (tank, stock) = place.stock();
    let mine = place.write(NOW_MS, None, lost(stock, 4)).expect("recorded");
    let theirs = Op { id: mine, ..foreign(0, NOW_MS - 5000, lost(stock, 1)) };
    place.answer(mine, Answer::Taken(op_text(&theirs)));
    assert_eq!((place.total(stock), place.state_of(mine)), (9, OpState::Answered));
    // pulled bytes win as well, whichever way they come in
    for (bulk, n) in [(false, 2), (true, 3)] {
        let theirs = Op { id: mine, ..foreign(0, NOW_MS - 5000, lost(stock, n)) };
        place.pull(u64::from(n), &[theirs], bulk);
        assert_eq!((place.total(stock), place.state_of(mine)), (10 - i64::from(n), OpState::Accepted));
        assert_eq!(place.text(), place.folded_anew());
    }
    assert!(
        place
            .store
            .named(&place.room, EntityKind::Tank)
            .expect("readable")
            .iter()
            .any(|t| t.entity == tank.into())
    );
}

#[test]
fn another_history_makes_what_does_not_stand_pending_with_its_receipt() {
    let mut place = Place::new();
    let ops: Vec<Op> = (0..4).map(|n| foreign(60 + n, NOW_MS, note(&n.to_string()))).collect();
    place.pull(1, &ops, false);
    let change = |common| HistoryChange { epoch: EpochId(id(7)), common };
    let room = place.store.stream(place.room.id).expect("there");
    let back =
        place.store.write::<_, StoreError>(|work| work.change_history(&room, &change(2))).expect("changed");
    let now = place.store.stream(room.id).expect("there");
    let chain = ops[..2].iter().fold(Chain::EMPTY, |chain, op| chain.then(&op_text(op)));
    assert_eq!((back, now.after, now.chain, now.epoch), (2, 2, chain, Some(EpochId(id(7)))));
    let out = place.store.outgoing(&now, 9).expect("readable");
    let receipts: Vec<String> =
        out.iter().filter_map(|o| o.receipt.as_ref()).map(|r| r.mac.clone()).collect();
    assert_eq!(receipts, [format!("{:032x}", 3), format!("{:032x}", 4)]);
    let all =
        place.store.write::<_, StoreError>(|work| work.change_history(&now, &change(0))).expect("changed");
    assert_eq!((all, place.store.stream(room.id).expect("there").after), (2, 0));
}

#[test]
fn clocks_ahead_are_mended_from_the_first_one_on() {
    let mut place = Place::new();
    let good = place.write(NOW_MS, None, note("before")).expect("recorded");
    let ahead_ms = NOW_MS + 3_600_000;
    let typed = Some(At::from_seconds(NOW_MS / 1000 + 3000));
    let first = place.write(ahead_ms, None, note("untyped")).expect("recorded");
    let second = place.write(ahead_ms, typed, note("typed")).expect("recorded");
    let untouched = place.op(good);
    let (now, limit) = (Clock::at_ms(NOW_MS + 1000), Clock::at_ms(NOW_MS + 301_000));
    let mended = place
        .store
        .write::<_, StoreError>(|work| work.mend_clocks(&place.room, now, limit, ahead_ms))
        .expect("mended");
    assert_eq!((mended.ops, mended.correction_ms), (2, 1000 - 3_600_000));
    assert_eq!(place.op(good), untouched);
    let (first, second) = (place.op(first), place.op(second));
    assert!(now < first.clock && first.clock < second.clock && second.clock < limit);
    assert_eq!(first.at, first.clock.at());
    assert_eq!(second.at, second.clock.at());
    // the corrected wall goes on from there, and later ones stay later
    let later = place.write(ahead_ms + 5000, None, note("later")).expect("recorded");
    let later = place.op(later);
    assert!(later.clock > second.clock && later.clock < limit);
    assert_eq!(place.text(), place.folded_anew());
}

#[test]
fn a_mended_clock_is_later_than_all_that_was_pulled() {
    let mut place = Place::new();
    place.pull(1, &[foreign(70, NOW_MS + 200_000, note("another device's"))], false);
    let ahead = place.write(NOW_MS + 3_600_000, None, note("ahead")).expect("recorded");
    let (now, limit) = (Clock::at_ms(NOW_MS), Clock::at_ms(NOW_MS + 300_000));
    place
        .store
        .write::<_, StoreError>(|work| work.mend_clocks(&place.room, now, limit, NOW_MS + 3_600_000))
        .expect("mended");
    let op = place.op(ahead);
    assert!(op.clock > Clock::at_ms(NOW_MS + 200_000) && op.clock < limit);
}

/// The server's wall was a day ahead once: what it accepted then stays where it is, in its own stream.
#[test]
fn a_stream_that_ran_ahead_does_not_take_another_along() {
    let mut place = Place::new();
    let (tomorrow, limit) = (Clock::at_ms(NOW_MS + 86_400_000), Clock::at_ms(NOW_MS + 300_000));
    place.pull(1, &[foreign(70, tomorrow.ms(), note("accepted ahead"))], false);
    let cellar = place.room.clone();
    let attic = room_named(&mut place.store, 4, "Attic");
    place.room = attic.clone();
    let fresh = place.write(NOW_MS, None, note("in the new room")).expect("recorded");
    assert_eq!(place.op(fresh).clock, Clock::at_ms(NOW_MS));
    // and when the device's own wall was ahead, mending the one leaves the other alone
    let ahead = place.write(tomorrow.ms(), None, note("ahead")).expect("recorded");
    let waits = place.write(tomorrow.ms(), None, note("ahead, and waits")).expect("recorded");
    place.answer(waits, Answer::Waits(problem("missing-reference")));
    let refused = place.write(tomorrow.ms(), None, note("ahead, and refused")).expect("recorded");
    place.answer(refused, Answer::No(problem("nonsense")));
    place.room = cellar.clone();
    let there = place.write(tomorrow.ms(), None, note("in the old room")).expect("recorded");
    let untouched = place.op(there);
    assert!(untouched.clock > tomorrow);
    let mended = place
        .store
        .write::<_, StoreError>(|work| work.mend_clocks(&attic, Clock::at_ms(NOW_MS), limit, tomorrow.ms()))
        .expect("mended");
    assert_eq!((mended.ops, place.op(there)), (2, untouched.clone()));
    place.room = attic;
    let later = place.write(tomorrow.ms(), None, note("later")).expect("recorded");
    let clocks = [fresh, ahead, waits, later].map(|op| place.op(op).clock);
    assert!(clocks.is_sorted_by(|a, b| a < b) && clocks[3] < limit, "{clocks:?}");
    // in the old room a later entry is still later than what was accepted there
    place.room = cellar;
    let next = place.write(tomorrow.ms(), None, note("next")).expect("recorded");
    assert!(place.op(next).clock > untouched.clock);
}

#[test]
fn an_older_file_gets_a_clock_for_each_stream() {
    let mut place = Place::new();
    let wrote = place.write(NOW_MS, None, note("before")).expect("recorded");
    let path = place.folder.path().join("records.sqlite");
    let old = rusqlite::Connection::open(&path).expect("opens");
    old.execute_batch("ALTER TABLE streams DROP COLUMN clock; PRAGMA user_version = 1;").expect("as it was");
    drop(old);
    place.store = Store::open(&path).expect("opens");
    let later = place.write(NOW_MS - 60_000, None, note("after")).expect("recorded");
    assert!(place.op(later).clock > place.op(wrote).clock);
}

#[test]
fn a_kind_of_tomorrow_is_kept_and_counted() {
    let mut place = Place::new();
    let mut text: serde_json::Value =
        serde_json::from_str(&op_text(&foreign(80, NOW_MS, note("x")))).expect("JSON");
    text["body"] = json!({ "op": "fish.sang", "song": 3 });
    let text = tarn_domain::streams::canonical::text(&text);
    let pulled = Pulled { text: text.clone(), ..pulled(1, &foreign(80, NOW_MS, note("x"))) };
    let room = place.room.clone();
    place
        .store
        .write::<_, StoreError>(|work| work.take_in(&room, &[pulled], Chain::EMPTY.then(&text), false))
        .expect("taken in");
    assert_eq!(place.store.op_counts(&room).expect("readable"), (1, 1));
    assert_eq!(place.store.history(&room, None, 9).expect("readable")[0].kind, "fish.sang");
}

/// Whatever comes in whichever order and way, the file's states are those of the domain.
#[test]
fn states_are_those_that_the_domain_folds() {
    for seed in 0..16u64 {
        let mut dice = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        let mut roll = |n: u64| {
            dice ^= dice << 13;
            dice ^= dice >> 7;
            dice ^= dice << 17;
            dice % n
        };
        let mut place = Place::new();
        let (mut tanks, mut stocks, mut written): (Vec<TankId>, Vec<StockId>, Vec<OpId>) = Default::default();
        let mut server: BTreeMap<u64, Op> = BTreeMap::new();
        for step in 0..30u64 {
            let ms = NOW_MS + i64::try_from(step).expect("small") * 60_000;
            let back = (roll(3) == 0)
                .then(|| At::from_seconds(ms / 1000 - 90_000 + i64::try_from(roll(90_000)).expect("small")));
            let pick = |all: &[StockId], n: u64| {
                all.get(usize::try_from(n).expect("small") % all.len().max(1)).copied()
            };
            let body = match roll(8) {
                0 => {
                    tanks.push(TankId(place.next()));
                    tank_added(tanks[tanks.len() - 1])
                }
                1 | 2 if !tanks.is_empty() => {
                    stocks.push(StockId(place.next()));
                    established(
                        stocks[stocks.len() - 1],
                        tanks[usize::try_from(roll(99)).expect("small") % tanks.len()],
                        9,
                    )
                }
                3 | 4 if !stocks.is_empty() => lost(pick(&stocks, roll(99)).expect("one"), 2),
                5 if !stocks.is_empty() => {
                    let to = tanks[usize::try_from(roll(99)).expect("small") % tanks.len()];
                    Body::StockMoved(StockMoved {
                        stock: pick(&stocks, roll(99)).expect("one"),
                        from: tanks.first().copied(),
                        to: Some(to),
                    })
                }
                6 if !written.is_empty() => {
                    let entry = written[usize::try_from(roll(99)).expect("small") % written.len()];
                    Body::Withdrawn(Withdrawn { entry, why: None })
                }
                _ => note("…"),
            };
            let wrote = place.write(ms, back, body).expect("recorded");
            written.push(wrote);
            match roll(6) {
                0 => place.answer(wrote, Answer::No(problem("nonsense"))),
                1 | 2 => {
                    let seq = u64::try_from(server.len()).expect("small") + 1;
                    let op = place.op(wrote);
                    server.insert(seq, op.clone());
                    place.answer(wrote, Answer::Seq(seq));
                    place.pull(seq, &[op], roll(2) == 0);
                }
                _ => {}
            }
            assert_eq!(place.text(), place.folded_anew(), "seed {seed}, step {step}");
        }
    }
}
