//! The clock against a slow reading of it on random rooms, and the dates that are in print.

mod dice;
#[path = "quarantine/examples.rs"]
mod examples;
#[path = "quarantine/ops.rs"]
mod ops;
#[path = "quarantine/random.rs"]
mod random;
#[path = "quarantine/reference.rs"]
mod reference;
#[path = "quarantine/room.rs"]
mod room;
#[path = "quarantine/rounds.rs"]
mod rounds;
#[path = "quarantine/shrink.rs"]
mod shrink;

use tarn_domain::quarantine::{SharedWater, SignOffs, Unit};
use tarn_domain::state::reading;
use tarn_domain::streams::{At, ClubId, StockId, TankId};

use ops::{Record, adopted, came_in, day, home_club, id, rule, tank};

fn units(record: &Record, now: At) -> Vec<Unit> {
    reading(&record.memory, now, SignOffs::Verify).units
}

/// Two consignments into one water on day 0 and day 10, held for `q` days each.
fn two(shared: SharedWater, q: [u16; 2]) -> i64 {
    let mut record = Record::default();
    let (club, water) = (ClubId(id(200)), TankId(id(0)));
    record.write(day(-9), tank(water));
    record.write(day(-9), home_club(Some(club), day(-9)));
    record.write(day(-9), adopted(club, 1, day(-9), rule(q[0], shared)));
    record.write(day(0), came_in(StockId(id(1)), 10, Some(water)));
    record.write(day(5), adopted(club, 2, day(5), rule(q[1], shared)));
    record.write(day(10), came_in(StockId(id(2)), 10, Some(water)));
    record.fold();
    let there = units(&record, day(12));
    assert_eq!(there.len(), 1, "one water is one unit");
    assert_eq!(there[0].members.len(), 2);
    (there[0].due.expect("in water").seconds() - day(0).seconds()) / 86_400
}

/// Australian Department of Agriculture, Fisheries and Forestry, Import Industry Advice Notice 41-2025: on a shared
/// recirculating system fish are released only once the last consignment to enter has completed its period. Read as
/// `max(in + q)`: 21 days from day 0 and 7 days from day 10 → day 21 (worked by us); 14 and 14 → day 24 (seen).
#[test]
fn waiting_for_the_last() {
    assert_eq!(two(SharedWater::WaitForLast, [21, 7]), 21);
    assert_eq!(two(SharedWater::WaitForLast, [14, 14]), 24);
    assert_eq!(two(SharedWater::WaitForLast, [7, 21]), 31);
}

/// The other rule in use, `last in + longest q` (worked by us).
#[test]
fn starting_again_with_the_last() {
    assert_eq!(two(SharedWater::Restart, [21, 7]), 31);
    assert_eq!(two(SharedWater::Restart, [14, 14]), 24);
    assert_eq!(two(SharedWater::Restart, [7, 21]), 31);
}
