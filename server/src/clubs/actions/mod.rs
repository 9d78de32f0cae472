//! What can be done with clubs, one file per verb.
//!
//! Loads, asks the domain, saves, records. No HTTP and no queries.

mod accept;
mod audit;
mod invite;
mod officer;
mod roles;
mod rule;

pub use accept::{Accept, accept, invited};
pub use audit::{Audit, Doer, Done, audit, audit_place};
pub use invite::{Invited, invite};
pub use officer::{Added, add_officer, tell_officers, tell_officers_of};
pub use roles::{give_role, take_role};
pub use rule::{RULE_ADOPTED, adopt_rule};
