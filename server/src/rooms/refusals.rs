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
    &PROBE_OVER,
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
/// A probe's token is good no more, or never was.
pub const PROBE_OVER: Kind = Kind {
    code: "probe-over",
    status: 401,
    title: "This probe’s token is not good",
    explanation: "The token is wrong, a keeper has ended the probe, or its time is over. A keeper of the room makes another on \
        the room’s page of probes; the readings that the probe kept to itself for at most 30 days can then be sent.",
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
    title: "As much as a link or a probe may write in a day",
    explanation: "A helper’s link writes at most 300 entries a day, a probe sends at most 86,400 readings. Helpers ring the \
        keeper; a probe goes on tomorrow, with fewer. What was written stands.",
};
