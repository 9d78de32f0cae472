//! Mail: a digest in the morning, to an address whose owner has agreed.

use super::{LONG_NAME, Told};
use mail_parser::MessageParser;
use serde_json::json;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::thread::JoinHandle;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::server::Server;
use tarn_tests::site::Visitor;
use tarn_tests::society::Society;

on_both_engines! {
    fn a_digest_comes_in_the_morning_to_a_proven_address(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        t.s.server.database().execute(&[
            "UPDATE rooms SET zone = 'Europe/Oslo'",
            "UPDATE accounts SET shown_name = 'Åda; Bcc: x@y.example' WHERE login_name = 'ada'",
        ]);
        t.came_in(LONG_NAME, "2027-03-10T17:40:00Z");
        let digest = |t: &Told| t.s.ada.caller.get("/api/v1/account/telling").expect(200).json()["digest"].clone();
        assert_eq!(digest(&t), "off");
        t.s.ada.caller.put("/api/v1/account/digest", &json!({"on": true})).expect(204);
        assert_eq!(digest(&t), "asked");
        assert_eq!(t.tell(), "sent 1, later 0, given up 0\n");
        let letters = t.letters();
        let token = letters[0].replace("=\r\n", "").replace("=3D", "=");
        let token: String = token.split("digest?token=").nth(1).expect("a link").chars()
            .take_while(|c| c.is_ascii_alphanumeric() || "-_".contains(*c)).collect();
        // looking agrees to nothing; the button does, once
        let visitor = Visitor::at(&t.s.server.url(""));
        let page = visitor.get(&format!("/account/digest?token={token}")).expect("a page");
        assert_eq!(page.status, 200, "{}", page.html);
        assert_eq!(digest(&t), "asked");
        let form = page.form(|form| form.action == "/account/digest/proved").expect("a button");
        for status in [200, 404] {
            assert_eq!(visitor.post(&form).expect("an answer").status, status);
        }
        assert_eq!(digest(&t), "on");
        // nothing to tell: no mail
        t.go_to("2027-03-12T06:30:00Z");
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
        // what is a week off is not told alone
        t.go_to("2027-04-08T05:01:00Z");
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
        // 7 o'clock in Oslo in summer is 5 o'clock UTC
        t.go_to("2027-04-09T04:10:00Z");
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
        t.go_to("2027-04-09T05:01:00Z");
        assert_eq!(t.tell(), "sent 1, later 0, given up 0\n");
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
        t.go_to("2027-04-10T05:01:00Z");
        assert_eq!(t.tell(), "sent 1, later 0, given up 0\n");
        let letters = t.letters();
        assert_eq!(letters.len(), 3);
        let mail = MessageParser::default().parse(letters[2].as_bytes()).expect("another program reads it");
        assert_eq!(mail.subject(), Some("Tarn: 1 new message"));
        assert_eq!(mail.to().and_then(|to| to.first()).and_then(|a| a.address()), Some("ada@example.org"));
        assert_eq!(mail.from().and_then(|from| from.first()).and_then(|a| a.address()), Some("tarn@example.org"));
        assert!(mail.bcc().is_none() && mail.cc().is_none());
        assert_eq!(mail.header_raw("Auto-Submitted").map(str::trim), Some("auto-generated"));
        assert!(mail.message_id().is_some_and(|id| id.ends_with("@example.org")));
        let body = mail.body_text(0).expect("a text");
        let says = format!("{LONG_NAME}, stands alone, in Cellar. Its days were done on Fri 9 Apr, 19:40.");
        assert!(body.contains(&says), "{body}");
        assert!(body.contains(&t.s.server.url("/units/")) && body.starts_with("Åda; Bcc: x@y.example,"), "{body}");
        for name in ["ben", "zoe", "wilma"] {
            assert!(!body.contains(name), "{name} is named:\n{body}");
        }
        assert_eq!(t.s.server.database().count("SELECT count(*) FROM mail_outbox WHERE body <> ''"), 0, "what was sent is not kept");
        // off is off
        t.s.ada.caller.put("/api/v1/account/digest", &json!({"on": false})).expect(204);
        t.came_in("Q9", "2027-03-10T17:40:00Z");
        t.go_to("2027-04-11T05:01:00Z");
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
    }

    fn mail_that_is_not_taken_is_tried_a_bounded_number_of_times(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        t.s.server.kill();
        // nobody is there: the folder is none
        std::fs::remove_dir(&t.post).expect("it is empty");
        t.s.server.start_again();
        t.s.ada.caller.put("/api/v1/account/digest", &json!({"on": true})).expect(204);
        t.s.server.kill();
        let mut last = String::new();
        for tries in 1.. {
            t.s.server.database().execute(&["UPDATE mail_outbox SET next_ms = 0"]);
            last = t.tell();
            if last != "sent 0, later 1, given up 0\n" {
                break;
            }
            assert!(tries < 50, "it is tried for ever");
        }
        assert_eq!(last, "sent 0, later 0, given up 1\n");
        assert_eq!(t.s.server.database().count("SELECT count(*) FROM mail_outbox WHERE recipient <> ''"), 0);
        t.s.server.database().execute(&["UPDATE mail_outbox SET next_ms = 0"]);
        assert_eq!(t.tell(), "sent 0, later 0, given up 0\n");
    }

    fn a_secretary_gets_the_newest_seal_to_keep(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        for (who, login) in [(&t.s.club.secretary, "wilma"), (&t.s.ada, "ada")] {
            who.caller.put("/api/v1/account/digest", &json!({"on": true})).expect(204);
            let proven = format!("UPDATE account_telling SET proven_email = '{login}@example.org' WHERE account IN \
                (SELECT id FROM accounts WHERE login_name = '{login}')");
            t.s.server.database().execute(&[&proven]);
        }
        t.tell();
        // on a Monday the seal alone is worth a letter; other mornings it comes with what else there is
        t.go_to("2027-03-14T07:10:00Z");
        t.tell();
        let with_seal = |t: &Told| t.letters().into_iter().filter(|letter| letter.contains("As secretary, keep")).collect::<Vec<_>>();
        assert_eq!(with_seal(&t).len(), 0);
        t.go_to("2027-03-15T07:10:00Z");
        t.tell();
        let letters = with_seal(&t);
        assert_eq!(letters.len(), 1, "{letters:?}");
        let mail = MessageParser::default().parse(letters[0].as_bytes()).expect("another program reads it");
        assert_eq!(mail.to().and_then(|to| to.first()).and_then(|a| a.address()), Some("wilma@example.org"));
        assert_eq!(mail.subject(), Some("Tarn: the newest seal"));
        let body = mail.body_text(0).expect("a text");
        assert!(body.contains(&t.s.server.url(&format!("/clubs/{}/audit?seal=", t.s.club.id))), "{body}");
        let kept = body.lines().skip_while(|line| !line.starts_with("As secretary")).nth(1).expect("a seal").to_owned();
        t.s.server.command(&["check", "--seal", &kept]).expect(0);
        // what was done before it is taken away, and all seals are made anew
        t.s.server.kill();
        t.s.server.database().execute(&[
            "DELETE FROM audit_facts WHERE id = 1",
            "DELETE FROM audit_seals",
            "UPDATE audit_facts SET seal = NULL",
        ]);
        t.tell();
        t.s.server.command(&["check"]).expect(0);
        t.s.server.command(&["check", "--seal", &kept]).expect(1);
    }

    fn a_server_without_mail_says_so(engine) {
        let s = Society::new(engine);
        assert!(s.server.logged().contains("no mail is sent"), "{}", s.server.logged());
        assert_eq!(s.ada.caller.get("/api/v1/account/telling").expect(200).json()["has_mail"], false);
        s.ada.caller.put("/api/v1/account/digest", &json!({"on": true})).problem(409, "no-mail");
        assert_eq!(s.server.database().count("SELECT count(*) FROM mail_outbox"), 0);
    }
}

