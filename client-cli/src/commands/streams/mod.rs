//! What concerns the records as such: taking back, looking back, state, export, sync.

mod bring;
pub mod completions;
mod entries;
pub mod export;
mod hand_over;
pub mod history;
pub mod import;
pub mod man;
pub mod redact;
pub mod state;
pub mod sync;
mod watching;
pub mod wrong;
