//! The program as a keeper without a network runs it: exit codes, what is said where, nothing half done.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

struct Keeper {
    folder: tempfile::TempDir,
}

impl Keeper {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    /// With a room, a tank and a stock of two males, three females and ten unsexed.
    fn with_room() -> Self {
        let keeper = Self::new();
        keeper.done(&["room", "create", "Cellar", "--zone", "Europe/Berlin"]);
        keeper.done(&["tank", "add", "A1", "--volume", "54l"]);
        keeper.done(&["stock", "add", "Blue", "2.3.10", "--tank", "A1", "--species", "Poecilia reticulata"]);
        keeper
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tarn"));
        for name in ["TARN_DATA", "TARN_ROOM", "TARN_CLOCK_OFFSET", "TARN_MAX_PAGES"] {
            command.env_remove(name);
        }
        command.env("NO_COLOR", "1").arg("--data").arg(self.data()).args(arguments).stdin(Stdio::null());
        command
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        told(self.command(arguments).output().expect("tarn runs"))
    }

    #[track_caller]
    fn done(&self, arguments: &[&str]) -> String {
        let (code, out, err) = self.run(arguments);
        assert_eq!(code, 0, "{arguments:?}: {out}{err}");
        out
    }

    #[track_caller]
    fn json(&self, arguments: &[&str]) -> Value {
        let mut all = arguments.to_vec();
        all.push("--json");
        serde_json::from_str(&self.done(&all)).expect("JSON")
    }

    fn total(&self) -> i64 {
        self.json(&["stock", "show", "Blue"])["total"].as_i64().expect("a number")
    }
}

fn told(output: Output) -> (i32, String, String) {
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code().expect("an exit code"), text(output.stdout), text(output.stderr))
}

fn write(path: &Path, text: &str) {
    std::fs::write(path, text).expect("written");
}

#[test]
fn what_a_keeper_records_is_there() {
    let keeper = Keeper::with_room();
    let lost = keeper.json(&["stock", "lost", "bl", "1", "m", "--cause", "jumped"]);
    assert!(lost["op"].is_string());
    assert_eq!(keeper.total(), 14);
    keeper.done(&["wrong"]);
    assert_eq!(keeper.total(), 15);
    let history = keeper.json(&["history", "Blue"]);
    assert_eq!(history[0]["taken_back"], true);
    let (code, out, err) = keeper.run(&["stock", "count", "Blue", "3.3.9"]);
    assert_eq!((code, out.as_str()), (0, ""));
    assert!(err.contains("as recorded"), "{err}");
    assert!(keeper.done(&["stock", "list"]).contains("3\u{a0}m 3\u{a0}f, 9\u{a0}unsexed"));
}

#[test]
fn exit_codes_are_those_of_the_help() {
    let keeper = Keeper::with_room();
    for (code, arguments) in [
        (0, &["--help"][..]),
        (0, &["completions", "bash"]),
        (1, &["tank", "add", "a1"]),
        (1, &["stock", "move", "Blue", "A1"]),
        (2, &["stock", "mvoe", "Blue", "A1"]),
        (2, &["stock", "move", "Red", "A1"]),
        (2, &["stock", "lost", "Blue", "lots"]),
        (2, &["stock", "lost", "Blue", "1", "--at", "2999-01-01"]),
        (2, &["login", "http://club.example", "--login", "mira"]),
        (4, &["sync"]),
        (4, &["quarantine", "units"]),
    ] {
        let (got, out, err) = keeper.run(arguments);
        assert_eq!(got, code, "{arguments:?}: {out}{err}");
        assert!(code == 0 || (out.is_empty() && !err.is_empty()), "{arguments:?}: {out}");
    }
    let mut login = keeper.command(&["login", "http://127.0.0.1:9", "--login", "mira", "--password-stdin"]);
    let mut login =
        login.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("runs");
    login.stdin.take().expect("a pipe").write_all(b"moss on the window sill\n").expect("written");
    assert_eq!(told(login.wait_with_output().expect("ends")).0, 3);
    assert!(keeper.run(&["stock", "mvoe"]).2.contains("move"), "a near word is suggested");
}

#[test]
fn a_full_disk_acknowledges_nothing() {
    let keeper = Keeper::with_room();
    let mut acknowledged = 0;
    let refused = (0..200).find_map(|_| {
        let mut command = keeper.command(&["note", "write", &"x".repeat(3000), "--stock", "Blue"]);
        let (code, _, err) = told(command.env("TARN_MAX_PAGES", "40").output().expect("runs"));
        if code == 0 {
            acknowledged += 1;
            return None;
        }
        Some((code, err))
    });
    let (code, err) = refused.expect("the file is full in the end");
    assert_eq!(code, 1, "{err}");
    assert!(err.contains("full; nothing was recorded"), "{err}");
    let listed = keeper.json(&["history", "Blue", "--limit", "500"]);
    assert_eq!(listed.as_array().map(Vec::len), Some(1 + acknowledged));
    assert_eq!(keeper.total(), 15);
}

