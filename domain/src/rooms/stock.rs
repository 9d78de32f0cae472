//! Folds a stock: what it is, how many, where it was. A function of the ops that touch it and of nothing else.

use std::borrow::Cow;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::field::Field;
use super::finding::{Finding, FindingKind};
use super::growth::{Grew, Growth};
use super::numbers::{Key, Node, Numbers, Row, Sex};
use super::ops::{Founders, Sexing, StockDescribed};
use super::stay::{Place, Stay, Stays};
use super::tank::common_finding;
use super::turn::{Turn, TurnKind};
use super::words::{CameFrom, Cause, Keeping};
use crate::streams::{At, NodeId, OpId, ParcelId, Patch, Standing, StockId, Touch};

/// How a stock came to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "how")]
pub enum Came {
    /// It was here before the records.
    Established,
    /// It came in without a parcel.
    In {
        /// From whom.
        from: CameFrom,
    },
    /// It was split off another stock.
    Split {
        /// Which.
        of: StockId,
    },
    /// It was found as young.
    Born {
        /// The brood.
        brood: NodeId,
    },
    /// A parcel brought it.
    Parcel {
        /// Which.
        parcel: ParcelId,
    },
}

/// What a stock is called and how it is kept, as an edit.
#[derive(Debug, Clone, Default)]
pub struct Description {
    /// The keeper's name for it.
    pub name: Patch<String>,
    /// How it is kept.
    pub keeping: Patch<Keeping>,
    /// The species as kept.
    pub species: Patch<String>,
    /// Colour or fin form.
    pub form: Patch<String>,
    /// A remark.
    pub note: Patch<String>,
    /// Whether its females had met no male before they came.
    pub virgin: Patch<bool>,
}

impl From<&StockDescribed> for Description {
    fn from(b: &StockDescribed) -> Self {
        Self {
            name: b.name.clone(),
            keeping: b.keeping.clone(),
            species: b.species.clone(),
            form: b.form.clone(),
            note: b.note.clone(),
            virgin: b.virgin.clone(),
        }
    }
}

