//! `tarn sync` against a small server of its own: what a restore, a rolled-back disk or a wall that was set back leaves
//! on this device reaches the server all the same.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard};

use serde_json::{Value, json};
use tarn_cli::clock::wall_ms;
use tarn_cli::store::{NewOp, NewStream, OpState, Pulled, Store, StoreError, StreamRow};
use tarn_domain::catalogue::{Body, Op, op_text};
use tarn_domain::rooms::ops::NoteWritten;
use tarn_domain::streams::{
    Acceptance, AccountId, Chain, Clock, DeviceId, EpochId, OpId, Received, StreamId, canonical, clock_limit,
};
use uuid::Uuid;

/// As much of a server as these tests need: one room, and no look at what ops mean.
struct Server {
    epoch: Uuid,
    listed: bool,
    taken: bool,
    announced: Vec<Value>,
    ops: Vec<Value>,
    /// The next push is answered, and then the disk is rolled back.
    forgets: bool,
}

fn clock_of(op: &Value) -> Clock {
    op["clock"].as_str().expect("a clock").parse().expect("a clock")
}

fn problem(code: &str) -> (u16, Value) {
    (409, json!({ "type": format!("/problems/{code}"), "title": code, "status": 409 }))
}

impl Server {
    fn answer(&mut self, method: &str, path: &str, body: &Value) -> (u16, Value) {
        let (path, query) = path.split_once('?').unwrap_or((path, ""));
        let room = Uuid::from_u128(1);
        match (method, path.strip_prefix("/api/v1/").unwrap_or(path)) {
            ("GET", "streams") => {
                let streams = self
                    .listed
                    .then(|| json!({ "stream": room, "kind": "room", "name": "Cellar", "rights": "write" }));
                (200, json!({ "streams": streams.into_iter().collect::<Vec<_>>() }))
            }
            ("GET", "rooms") => (200, json!({ "rooms": [] })),
            ("POST", "rooms") if self.taken => problem("room-taken"),
            ("POST", "rooms") => {
                self.announced.push(body.clone());
                (201, json!({ "stream": room }))
            }
            ("PUT", _) => (200, json!({ "epoch": self.epoch, "head": self.ops.len(), "ops_version": 1 })),
            ("GET", _) => self.pulled(query),
            ("POST", _) => self.pushed(body),
            _ => problem("not-found"),
        }
    }

    fn pulled(&self, query: &str) -> (u16, Value) {
        let asked = |name: &str| {
            query.split('&').find_map(|pair| pair.strip_prefix(name)?.strip_prefix('=')).unwrap_or_default()
        };
        if asked("epoch") != self.epoch.to_string() {
            let (status, mut changed) = problem("history-changed");
            changed["epoch"] = json!(self.epoch);
            return (status, changed);
        }
        let after: usize = asked("after").parse().expect("a number");
        let chain = self.ops.iter().zip(0..).fold(Chain::EMPTY, |chain, (op, received)| {
            let received = Received(received);
            chain.then(
                &canonical::text(op),
                Acceptance { by: AccountId(Uuid::nil()).into(), received, decision: false },
            )
        });
        let wire = |(i, op): (usize, &Value)| json!({ "seq": i + 1, "op": op, "by": Uuid::nil(), "received": i, "decision": false, "receipt": "00" });
        let ops: Vec<Value> = self.ops.iter().enumerate().skip(after).map(wire).collect();
        let head = self.ops.len();
        (200, json!({ "epoch": self.epoch, "head": head, "chain": chain.hex(), "more": false, "ops": ops }))
    }