#[test]
fn a_read_only_file_lists_and_refuses() {
    let keeper = Keeper::with_room();
    let file = keeper.data().join("records-1.sqlite");
    let mut permissions = std::fs::metadata(&file).expect("there").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&file, permissions).expect("set");
    let (code, _, err) = keeper.run(&["stock", "lost", "Blue", "1", "m"]);
    assert_eq!(code, 1, "{err}");
    assert!(err.contains("read-only; nothing was recorded"), "{err}");
    assert_eq!(keeper.total(), 15);
}

#[test]
fn a_list_with_a_wrong_cell_leaves_nothing_behind() {
    let keeper = Keeper::with_room();
    let sheet = keeper.folder.path().join("fish.csv");
    write(&sheet, "tank,species,numbers,notes\nB1,Danio rerio,about 40,lively\nB2,Barbs,lots,\n");
    let path = sheet.to_str().expect("UTF-8");
    let (code, _, err) = keeper.run(&["import-stock", path]);
    assert_eq!(code, 1, "{err}");
    assert!(err.contains("line 3, column 3 (numbers)"), "{err}");
    assert_eq!(keeper.json(&["tank", "list"]).as_array().map(Vec::len), Some(1));
    write(&sheet, "tank,species,numbers,notes\nB1,Danio rerio,about 40,lively\na1,Barbs,2 m 3 f,\n");
    let taken = keeper.json(&["import-stock", path]);
    assert_eq!((&taken["stocks"], &taken["tanks"]), (&2.into(), &1.into()));
    let danios = keeper.json(&["stock", "show", "Danio"]);
    assert_eq!((&danios["total"], &danios["note"]), (&40.into(), &"lively".into()));
}

#[test]
fn an_exported_folder_comes_back_byte_by_byte() {
    let keeper = Keeper::with_room();
    keeper.done(&["stock", "add", "=cmd", "1.1", "--tank", "A1"]);
    keeper.done(&["note", "write", "never sent", "--here-only"]);
    let folder = keeper.folder.path().join("export");
    let path = folder.to_str().expect("UTF-8");
    keeper.done(&["export", path]);
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect("there");
    assert!(!read("ops.jsonl").contains("never sent"));
    assert!(read("stocks.csv").contains("'=cmd,"));
    assert_eq!(keeper.run(&["export", path]).0, 1, "a folder with something in it is left alone");
    let other = Keeper::new();
    other.done(&["import", path]);
    assert_eq!(other.done(&["state"]), keeper.done(&["state"]));
    assert_eq!(other.json(&["import", path])["new"], 0);
    write(&folder.join("ops.jsonl"), &read("ops.jsonl").replace("Blue", "Bleu"));
    let (code, _, err) = Keeper::new().run(&["import", path]);
    assert!(code == 1 && err.contains("nothing was imported"), "{err}");
}

#[test]
fn hostile_text_and_closed_pipes_do_no_harm() {
    let keeper = Keeper::with_room();
    keeper.done(&["note", "write", "turned \u{202e}round\u{1b}[2J"]);
    let shown = keeper.done(&["history"]);
    assert!(shown.contains("\\u{202e}") && !shown.contains(['\u{202e}', '\u{1b}']), "{shown}");
    assert_eq!(keeper.run(&["tank", "add", "A\u{7}2"]).0, 2);
    let mut history = keeper.command(&["history"]).stdout(Stdio::piped()).spawn().expect("runs");
    drop(history.stdout.take());
    assert!(history.wait().expect("ends").success(), "a closed pipe is no error");
}

#[test]
fn fish_that_come_in_are_held_and_home_fish_with_them() {
    let keeper = Keeper::with_room();
    keeper.done(&["tank", "add", "Q1"]);
    keeper.done(&["stock", "came-in", "Danios", "6", "--from", "shop", "--tank", "Q1"]);
    let (_, _, err) = keeper.run(&["stock", "move", "Danios", "A1"]);
    assert!(err.contains("Blue now share water"), "{err}");
    let units = keeper.json(&["quarantine", "list"]);
    assert_eq!(units[0]["members"].as_array().map(Vec::len), Some(2));
    let later = keeper.json(&["--clock-offset=31d", "quarantine", "list"]);
    assert_eq!(later[0]["state"], "due");
    assert!(keeper.run(&["--clock-offset=31d", "quarantine", "list"]).2.contains("shifted by 31d"));
}

#[test]
fn young_have_the_parents_that_the_records_show() {
    let keeper = Keeper::with_room();
    keeper.done(&["young", "found", "B-1", "about", "30", "--parents", "Blue", "--one-sire", "--tank", "A1"]);
    let brood = keeper.json(&["brood", "show", "b-1"]);
    assert_eq!((&brood["sires"]["of"][0]["n"], &brood["dams"]["of"][0]["n"]), (&2.into(), &3.into()));
    assert_eq!((&brood["sires"]["draw"], &brood["dams"]["draw"]), (&"one".into(), &"many".into()));
    assert_eq!(brood["name"]["species"], "Poecilia reticulata");
    // two lineages in one stock are never spread over
    keeper.done(&["stock", "merge", "B-1", "Blue"]);
    keeper.done(&["stock", "lost", "Blue", "2"]);
    let rows = keeper.json(&["stock", "show", "Blue"])["numbers"].clone();
    let any = rows.as_array().expect("rows").iter().find(|row| row["sex"] == "any").expect("of whichever");
    assert_eq!((&any["node"], &any["n"]), (&"unassigned".into(), &(-2).into()));
    assert_eq!(keeper.run(&["stock", "count", "Blue", "40"]).0, 2);
}