/// A mail host that answers a recipient like this; what it was sent.
fn host(answers: &'static str) -> (String, JoinHandle<String>) {
    let door = TcpListener::bind("127.0.0.1:0").expect("a port");
    let url = format!("smtp://{}", door.local_addr().expect("an address"));
    let told = std::thread::spawn(move || {
        let (stream, _) = door.accept().expect("a sender");
        let mut out = stream.try_clone().expect("two ends");
        let mut say = |line: &str| out.write_all(format!("{line}\r\n").as_bytes()).expect("it listens");
        say("220 mail.example ready");
        let (mut told, mut in_data) = (String::new(), false);
        for line in BufReader::new(stream).lines() {
            let line = line.expect("a line");
            told.push_str(&line);
            told.push('\n');
            match line.split([' ', ':']).next().unwrap_or_default() {
                "." if in_data => {
                    in_data = false;
                    say("250 taken");
                }
                _ if in_data => {}
                "RCPT" => say(answers),
                "DATA" => {
                    in_data = true;
                    say("354 go on");
                }
                "QUIT" => {
                    say("221 bye");
                    break;
                }
                _ => say("250 fine"),
            }
        }
        told
    });
    (url, told)
}

/// What comes of a letter to a host that answers like this.
fn to_a_host(answers: &'static str) -> (String, String) {
    let (url, told) = host(answers);
    let mut server = Server::prepare(Database::new(Engine::Sqlite));
    server.set("TARN_PUBLIC_URL", "https://tarn.example");
    server.set("TARN_MAIL_FROM", "Tarn <tarn@example.org>");
    server.start_again();
    let s = Society::on(server);
    // only the command sends, so that what it says is all of it
    let letter = "INSERT INTO mail_outbox (id, recipient, subject, body, made_ms, next_ms, tries) VALUES \
        (randomblob(16), 'ada@example.org', 'Tärn', 'Guten Morgen, Ada.\n.\nEnde', 0, 0, 0)";
    s.server.database().execute(&[letter]);
    let mut server = s.server;
    server.kill();
    server.set("TARN_MAIL_URL", &url);
    let said = server.command(&["mail", "send"]).expect(0).stdout;
    (said, told.join().expect("the host"))
}