    fn pushed(&mut self, body: &Value) -> (u16, Value) {
        let pushed = body["ops"].as_array().expect("ops");
        let greatest = self.ops.iter().map(clock_of).max().unwrap_or(Clock::START);
        let (now, limit) = (wall_ms(), clock_limit(wall_ms(), greatest));
        if pushed.iter().any(|p| p["receipt"].is_null() && clock_of(&p["op"]) > limit) {
            let (status, mut ahead) = problem("clock-ahead");
            ahead["now"] = json!(Clock::at_ms(now).to_string());
            ahead["limit"] = json!(limit.to_string());
            return (status, ahead);
        }
        let before = self.ops.len();
        self.ops.extend(pushed.iter().map(|p| p["op"].clone()));
        let result = |(i, op): (usize, &Value)| json!({ "id": op["id"], "seq": i + 1 });
        let results: Vec<Value> = self.ops.iter().enumerate().skip(before).map(result).collect();
        if std::mem::take(&mut self.forgets) {
            self.ops.truncate(before);
        }
        (200, json!({ "epoch": self.epoch, "head": self.ops.len(), "results": results }))
    }
}

fn serve(server: Arc<Mutex<Server>>) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = format!("http://{}", listener.local_addr().expect("an address"));
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            one_call(&server, stream);
        }
    });
    address
}

fn one_call(server: &Mutex<Server>, mut stream: TcpStream) {
    let mut reader = BufReader::new(stream.try_clone().expect("a stream"));
    let mut line = String::new();
    reader.read_line(&mut line).expect("a request");
    let mut words = line.split_whitespace().map(str::to_owned);
    let (Some(method), Some(path)) = (words.next(), words.next()) else { return };
    let mut length = 0;
    loop {
        let mut header = String::new();
        reader.read_line(&mut header).expect("a header");
        let Some((name, value)) = header.trim().split_once(':') else { break };
        if name.eq_ignore_ascii_case("content-length") {
            length = value.trim().parse().expect("a length");
        }
    }
    let mut body = vec![0; length];
    reader.read_exact(&mut body).expect("a body");
    let body = serde_json::from_slice(&body).unwrap_or_default();
    let (status, answer) = server.lock().expect("whole").answer(&method, &path, &body);
    let answer = answer.to_string();
    let head =
        format!("HTTP/1.1 {status} X\r\nconnection: close\r\ncontent-length: {}\r\n\r\n", answer.len());
    stream.write_all((head + &answer).as_bytes()).expect("answered");
}

/// A device of an account, with a room that another device made.
struct Device {
    folder: tempfile::TempDir,
    store: Store,
    room: StreamRow,
    server: Arc<Mutex<Server>>,
}

impl Device {
    fn new(rights: &str) -> Self {
        let epoch = Uuid::from_u128(5);
        let (announced, ops) = (Vec::new(), Vec::new());
        let server = Server { epoch, listed: true, taken: false, announced, ops, forgets: false };
        let server = Arc::new(Mutex::new(server));
        let folder = tempfile::tempdir().expect("a folder");
        let session = json!({
            "server": serve(server.clone()), "account": Uuid::from_u128(9), "login_name": "ada",
            "access_token": "a", "refresh_token": "r", "expires_ms": i64::MAX,
        });
        std::fs::write(folder.path().join("records-1.token"), session.to_string()).expect("written");
        let mut store = Store::open(&folder.path().join("records-1.sqlite")).expect("a file");
        let new = NewStream {
            id: StreamId(Uuid::from_u128(1)),
            kind: "room".into(),
            name: "Cellar".into(),
            zone: "Europe/Oslo".into(),
            rights: rights.into(),
            device: DeviceId(Uuid::from_u128(2)),
            on_server: true,
        };
        store
            .write::<_, StoreError>(|work| {
                work.keep_stream(&new)?;
                work.registered(new.id, EpochId(epoch), 1)
            })
            .expect("kept");
        let room = store.stream(new.id).expect("there");
        Self { folder, store, room, server }
    }

