//! Swaps: proposed, answered, packed, arrived; and what a third one sees, which is nothing.

use super::{Board, id, line, posted, reply, told, wanted};
use serde_json::{Value, json};
use tarn_tests::api::Answer;
use tarn_tests::on_both_engines;
use tarn_tests::people::Person;
use tarn_tests::society::taken;

fn propose(who: &Person, body: &Value) -> Answer {
    let mut body = body.clone();
    body["id"] = json!(id());
    who.caller.post("/api/v1/swaps", &body)
}

#[track_caller]
fn proposed(who: &Person, body: &Value) -> String {
    let answer = propose(who, body).expect(201).json();
    answer["id"].as_str().unwrap_or_else(|| panic!("no id in {answer}")).to_owned()
}

fn read(who: &Person, swap: &str) -> Value {
    who.caller.get(&format!("/api/v1/swaps/{swap}")).expect(200).json()
}

fn act(who: &Person, swap: &str, verb: &str) -> Answer {
    who.caller.post(&format!("/api/v1/swaps/{swap}/{verb}"), &json!({}))
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("no text in {value}")).to_owned()
}

impl Board {
    /// Zoe, out of a thread about Ada's notice: six of hers for a pair.
    fn proposal(&self, notice: &str, thread: &str) -> Value {
        json!({"thread": thread, "give": [self.eiseni(6)], "give_words": "Young of this year.",
            "ask": [{"notice": notice, "numbers": {"males": 1, "females": 1}}]})
    }

    fn agreed(&self) -> String {
        let notice = self.put_up();
        let thread = reply(&self.s.zoe, &notice, "Would you swap?");
        let swap = proposed(&self.s.zoe, &self.proposal(&notice, &thread));
        act(&self.s.ada, &swap, "agree").expect(200);
        swap
    }

    /// Ada's pair leaves under a parcel.
    fn ada_sends(&self, parcel: &str) {
        let row = |sex: &str| json!({"stock": self.campo, "node": self.campo_node, "sex": sex, "n": 1});
        let ops = [
            json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe", "rows": [row("male"), row("female")]}),
            json!({"op": "parcel.handed", "parcel": parcel}),
        ];
        taken(&self.s.ada, &self.s.room, &ops.map(|op| self.s.adas.op(op)));
    }
}

