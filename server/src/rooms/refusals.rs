//! What `rooms` refuses.

use crate::platform::Kind;

/// Every kind of this area.
pub const KINDS: &[&Kind] = &[&LAST_KEEPER, &ROOM_TAKEN, &LINK_OVER, &LINK_QUOTA];

/// A room has a keeper.
pub const LAST_KEEPER: Kind = Kind {
    code: "last-keeper",
    status: 409,
    title: "The last keeper can't leave",
    explanation: "A room has at least one keeper. Add another one first, or close the room.",
};
/// The id is somebody else's.
pub const ROOM_TAKEN: Kind = Kind {
    code: "room-taken",
    status: 409,
    title: "This id is taken",
    explanation: "A room's id is made by the client. This one belongs to a room that you don't keep; make another.",
};
/// Nothing is at a link, any more or ever.
pub const LINK_OVER: Kind = Kind {
    code: "link-over",
    status: 404,
    title: "This link is good no more",
    explanation: "Its time is over, a keeper of the room has ended it, or a part of the address is missing. Ask the keeper for a new one.",
};
/// A link has written a lot today.
pub const LINK_QUOTA: Kind = Kind {
    code: "link-quota",
    status: 429,
    title: "As many entries as a link may write in a day",
    explanation: "A link to a room writes at most 300 entries a day. Ring the keeper; what was written stands.",
};
