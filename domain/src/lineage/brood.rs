//! Folds a brood. Parents are kept as the device saw them and never recomputed here.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{BroodName, Parents, Window, YoungFound};
use super::steps::EggsCollected;
use crate::rooms::{Finding, common_findings};
use crate::streams::{At, OpId, Standing, StockId, Touch};

/// What an op says of a brood.
#[derive(Debug, Clone, Copy)]
pub enum BroodEvent<'a> {
    /// It was found as young.
    Found(&'a YoungFound),
    /// Eggs of it were picked: the first, or more.
    Collected(&'a EggsCollected),
}

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
    /// When it may have been born or laid: of pooled eggs from the first to the last.
    pub window: Option<Window>,
    /// The fathers; none: not known.
    pub sires: Option<Parents>,
    /// The mothers; none: not known.
    pub dams: Option<Parents>,
    /// The stock that it was first found as.
    pub stock: Option<StockId>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a brood from the ops that touch it, in their order.
pub fn fold_brood(touches: &[Touch<BroodEvent<'_>>]) -> BroodState {
    let live = || touches.iter().filter(|t| t.standing == Standing::Live);
    let maker = live().find(|t| t.made);
    let windows = live().filter(|_| maker.is_some()).filter_map(|t| match t.event {
        BroodEvent::Found(b) => b.window,
        BroodEvent::Collected(b) => Some(b.window),
    });
    let mut state = BroodState {
        made: maker.map(|t| t.written.id),
        found: maker.map(|t| t.counts_at),
        code: None,
        name: BroodName::default(),
        window: windows.reduce(Window::with),
        sires: None,
        dams: None,
        stock: None,
        findings: common_findings(touches),
    };
    let told = match maker.map(|t| t.event) {
        Some(BroodEvent::Found(b)) => Some((b.stock, &b.code, &b.name, &b.sires, &b.dams)),
        Some(BroodEvent::Collected(b)) => {
            b.new.as_ref().map(|new| (b.stock, &new.code, &new.name, &new.sires, &new.dams))
        }
        None => None,
    };
    if let Some((stock, code, name, sires, dams)) = told {
        state.stock = Some(stock);
        state.code = Some(code.clone());
        state.name = name.clone();
        state.sires = sires.clone();
        state.dams = dams.clone();
    }
    state
}
