//! What an operator does to a server with streams on it: another version, another engine. Nothing acknowledged is
//! lost, and every row fits its stream afterwards.

use std::time::{Duration, Instant};

use serde_json::json;
use tarn_domain::catalogue::FOLD_VERSION;
use tarn_tests::api::Caller;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, id, push, tank};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, register, taken};

/// Ada's room gets a tank and a stock.
fn furnished(s: &Society) {
    let tank = tank("A1");
    let stock = json!({"op": "stock.established", "stock": id(), "tank": tank["tank"],
        "rows": [{"node": "unassigned", "sex": "male", "n": 3}]});
    taken(&s.ada, &s.room, &[s.adas.op(tank), s.adas.op(stock)]);
}

on_both_engines! {
    fn a_stream_of_an_older_fold_is_folded_anew_before_it_is_written(engine) {
        let s = Society::new(engine);
        furnished(&s);
        s.server.database().execute(&["DELETE FROM room_stays", "UPDATE room_stocks SET total = 99",
            "INSERT INTO room_stays SELECT stream, stock, 7, 0, NULL, NULL, false FROM room_stocks",
            "UPDATE streams SET fold_version = 0"]);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A2"))]);
        s.server.command(&["check"]).expect(0);
        assert_eq!(s.server.database().count("SELECT count(*) FROM room_stays"), 1);
        assert_eq!(s.server.database().count("SELECT total FROM room_stocks"), 3);
    }

    fn an_upgrade_goes_on_beside_the_version_before(engine) {
        let mut old = Server::prepare(Database::new(engine));
        old.set("TARN_DRILL_FOLD", &(FOLD_VERSION - 1).to_string());
        old.start_again();
        let mut s = Society::on(old);
        furnished(&s);
        // as the fold before made them
        s.server.database().execute(&["UPDATE room_stocks SET total = 99"]);
        let mut newer = s.server.alike();
        newer.set("TARN_DRILL_FOLD", &FOLD_VERSION.to_string());
        // SQLite has one process; PostgreSQL has both until the old one is taken down
        if engine == Engine::Sqlite {
            s.server.stop();
        }
        newer.start_again();
        let begun = Instant::now();
        while Caller::stranger(&newer).get("/readyz").expect(200).json()["streams_to_rebuild"] != 0 {
            assert!(begun.elapsed() < Duration::from_secs(60), "{}", newer.logged());
            std::thread::sleep(Duration::from_millis(50));
        }
        assert_eq!(newer.database().count("SELECT total FROM room_stocks"), 3, "made anew by itself");
        newer.command(&["check"]).expect(0);

        let (path, entry) = (format!("/api/v1/streams/{}/ops", s.room), s.adas.op(tank("A2")));
        if engine == Engine::Postgres {
            s.ada.caller.post(&path, &push(std::slice::from_ref(&entry))).problem(503, "server-outdated");
            let state = format!("/api/v1/streams/{}/state", s.room);
            let ada = s.ada.caller.moved_to(newer.url("").trim_end_matches('/'));
            let (there, here) = (s.ada.caller.get(&state).expect(200), ada.get(&state).expect(200));
            assert_eq!(there.text, here.text, "the old one still reads");
            // a room that was begun at the old one is the newer one's from its first entry there on
            let (attic, pen) = (id(), Pen::new());
            s.ada.caller.post("/api/v1/rooms", &json!({"id": attic, "name": "Attic", "zone": "UTC"})).expect(201);
            register(&s.ada, &attic, &pen).expect(200);
            taken(&s.ada, &attic, &[pen.op(tank("B1"))]);
            let attics = format!("/api/v1/streams/{attic}/ops");
            let told = ada.post(&attics, &push(&[pen.op(tank("B2"))])).expect(200).json();
            assert_eq!(told["head"], 2, "{told}");
            s.ada.caller.post(&attics, &push(&[pen.op(tank("B3"))])).problem(503, "server-outdated");
            s.server.stop();
        }
        let ada = s.ada.caller.moved_to(newer.url("").trim_end_matches('/'));
        let told = ada.post(&path, &push(&[entry])).expect(200).json();
        assert_eq!(told["results"][0]["seq"], 3, "{told}");
        newer.command(&["check"]).expect(0);
    }

    fn a_stream_of_a_newer_fold_is_not_written(engine) {
        let s = Society::new(engine);
        furnished(&s);
        s.server.database().execute(&["UPDATE streams SET fold_version = 1000"]);
        let path = format!("/api/v1/streams/{}/ops", s.room);
        s.ada.caller.post(&path, &push(&[s.adas.op(tank("A2"))])).problem(503, "server-outdated");
        assert_eq!(s.server.database().count("SELECT count(*) FROM ops"), 2);
    }

    fn a_row_that_does_not_fit_its_stream_is_found(engine) {
        let s = Society::new(engine);
        furnished(&s);
        s.server.command(&["check"]).expect(0);
        s.server.database().execute(&["UPDATE room_stocks SET total = 4"]);
        let found = s.server.command(&["check"]).expect(1);
        assert!(found.stdout.contains("room_stocks"), "{found}");
        s.server.command(&["check", "--rebuild"]).expect(0);
    }

    fn a_backup_moves_to_the_other_engine_and_history_goes_on(engine) {
        let s = Society::new(engine);
        furnished(&s);
        let old = s.epoch(&s.ada, &s.room);
        let state = s.ada.caller.get(&format!("/api/v1/streams/{}/state", s.room)).expect(200).text;
        let file = s.server.database().folder().join("moved.tarn");
        let file = file.to_string_lossy();
        s.server.command(&["backup", &file]).expect(0);

        let other = if engine == Engine::Sqlite { Engine::Postgres } else { Engine::Sqlite };
        let mut moved = Server::prepare(Database::empty(other));
        moved.command(&["restore", &file]).expect(0);
        moved.start_again();
        let ada = s.ada.sign_in(&Caller::stranger(&moved));
        let again = ada.caller.get(&format!("/api/v1/streams/{}/state", s.room)).expect(200).text;
        assert_eq!(again, state, "the same bytes on the other engine");
        let pull = format!("/api/v1/streams/{}/ops?epoch={old}&after=2", s.room);
        let changed = ada.caller.get(&pull).problem(409, "history-changed");
        assert_eq!((&changed["common"], &changed["line"][0]["epoch"]), (&json!(2), &json!(old)), "{changed}");
        moved.command(&["check"]).expect(0);
    }
}