/// The worked example of UF/IFAS FA031: total 1.0 mg/L at pH 8.0 and 24 °C is 0.0502 mg/L un-ionised.
#[test]
fn water_is_read_and_told() {
    let keeper = Keeper::with_room();
    keeper.done(&["system", "set", "Rack", "--sump", "90l", "--displacement", "20l"]);
    keeper.done(&["tank", "plumb", "A1", "Rack"]);
    let read = ["water", "read", "--system", "Rack"];
    let values = ["ammonia=1 mg/l NH3", "ph=8", "temperature=75.2F"];
    keeper.done(&[&read[..], &values[..], &["--at", "2 days ago"]].concat());
    keeper.done(&["water", "read", "--tank", "A1", "ph=7.8"]);
    let told = keeper.done(&["water", "ammonia", "Rack"]);
    assert!(told.contains("un-ionised 0.050\u{a0}mg/L NH3: may harm"), "{told}");
    let list = keeper.json(&["water", "list"]);
    assert_eq!((&list[0]["name"], list[0]["ammonia"]["may_harm"].as_bool()), (&"Rack".into(), Some(true)));
    // a tank on a system has its water
    let (code, out, err) = keeper.run(&["water", "show", "A1"]);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("shares the water of Rack") && out.contains("pH: 7.8 to 8 in 2 readings"), "{out}");
    assert!(out.contains("typed 75.2 F"), "{out}");
    let typed = ["--total", "0.5 mg/l N", "--ph", "8", "--temperature", "31C"];
    let (code, _, err) = keeper.run(&[&["water", "ammonia"], &typed[..]].concat());
    assert!(code == 1 && err.contains("from 0 to 30 °C"), "{code} {err}");
    // the wrong entry does not count
    let entry = keeper.json(&["history", "A1"])[0]["op"].as_str().expect("an entry").to_owned();
    keeper.done(&["wrong", &entry]);
    assert_eq!(keeper.json(&["water", "show", "Rack"])["readings"].as_array().map(Vec::len), Some(1));
}

#[test]
fn a_labels_rate_needs_a_known_volume() {
    let keeper = Keeper::with_room();
    keeper.done(&["system", "set", "Rack", "--sump", "90l", "--displacement", "20l"]);
    keeper.done(&["tank", "plumb", "A1", "Rack"]);
    let rate = ["water", "rate", "5 ml per 40 l", "--system", "Rack"];
    let (code, out, err) = keeper.run(&rate);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(err.contains("Missing: pipes and filters"), "{err}");
    keeper.done(&["system", "set", "Rack", "--pipes", "6l"]);
    let out = keeper.done(&rate);
    // 54 + 90 + 6 − 20 l
    assert!(out.contains("(130\u{a0}l net): 16.25\u{a0}ml"), "{out}");
    assert!(
        out.contains("Snails, shrimp and scaleless fish") && out.contains("Never two medicines"),
        "{out}"
    );
    let volume = keeper.json(&["water", "volume", "Rack"]);
    assert_eq!((&volume[0]["net"]["ml"], &volume[0]["net"]["how"]), (&130_000.into(), &"reckoned".into()));
    assert_eq!(volume[0]["net"]["parts"].as_array().map(Vec::len), Some(4));
    let (code, _, err) = keeper.run(&["water", "rate", "1 tsp per 40 l", "--system", "Rack"]);
    assert!(code == 2 && err.contains("a tsp is no measure"), "{code} {err}");
    keeper.done(&["tank", "add", "Q1", "--volume", "100 x 40 x 50 cm, glass 10 mm", "--displacement", "0l"]);
    let own = keeper.done(&["water", "rate", "1 g / 10 l", "--tank", "Q1"]);
    assert!(own.contains("18.248\u{a0}g"), "{own}");
    // a box that hangs in a tank is inside its water
    keeper.done(&["tank", "add", "Box", "--volume", "5l"]);
    keeper.done(&["tank", "hang", "Box", "A1"]);
    assert_eq!(keeper.json(&["water", "volume", "Box"])[0]["net"]["ml"], 130_000);
    assert_eq!(keeper.json(&["water", "volume"]).as_array().map(Vec::len), Some(2));
    let hatch = keeper.json(&["water", "parasites", "--temperature", "20C"]);
    assert!(hatch.to_string().contains("first eggs hatch after"), "{hatch}");
    let between = keeper.json(&["water", "parasites", "--temperature", "15C"]);
    assert!(!between.to_string().contains("first eggs hatch after"), "{between}");
}
