//! The API document: its head, and what all operations share.
//!
//! An operation names its problems by code in the extension `x-problems`; [`finish`] turns them into responses,
//! so that the document and the registry of problems can't drift apart.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde_json::{Value, json};
use utoipa::openapi::path::{Operation, ParameterIn};
use utoipa::openapi::schema::{AdditionalProperties, Schema};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{ContentBuilder, InfoBuilder, LicenseBuilder, OpenApi, Ref, RefOr, ResponseBuilder};
use utoipa::{PartialSchema, ToSchema};

use super::errors::{self, Kind};

const EXTENSION: &str = "x-problems";

/// A problem (RFC 9457)
#[derive(Serialize, ToSchema)]
#[schema(as = Problem, example = json!({"type": "/problems/not-found", "title": "Nothing here", "status": 404,
    "detail": "There is no room with this id."}))]
pub struct ProblemBody {
    /// Stable; documented at this address
    r#type: String,
    /// A few words
    title: String,
    /// The HTTP status it has when it answers a whole request
    status: u16,
    /// What happened, in plain words
    detail: String,
    /// Which parts of the request are wrong
    errors: Option<Vec<Fault>>,
}

/// One wrong part of a request
#[derive(Serialize, ToSchema)]
pub struct Fault {
    /// A JSON Pointer (RFC 6901) into the request's body
    pointer: String,
    /// Why
    detail: String,
}

/// A document without operations.
pub fn head() -> OpenApi {
    let mut api = OpenApi::new(
        InfoBuilder::new()
            .title("Tarn")
            .version(env!("CARGO_PKG_VERSION"))
            .description(Some(
                "A society server for people who keep and breed ornamental fish. Ids are made by the caller (UUIDv7), so \
                 that a repeated create is the same create; times are RFC 3339 in UTC unless the name ends in `_ms` \
                 (milliseconds since 1970); every refusal is a problem (RFC 9457) whose `type` is documented at its address.",
            ))
            .license(Some(LicenseBuilder::new().name("MIT OR Apache-2.0").identifier(Some("MIT OR Apache-2.0")).build()))
            .build(),
        utoipa::openapi::Paths::new(),
    );
    let components = api.components.get_or_insert_default();
    components.add_security_scheme(
        "bearer",
        SecurityScheme::Http(HttpBuilder::new().scheme(HttpAuthScheme::Bearer).bearer_format("JWT").build()),
    );
    components.add_security_scheme(
        "probe",
        SecurityScheme::Http(
            HttpBuilder::new()
                .scheme(HttpAuthScheme::Bearer)
                .description(Some(
                    "A probe's own token: it sends readings of one water and can do nothing else.",
                ))
                .build(),
        ),
    );
    components.schemas.insert("Problem".into(), ProblemBody::schema());
    components.schemas.insert("Fault".into(), Fault::schema());
    api
}

/// Gives every operation the responses of its problems.
pub fn finish(api: &mut OpenApi, kinds: &[&'static Kind]) {
    // some kinds have members of their own (RFC 9457, 3.2), told where they are explained
    let schemas = api.components.as_mut().map(|components| &mut components.schemas);
    if let Some(RefOr::T(Schema::Object(problem))) = schemas.and_then(|all| all.get_mut("Problem")) {
        problem.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(true)));
    }
    for item in api.paths.paths.values_mut() {
        item.get.iter_mut().for_each(|operation| add_problems(operation, false, kinds));
        let that_write = [&mut item.put, &mut item.post, &mut item.delete, &mut item.patch];
        that_write.into_iter().flatten().for_each(|operation| add_problems(operation, true, kinds));
    }
}

fn add_problems(operation: &mut Operation, writes: bool, kinds: &[&'static Kind]) {
    let mut by_status: BTreeMap<u16, Vec<&Kind>> = BTreeMap::new();
    for code in codes(operation, writes) {
        let kind = kinds.iter().find(|kind| kind.code == code);
        let kind =
            kind.unwrap_or_else(|| panic!("an operation names the problem {code}, which nobody declares"));
        by_status.entry(kind.status).or_default().push(kind);
    }
    for (status, kinds) in by_status {
        operation.responses.responses.insert(status.to_string(), RefOr::T(response(&kinds)));
    }
}

/// The codes it names, and those that follow from its shape.
fn codes(operation: &Operation, writes: bool) -> BTreeSet<String> {
    let named = operation.extensions.as_ref().and_then(|all| all.get(EXTENSION)).and_then(Value::as_array);
    let mut codes: BTreeSet<String> =
        named.into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect();
    let mut add = |kind: &Kind| {
        codes.insert(kind.code.to_owned());
    };
    add(&errors::FAILED);
    add(&errors::BUSY);
    if writes {
        add(&errors::STORAGE_FULL);
    }
    if operation.request_body.is_some() {
        add(&errors::MALFORMED);
        add(&errors::TOO_LARGE);
    }
    for parameter in operation.parameters.iter().flatten() {
        match parameter {
            RefOr::T(parameter) if parameter.parameter_in == ParameterIn::Path => add(&errors::NOT_FOUND),
            RefOr::T(parameter) if parameter.parameter_in == ParameterIn::Query => add(&errors::MALFORMED),
            _ => {}
        }
    }
    if operation.security.as_ref().is_some_and(|all| !all.is_empty()) {
        add(&errors::NOT_SIGNED_IN);
    }
    codes
}

fn response(kinds: &[&Kind]) -> utoipa::openapi::Response {
    let lines: Vec<String> = kinds.iter().map(|kind| format!("`{}`: {}", kind.code, kind.title)).collect();
    let first = kinds[0];
    let example = json!({"type": format!("/problems/{}", first.code), "title": first.title, "status": first.status,
        "detail": first.title});
    let content = ContentBuilder::new()
        .schema(Some(RefOr::Ref(Ref::from_schema_name("Problem"))))
        .example(Some(example))
        .build();
    ResponseBuilder::new().description(lines.join("; ")).content(errors::CONTENT_TYPE, content).build()
}
