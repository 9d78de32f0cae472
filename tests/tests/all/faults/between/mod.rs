//! Conservation between rooms, with real processes: four rooms of four keepers send each other fish, with everything that
//! can go wrong going wrong. At every moment, whatever is still pending on the devices, the server's rows hold just
//! the fish that its ops brought: by lineage node, with signs,
//! Σ established + came in + born + corrections − lost − left − dead on the way − settled
//! = Σ rows of all stocks + Σ open of all parcels.
//!
//! Several schedules share one server. `TARN_SCHEDULES` says how many (12; 60 and more before a release), `TARN_SEED`
//! with which seed they begin, `TARN_TELL` tells all that happened.

mod bags;
mod books;
mod deeds;
mod end;
mod four;
mod happened;
mod rows;

use super::world::World;
use super::{Played, each, number};
use four::Four;
use happened::Happened;
use tarn_tests::on_both_engines;

/// Schedules on one server.
const TOGETHER: u64 = 12;
/// What happens between two misfortunes of the server.
const PHASES: usize = 4;
/// What was always here may leave after the days of the rule.
const WAIT_DAYS: i64 = 31;
/// After so many days officers settle what was not closed.
const SETTLE_DAYS: i64 = 15;
/// Before this phase they go by.
const SETTLING: usize = 2;

on_both_engines! {
    fn no_fish_is_made_or_lost_between_rooms(engine) {
        let (first, schedules) = (number("TARN_SEED", 0), number("TARN_SCHEDULES", 12));
        let mut happened = Happened::default();
        let mut seed = first;
        while seed < first + schedules {
            let together = TOGETHER.min(first + schedules - seed);
            happened += play(World::new(engine, seed), together);
            seed += together;
        }
        println!("{happened}");
        happened.is_enough(schedules);
    }
}

/// Plays one server's schedules to the end and checks them; what happened in them.
fn play(mut world: World, schedules: u64) -> Happened {
    let seeds = world.seed..world.seed + schedules;
    let mut all: Vec<Four> = seeds.map(|seed| Four::new(&world, seed)).collect();
    world.pass(WAIT_DAYS);
    each(&mut all, |four| four.begin(&world));
    world.save();
    for phase in 0..PHASES {
        if phase == SETTLING {
            world.pass(SETTLE_DAYS);
            each(&mut all, |four| four.settle_overdue(&world));
        }
        world.begin_phase();
        each(&mut all, |four| four.phase(&world));
        if world.misfortune() {
            each(&mut all, Four::server_went_back);
        }
        each(&mut all, |four| four.balance(&world));
    }
    world.calm();
    loop {
        world.do_queued();
        each(&mut all, |four| four.sync_all(&world));
        if !all.iter().any(Four::has_moved) {
            break;
        }
    }
    world.sign_in();
    each(&mut all, |four| four.check(&world));
    world.check();
    if std::env::var_os("TARN_TELL").is_some() {
        all.iter().for_each(|four| println!("{}", four.told()));
    }
    all.iter().fold(Happened::default(), |mut sum, four| {
        sum += four.happened(&world);
        sum
    })
}
