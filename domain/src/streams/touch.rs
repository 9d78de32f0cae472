//! What a fold is given: the ops that touch one thing, in the order in which they count.
//! Must not know what ops mean.

use super::{Acceptance, Entity, Linked, Order, Shelf, is_withdrawn, maker};
use super::{At, OpId};

/// Whether an op counts, and if not, why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It counts.
    Live,
    /// Its writer took it back.
    Withdrawn,
    /// It rests on an op that does not count.
    Inert,
    /// An earlier op made the same thing.
    Outdone,
}

/// An op as one fold sees it.
#[derive(Debug, Clone)]
pub struct Touch<E> {
    /// Its place in the order, as it was written.
    pub written: Order,
    /// When it counts: its `at`, or when what it names was made, if that is later.
    pub counts_at: At,
    /// It made the thing that is folded.
    pub made: bool,
    /// Whether it counts.
    pub standing: Standing,
    /// By whom and when it was accepted; none while it is only here.
    pub accepted: Option<Acceptance>,
    /// What it says of the thing.
    pub event: E,
}

impl<E> Touch<E> {
    /// Whether the op is dated before something that it names was made.
    pub fn is_early(&self) -> bool {
        self.counts_at > self.written.at
    }

    /// The same touch, saying something else.
    pub fn with<F>(&self, event: F) -> Touch<F> {
        let &Self { written, counts_at, made, standing, accepted, .. } = self;
        Touch { written, counts_at, made, standing, accepted, event }
    }

    /// The same touch with another event.
    pub fn map<F>(self, event: impl FnOnce(E) -> F) -> Touch<F> {
        let Self { written, counts_at, made, standing, accepted, event: old } = self;
        Touch { written, counts_at, made, standing, accepted, event: event(old) }
    }
}

/// How an op stands towards `entity`, without its event.
///
/// # Errors
/// What the shelf says.
pub fn touch<S: Shelf>(shelf: &mut S, op: &Linked, entity: Entity) -> Result<Touch<()>, S::Error> {
    let id = op.order.id;
    let mut standing = if op.live {
        Standing::Live
    } else if is_withdrawn(shelf, op)? {
        Standing::Withdrawn
    } else {
        Standing::Inert
    };
    let mut counts_at = op.order.at;
    let mut made = false;
    if standing == Standing::Live {
        for &thing in &op.links.makes {
            let first = maker(shelf, thing)?.is_some_and(|order| order.id == id);
            made |= first && thing == entity;
            if !first && !op.links.changes.contains(&thing) {
                standing = Standing::Outdone;
            }
        }
        for &needed in &op.links.refers {
            if let Some(order) = maker(shelf, needed)? {
                counts_at = counts_at.max(order.at);
            }
        }
    }
    Ok(Touch { written: op.order, counts_at, made, standing, accepted: None, event: () })
}

/// Puts touches into the order in which a fold takes them: the maker first (nothing can happen to a thing before
/// it is there, even if its maker counts late because of the tank it names), then by when they count, clock,
/// device and id.
pub fn sort<E>(touches: &mut [Touch<E>]) {
    touches.sort_by_key(place);
}

/// Whether touches are in that order.
pub fn is_sorted<E>(touches: &[Touch<E>]) -> bool {
    touches.is_sorted_by_key(place)
}

fn place<E>(t: &Touch<E>) -> (bool, At, super::Clock, super::DeviceId, OpId) {
    (!t.made, t.counts_at, t.written.clock, t.written.device, t.written.id)
}
