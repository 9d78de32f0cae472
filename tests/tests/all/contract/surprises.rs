//! Every operation with all sorts of nonsense: no fault of the server, no answer that the document does not name, and
//! each "no" a problem of a known type.

use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Answer, Caller, send};
use tarn_tests::database::Database;
use tarn_tests::document::{self, Operation, operations};
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, tank};
use tarn_tests::people::PASSWORD;
use tarn_tests::server::Server;
use tarn_tests::society::{self, Society};

/// Requests per operation.
const TRIES: usize = 40;

const NONSENSE: [&str; 10] =
    ["", " ", "0", "-1", "null", "x", "ä♀", "%00", "..", "0190a1b2-0000-7000-8000-000000000001"];

/// Ada, signed in from elsewhere than all this comes from: that address is held up for its wrong passwords.
fn signed_in(society: &Society) -> Caller {
    let who = json!({"login_name": "ada", "password": PASSWORD});
    let from =
        society.stranger().request(Method::POST, "/api/v1/sessions").header("x-forwarded-for", "192.0.2.7");
    let session = send(from.json(&who)).expect(200).json();
    society.stranger().with_token(session["access_token"].as_str().expect("a token"))
}

on_both_engines! {
    /// Seeded, so that a failure comes again.
    fn nothing_surprises_the_server(engine) {
        let mut server = Server::prepare(Database::new(engine));
        server.set("TARN_TRUSTED_PROXIES", "127.0.0.1");
        server.start_again();
        let mut society = Society::on(server);
        society::taken(&society.ada, &society.room, &[society.adas.op(tank("A1"))]);
        let document: Value = serde_json::from_str(&document::written()).expect("JSON");
        let mut rng = StdRng::seed_from_u64(7);
        let mut complaints = Vec::new();
        for operation in operations(&document) {
            for _ in 0..TRIES {
                // signing out is among the operations
                let ends = operation.path.contains("/sessions/") || operation.path.contains("/password");
                let caller = if ends { signed_in(&society) } else { society.ada.caller.clone() };
                let (said, answer) = ask(&mut rng, &society, &caller, &operation);
                if let Err(complaint) = judge(&operation, &answer) {
                    complaints.push(format!("{said}\n  {complaint}: {answer}"));
                    break;
                }
            }
        }
        assert!(society.server.runs(), "it fell over:\n{}", society.server.logged());
        assert!(complaints.is_empty(), "\n{}", complaints.join("\n"));
    }
}

fn ask(rng: &mut StdRng, society: &Society, caller: &Caller, operation: &Operation) -> (String, Answer) {
    let known = [&society.room, &society.other_room, &society.club.id, &society.ada.account];
    let word = |rng: &mut StdRng| match rng.random_range(0..4) {
        0 => NONSENSE.choose(rng).map(|s| (*s).to_owned()).unwrap_or_default(),
        1 => id(),
        _ => known.choose(rng).map(|s| (*s).clone()).unwrap_or_default(),
    };
    let mut path = String::new();
    for part in operation.path.split('/').skip(1) {
        let part = if part.starts_with('{') { escaped(&word(rng)) } else { part.to_owned() };
        path.push('/');
        path.push_str(&part);
    }
    let mut query = Vec::new();
    for (name, required) in &operation.query {
        if *required || rng.random_bool(0.5) {
            let value = if name == "epoch" && rng.random_bool(0.7) {
                society.epoch(&society.ada, &society.room)
            } else if rng.random_bool(0.6) {
                rng.random_range(0..3).to_string()
            } else {
                word(rng)
            };
            query.push(format!("{name}={}", escaped(&value)));
        }
    }
    if rng.random_bool(0.1) {
        query.push("surprise=1".into());
    }
    if !query.is_empty() {
        path = format!("{path}?{}", query.join("&"));
    }
    let mut request = caller.request(operation.method.clone(), &path);
    let mut said = format!("{} {path}", operation.method);
    if let Some(example) = &operation.example {
        let body = match rng.random_range(0..10) {
            0 => String::new(),
            1 => "{".into(),
            2 => "[]".into(),
            3 => example.to_string(),
            _ => {
                let mut body = example.clone();
                for _ in 0..rng.random_range(1..3) {
                    spoil(rng, &mut body, &known);
                }
                body.to_string()
            }
        };
        said = format!("{said} {body}");
        let kinds = [
            "application/json",
            "application/json",
            "application/json",
            "text/plain",
            "application/json; charset=utf-8",
        ];
        request = request.header("content-type", *kinds.choose(rng).expect("there are some")).body(body);
    } else if operation.method != Method::GET && rng.random_bool(0.5) {
        request = request.json(&json!({}));
    }
    (said, send(request))
}

/// Changes one value somewhere: another type, another id, too long, missing, or one more.
fn spoil(rng: &mut StdRng, value: &mut Value, known: &[&String]) {
    match value {
        Value::Object(fields) if !fields.is_empty() && rng.random_bool(0.85) => {
            let names: Vec<String> = fields.keys().cloned().collect();
            let name = names.choose(rng).expect("there are some");
            match rng.random_range(0..6) {
                0 => drop(fields.remove(name)),
                1 => drop(fields.insert("surprise".into(), json!(true))),
                _ => spoil(rng, &mut fields[name], known),
            }
        }
        Value::Array(items) if !items.is_empty() && rng.random_bool(0.7) => {
            let at = rng.random_range(0..items.len());
            spoil(rng, &mut items[at], known);
        }
        other => {
            let id = known.choose(rng).map(|id| json!(id)).unwrap_or_default();
            let all = [
                id.clone(),
                id,
                json!(null),
                json!(-1),
                json!(1.5),
                json!(u64::MAX),
                json!(true),
                json!([]),
                json!({}),
                json!(""),
                json!("x".repeat(5000)),
                json!("\u{0}"),
                json!("ä♀\u{202e}"),
                json!("2026-03-01T00:00:00Z"),
            ];
            *other = all.choose(rng).cloned().unwrap_or_default();
        }
    }
}

/// Everything but letters and digits as a path or query must have it.
fn escaped(text: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'%';
    text.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

fn judge(operation: &Operation, answer: &Answer) -> Result<(), String> {
    // an address that lost a part is another address
    let elsewhere = answer.status == 404 || answer.status == 405;
    if answer.status >= 500 {
        return Err("the server failed".into());
    }
    if !elsewhere && !operation.statuses.contains(&answer.status) {
        return Err("the document does not name this status".into());
    }
    if answer.status < 400 {
        return Ok(());
    }
    if answer.content_type != "application/problem+json" {
        return Err("a \"no\" that is no problem".into());
    }
    let problem = answer.json();
    let code =
        problem["type"].as_str().and_then(|t| t.strip_prefix("/problems/")).unwrap_or_default().to_owned();
    for member in ["title", "detail"] {
        if problem[member].as_str().is_none_or(|text| text.trim().is_empty()) {
            return Err(format!("a problem without {member}"));
        }
    }
    if problem["status"] != answer.status {
        return Err("a problem of another status".into());
    }
    if elsewhere || operation.problems.contains(&code) {
        Ok(())
    } else {
        Err(format!("the document does not name {code:?}"))
    }
}
