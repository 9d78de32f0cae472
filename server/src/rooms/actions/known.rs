//! Whom somebody may bring into a room by login name: whoever shares a club with them. Anybody else is not known
//! to them, whatever the name, so that nobody is written to by strangers and no login name can be tried out.

use sea_orm::ConnectionTrait;
use tarn_domain::streams::AccountId;

use crate::accounts::refusals::BY_GUARDIAN;
use crate::accounts::store as accounts_store;
use crate::clubs;
use crate::entities::accounts;
use crate::platform::Result;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::rooms::store;

/// The account that signs in with this name, if it shares a club with the caller.
///
/// # Errors
/// `not-found` alike for a name that nobody has and for a stranger's.
pub async fn known_login(
    conn: &impl ConnectionTrait,
    caller: AccountId,
    login: &str,
) -> Result<accounts::Model> {
    let why = "Nobody of your clubs signs in with this name.";
    let nothing = || Problem::new(&NOT_FOUND).detail(why);
    let found = store::account_of_login(conn, login).await?.ok_or_else(nothing)?;
    let theirs = clubs::store::clubs_of(conn, found.id).await?;
    let mine = clubs::store::clubs_of(conn, caller.0).await?;
    let shared = mine.iter().any(|my| theirs.iter().any(|their| their.club == my.club));
    if shared { Ok(found) } else { Err(nothing()) }
}

/// Whoever is under age keeps a room together with others only if who answers for them says so.
///
/// # Errors
/// `by-guardian`.
pub(super) async fn may_keep(conn: &impl ConnectionTrait, caller: AccountId, other: AccountId) -> Result<()> {
    match accounts_store::young(conn, other.0).await? {
        Some(young) if young.guardian != caller.0 => {
            let why = "Whoever answers for them lets them keep a room, nobody else.";
            Err(Problem::new(&BY_GUARDIAN).detail(why))
        }
        _ => Ok(()),
    }
}
