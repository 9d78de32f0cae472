//! Ways round a treatment: never ended, ended at once, the fish moved out of it.

use tarn_domain::quarantine::UnitState;

use crate::room::{A, B, C, CURE, D, HOME, NEW, NEXT, PART, Room, TANKS, day, hour};

#[test]
fn a_treatment_that_is_never_ended_runs() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    let unit = room.unit(day(200), NEW);
    assert_eq!((unit.state, unit.due), (UnitState::Treating, None));
    assert!(!room.is_ready(day(200), NEW) && !room.is_free(day(200), NEW));
}

#[test]
fn the_days_begin_when_it_ends() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    room.on(day(15)).treatment_ended(CURE);
    assert_eq!(room.due(day(16), NEW), Some(45));
    // Once.
    room.on(day(20)).treatment_ended(CURE);
    assert_eq!(room.due(day(21), NEW), Some(45));
}

#[test]
fn a_treatment_of_no_length_is_one() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    room.on(day(10)).treatment_ended(CURE);
    assert_eq!(room.due(day(16), NEW), Some(40));
}

#[test]
fn it_ends_for_fish_that_are_taken_out() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    room.on(day(15)).moved(NEW, C, D);
    assert_eq!(room.due(day(16), NEW), Some(45));
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    room.on(day(15)).moved(NEW, C, None);
    assert_eq!(room.due(day(16), NEW), Some(45));
    for bag in [None, Some(D)] {
        let mut room = Room::with_new_fish();
        room.on(day(10)).treated(CURE, C);
        room.on(day(15)).split(NEW, PART, 5, bag);
        assert_eq!(room.due(day(16), PART), Some(45), "{bag:?}");
        assert_eq!(room.due(day(16), NEW), None);
    }
}

#[test]
fn it_is_of_a_water_and_not_of_a_tank() {
    let mut room = Room::new();
    room.looks(0..60, &TANKS);
    room.on(day(0)).came_in(NEW, 10, A);
    room.on(day(10)).treated(CURE, B);
    assert_eq!(room.unit(day(11), NEW).state, UnitState::Treating);
    // Taken off the loop, the tank is out of it.
    room.on(day(12)).plumbed(A, None);
    assert_eq!(room.due(day(13), NEW), Some(42));
}

#[test]
fn whoever_shares_the_water_starts_again_with_the_treated() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    room.on(day(15)).came_in(NEXT, 10, D);
    room.on(day(16)).moved(NEW, C, D);
    assert_eq!(room.due(day(17), NEXT), Some(46));
}

#[test]
fn an_end_that_is_dated_back_is_listed() {
    let mut room = Room::with_new_fish();
    room.on(day(10)).treated(CURE, C);
    let end = room.on(day(11)).known(day(30)).treatment_ended(CURE);
    assert_eq!(room.due(day(41), NEW), Some(41));
    assert_eq!(room.listed(day(41), NEW), [end]);
}

#[test]
fn a_beginning_that_is_taken_back_is_listed() {
    let mut room = Room::with_new_fish();
    let begin = room.on(day(10)).treated(CURE, C);
    room.on(day(25)).withdrawn(begin);
    assert_eq!(room.due(day(30), NEW), Some(30));
    assert_eq!(room.listed(day(30), NEW), [begin]);
}

#[test]
fn home_fish_are_treated_as_they_need_it() {
    let mut room = Room::with_home_fish();
    room.on(day(0)).treated(CURE, A);
    room.on(hour(0, 1)).treatment_ended(CURE);
    assert!(room.is_free(day(1), HOME));
}
