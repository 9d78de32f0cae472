//! What a "no" about clubs means in HTTP.

use tarn_domain::clubs::Role;

use crate::platform::{Kind, Problem};

/// The kinds of this area.
pub const KINDS: &[&Kind] = &[&INVITATION_UNKNOWN, &ROLE_MISSING, &LAST_SECRETARY];

/// No such invitation, or not any more.
pub const INVITATION_UNKNOWN: Kind = Kind {
    code: "invitation-unknown",
    status: 404,
    title: "This invitation is not good",
    explanation: "There is no such invitation, or it was used, or its time is over: each is good once, for two weeks. \
        If you have used it, sign in; otherwise ask an officer of your club for another.",
};
/// A member without the role.
pub const ROLE_MISSING: Kind = Kind {
    code: "role-missing",
    status: 403,
    title: "This needs a role in the club",
    explanation: "You belong to the club, but what you want is done by members with a certain role; the detail says \
        which. The secretary gives roles.",
};
/// A club can't be without a secretary.
pub const LAST_SECRETARY: Kind = Kind {
    code: "last-secretary",
    status: 409,
    title: "The last secretary keeps the role",
    explanation: "A club always has a secretary. Give the role to somebody else first.",
};

/// A member without this role.
pub fn role_missing(role: Role) -> Problem {
    Problem::new(&ROLE_MISSING).detail(format!("This is done by a {} of the club.", role.words()))
}