    fn server(&self) -> MutexGuard<'_, Server> {
        self.server.lock().expect("whole")
    }

    fn write(&mut self, n: u128) -> OpId {
        let op = NewOp { id: OpId(Uuid::from_u128(n)), at: None, body: note() };
        let write = |work: &tarn_cli::store::Work<'_>| work.record(&self.room, wall_ms(), vec![op]);
        self.store.write::<_, StoreError>(write).expect("recorded")[0].id
    }

    /// Another device's op, pulled from a server that has since been restored.
    fn pulled(&mut self, ms: i64) {
        let clock = Clock::at_ms(ms);
        let device = DeviceId(Uuid::from_u128(3));
        let text =
            op_text(&Op { id: OpId(Uuid::from_u128(50)), device, clock, at: clock.at(), body: note() });
        let by = AccountId(Uuid::from_u128(8)).into();
        let accepted = Acceptance { by, received: Received(1), decision: false };
        let chain = Chain::EMPTY.then(&text, accepted);
        let page = [Pulled { seq: 1, text, accepted, receipt: "01".into(), was: None, blanked: None }];
        let room = &self.room;
        self.store.write::<_, StoreError>(|work| work.take_in(room, &page, chain, false)).expect("taken in");
    }

    fn restored(&self) {
        let mut server = self.server();
        server.epoch = Uuid::from_u128(6);
        server.listed = false;
    }

    fn sync(&self) -> (i32, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tarn"));
        for name in ["TARN_DATA", "TARN_ROOM", "TARN_CLOCK_OFFSET", "TARN_MAX_PAGES"] {
            command.env_remove(name);
        }
        command.env("NO_COLOR", "1").env("NO_PROXY", "127.0.0.1").stdin(Stdio::null());
        let done = command.arg("--data").arg(self.folder.path()).arg("sync").output().expect("tarn runs");
        (done.status.code().expect("an exit code"), String::from_utf8_lossy(&done.stderr).into_owned())
    }

    fn state_of(&self, op: OpId) -> OpState {
        self.store.op_by_id(&self.room, op).expect("readable").expect("there").state
    }

    fn ids_there(&self) -> Vec<Value> {
        self.server().ops.iter().map(|op| op["id"].clone()).collect()
    }
}

fn note() -> Body {
    Body::NoteWritten(NoteWritten { stock: None, tank: None, text: "…".into() })
}

#[test]
fn an_answer_from_a_disk_that_was_rolled_back_is_not_the_end() {
    let mut device = Device::new("write");
    let op = device.write(20);
    device.server().forgets = true;
    assert_eq!(device.sync().0, 0);
    assert_eq!((device.ids_there(), device.state_of(op)), (vec![json!(op)], OpState::Accepted));
}

#[test]
fn any_device_that_may_write_a_lost_room_announces_it() {
    let mut device = Device::new("write");
    device.pulled(wall_ms() - 60_000);
    let op = device.write(20);
    device.restored();
    let (code, says) = device.sync();
    assert_eq!(code, 0, "{says}");
    let room = json!({ "id": device.room.id, "name": "Cellar", "zone": "Europe/Oslo" });
    assert_eq!(device.server().announced, [room]);
    assert_eq!(device.ids_there(), [json!(Uuid::from_u128(50)), json!(op)]);
    assert_eq!(device.state_of(op), OpState::Accepted);
}

#[test]
fn a_lost_room_is_not_taken_by_a_reader_nor_from_its_keeper() {
    for (rights, taken) in [("read", false), ("write", true)] {
        let mut device = Device::new(rights);
        let op = device.write(20);
        device.restored();
        device.server().taken = taken;
        let (code, says) = device.sync();
        assert!(code == 1 && says.contains("no such room for you"), "{rights}: {code} {says}");
        assert_eq!((device.server().announced.len(), device.state_of(op)), (0, OpState::Pending));
    }
}

/// Accepted by a wall that was a day ahead: after a restore nothing new is within the limit until that is there again.
#[test]
fn what_was_accepted_ahead_goes_back_before_what_follows_it() {
    let mut device = Device::new("write");
    device.pulled(wall_ms() + 86_400_000);
    let op = device.write(20);
    device.restored();
    let (code, says) = device.sync();
    assert_eq!(code, 0, "{says}");
    assert_eq!(device.ids_there(), [json!(Uuid::from_u128(50)), json!(op)]);
    assert!(!says.contains("corrected"), "{says}");
}
