//! What a login name, a shown name, an address and a password may be, when a code of the second factor is good, how
//! often a letter goes to one address, what only a guardian does for the young, and when a refresh token still counts.
//!
//! Pure rules: nothing is stored or hashed here.

mod factor;
mod letters;
mod names;
mod password;
mod renewal;
mod young;

pub use factor::{
    Code, RECOVERY_BYTES, RECOVERY_CODES, SECRET_BYTES, base32, good_step, recovery_code, written_secret,
};
pub use letters::{ASKED_LINK_GOOD_FOR_MS, LETTERS_COUNT_MS, may_write_again};
pub use names::{Email, LoginName, ShownName};
pub use password::{
    Beside, MAX_LENGTH as PASSWORD_MAX_LENGTH, MIN_BESIDE_FACTOR as PASSWORD_MIN_BESIDE_FACTOR,
    MIN_LENGTH as PASSWORD_MIN_LENGTH, Weakness, check_password,
};
pub use renewal::{GRACE_MS, RefreshToken, Renewal, renew};
pub use young::{Age, YOUNG_NAME};
