//! What a unit's fish were in, and with whom, since their quarantine opened: what an entry has to name to be an entry
//! of that unit. Follows fish through splits and merges, and water through tanks, boxes and systems. Rather names too
//! much than too little: of each thing only the first and the last instant are kept. Must not judge.

use std::collections::{BTreeMap, HashMap};

use super::memory::Entry;
use super::views::RoomStates;
use crate::quarantine::Unit;
use crate::rooms::{Came, Sharing};
use crate::streams::{At, Days, Entity, EntityKind, StockId, SystemId, TankId};

/// From when to when.
type Span = (At, At);

/// Who was where and what hung on what in a room, also the other way round than its states tell.
pub(super) struct History<'a> {
    states: &'a RoomStates<'a>,
    now: At,
    /// Things that shared a thing's water at some time, as its own state does not tell.
    besides: HashMap<Entity, Vec<(Entity, Span)>>,
}

/// The things of a unit.
#[derive(Debug)]
pub(super) struct Touched {
    things: BTreeMap<Entity, Span>,
    since: Option<At>,
    water: Days,
}

impl<'a> History<'a> {
    /// Of a room up to now.
    pub fn of(states: &'a RoomStates<'a>, now: At) -> Self {
        let mut besides: HashMap<Entity, Vec<(Entity, Span)>> = HashMap::new();
        let mut add = |to: Entity, what: Entity, from: At, until: Option<At>| {
            besides.entry(to).or_default().push((what, (from, until.unwrap_or(now))));
        };
        for (&id, stock) in &states.stocks {
            for stay in &stock.stays {
                if let Some(tank) = stay.tank {
                    add(tank.into(), id.into(), stay.from, stay.until);
                }
            }
        }
        for (&id, tank) in &states.tanks {
            for plumbing in &tank.plumbing {
                if let Some(system) = plumbing.system {
                    add(system.into(), id.into(), plumbing.from, plumbing.until);
                }
            }
            for Sharing { with, from, until } in &tank.hung {
                if let Some(host) = *with {
                    add(host.into(), id.into(), *from, *until);
                }
            }
        }
        for (&id, system) in &states.systems {
            for Sharing { with, from, until } in &system.joined {
                if let Some(other) = *with {
                    add(other.into(), id.into(), *from, *until);
                }
            }
        }
        Self { states, now, besides }
    }

    /// Takes in what a unit's fish were in, and with whom.
    pub fn tell(&self, unit: &Unit, touched: &mut Touched) {
        let Some(since) = unit.members.iter().map(|member| member.opened.at.min(member.since)).min() else {
            return;
        };
        touched.since = Some(touched.since.map_or(since, |known| known.min(since)));
        touched.water = touched.water.max(unit.rule.water_days);
        let mut next: Vec<Entity> = Vec::new();
        let put = |all: &mut BTreeMap<Entity, Span>, next: &mut Vec<Entity>, thing, span: Span| {
            if span.1 < span.0 {
                return;
            }
            let there = all.get(&thing).copied();
            let wide = there.map_or(span, |there| (there.0.min(span.0), there.1.max(span.1)));
            if there != Some(wide) {
                all.insert(thing, wide);
                next.push(thing);
            }
        };
        for member in &unit.members {
            put(&mut touched.things, &mut next, member.stock.into(), (since, self.now));
        }
        while let Some(thing) = next.pop() {
            let Some(&(from, until)) = touched.things.get(&thing) else { continue };
            for (other, span) in self.beside(thing, (from, until)) {
                put(&mut touched.things, &mut next, other, (span.0.max(from), span.1.min(until)));
            }
        }
        for (&id, treatment) in &self.states.treatments {
            let anchors = [treatment.system.map(Entity::from), treatment.tank.map(Entity::from)];
            for anchor in anchors.into_iter().flatten() {
                if let Some(&span) = touched.things.get(&anchor) {
                    touched.things.insert(id.into(), span);
                }
            }
        }
    }

    /// What shared a thing's water, or was a part of it, when.
    fn beside(&self, thing: Entity, (from, until): Span) -> Vec<(Entity, Span)> {
        let end = |until: Option<At>| until.unwrap_or(self.now);
        let mut all = self.besides.get(&thing).cloned().unwrap_or_default();
        match thing.kind {
            EntityKind::Stock => {
                let Some(stock) = self.states.stocks.get(&StockId(thing.id)) else { return all };
                if let (Some(Came::Split { of }), Some(since)) = (&stock.came, stock.since) {
                    all.push(((*of).into(), (from, since)));
                }
                let joined = stock.joined.iter().filter(|(at, _)| *at <= until);
                all.extend(joined.map(|(at, other)| ((*other).into(), (from, *at))));
                let wet = stock.stays.iter().filter_map(|stay| Some((stay.tank?, stay)));
                all.extend(wet.map(|(tank, stay)| (tank.into(), (stay.from, end(stay.until)))));
            }
            EntityKind::Tank => {
                let Some(tank) = self.states.tanks.get(&TankId(thing.id)) else { return all };
                let systems = tank.plumbing.iter().filter_map(|p| Some((p.system?, p)));
                all.extend(systems.map(|(system, p)| (system.into(), (p.from, end(p.until)))));
                let hosts = tank.hung.iter().filter_map(|h| Some((h.with?, h)));
                all.extend(hosts.map(|(host, h)| (host.into(), (h.from, end(h.until)))));
            }
            EntityKind::System => {
                let Some(system) = self.states.systems.get(&SystemId(thing.id)) else { return all };
                let others = system.joined.iter().filter_map(|j| Some((j.with?, j)));
                all.extend(others.map(|(other, j)| (other.into(), (j.from, end(j.until)))));
            }
            _ => {}
        }
        all
    }
}

impl Default for Touched {
    fn default() -> Self {
        Self { things: BTreeMap::new(), since: None, water: Days(0) }
    }
}

impl Touched {
    /// Whether an entry is about any of it. A log is about a thing only while it was the unit's; what changes how
    /// things hang together may have been written before.
    pub fn by(&self, entry: &Entry) -> bool {
        let at = entry.linked.order.at;
        let known = entry.accepted.is_none_or(|a| self.since.is_none_or(|since| a.received.0 >= since.ms()));
        if self.since.is_some_and(|since| at < since) && !known {
            return false;
        }
        entry.linked.links.named().iter().any(|thing| {
            let Some(&(from, until)) = self.things.get(thing) else { return false };
            let is_water = matches!(thing.kind, EntityKind::Tank | EntityKind::System);
            let until = if is_water { until.plus(self.water) } else { until };
            at <= until && (from <= at || !entry.linked.links.log)
        })
    }
}
