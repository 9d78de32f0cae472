//! How membership begins and ends: invitations, a second club, leaving, being taken off the list.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::{Club, Person};
use tarn_tests::server::Server;

use super::{accept, named, people, put, strike, token_of};

fn clubs_of(who: &Person) -> Vec<String> {
    let told = who.caller.get("/api/v1/account").expect(200).json();
    let clubs = told["clubs"].as_array().cloned().unwrap_or_default();
    clubs.iter().map(|club| club["name"].as_str().unwrap_or_default().to_owned()).collect()
}

on_both_engines! {
    fn who_stands_on_the_list_is_invited_onto_their_own_line(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (by, ida) = (&club.secretary, id());
        let line = json!({"name": "Ida Brook", "number": "7", "email": "ida@example.org", "paid_until": "2199-12-31"});
        put(by, &format!("/api/v1/clubs/{}/people/{ida}", club.id), None, &line).expect(200);
        let invitations = format!("/api/v1/clubs/{}/invitations", club.id);
        let invited = by.caller.post(&invitations, &json!({"person": ida})).expect(201).json();
        assert_eq!(invited["mailed"], false, "this server sends no mail");
        let open = by.caller.get(&invitations).expect(200).json();
        assert_eq!((&open[0]["email"], &open[0]["person"], &open[0]["role"]), (&json!("ida@example.org"), &json!(ida), &Value::Null));
        assert!(!open.to_string().contains(&token_of(&invited)), "a token is told once");
        accept(&by.caller, &token_of(&invited), "ida").expect(201);
        let all = people(by, &club.id);
        let told = named(&all, "Ida Brook");
        assert_eq!((&told["shown_name"], &told["number"], &told["person"]), (&json!("ida"), &json!("7"), &json!(ida)));
        assert_eq!(all.len(), 2);
        assert_eq!(by.caller.get(&invitations).expect(200).json(), json!([]));
        by.caller.post(&invitations, &json!({"person": ida})).problem(409, "has-a-login");
        by.caller.post(&invitations, &json!({"person": id()})).problem(404, "not-found");
    }

    fn an_invitation_is_taken_back(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let other = Club::found(&server, "Harbour Aquarists", "olga").secretary;
        let by = &club.secretary;
        let here = format!("/api/v1/clubs/{}/invitations", club.id);
        let invited = by.caller.post(&here, &json!({"role": "recorder"})).expect(201).json();
        let one = format!("{here}/{}", invited["id"].as_str().expect("an id"));
        other.caller.delete(&one).problem(404, "not-found");
        by.caller.delete(&one).expect(204);
        by.caller.delete(&one).expect(204);
        accept(&by.caller, &token_of(&invited), "nell").problem(404, "invitation-unknown");
        by.caller.delete(&format!("{here}/{}", id())).problem(404, "not-found");
    }

    fn one_account_is_in_two_clubs_and_leaves_one(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let harbour = Club::found(&server, "Harbour Aquarists", "olga");
        let otto = club.member("otto", None);
        let path = format!("/api/v1/clubs/{}/invitations", harbour.id);
        let invited = harbour.secretary.caller.post(&path, &json!({"role": "treasurer"})).expect(201).json();
        let joined = otto.caller.post("/api/v1/invitations/join", &json!({"token": token_of(&invited)}));
        assert_eq!(joined.expect(200).json()["club"], json!(harbour.id));
        let again = otto.caller.post("/api/v1/invitations/join", &json!({"token": token_of(&invited)}));
        again.problem(404, "invitation-unknown");
        assert_eq!(clubs_of(&otto), ["Harbour Aquarists", "Kettle Lane Fishkeepers"]);
        assert_eq!(named(&people(&otto, &harbour.id), "otto")["roles"], json!(["treasurer"]));

        otto.caller.delete(&format!("/api/v1/clubs/{}/membership", harbour.id)).expect(204);
        assert_eq!(clubs_of(&otto), ["Kettle Lane Fishkeepers"]);
        otto.caller.get(&format!("/api/v1/clubs/{}/people", harbour.id)).problem(404, "not-found");
        assert_eq!(people(&harbour.secretary, &harbour.id).len(), 1);
        otto.caller.delete(&format!("/api/v1/clubs/{}/membership", harbour.id)).problem(404, "not-found");
        // invited again, without the roles of before
        let invited = harbour.secretary.caller.post(&path, &json!({})).expect(201).json();
        otto.caller.post("/api/v1/invitations/join", &json!({"token": token_of(&invited)})).expect(200);
        assert_eq!(named(&people(&harbour.secretary, &harbour.id), "otto")["roles"], json!([]));
    }

    fn a_club_keeps_its_last_secretary(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let by = &club.secretary;
        let line = named(&people(by, &club.id), "ines").clone();
        let path = format!("/api/v1/clubs/{}/people/{}", club.id, line["person"].as_str().expect("an id"));
        by.caller.delete(&format!("/api/v1/clubs/{}/membership", club.id)).problem(409, "last-secretary");
        strike(by, &path, 1).problem(409, "last-secretary");
        let role = |role: &str| format!("/api/v1/clubs/{}/members/{}/roles/{role}", club.id, by.account);
        by.caller.delete(&role("secretary")).problem(409, "last-secretary");
        // belonging is no role
        by.caller.delete(&role("member")).problem(422, "invalid");
        by.caller.put(&role("member"), &json!({})).problem(422, "invalid");
        let nell = club.member("nell", Some("secretary"));
        strike(&nell, &path, 1).expect(204);
        assert!(clubs_of(by).is_empty());
    }
}
