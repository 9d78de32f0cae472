//! What two members write to each other through the server: replies to a notice, and what belongs to a swap. Neither
//! learns the other's address; each is told of a turn of the other's once a day.

mod read;
mod write;

pub use read::{Begins, Begun, ThreadLook, begun, thread, threads};
pub(super) use write::open;
pub use write::{reply, say};

use sea_orm::ConnectionTrait;
use tarn_domain::streams::AccountId;

use crate::accounts::store as accounts_store;
use crate::entities::threads::Model;
use crate::platform::Result;

/// Who answers for an account: itself, or the guardian of who is under age.
pub(in crate::parcels) async fn answered_by(
    conn: &impl ConnectionTrait,
    account: AccountId,
) -> Result<AccountId> {
    let young = accounts_store::young(conn, account.0).await?;
    Ok(young.map_or(account, |young| AccountId(young.guardian)))
}

/// The other one of a thread; none for who is no party.
pub fn other(row: &Model, account: AccountId) -> Option<AccountId> {
    match account.0 {
        id if id == row.host => Some(AccountId(row.guest)),
        id if id == row.guest => Some(AccountId(row.host)),
        _ => None,
    }
}
