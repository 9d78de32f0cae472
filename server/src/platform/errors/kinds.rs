//! The kinds of problems that belong to no area.

/// A kind of problem; its code is part of the API.
#[derive(Debug, PartialEq, Eq)]
pub struct Kind {
    /// Stable, in the address `/problems/{code}`.
    pub code: &'static str,
    /// The HTTP status when it answers a whole request.
    pub status: u16,
    /// A few words.
    pub title: &'static str,
    /// For the page at its address: what it means and what to do.
    pub explanation: &'static str,
}

/// An area's kinds, one a statement: name, code, status, title, explanation; and the list `KINDS` of all of them.
macro_rules! kinds {
    ($($name:ident $code:literal $status:literal $title:literal $explanation:literal;)*) => {
        /// Every kind of this area.
        pub const KINDS: &[&$crate::platform::Kind] = &[$(&$name),*];
        $(
            #[doc = $title]
            pub const $name: $crate::platform::Kind = $crate::platform::Kind {
                code: $code, status: $status, title: $title, explanation: $explanation,
            };
        )*
    };
}
pub(crate) use kinds;

/// The kinds that belong to no area.
pub const KINDS: &[&Kind] = &[
    &NOT_FOUND,
    &METHOD_NOT_ALLOWED,
    &MALFORMED,
    &TOO_LARGE,
    &NOT_SIGNED_IN,
    &SESSION_ENDED,
    &FOREIGN_FORM,
    &PLAIN_HTTP,
    &CONFLICT,
    &TOO_MANY_TODAY,
    &INVALID,
    &IF_MATCH_MISSING,
    &NOT_THE_NEWEST,
    &BUSY,
    &STORAGE_FULL,
    &FAILED,
];

/// There is nothing at this address, or nothing for the caller.
pub const NOT_FOUND: Kind = Kind {
    code: "not-found",
    status: 404,
    title: "Nothing here",
    explanation: "There is nothing at this address, or nothing that you may see. The two are answered alike on purpose.",
};
/// The address is right, the method is not.
pub const METHOD_NOT_ALLOWED: Kind = Kind {
    code: "method-not-allowed",
    status: 405,
    title: "Not this method",
    explanation: "The address exists, but not for this HTTP method. The header Allow lists those it has.",
};
/// The request can't be read.
pub const MALFORMED: Kind = Kind {
    code: "malformed",
    status: 400,
    title: "The request can't be read",
    explanation: "A part of the request is not what the API document describes: broken JSON, a missing or unknown field, \
        or a value of the wrong kind. The detail says where.",
};
/// The request is well formed, but a value can't be.
pub const INVALID: Kind = Kind {
    code: "invalid",
    status: 422,
    title: "A value can't be taken",
    explanation: "The request could be read, but one of its values is not possible. The list errors says which and why.",
};
/// More bytes than the limit.
pub const TOO_LARGE: Kind = Kind {
    code: "too-large",
    status: 413,
    title: "Too large",
    explanation: "The request has more bytes than the server takes at once.",
};
/// No credentials, or none that count.
pub const NOT_SIGNED_IN: Kind = Kind {
    code: "not-signed-in",
    status: 401,
    title: "Not signed in",
    explanation: "This needs somebody who is signed in. Send an access token in the header Authorization; if it has \
        run out, get a new one with the refresh token.",
};
/// The session was ended, here or elsewhere.
pub const SESSION_ENDED: Kind = Kind {
    code: "session-ended",
    status: 401,
    title: "The session has ended",
    explanation: "The session was ended, by you, by time, or because an old refresh token was used a second time, \
        which may mean that somebody else has a copy. Sign in again.",
};
/// A form that did not come from our own page.
pub const FOREIGN_FORM: Kind = Kind {
    code: "foreign-form",
    status: 403,
    title: "The form did not come from this site",
    explanation: "The form was sent from another site, or its page was open since an earlier sign-in. Open the page \
        again and send it once more.",
};
/// Pages over plain http, not on this machine.
pub const PLAIN_HTTP: Kind = Kind {
    code: "plain-http",
    status: 403,
    title: "Pages need https",
    explanation: "Over plain http everybody on the way could read the password and take over the session, so the \
        pages are served over https only, or on the machine itself. If https ends at a proxy, set public_url to the \
        https address that people type.",
};
/// Something is there already, or a reference leads nowhere.
pub const CONFLICT: Kind = Kind {
    code: "conflict",
    status: 409,
    title: "It does not fit what is there",
    explanation: "Something with this key exists already, or what the request refers to does not exist (any more).",
};
/// Somebody did something so often today that others would be flooded.
pub const TOO_MANY_TODAY: Kind = Kind {
    code: "too-many-today",
    status: 429,
    title: "Enough for one day",
    explanation: "An account puts up 20 notices, begins 20 threads, proposes 20 swaps, writes 200 lines and asks 20 people \
        into line groups in 24 hours at most, so that nobody is flooded. The header Retry-After says after how many \
        seconds to try again.",
};
/// An edit that does not say what it rests on.
pub const IF_MATCH_MISSING: Kind = Kind {
    code: "if-match-missing",
    status: 428,
    title: "Which version was read is missing",
    explanation: "An edit says in the header If-Match which version was read (the header ETag of the answer), so that \
        nobody's change is lost. Read it, then send the edit with that value.",
};
/// An edit of what has changed meanwhile.
pub const NOT_THE_NEWEST: Kind = Kind {
    code: "not-the-newest",
    status: 412,
    title: "It was changed meanwhile",
    explanation: "It was changed after you read it. Nothing was changed by your edit: read it again, then send the edit.",
};
/// Try again.
pub const BUSY: Kind = Kind {
    code: "busy",
    status: 503,
    title: "Busy",
    explanation: "Other writes were in the way for too long. Nothing was changed; the same request may succeed in a moment.",
};
/// The disk is full.
pub const STORAGE_FULL: Kind = Kind {
    code: "storage-full",
    status: 507,
    title: "The server has no room left",
    explanation: "The server's disk, or the part it may use, is full. Nothing was changed; the operator has to make room.",
};
/// A fault of the server.
pub const FAILED: Kind = Kind {
    code: "failed",
    status: 500,
    title: "The server failed",
    explanation: "A fault of the server, kept in its log. Nothing was changed.",
};

/// Enough for one day; `what` is a sentence without its stop.
pub fn too_many_today(what: &str) -> super::Problem {
    super::Problem::new(&TOO_MANY_TODAY).detail(format!("{what}. Go on tomorrow.")).retry_after(86_400)
}
