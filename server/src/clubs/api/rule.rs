//! The shape of a quarantine rule in the API document. What is read and told is the domain's own type.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

/// A quarantine rule. Days are whole days of 24 hours
#[derive(Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "says what is read and told")]
pub struct QuarantineRule {
    min_days: u16,
    /// Other lengths by where fish came from: `shop`, `person`, `wild`, `show`, `other`, `parcel`
    #[schema(required = false)]
    days_from: BTreeMap<String, u16>,
    /// Other lengths by the genus, or the genus and species, as kept; before those by where they came from
    #[schema(required = false)]
    days_of: BTreeMap<String, u16>,
    /// The longest gap between two recorded looks
    observe_every_days: u16,
    /// What starts the clock again: `sign`, `unexplained_loss`
    restart_on: Vec<String>,
    /// What a treatment does to the clock: `restart_at_end`
    treatment: String,
    /// What a later arrival in the same water does: `restart` or `wait_for_last`
    shared_water: String,
    /// Losses of younger fish count as fry losses
    fry_days: u16,
    /// Fry losses start the clock again above this share in 7 days, in per cent
    fry_loss_percent: u8,
    /// What an unsold lot in an unopened bag comes home to: `quarantine` or `home`
    unopened_bag_returns: String,
    /// An entry later than this has to be read by a steward
    late_after_hours: u16,
    /// Named losses above this share have to be read by a steward, in per cent
    named_loss_percent: u8,
    /// How long water stays the unit's after its last member left
    water_days: u16,
    /// Who may clear
    clear_role: String,
}
