//! The plain clock read slowly: at every instant everybody's place is looked up anew, groups are put together pair by
//! pair, and the rules are applied to the groups. No positions are kept from one instant to the next.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::quarantine::{RoomFacts, RoomView, Rule, SharedWater};
use tarn_domain::rooms::{Came, Stay, StockState};
use tarn_domain::streams::{At, StockId, TankId};
use uuid::Uuid;

/// A stock's clock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    pub start: At,
    pub due: At,
    pub days: u16,
    pub restart: bool,
    pub opened: At,
    /// It may have been in water, but no record is sure of it.
    pub doubted: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Standing {
    #[default]
    Home,
    /// Never in water here; perhaps with fish among them that were held.
    Sealed(Option<Held>),
    Held(Held),
}

/// A unit as both readings must have it: members, start, due, days. Without start and due: in the bag.
pub type Told = (BTreeSet<StockId>, Option<(At, At)>, u16);

pub struct Reading<'a> {
    /// The room.
    pub room: &'a RoomView<'a>,
    /// How each stock stands; home if it is not here.
    pub standing: BTreeMap<StockId, Standing>,
}

/// All units at an instant.
pub fn units(room: &RoomView<'_>, now: At) -> BTreeSet<Told> {
    let mut reading = Reading { room, standing: BTreeMap::new() };
    for at in instants(room).into_iter().filter(|at| *at <= now) {
        reading.step(at);
    }
    reading.told(now)
}

fn instants(room: &RoomView<'_>) -> BTreeSet<At> {
    let mut all: BTreeSet<At> = BTreeSet::new();
    for stock in room.stocks.values() {
        all.extend(stock.since);
        all.extend(stock.joined.iter().map(|(at, _)| *at));
        all.extend(stock.stays.iter().flat_map(|s| [Some(s.from), s.until]).flatten());
    }
    all.extend(room.tanks.values().flat_map(|tank| &tank.plumbing).map(|p| p.from));
    all.extend(room.facts.home.iter().map(|(at, _)| *at));
    all.extend(room.facts.signed.iter().map(|s| s.at));
    all
}

/// Whether fish are there from this instant on.
fn stays_on(stay: &Stay, at: At) -> bool {
    stay.from <= at && stay.until.is_none_or(|until| at < until)
}

/// Whether they are there at this instant: also for a stay of no length, and where the last of them ended.
fn is_there(stock: &StockState, stay: &Stay, at: At) -> bool {
    let elsewhere = stock.stays.iter().any(|other| !other.doubtful && other.from == at);
    let ended = stay.until == Some(at) && stay.from <= at;
    stays_on(stay, at) || (ended && (stay.from == at || (!stay.doubtful && !elsewhere)))
}

fn rule(facts: &RoomFacts, club: tarn_domain::streams::ClubId, opened: At) -> Rule {
    let before = facts.rules.iter().filter(|r| r.club == club && r.from <= opened);
    before.max_by_key(|r| (r.from, r.version)).map_or_else(Rule::shipped, |r| r.rule.clone())
}

/// The rule a quarantine opens under.
fn rule_at(facts: &RoomFacts, at: At) -> Rule {
    let home = facts.home.iter().rfind(|(from, _)| *from <= at).and_then(|(_, club)| *club);
    home.map_or_else(Rule::shipped, |club| rule(facts, club, at))
}

fn plus(at: At, days: u16) -> At {
    At::from_seconds(at.seconds() + i64::from(days) * 24 * 3600)
}

impl Held {
    pub fn join(&mut self, other: &Self) {
        self.start = self.start.max(other.start);
        self.due = self.due.max(other.due);
        self.days = self.days.max(other.days);
        self.restart |= other.restart;
    }

    pub fn again(&mut self, at: At) {
        self.start = self.start.max(at);
        self.due = self.due.max(plus(self.start, self.days));
    }

    fn under(&mut self, rule: &Rule) {
        self.days = self.days.max(rule.min_days.0);
        self.due = self.due.max(plus(self.start, rule.min_days.0));
        self.restart |= rule.shared_water == SharedWater::Restart;
    }

    fn new(at: At, rule: &Rule) -> Self {
        let days = rule.min_days.0;
        let restart = rule.shared_water == SharedWater::Restart;
        Self { start: at, due: plus(at, days), days, restart, opened: at, doubted: false }
    }
}