/// What an op says of a stock; the rows are the op's own.
#[derive(Debug, Clone)]
pub enum StockEvent<'a> {
    /// It begins.
    Made {
        /// How.
        came: Came,
        /// How many.
        rows: Cow<'a, [Row]>,
        /// Where.
        place: Place,
        /// What it is.
        description: Box<Description>,
        /// Its founders, if it brings any.
        founders: Option<&'a Founders>,
    },
    /// Others, of this stock, joined it.
    Joined(StockId, &'a [Row]),
    /// Some were lost: to what, and whether a reason is given.
    Lost(&'a [Row], Cause, bool),
    /// Some left the room without a parcel.
    Left(&'a [Row]),
    /// Some went out of it: split off, sent.
    Went(Cow<'a, [Row]>),
    /// Some went into another stock.
    Merged(&'a [Row]),
    /// They were counted.
    Counted(&'a [Row], bool),
    /// Their sexes became known.
    Sexed(Cow<'a, [Sexing]>),
    /// They were moved.
    Moved {
        /// From where, as the writer saw it.
        from: Place,
        /// To where.
        to: Place,
        /// On purpose, as test companions.
        companion: bool,
    },
    /// Fish that were not told apart are of these nodes, after all.
    ToldApart(&'a [Row]),
    /// Something about it changed.
    Described(Box<Description>),
    /// It came along from another server: there is nobody here who saw it come in.
    TakenIn,
    /// It is only named: packed to go, for instance.
    Named,
}

/// A stock as its ops tell it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockState {
    /// The op that made it; none: nothing that counts did.
    pub made: Option<OpId>,
    /// When it began.
    pub since: Option<At>,
    /// How it came to be.
    pub came: Option<Came>,
    /// The keeper's name for it.
    pub name: Option<String>,
    /// How it is kept.
    pub keeping: Option<Keeping>,
    /// The species as kept.
    pub species: Option<String>,
    /// Colour or fin form.
    pub form: Option<String>,
    /// A remark.
    pub note: Option<String>,
    /// Whether its females had met no male before they came; none: not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub virgin: Option<bool>,
    /// It came in while the room was kept on another server, and counts as established here.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub taken_in: bool,
    /// Its founders, if it brought any.
    pub founders: Option<Founders>,
    /// How many, by node and sex; signed.
    pub numbers: Numbers,
    /// Rows whose number is a guess.
    pub about: BTreeSet<Key>,
    /// Where it was when.
    pub stays: Vec<Stay>,
    /// Which stocks' fish joined it when.
    pub joined: Vec<(At, StockId)>,
    /// What changed their number, in order of time.
    pub turns: Vec<Turn>,
    /// Which fish came to which of its rows, in order of time.
    pub grew: Vec<Grew>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

impl StockState {
    /// Whether its fish came in from outside the room, as far as this server is to see that they are held.
    pub fn came_in(&self) -> bool {
        matches!(self.came, Some(Came::In { .. } | Came::Parcel { .. })) && !self.taken_in
    }

    /// How many there are: never below none (that is a finding).
    pub fn total(&self) -> i64 {
        self.numbers.total().max(0)
    }

    /// What a count corrected: the change of the total. Of anything but a count: nothing.
    pub fn correction(&self, count: OpId) -> i64 {
        let counted = self.turns.iter().find(|turn| turn.op == count && turn.kind == TurnKind::Counted);
        counted.map_or(0, |turn| turn.change)
    }

    /// Where it swims now; none if there are none left.
    pub fn place(&self) -> Option<Place> {
        self.stays.iter().find(|s| s.until.is_none()).map(|s| s.tank)
    }
}

/// Folds a stock from the ops that touch it, in their order.
pub fn fold_stock(touches: &[Touch<StockEvent<'_>>]) -> StockState {
    let mut fold = StockFold::default();
    touches.iter().for_each(|touch| fold.take_in(touch));
    fold.finish()
}

/// A stock as far as its ops were folded, so that those that come after them can be folded on to it.
#[derive(Debug, Clone, Default)]
pub struct StockFold {
    made: Option<(OpId, At, Came)>,
    founders: Option<Founders>,
    name: Field<String>,
    keeping: Field<Keeping>,
    species: Field<String>,
    form: Field<String>,
    note: Field<String>,
    virgin: Field<bool>,
    taken_in: bool,
    numbers: Numbers,
    about: BTreeSet<Key>,
    stays: Stays,
    joined: Vec<(At, StockId)>,
    turns: Vec<Turn>,
    growth: Growth,
    findings: BTreeSet<Finding>,
    /// The latest move that did not agree with the records.
    astray: Option<OpId>,
    /// The latest merge out of this stock, if no count came after it.
    merged: Option<OpId>,
    /// The latest op that took fish.
    taker: Option<OpId>,
}

impl StockFold {
    /// Takes in the next op, in their order.
    pub fn take_in(&mut self, touch: &Touch<StockEvent<'_>>) {
        self.findings.extend(common_finding(touch));
        if touch.standing == Standing::Live {
            self.apply(touch);
        }
    }

    /// The stock as it is by the ops so far.
    pub fn state(&self) -> StockState {
        self.clone().finish()
    }

    fn apply(&mut self, touch: &Touch<StockEvent<'_>>) {
        let op = touch.written.id;
        let at = self.made.as_ref().map_or(touch.counts_at, |made| made.1.max(touch.counts_at));
        let before = self.numbers.total();
        let mut turn = None;
        match &touch.event {
            StockEvent::Made { came, rows, place, description, founders } => {
                self.made = Some((op, at, came.clone()));
                self.founders = founders.cloned();
                self.describe(touch, description);
                self.stays.begin(*place, at);
                let from = if let Came::Split { of } = came { Some(*of) } else { None };
                self.grow(rows, at, op, from);
                turn = Some(TurnKind::Made);
            }
            StockEvent::Joined(from, rows) => {
                self.joined.push((at, *from));
                self.grow(rows, at, op, Some(*from));
                turn = Some(TurnKind::Joined(*from));
            }
            StockEvent::Lost(rows, cause, reason) => {
                self.taker = Some(op);
                self.add(rows, -1);
                turn = Some(TurnKind::Lost { cause: *cause, reason: *reason });
            }
            StockEvent::Left(rows) => {
                self.taker = Some(op);
                self.add(rows, -1);
                turn = Some(TurnKind::Left);
            }
            StockEvent::Went(rows) => {
                self.taker = Some(op);
                self.add(rows, -1);
                turn = Some(TurnKind::Went);
            }
            StockEvent::Merged(rows) => {
                self.taker = Some(op);
                self.merged = Some(op);
                self.add(rows, -1);
                turn = Some(TurnKind::Went);
            }
            StockEvent::Counted(rows, all) if !touch.is_early() => {
                for row in *rows {
                    self.about.remove(&(row.node, row.sex));
                }
                if *all {
                    self.about.clear();
                }
                self.about.extend(rows.iter().filter(|r| r.about).map(|r| (r.node, r.sex)));
                let before = self.numbers.clone();
                self.numbers.count(rows, *all);
                self.growth.counted((at, op), rows, before, &self.numbers);
                turn = Some(TurnKind::Counted);
                self.merged = None;
            }
            StockEvent::Sexed(rows) if !touch.is_early() => {
                for row in rows.iter() {
                    self.numbers.add((row.node, row.from), -row.n.get());
                    self.growth.turned((at, op), row, &self.numbers);
                    self.numbers.add((row.node, row.to), row.n.get());
                }
            }
            StockEvent::ToldApart(rows) => {
                for row in rows.iter().filter(|row| row.node != Node::Unassigned) {
                    self.numbers.add((Node::Unassigned, row.sex), -row.n.get());
                    self.growth.came((at, op), (row.node, row.sex), row.n.get(), None, &self.numbers);
                    self.numbers.add((row.node, row.sex), row.n.get());
                }
            }
            StockEvent::TakenIn => self.taken_in = true,
            StockEvent::Counted(..) | StockEvent::Sexed(_) | StockEvent::Named => {}
            StockEvent::Moved { from, to, companion } => {
                let agreed = self.stays.go((*from, *to), *companion, at, op);
                self.astray = (!agreed).then_some(op);
            }
            StockEvent::Described(description) => self.describe(touch, description),
        }
        if let Some(kind) = turn {
            self.turns.push(Turn { at, op, change: self.numbers.total() - before, kind });
        }
        self.growth.settle((at, op), &self.numbers);
        self.stays.swim(self.numbers.total() > 0, at, op);
    }

    fn add(&mut self, rows: &[Row], times: i64) {
        self.numbers.add_rows(rows, times);
        self.about.extend(rows.iter().filter(|r| r.about).map(|r| (r.node, r.sex)));
    }

    /// Adds fish that come from elsewhere, or from another stock.
    fn grow(&mut self, rows: &[Row], at: At, op: OpId, from: Option<StockId>) {
        for row in rows {
            self.growth.came((at, op), (row.node, row.sex), row.n.get(), from, &self.numbers);
            self.add(std::slice::from_ref(row), 1);
        }
    }

    fn describe(&mut self, touch: &Touch<StockEvent<'_>>, description: &Description) {
        let by = touch.written;
        self.name.edit(by, &description.name);
        self.keeping.edit(by, &description.keeping);
        self.species.edit(by, &description.species);
        self.form.edit(by, &description.form);
        self.note.edit(by, &description.note);
        self.virgin.edit(by, &description.virgin);
    }

    fn find(&mut self, kind: FindingKind, op: OpId) {
        self.findings.insert(Finding { kind, op });
    }

    fn finish(mut self) -> StockState {
        let total = self.numbers.total();
        let short = self.numbers.rows().any(|((_, sex), n)| n < 0 && sex != Sex::Any);
        if let Some(op) = self.taker.or(self.made.as_ref().map(|m| m.0)) {
            if total < 0 {
                self.find(FindingKind::BelowZero, op);
            } else if short {
                self.find(FindingKind::RowBelowZero, op);
            }
        }
        if let Some(op) = self.astray {
            self.find(FindingKind::TwoPlaces, op);
        }
        if let Some(op) = self.merged.filter(|_| total > 0) {
            self.find(FindingKind::MergeLeftSome, op);
        }
        let numbers = self.numbers;
        self.about.retain(|key| numbers.get(*key) != 0);
        let (made, since, came) = match self.made {
            Some((op, at, came)) => (Some(op), Some(at), Some(came)),
            None => (None, None, None),
        };
        StockState {
            made,
            since,
            came,
            name: self.name.value,
            keeping: self.keeping.value,
            species: self.species.value,
            form: self.form.value,
            note: self.note.value,
            virgin: self.virgin.value,
            taken_in: self.taken_in,
            founders: self.founders,
            numbers,
            about: self.about,
            stays: self.stays.finish(),
            joined: self.joined,
            turns: self.turns,
            grew: self.growth.grew,
            findings: self.findings,
        }
    }
}
