//! A unit: all stocks that share a water in quarantine, and how it stands at an instant.

use std::sync::Arc;

use uuid::Uuid;

use super::clock::{Reading, Sweep};
use super::facts::Opening;
use super::member::{Cause, Member, Run, Terms};
use super::moment::Stock;
use super::taint::{Gap, Mark, Taint};
use super::waived::open_of;
use crate::clubs::{Rule, SharedWater};
use crate::streams::{At, Days, OpId, TankId, UnitId};

/// How a unit stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UnitState {
    /// Still in the bag: the days have not begun.
    InTheBag,
    /// The days run.
    Running,
    /// A treatment runs, and the days do not.
    Treating,
    /// The days are done; a steward has to sign.
    Due,
    /// Its sign-off was recalled; it needs a new one.
    Recalled,
}

impl UnitState {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::InTheBag => "in the bag",
            Self::Running => "running",
            Self::Treating => "treating",
            Self::Due => "due",
            Self::Recalled => "recalled",
        }
    }
}

/// All stocks that share a water in quarantine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// UUIDv5 of the member that was opened first and its opening.
    pub id: UnitId,
    /// Its members, in order of id.
    pub members: Vec<Member>,
    /// The tanks that share its water, whether or not there are fish in them.
    pub tanks: Vec<TankId>,
    /// How it stands.
    pub state: UnitState,
    /// When the clock last started; none in the bag.
    pub start: Option<At>,
    /// When the days are done; none in the bag, and while a treatment runs.
    pub due: Option<At>,
    /// When the treatments that run are to end, the last of them; none if none runs, or nobody said.
    pub treated_to: Option<At>,
    /// How many days it is held.
    pub days: Days,
    /// Whole days done.
    pub done: Days,
    /// Which way of counting is in use.
    pub shared_water: SharedWater,
    /// The strictest rule of all in it.
    pub rule: Arc<Rule>,
    /// Every time the days began, the first first.
    pub runs: Vec<Run>,
    /// Times without a look that are in the way.
    pub gaps: Vec<Gap>,
    /// Entries that a steward has to let pass.
    pub marks: Vec<Mark>,
    /// The sign-off that was recalled.
    pub recalled: Option<OpId>,
}

impl Unit {
    /// Whether the days are done and no treatment runs, whatever else is in the way.
    pub fn is_done(&self, now: At) -> bool {
        self.due.is_some_and(|due| due <= now)
    }

    /// A bag that was not opened: its days have not begun.
    fn of_bag(bag: Member) -> Self {
        Self {
            id: quarantine_id(&bag),
            tanks: Vec::new(),
            state: UnitState::InTheBag,
            start: None,
            due: None,
            treated_to: None,
            days: bag.days,
            done: Days(0),
            shared_water: bag.rule.shared_water,
            rule: bag.rule.clone(),
            runs: Vec::new(),
            gaps: Vec::new(),
            marks: Vec::new(),
            recalled: None,
            members: vec![bag],
        }
    }
}

