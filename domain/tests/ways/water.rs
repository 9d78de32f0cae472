//! Ways through the water: what shares it, for how long it stays a unit's, and when it is really empty.

use tarn_domain::quarantine::Cause;
use tarn_domain::rooms::words::Cause as Lost;
use tarn_domain::streams::At;

use crate::room::{A, B, C, D, HOME, LOOP, MORE, NEW, NEXT, OTHER, PART, Room, TANKS, X, YOUNG, day, hour};

fn seconds(at: At, more: i64) -> At {
    At::from_seconds(at.seconds() + more)
}

#[test]
fn a_loop_is_one_water() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, B);
    let unit = room.unit(day(1), HOME);
    assert_eq!((room.with(day(1), HOME), unit.due), (vec![HOME, NEW], Some(day(30))));
    assert_eq!(unit.members[0].cause, Cause::Breach);
}

#[test]
fn whoever_left_the_loop_before_is_free_if_that_was_told_in_time() {
    let mut room = Room::with_home_fish();
    room.on(day(-1)).moved(HOME, A, D);
    room.on(day(0)).came_in(NEW, 10, B);
    assert!(room.is_free(day(1), HOME));
}

#[test]
fn whoever_leaves_after_takes_the_days_along() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, B);
    room.on(seconds(day(0), 1)).moved(HOME, A, D);
    assert_eq!(room.due(day(1), HOME), Some(30));
}

#[test]
fn in_and_out_within_a_minute() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(5)).moved(HOME, A, C);
    room.on(seconds(day(5), 30)).moved(HOME, C, A);
    assert_eq!(room.due(day(6), HOME), Some(35));
    assert_eq!(room.due(day(6), NEW), Some(35), "and they met home fish");
}

#[test]
fn in_and_out_within_a_second() {
    let mut room = Room::with_home_fish();
    room.on(day(-80)).home(MORE, 5, A);
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(5)).moved(HOME, A, C);
    room.on(day(5)).moved(HOME, C, A);
    for fish in [HOME, NEW, MORE] {
        assert_eq!(room.due(day(6), fish), Some(35));
    }
}

#[test]
fn a_re_plumbing_for_an_hour() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(hour(5, 0)).plumbed(C, Some(LOOP));
    room.on(hour(5, 1)).plumbed(C, None);
    assert_eq!((room.due(day(6), HOME), room.due(day(6), NEW)), (Some(35), Some(35)));
    assert_eq!(room.with(day(6), HOME), [HOME], "in its own water again");
}

#[test]
fn a_re_plumbing_that_was_none() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(5)).plumbed(C, Some(LOOP));
    room.on(day(5)).plumbed(C, None);
    assert!(room.is_free(day(6), HOME));
}

#[test]
fn two_systems_joined_for_an_hour() {
    let mut room = Room::with_home_fish();
    room.on(day(-1)).plumbed(C, Some(OTHER));
    room.on(day(0)).came_in(NEW, 10, C);
    assert!(room.is_free(day(4), HOME));
    room.on(hour(5, 0)).joined(OTHER, Some(LOOP));
    room.on(hour(5, 1)).joined(OTHER, None);
    assert_eq!((room.due(day(6), HOME), room.due(day(6), NEW)), (Some(35), Some(35)));
}

#[test]
fn a_box_has_the_water_of_its_tank() {
    let mut room = Room::with_home_fish();
    room.on(day(-1)).hung(X, Some(A));
    room.on(day(0)).came_in(NEW, 10, X);
    assert_eq!(room.due(day(1), HOME), Some(30));
    // Taken out, it takes its water along.
    room.on(day(2)).hung(X, None);
    room.on(day(2)).moved(NEW, X, D);
    room.on(day(-80)).home(MORE, 5, C);
    room.on(day(3)).moved(MORE, C, X);
    assert_eq!(room.due(day(4), MORE), Some(33));
}

#[test]
fn a_swap_between_two_units() {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(10)).came_in(NEXT, 10, D);
    room.on(day(20)).moved(NEW, C, D);
    room.on(day(20)).moved(NEXT, D, C);
    // Each in what was the other's water: the older ones go on with the younger ones' days.
    assert_eq!((room.due(day(21), NEW), room.due(day(21), NEXT)), (Some(40), Some(40)));
}

#[test]
fn water_stays_the_units_for_seven_days() {
    let empty_since_ten = || {
        let mut room = Room::with_home_fish();
        room.on(day(0)).came_in(NEW, 10, C);
        room.on(day(10)).moved(NEW, C, D);
        room
    };
    let mut room = empty_since_ten();
    room.on(seconds(day(17), -1)).moved(HOME, A, C);
    assert_eq!(room.due(day(18), HOME), Some(46));
    let mut room = empty_since_ten();
    room.on(day(17)).moved(HOME, A, C);
    assert!(room.is_free(day(18), HOME));
    // What shares it meanwhile has it too.
    let mut room = empty_since_ten();
    room.on(day(12)).plumbed(C, Some(LOOP));
    assert_eq!(room.due(day(13), HOME), Some(42));
}

#[test]
fn the_last_fish_dying_leaves_the_water_the_units() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(10)).lost(NEW, 10, Lost::Jumped);
    assert_eq!(room.due(day(11), NEW), None);
    room.on(day(12)).moved(HOME, A, C);
    assert_eq!(room.due(day(13), HOME), Some(42));
}

