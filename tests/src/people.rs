//! People for tests: accounts made by invitation, as everyone's is, and signed in. Invented names only.

use crate::api::{Answer, Caller};
use crate::server::Server;
use serde_json::{Value, json};

/// Long enough, and on no list of known ones.
pub const PASSWORD: &str = "nine kettles by the cellar door";

/// Someone with an account.
#[derive(Clone, Debug)]
pub struct Person {
    /// What they sign in with.
    pub login: String,
    /// Their account's id.
    pub account: String,
    /// With a fresh access token.
    pub caller: Caller,
}

/// A club and its secretary, made as an operator makes them.
#[derive(Clone, Debug)]
pub struct Club {
    /// The club's id.
    pub id: String,
    /// Who invites the others.
    pub secretary: Person,
}

/// The one-time token that someone is invited with. Printed as JSON, alone, or at the end of an address.
fn token_in(said: &str) -> String {
    let word = said.split_whitespace().map(|word| word.trim_matches(['"', '.', ',', '`']));
    let longest = word.max_by_key(|word| word.len()).unwrap_or_default();
    longest.rsplit(['/', '=', '#']).next().unwrap_or_default().to_owned()
}

impl Club {
    /// Makes it on a running server.
    pub fn found(server: &Server, name: &str, login: &str) -> Self {
        let roles = ["officer", "add", "--login", login, "--club", name, "--role", "secretary"];
        let said = server.command(&roles).expect(0);
        let secretary = accept(&Caller::stranger(server), &token_in(&said.stdout), login);
        let account = secretary.caller.get("/api/v1/account").expect(200).json();
        let id =
            account["clubs"][0]["id"].as_str().unwrap_or_else(|| panic!("no club in {account}")).to_owned();
        Self { id, secretary }
    }

    /// Invites someone, with a role or without, who accepts.
    pub fn member(&self, login: &str, role: Option<&str>) -> Person {
        let path = format!("/api/v1/clubs/{}/invitations", self.id);
        let invited =
            self.secretary.caller.post(&path, &role.map_or(json!({}), |role| json!({"role": role})));
        assert!((200..300).contains(&invited.status), "{invited}");
        let token =
            invited.json()["token"].as_str().unwrap_or_else(|| panic!("no token in {invited}")).to_owned();
        accept(&self.secretary.caller, &token, login)
    }
}

fn accept(caller: &Caller, token: &str, login: &str) -> Person {
    let wanted = json!({
        "token": token, "login_name": login, "email": format!("{login}@example.org"),
        "shown_name": login, "password": PASSWORD,
    });
    person(caller, login, &caller.post("/api/v1/invitations/accept", &wanted).expect(201).json())
}

fn person(caller: &Caller, login: &str, session: &Value) -> Person {
    let text = |value: &Value| value.as_str().unwrap_or_else(|| panic!("no text in {session}")).to_owned();
    let caller = caller.with_token(&text(&session["access_token"]));
    Person { login: login.to_owned(), account: text(&session["account"]["id"]), caller }
}

impl Person {
    /// Signs in anew, as after a token has run out.
    pub fn sign_in(&self, at: &Caller) -> Self {
        let answer: Answer =
            at.post("/api/v1/sessions", &json!({"login_name": self.login, "password": PASSWORD}));
        let session = answer.expect(200).json();
        person(at, &self.login, &session)
    }
}
