//! What was done stays as it was written down, or a check says what was changed; and who reads it.

use crate::pages::{assert_says, look_at};
use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::people::Club;
use tarn_tests::server::Server;
use tarn_tests::site::Visitor;
use tarn_tests::society::Society;

/// Of the time, nobody's id, the area and the fact that the test below writes, a line each.
const OLD_DIGEST: &str = "28ea667082b7f2a1da829061099d71617d8cf963d301fbd186d9e0edf6d57110";

/// The server has ended, so that nothing is sealed but by the test.
fn ended(engine: Engine) -> Society {
    let mut s = Society::new(engine);
    s.server.stop();
    s
}

/// Does what is due: what is new is sealed.
fn seal(server: &Server) {
    server.command(&["mail", "send"]).expect(0);
}

/// Something that is audited.
fn act(server: &Server, login: &str) {
    let roles = ["officer", "add", "--login", login, "--club", "Fellside Fishkeepers", "--role", "librarian"];
    server.command(&roles).expect(0);
}

#[test]
fn a_secretary_reads_it_on_a_phone() {
    let s = Society::new(Engine::Sqlite);
    let browser = Browser::start(Screen::Phone);
    browser.sign_in(&s.server.url(""), "wilma");
    browser.visit(&s.server.url(&format!("/clubs/{}/audit", s.club.id)));
    assert_says(
        &browser.text("main"),
        &["zoe joined the club", "The operator: the club made by the operator"],
    );
    look_at(&browser, "club-audit");
}

/// What a check says of the audit when all is well.
#[track_caller]
fn well(server: &Server) -> String {
    let said = server.command(&["check"]).expect(0);
    let line = said.stdout.lines().find(|line| line.starts_with("audit ")).expect("a line").to_owned();
    assert!(line.contains(", well;"), "{line}");
    line
}

/// The newest seal, as it may be kept.
fn newest(line: &str) -> String {
    line.split("newest seal ").nth(1).unwrap_or_else(|| panic!("no seal in {line}")).to_owned()
}

