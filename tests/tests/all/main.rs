#![forbid(unsafe_code)]
// Tests are where the ambient clock and chance are allowed: here they are made, everywhere else they are handed in.
#![allow(clippy::disallowed_methods)]
//! All integration tests in one binary, linked once. One file per kind of test.

mod access;
mod adopting;
mod architecture;
mod audit;
mod board;
mod browsers;
mod clubs;
mod contract;
mod databases;
mod deploy;
mod faults;
mod following;
mod full_disk;
mod handing;
mod helping;
mod hostile;
mod leaving;
mod lineage;
mod lines;
mod metrics;
mod pages;
mod parcels;
mod privacy;
mod probing;
mod redacting;
mod refusals;
mod season;
mod spawning;
mod telling;
mod units;
mod upkeep;
mod water;