#[test]
fn a_tank_that_is_emptied_between_is_clean() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(10)).moved(NEW, C, D);
    room.on(day(11)).emptied(C);
    room.on(day(12)).moved(HOME, A, C);
    assert!(room.is_free(day(13), HOME));
    assert_eq!(room.quarantine(day(13)).reading.unemptied, []);
}

#[test]
fn a_tank_with_fish_in_it_was_not_emptied() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    let early = room.on(day(9)).emptied(C);
    // Nor at the instant at which they leave.
    let at_once = room.on(day(10)).emptied(C);
    room.on(day(10)).moved(NEW, C, D);
    room.on(day(12)).moved(HOME, A, C);
    assert_eq!(room.due(day(13), HOME), Some(42));
    assert_eq!(room.quarantine(day(13)).reading.unemptied, [early, at_once]);
}

#[test]
fn a_tank_on_a_wet_loop_was_not_emptied() {
    let loop_since_ten = || {
        let mut room = Room::new();
        room.on(day(-80)).home(HOME, 10, D);
        room.on(day(0)).came_in(NEW, 10, B);
        room.on(day(10)).moved(NEW, B, C);
        room
    };
    let mut room = loop_since_ten();
    let in_vain = room.on(day(11)).emptied(B);
    room.on(day(12)).moved(HOME, D, A);
    assert_eq!(room.due(day(13), HOME), Some(42));
    assert_eq!(room.quarantine(day(13)).reading.unemptied, [in_vain]);
    // Taken off and emptied, it alone is clean.
    let mut room = loop_since_ten();
    room.on(hour(11, 0)).plumbed(B, None);
    room.on(hour(11, 1)).emptied(B);
    room.on(hour(11, 2)).plumbed(B, Some(LOOP));
    room.on(day(12)).moved(HOME, D, B);
    assert_eq!(room.due(day(13), HOME), Some(42), "the sump and A kept the water");
    // As a system it is.
    let mut room = loop_since_ten();
    room.on(day(11)).emptied_system(LOOP);
    room.on(day(12)).moved(HOME, D, A);
    assert!(room.is_free(day(13), HOME));
}

#[test]
fn a_sump_keeps_the_water_when_all_tanks_are_taken_off() {
    let mut room = Room::new();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(0)).came_in(NEW, 10, B);
    for tank in [A, B] {
        room.on(day(10)).plumbed(tank, None);
    }
    room.on(day(12)).plumbed(D, Some(LOOP));
    assert_eq!(room.due(day(13), HOME), Some(42));
}

#[test]
fn a_system_joined_with_another_was_not_emptied() {
    let mut room = Room::new();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(0)).came_in(NEW, 10, B);
    room.on(day(9)).joined(LOOP, Some(OTHER));
    room.on(day(10)).moved(NEW, B, C);
    let in_vain = room.on(day(11)).emptied_system(LOOP);
    room.on(day(12)).moved(HOME, D, A);
    assert_eq!(room.due(day(13), HOME), Some(42));
    assert_eq!(room.quarantine(day(13)).reading.unemptied, [in_vain]);
}

/// In doubt, since it is only told when the fish are in it already.
#[test]
fn a_tank_said_to_have_been_emptied_long_after() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(10)).moved(NEW, C, D);
    room.on(day(12)).moved(HOME, A, C);
    assert_eq!(room.due(day(13), HOME), Some(42));
    room.on(day(11)).known(day(20)).emptied(C);
    assert!(room.is_in_doubt(day(21), HOME));
}

#[test]
fn young_born_in_a_unit_go_on_with_its_days() {
    let mut room = Room::with_new_fish();
    room.on(day(20)).young(YOUNG, 30, C);
    let unit = room.unit(day(21), YOUNG);
    assert_eq!((unit.due, unit.members[1].cause), (Some(day(30)), Cause::Descent));
}

#[test]
fn a_test_companion_starts_again_like_any_other() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(20)).companion(HOME, A, C);
    let unit = room.unit(day(21), NEW);
    assert_eq!((unit.due, unit.members[0].cause), (Some(day(50)), Cause::Companion));
}

#[test]
fn home_fish_that_are_joined_begin_with_the_day_they_met() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(20)).merged(NEW, HOME, 5);
    assert_eq!(room.due(day(21), HOME), Some(50));
    assert_eq!(room.due(day(21), NEW), Some(30), "the rest met nobody");
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(20)).merged(HOME, NEW, 5);
    assert_eq!(room.due(day(21), NEW), Some(50));
    assert!(room.is_free(day(21), HOME), "the rest of the home fish stayed where they were");
}

#[test]
fn a_part_takes_the_days_along() {
    let mut room = Room::with_new_fish();
    room.on(day(20)).split(NEW, PART, 5, D);
    assert_eq!(room.due(day(21), PART), Some(30));
    assert_eq!(room.with(day(21), PART), [PART]);
}

/// Said to have been taken out of C, where the records never had them: they may have been there.
#[test]
fn fish_that_may_have_been_there_were_there() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(5)).moved(HOME, C, D);
    assert_eq!(room.due(day(6), HOME), room.due(day(6), NEW));
    assert!(room.due(day(6), HOME) >= Some(30));
}

#[test]
fn new_fish_that_joined_a_loop_and_left_it_held_it() {
    let mut room = Room::with_home_fish();
    room.looks(0..60, &TANKS);
    room.on(day(0)).came_in(NEW, 10, B);
    room.on(day(1)).moved(NEW, B, C);
    room.on(day(31)).cleared(&[NEW]);
    assert!(room.is_free(day(32), NEW));
    assert_eq!(room.with(day(32), HOME), [HOME], "a sign-off of the others is none of theirs");
}
