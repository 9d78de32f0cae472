//! Which ops count. An op is live if it is not withdrawn and everything it refers to has a live maker
//! (least fixpoint); what is not live is inert as a whole. Kept up to date op by op, so that a push costs what
//! it touches. Must not know what ops mean.
//!
//! Taking an op away follows "delete and rederive": first everything that may have rested on it is put out,
//! then whatever still stands is lit again. That also settles two ops that would only hold up each other.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::{At, Clock, DeviceId, Entity, Links, OpId};

/// The one order: when it happened, then the writer's clock, device and id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Order {
    /// When it happened.
    pub at: At,
    /// The writer's clock.
    pub clock: Clock,
    /// The writer's device.
    pub device: DeviceId,
    /// The op.
    pub id: OpId,
}

/// What the engine needs to know of an op.
#[derive(Debug, Clone)]
pub struct Linked {
    /// Its place in the order.
    pub order: Order,
    /// What it names.
    pub links: Arc<Links>,
    /// Written by the server (a decision can't be withdrawn).
    pub decision: bool,
    /// Whether it counts at present.
    pub live: bool,
}

/// Where the ops of one stream are kept: memory on the server, a file at the client.
pub trait Shelf {
    /// What can go wrong reading it.
    type Error;
    /// The op, if it is here.
    fn linked(&mut self, op: OpId) -> Result<Option<Linked>, Self::Error>;
    /// All ops that make this thing, live or not.
    fn makers(&mut self, entity: Entity) -> Result<Vec<OpId>, Self::Error>;
    /// All ops that name this thing, makers and logs among them.
    fn naming(&mut self, entity: Entity) -> Result<Vec<OpId>, Self::Error>;
    /// All ops that withdraw this op.
    fn withdrawals(&mut self, op: OpId) -> Result<Vec<OpId>, Self::Error>;
    /// Lights an op or puts it out.
    fn set_live(&mut self, op: OpId, live: bool) -> Result<(), Self::Error>;

    /// The first live maker of a thing in the order. A shelf that is asked often may remember it.
    fn first_maker(&mut self, entity: Entity) -> Result<Option<Order>, Self::Error> {
        let mut first: Option<Order> = None;
        for id in self.makers(entity)? {
            if let Some(op) = self.linked(id)?.filter(|op| op.live)
                && first.is_none_or(|f| op.order < f)
            {
                first = Some(op.order);
            }
        }
        Ok(first)
    }

    /// Whether any op withdraws this op.
    fn is_taken_back(&mut self, op: OpId) -> Result<bool, Self::Error> {
        Ok(!self.withdrawals(op)?.is_empty())
    }
}

/// The first live maker of a thing in the order: the one that counts.
pub fn maker<S: Shelf>(shelf: &mut S, entity: Entity) -> Result<Option<Order>, S::Error> {
    shelf.first_maker(entity)
}

/// Whether a live withdrawal takes this op back. Decisions and withdrawals can't be withdrawn.
pub fn is_withdrawn<S: Shelf>(shelf: &mut S, op: &Linked) -> Result<bool, S::Error> {
    if op.decision || op.links.withdraws.is_some() {
        return Ok(false);
    }
    shelf.is_taken_back(op.order.id)
}

/// Brings liveness up to date after `added` came onto the shelf (put out, in any order).
/// Returns every thing whose state may have changed.
pub fn settle<S: Shelf>(shelf: &mut S, added: &[OpId]) -> Result<BTreeSet<Entity>, S::Error> {
    let mut work = Settling::default();
    let mut back = Vec::new();
    for &id in added {
        let Some(op) = shelf.linked(id)? else { continue };
        work.note(shelf, &op)?;
        if let Some(target) = op.links.withdraws
            && let Some(old) = shelf.linked(target)?
            && is_withdrawn(shelf, &old)?
        {
            // Also one that was out before: what was inert is now taken back.
            work.note(shelf, &old)?;
            back.extend(work.put_out(shelf, &old)?);
        }
    }
    for id in back.into_iter().chain(added.iter().copied()) {
        work.light(shelf, id)?;
    }
    work.finish(shelf)
}

