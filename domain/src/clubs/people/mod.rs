//! The member list of a club: what a line of it says, how somebody stands, and what a list from elsewhere changes.
//!
//! Pure rules. Who has an account and which role is the server's; a line may be about somebody without a login.

mod line;
mod merge;

pub use line::{Belongs, Fault, Field, Household, Line, MemberNumber, PaidUntil, Standing, Typed};
pub use merge::{Change, Merged, merge};
