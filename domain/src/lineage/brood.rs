//! Folds a brood. Parents are kept as the device saw them and never recomputed here.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{BroodName, Parents, Window, YoungFound};
use crate::rooms::{Finding, common_findings};
use crate::streams::{At, OpId, Standing, StockId, Touch};

/// A brood as its home stream tells it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BroodState {
    /// The op that made it; none: nothing that counts did.
    pub made: Option<OpId>,
    /// When it was found.
    pub found: Option<At>,
    /// The keeper's code.
    pub code: Option<String>,
    /// What it is called.
    pub name: BroodName,
    /// When it may have been born.
    pub window: Option<Window>,
    /// The fathers; none: not known.
    pub sires: Option<Parents>,
    /// The mothers; none: not known.
    pub dams: Option<Parents>,
    /// The stock that its young were found as.
    pub stock: Option<StockId>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a brood from the ops that touch it, in their order.
pub fn fold_brood(touches: &[Touch<&YoungFound>]) -> BroodState {
    let maker = touches.iter().find(|t| t.made && t.standing == Standing::Live);
    let told = maker.map(|t| t.event);
    BroodState {
        made: maker.map(|t| t.written.id),
        found: maker.map(|t| t.counts_at),
        code: told.map(|b| b.code.clone()),
        name: told.map(|b| b.name.clone()).unwrap_or_default(),
        window: told.and_then(|b| b.window),
        sires: told.and_then(|b| b.sires.clone()),
        dams: told.and_then(|b| b.dams.clone()),
        stock: told.map(|b| b.stock),
        findings: common_findings(touches),
    }
}
