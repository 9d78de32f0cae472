//! Two server processes on one PostgreSQL under pushes, event streams and sign-ins, while every few seconds one of them is
//! killed. Ends with 1 if an acknowledged op is lost or doubled, an event stream misses one, or a caller gets nothing done
//! for 15 seconds.
//!
//! ```text
//! cargo bench -p tarn-tests --bench killed [-- SECONDS]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Caller, try_send};
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, id, push, tank};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::society::register;

const ROOMS: usize = 6;
/// Devices that push into each room.
const DEVICES: usize = 2;
const SIGNING_IN: usize = 2;
/// Between two kills; a process is away for a part of it.
const BETWEEN: Duration = Duration::from_millis(3_000);
const AWAY: Duration = Duration::from_millis(700);
const MOST_WAIT: Duration = Duration::from_secs(15);

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let seconds = std::env::args().skip(1).find_map(|said| said.parse().ok()).unwrap_or(120);
    let world = World::new();
    let kills = world.run(Duration::from_secs(seconds));
    if world.told(kills) { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

struct Room {
    keeper: Person,
    id: String,
    pens: Vec<Pen>,
    epoch: String,
    /// What the server acknowledged: op and number.
    acked: Mutex<BTreeMap<String, u64>>,
    /// What the event stream brought, by number.
    seen: Mutex<Vec<(u64, String)>>,
}

struct World {
    servers: Mutex<[Server; 2]>,
    addresses: [String; 2],
    rooms: Vec<Room>,
    over: AtomicBool,
    /// No caller writes any more; event streams still read what there is.
    written: AtomicBool,
    signed_in: AtomicU64,
    longest_ms: AtomicU64,
}

/// Since when a caller has got nothing done.
struct Patience<'a> {
    since: Instant,
    longest_ms: &'a AtomicU64,
}

impl Patience<'_> {
    fn done(&mut self) {
        let waited = u64::try_from(self.since.elapsed().as_millis()).unwrap_or(u64::MAX);
        self.longest_ms.fetch_max(waited, Ordering::Relaxed);
        self.since = Instant::now();
    }
}

impl World {
    fn new() -> Self {
        let server = Server::start(Engine::Postgres);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let rooms = (0..ROOMS).map(|n| room(&club, n)).collect();
        let other = server.beside();
        let addresses = [server.url(""), other.url("")].map(|url| url.trim_end_matches('/').to_owned());
        Self {
            servers: Mutex::new([server, other]),
            addresses,
            rooms,
            over: AtomicBool::new(false),
            written: AtomicBool::new(false),
            signed_in: AtomicU64::new(0),
            longest_ms: AtomicU64::new(0),
        }
    }

