//! One schedule: four rooms of four keepers with five devices, and what they do.

use super::super::Played;
use super::super::device::{Device, Sync};
use super::super::edit::Edit;
use super::super::world::World;
use super::bags::{Bag, typed};
use super::{deeds, rows};
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use serde_json::{Value, json};
use std::fmt::Write;
use tarn_tests::pen::{Pen, id};
use tarn_tests::people::Person;
use tarn_tests::society::{register, taken};
use uuid::Uuid;

/// In whose room each device is: the first keeper has two.
pub const DEVICES: [usize; 5] = [0, 0, 1, 2, 3];
/// How far clocks are off, in minutes: beyond what the server lets pass, and within.
const SKEWS: [i64; 6] = [0, 0, 0, -10, 4, 7];
/// After so many rounds of syncing without misfortune everything must have come to rest.
const ROUNDS: usize = 12;
/// So many steps lie between two looks at the balance.
const LOOK_EVERY: usize = 7;

/// A keeper's room.
pub struct Home {
    pub owner: Person,
    pub stream: String,
}

pub struct Four {
    seed: u64,
    rng: StdRng,
    pub homes: Vec<Home>,
    pub devices: Vec<Device>,
    /// Which devices are away until the next phase.
    away: [bool; DEVICES.len()],
    bags: Vec<Bag>,
    moved: bool,
    /// How many entries were refused in the end, or waited.
    pub refused: usize,
    diary: String,
}

impl Four {
    /// Rooms with fish that have been there always; those may leave after the days of the rule.
    pub fn new(world: &World, seed: u64) -> Self {
        let mut rng = StdRng::seed_from_u64(seed ^ 0x6261_6773);
        let owners =
            ["ada", "ben", "cleo", "dora"].map(|name| world.club.member(&format!("{name}{seed}"), None));
        let new = |(number, home): (usize, &usize)| Device::new(world, seed, number, &owners[*home], 0);
        let mut devices: Vec<Device> = DEVICES.iter().enumerate().map(new).collect();
        let mut homes = Vec::new();
        for (home, owner) in owners.into_iter().enumerate() {
            let first = DEVICES.iter().position(|of| *of == home).expect("each has a device");
            let stream = devices[first].add_room(world);
            let observer = format!("/api/v1/rooms/{stream}/keepers/{}", world.observer.login);
            owner.caller.put(&observer, &json!({})).expect(204);
            let club = json!({"club": world.club.id});
            owner.caller.put(&format!("/api/v1/rooms/{stream}/home-club"), &club).expect(200);
            let pen = Pen::new();
            register(&owner, &stream, &pen).expect(200);
            let ops: Vec<Value> = furnished(&mut rng).into_iter().map(|body| pen.op(body)).collect();
            taken(&owner, &stream, &ops);
            homes.push(Home { owner, stream });
        }
        let away = [false; DEVICES.len()];
        Self {
            seed,
            rng,
            homes,
            devices,
            away,
            bags: Vec::new(),
            moved: false,
            refused: 0,
            diary: String::new(),
        }
    }

    /// All devices know what is there.
    pub fn begin(&mut self, world: &World) -> Result<(), String> {
        // the first time they only find that they have to log in again
        self.sync_all(world)?;
        let knows = |device: &Device| !device.stocks.is_empty();
        if self.devices.iter().all(knows) { Ok(()) } else { Err("a device knows no stock".into()) }
    }

    pub fn ids(&self) -> Vec<Uuid> {
        self.homes.iter().map(|home| home.stream.parse().expect("a stream's id")).collect()
    }

    /// A few steps, and a look at the balance now and then.
    pub fn phase(&mut self, world: &World) -> Result<(), String> {
        for at in 0..self.devices.len() {
            self.away[at] = self.rng.random_bool(0.2);
            self.devices[at].skew_ms = SKEWS.choose(&mut self.rng).copied().unwrap_or_default() * 60_000;
        }
        for step in 1..=self.rng.random_range(15..24) {
            self.step(world)?;
            if step % LOOK_EVERY == 0 {
                self.balance(world)?;
            }
        }
        Ok(())
    }

