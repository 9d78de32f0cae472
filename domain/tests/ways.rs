//! Every way round the quarantine clock that anybody could think of, each tried and closed: short stories of a room,
//! told as its keeper would write them down, and what then is held. Then what holds for all rooms: that the order of
//! arrival changes nothing, that when an entry was received changes only what it may, that late entries and
//! withdrawals free nobody, and that a recall is what one gets who reads everything anew after each push.
//!
//! What keepers do in these stories (eggs kept dry, boxes hung in tanks, test companions, the sick kept apart, sumps
//! shared and emptied) is common practice, no source.

#[path = "ways/arrivals.rs"]
mod arrivals;
#[path = "ways/bodies.rs"]
mod bodies;
mod dice;
#[path = "ways/doubts.rs"]
mod doubts;
#[path = "ways/looks.rs"]
mod looks;
#[path = "ways/losses.rs"]
mod losses;
#[path = "ways/pen.rs"]
mod pen;
#[path = "ways/prefix.rs"]
mod prefix;
#[path = "ways/properties.rs"]
mod properties;
#[path = "ways/random.rs"]
mod random;
#[path = "ways/room.rs"]
mod room;
#[path = "ways/rules.rs"]
mod rules;
#[path = "ways/signing.rs"]
mod signing;
#[path = "ways/treatments.rs"]
mod treatments;
#[path = "ways/water.rs"]
mod water;
