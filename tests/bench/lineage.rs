//! 20,000 broods over 300 rooms of 300 keepers: how long a brood's ancestry takes while 32 read at once; and how long a
//! push waits at most while jobs tell 200 rooms of a correction. Ends with 1 above 50 ms at the 99th percentile, or if the
//! jobs kept one push waiting for a lock longer than 20 ms, as the server's own figures say; how long pushes took beside
//! them and alone is told too, with whatever else kept them.
//!
//! ```text
//! cargo bench -p tarn-tests --bench lineage [-- sqlite|postgres]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod wire;

use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use prometheus_parse::{Scrape, Value as Figure};
use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, id, push, tank};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::society::register;

use wire::Wire;

const ROOMS: usize = 300;
const BROODS: usize = 67;
/// Rooms that got fish of the brood that is corrected.
const HOLDERS: usize = 200;
const READERS: usize = 32;
const READS: usize = 60;
const MOST_READ: Duration = Duration::from_millis(50);
const MOST_WAIT: Duration = Duration::from_millis(20);

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let said: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |engine: &Engine| {
        !said.iter().any(|w| w == "sqlite" || w == "postgres") || said.contains(&engine.name().to_owned())
    };
    let mut enough = true;
    for engine in [Engine::Sqlite, Engine::Postgres].into_iter().filter(wanted) {
        let world = World::new(engine);
        enough &= world.reads() <= MOST_READ;
        enough &= world.waits() == 0.0;
    }
    if enough { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// A keeper with a room, and its broods.
struct Keeper {
    who: Person,
    room: String,
    pen: Pen,
    broods: Vec<String>,
    token: String,
}

struct World {
    server: Server,
    keepers: Vec<Keeper>,
    /// The brood that all holders have fish of, in the first keeper's room.
    root: String,
}

fn side(stock: &str, node: &str) -> Value {
    json!({"of": [{"stock": stock, "node": node, "n": 2}], "draw": "one"})
}

impl Keeper {
    fn new(club: &Club, n: usize) -> Self {
        let who = club.member(&format!("keeper{n}"), None);
        let (room, pen) = (id(), Pen::new());
        who.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Room", "zone": "UTC"})).expect(201);
        register(&who, &room, &pen).expect(200);
        let sign_in = json!({"login_name": who.login, "password": PASSWORD});
        let session = who.caller.post("/api/v1/sessions", &sign_in).expect(200).json();
        let token = session["access_token"].as_str().expect("a token").to_owned();
        Self { who, room, pen, broods: Vec::new(), token }
    }

    fn write(&self, bodies: Vec<Value>) {
        for some in bodies.chunks(500) {
            let ops: Vec<Value> = some.iter().map(|body| self.pen.op(body.clone())).collect();
            let path = format!("/api/v1/streams/{}/ops", self.room);
            let answer = self.who.caller.post(&path, &push(&ops)).expect(200).json();
            let taken = answer["results"].as_array().into_iter().flatten().all(|r| r["seq"].is_u64());
            assert!(taken, "{answer}");
        }
    }

    /// Broods one after the other, each of two that came shortly before; those that `from` names, if any, first.
    fn breed(&mut self, from: Option<&str>) {
        let place = tank("A1");
        let (stock, node) = (id(), id());
        let rows = json!([{"node": node, "sex": "male", "n": 4}, {"node": node, "sex": "female", "n": 5}]);
        let mut bodies = vec![
            place.clone(),
            json!({"op": "stock.established", "stock": stock, "tank": place["tank"],
            "species": "Danio rerio", "rows": rows,
            "founders": {"node": node, "origin": "bought", "related": "not_known"}}),
        ];
        let mut parents = vec![(stock, node)];
        if let Some(root) = from {
            let stock = id();
            bodies.push(json!({"op": "parcel.arrived", "parcel": id(), "stock": stock,
                "alive": [{"node": root, "sex": "unsexed", "n": 6}],
                "ancestry": [{"node": root, "is": {"brood": {"code": "ROOT"}}}]}));
            parents.push((stock, root.to_owned()));
        }
        for n in 0..BROODS {
            let (stock, brood) = (id(), id());
            // generations of a few broods each: deep, and not a single line
            let of = |back: usize| &parents[parents.len() - 1 - (n * 7 + back * 3) % parents.len().min(5)];
            let (sire, dam) = (of(1), of(2));
            bodies.push(json!({"op": "young.found", "brood": brood, "stock": stock, "code": format!("B-{n}"),
                "name": {"species": "Danio rerio"}, "sires": side(&sire.0, &sire.1), "dams": side(&dam.0, &dam.1),
                "rows": [{"node": brood, "sex": "male", "n": 9}, {"node": brood, "sex": "female", "n": 9}]}));
            self.broods.push(brood.clone());
            parents.push((stock, brood));
        }
        self.write(bodies);
    }
}

impl World {
    fn new(engine: Engine) -> Self {
        let mut server = Server::prepare(Database::new(engine));
        server.set("TARN_METRICS_LISTEN", "127.0.0.1:0");
        server.start_again();
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let mut keepers: Vec<Keeper> = (0..ROOMS).map(|n| Keeper::new(&club, n)).collect();
        let mut root = None;
        for (n, keeper) in keepers.iter_mut().enumerate() {
            keeper.breed(root.as_deref().filter(|_| n <= HOLDERS));
            root = root.or_else(|| keeper.broods.get(3).cloned());
        }
        let world = Self { server, keepers, root: root.expect("a brood") };
        world.settle();
        world
    }

    /// Waits until nothing of the preparation is left to do: what is measured is a server that runs, not one that is
    /// still being told what 300 rooms did in a minute.
    fn settle(&self) {
        let metrics = Caller::at(&self.server.metrics());
        let due = || metrics.get("/metrics").expect(200).text.lines().any(|line| line == "tarn_jobs_due 0");
        let begun = Instant::now();
        let mut idle = 0;
        while idle < 3 {
            idle = if due() { idle + 1 } else { 0 };
            std::thread::sleep(Duration::from_secs(1));
            assert!(begun.elapsed() < Duration::from_secs(300), "the work of the preparation does not end");
        }
        println!(
            "lineage  {:8}  settled within {:.0} s",
            self.server.engine().name(),
            begun.elapsed().as_secs_f64()
        );
    }

    /// The 99th percentile of reading an ancestry while 32 do.
    fn reads(&self) -> Duration {
        let one = |reader: usize| {
            let mut took = Vec::with_capacity(READS);
            let address = self.server.address();
            let mut wire = Wire::open(address, "");
            for n in 0..READS {
                let keeper = &self.keepers[(reader * 31 + n * 7) % ROOMS];
                // the later half: those with a long ancestry
                let brood = &keeper.broods[BROODS / 2 + (reader + n) % (BROODS / 2)];
                let begun = Instant::now();
                let answer = wire.get(&format!("/api/v1/broods/{brood}/ancestry"), address, &keeper.token);
                assert_eq!(answer.status, 200);
                took.push(begun.elapsed());
            }
            took
        };
        // once around: every room is in memory, as in a server that runs
        self.keepers
            .iter()
            .for_each(|k| drop(k.who.caller.get(&format!("/api/v1/broods/{}", k.broods[0])).expect(200)));
        let mut all: Vec<Duration> = std::thread::scope(|scope| {
            let readers: Vec<_> = (0..READERS).map(|reader| scope.spawn(move || one(reader))).collect();
            readers.into_iter().flat_map(|reader| reader.join().expect("it read")).collect()
        });
        all.sort_unstable();
        let at = |share: f64| all[((all.len() - 1) as f64 * share) as usize];
        let name = self.server.engine().name();
        println!(
            "lineage  {name:8}  {} ancestries, {READERS} readers: {:.1} ms half of them, {:.1} ms 99 % (at most {} ms)",
            all.len(),
            at(0.5).as_secs_f64() * 1e3,
            at(0.99).as_secs_f64() * 1e3,
            MOST_READ.as_millis()
        );
        at(0.99)
    }

    /// How many pushes there were, and how many of them waited for a lock longer than they may.
    fn pushes(&self) -> (f64, f64) {
        let text = Caller::at(&self.server.metrics()).get("/metrics").expect(200).text;
        let lines = text.lines().map(|line| std::io::Result::Ok(line.to_owned()));
        let read = Scrape::parse(lines).expect("figures");
        let all = read.samples.iter().find(|sample| {
            sample.metric == "tarn_append_wait_seconds" && sample.labels.get("way") == Some("push")
        });
        let Some(Figure::Histogram(steps)) = all.map(|sample| &sample.value) else {
            panic!("no figure: {all:?}")
        };
        let upto = |most: f64| {
            let step =
                steps.iter().find(|step| (step.less_than - most).abs() < 1e-9 || step.less_than == most);
            step.unwrap_or_else(|| panic!("no step at {most}")).count
        };
        let all = upto(f64::INFINITY);
        (all, all - upto(MOST_WAIT.as_secs_f64()))
    }

    /// How many pushes waited for a lock too long while jobs told all holders.
    fn waits(&self) -> f64 {
        let pusher = &self.keepers[ROOMS - 1];
        let stock = id();
        pusher.write(vec![json!({"op": "stock.established", "stock": stock, "rows": []})]);
        let one = || {
            let begun = Instant::now();
            pusher.write(vec![json!({"op": "note.written", "stock": stock, "text": "all well"})]);
            begun.elapsed()
        };
        let mut alone: Vec<Duration> = (0..300).map(|_| one()).collect();
        alone.sort_unstable();
        let before = self.pushes();
        let home = &self.keepers[0];
        let done = AtomicBool::new(false);
        let mut beside = std::thread::scope(|scope| {
            let pushing = scope.spawn(|| {
                let mut took = Vec::new();
                while !done.load(Ordering::Relaxed) {
                    took.push(one());
                }
                took
            });
            home.write(vec![
                json!({"op": "brood.corrected", "brood": self.root, "sires": Value::Null, "why": "mixed up"}),
            ]);
            let last = &self.keepers[HOLDERS];
            let told = |keeper: &Keeper| {
                keeper.who.caller.get("/api/v1/messages").expect(200).json().to_string().contains("mixed up")
            };
            let begun = Instant::now();
            // one mailbox after the other, and not without a pause: who asks must not be what a push waits for
            let mut waiting = self.keepers[1..=HOLDERS].iter().peekable();
            while let Some(next) = waiting.peek() {
                if told(next) {
                    waiting.next();
                    continue;
                }
                std::thread::sleep(Duration::from_millis(20));
                assert!(begun.elapsed() < Duration::from_secs(120), "not all are told: {}", told(last));
            }
            println!(
                "lineage  {:8}  {HOLDERS} rooms were told within {:.1} s",
                self.server.engine().name(),
                begun.elapsed().as_secs_f64()
            );
            done.store(true, Ordering::Relaxed);
            pushing.join().expect("it pushed")
        });
        beside.sort_unstable();
        let half = alone[alone.len() / 2];
        let worst_alone = alone[alone.len() - 1];
        let worst = beside[beside.len() - 1];
        let longer = worst.saturating_sub(half);
        let after = self.pushes();
        let waited = after.1 - before.1;
        println!(
            "lineage  {:8}  a push alone {:.1} ms half of them, {:.1} at most; of {} beside the jobs {:.1} at most: {:.1} ms \
             longer; {waited} of {} waited for a lock longer than {} ms (at most 0)",
            self.server.engine().name(),
            half.as_secs_f64() * 1e3,
            worst_alone.as_secs_f64() * 1e3,
            beside.len(),
            worst.as_secs_f64() * 1e3,
            longer.as_secs_f64() * 1e3,
            after.0 - before.0,
            MOST_WAIT.as_millis()
        );
        waited
    }
}
