//! What a "no" about accounts means in HTTP.

use tarn_domain::accounts::Weakness;

use crate::platform::errors::INVALID;
use crate::platform::{Kind, Problem};

/// The kinds of this area.
pub const KINDS: &[&Kind] = &[
    &SIGN_IN_FAILED,
    &TOO_MANY_TRIES,
    &BUSY_NOW,
    &LOGIN_NAME_TAKEN,
    &PASSWORD_WEAK,
    &NO_MAIL,
    &SECOND_FACTOR_NEEDED,
    &CODE_WRONG,
    &SIGN_IN_OVER,
    &SECOND_FACTOR_ON,
    &NO_SECOND_FACTOR,
    &LINK_OVER,
    &SIGN_UP_CLOSED,
    &BY_GUARDIAN,
    &ANSWERS_FOR_YOUNG,
    &TOO_MANY_YOUNG,
];

/// Login name and password don't go together.
pub const SIGN_IN_FAILED: Kind = Kind {
    code: "sign-in-failed",
    status: 401,
    title: "Login name or password is wrong",
    explanation: "The login name and the password don't go together. Which of the two is wrong is not said, so that \
        nobody can find out who has an account. A forgotten password is reset by a letter to your address, if it is \
        proven; otherwise an officer of your club can have it reset.",
};
/// Too many wrong passwords, codes or secret addresses.
pub const TOO_MANY_TRIES: Kind = Kind {
    code: "too-many-tries",
    status: 429,
    title: "Too many tries",
    explanation: "Too many wrong passwords, codes or secret addresses came from this address, or it asked for too many \
        letters. The header Retry-After says after how many seconds it may try again; other addresses are not held up.",
};
/// Too many passwords are being looked at.
pub const BUSY_NOW: Kind = Kind {
    code: "busy-now",
    status: 503,
    title: "Too many are signing in at this moment",
    explanation: "Looking at a password takes a while on purpose, and many wait for theirs. The header Retry-After says \
        after how many seconds to try again. Whoever is signed in is not held up, and this try does not count.",
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
    explanation: "A password has at least 15 signs, or 8 beside a second factor, is not on the lists that are tried first, and is more than one's \
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

/// The password is right, and a code is wanted beside it.
pub const SECOND_FACTOR_NEEDED: Kind = Kind {
    code: "second-factor-needed",
    status: 401,
    title: "A code is needed",
    explanation: "This account signs in with a second factor. Send the code of your phone, or an unused recovery code, as \
        `code` beside login name and password.",
};
/// A code of the second factor that is wrong, too old, or was used.
pub const CODE_WRONG: Kind = Kind {
    code: "code-wrong",
    status: 422,
    title: "This code is not good",
    explanation: "The code is wrong, too old, or was used: each is good once. Wait for the next one on your phone and see \
        that its clock is right, or take an unused recovery code.",
};
/// The second step came too late, or again.
pub const SIGN_IN_OVER: Kind = Kind {
    code: "sign-in-over",
    status: 401,
    title: "This sign-in is over",
    explanation: "After the password the code is waited for five minutes, once. Begin again with login name and \
        password.",
};
/// There is one already.
pub const SECOND_FACTOR_ON: Kind = Kind {
    code: "second-factor-on",
    status: 409,
    title: "You have a second factor",
    explanation: "This account has a second factor. To take it to another phone, take it away first and set it up \
        anew.",
};
/// There is none.
pub const NO_SECOND_FACTOR: Kind = Kind {
    code: "no-second-factor",
    status: 409,
    title: "There is no second factor",
    explanation: "This account has no second factor, or none was begun. The page of the account sets one up.",
};

/// A link in a letter that was used, or is too old.
pub const LINK_OVER: Kind = Kind {
    code: "link-over",
    status: 404,
    title: "This link is not good",
    explanation: "There is no such link, or it was used, or its time is over: each is good once. Ask for another where you         asked for this one.",
};
/// Accounts are made by invitation here.
pub const SIGN_UP_CLOSED: Kind = Kind {
    code: "sign-up-closed",
    status: 403,
    title: "Accounts are made by invitation here",
    explanation: "Whoever runs this server has not opened it to everybody. An officer of your club can invite you.",
};

/// Somebody under age can't do this.
pub const BY_GUARDIAN: Kind = Kind {
    code: "by-guardian",
    status: 403,
    title: "Your guardian does this",
    explanation: "Somebody under age names no price, writes to no member, swaps with nobody, holds no office and answers \
        for nobody: their guardian does it for them. It ends when the guardian or an officer says that they are of age.",
};
/// Somebody would be left without a guardian.
pub const ANSWERS_FOR_YOUNG: Kind = Kind {
    code: "answers-for-young",
    status: 409,
    title: "You answer for somebody under age",
    explanation: "Somebody under age would be left without a guardian. Close their account first, or say that they are of \
        age, on the page of those in your care.",
};
/// A guardian answers for many already.
pub const TOO_MANY_YOUNG: Kind = Kind {
    code: "too-many-young",
    status: 409,
    title: "You answer for six already",
    explanation: "One account answers for six members under age at most. Say of those who are of age that they are, or let \
        another adult of the household make the account.",
};

/// A code is wanted beside the password.
pub fn code_needed() -> Problem {
    Problem::new(&SECOND_FACTOR_NEEDED).at("/code", "Type the code of your phone, or a recovery code.")
}

/// A code that can't be taken.
pub fn code_wrong() -> Problem {
    Problem::new(&CODE_WRONG).at("/code", "This code is wrong, too old, or was used.")
}

/// The password is long enough only beside a second factor.
pub fn longer_first() -> Problem {
    let why = "Without a second factor your password must have 15 signs or more. Change it first.";
    Problem::new(&PASSWORD_WEAK).detail(why).at("/password", why)
}

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

/// Wait so many seconds with the next letter.
pub fn too_many_letters(wait_s: u64) -> Problem {
    let minutes = wait_s.div_ceil(60);
    Problem::new(&TOO_MANY_TRIES)
        .detail(format!("Too many letters were asked for from here. Try again in {minutes} min."))
        .retry_after(wait_s)
}

/// Wait so many seconds.
pub fn too_many_tries(wait_s: u64) -> Problem {
    let minutes = wait_s.div_ceil(60);
    Problem::new(&TOO_MANY_TRIES)
        .detail(format!("Too many wrong tries. Try again in {minutes} min."))
        .retry_after(wait_s)
}
