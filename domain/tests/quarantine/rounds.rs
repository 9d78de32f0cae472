//! Ways round the clock that histories at random found open, each shrunk to a few entries.

use tarn_domain::quarantine::{Rule, SharedWater, UnitState};
use tarn_domain::rooms::words::Cause;
use tarn_domain::streams::{ClubId, Days, SystemId, TreatmentId};
use uuid::Uuid;

use crate::examples::{FISH, Room, SUMP, WATER, of_day};
use crate::ops::{
    adopted, came_in, cleared_for, counted, day, emptied, home, home_club, hung, id, judged, looked, lost,
    merged, moved, plumbed, rule, sign, split, system, treated,
};

const SALT: TreatmentId = TreatmentId(Uuid::from_u128(30));

fn club(n: usize) -> ClubId {
    ClubId(id(200 + n))
}

/// A room of a club with this rule.
fn under(rule: Rule) -> Room {
    Room::new().on(-9, adopted(club(0), 1, day(-9), rule)).on(-9, home_club(Some(club(0)), day(-9)))
}

/// The sick are split off into another tank, and the sign is written down for them only.
#[test]
fn the_sick_split_off_the_day_before_were_with_those_they_left() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room = room.on(0, came_in(FISH[1], 10, Some(WATER[0])));
    let mut room =
        room.on(9, split(FISH[0], FISH[2], Some(WATER[1]))).on(10, sign(Some(FISH[2]), None, None));
    assert_eq!(room.held(11), [(vec![FISH[0], FISH[1]], Some(40)), (vec![FISH[2]], Some(40))]);
}

/// The same of those put among others: these were with whom they were with.
#[test]
fn the_sick_put_among_others_were_with_those_they_left() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room = room.on(0, came_in(FISH[1], 10, Some(WATER[0]))).on(0, came_in(FISH[2], 10, Some(WATER[1])));
    let mut room = room.on(9, merged(FISH[0], FISH[2])).on(10, sign(Some(FISH[2]), None, None));
    assert_eq!(room.held(11), [(vec![FISH[0], FISH[1]], Some(40)), (vec![FISH[2]], Some(40))]);
}

/// Two home fish that were together, each breached by another unit: whom the one that falls ill was with counts
/// although nobody was held there then.
#[test]
fn home_fish_that_were_together_before_they_were_held_were_together() {
    let room =
        Room::new().on(-5, home(FISH[0], 10, Some(WATER[0]))).on(-5, home(FISH[1], 10, Some(WATER[0])));
    let room = room.on(0, came_in(FISH[2], 10, Some(WATER[1]))).on(0, came_in(FISH[3], 10, Some(WATER[2])));
    let room = room.on(1, moved(FISH[0], Some(WATER[0]), Some(WATER[1])));
    let room = room.on(1, moved(FISH[1], Some(WATER[0]), Some(WATER[2])));
    let mut room = room.on(3, sign(Some(FISH[0]), None, None));
    assert_eq!(room.held(4), [(vec![FISH[0], FISH[2]], Some(33)), (vec![FISH[1], FISH[3]], Some(33))]);
}

/// The last of a stock was still in the water at the instant at which it died.
#[test]
fn water_is_shared_up_to_the_instant_of_the_last_death() {
    let of = |n: i64| {
        let room = Room::new().on(0, came_in(FISH[0], 2, Some(WATER[0])));
        let room = room.on(0, came_in(FISH[1], 10, Some(WATER[0])));
        let room = room.on(2, lost(FISH[0], 2, Cause::Fight, None)).on(4, counted(FISH[0], 2));
        let mut room = room.on(4, moved(FISH[0], Some(WATER[0]), Some(WATER[1])));
        room = room.on(n, sign(Some(FISH[1]), None, None));
        room.held(n + 1).iter().map(|(_, due)| due.unwrap_or_default()).collect::<Vec<_>>()
    };
    assert_eq!(of(9), [39, 39]);
}

