//! Clubs: the member list and its sheets, invitations, joining and leaving, and the pages of all that.

mod membership;
mod pages;
mod people;

use serde_json::{Value, json};
use tarn_tests::api::{Answer, Caller, send};
use tarn_tests::people::Person;

/// Writes a line of the list, at a version or as somebody new.
pub(crate) fn put(by: &Person, path: &str, version: Option<i64>, line: &Value) -> Answer {
    let request = by.caller.request("PUT".parse().expect("a method"), path).json(line);
    send(match version {
        Some(version) => request.header("if-match", format!("\"{version}\"")),
        None => request,
    })
}

pub(crate) fn strike(by: &Person, path: &str, version: i64) -> Answer {
    let request = by.caller.request("DELETE".parse().expect("a method"), path);
    send(request.header("if-match", format!("\"{version}\"")))
}

fn sheet(by: &Person, club: &str, text: &str) -> Answer {
    let path = format!("/api/v1/clubs/{club}/people/sheet");
    let request = by.caller.request("POST".parse().expect("a method"), &path);
    send(request.header("content-type", "text/csv").body(text.to_owned()))
}

pub(crate) fn people(by: &Person, club: &str) -> Vec<Value> {
    let told = by.caller.get(&format!("/api/v1/clubs/{club}/people")).expect(200).json();
    told["people"].as_array().cloned().unwrap_or_default()
}

pub(crate) fn named<'a>(people: &'a [Value], name: &str) -> &'a Value {
    people.iter().find(|one| one["name"] == name).unwrap_or_else(|| panic!("no {name} among {people:?}"))
}

pub(crate) fn token_of(invited: &Value) -> String {
    invited["token"].as_str().unwrap_or_else(|| panic!("no token in {invited}")).to_owned()
}

/// Accepts an invitation as somebody new.
pub(crate) fn accept(at: &Caller, token: &str, login: &str) -> Answer {
    at.post(
        "/api/v1/invitations/accept",
        &json!({"token": token, "login_name": login, "email": format!("{login}@example.org"), "shown_name": login,
            "password": tarn_tests::people::PASSWORD}),
    )
}
