//! What can be done with clubs, one file per verb.
//!
//! Loads, asks the domain, saves, records. No HTTP and no queries.

mod accept;
mod audit;
mod factor;
mod invitations;
mod invite;
mod leaving;
mod membership;
mod officer;
pub mod people;
mod roles;
mod rule;
pub mod sheet;
mod young;

pub use accept::{Accept, accept, invited, join};
pub use audit::{Audit, Doer, Done, audit, audit_place};
pub use factor::{refused, require_factor, waits_for_a_factor};
pub use invitations::{open_invitations, take_back};
pub use invite::{Guest, Invited, invite};
pub use leaving::{leave_server, own_data};
pub use membership::leave;
pub use officer::{Added, add_officer, tell_officers, tell_officers_of};
pub use roles::{give_role, take_role};
pub use rule::{RULE_ADOPTED, adopt_rule};
pub(super) use young::told_of_age;
pub use young::{NewYoung, no_longer_young, open_young};
