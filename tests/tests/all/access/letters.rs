//! Letters with a link: an address is proven, a forgotten password reset, an account made. Whoever asks reads the same
//! whether or not somebody is there.

use super::set_up;
use mail_parser::MessageParser;
use serde_json::{Value, json};
use std::path::PathBuf;
use tarn_tests::api::{Answer, Caller};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::site::Visitor;

use crate::pages::{assert_says, look_at};

const OTHER: &str = "seven buckets behind the shed";

/// A server whose mail goes into a folder.
struct Post {
    server: Server,
    club: Club,
    folder: PathBuf,
}

/// A letter as another program reads it.
#[derive(Clone, Debug)]
struct Letter {
    to: String,
    body: String,
}

impl Letter {
    /// What stands behind these words, up to the end of an address.
    fn token(&self, before: &str) -> String {
        let rest =
            self.body.split(before).nth(1).unwrap_or_else(|| panic!("no {before:?} in:\n{}", self.body));
        rest.chars().take_while(|c| c.is_ascii_alphanumeric() || "-_".contains(*c)).collect()
    }
}

impl Post {
    fn new(engine: Engine, sign_up: bool) -> Self {
        let mut server = Server::prepare(Database::new(engine));
        let folder = server.database().folder().join("post");
        std::fs::create_dir_all(&folder).expect("a folder");
        server.set("TARN_MAIL_URL", &format!("file:{}", folder.display()));
        server.set("TARN_MAIL_FROM", "Tarn <tarn@example.org>");
        server.set("TARN_SIGN_UP", if sign_up { "true" } else { "false" });
        // links lead to the port that it will have again
        server.set("TARN_PUBLIC_URL", "http://localhost");
        server.start_again();
        server.kill();
        let site = server.url("");
        server.set("TARN_PUBLIC_URL", &site);
        server.start_again();
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        Self { server, club, folder }
    }

    fn stranger(&self) -> Caller {
        Caller::stranger(&self.server)
    }

    /// Everything that went out, the oldest first, once there are so many; and there are not more.
    #[track_caller]
    fn letters(&self, many: usize) -> Vec<Letter> {
        let all = "SELECT count(*) FROM mail_outbox";
        let open = "SELECT count(*) FROM jobs WHERE kind LIKE 'accounts.%-asked' AND done_ms IS NULL";
        let waits = "SELECT count(*) FROM mail_outbox WHERE sent_ms IS NULL";
        for _ in 0..200 {
            self.server.command(&["mail", "send"]).expect(0);
            let database = self.server.database();
            if database.count(open) == 0 && database.count(waits) == 0 {
                break;
            }
        }
        assert_eq!(self.server.database().count(all), i64::try_from(many).expect("few"), "letters");
        let files = std::fs::read_dir(&self.folder).expect("the folder").map(|f| f.expect("a file").path());
        let mut files: Vec<PathBuf> = files.filter(|p| p.extension().is_some_and(|e| e == "eml")).collect();
        files.sort_by_key(|p| std::fs::metadata(p).and_then(|m| m.modified()).expect("a time"));
        let read = |path: &PathBuf| {
            let bytes = std::fs::read(path).expect("a letter");
            let mail = MessageParser::default().parse(&bytes).expect("another program reads it");
            let to = mail.to().and_then(|to| to.first()).and_then(|to| to.address()).unwrap_or_default();
            Letter { to: to.to_owned(), body: mail.body_text(0).unwrap_or_default().into_owned() }
        };
        files.iter().map(read).collect()
    }

    /// The newest of so many.
    #[track_caller]
    fn letter(&self, many: usize) -> Letter {
        self.letters(many).pop().expect("a letter")
    }

    /// Mail may go to somebody's address.
    fn proven(&self, login: &str) {
        let who = format!("(SELECT id FROM accounts WHERE login_name = '{login}')");
        self.server.database().execute(&[
            &format!(
                "INSERT INTO account_telling (account, digest, told_ms, next_ms) SELECT id, FALSE, 0, 0 FROM accounts \
                 WHERE login_name = '{login}'"
            ),
            &format!("UPDATE account_telling SET proven_email = (SELECT email FROM accounts WHERE login_name = '{login}') WHERE account = {who}"),
        ]);
    }

    fn forgot(&self, who: &str) -> Answer {
        self.stranger().post("/api/v1/password-resets", &json!({"who": who}))
    }

