//! Every real answer that a test gets, held against what the API document says of its operation and status.
//!
//! Tests are stricter than the document: what it does not name may not stand in an answer either, though another
//! version of the server may add to it. Drivers that measure leave this out ([`hold_nothing`]).

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock};

use jsonschema::Validator;
use serde_json::{Map, Value, json};

use crate::api::Answer;
use crate::document::{Operation, operations};
use crate::place;

const PROBLEM: &str = "application/problem+json";

static NOTHING: AtomicBool = AtomicBool::new(false);

/// From now on nothing is held against the document: a driver measures the server, not its tests.
pub fn hold_nothing() {
    NOTHING.store(true, Ordering::Relaxed);
}

/// The document, and the checks that were made of it so far.
pub struct Contract {
    document: Value,
    operations: Vec<Operation>,
    made: Mutex<BTreeMap<String, Arc<Validator>>>,
}

/// The document that is checked in; another test says that it is the server's own.
pub fn checked_in() -> &'static Contract {
    static CONTRACT: OnceLock<Contract> = OnceLock::new();
    CONTRACT.get_or_init(|| {
        let file = place::workspace().join("openapi/tarn.json");
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        Contract::of(serde_json::from_str(&text).expect("the document is JSON"))
    })
}

/// Fails the test unless the answer is as the document says.
#[track_caller]
pub fn hold(method: &str, path: &str, answer: &Answer) {
    if NOTHING.load(Ordering::Relaxed) {
        return;
    }
    if let Err(complaint) = checked_in().judge(method, path, answer) {
        panic!("not as the API document says: {complaint}\n{answer}");
    }
}

impl Contract {
    /// Of a document.
    pub fn of(document: Value) -> Self {
        let operations = operations(&document);
        Self { document, operations, made: Mutex::default() }
    }

    /// What is wrong with an answer.
    ///
    /// # Errors
    /// The operation, the status, and where in the JSON.
    pub fn judge(&self, method: &str, path: &str, answer: &Answer) -> Result<(), String> {
        let Some(operation) = self.operation(method, path) else {
            let api = path.starts_with("/api/");
            return match answer.status {
                // an address that nobody serves, or not by this method
                404 | 405 if api => self.fits(PROBLEM, "a problem", answer),
                100..400 if api => Err(format!("it has no operation {method} {path}")),
                _ => Ok(()),
            };
        };
        let named = format!("{} {}", operation.id, answer.status);
        let response = &operation.raw["responses"][answer.status.to_string()];
        if response.is_null() {
            return Err(format!("{} names no status {}", operation.id, answer.status));
        }
        let Some(content) = response.get("content").and_then(Value::as_object) else {
            return if answer.text.is_empty() { Ok(()) } else { Err(format!("{named} has no body")) };
        };
        let kind = answer.content_type.as_str();
        if !content.contains_key(kind) {
            return Err(format!("{named} is not {kind:?}"));
        }
        if content[kind].get("schema").is_none() {
            return Err(format!("{named} has no schema"));
        }
        if !kind.ends_with("json") {
            return Ok(());
        }
        let at = ["paths", &operation.path, &method.to_lowercase(), "responses", &answer.status.to_string()];
        let key = at.iter().map(|part| escaped(part)).collect::<Vec<_>>().join("/");
        let body = serde_json::from_str(&answer.text).map_err(|e| format!("{named} is no JSON: {e}"))?;
        self.held(&key, &content[kind]["schema"], &body).map_err(|why| format!("{named}{why}"))
    }

    /// What is wrong with a value, by a schema of the document that is called so.
    ///
    /// # Errors
    /// Where in the JSON, and what.
    pub fn held(&self, name: &str, schema: &Value, value: &Value) -> Result<(), String> {
        let check = self.check(name, schema);
        let wrong: Vec<String> = check
            .iter_errors(value)
            .map(|error| format!(" at {:?}: {error}", error.instance_path().as_str()))
            .take(5)
            .collect();
        if wrong.is_empty() { Ok(()) } else { Err(wrong.join(";")) }
    }

