//! What `rooms` refuses.

use crate::platform::Kind;

/// Every kind of this area.
pub const KINDS: &[&Kind] = &[
    &LAST_KEEPER,
    &ROOM_TAKEN,
    &OTHER_KEEPERS,
    &NOT_ITS_NAME,
    &KEEPS_IT_ALREADY,
    &NO_CARETAKER,
    &LINK_OVER,
    &LINK_QUOTA,
];

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
/// Others keep it too.
pub const OTHER_KEEPERS: Kind = Kind {
    code: "other-keepers",
    status: 409,
    title: "Others keep this room too",
    explanation: "A room is given up by its only keeper. End your own part in it instead; the others keep its records.",
};
/// What was typed is not the room's name.
pub const NOT_ITS_NAME: Kind = Kind {
    code: "not-its-name",
    status: 422,
    title: "This is not the room’s name",
    explanation: "A room is given up for good, so its name is typed again, as it stands.",
};
/// A caretaker is somebody else than the keepers.
pub const KEEPS_IT_ALREADY: Kind = Kind {
    code: "keeps-it-already",
    status: 409,
    title: "They keep the room already",
    explanation: "A caretaker acts when the keepers can’t, so it is somebody else. Name another, or end their part first.",
};
/// Not this one.
pub const NO_CARETAKER: Kind = Kind {
    code: "no-caretaker",
    status: 404,
    title: "You are not its caretaker",
    explanation: "Only whom a keeper has named takes a room over. If its keepers can’t be reached, ask an officer of the club.",
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
