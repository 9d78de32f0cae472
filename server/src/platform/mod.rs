//! The shelf under every area: one write path, one way to say no, one clock.
//!
//! Knows no area and no rule.

pub mod actor;
pub mod ahead;
pub mod archive;
pub mod assets;
pub mod audit;
pub mod auth;
pub mod clock;
pub mod config;
pub mod csrf;
pub mod ctx;
pub mod day;
pub mod db;
pub mod dialect;
pub mod drawing;
pub mod edits;
pub mod ending;
pub mod errors;
pub mod fit;
pub mod gauge;
pub mod health;
pub mod html;
pub mod ical;
pub mod jobs;
pub mod keys;
pub mod leaving;
pub mod limits;
pub mod mail;
pub mod menu;
pub mod messages;
pub mod metrics;
pub mod openapi;
pub mod parts;
pub mod problems;
pub mod projection;
pub mod rows;
pub mod seal;
pub mod telemetry;
pub mod tokens;
pub mod transport;
pub mod web;
pub mod words;
pub mod write;

pub use actor::Actor;
pub use auth::{FreshSession, Maybe, PageSession, SignedIn, Visitor};
pub use ctx::Ctx;
pub use errors::{Kind, Problem, Result};
pub use jobs::Job;
pub use write::{Write, write};
