//! The document tells the shape of everything, and its examples are of that shape.

use serde_json::{Value, json};
use tarn_tests::api::Answer;
use tarn_tests::contract::{Contract, checked_in};
use tarn_tests::document::{self, operations};

fn fresh() -> Value {
    serde_json::from_str(&document::written()).expect("the document is JSON")
}

/// Goes over every schema of the document with its place; what only looks like one (an example) is none.
fn schemas<'a>(value: &'a Value, at: &str, is_schema: bool, see: &mut impl FnMut(&str, &'a Value)) {
    if is_schema {
        see(at, value);
    }
    let Value::Object(fields) = value else {
        if let Value::Array(items) = value {
            for (n, item) in items.iter().enumerate() {
                schemas(item, &format!("{at}/{n}"), is_schema, see);
            }
        }
        return;
    };
    for (name, inner) in fields {
        let place = format!("{at}/{name}");
        match (is_schema, name.as_str()) {
            (_, "example" | "examples" | "enum" | "default" | "security") => {}
            // its fields are schemas, itself is none
            (true, "properties") | (false, "schemas") => {
                for (field, schema) in inner.as_object().into_iter().flatten() {
                    schemas(schema, &format!("{place}/{field}"), true, see);
                }
            }
            (true, "oneOf" | "anyOf" | "allOf" | "prefixItems") => {
                for (n, item) in inner.as_array().into_iter().flatten().enumerate() {
                    schemas(item, &format!("{place}/{n}"), true, see);
                }
            }
            (true, "items" | "additionalProperties" | "not") => schemas(inner, &place, true, see),
            (true, _) => {}
            (false, "schema") => schemas(inner, &place, true, see),
            (false, _) => schemas(inner, &place, false, see),
        }
    }
}

#[test]
fn no_schema_says_nothing() {
    let document = fresh();
    let (mut empty, mut seen) = (Vec::new(), 0);
    schemas(&document, "", false, &mut |at, schema| {
        seen += 1;
        let words = schema["description"].as_str().is_some_and(|words| !words.trim().is_empty());
        let says = schema.as_object().is_some_and(|fields| fields.keys().any(|name| name != "description"));
        if schema.is_object() && !says && !words {
            empty.push(at.to_owned());
        }
    });
    assert!(seen > 1000, "only {seen} schemas were looked at");
    assert!(empty.is_empty(), "anything at all would be of these schemas:\n{}", empty.join("\n"));
}

#[test]
fn every_example_is_of_its_schema() {
    let contract = Contract::of(fresh());
    let document = fresh();
    let (mut wrong, mut held) = (Vec::new(), 0);
    let mut hold = |name: &str, schema: &Value, example: &Value| {
        held += 1;
        if let Err(why) = contract.held(name, schema, example) {
            wrong.push(format!("{name}{why}"));
        }
    };
    for (name, schema) in document["components"]["schemas"].as_object().expect("schemas") {
        if let Some(example) = schema.get("example") {
            hold(name, schema, example);
        }
    }
    for operation in operations(&document) {
        let responses = operation.raw["responses"].as_object().into_iter().flatten();
        let contents = responses.map(|(status, response)| (status.as_str(), &response["content"]));
        for (which, content) in contents.chain([("body", &operation.raw["requestBody"]["content"])]) {
            for (kind, content) in content.as_object().into_iter().flatten() {
                if let (true, Some(example)) = (kind.ends_with("json"), content.get("example")) {
                    hold(&format!("{} {which}", operation.id), &content["schema"], example);
                }
            }
        }
    }
    assert!(held > 200, "only {held} examples were held against anything");
    assert!(wrong.is_empty(), "examples that are not what they are examples of:\n{}", wrong.join("\n"));
}

/// What holds answers against the document sees what is wrong with one.
#[test]
fn an_answer_that_is_not_as_documented_is_found() {
    let answer = |status, content_type: &str, body: Value| Answer {
        request: String::new(),
        status,
        content_type: content_type.to_owned(),
        headers: reqwest::header::HeaderMap::new(),
        text: body.to_string(),
    };
    let room = json!({"stream": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar", "zone": "UTC", "home_club": null,
        "keepers": []});
    let of = |edit: fn(&mut Value)| {
        let mut room = room.clone();
        edit(&mut room);
        answer(200, "application/json", room)
    };
    let judge = |path: &str, answer: &Answer| checked_in().judge("GET", path, answer);
    let path = "/api/v1/rooms/0190a1b2-0000-7000-8000-000000000001";
    assert_eq!(judge(path, &of(|_| {})), Ok(()));
    let complaints = [
        (path, of(|room| room["zone"] = json!(1)), "read_room 200 at \"/zone\""),
        (path, of(|room| room["stream"] = json!("here")), "read_room 200 at \"/stream\""),
        (
            path,
            of(|room| drop(room.as_object_mut().map(|room| room.remove("name")))),
            "\"name\" is a required",
        ),
        (path, of(|room| room["colour"] = json!("blue")), "'colour' was unexpected"),
        (path, answer(418, "application/json", json!({})), "read_room names no status 418"),
        (path, answer(200, "text/html", json!({})), "read_room 200 is not \"text/html\""),
        (path, answer(404, "application/problem+json", json!({"type": "/problems/x"})), "read_room 404"),
        ("/api/v1/no-such-thing", of(|_| {}), "no operation GET /api/v1/no-such-thing"),
    ];
    for (path, answer, complaint) in complaints {
        let said = judge(path, &answer).expect_err(complaint);
        assert!(said.contains(complaint), "{said}");
    }
    assert_eq!(judge("/", &answer(200, "text/html", json!({}))), Ok(()), "pages are no operations");
}
