//! The season of the demo on both engines: every step is checked while it is played. Then the drill of a server that is
//! lost: its backup goes to the other engine, and the devices of the season bring what the backup did not have. And then
//! two of its keepers move to another society's server, each with their room.

use serde_json::{Value, json};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::push;
use tarn_tests::people::Club;
use tarn_tests::place::Folder;
use tarn_tests::process::Ran;
use tarn_tests::season::{PASSWORD, Season};
use tarn_tests::server::Server;
use uuid::Uuid;

/// Every entry: when it was received and whether the server decided it, whose it is, and its bytes.
fn entries(database: &Database) -> Vec<(i64, Uuid, String)> {
    let received = "received * 2 + CASE WHEN decision THEN 1 ELSE 0 END";
    database.read(&format!("SELECT {received}, by_account, body FROM ops"), &[])
}

/// Syncs, after a new login if the backup does not know the device's last one.
fn synced(season: &Season, name: &str) -> Ran {
    let keepers = [&season.odile, &season.marta, &season.phone, &season.jonas, &season.tablet];
    let keeper = keepers.into_iter().find(|keeper| keeper.name() == name).expect("one of the season");
    let ran = keeper.run(&["sync"]);
    if ran.code != Some(4) {
        return ran.expect(0);
    }
    let login = match name {
        "phone" => "marta",
        "tablet" => "jonas",
        own => own,
    };
    let line = ["login", &season.url(), "--login", login, "--password-stdin"];
    keeper.run_with_input(&line, &format!("{PASSWORD}\n")).expect(0);
    keeper.done(&["sync"])
}

/// The server is lost after a backup and two more syncs, and comes back on the other engine.
fn lost_and_restored(season: &mut Season, other: Engine) {
    let backup = Folder::new("season-backup");
    let file = backup.path().join("season.tar.zst");
    let file = file.to_string_lossy().into_owned();
    season.server.command(&["backup", &file]).expect(0);
    // acknowledged after the backup; and never sent
    season.marta.done(&["tank", "add", "Spare", "--volume", "60l"]);
    season.marta.done(&["sync"]);
    season.jonas.done(&["tank", "add", "Jar", "--volume", "20l"]);
    season.jonas.done(&["sync"]);
    season.phone.done(&["tank", "add", "Tub", "--volume", "90l"]);
    let acknowledged = entries(season.server.database());

    season.server.stop();
    season.server.move_to(Database::empty(other));
    season.server.command(&["restore", &file]).expect(0);
    season.server.start_again();
    season.server.command(&["check"]).expect(0);
    for name in ["tablet", "phone", "marta", "jonas", "odile", "phone", "tablet"] {
        synced(season, name);
    }

    let now = entries(season.server.database());
    for entry in &acknowledged {
        let times = now.iter().filter(|other| *other == entry).count();
        assert_eq!(times, 1, "an acknowledged entry is there once, received when it was: {entry:?}");
    }
    let tubs = now.iter().filter(|(_, _, text)| text.contains("\"Tub\"")).count();
    assert_eq!(tubs, 1, "and so is what had not been sent");
    season.server.command(&["check"]).expect(0);
    for (desk, phone) in [(&season.marta, &season.phone), (&season.jonas, &season.tablet)] {
        let state = |keeper: &Keeper| keeper.done(&["state", "--json"]).stdout;
        assert_eq!(state(desk), state(phone), "both devices hold the same bytes");
    }
}

/// What a keeper counts: every stock with its name, its numbers and its tank.
fn counted(keeper: &Keeper) -> Vec<(String, Value)> {
    let all = keeper.json(&["stock", "list"]);
    let one = |stock: &Value| {
        let name = stock["name"].as_str().unwrap_or_default().to_owned();
        (name, json!([stock["id"], stock["numbers"], stock["tank"], stock["species"]]))
    };
    all.as_array().expect("a list").iter().map(one).collect()
}

