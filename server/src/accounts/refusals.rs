//! What a "no" about accounts means in HTTP.

use tarn_domain::accounts::Weakness;

use crate::platform::errors::INVALID;
use crate::platform::{Kind, Problem};

/// The kinds of this area.
pub const KINDS: &[&Kind] = &[&SIGN_IN_FAILED, &TOO_MANY_TRIES, &LOGIN_NAME_TAKEN, &PASSWORD_WEAK, &NO_MAIL];

/// Login name and password don't go together.
pub const SIGN_IN_FAILED: Kind = Kind {
    code: "sign-in-failed",
    status: 401,
    title: "Login name or password is wrong",
    explanation: "The login name and the password don't go together. Which of the two is wrong is not said, so that \
        nobody can find out who has an account. An officer of your club can have the password reset.",
};
/// Too many wrong passwords or secret addresses.
pub const TOO_MANY_TRIES: Kind = Kind {
    code: "too-many-tries",
    status: 429,
    title: "Too many tries",
    explanation: "Too many wrong passwords or secret addresses came from this address. The header Retry-After \
        says after how many seconds it may try again; other addresses are not held up.",
};
/// Somebody has this login name.
pub const LOGIN_NAME_TAKEN: Kind = Kind {
    code: "login-name-taken",
    status: 409,
    title: "This login name is taken",
    explanation: "Somebody else signs in with this name. Take another; the shown name may be the same.",
};
/// The password is short, common, or one's own name.
pub const PASSWORD_WEAK: Kind = Kind {
    code: "password-weak",
    status: 422,
    title: "This password is too easy to guess",
    explanation: "A password has at least 15 signs, is not on the lists that are tried first, and is more than one's \
        own name. Which signs it is made of does not matter; several words in a row are easy to keep in mind.",
};

/// This server has nothing to send mail with.
pub const NO_MAIL: Kind = Kind {
    code: "no-mail",
    status: 409,
    title: "This server sends no mail",
    explanation: "No mail host is set on this server, so nothing can be sent. Messages stand on your page, and a \
        calendar can show what lies ahead. Whoever runs the server can set mail_url.",
};

/// A password that can't be taken; `field` is its pointer.
pub fn weak(weakness: Weakness, field: &str) -> Problem {
    Problem::new(&PASSWORD_WEAK).detail(weakness.sentence()).at(field, weakness.sentence())
}

/// A name or address that can't be taken.
pub fn not_taken(field: &str, why: &'static str) -> Problem {
    Problem::new(&INVALID).detail(why).at(field, why)
}

/// Somebody has this login name.
pub fn login_name_taken() -> Problem {
    Problem::new(&LOGIN_NAME_TAKEN).at("/login_name", "This login name is taken.")
}

/// Wait so many seconds.
pub fn too_many_tries(wait_s: u64) -> Problem {
    let minutes = wait_s.div_ceil(60);
    Problem::new(&TOO_MANY_TRIES)
        .detail(format!("Too many wrong tries. Try again in {minutes} min."))
        .retry_after(wait_s)
}
