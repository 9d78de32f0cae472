//! What `rooms` refuses.

use crate::platform::Kind;

/// Every kind of this area.
pub const KINDS: &[&Kind] = &[&LAST_KEEPER, &ROOM_TAKEN];

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
