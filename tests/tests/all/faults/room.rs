//! One room with its schedule: two keepers, three devices, what they do and what goes wrong with it.

use super::Played;
use super::device::{Device, Sync};
use super::edit::Edit;
use super::ledger::{self, Ledger, Pulled};
use super::world::World;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use tarn_domain::catalogue::BLANKED;

/// How long a device's clock is off, in minutes: beyond what the server lets pass, and within.
const SKEWS: [i64; 6] = [0, 0, -10, 10, 7, 4];
/// After so many rounds of syncing without misfortune everything must have come to rest.
const ROUNDS: usize = 12;

pub struct Room {
    seed: u64,
    rng: StdRng,
    stream: String,
    devices: Vec<Device>,
    ledger: Ledger,
    /// Entries of which words were blanked, each with the device that saw it done and holds the decision.
    blanked: Vec<(usize, String)>,
    /// Rises when the server loses what it had acknowledged.
    generation: u32,
    diary: String,
}

impl Room {
    pub fn new(world: &World, seed: u64) -> Self {
        let mut rng = StdRng::seed_from_u64(seed);
        let owners = ["ada", "ben"].map(|name| world.club.member(&format!("{name}{seed}"), None));
        let mut devices: Vec<Device> = [0, 0, 1]
            .into_iter()
            .enumerate()
            .map(|(number, owner)| {
                let skew = SKEWS.choose(&mut rng).copied().unwrap_or_default();
                Device::new(world, seed, number, &owners[owner], skew * 60_000)
            })
            .collect();
        let stream = devices[0].add_room(world);
        for other in [&owners[1], &world.observer] {
            let path = format!("/api/v1/rooms/{stream}/keepers/{}", other.login);
            owners[0].caller.put(&path, &json!({})).expect(204);
        }
        for _ in 0..6 {
            let edit = Edit::some(&mut rng, &devices[0]);
            devices[0].write(world, &edit).expect("the first entries are written");
        }
        for device in &mut devices {
            device.sync(world, Sync::Well).expect("the first sync goes well");
        }
        // the device that never returns leaves in some phase, after it has taken part
        if rng.random_bool(0.25) {
            let lost = rng.random_range(0..3);
            devices[lost].leaves_after = Some(rng.random_range(1..super::PHASES));
        }
        let (ledger, blanked) = (Ledger::default(), Vec::new());
        Self { seed, rng, stream, devices, ledger, blanked, generation: 0, diary: String::new() }
    }

    /// How many ops were acknowledged, and of how many the first time of acceptance is known for good: a run in which
    /// there are none would prove nothing.
    pub fn proved(&self) -> (usize, usize) {
        (self.devices.iter().map(|d| d.acknowledged().len()).sum(), self.ledger.settled())
    }

    /// A few steps of the schedule.
    pub fn phase(&mut self, world: &World) -> Result<(), String> {
        for device in &mut self.devices {
            // somebody puts the phone's clock right, or wrong
            if let (true, Some(skew)) = (self.rng.random_bool(0.3), SKEWS.choose(&mut self.rng)) {
                device.skew_ms = skew * 60_000;
            }
        }
        for _ in 0..self.rng.random_range(3..9) {
            self.step(world)?;
        }
        for device in &mut self.devices {
            device.leaves_after = device.leaves_after.map(|phases| phases.saturating_sub(1));
        }
        Ok(())
    }

    fn step(&mut self, world: &World) -> Result<(), String> {
        let present: Vec<usize> = (0..self.devices.len()).filter(|d| !self.devices[*d].is_gone()).collect();
        let at = *present.choose(&mut self.rng).ok_or("no device is left")?;
        let device = &mut self.devices[at];
        let rng = &mut self.rng;
        let said = match rng.random_range(0..100) {
            0..52 => {
                let edit = Edit::some(rng, device);
                device.write(world, &edit)?
            }
            52..56 => {
                let edit = Edit::some(rng, device);
                device.write_killed(world, &edit, rng.random_range(0..12_000))?
            }
            56..84 => {
                let how = Sync::some(rng);
                device.sync(world, how)?
            }
            84..91 => device.edit_on_page(&self.stream, rng),
            91..93 => {
                let (said, blanked) = device.redact(world)?;
                self.blanked.extend(blanked.map(|op| (at, op)));
                said
            }
            _ => {
                let (said, strays) = device.replay(rng);
                strays.iter().for_each(|op| self.ledger.strays(op));
                said
            }
        };
        let _ = writeln!(self.diary, "  device {at}: {said}");
        Ok(())
    }

