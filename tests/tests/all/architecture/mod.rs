//! The plan of the sources, checked by reading them: who may use whom, which file holds what, what stays out of where.
//! Each check is a function from sources to breaches, and each is tried on a source that breaks it.

mod files;
mod imports;
mod ladder;
mod lexer;
mod manifests;
mod source;

use source::Source;

/// What every check gives: one line a breach, with the place.
type Breaches = Vec<String>;

#[track_caller]
fn assert_none(breaches: Breaches) {
    assert!(breaches.is_empty(), "\n{}", breaches.join("\n"));
}

/// Fails unless the check finds exactly one breach in a made-up source, and says this about it.
#[track_caller]
fn assert_found(check: fn(&[Source]) -> Breaches, path: &str, text: &str, says: &str) {
    let found = check(&[Source::new(path, text)]);
    assert!(
        found.len() == 1 && found[0].contains(says),
        "{path}: {text}\nexpected one with {says:?}, got {found:#?}"
    );
}

/// Fails unless the check lets a made-up source pass.
#[track_caller]
fn assert_passes(check: fn(&[Source]) -> Breaches, path: &str, text: &str) {
    assert_none(check(&[Source::new(path, text)]));
}

#[test]
fn modules_use_only_lower_rows_of_the_ladder() {
    assert_none(ladder::breaches(source::all()));
}

#[test]
fn a_use_of_a_higher_row_is_found() {
    let up = "clubs uses rooms";
    for text in [
        "use crate::rooms::actions;",
        "use crate::{streams, rooms::store};",
        "use crate::{accounts::{self, Actor}, rooms};",
        "fn f() { crate::rooms::actions::move_stock() }",
        "fn f() { call!(crate::rooms::X) }",
        "fn f() -> tarn_domain::rooms::Stock { todo() }",
        "use tarn_domain::{streams::Op, rooms::Stock};",
        "use super::super::rooms;",
        "mod tests { use super::super::super::rooms; }",
    ] {
        assert_found(ladder::breaches, "server/src/clubs/actions.rs", text, up);
    }
    assert_found(ladder::breaches, "domain/src/clubs.rs", "use super::rooms;", up);
    assert_found(ladder::breaches, "domain/src/clubs/rule.rs", "use crate::rooms::Stock;", up);
    assert_found(
        ladder::breaches,
        "server/src/awards/actions.rs",
        "use crate::auctions;",
        "awards uses auctions",
    );
    assert_found(ladder::breaches, "server/src/rooms/api.rs", "use crate::app;", "rooms uses app");
    assert_found(
        ladder::breaches,
        "server/src/platform/db.rs",
        "use crate::streams;",
        "platform uses streams",
    );
    assert_found(ladder::breaches, "server/src/clubs/api.rs", "use crate::Stock;", "names no module");
    assert_found(ladder::breaches, "server/src/fish/mod.rs", "//! Fish.", "no area of the plan");
}

#[test]
fn lower_rows_and_oneself_are_no_breach() {
    for text in [
        "use crate::{accounts, platform::write::Write, entities::club};",
        "use crate::clubs::store; use super::store; use tarn_domain::clubs::Role;",
        "use tarn_domain::catalogue::Body; use tarn_domain::state::Memory;",
        "//! [`crate::rooms`] builds on this.\n/// See `crate::rooms`.\nconst HINT: &str = \"use crate::rooms;\";",
        "mod tests { use super::*; use super::super::store; }",
    ] {
        assert_passes(ladder::breaches, "server/src/clubs/actions.rs", text);
    }
    assert_passes(ladder::breaches, "server/src/app.rs", "use crate::{auctions, streams, rooms};");
}

#[test]
fn files_have_the_names_and_sizes_of_the_plan() {
    assert_none(files::breaches(source::all()));
}

