//! Another history of the stream, and clocks that ran ahead.

use tarn_cli::store::{Answer, HistoryChange, Store, StoreError};
use tarn_domain::catalogue::Op;
use tarn_domain::streams::{At, Chain, Clock, EpochId};

use crate::place::{NOW_MS, Place, foreign, id, note, problem, pulled, room_named};

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
    let chain = ops[..2]
        .iter()
        .zip(1..)
        .map(|(op, seq)| pulled(seq, op))
        .fold(Chain::EMPTY, |chain, p| chain.then(&p.text, p.accepted));
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
    let as_it_was =
        "ALTER TABLE streams DROP COLUMN clock; ALTER TABLE ops DROP COLUMN was; PRAGMA user_version = 1;";
    old.execute_batch(as_it_was).expect("as it was");
    drop(old);
    place.store = Store::open(&path).expect("opens");
    let later = place.write(NOW_MS - 60_000, None, note("after")).expect("recorded");
    assert!(place.op(later).clock > place.op(wrote).clock);
}
