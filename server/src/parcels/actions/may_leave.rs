//! Whether fish that somebody offers may leave their room now. Asked of the clock at the moment of looking, never kept:
//! a breach takes an offer off the board by itself.

use std::collections::{HashMap, HashSet};

use tarn_domain::parcels::ParcelRefusal;
use tarn_domain::quarantine::Held;
use tarn_domain::state::{EntityState, Quarantine};
use tarn_domain::streams::{AccountId, At, StockId, StreamId};

use crate::parcels::refusals::told;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::{rooms, streams};

/// A stock in a room.
pub type Where = (StreamId, StockId);

/// Why a stock can't be offered now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotNow {
    /// It may not leave.
    Held(StockId, Held),
    /// The records have no fish in it.
    NoFish,
    /// It is no stock of a room that the account keeps.
    NotKept,
}

impl NotNow {
    /// For whoever offers it.
    pub fn sentence(&self) -> String {
        match self {
            Self::Held(_, held) => held.to_string(),
            Self::NoFish => "the records have no fish in this stock any more".into(),
            Self::NotKept => "this stock is in no room that you keep".into(),
        }
    }

    /// As a refusal of what they want to offer; `field` is its pointer.
    pub fn problem(&self, field: &str) -> Problem {
        match self {
            Self::Held(stock, held) => told(&ParcelRefusal::Quarantine { stock: *stock, held: held.clone() })
                .at(field, held.to_string()),
            Self::NoFish => {
                let why = "The records have no fish in this stock.";
                Problem::new(&INVALID).detail(why).at(field, why)
            }
            Self::NotKept => {
                let why = "You keep no room with this stock.";
                Problem::new(&NOT_FOUND).detail(why).at(field, why)
            }
        }
    }
}

/// What is known of a stock.
#[derive(Debug, Clone)]
pub struct Known {
    /// The species as kept.
    pub species: Option<String>,
    /// Colour or fin form.
    pub form: Option<String>,
    /// The keeper's name for it.
    pub name: Option<String>,
    /// How many there are.
    pub spread: tarn_domain::rooms::Spread,
    /// Why it may not leave.
    pub held: Option<Held>,
}

/// The rooms that one request asks about, each read once. None is held while another is read.
pub struct Rooms<'a> {
    ctx: &'a Ctx,
    rooms: HashMap<StreamId, HashMap<StockId, Known>>,
    keepers: HashSet<(StreamId, AccountId)>,
    strangers: HashSet<(StreamId, AccountId)>,
}

impl<'a> Rooms<'a> {
    /// Nothing read yet.
    pub fn new(ctx: &'a Ctx) -> Self {
        Self { ctx, rooms: HashMap::new(), keepers: HashSet::new(), strangers: HashSet::new() }
    }

    /// A stock of a room that the account keeps, if there is one.
    pub async fn stock(&mut self, account: AccountId, (room, stock): Where) -> Result<Option<Known>> {
        if !self.is_keeper(room, account).await? {
            return Ok(None);
        }
        Ok(self.stocks(room).await?.get(&stock).cloned())
    }

    /// Every stock of a room.
    pub async fn stocks(&mut self, room: StreamId) -> Result<&HashMap<StockId, Known>> {
        if !self.rooms.contains_key(&room) {
            let read = read(self.ctx, room).await?;
            self.rooms.insert(room, read);
        }
        Ok(&self.rooms[&room])
    }

    /// Why an account can't offer a stock now; none: it can.
    pub async fn not_now(&mut self, account: AccountId, at: Where) -> Result<Option<NotNow>> {
        Ok(match self.stock(account, at).await? {
            None => Some(NotNow::NotKept),
            Some(Known { held: Some(held), .. }) => Some(NotNow::Held(at.1, held)),
            Some(Known { spread, .. }) if spread == Default::default() => Some(NotNow::NoFish),
            Some(_) => None,
        })
    }

    async fn is_keeper(&mut self, room: StreamId, account: AccountId) -> Result<bool> {
        let key = (room, account);
        if self.keepers.contains(&key) || self.strangers.contains(&key) {
            return Ok(self.keepers.contains(&key));
        }
        let keeps = rooms::store::is_keeper(&self.ctx.db.conn, room, account).await?;
        if keeps {
            self.keepers.insert(key)
        } else {
            self.strangers.insert(key)
        };
        Ok(keeps)
    }
}

async fn read(ctx: &Ctx, room: StreamId) -> Result<HashMap<StockId, Known>> {
    let (held, _) = streams::room(ctx, room).await?;
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    let quarantine = Quarantine::of(&held.memory, now);
    let stocks = held.memory.states().into_iter().filter_map(|(thing, state)| {
        let EntityState::Stock(stock) = state else { return None };
        let id = StockId(thing.id);
        stock.made?;
        let known = Known {
            species: stock.species.clone(),
            form: stock.form.clone(),
            name: stock.name.clone(),
            spread: stock.numbers.spread(),
            held: quarantine.held(id),
        };
        Some((id, known))
    });
    Ok(stocks.collect())
}
