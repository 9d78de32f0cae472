//! The API document as tests use it: every operation with what it takes and what it says it may answer.

use crate::place;
use reqwest::Method;
use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

/// One operation.
#[derive(Clone, Debug)]
pub struct Operation {
    /// GET, PUT, POST, DELETE.
    pub method: Method,
    /// With its parameters in braces.
    pub path: String,
    /// Its `operationId`.
    pub id: String,
    /// Whether it asks for a token.
    pub secured: bool,
    /// The statuses that it may answer with.
    pub statuses: BTreeSet<u16>,
    /// The codes of the problems that it may answer with.
    pub problems: BTreeSet<String>,
    /// Its query parameters: name, and whether it must be there.
    pub query: Vec<(String, bool)>,
    /// An example of the body, if it takes one.
    pub example: Option<Value>,
    /// As the document has it.
    pub raw: Value,
}

/// The document as the program writes it.
pub fn written() -> String {
    let mut command = Command::new(place::binary("tarn-server"));
    crate::process::run(command.arg("openapi")).expect(0).stdout
}

/// Every operation of the document.
pub fn operations(document: &Value) -> Vec<Operation> {
    let mut operations = Vec::new();
    let paths = document["paths"].as_object().expect("paths");
    for (path, item) in paths {
        for (name, method) in
            [("get", Method::GET), ("put", Method::PUT), ("post", Method::POST), ("delete", Method::DELETE)]
        {
            if let Some(raw) = item.get(name) {
                operations.push(operation(document, path, method, raw));
            }
        }
        assert!(item.get("patch").is_none(), "{path}: PATCH is not walked by these tests");
    }
    operations
}

fn operation(document: &Value, path: &str, method: Method, raw: &Value) -> Operation {
    let responses = raw["responses"].as_object().expect("responses");
    let words = responses.values().flat_map(|response| {
        let said = response["description"].as_str().unwrap_or_default().split('`');
        // every second piece stands between two backticks
        said.skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>()
    });
    let parameters = raw["parameters"].as_array().cloned().unwrap_or_default();
    let query = parameters.iter().filter(|p| p["in"] == "query");
    let query = query.map(|p| (p["name"].as_str().unwrap_or_default().to_owned(), p["required"] == true));
    Operation {
        method,
        path: path.to_owned(),
        id: raw["operationId"].as_str().unwrap_or_default().to_owned(),
        secured: raw["security"].as_array().is_some_and(|all| !all.is_empty()),
        statuses: responses.keys().filter_map(|status| status.parse().ok()).collect(),
        problems: words.collect(),
        query: query.collect(),
        example: raw.get("requestBody").map(|body| example(document, body)),
        raw: raw.clone(),
    }
}

fn example(document: &Value, body: &Value) -> Value {
    let content =
        body["content"].as_object().and_then(|content| content.values().next()).unwrap_or(&Value::Null);
    if !content["example"].is_null() {
        return content["example"].clone();
    }
    let name = content["schema"]["$ref"].as_str().unwrap_or_default().rsplit('/').next().unwrap_or_default();
    document["components"]["schemas"][name]["example"].clone()
}

impl std::fmt::Display for Operation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.method, self.path)
    }
}