impl Sweep<'_> {
    pub(super) fn reading(mut self) -> Reading {
        let mut units = Vec::new();
        let mut seen = vec![false; self.is.members.len()];
        for stock in 0..self.is.members.len() {
            if seen[stock] || !self.is.waters.is_anywhere(stock) {
                continue;
            }
            if self.is.sealed[stock] {
                units.push(Unit::of_bag(self.bag(stock)));
                continue;
            }
            if self.is.members[stock].is_some() {
                let shared = self.is.waters.with(stock);
                shared.stocks.iter().for_each(|stock| seen[*stock] = true);
                units.extend(self.unit(&shared.stocks, &shared.tanks));
            }
        }
        // Fish in a bag wait for water; after them the first due, and last those of which no day can be told.
        units.sort_by_key(|u| (u.state != UnitState::InTheBag, u.due.is_none(), u.due, u.id));
        let there = self.is.waits.iter().enumerate().filter(|(stock, _)| self.is.waters.is_anywhere(*stock));
        let waits = there.filter_map(|(stock, wait)| Some((self.numbered.stocks[stock], (*wait)?)));
        let waits = waits.filter(|(_, until)| *until > self.now).collect();
        Reading { units, waits, unemptied: self.is.unemptied }
    }

    /// What shares a water; none if nobody in it is held.
    fn unit(&self, stocks: &[Stock], tanks: &[usize]) -> Option<Unit> {
        let (now, facts) = (self.now, self.room.facts);
        let members: Vec<Member> =
            stocks.iter().filter_map(|stock| self.is.members[*stock].as_deref().cloned()).collect();
        let first = members.iter().min_by_key(|m| (m.since, m.stock))?;
        let mut all: Terms = first.terms();
        for member in &members {
            all.join(&member.terms());
        }
        let mut open = open_of(&members, facts, now);
        open.longest();
        let recalled = stocks.iter().filter_map(|stock| self.is.recalled[*stock]).max();
        let treated = tanks.iter().any(|tank| self.is.anchors[*tank] > 0);
        let state = match () {
            () if recalled.is_some() => UnitState::Recalled,
            () if treated => UnitState::Treating,
            () if now >= all.due => UnitState::Due,
            () => UnitState::Running,
        };
        let done = (now.seconds() - all.start.seconds()) / 86_400;
        Some(Unit {
            id: quarantine_id(first),
            tanks: tanks.iter().filter_map(|tank| self.numbered.tanks.get(*tank).copied()).collect(),
            state,
            start: Some(all.start),
            due: Some(all.due).filter(|_| !treated),
            treated_to: self.treated_to(tanks),
            days: all.days,
            done: Days(u16::try_from(done.max(0)).unwrap_or(u16::MAX)),
            shared_water: all.rule.shared_water,
            rule: all.rule,
            runs: first.runs.clone(),
            gaps: open.gaps.into_iter().collect(),
            marks: open.marks.into_iter().collect(),
            recalled,
            members,
        })
    }

    /// When the treatments that run in a water are to end.
    fn treated_to(&self, tanks: &[usize]) -> Option<At> {
        let runs = self.room.treatments.values().filter(|treatment| {
            let begun = treatment.from.is_some_and(|from| from <= self.now);
            let here = self.anchor(treatment).is_some_and(|anchor| tanks.contains(&anchor));
            begun && here && treatment.until.is_none_or(|(until, _)| until > self.now)
        });
        runs.filter_map(|treatment| treatment.to_end).max()
    }

    /// A bag as the member it will be.
    fn bag(&self, stock: Stock) -> Member {
        let state = self.states[stock];
        let since = state.since.unwrap_or(self.now);
        let cause = Cause::Introduced;
        if let Some(member) = &self.is.members[stock] {
            return Member { cause, since, ..Member::clone(member) };
        }
        let opened = Opening::of(since, (self.room.received)(self.maker(stock)));
        let rule = Arc::new(self.room.facts.rule_for(opened, self.now));
        let days = self.days(&rule, stock);
        Member {
            stock: self.numbered.stocks[stock],
            cause,
            opened_by: self.maker(stock),
            since,
            start: since,
            days,
            due: since.plus(days),
            runs: Vec::new(),
            opened,
            also_opened: Vec::new(),
            rule,
            last_look: since,
            taint: Taint::default(),
            under: false,
        }
    }
}

/// The id of a stock's quarantine: of the stock and the op that brought it. A stock that was here before may be
/// held more than once, so there the instant counts too.
fn quarantine_id(member: &Member) -> UnitId {
    let mut opening = member.opened_by.0.as_bytes().to_vec();
    if member.cause != Cause::Introduced {
        opening.extend(member.since.seconds().to_be_bytes());
    }
    UnitId(Uuid::new_v5(&member.stock.0, &opening))
}
