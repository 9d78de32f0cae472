//! A brood as its holder may read it: out of the records of a room that the caller keeps, its home room before others.

use std::sync::Arc;

use tarn_domain::lineage::{Ancestor, BroodState};
use tarn_domain::rooms::{Node, StockState};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{AccountId, NodeId, StockId, StreamId};

use super::ancestry_in;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::{rooms, streams};

/// What the caller's rooms tell of a brood.
pub struct Seen {
    /// The brood.
    pub node: NodeId,
    /// The room whose records these are.
    pub room: StreamId,
    /// The brood as that room recorded it; none: it is known by a copy that came with fish.
    pub home: Option<BroodState>,
    /// It and everything that it descends from, the nearest first.
    pub ancestors: Vec<Ancestor>,
    /// The living fish of it in the caller's rooms.
    pub holdings: Vec<Holding>,
}

/// Living fish of a brood.
pub struct Holding {
    /// The room they are in.
    pub room: StreamId,
    /// What that is called.
    pub room_name: String,
    /// The stock they are in.
    pub stock: StockId,
    /// As it stands.
    pub state: Arc<EntityState>,
}

impl Holding {
    /// The stock as it stands.
    pub fn stock(&self) -> Option<&StockState> {
        if let EntityState::Stock(stock) = self.state.as_ref() { Some(stock) } else { None }
    }
}

/// What one room knows.
struct Known {
    ancestors: Vec<Ancestor>,
    home: Option<BroodState>,
    stocks: Vec<(StockId, Arc<EntityState>)>,
}

/// Reads a brood for somebody who keeps a room that records it.
///
/// # Errors
/// `not-found` for everybody else, and for what is no brood.
pub async fn seen(ctx: &Ctx, account: AccountId, node: NodeId) -> Result<Seen> {
    let mut best: Option<Seen> = None;
    let mut holdings = Vec::new();
    for row in rooms::store::rooms_of(&ctx.db.conn, account).await? {
        let room = StreamId(row.stream);
        let known = {
            let (held, _) = streams::room(ctx, room).await?;
            known(&held.memory, node)
        };
        holdings.extend(known.stocks.into_iter().map(|(stock, state)| Holding {
            room,
            room_name: row.name.clone(),
            stock,
            state,
        }));
        let goes_before = best.as_ref().is_none_or(|best| best.home.is_none() && known.home.is_some());
        if goes_before && is_brood(&known.ancestors, node) {
            let (home, ancestors) = (known.home, known.ancestors);
            best = Some(Seen { node, room, home, ancestors, holdings: Vec::new() });
        }
    }
    let best = best.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    Ok(Seen { holdings, ..best })
}

/// The same, only what it descends from: out of its home room if the caller keeps that, else out of the first that was
/// told of it.
///
/// # Errors
/// `not-found`, as of [`seen`].
pub async fn ancestors(ctx: &Ctx, account: AccountId, node: NodeId) -> Result<Vec<Ancestor>> {
    let mut best: Option<Vec<Ancestor>> = None;
    for row in streams::store::streams_in(&ctx.db.conn, rooms::store::kept_by(account)).await? {
        let held = streams::since(ctx, &row).await?;
        let at_home = held.memory.brood(node).is_some();
        if !at_home && best.is_some() {
            continue;
        }
        let ancestors = ancestry_in(&held.memory, [node]);
        if is_brood(&ancestors, node) {
            best = Some(ancestors);
        }
        if at_home {
            break;
        }
    }
    best.ok_or_else(|| Problem::new(&NOT_FOUND))
}

fn is_brood(ancestors: &[Ancestor], node: NodeId) -> bool {
    ancestors.iter().any(|ancestor| ancestor.node == node && ancestor.brood().is_some())
}

fn known(memory: &Memory, node: NodeId) -> Known {
    let lives = |state: &EntityState| match state {
        EntityState::Stock(stock) => {
            stock.numbers.rows().any(|((of, _), n)| of == Node::Of(node) && n > 0) && stock.total() > 0
        }
        _ => false,
    };
    let stocks = memory.states().into_iter().filter(|(_, state)| lives(state)).map(|(thing, _)| thing);
    Known {
        ancestors: ancestry_in(memory, [node]),
        home: memory.brood(node).cloned(),
        stocks: stocks.filter_map(|thing| Some((StockId(thing.id), memory.state(thing)?.clone()))).collect(),
    }
}
