//! Small rooms, one thing at a time.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{BlockerKind, Gap, Reading, SignOffs, Unit, Waiver};
use tarn_domain::state::reading;
use tarn_domain::streams::{At, StockId, SystemId, TankId};
use uuid::Uuid;

use crate::ops::{
    Record, came_in, cleared, day, home, looked, merged, moved, plumbed, split, system, tank, waived, young,
};

pub const WATER: [TankId; 3] =
    [TankId(Uuid::from_u128(1)), TankId(Uuid::from_u128(2)), TankId(Uuid::from_u128(3))];
pub const fn stock(n: u128) -> StockId {
    StockId(Uuid::from_u128(n))
}
pub const FISH: [StockId; 4] = [stock(10), stock(11), stock(12), stock(13)];
pub const SUMP: SystemId = SystemId(Uuid::from_u128(20));

/// A room with three tanks, and who is held in it on a day, with the day they are due (none: in the bag).
pub struct Room(pub Record);

impl Room {
    pub fn new() -> Self {
        let mut record = Record::default();
        record.write(day(-9), system(SUMP));
        for water in WATER {
            record.write(day(-9), tank(water));
        }
        Self(record)
    }

    pub fn on(mut self, n: i64, body: Body) -> Self {
        self.0.write(day(n), body);
        self
    }

    /// What the clock says on a day.
    pub fn read(&mut self, n: i64) -> Reading {
        self.0.fold();
        reading(&self.0.memory, day(n), SignOffs::Verify)
    }

    pub fn held(&mut self, n: i64) -> Vec<(Vec<StockId>, Option<i64>)> {
        let one = |u: &Unit| (u.members.iter().map(|m| m.stock).collect(), u.due.map(of_day));
        let mut all: Vec<_> = self.read(n).units.iter().map(one).collect();
        all.sort();
        all
    }

    /// At which stocks nobody looked for too long, and until which day; by unit.
    pub fn gaps(&mut self, n: i64) -> Vec<Vec<(StockId, i64)>> {
        let one = |gap: &Gap| (gap.stock, of_day(gap.until));
        self.read(n).units.iter().map(|unit| unit.gaps.iter().map(one).collect()).collect()
    }
}

/// The day of an instant.
pub fn of_day(at: At) -> i64 {
    (at.seconds() - day(0).seconds()).div_euclid(86_400)
}

/// In the shipped rule: 30 days, and arrivals start all again.
#[test]
fn a_bag_opens_when_its_fish_go_into_water() {
    let mut room = Room::new().on(0, came_in(FISH[0], 10, None)).on(3, moved(FISH[0], None, Some(WATER[0])));
    assert_eq!(room.held(2), [(vec![FISH[0]], None)]);
    assert_eq!(room.held(4), [(vec![FISH[0]], Some(33))]);
}

#[test]
fn a_part_of_an_unopened_bag_opens_its_own() {
    let room = Room::new().on(0, came_in(FISH[0], 10, None));
    let mut room = room.on(2, split(FISH[0], FISH[1], Some(WATER[0])));
    assert_eq!(room.held(4), [(vec![FISH[0]], None), (vec![FISH[1]], Some(32))]);
}

#[test]
fn a_part_of_fish_that_are_held_takes_their_days_along() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let mut room = room.on(5, split(FISH[0], FISH[1], Some(WATER[1])));
    assert_eq!(room.held(6), [(vec![FISH[0]], Some(30)), (vec![FISH[1]], Some(30))]);
}

#[test]
fn fish_poured_out_of_a_bag_open_the_whole_bag_and_breach_whom_they_meet() {
    let room = Room::new().on(0, came_in(FISH[0], 10, None)).on(-5, home(FISH[1], 10, Some(WATER[0])));
    let mut room = room.on(-5, home(FISH[2], 10, Some(WATER[0]))).on(4, merged(FISH[0], FISH[1]));
    assert_eq!(room.held(3), [(vec![FISH[0]], None)]);
    assert_eq!(room.held(5), [(vec![FISH[0]], Some(34)), (vec![FISH[1], FISH[2]], Some(34))]);
}

#[test]
fn a_shared_sump_is_one_water() {
    let room =
        Room::new().on(-5, home(FISH[0], 10, Some(WATER[0]))).on(0, came_in(FISH[1], 10, Some(WATER[1])));
    let mut room = room.on(-5, plumbed(WATER[0], Some(SUMP))).on(7, plumbed(WATER[1], Some(SUMP)));
    assert_eq!(room.held(6), [(vec![FISH[1]], Some(30))]);
    assert_eq!(room.held(8), [(vec![FISH[0], FISH[1]], Some(37))]);
}