/// A rule with a length for fish from a shop: part of a bag came from the shop too.
#[test]
fn a_part_of_a_bag_came_from_where_the_bag_came_from() {
    let mut shop = rule(7, SharedWater::Restart);
    shop.days_from.insert("shop".into(), Days(21));
    let room = under(shop).on(0, came_in(FISH[0], 10, None));
    let mut room = room.on(1, split(FISH[0], FISH[1], Some(WATER[0])));
    assert_eq!(room.held(2), [(vec![FISH[0]], None), (vec![FISH[1]], Some(22))]);
}

/// A bag poured into a bag that is poured into a tank, all at once: whatever their ids, both are opened.
#[test]
fn bags_poured_into_each_other_are_all_opened() {
    for [a, b] in [[FISH[0], FISH[1]], [FISH[1], FISH[0]]] {
        let room = Room::new().on(0, came_in(a, 10, None)).on(0, came_in(b, 10, None));
        let room = room.on(-5, home(FISH[2], 10, Some(WATER[0])));
        let mut room = room.on(4, merged(a, b)).on(4, merged(b, FISH[2]));
        let due = room.held(5).into_iter().map(|(_, due)| due).collect::<Vec<_>>();
        assert_eq!(due, [Some(34); 3]);
    }
}

#[test]
fn a_sign_off_for_another_club_frees_nothing() {
    let of = |signed| {
        let room = under(rule(3, SharedWater::Restart)).on(0, came_in(FISH[0], 10, Some(WATER[0])));
        room.on(4, cleared_for(signed, vec![FISH[0]], Vec::new())).held(5).len()
    };
    assert_eq!([of(club(1)), of(club(0))], [1, 0]);
}

/// Fish opened under one club, put among fish opened under another: both clubs have to sign.
#[test]
fn fish_put_among_others_bring_their_club() {
    let of = |clubs: &[ClubId]| {
        let room = under(rule(3, SharedWater::Restart)).on(0, came_in(FISH[0], 2, Some(WATER[0])));
        let room = room.on(-9, adopted(club(1), 1, day(-9), rule(3, SharedWater::Restart)));
        let room = room.on(1, home_club(Some(club(1)), day(1))).on(1, came_in(FISH[1], 9, Some(WATER[1])));
        let mut room = room.on(2, merged(FISH[0], FISH[1]));
        for club in clubs {
            room = room.on(6, cleared_for(*club, vec![FISH[1]], Vec::new()));
        }
        room.held(7).len()
    };
    assert_eq!([of(&[club(1)]), of(&[club(0)]), of(&[club(0), club(1)])], [1, 1, 0]);
}

/// A part taken off fish that are held is held: who joins it at that instant meets no home fish.
#[test]
fn a_part_is_held_from_its_first_instant() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room =
        room.on(0, came_in(FISH[1], 10, Some(WATER[0]))).on(8, split(FISH[0], FISH[2], Some(WATER[1])));
    let mut room = room.on(8, merged(FISH[1], FISH[2]));
    assert_eq!(room.held(9), [(vec![FISH[0], FISH[1]], Some(30)), (vec![FISH[2]], Some(30))]);
}

/// Where water is the unit's for no day after the last fish has left, a swap within an instant breaches nobody.
#[test]
fn water_of_no_days_ends_with_its_last_fish() {
    let of = |water_days| {
        let rule = Rule { water_days: Days(water_days), ..rule(30, SharedWater::Restart) };
        let room = under(rule).on(0, came_in(FISH[0], 10, Some(WATER[0])));
        let room = room.on(-5, home(FISH[1], 10, Some(WATER[1])));
        let room = room.on(3, moved(FISH[0], Some(WATER[0]), Some(WATER[2])));
        room.on(3, moved(FISH[1], Some(WATER[1]), Some(WATER[0]))).held(4).len()
    };
    assert_eq!([of(0), of(1)], [1, 2]);
}

