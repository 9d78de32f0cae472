//! A disk that is really full: a small file system of its own, mounted over the data folder. What was acknowledged before
//! is there afterwards, once; what was refused was told so, and goes in when there is room again.
//!
//! Only root can mount; elsewhere these tests say that they did nothing. What a client does on a file that may not grow is
//! tested everywhere (`client-cli/tests/commands.rs`).

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::{Value, json};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::pen::{Pen, id, push, tank};
use tarn_tests::people::Club;
use tarn_tests::place::Folder;
use tarn_tests::process::{self, Ran};
use tarn_tests::server::Server;
use tarn_tests::society::register;

fn run(program: &str, arguments: &[&str]) -> Ran {
    process::run(Command::new(program).args(arguments))
}

/// A file system of so many KiB over a folder, which has the same files in it. Gone with the test.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn over(folder: &Path, kib: u32) -> Option<Self> {
        let aside = Folder::new("aside");
        let at = folder.to_string_lossy().into_owned();
        let kept = aside.path().to_string_lossy().into_owned();
        run("cp", &["-a", &format!("{at}/."), &kept]).expect(0);
        let mounted = run("mount", &["-t", "tmpfs", "-o", &format!("size={kib}k"), "tmpfs", &at]);
        if mounted.code != Some(0) {
            println!("nothing was tested: a file system can't be mounted here: {mounted}");
            return None;
        }
        let disk = Self(folder.to_owned());
        run("cp", &["-a", &format!("{kept}/."), &at]).expect(0);
        Some(disk)
    }

    /// The operator makes room.
    fn grow(&self, kib: u32) {
        let at = self.0.to_string_lossy();
        run("mount", &["-o", &format!("remount,size={kib}k"), &at]).expect(0);
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = run("umount", &["--lazy", &self.0.to_string_lossy()]);
    }
}

#[test]
fn a_server_without_room_refuses_and_loses_nothing() {
    let mut server = Server::prepare(Database::new(Engine::Sqlite));
    let folder = server.database().folder().to_owned();
    let Some(disk) = SmallDisk::over(&folder, 8 * 1024) else { return };
    server.start_again();
    let club = Club::found(&server, "Fellside Fishkeepers", "wilma");
    let ada = club.member("ada", None);
    let (room, pen) = (id(), Pen::new());
    ada.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Cellar", "zone": "UTC"})).expect(201);
    register(&ada, &room, &pen).expect(200);
    let path = format!("/api/v1/streams/{room}/ops");
    let place = tank("A1");
    ada.caller.post(&path, &push(&[pen.op(place)])).expect(200);

    let words = "moss ".repeat(600);
    let mut acknowledged: Vec<Value> = Vec::new();
    let batch =
        || -> Vec<Value> { (0..40).map(|_| pen.op(json!({"op": "note.written", "text": words}))).collect() };
    let refused = (0..200).find_map(|_| {
        let ops = batch();
        let answer = ada.caller.post(&path, &push(&ops));
        if answer.status == 200 {
            acknowledged.extend(ops);
            return None;
        }
        answer.problem(507, "storage-full");
        Some(ops)
    });
    let refused = refused.expect("the disk is full in the end");
    assert!(!acknowledged.is_empty(), "there was room for some");
    // reading goes on, and says what is there
    let streams = ada.caller.get("/api/v1/streams").expect(200).json();
    assert_eq!(streams["streams"][0]["head"], json!(1 + acknowledged.len()));
    ada.caller.post(&path, &push(&refused)).problem(507, "storage-full");
    // registering again is a small write that may find room; then it is kept like any other
    let mut registered = 0;
    for _ in 0..5 {
        let other = Pen::new();
        registered += i64::from(register(&ada, &room, &other).status == 200);
    }

    disk.grow(64 * 1024);
    ada.caller.post(&path, &push(&refused)).expect(200);
    server.kill();
    server.start_again();
    let stored = server.database().count("SELECT count(*) FROM ops");
    assert_eq!(stored, 1 + (acknowledged.len() + refused.len()) as i64, "each once");
    let devices = server.database().count("SELECT count(*) FROM devices WHERE kind = 'client'");
    assert_eq!(devices, 1 + registered, "whatever was answered 200 is kept");
    server.command(&["check"]).expect(0);
    server.stop();
}

#[test]
fn a_client_without_room_acknowledges_nothing_and_goes_on_afterwards() {
    let server = Server::start(Engine::Sqlite);
    let club = Club::found(&server, "Fellside Fishkeepers", "wilma");
    club.member("ada", None);
    let keeper = Keeper::new("ada");
    let Some(disk) = SmallDisk::over(keeper.folder(), 1024) else { return };
    keeper.log_in(&server.url(""), "ada");
    keeper.done(&["room", "create", "Cellar"]);
    keeper.done(&["tank", "add", "A1"]);
    keeper.done(&["sync"]);
    let words = "x".repeat(12_000);
    let mut acknowledged = 0;
    let refused = (0..200).find_map(|_| {
        let ran = keeper.run(&["note", "write", &words, "--tank", "A1"]);
        acknowledged += i64::from(ran.code == Some(0));
        (ran.code != Some(0)).then_some(ran)
    });
    let refused = refused.expect("the disk is full in the end").expect(1);
    assert!(refused.stderr.contains("full; nothing was recorded"), "{refused}");
    assert!(acknowledged > 0, "there was room for some");
    let tanks = keeper.json(&["tank", "list"]);
    assert_eq!(tanks.as_array().map(Vec::len), Some(1), "it still reads");

    disk.grow(64 * 1024);
    keeper.done(&["note", "write", "room again", "--tank", "A1"]);
    keeper.done(&["sync"]);
    let notes = "SELECT count(*) FROM ops WHERE body LIKE '%note.written%'";
    assert_eq!(
        server.database().count(notes),
        acknowledged + 1,
        "what was acknowledged, once each, and no more"
    );
    let state = keeper.done(&["state", "--json"]).stdout;
    assert!(state.contains("A1"), "{state}");
}