on_both_engines! {
    fn a_change_of_the_past_is_named(engine) {
        let s = ended(engine);
        seal(&s.server);
        act(&s.server, "lena");
        seal(&s.server);
        act(&s.server, "lars");
        let line = well(&s.server);
        assert!(line.contains(" 1 not sealed yet") && line.contains("newest seal "), "{line}");
        let whole = s.server.database().snapshot();
        let wrong_row = match engine {
            Engine::Sqlite => "zeroblob(32)",
            Engine::Postgres => "decode(repeat('00', 32), 'hex')",
        };
        let forged = format!("INSERT INTO audit_facts (at_ms, area, fact, digest, by_operator) VALUES (1, 'clubs', 'x', {wrong_row}, false)");
        for (change, says) in [
            ("UPDATE audit_facts SET fact = 'nothing of note' WHERE id = 3", "fact 3 of"),
            ("UPDATE audit_facts SET at_ms = at_ms + 1 WHERE id = 3", "fact 3 of"),
            ("UPDATE audit_facts SET by_operator = true WHERE id = 3", "fact 3 of"),
            ("UPDATE audit_facts SET salt = NULL WHERE id = 3", "fact 3 of"),
            ("UPDATE audit_facts SET fact = 'x' WHERE seal IS NULL", "was changed"),
            ("DELETE FROM audit_facts WHERE id = 4", "was made of"),
            ("UPDATE audit_facts SET seal = NULL WHERE id = 4", "was made of"),
            ("UPDATE audit_facts SET seal = 99 WHERE id = 4", "the first is fact 4, of seal 99"),
            ("UPDATE audit_seals SET at_ms = at_ms + 1 WHERE number = 1", "seal 1 of"),
            ("UPDATE audit_seals SET hash = (SELECT hash FROM audit_seals WHERE number = 1) WHERE number = 2", "seal 2 of"),
            ("DELETE FROM audit_seals WHERE number = 1", "seal 1 is missing"),
            (forged.as_str(), "was changed: its digest is another's"),
        ] {
            s.server.database().execute(&[change]);
            let said = s.server.command(&["check"]).expect(1);
            assert!(said.stdout.contains("WRONG") && said.stdout.contains(says), "{change}\n{said}");
            assert!(said.stderr.contains("in the audit"), "{said}");
            s.server.database().roll_back(&whole);
        }
        well(&s.server);
    }

    /// Seals and digests can all be made anew by whoever has the database; the seal that was kept elsewhere can't.
    fn whoever_kept_a_seal_notices_a_past_made_anew(engine) {
        let s = ended(engine);
        seal(&s.server);
        let kept = newest(&well(&s.server));
        s.server.command(&["check", "--seal", &kept]).expect(0);
        act(&s.server, "lena");
        seal(&s.server);
        s.server.command(&["check", "--seal", &kept]).expect(0);
        s.server.database().execute(&[
            "DELETE FROM audit_seals",
            "DELETE FROM audit_facts WHERE id = 2",
            "UPDATE audit_facts SET seal = NULL",
        ]);
        seal(&s.server);
        act(&s.server, "lars");
        seal(&s.server);
        well(&s.server);
        let said = s.server.command(&["check", "--seal", &kept]).expect(1);
        assert!(said.stdout.contains("has another hash"), "{said}");
        s.server.database().execute(&["DELETE FROM audit_seals", "UPDATE audit_facts SET seal = NULL"]);
        let said = s.server.command(&["check", "--seal", &kept]).expect(1);
        assert!(said.stdout.contains("is not there any more"), "{said}");
        let said = s.server.command(&["check", "--seal", "no seal"]).expect(1);
        assert!(said.stderr.contains("its number and its hash"), "{said}");
    }

    /// On PostgreSQL a lower number may be committed after a higher one was sealed.
    fn a_fact_that_comes_late_with_a_low_number_is_sealed_next(engine) {
        let s = ended(engine);
        let db = s.server.database();
        // the server may have sealed the first facts at its start
        db.execute(&[
            "CREATE TABLE aside AS SELECT * FROM audit_facts WHERE id = (SELECT min(id) FROM audit_facts WHERE seal IS NULL)",
            "DELETE FROM audit_facts WHERE id IN (SELECT id FROM aside)",
        ]);
        assert_eq!(db.count("SELECT count(*) FROM aside"), 1);
        seal(&s.server);
        assert!(well(&s.server).contains(" 0 not sealed yet"));
        db.execute(&["INSERT INTO audit_facts SELECT * FROM aside"]);
        assert!(well(&s.server).contains(" 1 not sealed yet"));
        seal(&s.server);
        assert!(well(&s.server).contains(" 0 not sealed yet"));
        assert_eq!(db.count("SELECT count(*) FROM audit_facts WHERE id IN (SELECT id FROM aside) AND seal = (SELECT max(number) FROM audit_seals)"), 1);
    }

    /// Its digest is as it was made before there were salts.
    fn what_was_done_before_there_were_seals_is_sealed_too(engine) {
        let s = ended(engine);
        let bytes = match engine {
            Engine::Sqlite => format!("X'{OLD_DIGEST}'"),
            Engine::Postgres => format!("decode('{OLD_DIGEST}', 'hex')"),
        };
        let old = format!("INSERT INTO audit_facts (at_ms, area, fact, digest) VALUES (1000, 'clubs', 'club made by the operator', {bytes})");
        s.server.database().execute(&[&old]);
        well(&s.server);
        seal(&s.server);
        assert!(well(&s.server).contains(" 0 not sealed yet"));
        s.server.database().execute(&["UPDATE audit_facts SET fact = 'club made by nobody' WHERE salt IS NULL"]);
        let said = s.server.command(&["check"]).expect(1);
        assert!(said.stdout.contains("was changed"), "{said}");
    }

    fn a_backup_can_be_checked_where_it_was_restored(engine) {
        let s = ended(engine);
        seal(&s.server);
        act(&s.server, "lena");
        let kept = newest(&well(&s.server));
        let file = s.server.database().folder().join("moved.tarn");
        let file = file.to_string_lossy();
        s.server.command(&["backup", &file]).expect(0);
        let other = if engine == Engine::Sqlite { Engine::Postgres } else { Engine::Sqlite };
        let moved = Server::prepare(Database::empty(other));
        moved.command(&["restore", &file]).expect(0);
        moved.command(&["check", "--seal", &kept]).expect(0);
        seal(&moved);
        assert!(well(&moved).contains(" 0 not sealed yet"));
        moved.command(&["check", "--seal", &kept]).expect(0);
        let told = "SELECT count(*) FROM audit_facts WHERE fact LIKE 'the server restored from the backup%' AND club IS NOT NULL";
        assert_eq!(moved.database().count(told), 1);
        moved.database().execute(&["UPDATE audit_facts SET fact = 'x' WHERE id = 2"]);
        moved.command(&["check"]).expect(1);
    }

    fn secretaries_read_what_was_done_in_their_club(engine) {
        let mut s = Society::new(engine);
        let lena = s.club.member("lena", None);
        let path = format!("/api/v1/clubs/{}", s.club.id);
        s.club.secretary.caller.put(&format!("{path}/members/{}/roles/librarian", lena.account), &json!({})).expect(204);
        // another club's facts are not theirs
        let other = Club::found(&s.server, "Harbour Aquarists", "olga");
        s.server.stop();
        seal(&s.server);
        s.server.start_again();
        let wilma = s.club.secretary.sign_in(&s.stranger()).caller;
        let all = wilma.get(&format!("{path}/audit")).expect(200).json();
        let facts = all["facts"].as_array().expect("facts").clone();
        let words: Vec<&str> = facts.iter().filter_map(|fact| fact["words"].as_str()).collect();
        assert_eq!(words[0], "lena is librarian of the club", "{all}");
        assert_eq!(facts[0]["by"], json!({"kind": "account", "account": s.club.secretary.account, "shown_name": "wilma"}));
        assert!(words.contains(&"ada joined the club") && words.contains(&"the club made by the operator"), "{words:?}");
        assert!(!all.to_string().contains("olga"), "{all}");
        let made = facts.last().expect("the first fact");
        assert_eq!(made["by"], json!({"kind": "operator", "account": null, "shown_name": null}), "{all}");
        let seal_of = all["seal"].clone();
        assert!(facts.iter().all(|fact| fact["seal"].as_i64() <= seal_of["number"].as_i64()), "{all}");
        // page by page it is the same list
        let (mut paged, mut after) = (Vec::new(), String::new());
        loop {
            let answer = wilma.get(&format!("{path}/audit?limit=3{after}")).expect(200);
            let page = answer.json();
            paged.extend(page["facts"].as_array().expect("facts").iter().map(|fact| fact["id"].clone()));
            let Some(next) = page["next"].as_str() else { break };
            let link = answer.headers.get("link").and_then(|link| link.to_str().ok()).unwrap_or_default();
            assert!(link.contains(&format!("after={next}")) && link.ends_with("rel=\"next\""), "{link}");
            after = format!("&after={next}");
        }
        assert_eq!(paged, facts.iter().map(|fact| fact["id"].clone()).collect::<Vec<Value>>());
        wilma.get(&format!("{path}/audit?after=nowhere")).problem(400, "malformed");
        // nobody else
        let at = |person: &tarn_tests::people::Person| -> Caller { person.sign_in(&s.stranger()).caller };
        at(&lena).get(&format!("{path}/audit")).problem(403, "role-missing");
        at(&other.secretary).get(&format!("{path}/audit")).problem(404, "not-found");
        s.stranger().get(&format!("{path}/audit")).problem(401, "not-signed-in");
        // and on a page
        let visitor = Visitor::at(&s.server.url(""));
        visitor.sign_in("wilma").expect("signed in");
        let here = format!("/clubs/{}/audit", s.club.id);
        // by its number: the server may have made another since
        let page = visitor.get(&format!("{here}?seal={}", seal_of["number"])).expect("a page");
        let hash = seal_of["hash"].as_str().expect("a hash");
        for says in ["<strong>wilma</strong>: lena is librarian of the club", "<strong>The operator</strong>: the club made by the operator", hash] {
            assert!(page.html.contains(says), "{says} is not in:\n{}", page.html);
        }
        let first = visitor.get(&format!("{here}?seal=1")).expect("a page");
        assert!(first.html.contains("Seal 1, made "), "{}", first.html);
        let none = visitor.get(&format!("{here}?seal=4000")).expect("a page");
        assert!(none.html.contains("There is no seal 4000.") && !none.html.contains("class=\"secret\""), "{}", none.html);
        let member = Visitor::at(&s.server.url(""));
        member.sign_in("lena").expect("signed in");
        assert_eq!(member.get(&here).expect("a page").status, 403);
        // who leaves is not named any more
        s.server.database().execute(&[
            "DELETE FROM club_roles WHERE account IN (SELECT id FROM accounts WHERE login_name = 'lena')",
            "DELETE FROM club_members WHERE account IN (SELECT id FROM accounts WHERE login_name = 'lena')",
        ]);
        let all = wilma.get(&format!("{path}/audit")).expect(200).json();
        assert_eq!(all["facts"][0]["words"], "somebody who left, or is of another club is librarian of the club");
        assert!(!all.to_string().contains("lena"), "{all}");
    }
}