impl Reading<'_> {
    fn at(&self, stock: StockId) -> Standing {
        self.standing.get(&stock).cloned().unwrap_or_default()
    }

    pub fn held(&self, stock: StockId) -> Option<Held> {
        match self.at(stock) {
            Standing::Held(held) | Standing::Sealed(Some(held)) => Some(held),
            _ => None,
        }
    }

    pub fn is_sealed(&self, stock: StockId) -> bool {
        matches!(self.at(stock), Standing::Sealed(_))
    }

    pub fn hold(&mut self, stock: StockId, held: Held) {
        let sealed = self.is_sealed(stock);
        self.standing.insert(stock, if sealed { Standing::Sealed(Some(held)) } else { Standing::Held(held) });
    }

    fn step(&mut self, at: At) {
        for (_, club) in self.room.facts.home.iter().filter(|(from, _)| *from == at) {
            let Some(club) = *club else { continue };
            for stock in self.standing.keys().copied().collect::<Vec<_>>() {
                if let Some(mut held) = self.held(stock) {
                    held.under(&rule(self.room.facts, club, held.opened));
                    self.hold(stock, held);
                }
            }
        }
        for (id, stock) in &self.room.stocks {
            if stock.since == Some(at) && matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. })) {
                self.standing.insert(*id, Standing::Sealed(None));
            }
        }
        self.hand_on(at);
        for (id, stock) in &self.room.stocks {
            let begins = |doubtful| {
                stock.stays.iter().any(|s| s.tank.is_some() && s.from == at && s.doubtful == doubtful)
            };
            let (sure, doubtful) = (begins(false), begins(true));
            if sure || doubtful {
                self.wet(*id, at, sure);
            }
        }
        for group in self.groups(at, true) {
            self.share(&group, at);
        }
        let groups = self.groups(at, false);
        for signed in self.room.facts.signed.iter().filter(|s| s.at == at) {
            let named: BTreeSet<StockId> = signed.says.members.iter().copied().collect();
            let due = |stock: &StockId| matches!(self.at(*stock), Standing::Held(held) if held.due <= at);
            if groups.contains(&named) && named.iter().all(due) {
                self.standing.retain(|stock, _| !named.contains(stock));
            }
        }
    }

    /// Fish go into water, or may have.
    pub fn wet(&mut self, stock: StockId, at: At, sure: bool) {
        let rule = rule_at(self.room.facts, at);
        let mut held = match self.at(stock) {
            Standing::Sealed(Some(held)) => held,
            Standing::Sealed(None) => Held { doubted: !sure, ..Held::new(at, &rule) },
            Standing::Held(held) if held.doubted && sure => held,
            _ => return,
        };
        held.again(at);
        held.under(&rule);
        held.opened = at;
        held.doubted = !sure;
        self.standing.insert(stock, Standing::Held(held));
    }

    /// The stocks that share water, put together pair by pair.
    fn groups(&self, at: At, within: bool) -> BTreeSet<BTreeSet<StockId>> {
        let mut groups: Vec<(BTreeSet<Uuid>, BTreeSet<StockId>)> = Vec::new();
        for (id, stock) in &self.room.stocks {
            let here =
                stock.stays.iter().filter(|s| if within { is_there(stock, s, at) } else { stays_on(s, at) });
            let places: Vec<Option<TankId>> = here.map(|s| s.tank).collect();
            if !places.is_empty() {
                groups
                    .push((places.into_iter().flatten().map(|t| self.water(t, at)).collect(), [*id].into()));
            }
        }
        'again: loop {
            for i in 0..groups.len() {
                for j in i + 1..groups.len() {
                    if !groups[i].0.is_disjoint(&groups[j].0) {
                        let (waters, stocks) = groups.swap_remove(j);
                        groups[i].0.extend(waters);
                        groups[i].1.extend(stocks);
                        continue 'again;
                    }
                }
            }
            return groups.into_iter().map(|(_, stocks)| stocks).collect();
        }
    }

    /// Whose water a tank has.
    fn water(&self, tank: TankId, at: At) -> Uuid {
        let plumbing = &self.room.tanks[&tank].plumbing;
        let now = plumbing.iter().find(|p| p.from <= at && p.until.is_none_or(|until| at < until));
        now.and_then(|p| p.system).map_or(tank.0, |system| system.0)
    }

    fn share(&mut self, group: &BTreeSet<StockId>, at: At) {
        // A bag that nobody opened is alone.
        if group.iter().any(|stock| self.is_sealed(*stock)) {
            return;
        }
        let inside: Vec<Held> = group.iter().filter_map(|stock| self.held(*stock)).collect();
        let Some(mut all) = inside.first().cloned() else { return };
        inside.iter().for_each(|held| all.join(held));
        let before = all.clone();
        let mut met = false;
        for stock in group {
            if self.held(*stock).is_some() {
                continue;
            }
            let state = self.room.stocks[stock];
            let born = matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at);
            met |= !born;
            let start = if born { before.start } else { at };
            let due = plus(start, before.days);
            self.hold(*stock, Held { start, due, opened: at, doubted: false, ..before.clone() });
            all.due = all.due.max(due);
        }
        if met {
            all.start = all.start.max(at);
        }
        if all.restart {
            all.due = all.due.max(plus(all.start, all.days));
        }
        for stock in group {
            let mine = self.held(*stock).expect("all are held now");
            let start = if all.restart { all.start } else { mine.start };
            let (opened, doubted) = (mine.opened, mine.doubted);
            self.hold(*stock, Held { start, opened, doubted, ..all.clone() });
        }
    }

    fn told(&self, now: At) -> BTreeSet<Told> {
        let mut told = BTreeSet::new();
        for group in self.groups(now, false) {
            let first = *group.first().expect("a group has somebody in it");
            if let Standing::Sealed(held) = self.at(first) {
                let since = self.room.stocks[&first].since.expect("it came in");
                let clubs = &self.room.facts.home;
                let later =
                    clubs.iter().filter(|(from, _)| *from > since && *from <= now).filter_map(|(_, c)| *c);
                let facts = &self.room.facts;
                let home = clubs.iter().rfind(|(from, _)| *from <= since).and_then(|(_, c)| *c);
                let all: Vec<Rule> = home.into_iter().chain(later).map(|c| rule(facts, c, since)).collect();
                let longest = all.iter().map(|r| r.min_days.0).max().unwrap_or(Rule::shipped().min_days.0);
                told.insert((group, None, held.map_or(longest, |held| held.days)));
                continue;
            }
            let members: Vec<Held> = group.iter().filter_map(|stock| self.held(*stock)).collect();
            let Some(mut all) = members.first().cloned() else { continue };
            members.iter().for_each(|held| all.join(held));
            let held = group.into_iter().filter(|stock| self.held(*stock).is_some()).collect();
            told.insert((held, Some((all.start, all.due)), all.days));
        }
        told
    }
}
