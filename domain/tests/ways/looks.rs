//! Ways not to look: in one tank only, written down long after, a gap that somebody else is to have.

use tarn_domain::quarantine::BlockerKind;
use tarn_domain::rooms::words::Cause;

use crate::room::{A, B, C, D, HOME, NEW, NEXT, PART, Room, TANKS, X, day, hour};

const GAP: [BlockerKind; 1] = [BlockerKind::ObservationGap];

/// Fish from a shop in C since day 0; looked at daily from day to day (half-open).
fn looked_at(days: &[(i64, i64)]) -> Room {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, C);
    for &(from, until) in days {
        room.looks(from..until, &TANKS);
    }
    room
}

#[test]
fn seven_days_without_a_look_are_the_most() {
    let mut room = looked_at(&[]);
    for n in [7, 14, 21, 28] {
        room.on(day(n)).look(&[C]);
    }
    assert!(room.is_ready(day(30), NEW));
    assert_eq!(room.blockers(hour(35, 1), NEW), GAP, "nor since the last one");
    let mut room = looked_at(&[(8, 40)]);
    assert_eq!(room.blockers(day(30), NEW), GAP, "nor before the first one");
    assert_eq!(room.unit(day(30), NEW).gaps.len(), 1);
    room.on(day(40)).look(&TANKS);
}

#[test]
fn a_look_in_one_tank_is_none_in_the_others() {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, A);
    room.on(day(0)).came_in(NEXT, 10, B);
    room.looks(0..40, &[A]);
    assert_eq!(room.blockers(day(30), NEW), GAP);
    assert!(room.unit(day(30), NEW).gaps.iter().all(|gap| gap.stock == NEXT));
}

#[test]
fn a_look_at_a_tank_is_none_at_the_box_in_it() {
    let mut room = Room::new();
    room.on(day(-1)).hung(X, Some(A));
    room.on(day(0)).came_in(NEW, 10, X);
    room.looks(0..40, &[A]);
    assert_eq!(room.blockers(day(30), NEW), GAP);
}

#[test]
fn a_look_written_down_late_is_listed() {
    let mut room = looked_at(&[(0, 5), (16, 40)]);
    assert_eq!(room.blockers(day(30), NEW), GAP);
    let look = room.on(day(10)).known(day(20)).look(&[C]);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::RecordedLate]);
    assert_eq!(room.listed(day(30), NEW), [look]);
}

/// The tank is the unit's water no longer, but the look was at its fish.
#[test]
fn a_late_look_in_a_tank_they_have_left_since_is_listed() {
    let mut room = looked_at(&[(0, 5), (16, 40)]);
    room.on(day(18)).moved(NEW, C, D);
    let look = room.on(day(10)).known(day(20)).look(&[C]);
    assert_eq!(room.listed(day(30), NEW), [look]);
    // Nor does a part get rid of it.
    room.on(day(21)).split(NEW, PART, 5, A);
    assert_eq!(room.listed(day(30), PART), [look]);
}

#[test]
fn a_late_entry_of_long_before_is_not_listed() {
    let mut room = Room::new();
    room.on(day(-40)).known(day(-30)).look(&[C]);
    room.looks(0..40, &TANKS);
    room.on(day(0)).came_in(NEW, 10, C);
    assert!(room.is_ready(day(30), NEW));
}

#[test]
fn a_gap_is_closed_by_a_new_start_at_its_end_and_not_before() {
    let mut room = looked_at(&[(0, 1), (20, 80)]);
    assert_eq!(room.blockers(day(30), NEW), GAP);
    room.on(day(21)).restarted(NEW, hour(5, 0));
    assert_eq!(room.blockers(day(60), NEW)[0], BlockerKind::ObservationGap);
    room.on(day(21)).restarted(NEW, hour(20, 12));
    assert_eq!(room.due(day(22), NEW), Some(50));
    assert!(room.unit(hour(50, 12), NEW).gaps.is_empty());
}

#[test]
fn the_keeper_cannot_begin_again_later_than_they_write() {
    let mut room = looked_at(&[(0, 80)]);
    room.on(day(10)).restarted(NEW, day(20));
    assert_eq!(room.due(day(22), NEW), Some(40));
}

#[test]
fn a_steward_lets_a_gap_pass_as_far_as_it_went() {
    let mut room = looked_at(&[(0, 1)]);
    room.on(day(20)).waived_until(BlockerKind::ObservationGap, NEXT, day(20));
    assert_eq!(room.blockers(day(20), NEW), GAP, "of another stock");
    room.on(day(20)).waived_until(BlockerKind::ObservationGap, NEW, day(20));
    assert_eq!(room.blockers(day(20), NEW), []);
    assert_eq!(room.blockers(day(21), NEW), GAP, "it has grown since");
    room.looks(22..40, &TANKS);
    assert_eq!(room.blockers(day(30), NEW), GAP, "and so it stays");
    room.on(day(30)).waived_until(BlockerKind::ObservationGap, NEW, day(30));
    assert!(room.is_ready(hour(30, 1), NEW));
}

#[test]
fn fish_nobody_looked_at_leave_their_gap_to_the_others() {
    let unseen = || {
        let mut room = Room::new();
        room.on(day(0)).came_in(NEW, 10, A);
        room.on(day(0)).came_in(NEXT, 10, B);
        room.looks(0..40, &[A, C, D]);
        room
    };
    // Gone one by one under kind names, few enough.
    let mut room = unseen();
    room.on(day(10)).moved(NEXT, B, C);
    assert_eq!(room.blockers(day(30), NEW), GAP);
    let mut room = unseen();
    room.on(day(10)).lost(NEXT, 10, Cause::OldAge);
    assert!(room.blockers(day(30), NEW).contains(&BlockerKind::ObservationGap));
    // The other one goes away.
    let mut room = unseen();
    room.on(day(10)).moved(NEW, A, D);
    assert_eq!((room.blockers(day(30), NEW), room.with(day(30), NEW)), (GAP.to_vec(), vec![NEW]));
}

#[test]
fn a_part_takes_the_gap_along() {
    let mut room = looked_at(&[(0, 1), (10, 40)]);
    room.on(day(12)).split(NEW, PART, 5, D);
    assert_eq!((room.blockers(day(30), PART), room.blockers(day(30), NEW)), (GAP.to_vec(), GAP.to_vec()));
    // Also while nobody has looked yet.
    let mut room = looked_at(&[(0, 1)]);
    room.on(day(5)).split(NEW, PART, 5, D);
    room.looks(10..40, &TANKS);
    assert_eq!((room.blockers(day(30), PART), room.blockers(day(30), NEW)), (GAP.to_vec(), GAP.to_vec()));
}

#[test]
fn fish_that_are_joined_keep_the_older_look() {
    let mut room = looked_at(&[(0, 1)]);
    room.on(day(0)).came_in(NEXT, 10, D);
    room.on(day(5)).look(&[D]);
    room.on(day(6)).merged(NEW, NEXT, 10);
    room.looks(9..40, &TANKS);
    assert_eq!(room.blockers(day(30), NEXT), GAP);
}

#[test]
fn breached_fish_were_not_looked_at_before() {
    let mut room = Room::with_home_fish();
    room.looks(-20..5, &TANKS);
    room.on(day(0)).came_in(NEW, 10, B);
    room.looks(8..40, &[B]);
    let gaps = room.unit(day(30), NEW).gaps;
    assert!(gaps.iter().all(|gap| gap.stock == HOME) && !gaps.is_empty());
}
