//! Lineage over JSON.

pub mod brood;
