//! What can be done with accounts, one file per verb.
//!
//! Loads, asks the domain, saves, records. No HTTP and no queries.

mod account;
mod calendar;
mod messages;
mod open;
mod passwords;
mod renew;
mod sessions;
mod sign_in;
mod telling;
mod throttle;

pub use account::{change_password, reset_password};
pub use calendar::{calendar, end_calendar, new_calendar, wrong_secret};
pub use messages::{Messages, cursor, messages, place_of, read_message, read_messages};
pub use open::{NewAccount, open_account};
pub use passwords::hash as hash_password;
pub use renew::renew;
pub use sessions::{Opened, end_session, open_session, open_with_token};
pub use sign_in::{SignIn, sign_in};
pub use telling::{
    Digest, MORNING, Telling, asked_address, next_morning, prove_address, set_digest, telling,
};
