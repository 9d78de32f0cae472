//! Folds a treatment: of which water, with what, from when to when. Proposes nothing.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::finding::Finding;
use super::ops::{TreatmentBegan, TreatmentEnded};
use super::tank::common_findings;
use super::words::TreatedWith;
use crate::streams::{At, OpId, Standing, SystemId, TankId, Touch};

/// What an op says of a treatment.
#[derive(Debug, Clone, Copy)]
pub enum TreatmentEvent<'a> {
    /// It began.
    Began(&'a TreatmentBegan),
    /// It is over.
    Ended(&'a TreatmentEnded),
}

/// A treatment as its ops tell it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TreatmentState {
    /// The op that began it; none: nothing that counts did.
    pub made: Option<OpId>,
    /// The system that is treated.
    pub system: Option<SystemId>,
    /// Or the tank.
    pub tank: Option<TankId>,
    /// With what.
    pub with: Option<TreatedWith>,
    /// What the label calls it.
    pub what: Option<String>,
    /// On whose word.
    pub by: Option<String>,
    /// Since when.
    pub from: Option<At>,
    /// Until when, and the op that says so; none: it runs.
    pub until: Option<(At, OpId)>,
    /// When it is to end, if anybody said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_end: Option<At>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a treatment from the ops that touch it, in their order. The first end counts.
pub fn fold_treatment(touches: &[Touch<TreatmentEvent<'_>>]) -> TreatmentState {
    let mut state = TreatmentState {
        made: None,
        system: None,
        tank: None,
        with: None,
        what: None,
        by: None,
        from: None,
        until: None,
        to_end: None,
        findings: common_findings(touches),
    };
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let at = state.from.map_or(touch.counts_at, |from| from.max(touch.counts_at));
        match touch.event {
            TreatmentEvent::Began(b) => {
                state.made = Some(touch.written.id);
                (state.system, state.tank, state.from) = (b.system, b.tank, Some(at));
                (state.with, state.what) = (Some(b.with), Some(b.what.clone()));
                state.by.clone_from(&b.by);
                state.to_end = b.to_end;
            }
            TreatmentEvent::Ended(_) => {
                state.until.get_or_insert((at, touch.written.id));
            }
        }
    }
    state
}
