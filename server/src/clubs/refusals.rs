//! What a "no" about clubs means in HTTP.

use tarn_domain::clubs::Role;

use crate::platform::{Kind, Problem};

/// The kinds of this area.
pub const KINDS: &[&Kind] = &[
    &INVITATION_UNKNOWN,
    &ROLE_MISSING,
    &SECOND_FACTOR_REQUIRED,
    &LAST_SECRETARY,
    &GUESTS_ARE_NO_OFFICERS,
    &HAS_A_LOGIN,
    &GUESTS_ANSWER_FOR_NOBODY,
    &LAPSED_ARE_NO_OFFICERS,
];

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
/// An officer without a second factor, in a club that wants one.
pub const SECOND_FACTOR_REQUIRED: Kind = Kind {
    code: "second-factor-required",
    status: 403,
    title: "This needs a second factor",
    explanation: "The club wants its officers to sign in with a code beside the password. Until you have set up a second \
        factor, on the page of your account, your roles in it don't count and you are a member.",
};
/// A club can't be without a secretary.
pub const LAST_SECRETARY: Kind = Kind {
    code: "last-secretary",
    status: 409,
    title: "The last secretary keeps the role",
    explanation: "A club always has a secretary. Give the role to somebody else first.",
};

/// A guest can't hold an office.
pub const GUESTS_ARE_NO_OFFICERS: Kind = Kind {
    code: "guests-are-no-officers",
    status: 409,
    title: "A guest is no officer",
    explanation: "Officers are members. Take the roles away before somebody becomes a guest, or make the guest a member \
        before they get a role.",
};
/// A guest brings nobody into the club.
pub const GUESTS_ANSWER_FOR_NOBODY: Kind = Kind {
    code: "guests-answer-for-nobody",
    status: 403,
    title: "A guest answers for nobody",
    explanation: "Members make the accounts of those under age in their care; a guest of the club doesn't. Ask the \
        secretary to make you a member first.",
};
/// Whose membership has lapsed can't hold an office.
pub const LAPSED_ARE_NO_OFFICERS: Kind = Kind {
    code: "lapsed-are-no-officers",
    status: 409,
    title: "Whose membership has lapsed is no officer",
    explanation: "Officers are members. Take the roles away before a membership lapses, or let it go on before somebody \
        gets a role.",
};
/// Who signs in needs no invitation.
pub const HAS_A_LOGIN: Kind = Kind {
    code: "has-a-login",
    status: 409,
    title: "They have a login already",
    explanation: "This line of the member list belongs to somebody who signs in. No invitation is needed.",
};

/// A member without this role.
pub fn role_missing(role: Role) -> Problem {
    Problem::new(&ROLE_MISSING).detail(format!("This is done by a {} of the club.", role.words()))
}

/// An officer whose roles wait.
pub fn second_factor_required(club: &str) -> Problem {
    Problem::new(&SECOND_FACTOR_REQUIRED).detail(format!(
        "{club} wants a second factor of its officers. Set yours up on the page of your account, under Second factor; \
         until then you are a member there."
    ))
}
