//! Properties 1 to 3 of sync, with real processes: random schedules of three devices and two keepers, with everything
//! that can go wrong going wrong. Whatever happens, all devices and the server end with the same state, nothing
//! acknowledged is lost or doubled, and no device's later edit loses to its earlier one.
//!
//! Several rooms, each with a schedule of its own, share one server: what befalls the server befalls all of them.
//! `TARN_SCHEDULES` says how many (50; 200 and more before a release), `TARN_SEED` with which seed they begin (0),
//! `TARN_TELL` tells all that happened. A failure names the seed; moments at which something is killed are never quite
//! the same again.

mod between;
mod device;
mod edit;
mod ledger;
mod page;
mod room;
mod world;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use tarn_tests::on_both_engines;
use world::World;

/// Rooms on one server.
const ROOMS: u64 = 25;
/// What the rooms do between two misfortunes of the server.
const PHASES: usize = 6;
/// Threads that drive rooms; more would only queue for the processors.
const WORKERS: usize = 2;

on_both_engines! {
    fn random_schedules_converge_and_lose_nothing(engine) {
        let (first, schedules) = (number("TARN_SEED", 0), number("TARN_SCHEDULES", 50));
        let mut seed = first;
        while seed < first + schedules {
            let rooms = ROOMS.min(first + schedules - seed);
            play(World::new(engine, seed), rooms);
            seed += rooms;
        }
    }
}

/// What the environment says, if it does.
fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |v| v.parse().expect("a number"))
}

/// One schedule while it is played.
trait Played: Send {
    /// What happened, for a failure's message.
    fn told(&self) -> String;
}

/// Plays one server's rooms to the end and checks them.
fn play(mut world: World, rooms: u64) {
    let seeds = world.seed..world.seed + rooms;
    let mut rooms: Vec<room::Room> = seeds.map(|seed| room::Room::new(&world, seed)).collect();
    world.save();
    for _ in 0..PHASES {
        world.begin_phase();
        each(&mut rooms, |room| room.phase(&world));
        world.sign_in();
        each(&mut rooms, |room| room.observe(&world));
        if world.misfortune() {
            each(&mut rooms, |room| room.server_went_back());
        }
    }
    world.calm();
    each(&mut rooms, |room| room.settle(&world));
    world.sign_in();
    each(&mut rooms, |room| room.check(&world));
    world.check();
    if std::env::var_os("TARN_TELL").is_some() {
        rooms.iter().for_each(|room| println!("{}", room.told()));
    }
    let proved = rooms.iter().map(room::Room::proved);
    let (acknowledged, settled) = proved.fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let enough = (acknowledged, settled) > (rooms.len() * 3, rooms.len());
    assert!(enough, "{acknowledged} acknowledged, {settled} settled: that proves nothing");
}

/// Does something with every schedule, a few at a time; fails with everything that any of them complains of.
fn each<P: Played>(rooms: &mut [P], what: impl Fn(&mut P) -> Result<(), String> + Sync) {
    let complaints = Mutex::new(Vec::new());
    let count = rooms.len();
    let cells: Vec<Mutex<&mut P>> = rooms.iter_mut().map(Mutex::new).collect();
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..WORKERS {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    if at >= count {
                        return;
                    }
                    let mut room = cells[at].lock().expect("no other thread has it");
                    if let Err(complaint) = what(&mut room) {
                        let told = format!("{complaint}\n{}", room.told());
                        complaints.lock().expect("no other thread failed holding it").push(told);
                    }
                }
            });
        }
    });
    let complaints = complaints.into_inner().expect("no thread failed holding it");
    assert!(
        complaints.is_empty(),
        "{} of {count} schedules:\n\n{}",
        complaints.len(),
        complaints.join("\n\n")
    );
}