    fn fits(&self, kind: &str, name: &str, answer: &Answer) -> Result<(), String> {
        if answer.content_type != kind {
            return Err(format!("{name} is not {:?}", answer.content_type));
        }
        let body = serde_json::from_str(&answer.text).map_err(|e| format!("{name} is no JSON: {e}"))?;
        let schema = json!({"$ref": "#/components/schemas/Problem"});
        self.held(name, &schema, &body).map_err(|why| format!("{name}{why}"))
    }

    /// The operation of an address: the one with the fewest parameters, if several could be meant.
    fn operation(&self, method: &str, path: &str) -> Option<&Operation> {
        let is_one = |operation: &&Operation| operation.method == method && is_of(&operation.path, path);
        let parameters = |operation: &&Operation| operation.path.matches('{').count();
        self.operations.iter().filter(is_one).min_by_key(parameters)
    }

    /// Made once for each schema.
    fn check(&self, name: &str, schema: &Value) -> Arc<Validator> {
        let mut made = self.made.lock().unwrap_or_else(|broken| broken.into_inner());
        if let Some(check) = made.get(name) {
            return check.clone();
        }
        let mut whole = strict(schema);
        let mut components = Map::new();
        self.take_along(schema, &mut components);
        whole["components"] = json!({"schemas": components});
        let check = jsonschema::draft202012::options().should_validate_formats(true).build(&whole);
        let check = Arc::new(check.unwrap_or_else(|e| panic!("{name} is no schema: {e}")));
        made.insert(name.to_owned(), check.clone());
        check
    }

    /// The schemas that a schema speaks of.
    fn take_along(&self, schema: &Value, components: &mut Map<String, Value>) {
        match schema {
            Value::Object(fields) => {
                let name = fields.get("$ref").and_then(Value::as_str);
                if let Some(name) = name.and_then(|name| name.strip_prefix("#/components/schemas/"))
                    && !components.contains_key(name)
                {
                    let named = &self.document["components"]["schemas"][name];
                    assert!(named.is_object(), "the document has no schema {name}");
                    components.insert(name.to_owned(), strict(named));
                    self.take_along(named, components);
                }
                fields.values().for_each(|value| self.take_along(value, components));
            }
            Value::Array(items) => items.iter().for_each(|item| self.take_along(item, components)),
            _ => {}
        }
    }
}

/// Whether a path is of a template with parameters in braces, none of them empty.
fn is_of(template: &str, path: &str) -> bool {
    let (template, path): (Vec<&str>, Vec<&str>) = (template.split('/').collect(), path.split('/').collect());
    template.len() == path.len()
        && template.iter().zip(&path).all(|(template, part)| {
            if template.starts_with('{') { !part.is_empty() } else { template == part }
        })
}

/// A part of a JSON Pointer.
fn escaped(part: &str) -> String {
    part.replace('~', "~0").replace('/', "~1")
}

/// The same schema, but that nothing may stand in an object that it does not name.
fn strict(schema: &Value) -> Value {
    match schema {
        Value::Object(fields) => {
            let mut fields: Map<String, Value> =
                fields.iter().map(|(name, value)| (name.clone(), strict_under(name, value))).collect();
            let named = fields.get("properties").is_some_and(Value::is_object);
            if named && !fields.contains_key("additionalProperties") {
                fields.insert("additionalProperties".into(), false.into());
            }
            Value::Object(fields)
        }
        other => other.clone(),
    }
}

/// Examples stay as they are; a field may be called as a keyword is.
fn strict_under(name: &str, value: &Value) -> Value {
    match (name, value) {
        ("example" | "examples" | "default" | "const" | "enum", _) => value.clone(),
        ("properties", Value::Object(fields)) => {
            fields.iter().map(|(name, field)| (name.clone(), strict(field))).collect()
        }
        (_, Value::Array(items)) => items.iter().map(strict).collect(),
        (_, Value::Object(_)) => strict(value),
        _ => value.clone(),
    }
}
