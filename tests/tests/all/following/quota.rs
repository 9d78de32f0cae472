//! How many new ops an account may push in a day.

use serde_json::{Value, json};
use tarn_tests::api::Answer;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, push, tank};
use tarn_tests::people::Person;
use tarn_tests::society::{Society, register, taken};

use super::{client, pulled, society};

fn pushed(s: &Society, who: &Person, ops: &[Value]) -> Answer {
    who.caller.post(&format!("/api/v1/streams/{}/ops", s.room), &push(ops))
}

fn tanks<const N: usize>(s: &Society) -> [Value; N] {
    std::array::from_fn(|n| s.adas.op(tank(&format!("T{n}"))))
}

on_both_engines! {
    fn more_than_a_days_ops_wait_for_the_next_day(engine) {
        let mut s = society(engine, &[("TARN_OPS_PER_DAY", "5")]);
        let first: [Value; 3] = tanks(&s);
        taken(&s.ada, &s.room, &first);
        taken(&s.ada, &s.room, &first);
        let lost = json!({"op": "stock.lost", "stock": id(), "cause": "unknown",
            "rows": [{"node": "unassigned", "sex": "male", "n": 1}]});
        let waits = pushed(&s, &s.ada, &[s.adas.op(lost)]).expect(200).json();
        assert_eq!(waits["results"][0]["problem"]["type"], "/problems/missing-reference", "{waits}");

        // neither what was there before nor what is refused counts
        let more: [Value; 3] = tanks(&s);
        let refused = pushed(&s, &s.ada, &more);
        let problem = refused.problem(429, "quota");
        assert_eq!(problem["left"], 2, "{problem}");
        let seconds: i64 = refused.headers["retry-after"].to_str().expect("text").parse().expect("seconds");
        assert!((1..=86_400).contains(&seconds), "{seconds}");
        assert_eq!(pulled(&s).len(), 3, "nothing of it was stored");
        taken(&s.ada, &s.room, &more[..2]);

        s.server.stop();
        s.server.start_again();
        pushed(&s, &s.ada, &more).problem(429, "quota");
        taken(&s.ben, &s.room, &[s.bens.op(tank("another's"))]);
        s.wait(1);
        taken(&s.ada, &s.room, &more);
        assert_eq!(pulled(&s).len(), 7);
    }

    /// After a restore an account may have much more to bring back than a day's.
    fn what_comes_back_by_its_receipt_does_not_count(engine) {
        let mut s = society(engine, &[("TARN_OPS_PER_DAY", "4")]);
        taken(&s.ada, &s.room, &tanks::<1>(&s));
        s.server.stop();
        let early = s.server.database().snapshot();
        s.server.start_again();
        taken(&s.ada, &s.room, &tanks::<3>(&s));
        let all = pulled(&s);
        s.server.stop();
        s.server.database().roll_back(&early);
        s.server.database().execute(&["UPDATE op_counts SET n = 4"]);
        s.server.start_again();
        register(&s.ada, &s.room, &s.adas).expect(200);
        let back: Vec<Value> = all[1..]
            .iter()
            .map(|op| {
                json!({"op": op["op"], "receipt": {"by": op["by"], "received": op["received"],
                "decision": op["decision"], "mac": op["receipt"]}})
            })
            .collect();
        let path = format!("/api/v1/streams/{}/ops", s.room);
        let answer = s.ada.caller.post(&path, &json!({"ops": back})).expect(200).json();
        assert_eq!(answer["head"], 4, "{answer}");
        pushed(&s, &s.ada, &tanks::<1>(&s)).problem(429, "quota");
    }

    fn the_client_keeps_what_is_too_much_and_says_until_when(engine) {
        let s = society(engine, &[("TARN_OPS_PER_DAY", "3")]);
        let here = client(&s, "here", "ada");
        for n in 1..=5 {
            here.done(&["tank", "add", &format!("A{n}")]);
        }
        let ran = here.done(&["sync"]);
        assert!(ran.stderr.contains("Pushed 3") && ran.stderr.contains("00:00 (UTC)"), "{ran}");
        assert_eq!(here.json(&["sync"])["pending"], 2);
        assert_eq!(pulled(&s).len(), 3);
    }
}

/// Two processes count one account's together.
#[test]
fn several_processes_count_together() {
    let s = society(Engine::Postgres, &[("TARN_OPS_PER_DAY", "3")]);
    let other = s.server.beside();
    let there = Person { caller: s.ada.caller.moved_to(&other.url("")), ..s.ada.clone() };
    taken(&s.ada, &s.room, &tanks::<2>(&s));
    taken(&there, &s.room, &tanks::<1>(&s));
    pushed(&s, &s.ada, &tanks::<1>(&s)).problem(429, "quota");
    pushed(&s, &there, &tanks::<1>(&s)).problem(429, "quota");
}
