//! Tanks and water systems: their descriptions, and which tank shares which water when.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::field::Field;
use super::finding::{Finding, FindingKind};
use super::ops::{
    Millilitres, SystemJoined, SystemSet, TankAdded, TankDescribed, TankEmptied, TankHung, TankPlumbed,
};
use super::words;
use crate::streams::{At, OpId, Patch, Standing, SystemId, TankId, Touch};

/// What an op says of a tank.
#[derive(Debug, Clone, Copy)]
pub enum TankEvent<'a> {
    /// It was set up.
    Added(&'a TankAdded),
    /// Something about it changed.
    Described(&'a TankDescribed),
    /// It joined a system or was taken off one.
    Plumbed(&'a TankPlumbed),
    /// A box was hung in another tank, or taken out.
    Hung(&'a TankHung),
    /// All its water is out.
    Emptied(&'a TankEmptied),
}

/// What an op says of a water system.
#[derive(Debug, Clone, Copy)]
pub enum SystemEvent<'a> {
    /// It is there, and what is known of it.
    Set(&'a SystemSet),
    /// It shares another's water, or no longer does.
    Joined(&'a SystemJoined),
    /// All its water is out.
    Emptied(&'a TankEmptied),
}

/// Something that has another's water, or its own, from then to then (half-open).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sharing<Id> {
    /// Whose water; none: its own.
    pub with: Option<Id>,
    /// From when.
    pub from: At,
    /// Until when; none: still.
    pub until: Option<At>,
}

/// All the water was out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct EmptiedAt {
    /// When.
    pub at: At,
    /// The entry.
    pub op: OpId,
    /// How.
    pub how: words::Emptied,
}

/// From then on it has this water.
fn share<Id: PartialEq>(all: &mut Vec<Sharing<Id>>, with: Option<Id>, at: At) {
    if let Some(last) = all.last_mut() {
        if last.with == with {
            return;
        }
        last.until = Some(at);
    }
    all.push(Sharing { with, from: at, until: None });
}

fn emptied(b: &TankEmptied, touch: &Touch<impl Sized>) -> EmptiedAt {
    EmptiedAt { at: touch.counts_at, op: touch.written.id, how: b.how }
}

/// A tank sharing a system's water, or standing alone, from then to then (half-open).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plumbing {
    /// The system; none: its own water.
    pub system: Option<SystemId>,
    /// From when.
    pub from: At,
    /// Until when; none: still.
    pub until: Option<At>,
}

/// A tank as its ops tell it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TankState {
    /// The op that made it; none: nothing that counts did.
    pub made: Option<OpId>,
    /// Since when it stands here.
    pub since: Option<At>,
    /// What is written on it.
    pub name: Option<String>,
    /// Its stand.
    pub stand: Option<String>,
    /// Its shelf.
    pub shelf: Option<String>,
    /// Its place on the shelf.
    pub place: Option<String>,
    /// What it holds.
    pub volume_ml: Option<Millilitres>,
    /// What sand, stones, wood and gear take up in it.
    #[serde(default)]
    pub displacement_ml: Option<Millilitres>,
    /// Whose water it shared when, in order of time.
    pub plumbing: Vec<Plumbing>,
    /// In which tank it hung when, as a box, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hung: Vec<Sharing<TankId>>,
    /// When it was emptied, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub emptied: Vec<EmptiedAt>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

impl TankState {
    /// The system it is on at an instant.
    pub fn system_at(&self, at: At) -> Option<SystemId> {
        self.plumbing
            .iter()
            .rfind(|p| p.from <= at && p.until.is_none_or(|end| at < end))
            .and_then(|p| p.system)
    }

    /// The system it is on after all that is recorded.
    pub fn system(&self) -> Option<SystemId> {
        self.plumbing.last().and_then(|p| p.system)
    }
}

/// The findings that any thing's ops can show, whatever they mean.
pub(crate) fn common_findings<E>(touches: &[Touch<E>]) -> BTreeSet<Finding> {
    touches.iter().filter_map(common_finding).collect()
}

/// The same of one op.
pub(crate) fn common_finding<E>(touch: &Touch<E>) -> Option<Finding> {
    let kind = match touch.standing {
        Standing::Live if touch.is_early() => FindingKind::BeforeMade,
        Standing::Live | Standing::Withdrawn => return None,
        Standing::Inert => FindingKind::Inert,
        Standing::Outdone => FindingKind::MadeTwice,
    };
    Some(Finding { kind, op: touch.written.id })
}

/// Folds a tank from the ops that touch it, in their order.
pub fn fold_tank(touches: &[Touch<TankEvent<'_>>]) -> TankState {
    let (mut name, mut stand, mut shelf, mut place) = <(Field<_>, Field<_>, Field<_>, Field<_>)>::default();
    let (mut volume, mut displacement) = <(Field<_>, Field<_>)>::default();
    let mut made = None;
    let mut plumbing: Vec<Plumbing> = Vec::new();
    let (mut hung, mut dry) = (Vec::new(), Vec::new());
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let by = touch.written;
        match &touch.event {
            TankEvent::Added(b) => {
                made = Some((by.id, touch.counts_at));
                name.edit(by, &Patch::Set(b.name.clone()));
                stand.edit(by, &Patch::of(b.stand.clone()));
                shelf.edit(by, &Patch::of(b.shelf.clone()));
                place.edit(by, &Patch::of(b.place.clone()));
                volume.edit(by, &Patch::of(b.volume_ml));
                displacement.edit(by, &Patch::of(b.displacement_ml));
            }
            TankEvent::Described(b) => {
                name.edit(by, &b.name);
                stand.edit(by, &b.stand);
                shelf.edit(by, &b.shelf);
                place.edit(by, &b.place);
                volume.edit(by, &b.volume_ml);
                displacement.edit(by, &b.displacement_ml);
            }
            TankEvent::Plumbed(b) => {
                if let Some(last) = plumbing.last_mut() {
                    if last.system == b.system {
                        continue;
                    }
                    last.until = Some(touch.counts_at);
                }
                plumbing.push(Plumbing { system: b.system, from: touch.counts_at, until: None });
            }
            // A box can't hang in itself.
            TankEvent::Hung(b) => share(&mut hung, b.within.filter(|host| *host != b.tank), touch.counts_at),
            TankEvent::Emptied(b) => dry.push(emptied(b, touch)),
        }
    }
    TankState {
        made: made.map(|(op, _)| op),
        since: made.map(|(_, at)| at),
        name: name.value,
        stand: stand.value,
        shelf: shelf.value,
        place: place.value,
        volume_ml: volume.value,
        displacement_ml: displacement.value,
        plumbing,
        hung,
        emptied: dry,
        findings: common_findings(touches),
    }
}

/// A water system as its ops tell it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SystemState {
    /// The op that made it; none: nothing that counts did.
    pub made: Option<OpId>,
    /// Its name.
    pub name: Option<String>,
    /// All its water when filled.
    pub gross_ml: Option<Millilitres>,
    /// Its water less sand, stones and wood.
    pub net_ml: Option<Millilitres>,
    /// The sump's share.
    pub sump_ml: Option<Millilitres>,
    /// What pipes, filters and other vessels hold.
    #[serde(default)]
    pub pipes_ml: Option<Millilitres>,
    /// What sand, stones, wood and gear take up in all of it.
    #[serde(default)]
    pub displacement_ml: Option<Millilitres>,
    /// Whose water it shared when, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joined: Vec<Sharing<SystemId>>,
    /// When it was emptied, sump included, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub emptied: Vec<EmptiedAt>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a system from the ops that touch it, in their order.
pub fn fold_system(touches: &[Touch<SystemEvent<'_>>]) -> SystemState {
    let mut name = Field::default();
    let (mut gross, mut net, mut sump) = <(Field<_>, Field<_>, Field<_>)>::default();
    let (mut pipes, mut displacement) = <(Field<_>, Field<_>)>::default();
    let (mut joined, mut dry) = (Vec::new(), Vec::new());
    let mut made = None;
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let b = match touch.event {
            SystemEvent::Set(b) => b,
            SystemEvent::Joined(b) => {
                share(&mut joined, b.with.filter(|other| *other != b.system), touch.counts_at);
                continue;
            }
            SystemEvent::Emptied(b) => {
                dry.push(emptied(b, touch));
                continue;
            }
        };
        if touch.made {
            made = Some(touch.written.id);
        }
        name.edit(touch.written, &b.name);
        gross.edit(touch.written, &b.gross_ml);
        net.edit(touch.written, &b.net_ml);
        sump.edit(touch.written, &b.sump_ml);
        pipes.edit(touch.written, &b.pipes_ml);
        displacement.edit(touch.written, &b.displacement_ml);
    }
    SystemState {
        made,
        name: name.value,
        gross_ml: gross.value,
        net_ml: net.value,
        sump_ml: sump.value,
        pipes_ml: pipes.value,
        displacement_ml: displacement.value,
        joined,
        emptied: dry,
        findings: common_findings(touches),
    }
}
