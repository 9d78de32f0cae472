//! Ways to bring fish in unseen: dated back, kept in the bag, "always had it", counted later, taken for young.

use tarn_domain::quarantine::Held;
use tarn_domain::quarantine::{BlockerKind, Cause};

use crate::room::{A, B, C, D, HOME, MORE, NEW, NEXT, NOOK, PART, Room, TANKS, YOUNG, day, day_of, hour};

fn waits_until(held: Option<Held>) -> Option<i64> {
    if let Some(Held::Waits(until)) = held { Some(day_of(until)) } else { None }
}

#[test]
fn an_arrival_dated_back_gains_days_only_with_a_steward() {
    let mut room = Room::with_home_fish();
    room.looks(0..40, &TANKS);
    let late = room.on(day(0)).known(day(20)).came_in(NEW, 10, B);
    assert_eq!(room.with(day(30), HOME), [HOME, NEW]);
    assert_eq!(room.due(day(30), HOME), Some(30));
    assert_eq!(room.listed(day(30), NEW), [late]);
    assert!(!room.is_ready(day(30), NEW));
    room.on(day(30)).waived(BlockerKind::RecordedLate, late);
    assert!(room.is_ready(day(30), NEW));
}

#[test]
fn an_arrival_told_in_time_is_not_listed() {
    let mut room = Room::with_home_fish();
    room.looks(0..40, &TANKS);
    room.on(day(0)).known(day(3)).came_in(NEW, 10, B);
    assert!(room.is_ready(day(30), NEW), "72 hours to the second are in time");
}

#[test]
fn an_arrival_that_is_not_synced_yet_becomes_late() {
    let mut room = Room::new();
    room.looks(0..40, &TANKS);
    room.on(day(0)).pending().came_in(NEW, 10, B);
    assert_eq!(room.blockers(day(3), NEW), []);
    assert_eq!(room.blockers(day(4), NEW), [BlockerKind::RecordedLate]);
}

#[test]
fn days_in_the_bag_do_not_count() {
    let mut room = Room::new();
    room.on(day(0)).came_in_bag(NEW, 10);
    assert_eq!(room.held(day(100), NEW), Some(Held::InTheBag));
    room.on(day(100)).moved(NEW, None, C);
    assert_eq!(room.due(day(101), NEW), Some(130));
}

#[test]
fn a_bag_that_is_said_to_have_been_opened_long_ago_is_listed() {
    let mut room = Room::new();
    room.looks(0..40, &TANKS);
    room.on(day(0)).came_in_bag(NEW, 10);
    let opened = room.on(day(2)).known(day(30)).moved(NEW, None, C);
    assert_eq!(room.due(day(32), NEW), Some(32));
    assert_eq!(room.listed(day(32), NEW), [opened]);
}

/// Eggs that came in dry are in the bag until they are wetted.
#[test]
fn dry_eggs_start_when_they_are_wetted() {
    let mut room = Room::new();
    room.on(day(0)).came_in_bag(NEW, 40);
    room.on(day(10)).split(NEW, PART, 20, C);
    room.on(day(20)).moved(NEW, None, D);
    assert_eq!((room.due(day(21), PART), room.due(day(21), NEW)), (Some(40), Some(50)));
}

#[test]
fn a_bag_that_is_poured_to_home_fish_is_open_and_breaches_them() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in_bag(NEW, 10);
    room.on(day(5)).merged(NEW, HOME, 2);
    assert_eq!(room.due(day(6), HOME), Some(35));
    assert_eq!(room.due(day(6), NEW), Some(35), "the rest of the bag too");
    assert_eq!(room.unit(day(6), HOME).members[0].cause, Cause::Breach);
}

#[test]
fn fish_put_back_into_the_bag_stay_held() {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(1)).moved(NEW, C, None);
    assert_eq!(room.due(day(2), NEW), Some(30));
    // Nobody can look at a tank in which they are not.
    room.looks(2..31, &TANKS);
    assert_eq!(room.blockers(day(31), NEW), [BlockerKind::ObservationGap]);
}

