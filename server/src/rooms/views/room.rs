//! The page of a room: the answer first, then units, what is to put right, and the tanks by the water they share.

use std::collections::HashMap;

use tarn_domain::rooms::TankState;
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, Entity, OpId, StockId, SystemId, TankId};

use super::entry::Teller;
use super::findings::{self, Found};
use super::last::{TakenBack, find, last_entry, said, take_said};
use super::names::{Names, how_many, natural};
use super::water::{self, newest};
use super::{Beside, RoomPage, StockRow, TankRow, UnitOfRoom, WaterSystem};
use crate::platform::day::Wall;
use crate::platform::html::{Link, Page};
use crate::platform::words::Words;
use crate::rooms::actions::read::{Look, Traces, Writers};

/// What the page needs of memory.
pub struct Gathered {
    /// The entries it speaks of.
    pub traces: Traces,
    found: Vec<Found>,
    mine: Option<OpId>,
    /// The newest log about a tank, the newest entry about a stock.
    newest: HashMap<Entity, OpId>,
    waters: HashMap<SystemId, Vec<OpId>>,
}

/// Copies it out.
pub fn gather(memory: &Memory, account: AccountId, ask: TakenBack, now_ms: i64) -> Gathered {
    let mut traces = Traces::default();
    let found = findings::take(memory, &mut traces, None);
    findings::take_emptied(memory, &mut traces);
    let mine = find(memory, &mut traces, account, now_ms);
    take_said(memory, &mut traces, ask);
    let states = tarn_domain::state::view(memory.states());
    let mut lately = HashMap::new();
    for id in states.tanks.keys().map(|id| Entity::from(*id)) {
        if let Some(entry) = newest(memory.logging(id), 1).first() {
            lately.insert(id, traces.take(memory, entry));
        }
    }
    for id in states.stocks.keys().map(|id| Entity::from(*id)) {
        if let Some(entry) = newest(memory.touching(id).chain(memory.logging(id)), 1).first() {
            lately.insert(id, traces.take(memory, entry));
        }
    }
    let waters =
        states.systems.keys().map(|id| (*id, water::candidates(memory, &states, *id, &mut traces))).collect();
    Gathered { traces, found, mine, newest: lately, waters }
}

/// Puts the page together.
pub fn page(
    page: Page,
    look: &Look,
    gathered: &Gathered,
    writers: &Writers,
    beside: Beside,
    ask: TakenBack,
    mut new: impl FnMut() -> OpId,
) -> RoomPage {
    let states = look.states();
    let names = Names { states: &states, beside };
    let teller = Teller { names, wall: look.wall, about: None, by_tank: false };
    let maker = Maker { look, gathered, teller };
    let units = (beside.units)(&states, &look.quarantine, look.id, look.wall);
    let back = format!("/rooms/{}", look.id);
    let mut found = gathered.found.clone();
    found.extend(findings::unemptied(&states, &look.quarantine));
    let put_right = findings::tell(&found, &teller, &gathered.traces, writers, look.id, &back, &mut new);
    let mine = gathered.mine.and_then(|op| gathered.traces.get(op));
    RoomPage {
        lead: Words::plain(lead(look, &units, put_right.len())),
        said: said(&teller, &gathered.traces, ask),
        tanks: states.tanks.len(),
        systems: maker.systems(),
        water: Link {
            href: format!("/rooms/{}/water", look.id),
            words: "The water: readings, trends, volumes".into(),
        },
        helpers: Link {
            href: format!("/rooms/{}/helpers", look.id),
            words: "Helpers while you are away".into(),
        },
        elsewhere: maker.elsewhere(),
        spawnings: (beside.spawnings)(&states, look.wall),
        last: mine.map(|trace| last_entry(&teller, trace, look.id, new(), &back)),
        printed: format!("{}, as recorded {}.", look.room.name, look.wall.moment(look.wall.now_s())),
        units: units.into_iter().map(|unit| unit.line).collect(),
        people: format!("/rooms/{}/people", look.id),
        leaving: Link { href: format!("/rooms/{}/leaving", look.id), words: "What may leave".into() },
        put_right,
        page,
    }
}

/// How things stand, and what is next.
fn lead(look: &Look, units: &[UnitOfRoom], findings: usize) -> String {
    let wall = look.wall;
    let mut all = vec![format!("{}.", wall.today())];
    all.push(of_units(units));
    all.push(match findings {
        0 => "Nothing to put right.".into(),
        1 => "One thing to put right.".into(),
        n => format!("{n} things to put right."),
    });
    all.push(match look.head {
        0 => "Nothing is recorded yet.".into(),
        _ => format!("Last entry received {}.", received(wall, look.received.0.div_euclid(1000))),
    });
    all.join(" ")
}

/// "today, 18:34".
pub fn received(wall: Wall, at_s: i64) -> String {
    format!("{}, {}", wall.lately(at_s), wall.time(at_s))
}

/// What waits, the urgent first.
pub fn of_units(units: &[UnitOfRoom]) -> String {
    let with = |word: &str| units.iter().filter(|unit| unit.word == word).collect::<Vec<_>>();
    let (bags, due) = (with("in the bag"), with("due"));
    let mut all = Vec::new();
    match bags.len() {
        0 => {}
        1 => all.push("Fish are in the bag and come first.".to_owned()),
        n => all.push(format!("Fish are in {n} bags and come first.")),
    }
    match due[..] {
        [] => {}
        [one] => all.push(format!("{}.", one.in_short)),
        _ => all.push(format!("{} units wait for a steward\u{2019}s signature.", due.len())),
    }
    let next =
        units.iter().filter(|unit| unit.word != "due").filter_map(|u| Some((u.due?, u))).min_by_key(|n| n.0);
    if let Some((_, unit)) = next {
        all.push(format!("{}.", unit.in_short));
    }
    let treated = with("treating");
    match treated[..] {
        [] => {}
        [one] => all.push(format!("{}.", one.in_short)),
        _ => all.push(format!("{} units are being treated.", treated.len())),
    }
    if all.is_empty() { "Nothing is in quarantine.".into() } else { all.join(" ") }
}