    fn patience(&self) -> Patience<'_> {
        Patience { since: Instant::now(), longest_ms: &self.longest_ms }
    }

    /// Lets everybody work, and kills; how often.
    fn run(&self, lasts: Duration) -> usize {
        std::thread::scope(|scope| {
            for room in &self.rooms {
                for pen in &room.pens {
                    scope.spawn(move || self.push_on(room, pen));
                }
                scope.spawn(move || self.follow(room));
            }
            for n in 0..SIGNING_IN {
                scope.spawn(move || self.sign_in_on(n));
            }
            let (begun, mut kills) = (Instant::now(), 0);
            while begun.elapsed() < lasts {
                std::thread::sleep(BETWEEN.saturating_sub(AWAY));
                let mut servers = self.servers.lock().expect("nobody else holds them");
                servers[kills % 2].kill();
                std::thread::sleep(AWAY);
                servers[kills % 2].start_again();
                kills += 1;
            }
            self.written.store(true, Ordering::Relaxed);
            // what is there is still brought by the event streams
            let until = Instant::now() + MOST_WAIT;
            while Instant::now() < until && !self.all_is_seen() {
                std::thread::sleep(Duration::from_millis(50));
            }
            self.over.store(true, Ordering::Relaxed);
            // their next word may come late: a process that ends ends them
            for server in self.servers.lock().expect("nobody else holds them").iter_mut() {
                server.stop();
                server.start_again();
            }
            kills
        })
    }

    fn all_is_seen(&self) -> bool {
        self.rooms.iter().all(|room| {
            let acked = room.acked.lock().expect("it can be read").values().max().copied().unwrap_or(0);
            room.seen.lock().expect("it can be read").last().is_some_and(|(seq, _)| *seq >= acked)
        })
    }

    fn push_on(&self, room: &Room, pen: &Pen) {
        let (mut n, mut patience) = (0, self.patience());
        while !self.written.load(Ordering::Relaxed) {
            let op = pen.op(tank(&format!("T{}", id())));
            let body = push(std::slice::from_ref(&op));
            let path = format!("/api/v1/streams/{}/ops", room.id);
            // the same op again until it is acknowledged: once more is once
            loop {
                let caller = room.keeper.caller.moved_to(&self.addresses[n % 2]);
                let answer = try_send(caller.request(Method::POST, &path).json(&body));
                let seq = answer
                    .ok()
                    .filter(|a| a.status == 200)
                    .and_then(|a| a.json()["results"][0]["seq"].as_u64());
                if let Some(seq) = seq {
                    let op = op["id"].as_str().expect("it has an id").to_owned();
                    room.acked.lock().expect("it can be written").insert(op, seq);
                    patience.done();
                    break;
                }
                n += 1;
                std::thread::sleep(Duration::from_millis(30));
            }
        }
    }

    fn follow(&self, room: &Room) {
        let (mut n, mut patience, mut last) = (0, self.patience(), format!("{}/0", room.epoch));
        while !self.over.load(Ordering::Relaxed) {
            let caller = room.keeper.caller.moved_to(&self.addresses[n % 2]);
            n += 1;
            let path = format!("/api/v1/streams/{}/live?epoch={}&after=0", room.id, room.epoch);
            let opened = caller.request(Method::GET, &path).header("last-event-id", &last).send();
            let Ok(answer) = opened.and_then(reqwest::blocking::Response::error_for_status) else {
                std::thread::sleep(Duration::from_millis(30));
                continue;
            };
            let mut event = String::new();
            for line in BufReader::new(answer).lines() {
                let Ok(line) = line else { break };
                if let Some(id) = line.strip_prefix("id: ") {
                    id.clone_into(&mut event);
                } else if let Some(data) = line.strip_prefix("data: ")
                    && let Ok(told) = serde_json::from_str::<Value>(data)
                    && let (Some(seq), Some(op)) = (told["seq"].as_u64(), told["op"]["id"].as_str())
                {
                    room.seen.lock().expect("it can be written").push((seq, op.to_owned()));
                    last.clone_from(&event);
                    patience.done();
                }
            }
        }
    }

    fn sign_in_on(&self, mut n: usize) {
        let who = &self.rooms[n % ROOMS].keeper;
        let (wanted, mut patience) =
            (json!({"login_name": who.login, "password": PASSWORD}), self.patience());
        while !self.written.load(Ordering::Relaxed) {
            let answer = try_send(
                Caller::at(&self.addresses[n % 2]).request(Method::POST, "/api/v1/sessions").json(&wanted),
            );
            match answer {
                Ok(answer) if answer.status == 200 => {
                    self.signed_in.fetch_add(1, Ordering::Relaxed);
                    patience.done();
                }
                _ => n += 1,
            }
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// What came of it, compared with what the streams hold.
    fn told(&self, kills: usize) -> bool {
        let (mut acked, mut lost, mut unseen) = (0, 0, 0);
        for room in &self.rooms {
            let held = self.held(room);
            let theirs = room.acked.lock().expect("it can be read");
            acked += theirs.len();
            let there: BTreeMap<&str, u64> = held.iter().map(|(seq, op)| (op.as_str(), *seq)).collect();
            lost += held.len() - there.len();
            lost += theirs.iter().filter(|(op, seq)| there.get(op.as_str()) != Some(seq)).count();
            let seen = room.seen.lock().expect("it can be read");
            unseen += usize::from(*seen != held);
        }
        let longest = Duration::from_millis(self.longest_ms.load(Ordering::Relaxed));
        println!(
            "killed   postgres  {kills} kills of one of two processes: {acked} ops acknowledged, {lost} of them lost or doubled; \
             {ROOMS} event streams, {unseen} of them not as the stream; {} sign-ins; nobody waited longer than {:.1} s \
             (at most {} s)",
            self.signed_in.load(Ordering::Relaxed),
            longest.as_secs_f64(),
            MOST_WAIT.as_secs()
        );
        lost == 0 && unseen == 0 && acked > 0 && longest <= MOST_WAIT
    }

    fn held(&self, room: &Room) -> Vec<(u64, String)> {
        let caller = room.keeper.caller.moved_to(&self.addresses[0]);
        let mut all = Vec::new();
        loop {
            let after = all.last().map_or(0, |(seq, _): &(u64, String)| *seq);
            let path =
                format!("/api/v1/streams/{}/ops?epoch={}&after={after}&limit=5000", room.id, room.epoch);
            // the chain is only asked for where one is told
            let page = caller.get(&path).expect(200).json();
            let ops = page["ops"].as_array().cloned().unwrap_or_default();
            all.extend(
                ops.iter().filter_map(|op| Some((op["seq"].as_u64()?, op["op"]["id"].as_str()?.to_owned()))),
            );
            if page["more"] != json!(true) {
                return all;
            }
        }
    }
}

fn room(club: &Club, n: usize) -> Room {
    let keeper = club.member(&format!("keeper{n}"), None);
    let room = id();
    keeper.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Room", "zone": "UTC"})).expect(201);
    let pens: Vec<Pen> = (0..DEVICES).map(|_| Pen::new()).collect();
    let mut epoch = String::new();
    for pen in &pens {
        let told = register(&keeper, &room, pen).expect(200).json();
        told["epoch"].as_str().expect("an epoch").clone_into(&mut epoch);
    }
    Room { keeper, id: room, pens, epoch, acked: Mutex::default(), seen: Mutex::default() }
}