/// Fish split off out of a water take along that nobody looked at the others.
#[test]
fn a_part_takes_the_gaps_of_its_water_along() {
    let waiting = Rule { observe_every_days: Days(3), ..rule(30, SharedWater::WaitForLast) };
    let room = under(waiting).on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room =
        room.on(0, came_in(FISH[1], 10, Some(WATER[0]))).on(5, split(FISH[0], FISH[2], Some(WATER[1])));
    let mut room = room.on(5, looked(vec![WATER[1]])).on(6, looked(vec![WATER[0]]));
    let all = room.gaps(7);
    assert!(all.contains(&vec![(FISH[1], 5), (FISH[2], 5)]), "{all:?}");
}

/// Taken out of treated water into none: the treatment is over for them at once.
#[test]
fn a_treatment_ends_for_fish_that_go_back_into_the_bag() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room = room.on(2, treated(SALT, Some(WATER[0]), None));
    let mut room = room.on(4, split(FISH[0], FISH[1], None));
    let unit = room.read(5).units.into_iter().find(|unit| unit.state == UnitState::Running).expect("a part");
    assert_eq!((unit.members[0].stock, unit.due.map(of_day)), (FISH[1], Some(34)));
    assert_eq!(room.on(9, moved(FISH[1], None, Some(WATER[1]))).held(10)[1], (vec![FISH[1]], Some(34)));
}

/// Poured out of treated water among others that are held: for these too it is over now.
#[test]
fn a_treatment_ends_for_those_whom_the_treated_join() {
    let room = under(rule(30, SharedWater::WaitForLast)).on(0, came_in(FISH[0], 9, Some(WATER[0])));
    let room = room.on(0, came_in(FISH[1], 9, Some(WATER[1]))).on(2, treated(SALT, Some(WATER[0]), None));
    let mut room = room.on(4, merged(FISH[0], FISH[1]));
    assert_eq!(room.held(5), [(vec![FISH[0]], None), (vec![FISH[1]], Some(34))]);
}

/// A box on a sump that hangs in a tank off it: one water, and no system's alone.
#[test]
fn a_system_is_not_emptied_while_a_tank_off_it_shares_its_water() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let room = room.on(-5, plumbed(WATER[1], Some(SUMP))).on(-5, hung(WATER[1], Some(WATER[0])));
    let room = room.on(3, moved(FISH[0], Some(WATER[0]), Some(WATER[2])));
    let mut room = room.on(4, emptied(None, Some(SUMP)));
    assert_eq!(room.read(5).unemptied.len(), 1);
    let mut room = room.on(5, home(FISH[1], 10, Some(WATER[0])));
    assert_eq!(room.held(6)[1], (vec![FISH[1]], Some(35)));
    // With nothing off it, it counts.
    let room = Room::new().on(-5, plumbed(WATER[1], Some(SUMP))).on(0, came_in(FISH[0], 10, Some(WATER[1])));
    let room = room.on(-5, system(SystemId(id(101)))).on(3, moved(FISH[0], Some(WATER[1]), Some(WATER[2])));
    let mut room = room.on(4, emptied(None, Some(SUMP))).on(5, home(FISH[1], 10, Some(WATER[1])));
    assert_eq!((room.read(6).unemptied.len(), room.held(6).len()), (0, 1));
}

/// Fish given away while they are held can be called unexplained, as losses under kind names can.
#[test]
fn what_was_given_away_can_be_called_unexplained() {
    let mut room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let entry = room.0.write(day(6), crate::ops::left(FISH[0], 4));
    assert_eq!(room.held(7), [(vec![FISH[0]], Some(30))]);
    assert_eq!(room.read(7).units[0].marks.len(), 1);
    let mut room = room.on(8, judged(entry));
    assert_eq!(room.held(9), [(vec![FISH[0]], Some(36))]);
}
