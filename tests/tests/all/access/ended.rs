//! What somebody could do ends with the right to do it: invitations, sessions, and what they let others do.

use serde_json::json;
use tarn_tests::api::Caller;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, id};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, register};

use super::set_up;
use crate::clubs::{accept, named, people, put, strike, token_of};

fn told(who: &Person) -> String {
    who.caller.get("/api/v1/messages").expect(200).text
}

on_both_engines! {
    fn an_invitation_ends_with_the_role_of_who_made_it(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (by, nell, otto) = (&club.secretary, club.member("nell", Some("secretary")), club.member("otto", Some("secretary")));
        let path = format!("/api/v1/clubs/{}/invitations", club.id);
        let invite = |who: &Person| token_of(&who.caller.post(&path, &json!({"role": "secretary"})).expect(201).json());
        let [nells, ottos, own] = [&nell, &otto, by].map(invite);
        by.caller.delete(&format!("/api/v1/clubs/{}/members/{}/roles/secretary", club.id, nell.account)).expect(204);
        nell.caller.post("/api/v1/invitations/join", &json!({"token": nells})).problem(404, "invitation-unknown");
        let line = named(&people(by, &club.id), "otto").clone();
        let person = format!("/api/v1/clubs/{}/people/{}", club.id, line["person"].as_str().expect("an id"));
        strike(by, &person, line["version"].as_i64().expect("a version")).expect(204);
        otto.caller.post("/api/v1/invitations/join", &json!({"token": ottos})).problem(404, "invitation-unknown");
        otto.caller.post("/api/v1/invitations/join", &json!({"token": own})).expect(200);
    }

    fn an_invitation_ends_with_the_line_that_it_is_for(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (by, ida) = (&club.secretary, id());
        let person = format!("/api/v1/clubs/{}/people/{ida}", club.id);
        put(by, &person, None, &json!({"name": "Ida Brook"})).expect(200);
        let path = format!("/api/v1/clubs/{}/invitations", club.id);
        let invited = by.caller.post(&path, &json!({"person": ida})).expect(201).json();
        strike(by, &person, 1).expect(204);
        accept(&by.caller, &token_of(&invited), "ida").problem(404, "invitation-unknown");
    }

    /// What `give_role` refuses an invitation does not bring either.
    fn an_invitation_gives_no_office_that_could_not_be_given(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (by, ida) = (&club.secretary, id());
        let path = format!("/api/v1/clubs/{}/invitations", club.id);
        for (line, problem) in [
            (json!({"name": "Ida Brook", "guest": true}), "guests-are-no-officers"),
            (json!({"name": "Ida Brook", "guest": false, "lapsed": true}), "lapsed-are-no-officers"),
        ] {
            let person = id();
            put(by, &format!("/api/v1/clubs/{}/people/{person}", club.id), None, &line).expect(200);
            let invited = by.caller.post(&path, &json!({"person": person, "role": "treasurer"})).expect(201).json();
            accept(&by.caller, &token_of(&invited), "ida").problem(409, problem);
        }
        let nell = club.member("nell", Some("treasurer"));
        let line = named(&people(by, &club.id), "nell").clone();
        let path = format!("/api/v1/clubs/{}/people/{}", club.id, line["person"].as_str().expect("an id"));
        let version = line["version"].as_i64();
        put(by, &path, version, &json!({"name": "nell", "lapsed": true})).problem(409, "lapsed-are-no-officers");
        put(by, &path, version, &json!({"name": "nell", "guest": true})).problem(409, "guests-are-no-officers");
        assert_eq!(named(&people(by, &club.id), "nell")["roles"], json!(["treasurer"]), "{ida} {}", nell.login);
    }

    /// An access token lives a few minutes longer than its session.
    fn a_session_that_ended_lets_nobody_in(engine) {
        let s = Society::new(engine);
        let stolen = s.ada.sign_in(&s.stranger());
        stolen.caller.delete("/api/v1/sessions/current").expect(204);
        let keeper = format!("/api/v1/rooms/{}/keepers/zoe", s.room);
        stolen.caller.put(&keeper, &json!({})).problem(401, "session-ended");
        stolen.caller.delete(&format!("/api/v1/rooms/{}/keepers/ben", s.room)).problem(401, "session-ended");
        register(&stolen, &s.room, &Pen::new()).problem(401, "session-ended");
        let op = s.adas.op(json!({"op": "note.written", "text": "x"}));
        let vouchers = format!("/api/v1/streams/{}/vouchers", s.room);
        stolen.caller.post(&vouchers, &json!({"ops": [op]})).problem(401, "session-ended");
        stolen.caller.post("/api/v1/invitations/join", &json!({"token": "x"})).problem(401, "session-ended");
        s.ada.caller.put(&keeper, &json!({})).expect(204);
    }

    /// Whoever shares no club is not known, whatever the name. A line is kept across clubs.
    fn strangers_bring_nobody_into_rooms(engine) {
        let s = Society::new(engine);
        let harbour = Club::found(&s.server, "Harbour Aquarists", "olga");
        let olga = &harbour.secretary;
        let (room, group) = (id(), id());
        olga.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Quay", "zone": "UTC"})).expect(201);
        let line = json!({"id": group, "species": "Poecilia wingei", "line": "Campo"});
        olga.caller.post("/api/v1/line-groups", &line).expect(201);
        let invite = |who: &Caller, login: &str| who.post(&format!("/api/v1/line-groups/{group}/invitations"), &json!({"login": login}));
        for login in ["ada", "nobody"] {
            let no = [
                olga.caller.put(&format!("/api/v1/rooms/{room}/keepers/{login}"), &json!({})),
                olga.caller.put(&format!("/api/v1/rooms/{room}/caretaker/{login}"), &json!({})),
            ];
            for no in no {
                assert_eq!(no.problem(404, "not-found")["detail"], "Nobody of your clubs signs in with this name.");
            }
        }
        invite(&olga.caller, "ada").expect(204);
        invite(&olga.caller, "nobody").problem(404, "not-found");
        assert!(!told(&s.ada).contains("Quay"), "{}", told(&s.ada));
        let invited = s.club.secretary.caller.post(&format!("/api/v1/clubs/{}/invitations", s.club.id), &json!({}));
        let token = token_of(&invited.expect(201).json());
        olga.caller.post("/api/v1/invitations/join", &json!({"token": token})).expect(200);
        olga.caller.put(&format!("/api/v1/rooms/{room}/keepers/ada"), &json!({})).expect(204);
        invite(&olga.caller, "ada").expect(204);
        assert!(told(&s.ada).contains("olga lets you keep Quay together from now on."), "{}", told(&s.ada));
    }

    /// Whoever changes or closes an account shows all that is asked for when somebody signs in.
    fn leaving_asks_for_the_second_factor_too(engine) {
        let s = Society::new(engine);
        let (_, codes) = set_up(&s.zoe);
        let leave = |body: serde_json::Value| s.zoe.caller.post("/api/v1/account/leaving", &body);
        leave(json!({"password": PASSWORD})).problem(401, "second-factor-needed");
        leave(json!({"password": PASSWORD, "code": "aaaa-aaaa-aaaa-aaaa"})).problem(422, "code-wrong");
        leave(json!({"password": PASSWORD, "code": codes[0]})).expect(204);
    }
}