    /// Reads what the server holds, before it may lose it.
    pub fn observe(&mut self, world: &World) -> Result<(), String> {
        let ops = ledger::pull_all(&world.observer.caller, &self.stream)?;
        let _ = writeln!(self.diary, "  the server holds {} ops", ops.len());
        self.ledger.see(&ops)?;
        for device in &self.devices {
            for op in device.synced() {
                self.ledger.settle(op);
            }
        }
        Ok(())
    }

    /// The server has lost something.
    pub fn server_went_back(&mut self) -> Result<(), String> {
        self.generation += 1;
        let _ = writeln!(self.diary, "  the server went back");
        for device in &mut self.devices {
            device.server_went_back();
        }
        Ok(())
    }

    /// All devices that come back sync until nothing moves any more.
    pub fn settle(&mut self, world: &World) -> Result<(), String> {
        for round in 0..ROUNDS {
            let mut moved = false;
            for (at, device) in self.devices.iter_mut().enumerate().filter(|(_, d)| !d.is_lost()) {
                let said = device.sync(world, Sync::Well)?;
                moved |= said != "sync: done";
                let _ = writeln!(self.diary, "  round {round}, device {at}: {said}");
            }
            if !moved {
                return Ok(());
            }
        }
        Err(format!("no rest after {ROUNDS} rounds"))
    }

    /// What must hold in the end.
    pub fn check(&mut self, world: &World) -> Result<(), String> {
        let ops = ledger::pull_all(&world.observer.caller, &self.stream)?;
        self.ledger.see(&ops)?;
        let by_id: BTreeMap<&str, &Pulled> = ops.iter().map(|op| (op.id(), op)).collect();
        if by_id.len() != ops.len() {
            return Err("an op is on the server twice".into());
        }
        if ops.iter().zip(1..).any(|(op, seq)| op.seq != seq) {
            return Err("the numbers have a gap".into());
        }
        for (_, op) in self.blanked.iter().filter(|(at, _)| !self.devices[*at].is_lost()) {
            let now = by_id.get(op.as_str()).map(|pulled| &pulled.op["body"]["food"]);
            if now.is_none_or(|food| food != BLANKED) {
                return Err(format!("{op} was blanked and reads {now:?}"));
            }
        }
        let state = ledger::shuffled(&ops, &mut self.rng)?.text();
        let servers =
            world.observer.caller.get(&format!("/api/v1/streams/{}/state", self.stream)).expect(200).text;
        if servers != state {
            return Err(format!("the server says:\n{servers}\nand its ops say:\n{state}"));
        }
        for (at, device) in self.devices.iter().enumerate().filter(|(_, d)| !d.is_lost()) {
            let theirs = device.state()?;
            if theirs != state {
                return Err(format!("device {at} has another state:\n{theirs}\nthan the server:\n{state}"));
            }
            let acknowledged = device.acknowledged();
            let ids: BTreeSet<&str> = acknowledged.iter().map(|w| w.op.as_str()).collect();
            if ids.len() != acknowledged.len() {
                return Err(format!("device {at} has used an id twice"));
            }
            let mut last = None;
            for written in acknowledged {
                let Some(op) = by_id.get(written.op.as_str()) else {
                    return Err(format!("device {at}: {} is lost ({})", written.op, written.what));
                };
                if last.is_some_and(|clock| clock >= op.clock()) {
                    return Err(format!("device {at}: {} is not later than the one before it", written.op));
                }
                last = Some(op.clock());
            }
        }
        Ok(())
    }
}

impl Played for Room {
    fn told(&self) -> String {
        format!(
            "seed {} (TARN_SEED={} TARN_SCHEDULES=1), room {}:\n{}",
            self.seed, self.seed, self.stream, self.diary
        )
    }
}
