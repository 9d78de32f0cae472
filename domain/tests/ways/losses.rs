//! Ways to hide that fish fell ill: the sick or the healthy moved away, losses under kind names or given away, counts.

use tarn_domain::quarantine::{BlockerKind, Why};
use tarn_domain::rooms::words::Cause;

use crate::room::{A, C, D, HOME, NEW, NEXT, PART, Room, TANKS, YOUNG, day, hour};

/// Two stocks from shops in C since day 0.
fn two() -> Room {
    let mut room = Room::with_new_fish();
    room.on(day(0)).came_in(NEXT, 10, C);
    room
}

#[test]
fn a_sign_counts_when_it_was_last_seen() {
    let mut room = two();
    room.on(day(20)).sign(NEXT);
    assert_eq!(room.due(day(21), NEW), Some(50));
    let mut room = two();
    room.on(day(20)).sign_in(C);
    assert_eq!(room.due(day(21), NEW), Some(50));
    let mut room = two();
    room.on(day(20)).sign_last_seen(NEXT, day(18));
    assert_eq!(room.due(day(21), NEW), Some(48));
    let mut room = two();
    room.on(day(20)).sign_last_seen(NEXT, day(25));
    assert_eq!(room.due(day(21), NEW), Some(50), "never later than the entry");
}

/// Of two at one instant it is the same one that is named, whichever came first.
#[test]
fn two_signs_at_once_are_told_in_the_order_they_were_written() {
    let mut room = two();
    let first = room.on(day(20)).sign(NEXT);
    room.on(day(20)).sign(NEXT);
    let told = |room: &Room| room.unit(day(21), NEXT).runs.last().map(|run| run.why);
    assert_eq!(told(&room), Some(Why::Sign(first)));
    room.ops.reverse();
    assert_eq!(told(&Room::of(room.ops)), Some(Why::Sign(first)));
}

#[test]
fn a_sign_in_another_water_is_another_matter() {
    let mut room = two();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(20)).sign(HOME);
    assert_eq!(room.due(day(21), NEW), Some(30));
}

#[test]
fn out_of_the_water_the_day_before_the_sign() {
    let left_on = |n| {
        let mut room = two();
        room.on(day(n)).moved(NEW, C, D);
        room.on(day(20)).sign(NEXT);
        room.due(day(21), NEW)
    };
    assert_eq!(left_on(19), Some(50));
    assert_eq!(left_on(14), Some(50));
    // Longer ago than water is the unit's.
    assert_eq!(left_on(13), Some(30));
}

#[test]
fn the_sick_moved_to_another_tank() {
    let mut room = two();
    room.on(day(19)).moved(NEXT, C, D);
    room.on(day(20)).sign(NEXT);
    assert_eq!(room.due(day(21), NEW), Some(50));
    // Some of them only.
    let mut room = two();
    room.on(day(19)).split(NEXT, PART, 2, D);
    room.on(day(20)).sign(PART);
    for fish in [NEW, NEXT, PART] {
        assert_eq!(room.due(day(21), fish), Some(50));
    }
    // And they die there.
    let mut room = two();
    room.on(day(19)).split(NEXT, PART, 2, D);
    room.on(day(20)).lost(PART, 2, Cause::Unknown);
    assert_eq!((room.due(day(21), NEW), room.due(day(21), NEXT)), (Some(50), Some(50)));
}

#[test]
fn the_sick_put_to_others() {
    let mut room = two();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(19)).merged(NEXT, HOME, 10);
    room.on(day(20)).sign(HOME);
    assert_eq!((room.due(day(21), HOME), room.due(day(21), NEW)), (Some(50), Some(50)));
}

#[test]
fn the_healthy_moved_away() {
    let mut room = two();
    room.on(day(19)).split(NEW, PART, 5, D);
    room.on(day(20)).sign(NEXT);
    assert_eq!(room.due(day(21), PART), Some(50));
    // Or to others.
    let mut room = two();
    room.on(day(-80)).home(HOME, 10, D);
    room.on(day(18)).merged(NEW, HOME, 10);
    room.on(day(20)).sign(NEXT);
    assert_eq!(room.due(day(21), HOME), Some(50));
    // Longer ago than water is the unit's.
    let mut room = two();
    room.on(day(10)).split(NEW, PART, 5, D);
    room.on(day(20)).sign(NEXT);
    assert_eq!(room.due(day(21), PART), Some(30));
}

#[test]
fn the_last_fish_dying_still_counts() {
    let mut room = two();
    room.on(day(20)).lost(NEXT, 10, Cause::Unknown);
    assert_eq!((room.with(day(21), NEW), room.due(day(21), NEW)), (vec![NEW], Some(50)));
    // Under a kind name it is for the steward of those that are left.
    let mut room = two();
    room.on(day(20)).lost(NEXT, 10, Cause::Jumped);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::ManyNamedLosses]);
}

#[test]
fn many_losses_under_kind_names_are_for_the_steward() {
    let mut room = two();
    room.on(day(10)).lost(NEXT, 1, Cause::Fight);
    room.on(day(11)).lost(NEXT, 1, Cause::Jumped);
    assert!(room.is_ready(day(30), NEW), "two of ten are not more than twenty per cent");
    room.on(day(12)).lost(NEXT, 1, Cause::OldAge);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::ManyNamedLosses]);
    room.on(day(13)).waived_until(BlockerKind::ManyNamedLosses, NEW, day(30));
    assert!(!room.is_ready(day(30), NEW), "of another stock");
    room.on(day(13)).waived_until(BlockerKind::ManyNamedLosses, NEXT, day(12));
    assert!(room.is_ready(day(30), NEW));
    room.on(day(14)).lost(NEXT, 1, Cause::Eaten);
    assert!(!room.is_ready(day(30), NEW), "one more is one more");
}

