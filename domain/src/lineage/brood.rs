//! Folds a brood. Parents are kept as the device saw them and never recomputed here.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::copy::Ancestor;
use super::ops::{BroodName, Parents, Window, YoungFound};
use super::steps::EggsCollected;
use super::told::{BroodCorrected, BroodRenamed, BroodTold, HistoryTold, NameEdit, Telling};
use crate::rooms::{Field, Finding, FindingKind, common_findings};
use crate::streams::{At, NodeId, OpId, Order, Patch, Standing, StockId, Touch};

/// What an op says of a brood.
#[derive(Debug, Clone, Copy)]
pub enum BroodEvent<'a> {
    /// It was found as young.
    Found(&'a YoungFound),
    /// Eggs of it were picked: the first, or more.
    Collected(&'a EggsCollected),
    /// Its parents are others than was said.
    Corrected(&'a BroodCorrected),
    /// It is called otherwise.
    Renamed(&'a BroodRenamed),
    /// Its home room says what it is.
    Told(Told<'a>),
}

/// What a brood's home room says of it, here or while this room was kept on another server.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    brood: NodeId,
    what: Telling,
    why: Option<&'a str>,
    nodes: &'a [Ancestor],
    /// How far the home room's records went; none: on another server, and whatever is told here knows more.
    head: Option<u64>,
}

impl<'a> From<&'a BroodTold> for Told<'a> {
    fn from(b: &'a BroodTold) -> Self {
        let why = b.why.as_deref();
        Self { brood: b.brood, what: b.what, why, nodes: &b.nodes, head: Some(b.head) }
    }
}

impl<'a> From<&'a HistoryTold> for Told<'a> {
    fn from(b: &'a HistoryTold) -> Self {
        Self { brood: b.brood, what: b.what, why: b.why.as_deref(), nodes: &b.nodes, head: None }
    }
}

/// A change of a brood's name or parents that counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// When.
    pub at: At,
    /// The entry.
    pub op: OpId,
    /// Whether its name changed, or its parents.
    pub what: Telling,
    /// Why.
    pub why: Option<String>,
}

/// A brood as its home stream tells it; or a node whose home is elsewhere, as this room was told of it.
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
    /// How many were found or picked in all.
    pub young: i64,
    /// Corrections and new names that count, in their order.
    pub changes: Vec<Change>,
    /// The parents before the latest correction, if it counts: what stands should the correction make a circle.
    pub before: Option<[Option<Parents>; 2]>,
    /// What its home room says of it, if that is another.
    pub told: Option<Ancestor>,
    /// How far that home room's records went then.
    pub told_head: Option<u64>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// One side of the parents by every edit: what counts now, and what would without one of them.
#[derive(Default)]
struct Side(BTreeMap<Place, Option<Parents>>);

/// Which of two edits is the later.
type Place = (crate::streams::Clock, crate::streams::DeviceId, OpId);

fn place(order: Order) -> Place {
    (order.clock, order.device, order.id)
}

impl Side {
    fn edit(&mut self, by: Order, patch: &Patch<Parents>) {
        match patch {
            Patch::Keep => {}
            Patch::Clear => drop(self.0.insert(place(by), None)),
            Patch::Set(parents) => drop(self.0.insert(place(by), Some(parents.clone()))),
        }
    }

    fn latest(&self, without: Option<Place>) -> Option<Parents> {
        self.0.iter().rev().find(|(by, _)| Some(**by) != without).and_then(|(_, parents)| parents.clone())
    }
}

#[derive(Default)]
struct NameFields {
    code: Field<String>,
    species: Field<String>,
    form: Field<String>,
    trade: Field<String>,
    collection: Field<String>,
    line: Field<String>,
    determined_by: Field<String>,
    sure: Field<bool>,
}

impl NameFields {
    fn edit(&mut self, by: Order, edit: &NameEdit) {
        self.code.edit(by, &edit.code);
        self.species.edit(by, &edit.species);
        self.form.edit(by, &edit.form);
        self.trade.edit(by, &edit.trade);
        self.collection.edit(by, &edit.collection);
        self.line.edit(by, &edit.line);
        self.determined_by.edit(by, &edit.determined_by);
        self.sure.edit(by, &edit.sure);
    }
}