/// The order in which one walks.
fn walk(tank: &TankState) -> Vec<Vec<(u64, String)>> {
    [&tank.stand, &tank.shelf, &tank.place, &tank.name]
        .into_iter()
        .map(|part| natural(part.as_deref().unwrap_or_default()))
        .collect()
}

struct Maker<'a> {
    look: &'a Look,
    gathered: &'a Gathered,
    teller: Teller<'a>,
}

impl Maker<'_> {
    fn systems(&self) -> Vec<WaterSystem> {
        let states = self.teller.names.states;
        let mut ids: Vec<SystemId> = states.systems.keys().copied().collect();
        ids.sort_by_key(|id| natural(&self.teller.names.system(*id)));
        let mut all: Vec<WaterSystem> = ids
            .into_iter()
            .map(|id| {
                let tanks = self.tanks_of(Some(id));
                let readings = self.gathered.waters.get(&id).map(Vec::as_slice).unwrap_or_default();
                let facts = water::facts(&self.teller, &self.gathered.traces, id, readings);
                WaterSystem { name: self.teller.names.system(id), facts, tanks }
            })
            .collect();
        let alone = self.tanks_of(None);
        if !alone.is_empty() {
            let facts = match alone.len() {
                1 => "one tank that shares its water with no other".to_owned(),
                n => format!("{n}\u{a0}tanks, none shares its water with another"),
            };
            all.push(WaterSystem { name: "On their own water".into(), facts, tanks: alone });
        }
        all
    }

    fn tanks_of(&self, system: Option<SystemId>) -> Vec<TankRow> {
        let states = self.teller.names.states;
        let mut tanks: Vec<(TankId, &TankState)> =
            states.tanks.iter().filter(|(_, t)| t.system() == system).map(|(id, t)| (*id, *t)).collect();
        tanks.sort_by_cached_key(|(id, tank)| (walk(tank), *id));
        tanks.into_iter().map(|(id, tank)| self.tank(id, tank)).collect()
    }

    fn tank(&self, id: TankId, tank: &TankState) -> TankRow {
        let states = self.teller.names.states;
        let here = states.stocks.iter().filter(|(_, s)| s.place() == Some(Some(id)));
        let stocks: Vec<StockRow> = here.map(|(stock, _)| self.stock(*stock, Some(id))).collect();
        let gone = states
            .stocks
            .iter()
            .flat_map(|(stock, s)| s.stays.iter().map(move |stay| (*stock, *s, stay)))
            .filter(|(.., stay)| stay.tank == Some(id) && !stay.doubtful)
            .filter_map(|(stock, s, stay)| Some((stay.until?, stock, s)))
            .max_by_key(|(until, ..)| *until);
        let water = match tank.system() {
            Some(system) => format!("Shares the water of {}.", self.teller.names.system(system)),
            None => "On its own water.".into(),
        };
        let (no_fish, last) = match gone {
            None => (format!("No fish yet. {water}"), String::new()),
            Some((until, _, stock)) => {
                let next = stock.stays.iter().find(|s| s.from == until && s.tank != Some(id));
                let last = next.map(|s| format!("moved to {}", self.teller.names.place(s.tank)));
                let day = self.look.wall.lately(until.seconds());
                (format!("No fish since {day}. {water}"), last.unwrap_or_default())
            }
        };
        TankRow { position: self.teller.names.tank(id), stocks, no_fish, last }
    }

    fn elsewhere(&self) -> Vec<StockRow> {
        let stocks = self.teller.names.states.stocks.iter();
        let nowhere = stocks.filter(|(_, s)| s.total() > 0 && !matches!(s.place(), Some(Some(_))));
        nowhere.map(|(id, _)| self.stock(*id, None)).collect()
    }

    fn stock(&self, id: StockId, tank: Option<TankId>) -> StockRow {
        let stock = self.teller.names.states.stocks.get(&id);
        StockRow {
            name: self.teller.names.stock(id),
            href: format!("/rooms/{}/stocks/{id}", self.look.id),
            how_many: Words::plain(stock.map_or_else(String::new, |s| how_many(s))),
            held: (self.teller.names.beside.held)(&self.look.quarantine, id, self.look.wall),
            last: if stock.is_some_and(|s| !s.findings.is_empty()) {
                "to put right".into()
            } else {
                self.last(id, tank)
            },
        }
    }

    /// The newest of what was written of the stock and of its tank while it was there.
    fn last(&self, stock: StockId, tank: Option<TankId>) -> String {
        let newest =
            |thing: Entity| self.gathered.newest.get(&thing).and_then(|op| self.gathered.traces.get(*op));
        let own = newest(stock.into());
        let last = match (own, tank.and_then(|tank| newest(tank.into()))) {
            (Some(own), Some(of_tank)) if of_tank.at > own.at => Some(of_tank),
            (own, _) => own,
        };
        let body = last.and_then(|trace| Some((trace, trace.body.as_deref()?)));
        body.map_or_else(String::new, |(trace, body)| {
            super::water::lately(body, &self.look.wall.lately(trace.at.seconds()))
        })
    }
}
