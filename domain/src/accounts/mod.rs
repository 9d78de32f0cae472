//! What a login name, a shown name, an address and a password may be, and when a refresh token still counts.
//!
//! Pure rules: nothing is stored or hashed here.

mod names;
mod password;
mod renewal;

pub use names::{Email, LoginName, ShownName};
pub use password::{
    MAX_LENGTH as PASSWORD_MAX_LENGTH, MIN_LENGTH as PASSWORD_MIN_LENGTH, Weakness, check_password,
};
pub use renewal::{GRACE_MS, RefreshToken, Renewal, renew};