    fn reset(&self, token: &str, password: &str) -> Answer {
        self.stranger()
            .post("/api/v1/password-resets/use", &json!({"token": token, "new_password": password}))
    }

    fn sign_in(&self, login: &str, password: &str) -> Answer {
        self.stranger().post("/api/v1/sessions", &json!({"login_name": login, "password": password}))
    }
}

fn account(who: &Person) -> Value {
    who.caller.get("/api/v1/account").expect(200).json()
}

fn set_email(who: &Person, email: &str, password: &str) -> Answer {
    who.caller.put("/api/v1/account/email", &json!({"email": email, "password": password}))
}

on_both_engines! {
    fn an_address_is_good_for_nothing_before_its_link_was_used(engine) {
        let post = Post::new(engine, false);
        let mira = post.club.member("mira", None);
        assert_eq!(account(&mira)["email_proven"], false);
        mira.caller.put("/api/v1/account/digest", &json!({"on": true})).expect(204);
        post.letter(1);
        set_email(&mira, "Mira@Pond.example", "not this one at all").problem(401, "sign-in-failed");
        set_email(&mira, "nowhere", PASSWORD).problem(422, "invalid");
        set_email(&mira, " Mira@Pond.example ", PASSWORD).expect(204);
        let letter = post.letter(2);
        assert_eq!(letter.to, "mira@pond.example");
        // looking proves nothing; the button does, once
        let (token, visitor) = (letter.token("/prove?token="), Visitor::at(&post.server.url("")));
        let page = visitor.get(&format!("/prove?token={token}")).expect("a page");
        assert_eq!((page.status, &account(&mira)["email_proven"]), (200, &json!(false)), "{}", page.html);
        let form = page.form(|form| form.action == "/prove").expect("a button");
        for status in [200, 404] {
            assert_eq!(visitor.post(&form).expect("an answer").status, status);
        }
        assert_eq!((&account(&mira)["email_proven"], &account(&mira)["email"]), (&json!(true), &json!("mira@pond.example")));
        let telling = mira.caller.get("/api/v1/account/telling").expect(200).json();
        assert_eq!(telling["digest"], "on", "it waited for that");
        // another one: whoever has the one of before is told there, and a link to it is good no more
        set_email(&mira, "mira@brook.example", PASSWORD).expect(204);
        let letters = post.letters(4);
        let told = letters.iter().find(|letter| letter.body.contains("has taken another address"));
        assert_eq!(told.map(|letter| letter.to.as_str()), Some("mira@pond.example"));
        let token = letters.iter().find(|letter| letter.to == "mira@brook.example").expect("a letter").token("token=");
        set_email(&mira, "mira@beck.example", PASSWORD).expect(204);
        post.stranger().post("/api/v1/email-proofs", &json!({"token": token})).problem(404, "link-over");
        // asked for at once it comes no second time
        post.letters(5);
        mira.caller.post("/api/v1/account/email/letter", &json!({})).expect(204);
        let token = post.letter(5).token("token=");
        post.stranger().post("/api/v1/email-proofs", &json!({"token": token})).expect(204);
        set_email(&mira, "", PASSWORD).expect(204);
        let own = account(&mira);
        assert_eq!((&own["email"], &own["email_proven"]), (&json!(""), &json!(false)));
        mira.caller.put("/api/v1/account/digest", &json!({"on": true})).problem(422, "invalid");
        let own = mira.caller.get("/api/v1/account/data").expect(200).json();
        assert_eq!(own["account"]["email_proven"], false);
        // with a second factor a code is asked for too
        let (_, codes) = set_up(&mira);
        set_email(&mira, "mira@tarn.example", PASSWORD).problem(401, "second-factor-needed");
        let with_code = json!({"email": "mira@tarn.example", "password": PASSWORD, "code": codes[0]});
        mira.caller.put("/api/v1/account/email", &with_code).expect(204);
    }

    fn a_forgotten_password_is_reset_by_a_letter_and_nobody_learns_who_is_here(engine) {
        let post = Post::new(engine, false);
        let mira = post.club.member("mira", None);
        let told = |answer: Answer| (answer.status, answer.text.clone(), answer.headers.len());
        let nobody = told(post.forgot("nobody"));
        assert_eq!(nobody.0, 202);
        assert_eq!(told(post.forgot("mira")), nobody);
        assert_eq!(told(post.forgot("mira@example.org")), nobody);
        assert_eq!(told(post.forgot("§%&/")), nobody);
        post.letters(0);
        post.proven("mira");
        assert_eq!(told(post.forgot(" Mira@Example.org ")), nobody);
        let letter = post.letter(1);
        assert_eq!((letter.to.as_str(), letter.body.contains("Who signs in as mira opens")), ("mira@example.org", true));
        // however often somebody asks, the mailbox is not filled
        post.forgot("mira").expect(202);
        post.forgot("mira@example.org").expect(202);
        let token = post.letter(1).token("/reset?token=");
        assert_eq!(post.server.database().count("SELECT count(*) FROM jobs WHERE payload LIKE '%mira%'"), 0);

        post.reset("AAAA", OTHER).problem(404, "link-over");
        let weak = post.reset(&token, "short").problem(422, "password-weak");
        assert_eq!(weak["errors"][0]["pointer"], "/new_password");
        post.reset(&token, OTHER).expect(204);
        post.reset(&token, OTHER).problem(404, "link-over");
        post.letters(2);
        mira.caller.get("/api/v1/account/data").problem(401, "session-ended");
        post.sign_in("mira", PASSWORD).problem(401, "sign-in-failed");
        let session = post.sign_in("mira", OTHER).expect(200).json();
        let again = mira.caller.with_token(session["access_token"].as_str().expect("a token"));
        let lines = again.get("/api/v1/messages").expect(200).text;
        assert!(lines.contains("Your password was reset by a link in a letter"), "{lines}");
        let facts = "SELECT count(*) FROM audit_facts WHERE fact LIKE 'password of account % reset by a link in a letter'";
        assert_eq!(post.server.database().count(facts), 1);

        // who asks again and again from one place is held up there
        assert!((0..6).any(|_| post.forgot("mira@example.org").status == 429));
        post.forgot("somebody else").expect(202);
    }

    fn who_shares_an_address_gets_one_letter_and_a_second_factor_stays(engine) {
        let post = Post::new(engine, false);
        let (mira, otto) = (post.club.member("mira", None), post.club.member("otto", None));
        post.server.database().execute(&["UPDATE accounts SET email = 'mira@example.org' WHERE login_name = 'otto'"]);
        post.proven("mira");
        post.proven("otto");
        let (_, codes) = set_up(&otto);
        post.forgot("mira@example.org").expect(202);
        let letter = post.letter(1);
        assert!(letter.body.contains("Several do."), "{}", letter.body);
        let [miras, ottos] = ["mira", "otto"].map(|login| Letter { body: letter.body.split(&format!("signs in as {login} ")).nth(1).expect("named").to_owned(), ..letter.clone() }.token("/reset?token="));
        assert_ne!(miras, ottos);
        post.reset(&ottos, OTHER).expect(204);
        post.sign_in("otto", OTHER).problem(401, "second-factor-needed");
        let with_code = json!({"login_name": "otto", "password": OTHER, "code": codes[0]});
        post.stranger().post("/api/v1/sessions", &with_code).expect(200);
        post.sign_in("mira", PASSWORD).expect(200);
        // with the address the link goes
        set_email(&mira, "mira@beck.example", PASSWORD).expect(204);
        post.reset(&miras, OTHER).problem(404, "link-over");
    }

    fn one_address_gets_one_letter_whoever_has_it_and_the_operator_closes_that_way(engine) {
        let post = Post::new(engine, false);
        let all = ["mira", "otto", "pim"].map(|login| post.club.member(login, None));
        post.server.database().execute(&["UPDATE accounts SET email = 'mira@example.org' WHERE login_name IN ('otto', 'pim')"]);
        for who in &all {
            post.proven(&who.login);
        }
        for who in &all {
            post.forgot(&who.login).expect(202);
        }
        let token = post.letter(1).token("/reset?token=");
        // whoever reads the mail must not be the one who gets back in
        let login = ["mira", "otto", "pim"].into_iter().find(|login| post.letter(1).body.contains(&format!("in as {login} ")));
        post.server.command(&["account", "reset", "--login", login.expect("somebody")]).expect(0);
        post.reset(&token, OTHER).problem(404, "link-over");
        post.server.database().execute(&["UPDATE mail_links SET made_ms = 0"]);
        post.forgot(login.expect("somebody")).expect(202);
        post.letters(1);
    }

    fn people_sign_up_where_they_may(engine) {
        let closed = Post::new(engine, false);
        let ask = |post: &Post, email: &str| post.stranger().post("/api/v1/sign-ups", &json!({"email": email}));
        ask(&closed, "jonas@example.org").problem(403, "sign-up-closed");
        assert_eq!(Visitor::at(&closed.server.url("")).get("/sign-up").expect("a page").status, 403);
        let post = Post::new(engine, true);
        ask(&post, "nowhere").problem(422, "invalid");
        let new = ask(&post, "Jonas@Example.org").expect(202);
        let letter = post.letter(1);
        assert_eq!(letter.to, "jonas@example.org");
        assert_eq!(post.server.database().count("SELECT count(*) FROM accounts"), 1, "nothing is made yet");
        let token = letter.token("/welcome?token=");
        let person = |token: &str, login: &str| json!({"token": token, "login_name": login, "shown_name": "Jonas B.", "password": OTHER});
        let made = |body: &Value| post.stranger().post("/api/v1/sign-ups/use", body);
        made(&person(&token, "ines")).problem(409, "login-name-taken");
        let session = made(&person(&token, "jonas")).expect(201).json();
        made(&person(&token, "jonas2")).problem(404, "link-over");
        let jonas = post.stranger().with_token(session["access_token"].as_str().expect("a token"));
        let own = jonas.get("/api/v1/account").expect(200).json();
        assert_eq!((&own["email"], &own["email_proven"], &own["clubs"]), (&json!("jonas@example.org"), &json!(true), &json!([])));
        // a known address is answered alike; the letter names who is there
        post.server.database().execute(&["UPDATE mail_links SET made_ms = 0"]);
        let known = ask(&post, "jonas@example.org").expect(202);
        assert_eq!((known.text, known.headers.len()), (new.text, new.headers.len()));
        let letter = post.letter(2);
        assert!(letter.body.contains("signs in there already as: jonas"), "{}", letter.body);
        made(&person(&letter.token("/welcome?token="), "jonna")).expect(201);
    }
}

