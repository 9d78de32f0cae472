//! The session of the records in use, and which records belong to which account.

use crate::failure::Outcome;
use crate::remote::{Remote, Session};
use crate::store::{Store, StoreError};
use crate::tarn::Tarn;

const ACCOUNT: &str = "account";
const SERVER: &str = "server";
const LOGIN_NAME: &str = "login_name";

/// The server of the records in use.
///
/// # Errors
/// When nobody is logged in.
pub fn open(tarn: &Tarn) -> Outcome<Remote> {
    Remote::of(&tarn.folder)
}

/// Takes a new session: from now on the records of that account are in use. Records made before anybody logged in
/// become theirs; those of another account stay where they are.
///
/// # Errors
/// When files can't be written.
pub fn take(tarn: &mut Tarn, session: &Session) -> Outcome {
    let whose = tarn.store.setting(ACCOUNT)?;
    if whose.as_deref().is_some_and(|account| account != session.account) {
        let name = name_for(tarn, &session.account)?;
        tarn.store = Store::open(&tarn.folder.records(&name))?;
        tarn.folder.make_in_use(&name)?;
        tarn.out.say("Another account's records stay in this folder; yours are in use from now on.");
    }
    tarn.store.write::<_, StoreError>(|work| {
        work.set(ACCOUNT, Some(&session.account))?;
        work.set(SERVER, Some(&session.server))?;
        work.set(LOGIN_NAME, Some(&session.login_name))
    })?;
    session.keep(&tarn.folder)
}

fn name_for(tarn: &Tarn, account: &str) -> Outcome<String> {
    for name in tarn.folder.all() {
        let theirs = Store::open(&tarn.folder.records(&name))?.setting(ACCOUNT)?;
        if theirs.as_deref().is_none_or(|whose| whose == account) {
            return Ok(name);
        }
    }
    Ok(tarn.folder.free_name())
}
