//! What somebody wrote before they lost the right is kept, proven to be theirs, and taken in by who may.

use serde_json::{Value, json};
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::society::Society;

fn file(keeper: &Keeper, name: &str) -> String {
    keeper.folder().join(name).to_string_lossy().into_owned()
}

fn read(file: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(file).expect("the file")).expect("JSON")
}

on_both_engines! {
    fn what_was_written_before_the_right_was_lost_is_adopted_once(engine) {
        let s = Society::new(engine);
        let (url, room) = (s.server.url(""), s.room.clone());
        let [adas, bens] = ["adas", "bens"].map(Keeper::new);
        bens.log_in(&url, "ben");
        adas.log_in(&url, "ada");
        bens.done(&["tank", "add", "B6"]);
        bens.done(&["sync"]);
        // Ben is away from the network while his part in the room ends
        let tank = bens.json(&["tank", "add", "B7"])["op"].as_str().expect("an id").to_owned();
        bens.done(&["food", "given", "flakes", "--tank", "B7"]);
        s.ada.caller.delete(&format!("/api/v1/rooms/{room}/keepers/ben")).expect(204);
        let no = bens.run(&["sync"]).expect(1);
        assert!(no.stderr.contains("--hand-over"), "{no}");
        let handed = file(&bens, "for-ada.json");
        assert_eq!(bens.json(&["sync", "refused", "--hand-over", &handed])["entries"], 2);
        bens.run(&["sync", "refused", "--hand-over", &handed]).expect(1);

        // nobody else can have his entries vouched for, and what is changed on the way is nobody's
        let (vouchers, adoptions) = (format!("/api/v1/streams/{room}/vouchers"), format!("/api/v1/streams/{room}/adoptions"));
        let told = read(&handed);
        let ops: Vec<&Value> = told["rooms"][0]["ops"].as_array().expect("ops").iter().map(|one| &one["op"]).collect();
        s.zoe.caller.post(&vouchers, &json!({"ops": ops})).problem(404, "not-found");
        let words = s.ada.caller.post(&vouchers, &json!({"ops": ops})).expect(200).json();
        assert_eq!(words["words"][0]["problem"]["type"], "/problems/device-not-yours");
        let from = told["rooms"][0]["from"].clone();
        assert_eq!(from, s.ben.account.as_str());
        let mut forged = json!({"from": from, "ops": told["rooms"][0]["ops"]});
        s.zoe.caller.post(&adoptions, &forged).problem(404, "not-found");
        forged["ops"][0]["op"]["body"]["name"] = json!("B8");
        forged["ops"][1]["mac"] = forged["ops"][0]["mac"].clone();
        let refused = s.ada.caller.post(&adoptions, &forged).expect(200).json();
        let problems = refused["results"].as_array().expect("results").iter().map(|one| one["problem"]["type"].clone());
        assert_eq!(problems.collect::<Vec<_>>(), ["/problems/voucher-forged", "/problems/voucher-forged"]);
        assert_eq!(s.server.database().count("SELECT count(*) FROM ops"), 1);

        // Ada takes them in; they are Ben's still, and a decision says that she did
        assert_eq!(adas.json(&["sync", "adopt", &handed])["taken"], 2);
        assert_eq!(adas.json(&["sync", "adopt", &handed])["taken"], 0, "once is enough");
        let epoch = s.epoch(&s.ada, &room);
        let pull = format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=1");
        let ops = s.ada.caller.get(&pull).expect(200).json()["ops"].clone();
        assert_eq!((&ops[0]["op"]["id"], &ops[0]["by"]), (&json!(tank), &from));
        let decided = &ops[2];
        assert_eq!((&decided["op"]["body"]["op"], &decided["decision"]), (&json!("op.adopted"), &json!(true)));
        assert_eq!((&decided["by"], &decided["op"]["body"]["from"]), (&json!(s.ada.account), &from));
        assert_eq!(decided["op"]["body"]["entries"], json!([ops[0]["op"]["id"], ops[1]["op"]["id"]]));
        assert_eq!(s.server.database().count("SELECT count(*) FROM audit_facts WHERE fact LIKE '%adopted by%'"), 1);
        // and when he keeps the room again, nothing is there twice
        s.ada.caller.put(&format!("/api/v1/rooms/{room}/keepers/ben"), &json!({})).expect(204);
        bens.done(&["sync"]);
        let state = s.ada.caller.get(&format!("/api/v1/streams/{room}/state")).expect(200).text;
        for keeper in [&adas, &bens] {
            assert_eq!(keeper.done(&["state", "--json"]).stdout.trim_end(), state, "{}", keeper.name());
        }
        assert_eq!(s.server.database().count("SELECT count(*) FROM ops"), 4);
        s.server.command(&["check"]).expect(0);
    }

    /// The secretary of the room's club may, who can't read it.
    fn an_officer_adopts_where_the_room_has_a_club(engine) {
        let s = Society::new(engine);
        let room = &s.room;
        let op = s.bens.op(json!({"op": "note.written", "text": "the heater is new"}));
        let (vouchers, adoptions) = (format!("/api/v1/streams/{room}/vouchers"), format!("/api/v1/streams/{room}/adoptions"));
        s.ada.caller.delete(&format!("/api/v1/rooms/{room}/keepers/ben")).expect(204);
        let words = s.ben.caller.post(&vouchers, &json!({"ops": [op]})).expect(200).json();
        let handed = json!({"from": words["from"], "ops": [{"op": op, "mac": words["words"][0]["mac"]}]});
        s.club.secretary.caller.post(&adoptions, &handed).problem(404, "not-found");
        s.ben.caller.post(&adoptions, &handed).problem(404, "not-found");
        s.ada.caller.put(&format!("/api/v1/rooms/{room}/home-club"), &json!({"club": s.club.id})).expect(200);
        assert_eq!(s.club.secretary.caller.post(&adoptions, &handed).expect(200).json()["taken"], 1);
        // nobody lets themselves in again: what an officer wrote another one takes in
        let role = format!("/api/v1/clubs/{}/members/{}/roles/secretary", s.club.id, s.ben.account);
        s.club.secretary.caller.put(&role, &json!({})).expect(204);
        let own = s.bens.op(json!({"op": "note.written", "text": "still here"}));
        let words = s.ben.caller.post(&vouchers, &json!({"ops": [own]})).expect(200).json();
        let own = json!({"from": words["from"], "ops": [{"op": own, "mac": words["words"][0]["mac"]}]});
        s.ben.caller.post(&adoptions, &own).problem(404, "not-found");
        assert_eq!(s.club.secretary.caller.post(&adoptions, &own).expect(200).json()["taken"], 1);
        let epoch = s.epoch(&s.ada, room);
        s.club.secretary.caller.get(&format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0")).problem(404, "not-found");
        s.server.command(&["check"]).expect(0);
    }
}
