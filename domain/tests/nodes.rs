//! Lineage nodes as examples that one reads, and breeders against a slow reading that follows every fish.

#[path = "nodes/breeders.rs"]
mod breeders;
#[path = "nodes/corrected.rs"]
mod corrected;
mod dice;
#[path = "nodes/elsewhere.rs"]
mod elsewhere;
mod ledger;
#[path = "nodes/otherwise.rs"]
mod otherwise;
#[path = "nodes/random.rs"]
mod random;
#[path = "nodes/worlds.rs"]
mod worlds;
