//! The plain clock: who shares water with whom when, and when a unit's days are done. A function of the room's
//! state and of now. (Signs, losses, looks, treatments and water that stays the unit's are not in it yet.)
//!
//! One sweep over the instants at which anything moves. Within an instant: fish go out, fish come in, then the
//! water mixes, then a sign-off counts.

use std::collections::{BTreeMap, BTreeSet};

use uuid::Uuid;

use super::facts::RoomFacts;
use super::rule::{Rule, SharedWater};
use crate::rooms::{Came, StockState, TankState};
use crate::streams::{At, Days, OpId, StockId, SystemId, TankId, UnitId};

/// What the clock is computed from.
pub struct RoomView<'a> {
    /// The stocks.
    pub stocks: BTreeMap<StockId, &'a StockState>,
    /// The tanks.
    pub tanks: BTreeMap<TankId, &'a TankState>,
    /// Home clubs, rules and sign-offs.
    pub facts: &'a RoomFacts,
}

/// One body of water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Water {
    System(SystemId),
    Tank(TankId),
}

/// Why a stock is a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// It came in.
    Introduced,
    /// It began to share water with a unit.
    Breach,
    /// It was split off a member, born in the unit, or took members in.
    Descent,
}

/// A stock in quarantine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Which.
    pub stock: StockId,
    /// Why.
    pub cause: Cause,
    /// The op that opened it.
    pub opened_by: OpId,
    /// Since when it is a member.
    pub since: At,
    /// When its clock last started.
    pub start: At,
    /// How many days it is held.
    pub days: Days,
    /// When its days are done, by itself and all it shared water with.
    pub due: At,
    rule: Rule,
}

/// How a unit stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UnitState {
    /// Still in the bag: the days have not begun.
    InTheBag,
    /// The days run.
    Running,
    /// The days are done; a steward has to sign.
    Due,
}

impl UnitState {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::InTheBag => "in the bag",
            Self::Running => "running",
            Self::Due => "due",
        }
    }
}

/// All stocks that share a water in quarantine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// UUIDv5 of the member that was opened first and the op that opened it.
    pub id: UnitId,
    /// Its members, in order of id.
    pub members: Vec<Member>,
    /// How it stands.
    pub state: UnitState,
    /// When the clock last started; none in the bag.
    pub start: Option<At>,
    /// When the days are done; none in the bag.
    pub due: Option<At>,
    /// How many days it is held.
    pub days: Days,
    /// Whole days done.
    pub done: Days,
    /// Which way of counting is in use.
    pub shared_water: SharedWater,
}

/// A change at an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Change {
    Plumbed(TankId, Option<SystemId>),
    Out(StockId, TankId),
    Split(StockId, StockId),
    In(StockId, TankId, bool),
    Joined(StockId, StockId),
    Signed(usize),
    /// A stay of no length is out again only after the water mixed.
    Gone(StockId, TankId),
}

/// All units of a room at `now`, the earliest due first.
pub fn units(room: &RoomView<'_>, now: At) -> Vec<Unit> {
    let mut sweep =
        Sweep { room, now, plumbed: BTreeMap::new(), swims: BTreeMap::new(), members: BTreeMap::new() };
    sweep.run();
    sweep.units()
}

struct Sweep<'a> {
    room: &'a RoomView<'a>,
    now: At,
    plumbed: BTreeMap<TankId, SystemId>,
    swims: BTreeMap<Water, BTreeMap<StockId, usize>>,
    members: BTreeMap<StockId, Member>,
}