on_both_engines! {
    fn a_swap_is_done_when_both_parcels_have_arrived(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let thread = reply(&b.s.zoe, &notice, "Would you swap?");
        let swap = proposed(&b.s.zoe, &b.proposal(&notice, &thread));
        assert_eq!(told(&b.s.ada, "zoe proposes a swap to you"), 1);
        let seen = read(&b.s.ada, &swap);
        assert_eq!((seen["state"].clone(), seen["with"].clone()), (json!("proposed"), json!("zoe")));
        assert_eq!(seen["give"][0]["species"], "Xenotoca eiseni");
        // of the other's rooms and stocks nothing is told, to neither
        for secret in [&b.s.other_room, &b.eiseni, &b.s.zoe.account] {
            assert!(!seen.to_string().contains(secret.as_str()), "{secret} in {seen}");
        }
        assert!(seen["own_parcel"].is_null() && seen.get("pack_for").is_none(), "{seen}");
        act(&b.s.zoe, &swap, "agree").problem(403, "swap-other-side");
        act(&b.s.ada, &swap, "withdraw").problem(403, "swap-other-side");
        for verb in ["agree", "decline", "withdraw"] {
            act(&b.mia, &swap, verb).problem(404, "not-found");
        }
        b.mia.caller.get(&format!("/api/v1/swaps/{swap}")).problem(404, "not-found");

        act(&b.s.ada, &swap, "agree").expect(200);
        act(&b.s.ada, &swap, "agree").problem(409, "swap-over");
        for (who, other) in [(&b.s.ada, "zoe"), (&b.s.zoe, "ada")] {
            assert_eq!(told(who, &format!("You and {other} have agreed to a swap")), 1);
            let seen = read(who, &swap);
            assert_eq!((seen["pack_for"].clone(), seen["own_parcel"]["state"].clone()), (json!(other), json!("not_packed")));
        }
        let (adas, zoes) = (read(&b.s.ada, &swap), read(&b.s.zoe, &swap));
        let [from_ada, from_zoe] = [&adas, &zoes].map(|seen| text(&seen["own_parcel"]["parcel"]));
        assert_eq!(text(&adas["other_parcel"]["parcel"]), from_zoe);
        assert_eq!(adas["ask"][0]["offer"]["stock"], json!(b.campo), "Ada reads which of her stocks was asked for");
        assert!(zoes["ask"][0].get("offer").is_none(), "{zoes}");

        // a parcel of this id that a third one tells of counts for nothing
        let op = json!({"op": "parcel.packed", "parcel": from_ada, "to": "zoe", "rows": [
            {"stock": b.eiseni, "node": b.eiseni_node, "sex": "unsexed", "n": 1}]});
        taken(&b.s.zoe, &b.s.other_room, &[b.s.zoes.op(op)]);
        assert_eq!(read(&b.s.zoe, &swap)["other_parcel"]["state"], "not_packed");

        b.ada_sends(&from_ada);
        act(&b.s.zoe, &swap, "withdraw").problem(409, "swap-left");
        let seen = read(&b.s.zoe, &swap);
        assert_eq!((seen["other_parcel"]["state"].clone(), seen["other_parcel"]["sent"].clone()), (json!("sent"), json!(2)));
        let rows = json!([{"stock": b.eiseni, "node": b.eiseni_node, "sex": "unsexed", "n": 6}]);
        let ops = [
            json!({"op": "parcel.packed", "parcel": from_zoe, "to": "ada", "rows": rows}),
            json!({"op": "parcel.handed", "parcel": from_zoe}),
        ];
        taken(&b.s.zoe, &b.s.other_room, &ops.map(|op| b.s.zoes.op(op)));

        let arrived = |parcel: &str, alive: &Value, dead: &Value| {
            json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "alive": alive, "dead": dead})
        };
        let pair = json!([{"node": b.campo_node, "sex": "male", "n": 1}, {"node": b.campo_node, "sex": "female", "n": 1}]);
        taken(&b.s.zoe, &b.s.other_room, &[b.s.zoes.op(arrived(&from_ada, &pair, &json!([])))]);
        assert_eq!(read(&b.s.ada, &swap)["state"], "agreed", "one of two has arrived");
        assert_eq!(read(&b.s.ada, &swap)["own_parcel"]["state"], "arrived");
        let of = |n: u32| json!([{"node": b.eiseni_node, "sex": "unsexed", "n": n}]);
        taken(&b.s.ada, &b.s.room, &[b.s.adas.op(arrived(&from_zoe, &of(4), &of(1)))]);
        let seen = read(&b.s.zoe, &swap);
        assert_eq!(seen["state"], "done", "{seen}");
        assert_eq!(seen["own_parcel"]["state"], "numbers_differ");
        assert_eq!((seen["own_parcel"]["alive"].clone(), seen["own_parcel"]["dead"].clone()), (json!(4), json!(1)));
        b.tell();
        b.tell();
        for (who, other) in [(&b.s.ada, "zoe"), (&b.s.zoe, "ada")] {
            assert_eq!(told(who, &format!("Your swap with {other} is done")), 1);
        }
        act(&b.s.zoe, &swap, "withdraw").problem(409, "swap-over");
    }

    fn a_proposal_is_declined_withdrawn_or_runs_out(engine) {
        let mut b = Board::new(engine);
        let by_login = json!({"to": "ada", "ask_words": "A pair of anything."});
        let [declined, withdrawn, expired] = [(); 3].map(|()| proposed(&b.s.zoe, &by_login));
        act(&b.s.ada, &declined, "decline").expect(200);
        assert_eq!(told(&b.s.zoe, "ada has declined"), 1);
        act(&b.s.zoe, &withdrawn, "withdraw").expect(200);
        assert_eq!(told(&b.s.ada, "zoe has withdrawn a proposal"), 1);
        b.go_to(31 + 13);
        b.tell();
        assert_eq!(read(&b.s.zoe, &expired)["state"], "proposed");
        b.go_to(31 + 15);
        assert_eq!(read(&b.s.zoe, &expired)["state"], "expired", "whether or not the round has come");
        act(&b.s.ada, &expired, "agree").problem(409, "swap-over");
        b.tell();
        b.tell();
        for who in [&b.s.ada, &b.s.zoe] {
            assert_eq!(told(who, "is over: nobody answered"), 1);
        }
        let states: Vec<Value> = b.s.ada.caller.get("/api/v1/swaps").json()["swaps"].as_array().expect("swaps")
            .iter().map(|swap| swap["state"].clone()).collect();
        assert_eq!(states, [json!("expired"), json!("withdrawn"), json!("declined")]);
    }

    fn a_proposal_is_answered_by_another(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let thread = reply(&b.s.zoe, &notice, "Would you swap?");
        let first = proposed(&b.s.zoe, &b.proposal(&notice, &thread));
        let pair = json!({"offer": {"room": b.s.room, "stock": b.campo}, "numbers": {"males": 1, "females": 1}});
        let otherwise = json!({"answers": first, "give": [pair], "ask_words": "Ten, not six."});
        propose(&b.s.zoe, &otherwise).problem(403, "swap-other-side");
        let second = proposed(&b.s.ada, &otherwise);
        assert_eq!(told(&b.s.zoe, "ada proposes otherwise"), 1);
        let seen = read(&b.s.zoe, &first);
        assert_eq!((seen["state"].clone(), seen["answered_by"].clone()), (json!("declined"), json!(second)));
        assert_eq!(read(&b.s.zoe, &second)["thread"], json!(thread), "what they write goes on in one thread");
        propose(&b.s.ada, &otherwise).problem(409, "swap-over");
        // asked in words: whoever agrees says which of their fish it is to be
        let agree = |give: Value| b.s.zoe.caller.post(&format!("/api/v1/swaps/{second}/agree"), &json!({"give": give}));
        agree(json!([{"offer": {"room": b.s.room, "stock": b.campo}, "numbers": {"males": 1}}])).problem(404, "not-found");
        agree(json!([b.eiseni(10)])).expect(200);
        assert_eq!(read(&b.s.zoe, &second)["ask"][0]["offer"]["stock"], json!(b.eiseni));
        b.s.zoe.caller.post(&format!("/api/v1/threads/{thread}/lines"), &line("Saturday?")).expect(201);
    }

    fn what_is_agreed_can_be_withdrawn_until_a_bag_has_left(engine) {
        let b = Board::new(engine);
        let swap = b.agreed();
        act(&b.s.ada, &swap, "withdraw").expect(200);
        assert_eq!(told(&b.s.zoe, "ada has withdrawn from a swap that was agreed"), 1);
        assert_eq!(read(&b.s.zoe, &swap)["state"], "withdrawn");
        assert!(read(&b.s.zoe, &swap).get("pack_for").is_none());
    }

    fn what_may_not_leave_is_neither_proposed_nor_agreed(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let thread = reply(&b.s.zoe, &notice, "Would you swap?");
        let swap = proposed(&b.s.zoe, &b.proposal(&notice, &thread));
        let from_shop = |tank: &str| {
            let node = id();
            json!({"op": "stock.came_in", "stock": id(), "from": "shop", "tank": tank,
                "founders": {"node": node, "origin": "bought", "related": "not_known"},
                "rows": [{"node": node, "sex": "unsexed", "n": 4}]})
        };
        taken(&b.s.ada, &b.s.room, &[b.s.adas.op(from_shop(&b.a2))]);
        let refused = act(&b.s.ada, &swap, "agree").problem(409, "quarantine-running");
        assert!(refused["until"].is_string(), "{refused}");
        let mine = json!({"to": "zoe", "give": [{"offer": {"room": b.s.room, "stock": b.campo},
            "numbers": {"males": 1}}], "ask_words": "Six young."});
        propose(&b.s.ada, &mine).problem(409, "quarantine-running");
        // and what is no longer offered can't be asked for
        propose(&b.s.zoe, &b.proposal(&notice, &thread)).problem(404, "not-found");
    }

    fn the_others_fish_are_asked_about_too(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let thread = reply(&b.s.zoe, &notice, "Would you swap?");
        let swap = proposed(&b.s.zoe, &b.proposal(&notice, &thread));
        let node = id();
        let tank = b.s.zoes.op(json!({"op": "tank.added", "tank": id(), "name": "Q1"}));
        let q1 = tank["body"]["tank"].clone();
        let came = json!({"op": "stock.came_in", "stock": id(), "from": "shop", "tank": q1,
            "founders": {"node": node, "origin": "bought", "related": "not_known"},
            "rows": [{"node": node, "sex": "unsexed", "n": 4}]});
        let moved = json!({"op": "stock.moved", "stock": b.eiseni, "to": q1});
        taken(&b.s.zoe, &b.s.other_room, &[tank, b.s.zoes.op(came), b.s.zoes.op(moved)]);
        act(&b.s.ada, &swap, "agree").problem(409, "swap-not-now");
    }

    fn nobody_is_found_by_guessing(engine) {
        let b = Board::new(engine);
        let words = |to: &str| json!({"to": to, "ask_words": "A pair."});
        for to in ["nobody-here", "otto", "zoe", "", "a b"] {
            propose(&b.s.zoe, &words(to)).problem(404, "not-found");
        }
        propose(&b.s.zoe, &json!({"to": "ada"})).problem(422, "invalid");
        propose(&b.s.zoe, &json!({"ask_words": "A pair."})).problem(422, "invalid");
        // a stock of the other's can't be named, only a notice of theirs
        propose(&b.s.zoe, &json!({"to": "ada", "give": [{"offer": {"room": b.s.room, "stock": b.campo},
            "numbers": {"males": 1}}]})).problem(404, "not-found");
        let of_mia = posted(&b.mia, &wanted(&b.s.club.id, "Xenotoca eiseni"));
        for notice in [of_mia, id()] {
            let asked = json!({"to": "ada", "ask": [{"notice": notice, "numbers": {"unsexed": 1}}]});
            propose(&b.s.zoe, &asked).problem(404, "not-found");
        }
        let thread = reply(&b.s.zoe, &b.put_up(), "Hello");
        propose(&b.mia, &json!({"thread": thread, "ask_words": "A pair."})).problem(404, "not-found");
    }
}
