//! Parcels as examples that one reads, and that no fish of any brood is made or lost between rooms.

#[path = "parcels/books.rs"]
mod books;
#[path = "parcels/conservation.rs"]
mod conservation;
mod dice;
mod ledger;
#[path = "parcels/relied.rs"]
mod relied;
#[path = "parcels/rooms.rs"]
mod rooms;
#[path = "parcels/season.rs"]
mod season;
#[path = "parcels/stories.rs"]
mod stories;
