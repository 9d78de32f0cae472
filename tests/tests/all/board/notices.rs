//! Notices: who may put up what, who reads it, and how it ends.

use super::{Board, ids, line, post, posted, read, told, wanted};
use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Answer, send};
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::Person;
use tarn_tests::society::taken;

fn end(who: &Person, notice: &str, body: &Value) -> Answer {
    who.caller.post(&format!("/api/v1/notices/{notice}/end"), body)
}

fn again(who: &Person, notice: &str) -> Answer {
    who.caller.post(&format!("/api/v1/notices/{notice}/again"), &json!({}))
}

on_both_engines! {
    fn only_what_may_leave_is_offered(engine) {
        let mut b = Board::young(engine);
        let offer = b.for_sale();
        let refused = post(&b.s.ada, &offer).problem(409, "quarantine-running");
        assert!(refused["until"].is_string(), "the day is told: {refused}");
        assert_eq!(refused["stock"], json!(b.campo));
        b.s.wait(31);
        b.sign_in();
        let notice = posted(&b.s.ada, &offer);
        assert_eq!(posted(&b.s.ada, &offer), notice, "the same again is the same notice");
        assert_eq!(ids(&b.s.zoe, "q=campo"), std::slice::from_ref(&notice));
        let seen = read(&b.s.zoe, &notice).expect(200).json();
        assert_eq!((seen["state"].clone(), seen["mine"].clone()), (json!("open"), json!(false)));
        assert!(seen["offer"].is_null() && seen["cautions"].as_array().is_some_and(|all| all.len() >= 3), "{seen}");

        // fish from a shop in the same water: the home fish are a unit's from now on, and off the board by themselves
        let (stock, node) = (id(), id());
        let breach = b.s.adas.op(json!({"op": "stock.came_in", "stock": stock, "from": "shop", "tank": b.a2,
            "founders": {"node": node, "origin": "bought", "related": "not_known"},
            "rows": [{"node": node, "sex": "unsexed", "n": 4}]}));
        taken(&b.s.ada, &b.s.room, &[breach]);
        assert_eq!(ids(&b.s.zoe, ""), [""; 0]);
        read(&b.s.zoe, &notice).problem(404, "not-found");
        let own = read(&b.s.ada, &notice).expect(200).json();
        assert!(own["not_shown"].as_str().is_some_and(|why| why.contains("in quarantine")), "{own}");
        assert_eq!(ids(&b.s.ada, "mine=true"), std::slice::from_ref(&notice));
        b.s.zoe.caller.post(&format!("/api/v1/notices/{notice}/replies"), &line("Still there?"))
            .problem(404, "not-found");
        end(&b.s.ada, &notice, &json!({"how": "taken_down"})).expect(200);
        again(&b.s.ada, &notice).problem(409, "quarantine-running");
    }

    fn an_offer_is_of_ones_own_fish_and_says_what_it_must(engine) {
        let b = Board::new(engine);
        let with = |change: &dyn Fn(&mut Value)| {
            let mut offer = b.for_sale();
            change(&mut offer["notice"]);
            post(&b.s.ada, &offer)
        };
        let pointer = |answer: Answer| {
            let problem = answer.problem(422, "invalid");
            problem["errors"][0]["pointer"].as_str().unwrap_or_default().to_owned()
        };
        assert_eq!(pointer(with(&|n| n["offer"] = Value::Null)), "/stock");
        assert_eq!(pointer(with(&|n| n["price"] = Value::Null)), "/price");
        assert_eq!(pointer(with(&|n| n["price"]["currency"] = json!("EURO"))), "/price");
        assert_eq!(pointer(with(&|n| n["numbers"] = json!({}))), "/numbers");
        assert_eq!(pointer(with(&|n| n["area"] = json!("Mill Lane 114"))), "/area");
        assert_eq!(pointer(with(&|n| n["kind"] = json!("lost"))), "/kind");
        with(&|n| n["offer"]["stock"] = json!(id())).problem(404, "not-found");
        // Zoe's stock is no stock of Ada's, whether or not its id was guessed
        with(&|n| n["offer"] = json!({"room": b.s.other_room, "stock": b.eiseni})).problem(404, "not-found");
        post(&b.otto, &b.for_sale()).problem(404, "not-found");
        let mut other = wanted(&b.s.club.id, "Xenotoca eiseni");
        posted(&b.s.zoe, &other);
        other["notice"]["species"] = json!("Poecilia wingei");
        post(&b.s.ada, &other).problem(409, "conflict");
    }

    fn a_club_s_board_is_its_members(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        for who in [&b.s.ada, &b.s.zoe, &b.mia] {
            assert_eq!(ids(who, ""), std::slice::from_ref(&notice));
        }
        assert_eq!(ids(&b.otto, ""), [""; 0]);
        read(&b.otto, &notice).problem(404, "not-found");
        b.s.stranger().get("/api/v1/notices").problem(401, "not-signed-in");
        let mut wide = wanted(&b.s.club.id, "Rivulus hartii");
        wide["notice"]["all_clubs"] = json!(true);
        let wide = posted(&b.s.zoe, &wide);
        assert_eq!(ids(&b.otto, ""), std::slice::from_ref(&wide));
        let seen = read(&b.otto, &wide).expect(200);
        for secret in ["@example.org", &b.s.zoe.account, "login", &b.s.other_room] {
            assert!(!seen.text.contains(secret), "{secret} in {seen}");
        }
        let list = b.otto.caller.get("/api/v1/notices").expect(200);
        assert!(!list.text.contains(&b.s.zoe.account) && !list.text.contains("@"), "{list}");
    }

    fn words_kinds_and_pages(engine) {
        let b = Board::new(engine);
        let campo = b.put_up();
        let mut all = vec![campo.clone()];
        for species in ["Xenotoca eiseni", "Ünkenfisch 100%_", "Rivulus hartii"] {
            all.insert(0, posted(&b.s.zoe, &wanted(&b.s.club.id, species)));
        }
        assert_eq!(ids(&b.mia, ""), all);
        assert_eq!(ids(&b.mia, "q=RAIN+wingei"), std::slice::from_ref(&campo));
        assert_eq!(ids(&b.mia, "q=rain+harbour"), [""; 0]);
        assert_eq!(ids(&b.mia, "q=%C3%BCnken"), [all[1].clone()], "case is folded beyond ASCII");
        assert_eq!(ids(&b.mia, "q=0%25_"), [all[1].clone()], "signs of a pattern stand for themselves");
        assert_eq!(ids(&b.mia, "q=%25"), [all[1].clone()]);
        assert_eq!(ids(&b.mia, "kind=for_sale"), std::slice::from_ref(&campo));
        assert_eq!(ids(&b.mia, &format!("club={}", b.s.club.id)).len(), 4);
        assert_eq!(ids(&b.mia, &format!("club={}", id())), [""; 0]);
        let (mut seen, mut after) = (Vec::new(), String::new());
        loop {
            let page = b.mia.caller.get(&format!("/api/v1/notices?limit=3{after}")).expect(200);
            let body = page.json();
            seen.extend(body["notices"].as_array().expect("notices").iter().map(|n| n["id"].clone()));
            assert_eq!(page.headers.contains_key("link"), !body["next"].is_null());
            let Some(next) = body["next"].as_str() else { break };
            after = format!("&after={next}");
        }
        assert_eq!(json!(seen), json!(all));
        b.mia.caller.get("/api/v1/notices?after=x").problem(400, "malformed");
    }

    fn an_edit_says_what_it_rests_on(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let path = format!("/api/v1/notices/{notice}");
        let says = b.for_sale()["notice"].clone();
        let put = |who: &Person, tag: Option<&str>, says: &Value| {
            let request = who.caller.request(Method::PUT, &path).json(says);
            send(match tag {
                Some(tag) => request.header("if-match", tag),
                None => request,
            })
        };
        let tag = read(&b.s.ada, &notice).headers["etag"].to_str().expect("a tag").to_owned();
        put(&b.s.ada, None, &says).problem(428, "if-match-missing");
        put(&b.s.zoe, Some("*"), &says).problem(404, "not-found");
        let mut cheaper = says.clone();
        cheaper["price"]["minor"] = json!(900);
        let changed = put(&b.s.ada, Some(&tag), &cheaper).expect(200);
        assert_ne!(changed.headers["etag"].to_str().expect("a tag"), tag);
        assert_eq!(read(&b.s.zoe, &notice).json()["price"]["minor"], 900);
        put(&b.s.ada, Some(&tag), &says).problem(412, "not-the-newest");
        let mut other = says.clone();
        (other["kind"], other["price"]) = (json!("free"), Value::Null);
        put(&b.s.ada, Some("*"), &other).problem(422, "invalid");
        end(&b.s.ada, &notice, &json!({"how": "done"})).expect(200);
        put(&b.s.ada, Some("*"), &cheaper).problem(409, "notice-over");
    }

    fn a_notice_ends_by_itself_and_is_put_up_again(engine) {
        let mut b = Board::new(engine);
        let days = format!("/api/v1/clubs/{}/board", b.s.club.id);
        assert_eq!(b.mia.caller.get(&days).expect(200).json()["notice_days"], 60);
        b.mia.caller.put(&days, &json!({"notice_days": 10})).problem(403, "role-missing");
        b.s.club.secretary.caller.put(&days, &json!({"notice_days": 0})).problem(422, "invalid");
        b.s.club.secretary.caller.put(&days, &json!({"notice_days": 10})).expect(204);
        let notice = b.put_up();
        b.tell();
        assert_eq!(told(&b.s.ada, "ends within three days"), 0);
        b.go_to(31 + 8);
        b.tell();
        b.tell();
        assert_eq!(told(&b.s.ada, "ends within three days"), 1);
        again(&b.s.ada, &notice).problem(409, "notice-stands");
        b.go_to(31 + 11);
        // whether or not the round has come, it has ended
        read(&b.s.zoe, &notice).problem(404, "not-found");
        assert_eq!(read(&b.s.ada, &notice).json()["state"], "ended");
        b.tell();
        b.tell();
        assert_eq!(told(&b.s.ada, "has ended"), 1);
        again(&b.s.zoe, &notice).problem(404, "not-found");
        assert_eq!(again(&b.s.ada, &notice).expect(200).json()["state"], "open");
        read(&b.s.zoe, &notice).expect(200);
        end(&b.s.zoe, &notice, &json!({"how": "done"})).problem(404, "not-found");
        end(&b.s.ada, &notice, &json!({"how": "done"})).expect(200);
        end(&b.s.ada, &notice, &json!({"how": "done"})).problem(409, "notice-over");
        read(&b.s.zoe, &notice).problem(404, "not-found");
    }

    fn an_officer_takes_a_notice_down_in_writing(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let officer = &b.s.club.secretary;
        end(officer, &notice, &json!({"how": "done"})).problem(404, "not-found");
        end(officer, &notice, &json!({"how": "taken_down"})).problem(422, "invalid");
        end(&b.mia, &notice, &json!({"how": "taken_down", "why": "I want them."})).problem(404, "not-found");
        let why = "The club bars dyed fish.";
        end(officer, &notice, &json!({"how": "taken_down", "why": why})).expect(200);
        assert_eq!(told(&b.s.ada, why), 1);
        assert_eq!(read(&b.s.ada, &notice).json()["why"], why);
        again(&b.s.ada, &notice).problem(409, "notice-over");
    }

    fn nobody_floods_the_board(engine) {
        let b = Board::new(engine);
        for _ in 0..20 {
            posted(&b.s.ada, &wanted(&b.s.club.id, "Xenotoca eiseni"));
        }
        let refused = post(&b.s.ada, &wanted(&b.s.club.id, "Xenotoca eiseni"));
        refused.problem(429, "too-many-today");
        assert!(refused.headers.contains_key("retry-after"));
        posted(&b.s.zoe, &wanted(&b.s.club.id, "Xenotoca eiseni"));
    }
}
