//! What is acknowledged stays, and the standing of each op after a push and a pull.

use tarn_cli::store::{Answer, OpState, Store, StoreError};
use tarn_domain::catalogue::{Op, op_text};
use tarn_domain::streams::{Chain, EntityKind, EpochId};

use crate::place::{NOW_MS, Place, foreign, id, lost, note, problem, pulled};

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
    let chain = Chain::EMPTY.then(&op.text, op.accepted);
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
    let chain = room.chain.then(&ninth.text, ninth.accepted);
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