    fn step(&mut self, world: &World) -> Result<(), String> {
        let at = self.rng.random_range(0..self.devices.len());
        let said = match self.rng.random_range(0..100) {
            0..30 => {
                let edit = deeds::some(&self.devices[at], &mut self.rng);
                self.devices[at].write(world, &edit)?
            }
            30..44 => self.pack(world, at)?,
            44..48 => self.hand(world, at)?,
            48..64 => self.arrive(world, at)?,
            64..68 => {
                let edit = self.any(at);
                self.devices[at].write_killed(world, &edit, self.rng.random_range(0..12_000))?
            }
            68..94 if self.away[at] => "away".into(),
            68..94 => {
                let how = Sync::some(&mut self.rng);
                self.devices[at].sync(world, how)?
            }
            94..97 => {
                let stream = &self.homes[DEVICES[at]].stream;
                self.devices[at].edit_on_page(stream, &mut self.rng)
            }
            _ => self.devices[at].replay(&mut self.rng).0,
        };
        let _ = writeln!(self.diary, "  device {at}: {said}");
        Ok(())
    }

    /// Something that is not acknowledged.
    fn any(&mut self, at: usize) -> Edit {
        let to = self.homes[self.rng.random_range(0..self.homes.len())].owner.login.clone();
        let packs = deeds::packs(&self.devices[at], &to, &mut self.rng).filter(|_| self.rng.random_bool(0.5));
        packs.map_or_else(|| deeds::some(&self.devices[at], &mut self.rng), |(edit, _, _)| edit)
    }

    fn pack(&mut self, world: &World, at: usize) -> Result<String, String> {
        let from = DEVICES[at];
        // a bag that was never opened goes back to whoever gave it
        let unopened = self.bags.iter().find_map(|bag| {
            let (_, name) = bag.came.iter().find(|(room, name)| *room == from && name.is_some())?;
            Some((bag.from, name.clone()?, bag.n, bag.sex))
        });
        let packed = match unopened.filter(|_| self.rng.random_bool(0.4)) {
            Some((to, name, n, sex)) => {
                let fish = format!("{name}={}", typed(n, sex));
                let words = ["parcel", "pack", "--to", &self.homes[to].owner.login, &fish].map(str::to_owned);
                Some((to, Edit { arguments: words.into(), tank: None, stock: None }, n, sex))
            }
            None => {
                let to = (from + self.rng.random_range(1..self.homes.len())) % self.homes.len();
                let login = self.homes[to].owner.login.clone();
                deeds::packs(&self.devices[at], &login, &mut self.rng)
                    .map(|(edit, n, sex)| (to, edit, n, sex))
            }
        };
        let Some((to, edit, n, sex)) = packed else { return Ok("nothing to pack".into()) };
        let (mut said, told) = self.devices[at].write_told(world, &edit)?;
        let Some(parcel) = told.and_then(|told| told["parcel"].as_str().map(str::to_owned)) else {
            return Ok(said);
        };
        if self.rng.random_bool(0.75) {
            let hand = deeds::hands(&parcel, &mut self.rng);
            let _ = write!(said, "; {}", self.devices[at].write(world, &hand)?);
        }
        self.bags.push(Bag { parcel, from, to, n, sex, came: Vec::new() });
        Ok(said)
    }

    fn hand(&mut self, world: &World, at: usize) -> Result<String, String> {
        let mine: Vec<&Bag> = self.bags.iter().filter(|bag| bag.from == DEVICES[at]).collect();
        let Some(bag) = mine.choose(&mut self.rng) else { return Ok("nothing to hand over".into()) };
        let hand = deeds::hands(&bag.parcel, &mut self.rng);
        self.devices[at].write(world, &hand)
    }

    /// Some bag arrives somewhere: with the device that happens to be there, if it is to be this one.
    fn arrive(&mut self, world: &World, at: usize) -> Result<String, String> {
        let fresh: Vec<usize> = (0..self.bags.len()).filter(|bag| self.bags[*bag].came.is_empty()).collect();
        let all: Vec<usize> = (0..self.bags.len()).collect();
        let some = if self.rng.random_bool(0.8) { &fresh } else { &all };
        let Some(bag) = some.choose(&mut self.rng).copied() else { return Ok("no bag is there".into()) };
        let room = self.bags[bag].goes_to(self.homes.len(), &mut self.rng);
        let at =
            if DEVICES[at] == room { at } else { DEVICES.iter().rposition(|of| *of == room).unwrap_or(at) };
        let name = format!("a{}", self.devices[at].next_name());
        let tank =
            self.devices[at].tanks.choose(&mut self.rng).filter(|_| self.rng.random_bool(0.35)).cloned();
        let arrives = self.bags[bag].arrives(&name, tank.as_ref(), &mut self.rng);
        let edit = deeds::dated(arrives, &mut self.rng);
        let (said, told) = self.devices[at].write_told(world, &edit)?;
        if told.is_some() {
            self.bags[bag].came.push((room, tank.is_none().then_some(name)));
        }
        Ok(format!("(device {at}) {said}"))
    }