/// Of two changes of one tank's plumbing at one instant the later entry counts, whatever the ids.
#[test]
fn a_tank_taken_off_at_once_never_shared() {
    let room =
        Room::new().on(-5, home(FISH[0], 10, Some(WATER[0]))).on(0, came_in(FISH[1], 10, Some(WATER[1])));
    let room = room.on(-5, plumbed(WATER[0], Some(SUMP))).on(7, plumbed(WATER[1], Some(SUMP)));
    let mut room = room.on(7, plumbed(WATER[1], None));
    assert_eq!(room.held(8), [(vec![FISH[1]], Some(30))]);
}

/// A stock that may be in two places joins both waters.
#[test]
fn a_doubtful_stay_joins_two_waters() {
    let room =
        Room::new().on(-5, home(FISH[0], 10, Some(WATER[0]))).on(-5, home(FISH[1], 10, Some(WATER[1])));
    let room = room.on(-5, home(FISH[2], 10, Some(WATER[2]))).on(3, came_in(FISH[3], 10, Some(WATER[1])));
    // Said to be taken out of the third tank: it may have been there all the time.
    let mut room = room.on(6, moved(FISH[0], Some(WATER[2]), Some(WATER[0])));
    assert_eq!(room.held(7), [(vec![FISH[1], FISH[3]], Some(33))]);
    let mut room = room.on(7, moved(FISH[0], Some(WATER[1]), Some(WATER[0])));
    assert_eq!(room.held(8).iter().map(|(who, _)| who.len()).sum::<usize>(), 4);
}

#[test]
fn young_born_in_a_unit_are_members_and_start_nothing_again() {
    let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
    let mut room = room.on(20, young(FISH[1], Some(WATER[0])));
    assert_eq!(room.held(21), [(vec![FISH[0], FISH[1]], Some(30))]);
}

#[test]
fn a_sign_off_frees_a_whole_unit_that_is_due() {
    let two = || {
        let mut room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
        for n in [7, 14, 21, 28] {
            room = room.on(n, looked(vec![WATER[0]]));
        }
        room.on(0, came_in(FISH[1], 10, Some(WATER[0])))
    };
    assert_eq!(two().on(31, cleared(vec![FISH[0], FISH[1]])).held(32), []);
    let all = [(vec![FISH[0], FISH[1]], Some(30))];
    assert_eq!(two().on(31, cleared(vec![FISH[0]])).held(32), all, "a part");
    assert_eq!(two().on(29, cleared(vec![FISH[0], FISH[1]])).held(32), all, "too early");
    // An arrival written down later makes it too early.
    let late = two().on(31, cleared(vec![FISH[0], FISH[1]])).on(20, came_in(FISH[2], 10, Some(WATER[0])));
    let mut late = late.on(21, moved(FISH[2], Some(WATER[0]), Some(WATER[1])));
    assert_eq!(late.held(32), [(vec![FISH[0], FISH[1]], Some(50)), (vec![FISH[2]], Some(50))]);
}

/// A gap between looks holds a unit until a steward lets it pass, for each stock by itself.
#[test]
fn a_gap_is_waived_by_name() {
    let two = || {
        let room = Room::new().on(0, came_in(FISH[0], 10, Some(WATER[0])));
        room.on(0, came_in(FISH[1], 10, Some(WATER[0]))).on(9, looked(vec![WATER[0]]))
    };
    let passing = |stock, until| Waiver {
        blocker: BlockerKind::ObservationGap,
        entry: None,
        stock: Some(stock),
        until: Some(day(until)),
        why: "on holiday, the neighbour looked".into(),
    };
    let sign = || cleared(vec![FISH[0], FISH[1]]);
    let all = [(vec![FISH[0], FISH[1]], Some(30))];
    let one = vec![passing(FISH[0], 30)];
    let both = vec![passing(FISH[0], 30), passing(FISH[1], 30)];
    let short = vec![passing(FISH[0], 30), passing(FISH[1], 29)];
    assert_eq!(two().on(30, sign()).held(31), all);
    assert_eq!(two().on(29, waived(one)).on(30, sign()).held(31), all);
    assert_eq!(two().on(29, waived(short)).on(30, sign()).held(31), all);
    assert_eq!(two().on(29, waived(both)).on(30, sign()).held(31), []);
}
