//! A room as its pages read it. What a page needs is copied out while the room is held, and the room is let go of
//! before anything else is asked of the database. Decides nothing.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use tarn_domain::catalogue::{Body, read_accepted};
use tarn_domain::state::{EntityState, Entry, Memory, Quarantine, RoomStates, view};
use tarn_domain::streams::{
    AccountId, At, By, DeviceId, Entity, EntityKind, OpId, Received, Standing, StockId, StreamId, SystemId,
    TankId,
};

use crate::entities::rooms;
use crate::platform::day::Wall;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::rooms::store;
use crate::streams;

/// A room as it stood at one head.
pub struct Look {
    /// Which room.
    pub id: StreamId,
    /// Its name, zone and club.
    pub room: rooms::Model,
    /// The number of the last op.
    pub head: u64,
    /// When that came in.
    pub received: Received,
    /// Its zone, and the moment of looking.
    pub wall: Wall,
    /// What is held in it, and why.
    pub quarantine: Quarantine,
    states: Vec<(Entity, Arc<EntityState>)>,
}

impl Look {
    /// Everything by kind.
    pub fn states(&self) -> RoomStates<'_> {
        view(self.states.iter().map(|(thing, state)| (*thing, state.as_ref())))
    }

    /// Everything with its state, in order.
    pub fn things(&self) -> impl Iterator<Item = (Entity, &EntityState)> {
        self.states.iter().map(|(thing, state)| (*thing, state.as_ref()))
    }

    /// Leaves only these tanks, the waters they have a part in, and what swims in them.
    pub fn narrow(&mut self, only: &BTreeSet<TankId>) {
        let states = self.states();
        let waters: BTreeSet<SystemId> = states
            .tanks
            .iter()
            .filter(|(id, _)| only.contains(id))
            .filter_map(|(_, tank)| tank.system())
            .collect();
        let stocks = states.stocks.iter();
        let here = |place: Option<Option<TankId>>| place.flatten().is_some_and(|tank| only.contains(&tank));
        let stocks: BTreeSet<StockId> =
            stocks.filter(|(_, stock)| here(stock.place())).map(|(id, _)| *id).collect();
        self.states.retain(|(thing, _)| match thing.kind {
            EntityKind::Tank => only.contains(&TankId(thing.id)),
            EntityKind::System => waters.contains(&SystemId(thing.id)),
            EntityKind::Stock => stocks.contains(&StockId(thing.id)),
            _ => true,
        });
    }

    /// The moment of looking.
    pub fn now(&self) -> At {
        At::from_seconds(self.wall.now_s())
    }
}

/// One entry of the records, as far as memory tells it.
#[derive(Debug, Clone)]
pub struct Trace {
    /// Its id.
    pub op: OpId,
    /// When it was so.
    pub at: At,
    /// The device that wrote it.
    pub device: DeviceId,
    /// Whose it is.
    pub by: By,
    /// When the server took it.
    pub received: Received,
    /// Its number.
    pub seq: u64,
    /// Whether it counts.
    pub standing: Standing,
    /// Whether it can't be taken back: a decision, a withdrawal, or a decision rests on it.
    pub fixed: bool,
    /// The server's own.
    pub decision: bool,
    /// What it says; of a log only once it was fetched.
    pub body: Option<Arc<Body>>,
}

impl Trace {
    /// Copies it out.
    pub fn of(memory: &Memory, entry: &Entry) -> Option<Self> {
        let (linked, accepted) = (&entry.linked, entry.accepted?);
        let op = linked.order.id;
        Some(Self {
            op,
            at: linked.order.at,
            device: linked.order.device,
            by: accepted.by,
            received: accepted.received,
            seq: entry.seq,
            standing: memory.standing(entry),
            fixed: linked.decision || linked.links.withdraws.is_some() || memory.is_relied_on(op),
            decision: linked.decision,
            body: entry.body.clone(),
        })
    }
}

/// Entries that a page speaks of, each once.
#[derive(Debug, Default)]
pub struct Traces(BTreeMap<OpId, Trace>);

impl Traces {
    /// Copies an entry out; its id, for whoever keeps an order of them.
    pub fn take(&mut self, memory: &Memory, entry: &Entry) -> OpId {
        let op = entry.linked.order.id;
        if let Some(trace) = Trace::of(memory, entry) {
            self.0.entry(op).or_insert(trace);
        }
        op
    }