    /// The server may have lost what it had acknowledged.
    pub fn server_went_back(&mut self) -> Result<(), String> {
        let _ = writeln!(self.diary, "  the server went back");
        self.devices.iter_mut().for_each(Device::server_went_back);
        Ok(())
    }

    /// The secretary settles some parcels that were not closed in time, of those that the server knows of.
    pub fn settle_overdue(&mut self, world: &World) -> Result<(), String> {
        for device in &mut self.devices {
            // after so many days they have to log in again first
            device.sync(world, Sync::Well)?;
            device.sync(world, Sync::Well)?;
        }
        let officer = &world.club.secretary.caller;
        let overdue = officer.get("/api/v1/parcels/overdue").expect(200).json();
        for told in overdue["parcels"].as_array().into_iter().flatten() {
            let parcel = told["parcel"].as_str().unwrap_or_default();
            if self.bags.iter().all(|bag| bag.parcel != parcel) || self.rng.random_bool(0.3) {
                continue;
            }
            let outcome = ["arrived", "returned", "lost"].choose(&mut self.rng).copied().unwrap_or("lost");
            let says = json!({"id": id(), "outcome": outcome, "why": "both were asked"});
            let done = officer.post(&format!("/api/v1/parcels/{parcel}/settlement"), &says);
            let _ = writeln!(self.diary, "  the secretary settles {parcel} as {outcome}: {}", done.status);
        }
        self.balance(world)
    }

    /// All devices sync until nothing moves any more.
    pub fn sync_all(&mut self, world: &World) -> Result<(), String> {
        self.moved = false;
        for round in 0..ROUNDS {
            let mut moved = false;
            for (at, device) in self.devices.iter_mut().enumerate() {
                let said = device.sync(world, Sync::Well)?;
                moved |= said != "sync: done";
                let _ = writeln!(self.diary, "  round {round}, device {at}: {said}");
            }
            if !moved {
                return Ok(());
            }
            self.moved = true;
        }
        Err(format!("no rest after {ROUNDS} rounds"))
    }

    /// Whether anything moved when all synced the last time.
    pub fn has_moved(&self) -> bool {
        self.moved
    }

    /// No fish is made or lost: what the server's rows hold is what its ops brought, by node.
    pub fn balance(&mut self, world: &World) -> Result<(), String> {
        let (there, should) = rows::balance(world, &self.ids())?;
        let _ = writeln!(self.diary, "  {} nodes balanced", there.len());
        if there == should {
            Ok(())
        } else {
            Err(format!("the rows hold {there:?}\nand the ops brought {should:?}"))
        }
    }
}

/// A room's tanks, and fish that were always here.
fn furnished(rng: &mut StdRng) -> Vec<Value> {
    let mut ops = Vec::new();
    for number in 1..=6 {
        let (tank, stock, node) = (id(), id(), id());
        ops.push(json!({"op": "tank.added", "tank": tank, "name": format!("h{number}")}));
        if number > 4 {
            continue;
        }
        let rows = ["male", "female", "unsexed"]
            .map(|sex| json!({"node": node, "sex": sex, "n": rng.random_range(2..9)}));
        let founders = json!({"node": node, "origin": "bought", "related": "not_known"});
        ops.push(
            json!({"op": "stock.established", "stock": stock, "tank": tank, "name": format!("f{number}"),
            "species": "Danio", "rows": rows, "founders": founders}),
        );
    }
    ops
}

impl Played for Four {
    fn told(&self) -> String {
        let rooms: Vec<&str> = self.homes.iter().map(|home| home.stream.as_str()).collect();
        let seed = self.seed;
        format!("seed {seed} (TARN_SEED={seed} TARN_SCHEDULES=1), rooms {rooms:?}:\n{}", self.diary)
    }
}