/// Puts `gone` out before they leave the shelf (a refused op that its keeper drops or mends). The caller takes
/// them off the shelf inside `take`, which runs when nothing rests on them any more.
pub fn unsettle<S: Shelf>(
    shelf: &mut S,
    gone: &[OpId],
    take: impl FnOnce(&mut S) -> Result<(), S::Error>,
) -> Result<BTreeSet<Entity>, S::Error> {
    let mut work = Settling::default();
    let mut back = Vec::new();
    for &id in gone {
        let Some(op) = shelf.linked(id)? else { continue };
        work.note(shelf, &op)?;
        back.extend(work.put_out(shelf, &op)?);
        if let Some(target) = op.links.withdraws
            && let Some(old) = shelf.linked(target)?
        {
            work.note(shelf, &old)?;
            back.push(target);
        }
    }
    take(shelf)?;
    for id in back {
        work.light(shelf, id)?;
    }
    work.finish(shelf)
}

/// One run of the engine.
#[derive(Default)]
struct Settling {
    dirty: BTreeSet<Entity>,
    /// The maker that counted before the run, of everything the run made or unmade.
    before: BTreeMap<Entity, Option<Order>>,
}

impl Settling {
    fn note<S: Shelf>(&mut self, shelf: &mut S, op: &Linked) -> Result<(), S::Error> {
        self.dirty.extend(op.links.touched());
        for &entity in &op.links.makes {
            if let Entry::Vacant(place) = self.before.entry(entity) {
                place.insert(maker(shelf, entity)?);
            }
        }
        Ok(())
    }

    /// Puts out an op and all that may rest on it; returns what has to be looked at again.
    fn put_out<S: Shelf>(&mut self, shelf: &mut S, op: &Linked) -> Result<Vec<OpId>, S::Error> {
        let mut out = Vec::new();
        let mut queue = vec![op.order.id];
        while let Some(id) = queue.pop() {
            let Some(op) = shelf.linked(id)?.filter(|op| op.live) else { continue };
            self.note(shelf, &op)?;
            shelf.set_live(id, false)?;
            out.push(id);
            for &made in &op.links.makes {
                for other in shelf.naming(made)? {
                    if let Some(other) = shelf.linked(other)?
                        && other.live
                        && other.links.refers.contains(&made)
                    {
                        queue.push(other.order.id);
                    }
                }
            }
        }
        Ok(out)
    }

    /// Lights an op if it may count, and then whatever waited for it.
    fn light<S: Shelf>(&mut self, shelf: &mut S, op: OpId) -> Result<(), S::Error> {
        let mut queue = vec![op];
        while let Some(id) = queue.pop() {
            let Some(op) = shelf.linked(id)?.filter(|op| !op.live) else { continue };
            if is_withdrawn(shelf, &op)? {
                continue;
            }
            let mut stands = true;
            for &needed in &op.links.refers {
                if maker(shelf, needed)?.is_none() {
                    stands = false;
                    break;
                }
            }
            if !stands {
                continue;
            }
            self.note(shelf, &op)?;
            // Nothing waits for a thing that something live has made already.
            let mut new = Vec::new();
            for &made in &op.links.makes {
                if maker(shelf, made)?.is_none() {
                    new.push(made);
                }
            }
            shelf.set_live(id, true)?;
            for made in new {
                for other in shelf.naming(made)? {
                    if other != id && shelf.linked(other)?.is_some_and(|o| !o.live) {
                        queue.push(other);
                    }
                }
            }
        }
        Ok(())
    }

    /// Where another maker counts than before, everything that names the thing is judged by another day.
    fn finish<S: Shelf>(mut self, shelf: &mut S) -> Result<BTreeSet<Entity>, S::Error> {
        for (entity, before) in std::mem::take(&mut self.before) {
            if maker(shelf, entity)? != before {
                for id in shelf.naming(entity)? {
                    if let Some(op) = shelf.linked(id)? {
                        self.dirty.extend(op.links.touched());
                    }
                }
            }
        }
        Ok(self.dirty)
    }
}
