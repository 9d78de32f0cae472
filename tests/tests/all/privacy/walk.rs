//! Every address that could speak of a room or a brood, out of the API document and the sources of the pages, so that
//! none can be forgotten; and what an answer shows, without its values.

use super::scene::Scene;
use reqwest::Method;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use tarn_tests::document::{self, operations};
use tarn_tests::place;

/// Those that speak of nobody.
const OF_NOBODY: [&str; 4] = ["/.well-known/jwks.json", "/api/v1/ops-catalogue", "/healthz", "/readyz"];

/// One address.
#[derive(Clone, Debug)]
pub struct Address {
    /// As the table has it.
    pub label: String,
    /// As it is asked for.
    pub path: String,
    /// Whether it is a page.
    pub page: bool,
}

/// What may stand for a parameter: a value, and which one of several it is.
fn values(scene: &Scene, name: &str, page: bool) -> Vec<(String, &'static str)> {
    let one = |value: &str| vec![(value.to_owned(), "")];
    match name {
        "room" => one(&scene.room.id),
        "stream" if !page => {
            vec![(scene.room.id.clone(), "the breeder's"), (scene.holders.id.clone(), "the holder's")]
        }
        "brood" => vec![
            (scene.sent.clone(), "sent"),
            (scene.parent.clone(), "its parent"),
            (scene.other.clone(), "never sent"),
        ],
        "club" => one(&scene.club.id),
        "person" | "account" => one(&scene.club.secretary.account),
        "parcel" => one(&scene.parcel),
        "notice" => one(&scene.notice),
        "thread" => one(&scene.thread),
        "swap" => one(&scene.swap),
        "group" => one(&scene.group),
        "stock" => one(&scene.stock),
        "water" => one(&scene.system),
        "entry" => one(&scene.note()),
        // a wrong one; what is at a good one is asked in `helping`
        "secret" => one("AAAAAAAAAAAAAAAAAAAAAA"),
        "unit" => one(scene.unit.as_deref().unwrap_or("00000000-0000-7000-8000-000000000000")),
        _ => panic!("a parameter that this test does not know: {name}; give it a value here"),
    }
}

/// Puts values for the parameters.
fn filled(scene: &Scene, template: &str, page: bool) -> Vec<Address> {
    let mut all = vec![Address { label: template.to_owned(), path: template.to_owned(), page }];
    let names = template.split('{').skip(1).filter_map(|rest| rest.split('}').next());
    for name in names {
        let hole = format!("{{{name}}}");
        let put = |address: &Address| -> Vec<Address> {
            let told =
                |which: &str| if which.is_empty() { hole.clone() } else { format!("{{{name}: {which}}}") };
            let each = values(scene, name, page).into_iter();
            each.map(|(value, which)| Address {
                label: address.label.replace(&hole, &told(which)),
                path: address.path.replace(&hole, &value),
                page,
            })
            .collect()
        };
        all = all.iter().flat_map(put).collect();
    }
    all
}

/// Every GET of the API that speaks of somebody.
fn of_the_api(scene: &Scene) -> Vec<Address> {
    let document: Value = serde_json::from_str(&document::written()).expect("JSON");
    let all = operations(&document).into_iter().filter(|operation| operation.method == Method::GET);
    let all = all.filter(|operation| !OF_NOBODY.contains(&operation.path.as_str()));
    let mut addresses: Vec<Address> =
        all.flat_map(|operation| filled(scene, &operation.path, false)).collect();
    for room in [&scene.room, &scene.holders] {
        let plain = format!("/api/v1/streams/{}/ops", room.id);
        for address in addresses.iter_mut().filter(|address| address.path == plain) {
            address.path = scene.ops_of(room);
        }
        // an event has what a pull gives; who may open the stream is asked here
        let live = format!("/api/v1/streams/{}/live", room.id);
        for address in addresses.iter_mut().filter(|address| address.path == live) {
            address.path = scene.ops_of(room).replace("/ops?", "/live?").replace("&limit=10000", "");
        }
    }
    addresses
}

/// The templates of all pages, as the sources have them.
fn of_pages(folder: &Path, inside: bool, found: &mut BTreeSet<String>) {
    for entry in std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
        let path = entry.expect("an entry").path();
        let inside = inside || path.file_stem().is_some_and(|stem| stem == "pages");
        if path.is_dir() {
            of_pages(&path, inside, found);
        } else if inside && path.extension().is_some_and(|ending| ending == "rs") {
            let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            let routes = text.split("#[get(\"").skip(1).filter_map(|rest| rest.split('"').next());
            found.extend(routes.map(str::to_owned));
        }
    }
}

/// All addresses.
pub fn addresses(scene: &Scene) -> Vec<Address> {
    let mut pages = BTreeSet::new();
    of_pages(&place::workspace().join("server/src"), false, &mut pages);
    assert!(pages.len() > 30, "the pages are elsewhere by now: {pages:?}");
    let mut all = of_the_api(scene);
    // whoever is signed in is sent on from it
    pages.remove("/sign-in");
    all.extend(pages.iter().flat_map(|template| filled(scene, template, true)));
    all
}

/// The paths of an answer's fields that hold a value: those of a list are one, an id as a name is `{id}`, and what an op
/// says stands under its kind.
pub fn fields(answer: &Value) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    descend(answer, "", &mut all);
    all
}

fn descend(value: &Value, path: &str, all: &mut BTreeSet<String>) {
    match value {
        Value::Null => {}
        Value::String(text) if text.is_empty() => {}
        Value::Array(each) => each.iter().for_each(|one| descend(one, &format!("{path}[]"), all)),
        Value::Object(each) => {
            let kind = each.get("op").and_then(Value::as_str).filter(|op| op.contains('.'));
            let kind = kind.map_or_else(String::new, |kind| format!("({kind})"));
            for (name, one) in each {
                let name = if uuid::Uuid::parse_str(name).is_ok() { "{id}" } else { name };
                let dot = if path.is_empty() { "" } else { "." };
                descend(one, &format!("{path}{kind}{dot}{name}"), all);
            }
        }
        _ => drop(all.insert(path.to_owned())),
    }
}