#[test]
fn given_away_is_as_good_as_lost_under_a_kind_name() {
    let mut room = two();
    room.on(day(10)).left(NEXT, 2);
    room.on(day(11)).lost(NEXT, 1, Cause::Fight);
    assert_eq!(room.blockers(day(30), NEW), [BlockerKind::ManyNamedLosses]);
}

#[test]
fn whoever_leaves_takes_along_what_is_for_the_steward() {
    let mut room = two();
    room.on(day(10)).lost(NEXT, 3, Cause::Fight);
    room.on(day(11)).moved(NEW, C, D);
    room.on(day(12)).split(NEXT, PART, 2, A);
    for fish in [NEW, NEXT, PART] {
        assert_eq!(room.blockers(day(30), fish), [BlockerKind::ManyNamedLosses]);
    }
}

/// The dying are kept apart first, and die there under a kind name.
#[test]
fn losses_of_a_part_are_losses_of_the_whole() {
    let mut room = two();
    room.on(day(10)).split(NEXT, PART, 3, None);
    room.on(day(11)).lost(PART, 3, Cause::Jumped);
    assert_eq!(room.blockers(day(30), NEXT), [BlockerKind::ManyNamedLosses]);
}

#[test]
fn a_loss_that_a_steward_holds_for_unexplained_starts_again() {
    let mut room = two();
    let loss = room.on(day(10)).lost(NEXT, 1, Cause::OldAge);
    assert_eq!(room.due(day(20), NEW), Some(30));
    room.on(day(20)).judged(loss);
    assert_eq!(room.due(day(20), NEW), Some(40));
}

#[test]
fn culled_needs_a_reason() {
    let mut room = two();
    room.on(day(10)).culled_for(NEXT, 1, "bent");
    assert_eq!(room.due(day(20), NEW), Some(30));
    room.on(day(11)).culled_for(NEXT, 1, " ");
    assert_eq!(room.due(day(20), NEW), Some(41));
    room.on(day(12)).lost(NEXT, 1, Cause::Culled);
    assert_eq!(room.due(day(20), NEW), Some(42));
}

#[test]
fn a_count_that_finds_fewer_is_a_loss_nobody_can_explain() {
    let mut room = two();
    room.on(day(10)).counted(NEXT, 9);
    assert_eq!(room.due(day(20), NEW), Some(40));
}

/// Twenty per cent within seven days, of fish younger than sixty days.
#[test]
fn few_young_fry_may_die() {
    let with_fry = || {
        let mut room = Room::with_new_fish();
        room.on(day(2)).young(YOUNG, 100, C);
        room
    };
    let mut room = with_fry();
    room.on(day(10)).lost(YOUNG, 20, Cause::Unknown);
    assert_eq!(room.due(day(11), NEW), Some(30));
    let mut room = with_fry();
    room.on(day(10)).lost(YOUNG, 21, Cause::Unknown);
    assert_eq!(room.due(day(11), NEW), Some(40));
    // Many small losses are a large one.
    let mut room = with_fry();
    for n in 10..16 {
        room.on(day(n)).lost(YOUNG, 4, Cause::Unknown);
    }
    assert_eq!(room.due(day(20), NEW), Some(45));
    // But not over weeks.
    let mut room = with_fry();
    for n in 0..3 {
        room.on(day(4 + 7 * n)).lost(YOUNG, 12, Cause::Unknown);
    }
    assert_eq!(room.due(day(20), NEW), Some(30));
    // Kept apart they are as young as they were.
    let mut room = with_fry();
    room.on(day(5)).split(YOUNG, PART, 50, C);
    room.on(day(10)).lost(PART, 5, Cause::Unknown);
    assert_eq!(room.due(day(11), NEW), Some(30));
    // Put to grown fish they are no fry.
    let mut room = with_fry();
    room.on(day(5)).merged(YOUNG, NEW, 50);
    room.on(day(10)).lost(NEW, 1, Cause::Unknown);
    assert_eq!(room.due(day(11), NEW), Some(40));
}

#[test]
fn grown_fish_are_no_fry() {
    let mut room = Room::with_new_fish();
    room.on(day(-60)).young(YOUNG, 100, D);
    room.on(day(1)).moved(YOUNG, D, C);
    room.on(day(10)).lost(YOUNG, 1, Cause::Unknown);
    assert_eq!(room.due(day(11), NEW), Some(40));
}

#[test]
fn a_sign_that_is_taken_back_is_for_the_steward() {
    let mut room = two();
    let sign = room.on(day(20)).sign(NEXT);
    let other = room.on(day(20)).look(&TANKS);
    room.on(day(22)).withdrawn(sign);
    assert_eq!(room.due(day(30), NEW), Some(30));
    assert_eq!(room.listed(day(30), NEW), [sign]);
    room.on(day(30)).waived(BlockerKind::EvidenceWithdrawn, other);
    room.on(day(30)).waived(BlockerKind::RecordedLate, sign);
    assert!(!room.is_ready(hour(30, 1), NEW), "another entry, another blocker");
    room.on(day(30)).waived(BlockerKind::EvidenceWithdrawn, sign);
    assert!(room.is_ready(hour(30, 1), NEW));
}
