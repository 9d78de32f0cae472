//! Quarantine: computed from the records here, signed off on the server.

mod begin_again;
mod breach;
mod leave;
mod let_pass;
mod list;
mod own_rule;
mod show;
mod sign_off;
mod units;

pub use breach::{at_home_with, held, tell_breach};
pub use sign_off::find_unit;

use tarn_domain::state::Quarantine as Standing;

use crate::failure::Outcome;
use crate::store::{OpState, StreamRow};
use crate::tarn::Tarn;

super::verbs! {
    /// `tarn quarantine …`
    Quarantine {
        /// The units of this room, computed here
        List(list::List),
        /// One unit: why it is not ready, and what clears that
        Show(show::Show),
        /// What may leave this room, and what may not
        Leave(leave::Leave),
        /// Begin the days of a unit again, at the end of a gap between looks
        BeginAgain(begin_again::BeginAgain),
        /// A rule of this room's own, stricter than the club's
        OwnRule(own_rule::OwnRule),
        /// The units a steward may look at (needs a network)
        Units(units::Units),
        /// Let pass what is in the way of a unit, as a health steward (needs a network)
        LetPass(let_pass::LetPass),
        /// Sign a unit off, as a health steward (needs a network)
        SignOff(sign_off::SignOff),
    }
}

/// A room's quarantine as it stands now, with late and withdrawn entries.
fn standing(tarn: &Tarn, room: &StreamRow) -> Outcome<Standing> {
    Ok(Standing::of(&tarn.store.memory(room)?, tarn.now()?))
}

/// Whether all that it rests on is on the server.
fn is_synced(tarn: &Tarn, room: &StreamRow) -> Outcome<bool> {
    Ok(tarn.store.open_count(room, OpState::Pending)? == 0)
}
