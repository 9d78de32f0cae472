#![forbid(unsafe_code)]
//! The rules of Tarn: what an op means, what follows from all of them, what is refused and why.
//! No I/O, no async, no clock, no randomness; used by the server and the client alike.
//!
//! Modules stand on a ladder and import only from lower rows:
//! `catalogue state` / `parcels` / `quarantine lineage` / `rooms` / `clubs` / `accounts` / `streams`.

pub mod accounts;
pub mod catalogue;
pub mod clubs;
pub mod lineage;
pub mod parcels;
pub mod quarantine;
pub mod rooms;
pub mod state;
pub mod streams;
