//! Lines: the ancestry of a brood, what keepers publish of their stock, and who keeps a line together.

mod ancestry;
mod groups;
mod published;

use serde_json::{Value, json};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::keeper::Keeper;
use tarn_tests::pen::id;
use tarn_tests::society::Society;

/// A window in which somebody is signed in.
fn signed_in(society: &Society, screen: Screen, login: &str) -> Browser {
    let browser = Browser::start(screen);
    browser.sign_in(&society.server.url(""), login);
    browser
}

/// A client that is logged in, with the account's rooms.
fn client(society: &Society, login: &str) -> Keeper {
    let keeper = Keeper::new(login);
    keeper.log_in(&society.server.url(""), login);
    keeper
}

/// Young that were found: a brood, and the stock that they are.
fn young(code: &str, name: &Value, rows: &[(&str, u32)]) -> (String, Value) {
    let (brood, stock) = (id(), id());
    let rows: Vec<Value> = rows.iter().map(|(sex, n)| json!({"node": brood, "sex": sex, "n": n})).collect();
    let found = json!({"op": "young.found", "brood": brood, "stock": stock, "code": code, "name": name, "rows": rows});
    (stock, found)
}
