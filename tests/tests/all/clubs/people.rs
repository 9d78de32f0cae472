//! The member list: lines one by one, and whole sheets.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::Club;
use tarn_tests::server::Server;

use super::{named, people, put, sheet, strike};

fn pointers(problem: &Value) -> Vec<&str> {
    problem["errors"].as_array().into_iter().flatten().filter_map(|fault| fault["pointer"].as_str()).collect()
}

on_both_engines! {
    fn a_secretary_keeps_the_list_and_a_treasurer_reads_it(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (tess, otto) = (club.member("tess", Some("treasurer")), club.member("otto", None));
        let stranger = Club::found(&server, "Harbour Aquarists", "olga").secretary;
        let here = format!("/api/v1/clubs/{}/people", club.id);
        // whoever signs in stands there from the first
        let all = people(&club.secretary, &club.id);
        assert_eq!(all.len(), 3);
        assert_eq!(named(&all, "tess")["roles"], json!(["treasurer"]));
        assert_eq!(named(&all, "otto")["standing"], "not_said");

        let ida = format!("{here}/{}", id());
        let line = json!({"name": "Ida Brook", "number": "7", "household": "Mill Row 3", "paid_until": "2020-12-31"});
        let made = put(&club.secretary, &ida, None, &line).expect(200).json();
        assert_eq!((&made["standing"], &made["account"], &made["version"]), (&json!("owing"), &Value::Null, &json!(1)));
        assert_eq!(put(&club.secretary, &ida, None, &line).expect(200).json(), made, "the same again");
        put(&club.secretary, &ida, None, &json!({"paid_until": "2199-12-31"})).problem(428, "if-match-missing");
        let paid = put(&club.secretary, &ida, Some(1), &json!({"paid_until": "2199-12-31", "number": null}));
        let paid = paid.expect(200).json();
        assert_eq!((&paid["standing"], &paid["number"], &paid["household"]), (&json!("paid"), &Value::Null, &json!("Mill Row 3")));
        put(&club.secretary, &ida, Some(1), &json!({"lapsed": true})).problem(412, "not-the-newest");

        // what is wrong is told by field, all of it
        let wrong = json!({"name": " ", "email": "nobody", "paid_until": "soon"});
        let told = put(&club.secretary, &format!("{here}/{}", id()), None, &wrong).problem(422, "invalid");
        assert_eq!(pointers(&told), ["/name", "/email", "/paid_until"]);
        let unknown = put(&club.secretary, &ida, Some(2), &json!({"telephone": "1"}));
        assert_eq!(unknown.status, 400, "{unknown}");
        put(&club.secretary, &ida, Some(2), &json!({"number": "9"})).expect(200);
        let taken = json!({"name": "Nell Marsh", "number": "9"});
        put(&club.secretary, &format!("{here}/{}", id()), None, &taken).problem(422, "invalid");

        assert_eq!(people(&tess, &club.id).len(), 4);
        put(&tess, &ida, Some(3), &json!({"lapsed": true})).problem(403, "role-missing");
        otto.caller.get(&here).problem(403, "role-missing");
        stranger.caller.get(&here).problem(404, "not-found");
        put(&stranger, &ida, Some(3), &json!({"lapsed": true})).problem(404, "not-found");

        // a guest is no officer, whichever comes first
        let of = |name: &str| format!("{here}/{}", named(&people(&club.secretary, &club.id), name)["person"].as_str().expect("an id"));
        put(&club.secretary, &of("tess"), Some(1), &json!({"guest": true})).problem(409, "guests-are-no-officers");
        put(&club.secretary, &of("otto"), Some(1), &json!({"guest": true})).expect(200);
        let role = format!("/api/v1/clubs/{}/members/{}/roles/recorder", club.id, otto.account);
        club.secretary.caller.put(&role, &json!({})).problem(409, "guests-are-no-officers");

        strike(&club.secretary, &ida, 3).expect(204);
        assert_eq!(people(&club.secretary, &club.id).len(), 3);
        // who comes back stands under the same id
        assert_eq!(put(&club.secretary, &ida, None, &json!({"name": "Ida Brook"})).expect(200).json()["number"], Value::Null);
    }

    fn a_sheet_is_taken_whole_or_not_at_all(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let by = &club.secretary;
        let text = "Number;Name;E-Mail;Household;Guest;Paid until\n\
            7;Ida Brook;ida@example.org;Mill Row 3;;2199-12-31\n\
            8;\"Fenn; Otto\";;;;2020-01-31\n\
            ;'=Nell Marsh;;;yes;\n";
        assert_eq!(sheet(by, &club.id, text).expect(200).json(), json!({"added": 3, "changed": 0, "same": 0}));
        assert_eq!(sheet(by, &club.id, text).expect(200).json(), json!({"added": 0, "changed": 0, "same": 3}));
        let all = people(by, &club.id);
        assert_eq!(named(&all, "Fenn; Otto")["standing"], "owing");
        assert_eq!(named(&all, "=Nell Marsh")["guest"], true);

        // a sheet with fewer columns and lines leaves the rest as it was
        let paid = "number,paid_until,name\n8,2199-12-31,\"Fenn; Otto\"\n";
        assert_eq!(sheet(by, &club.id, paid).expect(200).json(), json!({"added": 0, "changed": 1, "same": 0}));

        let wrong = "number,name,paid_until\n7,Ida B.,2199-12-31\n9,,tomorrow\n7,Somebody,\n";
        let told = sheet(by, &club.id, wrong).problem(422, "invalid");
        assert_eq!(pointers(&told), ["/lines/3/name", "/lines/3/paid_until", "/lines/4/number"]);
        assert_eq!(named(&people(by, &club.id), "Ida Brook")["number"], "7", "nothing was taken");
        for (text, pointer) in [("Name,Telephone\nIda,1\n", "/lines/1"), ("Number\n7\n", "/lines/1")] {
            assert_eq!(pointers(&sheet(by, &club.id, text).problem(422, "invalid")), [pointer], "{text}");
        }

        // what is written out is guarded against formulas, and can be taken in again
        let path = format!("/api/v1/clubs/{}/people/sheet", club.id);
        let out = by.caller.get(&path).expect(200).text;
        assert!(out.starts_with("number,name,email,household,guest,paid_until,lapsed\n"), "{out}");
        assert!(out.contains(",'=Nell Marsh,"), "{out}");
        assert_eq!(sheet(by, &club.id, &out).expect(200).json(), json!({"added": 0, "changed": 0, "same": 4}));
        let otto = club.member("otto", None);
        otto.caller.get(&path).problem(403, "role-missing");
        sheet(&otto, &club.id, text).problem(403, "role-missing");
    }

    fn the_list_is_told_page_by_page(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let lines: String = (1..=7).map(|n| format!("{n},Person {n}\n")).collect();
        sheet(&club.secretary, &club.id, &format!("number,name\n{lines}")).expect(200);
        let (mut seen, mut after) = (Vec::new(), String::new());
        loop {
            let path = format!("/api/v1/clubs/{}/people?limit=3{after}", club.id);
            let told = club.secretary.caller.get(&path).expect(200).json();
            seen.extend(told["people"].as_array().into_iter().flatten().map(|one| one["person"].clone()));
            match told["next"].as_str() {
                Some(next) => after = format!("&after={next}"),
                None => break,
            }
        }
        let mut once = seen.iter().map(Value::to_string).collect::<Vec<_>>();
        once.sort();
        once.dedup();
        assert_eq!((seen.len(), once.len()), (8, 8));
    }
}
