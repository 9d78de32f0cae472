//! Ways round the sign-off: what it frees, and what takes it back.

use tarn_domain::quarantine::{BlockerKind, UnitState};
use tarn_domain::rooms::words::Cause;

use crate::room::{A, C, D, HOME, MORE, NEW, NEXT, Room, day, hour};

/// Fish from a shop in C, signed off on day 31.
fn signed() -> (Room, tarn_domain::streams::OpId) {
    let mut room = Room::with_new_fish();
    let sign_off = room.on(day(31)).cleared(&[NEW]);
    (room, sign_off)
}

#[test]
fn a_sign_off_frees_the_fish_and_the_water_they_are_in() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(28)).moved(NEW, C, D);
    room.on(day(31)).cleared(&[NEW]);
    assert!(room.is_free(day(32), NEW));
    room.on(day(32)).moved(HOME, A, D);
    assert!(room.is_free(day(33), HOME));
    // Not the water that they left before.
    room.on(day(33)).moved(HOME, D, C);
    assert_eq!(room.due(day(34), HOME), Some(63));
}

#[test]
fn a_loss_told_later_recalls_it() {
    let (mut room, sign_off) = signed();
    assert!(room.is_free(day(32), NEW));
    room.on(day(25)).known(day(40)).lost(NEW, 1, Cause::Unknown);
    let quarantine = room.quarantine(day(41));
    assert_eq!(quarantine.recalled.keys().copied().collect::<Vec<_>>(), [sign_off]);
    let unit = room.unit(day(41), NEW);
    assert_eq!((unit.state, unit.recalled, unit.due), (UnitState::Recalled, Some(sign_off), Some(day(55))));
}

#[test]
fn what_follows_does_not_undo_a_recall() {
    let (mut room, sign_off) = signed();
    let loss = room.on(day(25)).known(day(40)).lost(NEW, 1, Cause::Unknown);
    room.on(day(41)).withdrawn(loss);
    assert!(room.quarantine(day(42)).recalled.contains_key(&sign_off));
    assert!(!room.is_free(day(42), NEW));
    // Nor if it is taken back at once.
    let (mut room, sign_off) = signed();
    let loss = room.on(day(25)).known(day(40)).lost(NEW, 1, Cause::Unknown);
    room.on(day(40)).known(day(40)).withdrawn(loss);
    assert!(room.quarantine(day(42)).recalled.contains_key(&sign_off));
    // What was written down before the decision and taken back after it counts as well.
    let mut room = Room::with_new_fish();
    let restart = room.on(day(1)).sign(NEW);
    room.on(day(2)).withdrawn(restart);
    room.on(day(30)).waived(BlockerKind::EvidenceWithdrawn, restart);
    let sign_off = room.on(day(31)).cleared(&[NEW]);
    room.on(day(5)).known(day(40)).look(&[C]);
    assert!(!room.quarantine(day(42)).recalled.contains_key(&sign_off));
}

#[test]
fn only_a_new_sign_off_ends_a_recall() {
    let (mut room, _) = signed();
    let loss = room.on(day(25)).known(day(40)).lost(NEW, 1, Cause::Unknown);
    assert!(!room.is_ready(day(54), NEW));
    room.on(day(54)).waived(BlockerKind::RecordedLate, loss);
    assert!(!room.is_ready(day(54), NEW) && room.is_ready(hour(55, 1), NEW));
    room.on(day(56)).cleared(&[NEW]);
    assert!(room.is_free(day(57), NEW));
}

#[test]
fn a_late_entry_that_changes_nothing_recalls_nothing() {
    let (mut room, _) = signed();
    room.on(day(25)).known(day(40)).look(&[C]);
    assert!(room.is_free(day(41), NEW));
    room.on(day(33)).known(day(42)).lost(NEW, 1, Cause::Unknown);
    assert!(room.is_free(day(43), NEW), "that was after it");
}

#[test]
fn a_member_nobody_knew_of_recalls_it() {
    let (mut room, sign_off) = signed();
    room.on(hour(30, 12)).known(day(40)).young(MORE, 10, C);
    assert!(room.quarantine(day(41)).recalled.contains_key(&sign_off));
    let (mut room, sign_off) = signed();
    room.on(day(30)).known(day(40)).lost(NEW, 10, Cause::OldAge);
    assert!(room.quarantine(day(41)).recalled.contains_key(&sign_off), "and one that was not there");
}

#[test]
fn whom_the_recalled_met_since_is_breached() {
    let (mut room, _) = signed();
    room.on(day(-80)).home(HOME, 10, A);
    room.on(day(33)).moved(NEW, C, A);
    assert!(room.is_free(day(34), HOME));
    room.on(day(25)).known(day(40)).lost(NEW, 1, Cause::Unknown);
    assert_eq!(room.with(day(41), HOME), [HOME, NEW]);
    assert_eq!(room.due(day(41), HOME), Some(63));
}

#[test]
fn a_sign_off_that_rests_on_a_recalled_one_falls_with_it() {
    let (mut room, first) = signed();
    room.on(day(33)).moved(NEW, C, D);
    room.on(day(33)).came_in(NEXT, 10, D);
    let second = room.on(day(64)).cleared(&[NEW, NEXT]);
    room.looks(60..80, &[C, D]);
    assert!(room.is_free(day(65), NEXT));
    // Fish that were with the first for an hour, and with nobody since.
    room.on(hour(30, 0)).known(day(70)).sign(NEW);
    let recalled = room.quarantine(day(71)).recalled;
    assert!(
        recalled.contains_key(&first) && !recalled.contains_key(&second),
        "they did their days with NEXT"
    );
}

#[test]
fn an_entry_that_was_known_does_not_recall() {
    let mut room = Room::with_new_fish();
    let late = room.on(day(2)).known(day(20)).look(&[C]);
    room.on(day(30)).waived(BlockerKind::RecordedLate, late);
    room.on(day(31)).cleared(&[NEW]);
    room.on(day(32)).look(&[C]);
    assert!(room.is_free(day(33), NEW));
}

/// With the first one counting, the second was good: home fish were met on day 40, and looked at since. Without it, fish
/// nobody had looked at for nine days were met.
#[test]
fn one_push_recalls_both_whatever_came_first() {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(20)).came_in(NEXT, 10, D);
    room.looks(0..31, &[C]);
    room.looks(20..80, &[D]);
    let first = room.on(day(31)).cleared(&[NEW]);
    room.on(hour(40, 0)).moved(NEW, C, D);
    room.on(hour(40, 1)).moved(NEW, D, C);
    let second = room.on(day(71)).cleared(&[NEXT]);
    assert!(room.is_free(day(72), NEXT));
    room.on(hour(30, 12)).known(day(75)).sign(NEW);
    for _ in 0..2 {
        let recalled = room.quarantine(day(76)).recalled;
        assert_eq!(recalled.into_keys().collect::<Vec<_>>(), [first, second]);
        room.ops.reverse();
        room = Room::of(room.ops);
    }
}
