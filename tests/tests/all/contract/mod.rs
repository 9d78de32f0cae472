//! The API document and the catalogue of ops: checked in, fresh, complete, and true.

mod shapes;
mod surprises;

use serde_json::{Value, json};
use std::collections::BTreeSet;
use tarn_tests::api::Caller;
use tarn_tests::document::{self, operations};
use tarn_tests::engine::Engine;
use tarn_tests::place;
use tarn_tests::server::Server;

/// Set, the tests write what they compare with; the change is then reviewed like any other.
const BLESS: &str = "TARN_BLESS";

/// Fails when a checked-in file is not what it must be.
#[track_caller]
pub fn same_as_checked_in(path: &str, fresh: &str) {
    let file = place::workspace().join(path);
    if std::env::var_os(BLESS).is_some() {
        std::fs::write(&file, fresh).unwrap_or_else(|e| panic!("{path}: {e}"));
    }
    let old = std::fs::read_to_string(&file).unwrap_or_default();
    let differs = fresh.lines().zip(old.lines()).position(|(new, old)| new != old);
    let differs = differs.or((fresh != old).then(|| fresh.lines().count().min(old.lines().count())));
    if let Some(at) = differs {
        let line = |text: &str| text.lines().nth(at).unwrap_or("(the end)").to_owned();
        panic!(
            "{path} is not fresh from line {} on:\n  is:      {}\n  must be: {}\nwrite it with: {BLESS}=1 cargo test -p tarn-tests",
            at + 1,
            line(&old),
            line(fresh)
        );
    }
}

fn read(document: &str) -> Value {
    serde_json::from_str(document).expect("the document is JSON")
}

#[test]
fn the_api_document_is_fresh() {
    same_as_checked_in("openapi/tarn.json", &document::written());
}

#[test]
fn the_catalogue_of_ops_is_fresh() {
    let published = tarn_domain::catalogue::published();
    let text = serde_json::to_string_pretty(&published).expect("it is JSON");
    same_as_checked_in("openapi/ops.json", &format!("{text}\n"));
}

/// A kind that is frozen has the fields, and the writer, that it had when it was: the words that explain them may change.
#[test]
fn a_kind_of_op_that_is_frozen_never_changes() {
    let published = tarn_domain::catalogue::published();
    let mut lines = Vec::new();
    for kind in published["kinds"].as_array().expect("kinds").iter().filter(|kind| kind["frozen"] == true) {
        let mut shape = json!({"written_by": kind["written_by"], "fields": kind["fields"]});
        without_words(&mut shape);
        let text = tarn_domain::streams::canonical::text(&shape);
        lines.push(format!("{}\t{text}", kind["kind"].as_str().expect("a word")));
    }
    let path = place::workspace().join("tests/tables/frozen.tsv");
    let table = std::fs::read_to_string(&path).unwrap_or_default();
    let frozen: BTreeSet<&str> = table.lines().collect();
    let changed: Vec<&&str> = frozen.iter().filter(|line| !lines.iter().any(|now| now == **line)).collect();
    assert!(
        changed.is_empty(),
        "the meaning of a frozen kind never changes; what is to mean something else is a new kind: {changed:?}"
    );
    let fresh: Vec<&String> = lines.iter().filter(|line| !frozen.contains(line.as_str())).collect();
    if std::env::var_os(BLESS).is_some() {
        let all: BTreeSet<&str> =
            frozen.iter().copied().chain(fresh.iter().map(|line| line.as_str())).collect();
        std::fs::write(&path, all.into_iter().map(|line| format!("{line}\n")).collect::<String>())
            .expect("written");
    } else {
        assert!(
            fresh.is_empty(),
            "frozen, and not in the table yet (TARN_BLESS=1 adds them, once and for all): {fresh:?}"
        );
    }
}

/// Takes out what only explains.
fn without_words(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            // a field of an op may itself be called so: then its value is a schema, not a text
            if fields.get("description").is_some_and(Value::is_string) {
                fields.remove("description");
            }
            fields.values_mut().for_each(without_words);
        }
        Value::Array(items) => items.iter_mut().for_each(without_words),
        _ => {}
    }
}

#[test]
fn every_operation_is_documented_in_full() {
    let document = read(&document::written());
    let mut lacking = Vec::new();
    let mut ids = BTreeSet::new();
    for operation in operations(&document) {
        let mut say = |what: &str| lacking.push(format!("{operation}: {what}"));
        if operation.raw["summary"].as_str().is_none_or(|s| s.trim().is_empty()) {
            say("no summary");
        }
        if operation.raw["tags"].as_array().is_none_or(|tags| tags.len() != 1) {
            say("not of one area");
        }
        if operation.id.is_empty() || !ids.insert(operation.id.clone()) {
            say("no operationId of its own");
        }
        if operation.example.as_ref().is_some_and(Value::is_null) {
            say("no example of the body");
        }
        for (status, response) in operation.raw["responses"].as_object().expect("responses") {
            let content = response["content"].as_object().and_then(|c| c.values().next());
            let shown = content.map(|content| {
                let name = content["schema"]["$ref"].as_str().unwrap_or_default().rsplit('/').next();
                let schema = &document["components"]["schemas"][name.unwrap_or_default()];
                let of_items = content["schema"]["items"]["$ref"].as_str().unwrap_or_default();
                let of_items =
                    &document["components"]["schemas"][of_items.rsplit('/').next().unwrap_or_default()];
                !(content["example"].is_null()
                    && schema["example"].is_null()
                    && of_items["example"].is_null())
            });
            if status.starts_with('2') && shown == Some(false) {
                say("no example of the answer");
            }
        }
        if operation.secured && !operation.problems.contains("not-signed-in") {
            say("does not say what a stranger gets");
        }
    }
    assert!(lacking.is_empty(), "\n{}", lacking.join("\n"));
}

#[test]
fn every_problem_is_explained_at_its_address() {
    let server = Server::start(Engine::Sqlite);
    let stranger = Caller::stranger(&server);
    let document = read(&document::written());
    let codes: BTreeSet<String> = operations(&document).into_iter().flat_map(|o| o.problems).collect();
    assert!(codes.len() > 15, "only {codes:?}");
    for code in codes {
        let page = stranger.get(&format!("/problems/{code}"));
        assert_eq!((page.status, page.content_type.as_str()), (200, "text/html"), "{code}: {page}");
        assert!(page.text.contains(&code), "{page}");
    }
    stranger.get("/problems/no-such-problem").expect(404);
}

#[test]
fn the_server_serves_its_document_and_a_page_about_it() {
    let server = Server::start(Engine::Sqlite);
    let stranger = Caller::stranger(&server);
    let served = stranger.get("/openapi.json").expect(200).json();
    assert_eq!(served, read(&document::written()));
    let page = stranger.get("/docs/").expect(200);
    assert_eq!(page.content_type, "text/html");
    for word in ["http://", "https://", "//cdn"] {
        assert!(!page.text.contains(&format!("src=\"{word}")), "the page fetches from outside: {page}");
        assert!(!page.text.contains(&format!("href=\"{word}")), "the page fetches from outside: {page}");
    }
    assert_eq!(stranger.get("/api/v1/ops-catalogue").expect(200).json(), tarn_domain::catalogue::published());
    stranger.get("/healthz").expect(200);
    stranger.get("/readyz").expect(200);
}
