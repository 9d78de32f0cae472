//! Ways to have been elsewhere: entries that come late or are taken back free nobody before a steward has read them.

use tarn_domain::quarantine::BlockerKind;
use tarn_domain::quarantine::Held;

use crate::room::{A, B, C, D, HOME, LOOP, NEW, NEXT, Room, TANKS, day, hour};

#[test]
fn whoever_is_said_later_to_have_left_before_is_in_doubt() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, B);
    let left = room.on(day(-1)).known(day(5)).moved(HOME, A, D);
    assert_eq!(room.with(day(6), NEW), [NEW]);
    assert_eq!(room.held(day(6), HOME), Some(Held::InDoubt(vec![left])));
    assert_eq!(room.listed(day(6), NEW), [left]);
    room.on(day(6)).waived(BlockerKind::RecordedLate, left);
    assert!(room.is_free(day(7), HOME));
}

#[test]
fn a_tank_that_is_said_later_to_have_been_off_the_loop() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, B);
    let off = room.on(day(-1)).known(day(5)).plumbed(A, None);
    assert!(room.is_in_doubt(day(6), HOME));
    assert_eq!(room.listed(day(6), NEW), [off], "it would be the unit's water");
}

#[test]
fn an_arrival_that_is_withdrawn_after_it_breached_a_loop() {
    let mut room = Room::with_home_fish();
    let arrival = room.on(day(0)).came_in(NEW, 10, B);
    room.on(day(10)).withdrawn(arrival);
    for fish in [HOME, NEW] {
        assert_eq!(room.held(day(60), fish), Some(Held::InDoubt(vec![arrival])));
    }
    // Also if it is written anew for another tank.
    room.on(day(10)).came_in(NEXT, 10, C);
    assert!(room.is_in_doubt(day(60), HOME));
    room.on(day(60)).waived(BlockerKind::EvidenceWithdrawn, arrival);
    assert!(room.is_free(day(61), HOME));
}

#[test]
fn an_entry_withdrawn_in_the_push_that_brought_it_is_not_listed() {
    let mut room = Room::with_home_fish();
    let slip = room.on(day(0)).known(day(1)).came_in(NEW, 10, B);
    room.on(day(1)).known(day(1)).withdrawn(slip);
    room.on(day(0)).known(day(1)).came_in(NEXT, 10, C);
    assert!(room.is_free(day(2), HOME));
    assert_eq!(room.blockers(day(2), NEXT), []);
    // A second later it is.
    let mut room = Room::with_home_fish();
    let slip = room.on(day(0)).known(day(1)).came_in(NEW, 10, B);
    room.on(day(1)).withdrawn(slip);
    assert!(room.is_in_doubt(day(2), HOME));
}

#[test]
fn a_stay_in_the_units_water_that_is_taken_back() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    let visit = room.on(day(5)).moved(HOME, A, C);
    let back = room.on(day(6)).moved(HOME, C, A);
    assert_eq!(room.due(day(7), HOME), Some(35));
    room.on(day(7)).withdrawn(visit);
    room.on(day(7)).withdrawn(back);
    assert!(room.is_in_doubt(day(8), HOME));
}

/// Told together: the arrival, and that the home fish had left before it.
#[test]
fn a_late_arrival_hides_no_late_departure() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).known(day(10)).came_in(NEW, 10, B);
    let left = room.on(day(-1)).known(day(10)).moved(HOME, A, D);
    assert!(room.is_in_doubt(day(11), HOME), "the arrival counts, the departure is not sure");
    room.on(day(11)).waived(BlockerKind::RecordedLate, left);
    assert!(room.is_free(day(12), HOME));
}

#[test]
fn a_late_arrival_hides_no_late_plumbing() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).known(day(10)).came_in(NEW, 10, B);
    room.on(day(-1)).known(day(10)).plumbed(A, None);
    assert!(room.is_in_doubt(day(11), HOME));
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(1)).known(day(10)).plumbed(C, Some(LOOP));
    room.on(hour(0, 1)).known(day(10)).moved(HOME, A, D);
    assert!(room.is_in_doubt(day(11), HOME));
}

/// The arrival taken back, and a late departure besides: each alone would free nobody, nor do both.
#[test]
fn a_withdrawal_hides_no_late_departure() {
    let mut room = Room::with_home_fish();
    let arrival = room.on(day(0)).came_in(NEW, 10, B);
    room.on(day(-1)).known(day(10)).moved(HOME, A, D);
    room.on(day(11)).withdrawn(arrival);
    assert!(room.is_in_doubt(day(12), HOME));
    // Also if the arrival itself came late.
    let mut room = Room::with_home_fish();
    let arrival = room.on(day(0)).known(day(9)).came_in(NEW, 10, B);
    room.on(day(-1)).known(day(10)).moved(HOME, A, D);
    room.on(day(11)).withdrawn(arrival);
    assert!(room.is_in_doubt(day(12), HOME));
}

#[test]
fn a_waiver_of_another_entry_does_not_help() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, B);
    let left = room.on(day(-1)).known(day(5)).moved(HOME, A, D);
    let look = room.on(day(-1)).known(day(5)).look(&TANKS);
    room.on(day(6)).waived(BlockerKind::RecordedLate, look);
    room.on(day(6)).waived(BlockerKind::EvidenceWithdrawn, left);
    assert!(room.is_in_doubt(day(7), HOME));
}

/// Notes, readings and sexings say nothing of who was where; everything else that names the unit is listed.
#[test]
fn everything_late_that_names_the_unit_is_listed() {
    let mut room = Room::with_new_fish();
    let late: Vec<_> = vec![
        room.on(day(1)).known(day(20)).look(&[C]),
        room.on(day(1)).known(day(20)).counted(NEW, 10),
        room.on(day(1)).known(day(20)).restarted(NEW, day(0)),
    ];
    room.on(day(1)).known(day(20)).look(&[D]);
    let mut listed = room.listed(day(30), NEW);
    listed.sort_unstable();
    assert_eq!(listed, late);
}