/// Folds a brood, or a node that is known by being told of, from the ops that touch it, in their order.
pub fn fold_brood(node: NodeId, touches: &[Touch<BroodEvent<'_>>]) -> BroodState {
    let mut findings = common_findings(touches);
    let (mut name, mut sires, mut dams) = (NameFields::default(), Side::default(), Side::default());
    let (mut made, mut stock, mut window, mut young) = (None, None, None::<Window>, 0);
    let (mut changes, mut corrected) = (Vec::new(), None);
    let mut told: Option<((u64, Place), &Ancestor)> = None;
    for touch in touches.iter().filter(|touch| touch.standing == Standing::Live) {
        let (by, at) = (touch.written, touch.counts_at);
        let mut begun = |of: StockId, code: &str, as_kept: &BroodName, sides: [&Option<Parents>; 2]| {
            made = Some((by.id, at));
            stock = Some(of);
            name.edit(by, &NameEdit { code: Patch::Set(code.to_owned()), ..as_kept.into() });
            sires.edit(by, &Patch::of(sides[0].clone()));
            dams.edit(by, &Patch::of(sides[1].clone()));
        };
        match touch.event {
            BroodEvent::Found(b) => {
                begun(b.stock, &b.code, &b.name, [&b.sires, &b.dams]);
                young += b.rows.iter().map(|row| row.n.get()).sum::<i64>();
                window = b.window.map(|w| window.map_or(w, |known| known.with(w))).or(window);
            }
            BroodEvent::Collected(b) => {
                if let Some(new) = b.new.as_ref().filter(|_| touch.made) {
                    begun(b.stock, &new.code, &new.name, [&new.sires, &new.dams]);
                }
                young += b.n.get();
                window = Some(window.map_or(b.window, |known| known.with(b.window)));
            }
            BroodEvent::Corrected(b) => {
                sires.edit(by, &b.sires);
                dams.edit(by, &b.dams);
                corrected = corrected.max(Some(place(by)));
                changes.push(Change { at, op: by.id, what: Telling::Corrected, why: b.why.clone() });
            }
            BroodEvent::Renamed(b) => {
                name.edit(by, &b.name);
                changes.push(Change { at, op: by.id, what: Telling::Renamed, why: Some(b.why.clone()) });
            }
            BroodEvent::Told(b) => {
                if let Some(copy) = b.nodes.iter().find(|copy| copy.node == node) {
                    // what knew most of the home room's records counts, whenever it was written
                    let order = (b.head.unwrap_or(0), place(by));
                    if told.as_ref().is_none_or(|(last, _)| *last < order) {
                        told = Some((order, copy));
                    }
                    if b.brood == node {
                        changes.push(Change { at, op: by.id, what: b.what, why: b.why.map(str::to_owned) });
                    }
                    if b.what == Telling::Disputed && b.brood == node && b.head.is_some() {
                        findings.insert(Finding { kind: FindingKind::Disputed, op: by.id });
                    }
                }
            }
        }
    }
    let is_made = made.is_some();
    if !is_made {
        // what was taken back contradicts nothing any more
        findings.retain(|finding| finding.kind != FindingKind::Disputed);
    }
    let before = corrected.filter(|_| is_made).map(|by| [sires.latest(Some(by)), dams.latest(Some(by))]);
    BroodState {
        made: made.map(|(op, _)| op),
        found: made.map(|(_, at)| at),
        code: name.code.value,
        name: BroodName {
            species: name.species.value,
            form: name.form.value,
            trade: name.trade.value,
            collection: name.collection.value,
            line: name.line.value,
            determined_by: name.determined_by.value,
            sure: name.sure.value,
        },
        window,
        sires: sires.latest(None),
        dams: dams.latest(None),
        stock,
        young,
        changes,
        before,
        told: told.map(|(_, copy)| copy.clone()),
        told_head: told.map(|((head, _), _)| head),
        findings,
    }
}
