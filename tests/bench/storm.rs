//! Eight devices that sync, quiet at first, then beside 200 wrong passwords a second from many addresses. Ends with 1 if a
//! sync's 99th percentile in the storm is more than twice the quiet one of the same run, or if nobody who knows their
//! password gets in.
//!
//! ```text
//! cargo bench -p tarn-tests --bench storm [-- sqlite|postgres]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Caller, try_send};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, id, push, tank};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::society::register;
use tokio::task::JoinSet;
use tokio::time::MissedTickBehavior;

const DEVICES: usize = 8;
/// Between two syncs of a device.
const REST: Duration = Duration::from_millis(50);
const LASTS: Duration = Duration::from_secs(20);
/// Wrong passwords.
const A_SECOND: u64 = 200;
const MOST: f64 = 2.0;

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let said: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |engine: &Engine| {
        !said.iter().any(|w| w == "sqlite" || w == "postgres") || said.contains(&engine.name().to_owned())
    };
    let mut calm = true;
    for engine in [Engine::Sqlite, Engine::Postgres].into_iter().filter(wanted) {
        calm &= measure(engine);
    }
    if calm { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Somebody's device in a room of their own.
struct Device {
    who: Person,
    room: String,
    pen: Pen,
    epoch: String,
}

impl Device {
    fn new(club: &Club, n: usize) -> Self {
        let (who, room, pen) = (club.member(&format!("keeper{n}"), None), id(), Pen::new());
        who.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Room", "zone": "UTC"})).expect(201);
        let told = register(&who, &room, &pen).expect(200).json();
        let epoch = told["epoch"].as_str().expect("an epoch").to_owned();
        Self { who, room, pen, epoch }
    }

    /// A push of one op and a pull of what is new: how long both took.
    fn sync(&self, after: &mut u64) -> Duration {
        let op = self.pen.op(tank(&format!("T{}", id())));
        let ops = format!("/api/v1/streams/{}/ops", self.room);
        let begun = Instant::now();
        let told = self.who.caller.post(&ops, &push(&[op])).expect(200).json();
        self.who.caller.get(&format!("{ops}?epoch={}&after={after}", self.epoch)).expect(200);
        let took = begun.elapsed();
        *after = told["head"].as_u64().unwrap_or(*after);
        took
    }
}

/// Every device syncs for a while.
fn syncing(devices: &[Device]) -> Vec<Duration> {
    let until = Instant::now() + LASTS;
    let mut all: Vec<Duration> = std::thread::scope(|scope| {
        let each = devices.iter().map(|device| {
            scope.spawn(move || {
                let (mut took, mut after) = (Vec::new(), 0);
                while Instant::now() < until {
                    took.push(device.sync(&mut after));
                    std::thread::sleep(REST);
                }
                took
            })
        });
        let each: Vec<_> = each.collect();
        each.into_iter().flat_map(|device| device.join().expect("it syncs")).collect()
    });
    all.sort_unstable();
    all
}

fn at(all: &[Duration], share: f64) -> f64 {
    all[((all.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3
}

#[derive(Default)]
struct Storm {
    over: AtomicBool,
    sent: AtomicU64,
    refused: AtomicU64,
    held_up: AtomicU64,
    right: AtomicU64,
}

impl Storm {
    /// Wrong passwords at a steady pace, without waiting for answers, until it is over: each from elsewhere, for names that
    /// exist and names that don't.
    fn rage(self: &Arc<Self>, url: &str) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        runtime.block_on(async {
            let client = reqwest::Client::builder().pool_idle_timeout(Duration::from_secs(2)).build();
            let client = client.expect("a client");
            let (asked, mut fired) = (format!("{url}/api/v1/sessions"), JoinSet::new());
            let mut pace = tokio::time::interval(Duration::from_micros(1_000_000 / A_SECOND));
            pace.set_missed_tick_behavior(MissedTickBehavior::Burst);
            for shot in 0_usize.. {
                if self.over.load(Ordering::Relaxed) {
                    break;
                }
                pace.tick().await;
                self.sent.fetch_add(1, Ordering::Relaxed);
                let login =
                    if shot % 3 == 0 { format!("keeper{}", shot % DEVICES) } else { format!("nobody{shot}") };
                let body = json!({"login_name": login, "password": "not the password of anybody"});
                let address = format!("198.51.{}.{}", shot / 250 % 250, shot % 250);
                let one = client.post(&asked).header("x-forwarded-for", address).json(&body).send();
                let storm = Arc::clone(self);
                fired.spawn(async move {
                    match one.await.map(|answer| answer.status().as_u16()) {
                        Ok(401) => storm.refused.fetch_add(1, Ordering::Relaxed),
                        Ok(429 | 503) => storm.held_up.fetch_add(1, Ordering::Relaxed),
                        other => panic!("a wrong password: {other:?}"),
                    }
                });
                while let Some(ended) = fired.try_join_next() {
                    ended.expect("answered");
                }
            }
            fired.join_all().await;
        });
    }

    /// Somebody who knows their password, and tries again when the server is busy.
    fn come_in(&self, url: &str) {
        let caller = Caller::at(url);
        while !self.over.load(Ordering::Relaxed) {
            let body: Value = json!({"login_name": "olive", "password": PASSWORD});
            let asked =
                caller.request(Method::POST, "/api/v1/sessions").header("x-forwarded-for", "203.0.113.9");
            if try_send(asked.json(&body)).is_ok_and(|answer| answer.status == 200) {
                self.right.fetch_add(1, Ordering::Relaxed);
            }
            std::thread::sleep(Duration::from_millis(500));
        }
    }
}

fn measure(engine: Engine) -> bool {
    let mut server = Server::prepare(Database::new(engine));
    server.set("TARN_TRUSTED_PROXIES", "127.0.0.1");
    server.start_again();
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    club.member("olive", None);
    let devices: Vec<Device> = (0..DEVICES).map(|n| Device::new(&club, n)).collect();
    let quiet = syncing(&devices);
    let (storm, url) = (Arc::new(Storm::default()), server.url(""));
    let url = url.trim_end_matches('/');
    let stormy = std::thread::scope(|scope| {
        let storm = &storm;
        scope.spawn(move || storm.rage(url));
        scope.spawn(move || storm.come_in(url));
        let stormy = syncing(&devices);
        storm.over.store(true, Ordering::Relaxed);
        stormy
    });
    let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
    let ratio = at(&stormy, 0.99) / at(&quiet, 0.99);
    println!(
        "storm  {:8}  {:.0} wrong passwords a second, {} refused, {} held up; {} right ones let in",
        engine.name(),
        count(&storm.sent) as f64 / LASTS.as_secs_f64(),
        count(&storm.refused),
        count(&storm.held_up),
        count(&storm.right)
    );
    println!(
        "storm  {:8}  a sync {:.1} ms quiet, {:.1} in the storm (half of them {:.1}, {:.1}) at 99 %: ratio {ratio:.2} (at most {MOST})",
        engine.name(),
        at(&quiet, 0.99),
        at(&stormy, 0.99),
        at(&quiet, 0.5),
        at(&stormy, 0.5)
    );
    // a storm that was not one shows nothing
    let storms = count(&storm.sent) as f64 >= LASTS.as_secs_f64() * A_SECOND as f64 * 0.95;
    assert!(storms, "the driver could not send as much");
    ratio <= MOST && count(&storm.right) > 0
}