#[test]
fn pages_lead_through_the_letters() {
    let post = Post::new(Engine::Sqlite, true);
    post.club.member("mira", None);
    let browser = Browser::start(Screen::Phone);
    browser.visit(&post.server.url("/sign-in"));
    look_at(&browser, "sign-in-ways");
    browser.follow("a[href='/sign-up']");
    browser.fill("#email", "jonas");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["No letter sent."]);
    look_at(&browser, "sign-up-wrong");
    browser.fill("#email", "jonas@example.org");
    browser.follow("main form button");
    assert_says(&browser.text("main"), &["Look into your mail", "A letter is on its way."]);
    look_at(&browser, "letter-told");
    let token = post.letter(1).token("/welcome?token=");
    browser.visit(&post.server.url(&format!("/welcome?token={token}")));
    browser.fill("#login_name", "jonas");
    browser.fill("#shown_name", "Jonas B.");
    browser.fill("#password", "short");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["No account made."]);
    look_at(&browser, "welcome-wrong");
    browser.fill("#password", PASSWORD);
    browser.follow("main form button");
    browser.visit(&post.server.url("/account/email"));
    assert_says(&browser.text("main"), &["jonas@example.org is proven."]);
    browser.fill("#email", "jonas@beck.example");
    browser.fill("#password", PASSWORD);
    browser.follow("form[action='/account/email'] button");
    assert_says(&browser.text("main"), &["jonas@beck.example is not proven", "Your address is changed."]);
    look_at(&browser, "email");
    let letters = post.letters(3);
    let proof =
        letters.iter().find(|letter| letter.to == "jonas@beck.example").expect("a letter").token("token=");

    let desk = Browser::start(Screen::Desk);
    desk.visit(&post.server.url(&format!("/prove?token={proof}")));
    look_at(&desk, "prove");
    desk.follow("main form button");
    assert_says(&desk.text("main"), &["Your address is proven"]);
    desk.visit(&post.server.url("/forgotten"));
    look_at(&desk, "forgotten");
    desk.fill("#who", "jonas");
    desk.follow("main form button");
    let token = post.letter(4).token("/reset?token=");
    desk.visit(&post.server.url(&format!("/reset?token={token}")));
    desk.fill("#new_password", "jonas@beck.example");
    desk.follow("main form button");
    assert_says(&desk.text(".errors"), &["Not changed."]);
    look_at(&desk, "reset-wrong");
    desk.fill("#new_password", OTHER);
    desk.follow("main form button");
    assert_says(&desk.text("main"), &["Your password is changed", "Sign in with the new password."]);
    browser.visit(&post.server.url("/account"));
    assert!(browser.url().contains("/sign-in"), "all sessions have ended");
}
