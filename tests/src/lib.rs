#![forbid(unsafe_code)]
// Tests are where the ambient clock and chance are allowed: here they are made, everywhere else they are handed in.
#![allow(clippy::disallowed_methods)]
//! What the integration tests share: a database of one's own on either engine, the real server and the real client
//! as processes, plain HTTP, a real browser. Nothing here knows a rule of fish keeping.

pub mod api;
pub mod browser;
pub mod contract;
pub mod database;
pub mod document;
pub mod engine;
pub mod events;
pub mod keeper;
pub mod pen;
pub mod people;
pub mod place;
pub mod process;
pub mod proxy;
pub mod season;
pub mod server;
pub mod site;
pub mod society;
