//! What can be done with accounts, one file per verb.
//!
//! Loads, asks the domain, saves, records. No HTTP and no queries.

mod account;
mod open;
mod passwords;
mod renew;
mod sessions;
mod sign_in;
mod throttle;

pub use account::{change_password, reset_password};
pub use open::{NewAccount, open_account};
pub use passwords::hash as hash_password;
pub use renew::renew;
pub use sessions::{Opened, end_session, open_session, open_with_token};
pub use sign_in::{SignIn, sign_in};