/// Marta and Jonas move to another server. All fish are there with their numbers and lineage; what was signed off on the
/// old server clears nothing on the new one.
fn moved(season: &Season, engine: Engine) {
    let there = Server::start(engine);
    let club = Club::found(&there, "Harbour Aquarists", "olga");
    let folder = Folder::new("moving");
    for (desk, login) in [(&season.marta, "marta"), (&season.jonas, "jonas")] {
        let path = folder.path().join(login).to_string_lossy().into_owned();
        desk.done(&["sync"]);
        desk.done(&["export", &path]);
        let mut keeper = Keeper::new(&format!("{login}-moved"));
        let person = club.member(login, None);
        keeper.log_in(&there.url(""), login);
        let told = keeper.json(&["import", &path, "--as-new"]);
        assert_eq!(told["refused"], json!([]), "{login}");
        assert_eq!(told["brought"], told["entries"], "{login}");
        assert!(!counted(desk).is_empty());
        assert_eq!(counted(&keeper), counted(desk), "{login} counts the same fish");
        assert_eq!(
            keeper.json(&["quarantine", "list"]),
            json!([]),
            "{login}: nobody here saw any of it come in"
        );
        let leave = keeper.json(&["quarantine", "leave"]);
        for one in leave.as_array().expect("a list") {
            assert_eq!(one["may_leave"], false, "{login}: all of it waits: {leave}");
            assert!(one["until"].is_string(), "{login}: and for nothing but the days of the rule: {leave}");
        }
        keeper.set_clock(Some("31d".into()));
        let leave = keeper.json(&["quarantine", "leave"]);
        let all = leave.as_array().expect("a list").iter().all(|one| one["may_leave"] == true);
        assert!(all, "{login}: after them it may leave: {leave}");
        keeper.set_clock(None);

        // what was decided there is history here, and nothing else
        let room = told["room"].as_str().expect("a room").to_owned();
        let kinds = "SELECT count(*) FROM ops WHERE decision";
        assert_eq!(
            there.database().count(&format!("{kinds} AND body NOT LIKE '%\"op\":\"history.%'")),
            0,
            "{login}"
        );
        assert!(there.database().count(&format!("{kinds} AND body LIKE '%\"op\":\"history.sent\"%'")) > 0);
        assert!(
            there.database().count(&format!("{kinds} AND body LIKE '%quarantine.cleared%'")) > 0
                || login == "marta"
        );

        // it is all there, so nothing more comes along; and a device of that time takes nothing new
        let epoch = person.caller.get("/api/v1/streams").expect(200).json()["streams"][0]["epoch"].clone();
        let pull =
            format!("/api/v1/streams/{room}/ops?epoch={}&after=0&limit=1", epoch.as_str().expect("an epoch"));
        let first = person.caller.get(&pull).expect(200).json()["ops"][0]["op"].clone();
        let again = json!({"ops": [first]});
        person.caller.post(&format!("/api/v1/streams/{room}/history"), &again).problem(409, "history-ended");
        let device = first["device"].as_str().expect("a device");
        let register = format!("/api/v1/streams/{room}/devices/{device}");
        person.caller.put(&register, &json!({"name": "an old phone"})).problem(403, "device-not-yours");
        let mut late = first.clone();
        late["id"] = json!(tarn_tests::pen::id());
        late["body"] = json!({"op": "note.written", "text": "late"});
        let pushed =
            person.caller.post(&format!("/api/v1/streams/{room}/ops"), &push(&[late])).expect(200).json();
        assert_eq!(pushed["results"][0]["problem"]["type"], "/problems/device-not-yours");
        let end = json!({"epoch": epoch, "head": 1});
        person.caller.post(&format!("/api/v1/streams/{room}/history/end"), &end).expect(200);
    }
    let ended =
        there.database().count("SELECT count(*) FROM ops WHERE body LIKE '%\"op\":\"history.taken_in\"%'");
    assert_eq!(ended, 2, "said once of each room");
    assert_eq!(
        there.database().count("SELECT count(*) FROM parcels WHERE is_sent OR is_arrived"),
        0,
        "none is on its way here"
    );
    there.command(&["check"]).expect(0);
}

on_both_engines! {
    fn a_season_from_the_first_member_to_a_signature(engine) {
        let mut season = Season::play(engine, |line| println!("{line}"));
        let other = if engine == Engine::Sqlite { Engine::Postgres } else { Engine::Sqlite };
        lost_and_restored(&mut season, other);
        moved(&season, engine);
    }
}
