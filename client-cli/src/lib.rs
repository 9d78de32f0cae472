#![forbid(unsafe_code)]
//! The keeper's own command line. It works without a network and syncs when there is one: `store` is the one local
//! file, `sync` brings it and the server together, `commands` has a file for each verb.

pub mod cli;
pub mod clock;
pub mod commands;
pub mod failure;
pub mod find;
pub mod folder;
pub mod interrupt;
pub mod output;
pub mod problem;
pub mod remote;
pub mod store;
pub mod sync;
pub mod tarn;
pub mod when;
pub mod wording;

pub use cli::main;
