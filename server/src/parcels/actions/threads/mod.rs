//! What two members write to each other through the server: replies to a notice, and what belongs to a swap. Neither
//! learns the other's address; each is told of a turn of the other's once a day.

mod read;
mod write;

pub use read::{Begins, Begun, ThreadLook, begun, thread, threads};
pub(super) use write::open;
pub use write::{reply, say};

use tarn_domain::streams::AccountId;

use crate::entities::threads::Model;

/// The other one of a thread; none for who is no party.
pub fn other(row: &Model, account: AccountId) -> Option<AccountId> {
    match account.0 {
        id if id == row.host => Some(AccountId(row.guest)),
        id if id == row.guest => Some(AccountId(row.host)),
        _ => None,
    }
}
