//! What concerns the records as such: taking back, looking back, state, export, sync.

pub mod completions;
pub mod export;
pub mod history;
pub mod import;
pub mod man;
pub mod state;
pub mod sync;
mod watching;
pub mod wrong;