impl Sweep<'_> {
    /// All changes up to now, in order.
    fn changes(&self) -> Vec<(At, Change)> {
        let mut all = Vec::new();
        for (&id, tank) in &self.room.tanks {
            all.extend(tank.plumbing.iter().map(|p| (p.from, Change::Plumbed(id, p.system))));
        }
        for (&id, stock) in &self.room.stocks {
            if let (Some(since), Some(Came::Split { of })) = (stock.since, &stock.came) {
                all.push((since, Change::Split(*of, id)));
            }
            all.extend(stock.joined.iter().map(|&(at, from)| (at, Change::Joined(from, id))));
            let mut first = true;
            for stay in &stock.stays {
                let Some(tank) = stay.tank else { continue };
                all.push((stay.from, Change::In(id, tank, first)));
                first = false;
                if let Some(until) = stay.until {
                    let out = if until == stay.from { Change::Gone(id, tank) } else { Change::Out(id, tank) };
                    all.push((until, out));
                }
            }
        }
        all.extend(self.room.facts.signed.iter().enumerate().map(|(i, s)| (s.at, Change::Signed(i))));
        all.retain(|(at, _)| *at <= self.now);
        all.sort_unstable();
        all
    }

    fn run(&mut self) {
        let changes = self.changes();
        let mut i = 0;
        while i < changes.len() {
            let at = changes[i].0;
            let end = changes[i..].iter().position(|(t, _)| *t != at).map_or(changes.len(), |n| i + n);
            let now = &changes[i..end];
            let late = now.partition_point(|(_, c)| !matches!(c, Change::Signed(_) | Change::Gone(..)));
            let mut waters = BTreeSet::new();
            for (_, change) in &now[..late] {
                self.apply(*change, at, &mut waters);
            }
            for water in waters {
                self.mix(water, at);
            }
            for (_, change) in &now[late..] {
                self.apply(*change, at, &mut BTreeSet::new());
            }
            i = end;
        }
    }

    fn water(&self, tank: TankId) -> Water {
        self.plumbed.get(&tank).map_or(Water::Tank(tank), |system| Water::System(*system))
    }

    fn apply(&mut self, change: Change, at: At, waters: &mut BTreeSet<Water>) {
        match change {
            Change::Plumbed(tank, system) => {
                let here: Vec<(StockId, usize)> = self.in_tank(tank, at);
                let old = self.water(tank);
                match system {
                    Some(system) => self.plumbed.insert(tank, system),
                    None => self.plumbed.remove(&tank),
                };
                let new = self.water(tank);
                if old != new {
                    for (stock, n) in here {
                        (0..n).for_each(|_| self.leave(old, stock));
                        *self.swims.entry(new).or_default().entry(stock).or_default() += n;
                    }
                }
                waters.insert(new);
            }
            Change::Out(stock, tank) | Change::Gone(stock, tank) => {
                let water = self.water(tank);
                self.leave(water, stock);
            }
            Change::Split(of, new) => self.pass(of, new, at),
            Change::Joined(from, into) => self.pass(from, into, at),
            Change::In(stock, tank, first) => {
                let water = self.water(tank);
                *self.swims.entry(water).or_default().entry(stock).or_default() += 1;
                if first {
                    self.open(stock, at);
                }
                waters.insert(water);
            }
            Change::Signed(i) => {
                for stock in &self.room.facts.signed[i].says.members {
                    self.members.remove(stock);
                }
            }
        }
    }

    /// The stocks that are in a tank just before `at`, with how many of their stays are there.
    fn in_tank(&self, tank: TankId, at: At) -> Vec<(StockId, usize)> {
        let water = self.water(tank);
        let Some(here) = self.swims.get(&water) else { return Vec::new() };
        let stays = |stock: &StockId| {
            let stays = &self.room.stocks[stock].stays;
            stays
                .iter()
                .filter(|s| s.tank == Some(tank) && s.from < at && s.until.is_none_or(|u| at <= u))
                .count()
        };
        here.keys().map(|s| (*s, stays(s))).filter(|(_, n)| *n > 0).collect()
    }

    fn leave(&mut self, water: Water, stock: StockId) {
        if let Some(here) = self.swims.get_mut(&water)
            && let Some(n) = here.get_mut(&stock)
        {
            *n -= 1;
            if *n == 0 {
                here.remove(&stock);
            }
        }
    }

    /// An introduced stock's clock starts when it first goes into water here.
    fn open(&mut self, stock: StockId, at: At) {
        let state = self.room.stocks[&stock];
        let introduced = matches!(state.came, Some(Came::In { .. } | Came::Parcel { .. }));
        if let (true, Some(op)) = (introduced && !self.members.contains_key(&stock), state.made) {
            let rule = self.room.facts.rule_for(at, self.now);
            let days = rule.min_days;
            let member = Member {
                stock,
                cause: Cause::Introduced,
                opened_by: op,
                since: at,
                start: at,
                days,
                due: at.plus(days),
                rule,
            };
            self.members.insert(stock, member);
        }
    }

    /// Fish of a member in another stock take its clock along.
    fn pass(&mut self, from: StockId, into: StockId, at: At) {
        let Some(member) = self.members.get(&from).cloned() else { return };
        let joined = match self.members.get(&into) {
            Some(there) => Member { start: there.start.max(member.start), ..stricter(there, &member) },
            None => {
                let op = self.room.stocks.get(&into).and_then(|s| s.made).unwrap_or(member.opened_by);
                Member { stock: into, cause: Cause::Descent, opened_by: op, since: at, ..member }
            }
        };
        self.members.insert(into, joined);
    }

    /// Whoever shares water with a member is one: it goes on with the latest start, or waits for the last.
    fn mix(&mut self, water: Water, at: At) {
        let Some(here) = self.swims.get(&water) else { return };
        let stocks: Vec<StockId> = here.keys().copied().collect();
        let inside: Vec<Member> = stocks.iter().filter_map(|s| self.members.get(s).cloned()).collect();
        let Some(strict) = inside.iter().cloned().reduce(|a, b| stricter(&a, &b)) else { return };
        let newcomers = stocks.iter().any(|s| !self.members.contains_key(s));
        let restart = strict.rule.shared_water == SharedWater::Restart;
        let latest = inside.iter().map(|m| m.start).max().unwrap_or(at);
        // A breach is a contact: under `restart` the breached start at the breach, and all go on with that.
        let latest = if newcomers && restart { latest.max(at) } else { latest };
        for stock in stocks {
            let old = self.members.get(&stock).cloned().unwrap_or_else(|| self.breached(stock, at, &strict));
            let start = if restart { latest } else { old.start };
            let due = if restart {
                start.plus(strict.days)
            } else {
                strict.due.max(start.plus(strict.days)).max(old.due)
            };
            let rule = strict.rule.clone();
            self.members.insert(stock, Member { start, days: strict.days, due, rule, ..old });
        }
        if !restart {
            let last = self.swims[&water].keys().filter_map(|s| self.members.get(s)).map(|m| m.due).max();
            for stock in self.swims[&water].keys() {
                if let (Some(member), Some(due)) = (self.members.get_mut(stock), last) {
                    member.due = due;
                }
            }
        }
    }

    fn breached(&self, stock: StockId, at: At, strict: &Member) -> Member {
        let state = self.room.stocks[&stock];
        let born = matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at);
        let start = if born { strict.start } else { at };
        Member {
            stock,
            cause: if born { Cause::Descent } else { Cause::Breach },
            opened_by: state.made.unwrap_or(strict.opened_by),
            since: at,
            start,
            days: strict.days,
            due: start.plus(strict.days),
            rule: strict.rule.clone(),
        }
    }

    fn units(mut self) -> Vec<Unit> {
        let mut units = Vec::new();
        for here in std::mem::take(&mut self.swims).into_values() {
            let members = here.keys().filter_map(|s| self.members.remove(s)).collect::<Vec<_>>();
            units.extend(self.unit(members));
        }
        for (&id, stock) in &self.room.stocks {
            let waits = stock.place() == Some(None) && stock.total() > 0;
            let introduced = matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. }));
            if let (true, Some(op), Some(since)) = (waits, stock.made, stock.since) {
                match self.members.remove(&id) {
                    Some(member) => units.extend(self.unit(vec![member])),
                    None if introduced && stock.stays.iter().all(|s| s.tank.is_none()) => {
                        units.push(self.bag(id, op, since));
                    }
                    None => {}
                }
            }
        }
        units.sort_by_key(|u| (u.due, u.id));
        units
    }

    fn bag(&self, stock: StockId, op: OpId, since: At) -> Unit {
        let rule = self.room.facts.rule_for(since, self.now);
        let days = rule.min_days;
        let (shared_water, due) = (rule.shared_water, since.plus(days));
        let cause = Cause::Introduced;
        let member = Member { stock, cause, opened_by: op, since, start: since, days, due, rule };
        let (id, state) = (quarantine_id(&member), UnitState::InTheBag);
        Unit { id, members: vec![member], state, start: None, due: None, days, done: Days(0), shared_water }
    }

    fn unit(&self, members: Vec<Member>) -> Option<Unit> {
        let first = members.iter().min_by_key(|m| (m.since, m.stock))?;
        let strict = members.iter().cloned().reduce(|a, b| stricter(&a, &b))?;
        let start = members.iter().map(|m| m.start).max()?;
        let due = members.iter().map(|m| m.due).max()?;
        let done = (self.now.seconds() - start.seconds()) / 86_400;
        Some(Unit {
            id: quarantine_id(first),
            state: if self.now >= due { UnitState::Due } else { UnitState::Running },
            start: Some(start),
            due: Some(due),
            days: strict.days,
            done: Days(u16::try_from(done.max(0)).unwrap_or(u16::MAX)),
            shared_water: strict.rule.shared_water,
            members,
        })
    }
}

/// The id of a stock's quarantine.
fn quarantine_id(member: &Member) -> UnitId {
    UnitId(Uuid::new_v5(&member.stock.0, member.opened_by.0.as_bytes()))
}

/// Field by field the stricter of two members' rules, periods and due days; all else of the first.
fn stricter(a: &Member, b: &Member) -> Member {
    let rule = a.rule.clone().strictest(b.rule.clone());
    Member { days: a.days.max(b.days), due: a.due.max(b.due), rule, ..a.clone() }
}