#[test]
fn what_was_always_here_waits_from_the_day_the_server_heard_of_it() {
    let mut room = Room::with_home_fish();
    room.on(day(-60)).known(hour(5, 1)).home(MORE, 10, D);
    assert_eq!(waits_until(room.held(day(6), MORE)), Some(35));
    assert!(room.is_free(day(6), HOME), "the others do not wait");
    // Neither parts nor whom they join get round it.
    room.on(day(7)).split(MORE, PART, 4, C);
    room.on(day(8)).merged(MORE, HOME, 2);
    for fish in [MORE, PART, HOME] {
        assert_eq!(waits_until(room.held(day(9), fish)), Some(35));
        assert!(room.is_free(day(36), fish));
    }
}

#[test]
fn young_of_this_room_wait_too() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).known(hour(3, 1)).young(YOUNG, 30, A);
    assert_eq!(waits_until(room.held(day(4), YOUNG)), Some(33));
    assert!(room.is_free(day(4), HOME));
}

#[test]
fn a_count_that_finds_more_starts_the_wait_and_its_parts_wait_too() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).known(hour(2, 1)).counted(HOME, 18);
    room.on(day(3)).split(HOME, PART, 8, D);
    assert_eq!(waits_until(room.held(day(4), HOME)), Some(32));
    assert_eq!(waits_until(room.held(day(4), PART)), Some(32));
}

#[test]
fn a_count_that_finds_more_in_a_unit_is_for_the_steward() {
    let mut room = Room::with_new_fish();
    let count = room.on(day(10)).counted(NEW, 12);
    let other = room.on(day(11)).counted(NEW, 12);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::FoundMore]);
    room.on(day(30)).waived(BlockerKind::FoundMore, other);
    room.on(day(30)).waived(BlockerKind::RecordedLate, count);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::FoundMore], "another entry, another blocker");
    room.on(day(30)).waived(BlockerKind::FoundMore, count);
    assert!(room.is_ready(hour(30, 1), NEW));
}

/// More than there were can only be fish that nobody wrote down.
#[test]
fn a_part_that_is_more_than_the_whole_waits() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).known(hour(2, 1)).split(HOME, PART, 16, D);
    assert_eq!(waits_until(room.held(day(3), PART)), Some(32));
    let mut room = Room::with_home_fish();
    room.on(day(-80)).home(MORE, 4, D);
    room.on(day(0)).known(hour(2, 1)).merged(HOME, MORE, 16);
    assert_eq!(waits_until(room.held(day(3), MORE)), Some(32));
}

#[test]
fn a_part_of_what_there_is_does_not_wait() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).split(HOME, PART, 10, D);
    assert!(room.is_free(day(3), PART));
}

/// Fish from elsewhere called young of the unit go on with its days, but wait all the same.
#[test]
fn fish_called_young_do_not_leave_earlier() {
    let mut room = Room::with_new_fish();
    room.on(day(29)).young(YOUNG, 10, C);
    let unit = room.unit(hour(29, 1), YOUNG);
    assert_eq!((unit.members.len(), unit.due), (2, Some(day(30))));
    room.on(day(31)).cleared(&[NEW, YOUNG]);
    assert!(room.is_free(day(32), NEW));
    assert_eq!(waits_until(room.held(day(32), YOUNG)), Some(59));
}

#[test]
fn the_next_arrival_starts_all_again() {
    let mut room = Room::with_new_fish();
    room.on(day(29)).came_in(NEXT, 10, C);
    assert_eq!(room.due(day(31), NEW), Some(59));
}

/// What names a tank that was added later counts from then; fish that were taken off them before are theirs.
#[test]
fn a_part_dated_before_the_whole_is_a_part_of_it() {
    let mut room = Room::with_home_fish();
    let tank = room.on(day(5)).added(NOOK);
    room.on(day(0)).known(day(6)).came_in(NEW, 10, NOOK);
    room.on(day(2)).known(day(6)).split(NEW, PART, 5, D);
    room.on(day(3)).known(day(6)).merged(NEW, HOME, 2);
    for fish in [NEW, PART, HOME] {
        assert!(room.due(day(7), fish) >= Some(35), "{tank:?}");
    }
    let mut room = Room::new();
    room.on(day(-80)).home(MORE, 5, D);
    room.on(day(5)).added(NOOK);
    room.on(day(0)).came_in(NEW, 10, NOOK);
    room.on(day(2)).split(NEW, PART, 5, D);
    assert_eq!(room.with(day(7), PART), [MORE, PART]);
}