    /// One of them.
    pub fn get(&self, op: OpId) -> Option<&Trace> {
        self.0.get(&op)
    }

    /// Fetches what the logs among them say.
    pub async fn fetch(&mut self, ctx: &Ctx, room: StreamId) -> Result<()> {
        let seqs: Vec<u64> = self.0.values().filter(|t| t.body.is_none()).map(|t| t.seq).collect();
        for stored in streams::store::numbered(&ctx.db.conn, room, &seqs).await? {
            let value =
                serde_json::from_str(&stored.text).map_err(|e| Problem::failed("reading an op", e))?;
            let op = read_accepted(value).map_err(|e| Problem::failed("reading an op", e))?.op;
            if let Some(trace) = self.0.get_mut(&op.id) {
                trace.body = Some(Arc::new(op.body));
            }
        }
        Ok(())
    }

    /// Who wrote them, on what.
    pub async fn writers(&self, ctx: &Ctx, room: StreamId) -> Result<Writers> {
        let all: BTreeSet<By> = self.0.values().map(|t| t.by).collect();
        let accounts = all.iter().filter_map(|by| by.account());
        let people = store::people(&ctx.db.conn, accounts).await?;
        let mut names: HashMap<By, String> = people.into_iter().map(|(id, name)| (id.into(), name)).collect();
        let links = store::links::names(&ctx.db.conn, room, all.iter().filter_map(|by| by.link())).await?;
        names.extend(links.into_iter().map(|(link, name)| (link.into(), format!("{name} (helper)"))));
        let probes = store::probes::names(&ctx.db.conn, room, all.iter().filter_map(|by| by.link())).await?;
        names.extend(probes.into_iter().map(|(probe, name)| (probe.into(), format!("{name} (probe)"))));
        Ok(Writers { room, people: names, devices: store::devices(&ctx.db.conn, room).await? })
    }
}

/// What people and devices are called.
pub struct Writers {
    room: StreamId,
    people: HashMap<By, String>,
    devices: HashMap<DeviceId, String>,
}

impl Writers {
    /// Into which room.
    pub fn room(&self) -> StreamId {
        self.room
    }

    /// What others read of whoever wrote.
    pub fn person(&self, by: By) -> &str {
        // a link that a restore lost has no name any more
        let nameless = if by.link().is_some() { "a helper" } else { "someone" };
        self.people.get(&by).map_or(nameless, String::as_str)
    }

    /// Who wrote an entry, on which device.
    pub fn of(&self, trace: &Trace) -> String {
        if trace.decision {
            return "the server".into();
        }
        let person = self.person(trace.by);
        if trace.by.link().is_some() {
            return person.to_owned();
        }
        if trace.device == DeviceId::of_pages(self.room, trace.by) {
            return format!("{person}, on a page");
        }
        match self.devices.get(&trace.device) {
            Some(device) => format!("{person}, {device}"),
            None => person.to_owned(),
        }
    }
}

/// Looks at a room for one of its keepers.
///
/// # Errors
/// `not-found` for everybody else.
pub async fn kept<T>(
    ctx: &Ctx,
    account: AccountId,
    room: StreamId,
    read: impl FnOnce(&Memory) -> T,
) -> Result<(Look, T)> {
    if !store::is_keeper(&ctx.db.conn, room, account).await? {
        return Err(Problem::new(&NOT_FOUND));
    }
    look(ctx, room, read).await
}

/// Looks at a room for somebody who may.
pub async fn look<T>(ctx: &Ctx, id: StreamId, read: impl FnOnce(&Memory) -> T) -> Result<(Look, T)> {
    let room = store::room(&ctx.db.conn, id).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let wall = Wall::new(&room.zone, ctx.clock.now_ms());
    let (held, row) = streams::room(ctx, id).await?;
    let memory = &held.memory;
    let states =
        memory.states().into_keys().filter_map(|e| Some((e, memory.state(e)?.clone()))).collect::<Vec<_>>();
    let quarantine = Quarantine::of(memory, At::from_seconds(wall.now_s()));
    let answer = read(memory);
    Ok((Look { id, room, head: row.head, received: row.last_received, wall, states, quarantine }, answer))
}
