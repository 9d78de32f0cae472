//! Every query of `streams`, and the cache of states.

mod blank;
pub mod cache;
mod devices;
mod epochs;
mod gone;
mod history;
mod ops;
mod quota;
mod rows;

pub use blank::blank;
pub use devices::{
    Device, clients_of, device, devices_of, end_device, register, register_imported, that_write,
};
pub use epochs::begin_epoch;
pub use gone::{is_gone, is_gone_for, remove};
pub use history::{
    Row, chain_at, count_older, lines, new_stream, next_older, set_head, stream, stream_locked, streams_all,
    streams_in, streams_of,
};
pub use ops::{at, between, by_id, insert, numbered};
pub use quota::count;
pub use rows::Stored;
