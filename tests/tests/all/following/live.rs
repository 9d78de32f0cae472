//! `GET /streams/{stream}/live`: what comes, to whom, and how it ends.

use serde_json::json;
use tarn_tests::api::send;
use tarn_tests::engine::Engine;
use tarn_tests::events::Events;
use tarn_tests::on_both_engines;
use tarn_tests::pen::tank;
use tarn_tests::society::{Society, taken};

use super::{from_first, pulled, society};

on_both_engines! {
    fn a_stream_is_followed_as_it_grows(engine) {
        let s = Society::new(engine);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1")), s.adas.op(tank("A2"))]);
        let mut events = Events::open(&s.ben.caller, &from_first(&s, &s.ben, "live"), None);
        let mut came = vec![events.expect("op"), events.expect("op")];
        taken(&s.ada, &s.room, &[s.adas.op(tank("A3"))]);
        came.push(events.expect("op"));
        taken(&s.ben, &s.room, &[s.bens.op(tank("B1"))]);
        came.push(events.expect("op"));
        let data: Vec<_> = came.iter().map(|event| event.data.clone()).collect();
        assert_eq!(data, pulled(&s), "an event has what a pull gives");
        let epoch = s.epoch(&s.ada, &s.room);
        assert_eq!(came[2].id, format!("{epoch}/3"));

        let mut again = Events::open(&s.ben.caller, &from_first(&s, &s.ben, "live"), Some(&came[2].id));
        assert_eq!(again.expect("op"), came[3], "it goes on after the last event that came");
    }

    /// More ops than are read at once come in order and without a gap.
    fn a_long_stream_comes_whole(engine) {
        let s = Society::new(engine);
        let mut events = Events::open(&s.ada.caller, &from_first(&s, &s.ada, "live"), None);
        for _ in 0..2 {
            let ops: Vec<_> = (0..450).map(|n| s.adas.op(tank(&format!("T{n}")))).collect();
            taken(&s.ada, &s.room, &ops);
        }
        for seq in 1..=900 {
            assert_eq!(events.expect("op").data["seq"], seq);
        }
    }

    fn what_a_pull_refuses_is_refused(engine) {
        let s = society(engine, &[("TARN_LIVE_PER_ACCOUNT", "1")]);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        let path = from_first(&s, &s.ada, "live");
        s.zoe.caller.get(&path).problem(404, "not-found");
        s.stranger().get(&path).problem(401, "not-signed-in");
        s.ada.caller.get(&path.replace("after=0", "after=9")).problem(409, "history-changed");
        let wrong = format!("{}&chain={}", path.replace("after=0", "after=1"), "0".repeat(64));
        s.ada.caller.get(&wrong).problem(409, "history-changed");
        let nonsense = s.ada.caller.request(reqwest::Method::GET, &path).header("last-event-id", "x");
        send(nonsense).problem(400, "malformed");

        let mut first = Events::open(&s.ada.caller, &path, None);
        first.expect("op");
        let refused = s.ada.caller.get(&path);
        refused.problem(429, "too-many-live");
        assert!(refused.headers.contains_key("retry-after"), "{refused}");
        Events::open(&s.ben.caller, &path, None).expect("op");
    }

    /// Whoever is no keeper any more gets nothing that is written from then on.
    fn a_right_that_is_gone_ends_it(engine) {
        let s = Society::new(engine);
        let mut events = Events::open(&s.ben.caller, &from_first(&s, &s.ben, "live"), None);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        events.expect("op");
        s.ada.caller.delete(&format!("/api/v1/rooms/{}/keepers/ben", s.room)).expect(204);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A2"))]);
        events.expect_end("not-found");
    }

    /// Nothing is written: the look that comes by itself finds that the session is gone.
    fn a_session_that_is_gone_ends_it(engine) {
        let s = society(engine, &[("TARN_LIVE_CHECK_S", "1")]);
        let other = s.ada.sign_in(&s.stranger());
        let mut events = Events::open(&other.caller, &from_first(&s, &s.ada, "live"), None);
        let mut mine = Events::open(&s.ada.caller, &from_first(&s, &s.ada, "live"), None);
        other.caller.delete("/api/v1/sessions/current").expect(204);
        events.expect_end("session-ended");
        other.caller.get(&from_first(&s, &s.ada, "live")).problem(401, "session-ended");
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        mine.expect("op");
    }

    /// Nobody tells the process: it looks by itself.
    fn another_history_ends_it(engine) {
        let s = society(engine, &[("TARN_LIVE_SWEEP_S", "1")]);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        let mut events = Events::open(&s.ada.caller, &from_first(&s, &s.ada, "live"), None);
        events.expect("op");
        s.server.database().execute(&["UPDATE streams SET epoch = id"]);
        let end = events.expect_end("history-changed");
        assert_eq!(end["epoch"], json!(s.epoch(&s.ada, &s.room)), "{end}");
    }

    /// A stop waits for answers; this one has no end, and ends all the same, as it should, before the process does.
    fn a_stop_ends_it_at_once(engine) {
        let mut s = Society::new(engine);
        let mut events = Events::open(&s.ada.caller, &from_first(&s, &s.ada, "live"), None);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        events.expect("op");
        // if it only ended with the process, the connection would break off
        s.server.stop();
        events.expect_end("server-ending");
    }
}

/// The sweep is an hour away, so it is the other process's notice that wakes this one.
#[test]
fn another_process_is_heard() {
    let s = society(Engine::Postgres, &[("TARN_LIVE_SWEEP_S", "3600")]);
    let other = s.server.beside();
    let there = s.ben.caller.moved_to(&other.url(""));
    let mut events = Events::open(&there, &from_first(&s, &s.ben, "live"), None);
    for n in 1..=3 {
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        assert_eq!(events.expect("op").data["seq"], n);
    }
}