#[test]
fn a_mail_host_takes_a_letter_whole() {
    let (said, told) = to_a_host("250 fine");
    assert_eq!(said, "sent 1, later 0, given up 0\n");
    for line in
        ["MAIL FROM:<tarn@example.org>", "RCPT TO:<ada@example.org>", "Auto-Submitted: auto-generated"]
    {
        assert!(told.contains(line), "{line} is not in:\n{told}");
    }
    let letter = told.split("DATA\n").nth(1).expect("a letter").split("\n.\n").next().expect("an end");
    let mail = MessageParser::default().parse(letter.as_bytes()).expect("a letter");
    assert_eq!(mail.subject(), Some("Tärn"));
    assert!(
        mail.body_text(0).is_some_and(|body| body.contains("Guten Morgen, Ada.") && body.contains("Ende"))
    );
}

#[test]
fn a_no_for_now_is_tried_again_and_a_no_for_good_is_not() {
    assert_eq!(to_a_host("451 later please").0, "sent 0, later 1, given up 0\n");
    assert_eq!(to_a_host("550 nobody of that name").0, "sent 0, later 0, given up 1\n");
}

#[test]
fn a_shifted_clock_sends_no_mail_to_people() {
    let mut server = Server::prepare(Database::new(Engine::Sqlite));
    server.set_clock("31d");
    server.set("TARN_MAIL_URL", "smtps://mail.example.invalid");
    server.set("TARN_MAIL_FROM", "tarn@example.org");
    server.set("TARN_PUBLIC_URL", "https://tarn.example");
    let said = server.command(&["mail", "send"]).expect(1);
    assert!(said.stderr.contains("shifted clock"), "{said}");
}
