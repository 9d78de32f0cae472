#![forbid(unsafe_code)]
//! The society server: one program, its areas as modules, one database.
//!
//! A module imports only from lower rows of the ladder (DEVELOPERS.md): app, then the areas, then `platform` and
//! `entities`. The rules themselves stand in `tarn_domain`.

pub mod accounts;
pub mod app;
pub mod cli;
pub mod clubs;
pub mod entities;
pub mod lineage;
pub mod parcels;
pub mod platform;
pub mod quarantine;
pub mod rooms;
pub mod streams;
