//! The bodies of ops about treatments. The program proposes neither a medicine nor a dose.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Names, some};
use crate::rooms::words::TreatedWith;
use crate::streams::{At, Links, SystemId, TankId, TreatmentId};

bodies! {
    /// `treatment.began`: a water is treated from now on; it runs until it is ended.
    TreatmentBegan {
        /// Which.
        treatment: TreatmentId,
        /// The system that is treated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or the tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// With what.
        with: TreatedWith,
        /// What the label calls it, and how much by the label, in the keeper's words.
        what: String,
        /// On whose word: a veterinarian, the label.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<String>,
        /// When it is to end, as the label or the veterinarian has it. It is told in time, and no more: the treatment
        /// runs until it is ended.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to_end: Option<At>,
    }

    /// `treatment.ended`: it is over, and what was put in is out of the water.
    TreatmentEnded {
        /// Which.
        treatment: TreatmentId,
    }
}

names! {
    TreatmentBegan: |b| Links::making([b.treatment.into()]).and_refers(some(&b.system)).and_refers(some(&b.tank));
    TreatmentEnded: |b| Links::on([b.treatment.into()]);
}
