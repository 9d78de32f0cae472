//! Quarantine: computed from the records here, signed off on the server.

mod breach;
mod list;
mod sign_off;
mod units;

pub use breach::{held, tell_breach};

super::verbs! {
    /// `tarn quarantine …`
    Quarantine {
        /// The units of this room, computed here
        List(list::List),
        /// The units a steward may look at (needs a network)
        Units(units::Units),
        /// Sign a unit off, as a health steward (needs a network)
        SignOff(sign_off::SignOff),
    }
}
