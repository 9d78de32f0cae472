//! Lineage over JSON.

pub mod brood;
pub mod published;
