//! What two members write to each other: through the server, seen by nobody else, told once a turn.

use super::{Board, line, posted, read, reply, told, wanted};
use serde_json::json;
use tarn_tests::on_both_engines;
use tarn_tests::people::{PASSWORD, Person};
use tarn_tests::site::Visitor;

/// Somebody whose login name is nothing like what others read of them.
fn quirin(b: &Board) -> Person {
    let invited =
        b.s.club.secretary.caller.post(&format!("/api/v1/clubs/{}/invitations", b.s.club.id), &json!({}));
    let token = invited.expect(201).json()["token"].as_str().expect("a token").to_owned();
    let wanted = json!({"token": token, "login_name": "zzlogin", "email": "zzmail@example.net",
        "shown_name": "Quirin Q.", "password": PASSWORD});
    let session = b.s.stranger().post("/api/v1/invitations/accept", &wanted).expect(201).json();
    let text = |value: &serde_json::Value| value.as_str().expect("a text").to_owned();
    Person {
        login: "zzlogin".into(),
        account: text(&session["account"]["id"]),
        caller: b.s.stranger().with_token(&text(&session["access_token"])),
    }
}

on_both_engines! {
    fn a_reply_is_between_two(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let thread = reply(&b.s.zoe, &notice, "Two females among them?\n<b>Please</b>");
        assert_eq!(reply(&b.s.zoe, &notice, "And how old?"), thread, "a second reply is the same thread");
        assert_eq!(told(&b.s.ada, "zoe wrote to you about a notice (for sale: Poecilia wingei)"), 1);
        let path = format!("/api/v1/threads/{thread}");
        b.mia.caller.get(&path).problem(404, "not-found");
        b.mia.caller.post(&format!("{path}/lines"), &line("Me too")).problem(404, "not-found");
        let answer = line("Three months.");
        for _ in 0..2 {
            b.s.ada.caller.post(&format!("{path}/lines"), &answer).expect(201);
        }
        assert_eq!(told(&b.s.zoe, "ada wrote to you"), 1);
        b.s.zoe.caller.post(&format!("{path}/lines"), &answer).problem(409, "conflict");
        let seen = b.s.zoe.caller.get(&path).expect(200).json();
        let lines: Vec<_> = seen["lines"].as_array().expect("lines").iter().map(|l| l["mine"].clone()).collect();
        assert_eq!(lines, [json!(true), json!(true), json!(false)], "{seen}");
        b.s.ada.caller.post(&format!("/api/v1/notices/{notice}/replies"), &line("Hm")).problem(409, "own-notice");
        // its author reads all threads of a notice, each other reader their own
        assert_eq!(read(&b.s.ada, &notice).json()["threads"][0]["with"], "zoe");
        assert_eq!(read(&b.s.zoe, &notice).json()["threads"][0]["with"], "ada");
        assert_eq!(read(&b.mia, &notice).json()["threads"], json!([]));
        // a thread outlives its notice
        b.s.ada.caller.post(&format!("/api/v1/notices/{notice}/end"), &json!({"how": "done"})).expect(200);
        b.s.zoe.caller.post(&format!("{path}/lines"), &line("Thanks")).expect(201);
        assert_eq!(b.s.zoe.caller.get(&path).json()["notice"], json!(null));
    }

    fn neither_learns_who_the_other_is_beyond_the_shown_name(engine) {
        let b = Board::new(engine);
        let quirin = quirin(&b);
        let notice = posted(&quirin, &wanted(&b.s.club.id, "Xenotoca eiseni"));
        let thread = reply(&b.s.zoe, &notice, "I have some.");
        let zoe = Visitor::at(&b.s.server.url(""));
        zoe.sign_in("zoe").expect("zoe signs in");
        let mut seen = vec![
            read(&b.s.zoe, &notice).text,
            b.s.zoe.caller.get("/api/v1/notices").text,
            b.s.zoe.caller.get("/api/v1/threads").text,
            b.s.zoe.caller.get(&format!("/api/v1/threads/{thread}")).text,
        ];
        for path in ["/notices", &format!("/notices/{notice}"), "/threads", &format!("/threads/{thread}"),
            &format!("/swaps/new?thread={thread}")]
        {
            let page = zoe.get(path).expect("a page");
            assert_eq!(page.status, 200, "{path}");
            seen.push(page.html);
        }
        for text in seen {
            assert!(text.contains("Quirin Q."), "{text}");
            for secret in ["zzlogin", "zzmail", quirin.account.as_str()] {
                assert!(!text.contains(secret), "{secret} in {text}");
            }
        }
        let mia = Visitor::at(&b.s.server.url(""));
        mia.sign_in("mia").expect("mia signs in");
        assert_eq!(mia.get(&format!("/threads/{thread}")).expect("a page").status, 404);
        assert!(Visitor::at(&b.s.server.url("")).get("/notices").expect("a page").is_sign_in());
    }

    fn nobody_writes_to_everybody(engine) {
        let b = Board::new(engine);
        let mut last = String::new();
        for at in 0..21 {
            // the twenty-first notice is somebody else's: twenty are enough for one account
            let author = if at < 20 { &b.s.ada } else { &b.mia };
            last = posted(author, &wanted(&b.s.club.id, "Xenotoca eiseni"));
            if at < 20 {
                reply(&b.s.zoe, &last, "I have some.");
            }
        }
        let refused = b.s.zoe.caller.post(&format!("/api/v1/notices/{last}/replies"), &line("I have some."));
        refused.problem(429, "too-many-today");
        reply(&b.s.ben, &last, "So have I.");
    }
}
