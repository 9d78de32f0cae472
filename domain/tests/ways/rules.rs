//! Ways to get a laxer rule: for a day, of another club, of no club, of the room's own.

use tarn_domain::quarantine::{Rule, SharedWater};
use tarn_domain::streams::Days;

use crate::room::{C, CLUB, D, HOME, NEW, NEXT, PART, Room, SECOND, TANKS, day, hour};

fn days(n: u16) -> Rule {
    Rule { min_days: Days(n), ..Rule::shipped() }
}

/// Where all wait for the last, who leaves waits for the last all the same.
#[test]
fn leaving_those_who_wait_does_not_shorten_the_wait() {
    let mut room = Room::under(Rule { shared_water: SharedWater::WaitForLast, ..Rule::shipped() });
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(10)).came_in(NEXT, 10, C);
    room.on(day(11)).moved(NEW, C, D);
    assert_eq!((room.due(day(12), NEW), room.due(day(12), NEXT)), (Some(40), Some(40)));
    room.on(day(12)).sign(NEW);
    assert_eq!((room.due(day(13), NEW), room.due(day(13), NEXT)), (Some(42), Some(42)));
}

#[test]
fn a_laxer_version_is_not_for_those_that_are_here() {
    let mut room = Room::with_new_fish();
    room.on(day(5)).rule(CLUB, 2, days(3));
    assert_eq!(room.due(day(6), NEW), Some(30));
}

#[test]
fn an_arrival_dated_back_into_a_laxer_version_runs_under_both() {
    let mut room = Room::new();
    room.on(day(0)).rule(CLUB, 2, days(3));
    room.on(day(1)).rule(CLUB, 3, days(40));
    room.on(hour(0, 12)).known(day(2)).came_in(NEW, 10, C);
    assert_eq!(room.due(day(3), NEW), Some(40));
    // Nor does it help to write it down in time and take it back.
    let mut room = Room::new();
    room.on(day(0)).rule(CLUB, 2, days(3));
    room.on(hour(0, 12)).came_in(NEW, 10, C);
    assert_eq!(room.due(day(1), NEW), Some(3), "in force then, and told then");
}

#[test]
fn another_club_for_a_day_adds_its_rule() {
    let mut room = Room::with_new_fish();
    room.on(day(-1)).rule(SECOND, 1, days(3));
    room.on(day(5)).home_club(Some(SECOND));
    room.on(day(6)).home_club(Some(CLUB));
    assert_eq!(room.due(day(7), NEW), Some(30));
    // Each club's steward has to sign.
    room.on(day(31)).cleared_for(SECOND, &[NEW]);
    assert!(!room.is_free(day(32), NEW));
    room.on(day(32)).cleared_for(CLUB, &[NEW]);
    assert!(room.is_free(day(33), NEW));
}

#[test]
fn a_stricter_club_for_a_day_stays() {
    let mut room = Room::with_new_fish();
    room.on(day(-1)).rule(SECOND, 1, days(42));
    room.on(day(5)).home_club(Some(SECOND));
    room.on(day(6)).home_club(Some(CLUB));
    assert_eq!(room.due(day(7), NEW), Some(42));
}

#[test]
fn an_arrival_on_the_day_of_the_other_club_comes_under_both() {
    let mut room = Room::new();
    room.on(day(-2)).rule(SECOND, 1, days(3));
    room.on(day(-1)).home_club(Some(SECOND));
    room.on(day(0)).came_in(NEW, 10, C);
    room.looks(0..60, &TANKS);
    assert_eq!(room.due(hour(0, 1), NEW), Some(3));
    room.on(day(1)).home_club(Some(CLUB));
    assert_eq!(room.due(day(2), NEW), Some(30));
}

#[test]
fn no_club_for_a_day_is_no_rule_for_a_day() {
    let mut room = Room::new();
    room.on(day(-2)).rule(CLUB, 2, days(42));
    room.on(day(-1)).home_club(None);
    room.on(day(0)).came_in(NEW, 10, C);
    assert_eq!(room.due(hour(0, 1), NEW), Some(30), "the shipped rule, as advice");
    room.on(day(1)).home_club(Some(CLUB));
    assert_eq!(room.due(day(2), NEW), Some(42));
}

/// Fish of two clubs' quarantines are under both, also where they have become one stock.
#[test]
fn joining_fish_loses_no_club() {
    let mut room = Room::with_new_fish();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(5)).home_club(Some(SECOND));
    room.on(day(6)).merged(NEW, HOME, 10);
    room.on(day(37)).cleared_for(SECOND, &[HOME]);
    assert!(!room.is_free(day(38), HOME));
    room.on(day(38)).cleared_for(CLUB, &[HOME]);
    assert!(room.is_free(day(39), HOME));
}

#[test]
fn splitting_fish_loses_no_club() {
    let mut room = Room::with_new_fish();
    room.on(day(5)).home_club(Some(SECOND));
    room.on(day(6)).split(NEW, PART, 5, D);
    room.on(day(37)).cleared_for(SECOND, &[PART]);
    assert!(!room.is_free(day(38), PART));
}

#[test]
fn a_rule_of_the_rooms_own_is_never_laxer() {
    let mut room = Room::new();
    let lax = Rule { water_days: Days(0), late_after_hours: 900, named_loss_percent: 100, ..days(3) };
    room.on(day(-1)).own_rule(lax);
    room.on(day(0)).came_in(NEW, 10, C);
    let unit = room.unit(day(1), NEW);
    assert_eq!((unit.due, &*unit.rule), (Some(day(30)), &Rule::shipped()));
}

#[test]
fn a_rule_of_the_rooms_own_holds_from_then_on() {
    let mut room = Room::new();
    room.on(day(0)).came_in(NEW, 10, C);
    room.on(day(5)).own_rule(days(60));
    room.on(day(6)).came_in(HOME, 10, D);
    assert_eq!((room.due(day(7), NEW), room.due(day(7), HOME)), (Some(30), Some(66)));
}
