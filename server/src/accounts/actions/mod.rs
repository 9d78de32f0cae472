//! What can be done with accounts, one file per verb.
//!
//! Loads, asks the domain, saves, records. No HTTP and no queries.

mod account;
mod calendar;
mod codes;
mod devices;
mod email;
mod factor;
mod leaving;
mod letters;
mod messages;
mod open;
mod passwords;
mod renew;
mod reset;
mod sessions;
mod sign_in;
mod sign_up;
mod telling;
mod throttle;
mod young;

pub use account::{NewPassword, Reset, Shown, change_password, reset_password};
pub use calendar::{calendar, end_calendar, new_calendar, wrong_secret};
pub use devices::{OwnDevice, devices, end_device};
pub use email::{NewEmail, address_to_prove, ask_for_proof, prove, set_email};
pub use factor::{Factor, Secret, begin_factor, confirm_factor, end_factor, factor, renew_codes};
pub use leaving::{GONE_NAME, leave_server, own_data};
pub use messages::{Messages, cursor, messages, place_of, read_message, read_messages};
pub use open::{NewAccount, open_account};
pub use passwords::hash as hash_password;
pub use renew::renew;
pub(super) use reset::write_reset;
pub use reset::{ask_reset, reset_by_link, whose_reset};
pub use sessions::{
    Opened, end_other_sessions, end_replaced_session, end_session, open_session, open_with_token,
};
pub use sign_in::{Entered, SignIn, sign_in, sign_in_by_page, sign_in_with_code};
pub(super) use sign_up::write_sign_up;
pub use sign_up::{SignUp, address_of_sign_up, ask_sign_up, is_open, sign_up};
pub use telling::{
    Digest, MORNING, Telling, asked_address, next_morning, prove_address, set_digest, telling,
};
pub use young::{
    Ward, age_of, close_young, data_of_young, end_sessions_of_young, grown, is_young, new_password_of_young,
    of_age, reads_along, wards,
};
