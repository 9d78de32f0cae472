//! What an operator does to a server with streams on it: another version, another engine. Nothing acknowledged is
//! lost, and every row fits its stream afterwards.

use serde_json::json;
use tarn_tests::api::Caller;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, push, tank};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, taken};

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