#[test]
fn a_file_out_of_the_plan_is_found() {
    let good = "//! What it is for.";
    assert_found(files::breaches, "server/src/rooms/moving.rs", good, "not a file of an area");
    assert_found(files::breaches, "server/src/rooms/moving/actions.rs", good, "not a file of an area");
    assert_passes(files::breaches, "server/src/rooms/actions/moving.rs", good);
    assert_found(files::breaches, "client-cli/src/utils.rs", good, "says nothing");
    assert_found(files::breaches, "domain/src/rooms/helpers/mod.rs", good, "says nothing");
    assert_found(files::breaches, "domain/src/rooms/stay.rs", "mod stays { }", "begin with `//!`");
    assert_found(files::breaches, "domain/src/rooms/stay.rs", "//! Stays.\nmod common { }", "says nothing");
    assert_passes(files::breaches, "domain/src/lib.rs", "#![forbid(unsafe_code)]\n// why\n//! The rules.");
    assert_found(
        files::breaches,
        "domain/src/rooms/stay.rs",
        &format!("{good}\n{}", "\n".repeat(400)),
        "401 lines",
    );
    assert_found(
        files::breaches,
        "server/src/entities/stream.rs",
        "//! A stream's row.",
        "which area owns it",
    );
    assert_passes(
        files::breaches,
        "server/src/entities/stream.rs",
        "//! Owned by streams. One row a stream.",
    );
}

#[test]
fn what_must_stay_out_stays_out() {
    assert_none(imports::breaches(source::all()));
}

#[test]
fn what_must_stay_out_is_found() {
    for (path, text, says) in [
        ("server/src/rooms/api.rs", "use sea_orm::EntityTrait;", "sea_orm"),
        ("server/src/rooms/pages/stock.rs", "fn f() { sea_orm::DbErr }", "sea_orm"),
        ("server/src/rooms/actions.rs", "use actix_web::HttpResponse;", "actix_web"),
        ("server/src/rooms/store.rs", "use actix_web::web;", "actix_web"),
        ("domain/src/rooms/stay.rs", "use tokio::sync::Mutex;", "tokio"),
        ("domain/src/rooms/stay.rs", "use sea_orm::Value;", "sea_orm"),
        ("domain/src/rooms/stay.rs", "use std::{fs, io};", "std::fs"),
        ("domain/src/rooms/stay.rs", "use rand::Rng;", "rand"),
        ("domain/src/rooms/stay.rs", "fn f() { std::time::SystemTime::now() }", "SystemTime"),
        ("domain/src/rooms/stay.rs", "fn f() { async {} }", "async"),
        ("server/src/rooms/actions.rs", "fn f() { Utc::now() }", "Utc::now"),
        ("server/src/rooms/actions.rs", "fn f() { Uuid::now_v7() }", "now_v7"),
        ("client-cli/src/commands/tank/add.rs", "fn f() { rand::rng() }", "rand::rng"),
        ("client-cli/src/sync/push.rs", "use reqwest::Client;", "reqwest"),
        ("client-cli/src/commands/tank/add.rs", "use rusqlite::Connection;", "rusqlite"),
    ] {
        assert_found(imports::breaches, path, text, says);
    }
    assert_passes(imports::breaches, "server/src/platform/clock.rs", "fn f() { Utc::now() }");
    assert_passes(
        imports::breaches,
        "server/src/rooms/store.rs",
        "use sea_orm::EntityTrait; // no actix_web",
    );
    assert_passes(imports::breaches, "client-cli/src/remote.rs", "use reqwest::Client;");
}

#[test]
fn the_lints_forbid_the_ambient_clock_and_chance() {
    assert_none(manifests::lint_breaches());
}

#[test]
fn each_dependency_is_used() {
    assert_none(manifests::unused());
}

#[test]
fn each_dependency_may_be_shipped() {
    assert_none(manifests::licence_breaches());
}

#[test]
fn a_licence_is_read_as_it_is_meant() {
    let allowed = ["MIT", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "Unicode-3.0"];
    for good in [
        "MIT OR Apache-2.0",
        "MIT/Apache-2.0",
        "GPL-3.0-only OR MIT",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception OR MIT",
    ] {
        assert!(manifests::allows(&allowed, good), "{good}");
    }
    for bad in [
        "",
        "GPL-3.0-only",
        "MIT AND GPL-3.0-only",
        "(MIT OR Apache-2.0) AND OpenSSL",
        "MIT WITH Some-exception",
    ] {
        assert!(!manifests::allows(&allowed, bad), "{bad}");
    }
}
